// What ISO/IEC 17025:2017, 7.8.2 and 7.8.3, ask beside results: sampling, place, room, deviations.

#include "model/deviations.hpp"
#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

struct RoomUnit {
    std::string_view unit;
    double scale = 1, zero = 0;  ///< shown = (canonical - zero) scale
    [[nodiscard]] std::string show(double canonical) const
    {
        return with_unit(stated_text(rounded_to_digits((canonical - zero) * scale, 6)), unit);
    }
};
constexpr RoomUnit celsius{"°C", 1, 273.15};
constexpr RoomUnit percent{"%", 100, 0};

std::string room_text(const model::RoomCondition& condition, const RoomUnit& unit)
{
    if (!condition.stated)
        return "not stated";
    const auto& stated = *condition.stated;
    std::string text = unit.show(stated.value);
    const RoomUnit difference{unit.unit == "°C" ? "K" : unit.unit, unit.scale, 0};
    if (stated.half_width)
        text += fmt::format(" ± {} (half-width)", difference.show(*stated.half_width));
    else if (stated.standard_uncertainty)
        text += fmt::format(", u = {}", difference.show(*stated.standard_uncertainty));
    if (!stated.note.empty())
        text += fmt::format(" ({})", stated.note);
    if (condition.from && condition.to)
        text += fmt::format("; limits {} to {}", unit.show(*condition.from), unit.show(*condition.to));
    else if (condition.from)
        text += fmt::format("; not below {}", unit.show(*condition.from));
    else if (condition.to)
        text += fmt::format("; not above {}", unit.show(*condition.to));
    return text;
}

}  // namespace

Blocks sampling(const model::Dossier& dossier)
{
    const auto& text = dossier.qualification.document.sampling;
    if (text.empty())
        return {};
    return {Paragraph{plain("Sampling: " + text)}};
}

Blocks room(const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    const auto& environment = document.environment;
    if (document.place.empty() && !environment.temperature.stated && !environment.humidity.stated)
        return {};
    Facts facts;
    facts.facts.push_back(
        {"Place of the tests", plain(document.place.empty() ? "not stated" : document.place)});
    facts.facts.push_back({"Temperature of the room", plain(room_text(environment.temperature, celsius))});
    facts.facts.push_back({"Relative humidity", plain(room_text(environment.humidity, percent))});
    return {std::move(facts)};
}

Blocks deviations(const model::Dossier& dossier)
{
    std::vector<Text> items;
    for (const auto& deviation : model::deviations_of(dossier.qualification))
        items.push_back(plain(capitalised(deviation)));
    if (items.empty())
        return {Paragraph{plain("No deviation from the method is stated.")}};
    return {
        Paragraph{plain("Additions to, deviations from and exclusions from the method (ISO/IEC 17025:2017, "
                        "7.8.2.1 n):")},
        Bullets{std::move(items)}};
}

Blocks risk_groups(const model::Dossier& dossier)
{
    std::vector<std::string> stated;
    std::vector<std::string> missing;
    for (const auto& source : dossier.qualification.sources) {
        if (source.risk_group.empty())
            missing.push_back(source.id);
        else
            stated.push_back(fmt::format("{} {}", source.id, risk_group_text(source.risk_group)));
    }
    if (stated.empty() && missing.empty())
        return {};
    std::string text = "Risk groups of the sources (IEC 62471): ";
    text += fmt::format("{}", fmt::join(stated, "; "));
    if (!missing.empty())
        text += fmt::format("{}not stated of {}", stated.empty() ? "" : "; ", joined(missing));
    return {Paragraph{plain(text + ".")}};
}

std::string risk_group_text(std::string_view group)
{
    return group.starts_with("RG") ? fmt::format("risk group {}", group.substr(2)) : std::string(group);
}

}  // namespace luxdossier::report

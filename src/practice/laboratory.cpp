// What ISO/IEC 17025:2017 asks of equipment and room.

#include "practice/rules.hpp"

#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

std::string percent(double fraction)
{
    return model::numeral(100 * fraction, 4) + " %";
}
std::string celsius(double kelvin)
{
    return model::numeral(kelvin - 273.15, 4) + " degrees Celsius";
}

/// A condition of the room beside its limits.
struct Judged {
    std::string_view name;
    const model::RoomCondition& condition;
    std::string (*words)(double);
};

void examine_room(Bench& bench, const Judged& room, std::string& missing)
{
    const auto& [stated, from, to] = room.condition;
    if (!stated) {
        missing += fmt::format("{}{}", missing.empty() ? "" : " and ", room.name);
        return;
    }
    // A statement of uncertainty here is the range over which the condition moved.
    const double reach = stated->half_width.value_or(2 * stated->standard_uncertainty.value_or(0.0));
    const double allowance = 1e-9 * std::max(1.0, std::abs(stated->value));
    const auto beyond = [&](double low, double high) {
        return (from && low < *from - allowance) || (to && high > *to + allowance);
    };
    const bool outside = beyond(stated->value, stated->value);
    if (!outside && !beyond(stated->value - reach, stated->value + reach))
        return;
    std::string limits = from && to ? fmt::format("{} to {}", room.words(*from), room.words(*to))
                         : from     ? fmt::format("not below {}", room.words(*from))
                                    : fmt::format("not above {}", room.words(*to));
    bench.raise(
        {"environment-missing",
         outside ? RemarkSeverity::concern : RemarkSeverity::note,
         {},
         fmt::format("the {} of the room was {}{}, its limits are {}", room.name, room.words(stated->value),
                     outside ? "" : ", with its uncertainty beyond the limits", limits),
         "the method supposes these limits; what lies beyond them is in no budget",
         "keep the room within its limits, or tell the deviation from the method",
         {},
         {}});
}

}  // namespace

void out_of_recall(Bench& bench)
{
    const auto& qualification = bench.qualification();
    for (const auto& item : qualification.equipment) {
        if (!item.recall)
            continue;
        // What no run names is taken as used throughout: nothing says which results do not rest on it.
        const bool is_named = std::ranges::any_of(
            qualification.runs, [&](const model::Run& run) { return run.names_equipment(item.id); });
        std::vector<std::size_t> touched, undated;
        std::optional<model::Date> latest;
        std::string run_id;
        for (std::size_t run = 0; run < qualification.runs.size(); ++run) {
            if (is_named && !bench.run(run).names_equipment(item.id))
                continue;
            const auto date = date_of(bench, run);
            if (!date) {
                add_results(undated, bench.results_of(run));
            } else if (*item.recall < *date) {
                add_results(touched, bench.results_of(run));
                if (!latest || *date > *latest) {
                    latest = date;
                    run_id = bench.run(run).id;
                }
            }
        }
        const std::string advice = "have it calibrated or checked, or accept the remark with a reason";
        const auto subject = fmt::format("{} {} was to be recalled by {}", item.id,
                                         item.description.empty() ? "" : "(" + item.description + ")",
                                         model::date_text(*item.recall));
        if (latest)
            bench.raise(
                {"out-of-recall",
                 RemarkSeverity::blocks,
                 is_named ? run_id : std::string(),
                 fmt::format("{}, and run {} is of {}", subject, run_id, model::date_text(*latest)),
                 is_named ? "results that rest on it are not decided"
                          : "no run names it, so that every result of these runs may rest on it: not decided",
                 advice,
                 std::move(touched),
                 {}});
        if (!undated.empty())
            bench.raise({"out-of-recall",
                         RemarkSeverity::concern,
                         {},
                         fmt::format("{}, and nothing tells when the readings were taken", subject),
                         "whether it was in calibration is not known",
                         "state the dates of the tests",
                         std::move(undated),
                         {}});
    }
}

void environment_missing(Bench& bench)
{
    const auto& environment = bench.qualification().document.environment;
    std::string missing;
    for (const auto& room : {Judged{"temperature", environment.temperature, celsius},
                             Judged{"relative humidity", environment.humidity, percent}})
        examine_room(bench, room, missing);
    if (!missing.empty())
        bench.raise({"environment-missing",
                     RemarkSeverity::note,
                     {},
                     fmt::format("the {} of the room {} not stated", missing,
                                 missing.find(" and ") == std::string::npos ? "is" : "are"),
                     "whether the readings were taken under the conditions of the method is not shown",
                     "state document.environment, with limits where the method has some",
                     {},
                     {}});
}

}  // namespace luxdossier::practice

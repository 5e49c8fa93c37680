#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/together.hpp"
#include "report/words.hpp"

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

// Trials that all hold, or none, bound a probability; they do not make it certain.
std::string counted_percent(double probability)
{
    constexpr double nearly = 0.9999, hardly = 0.0001;
    if (probability > nearly)
        return "> 99.99";
    return probability < hardly ? "< 0.01" : number_text(probability * 100, 2);
}

std::string subject_of(const std::vector<model::Joint>& all, std::size_t index)
{
    if (index + 1 == all.size())
        return "the whole qualification";
    return all[index].sample.empty() ? "results without a sample" : all[index].sample;
}

// "L-01, L-02": limits of these verdicts.
std::string limits_of(const model::Dossier& dossier, const std::vector<const model::Verdict*>& verdicts,
                      const std::vector<std::size_t>& members)
{
    std::vector<std::string> ids;
    for (const auto member : members) {
        const auto& id = dossier.limits->limits.at(verdicts[member]->limit).id;
        if (ids.empty() || ids.back() != id)
            ids.push_back(id);
    }
    return joined(ids);
}

// Where no verdict rests on trials: they validate the first order of all, or were not made.
Blocks without_judgement_by_trials(const model::Dossier& dossier)
{
    if (!dossier.evaluation.trials)
        return {Paragraph{
            plain("The Monte Carlo method (JCGM 101:2008) was left out when this report was made: "
                  "no interval is validated by it, and no joint conformance probability is given.")}};
    std::size_t validated = 0;
    for (const auto& verdict : dossier.verdicts.verdicts)
        if (verdict.result && dossier.evaluation.results.at(*verdict.result).monte_carlo)
            ++validated;
    if (validated == 0)
        return {};
    return {Paragraph{
        plain(fmt::format("The Monte Carlo method (JCGM 101:2008, clause 8) validates the first order in "
                          "{}: none had to be judged by the interval of the trials.",
                          counted(validated, "verdict")))}};
}

}  // namespace

Blocks judged_by_trials(const model::Dossier& dossier)
{
    std::vector<const model::Verdict*> verdicts;
    std::vector<std::string> reasons;
    for (const auto& verdict : dossier.verdicts.verdicts) {
        if (verdict.by_trials.empty())
            continue;
        verdicts.push_back(&verdict);
        reasons.push_back(verdict.by_trials);
    }
    if (verdicts.empty())
        return without_judgement_by_trials(dossier);
    constexpr std::string_view said_above =
        "judged by the interval of the trials: the first order is not validated, its ";
    std::vector<Text> items;
    for (const auto& told : told_together(reasons))
        items.push_back(plain(fmt::format(
            "{} ({}): {}.", counted(told.members.size(), "verdict"),
            limits_of(dossier, verdicts, told.members),
            told.text.starts_with(said_above) ? told.text.substr(said_above.size()) : told.text)));
    return {Paragraph{plain(fmt::format("The Monte Carlo method (JCGM 101:2008, clause 8) does not validate "
                                        "the first order for {} of {}. "
                                        "They carry the mark {}: half the interval of the trials stands "
                                        "behind ±, and its ends are judged.",
                                        number_text(static_cast<double>(verdicts.size()), 0),
                                        counted(dossier.verdicts.verdicts.size(), "verdict"), trials_mark))},
            Bullets{std::move(items)}};
}

Blocks joint_probabilities(const model::Dossier& dossier)
{
    const auto& all = dossier.verdicts.joint;
    if (all.empty())
        return {};
    Table table;
    table.caption = plain("Joint conformance probability");
    table.columns = {column("Requirements of"), column("Requirements", Alignment::right),
                     column("Together / %", Alignment::decimal), column("Product / %", Alignment::decimal),
                     column("Trials", Alignment::right)};
    for (std::size_t i = 0; i < all.size(); ++i) {
        Row row;
        row.group_start = i > 0 && i + 1 == all.size();
        row.cells = {cell(subject_of(all, i)), cell(number_text(static_cast<double>(all[i].requirements), 0)),
                     cell(counted_percent(all[i].probability)), cell(counted_percent(all[i].product)),
                     cell(number_text(static_cast<double>(all[i].trials), 0))};
        table.rows.push_back(std::move(row));
    }
    return {
        Paragraph{plain(fmt::format(
            "The probability that every decided requirement is met together is {} %: the share of trials "
            "in which all of them are. The trials share what the results share, such as the certificate of "
            "the meter; beside it stands the product of the single probabilities.",
            counted_percent(all.back().probability)))},
        std::move(table)};
}

}  // namespace luxdossier::report

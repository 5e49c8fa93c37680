#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
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

}  // namespace

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

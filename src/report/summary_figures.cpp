#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::size_t most_bars = 6;
constexpr double least_share = 0.01;

std::string percent(double share, int decimals)
{
    return with_unit(number_text(share * 100, decimals), "%");
}

/// The verdict that speaks for each limit, those without a margin last.
std::vector<std::size_t> worst_first(const model::Dossier& dossier)
{
    std::vector<std::size_t> worst;
    for (std::size_t i = 0; i < dossier.limits->limits.size(); ++i) {
        if (const auto verdict = worst_verdict(dossier, verdicts_of(dossier, i)))
            worst.push_back(*verdict);
    }
    std::ranges::stable_sort(worst, {}, [&](std::size_t index) {
        const auto& verdict = dossier.verdicts.verdicts[index];
        return std::pair(relative_margin(verdict).value_or(std::numeric_limits<double>::infinity()),
                         -static_cast<int>(verdict.outcome));
    });
    return worst;
}

std::string sentence_of_margins(const model::Dossier& dossier, const std::vector<std::size_t>& worst)
{
    const auto& verdict = dossier.verdicts.verdicts[worst.front()];
    const auto margin = relative_margin(verdict);
    return fmt::format("Worst margins of {}: {} stands worst{}: {}.", counted(worst.size(), "limit"),
                       dossier.limits->limits.at(verdict.limit).id,
                       margin ? fmt::format(", with a margin of {}", percent(*margin, 0)) : "",
                       model::outcome_text(verdict.outcome));
}

}  // namespace

Blocks margins(const model::Dossier& dossier)
{
    if (!dossier.limits || dossier.limits->limits.empty())
        return {};
    const auto worst = worst_first(dossier);
    if (worst.empty())
        return {};
    model::Figure figure;
    figure.id = "margins";
    figure.kind = model::FigureKind::strips;
    figure.title = "Margins of all limits, worst first";
    for (const auto index : worst) {
        const auto& verdict = dossier.verdicts.verdicts[index];
        const auto& limit = dossier.limits->limits.at(verdict.limit);
        const auto margin = relative_margin(verdict);
        figure.strips.push_back(
            {fmt::format("{}\u2002{}", limit.id,
                         limit.title.empty() ? metric_title(dossier, limit.metric) : limit.title),
             index, margin ? percent(*margin, 0) : "none"});
    }
    figure.caption =
        "For each limit the result that stands worst against it; the figure beside the strip is its "
        "margin to the nearer acceptance limit in % of half the tolerance, of a one-sided limit in "
        "% of the limit; negative outside.";
    figure.alternative_text = sentence_of_margins(dossier, worst);
    return {OwnFigure{std::move(figure)}};
}

model::Figure budget_shares(const model::Dossier& dossier, std::size_t index)
{
    const auto& result = dossier.evaluation.results.at(index);
    const auto budget = dossier.evaluation.budget(result);
    auto lines = budget.lines;
    std::ranges::stable_sort(lines, std::greater<>{}, [](const auto& line) { return std::abs(line.share); });
    const auto names = quantity_names(dossier, lines);
    model::Figure figure;
    figure.id = "budget_shares/" + result.id;
    figure.kind = model::FigureKind::bars;
    const auto conditions = conditions_phrase(result);
    figure.title = fmt::format("Shares: {}{}{}", uncapitalised(metric_title(dossier, result.metric)),
                               conditions.empty() ? "" : ", ", conditions);
    double rest = 0;
    std::size_t left_out = 0;
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const auto& line = lines[i];
        if (figure.bars.size() >= most_bars || (std::abs(line.share) < least_share && !figure.bars.empty())) {
            rest += line.share;
            ++left_out;
            continue;
        }
        const auto& input = dossier.evaluation.graph.inputs()[line.input.index];
        figure.bars.push_back({names[i], line.share, input.evaluation == uncertainty::Evaluation::type_a,
                               percent(line.share, 1)});
    }
    figure.caption = "Shares of the variance of the result; filled: Type A, hollow: Type B";
    if (left_out > 0)
        figure.caption +=
            fmt::format("; {} together {}", counted(left_out, "further quantity", "further quantities"),
                        percent(rest, 1));
    figure.caption += ".";
    if (!figure.bars.empty())
        figure.alternative_text =
            fmt::format("Shares of the uncertainty of {}{}{}: most comes from {}, {}.",
                        uncapitalised(metric_title(dossier, result.metric)), conditions.empty() ? "" : ", ",
                        conditions, figure.bars.front().name, figure.bars.front().text);
    return figure;
}

}  // namespace luxdossier::report

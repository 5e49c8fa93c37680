// Readings that may have been read wrongly: levels far from what they are called, parts that hardly belong
// together, lines that were passed over.

#include "practice/rules.hpp"

#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// How many times the nominal level was read, by the meter or at the sensor, whichever is nearer to it.
struct LevelRatio {
    double nominal_lx = 0, mean_lx = 0, ratio = 1;
    /// How far the ratio is from 1, as a factor; a reading that is not positive is infinitely far.
    [[nodiscard]] double factor() const
    {
        return ratio > 0 ? std::max(ratio, 1 / ratio) : std::numeric_limits<double>::infinity();
    }
};

/// Means of one device at the nominal levels of a run.
std::map<double, double> means_of(const Bench& bench, std::size_t run, std::string_view column)
{
    std::map<double, std::pair<double, int>> sums;
    for (const auto& set : bench.evaluation().sets)
        if (set.run == run && set.column == column && set.level_lx && !set.is_half) {
            auto& [sum, count] = sums[*set.level_lx];
            sum += set.mean;
            ++count;
        }
    std::map<double, double> means;
    for (const auto& [level, sum] : sums)
        means[level] = sum.first / sum.second;
    return means;
}

std::vector<LevelRatio> level_ratios(const Bench& bench, std::size_t run)
{
    std::vector<LevelRatio> ratios;
    for (const auto& [nominal, mean] : means_of(bench, run, "meter")) {
        if (!(nominal > 0))
            continue;
        LevelRatio read{nominal, mean, mean / nominal};
        const auto& levels = bench.levels_of(run);
        const auto level = std::ranges::find(levels, std::optional(nominal), &Level::nominal_lx);
        if (level != levels.end()) {
            const LevelRatio at_sensor{nominal, mean, level->illuminance_lx / nominal};
            if (at_sensor.factor() < read.factor())
                read = at_sensor;
        }
        ratios.push_back(read);
    }
    return ratios;
}

/// "a factor of 988: a mark of thousands or a unit?"
std::string factor_words(double factor)
{
    if (!std::isfinite(factor))
        return "not even of its sign";
    const double decades = std::log10(factor);
    const bool is_slip = std::abs(decades - 1) < 0.1 || std::abs(decades - 3) < 0.1;
    return fmt::format("a factor of {}{}", model::numeral(factor, 3),
                       is_slip ? ": a mark of thousands or a unit?" : "");
}

constexpr double noteworthy = 1.2, mistaken = 2.0;

void raise_levels(Bench& bench, std::size_t run)
{
    const auto ratios = level_ratios(bench, run);
    for (const bool blocks : {true, false}) {
        const LevelRatio* worst = nullptr;
        std::size_t count = 0;
        std::vector<std::size_t> touched;
        for (const auto& read : ratios) {
            // 20 % below is a ratio of 0.8, 20 % above one of 1.2; a factor of 2 either way is a mistake.
            const bool differs = read.ratio > noteworthy || read.ratio < 2 - noteworthy;
            if (!differs || (read.factor() >= mistaken) != blocks)
                continue;
            ++count;
            add_results(touched, bench.results_of(run, read.nominal_lx));
            worst = worst == nullptr || read.factor() > worst->factor() ? &read : worst;
        }
        if (worst == nullptr)
            continue;
        bench.raise(
            {"nominal-differs",
             blocks ? RemarkSeverity::blocks : RemarkSeverity::concern,
             bench.run(run).id,
             fmt::format("{}: the meter reads {} lx at the level called {} lx ({} of {} levels), {}",
                         bench.words(run), model::numeral(worst->mean_lx, 4),
                         model::numeral(worst->nominal_lx, 6), count, ratios.size(),
                         blocks ? factor_words(worst->factor())
                                : fmt::format("{} % off", model::numeral(100 * (worst->ratio - 1), 2))),
             blocks ? "readings or levels are not what they are called: the results of these levels are not "
                      "decided"
                    : "limits select by the nominal level, which is not the one that was read",
             "look at unit, decimal mark and marks of thousands of the log, and at the nominal levels",
             std::move(touched),
             {}});
    }
}

/// A product's log whose readings lie a thousandfold off: its column may have been misread although the
/// meter's was not.
void raise_thousandfold(Bench& bench, std::size_t run)
{
    const auto means = means_of(bench, run, "sensor");
    const auto ratios = level_ratios(bench, run);
    for (const auto& level : bench.levels_of(run)) {
        const auto mean = level.nominal_lx ? means.find(*level.nominal_lx) : means.end();
        const bool is_meter = std::ranges::any_of(ratios, [&](const LevelRatio& read) {
            return read.nominal_lx == level.nominal_lx && read.factor() >= mistaken;
        });
        if (is_meter)
            continue;  // the meter's readings are the ones in doubt
        if (mean == means.end() || !(mean->second > 0) || !(level.illuminance_lx > 0))
            continue;
        const double decades = std::log10(mean->second / level.illuminance_lx);
        if (std::abs(std::abs(decades) - 3) > 0.1)
            continue;
        bench.raise(
            {"nominal-differs",
             RemarkSeverity::concern,
             bench.run(run).id,
             fmt::format(
                 "{}: the product reads {} lx where the illuminance is {} lx: a mark of thousands or a "
                 "unit?",
                 bench.words(run), model::numeral(mean->second, 4), model::numeral(level.illuminance_lx, 4)),
             "the product's readings may have been misread",
             "look at unit, scale, decimal mark and marks of thousands of the log",
             bench.results_of(run, level.nominal_lx),
             {}});
        return;
    }
}

/// Results of all parts that condition columns split a run into, with the first of them.
struct WholeRun {
    std::size_t first = 0;
    std::vector<std::size_t> results;
};

std::vector<WholeRun> whole_runs(const Bench& bench)
{
    std::vector<WholeRun> whole;
    std::map<std::string, std::size_t> places;
    for (std::size_t run = 0; run < bench.qualification().runs.size(); ++run) {
        const auto [place, is_new] = places.try_emplace(bench.run(run).id, whole.size());
        if (is_new)
            whole.push_back({run, {}});
        add_results(whole[place->second].results, bench.results_of(run));
    }
    return whole;
}

double unmatched_share(const model::RunFile& file)
{
    const auto rows = file.matched_rows + file.unmatched_rows;
    return rows == 0 ? 0.0 : static_cast<double>(file.unmatched_rows) / static_cast<double>(rows);
}

}  // namespace

void nominal_differs(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        raise_levels(bench, run);
        raise_thousandfold(bench, run);
    }
}

void join_doubtful(Bench& bench)
{
    constexpr double most_unmatched = 0.05;
    for (auto& whole : whole_runs(bench)) {
        const auto& run = bench.run(whole.first);
        if (run.files.size() < 2)
            continue;
        const bool by_row = std::ranges::any_of(
            run.files, [](const model::RunFile& file) { return file.join.starts_with("by row"); });
        double worst = 0, difference_s = 0;
        std::vector<std::string> parts;
        for (const auto& file : run.files) {
            worst = std::max(worst, unmatched_share(file));
            difference_s = std::max(difference_s, file.largest_time_difference_s);
            parts.push_back(fmt::format("{} of {} rows of {}", file.unmatched_rows,
                                        file.matched_rows + file.unmatched_rows, file.file));
        }
        if (!(worst > (by_row ? 0.0 : most_unmatched)))
            continue;
        // Where a row is missing and no times tell which, every row behind it may stand beside the wrong one.
        const bool blocks = by_row && worst > most_unmatched;
        bench.raise({"join-doubtful",
                     blocks ? RemarkSeverity::blocks : RemarkSeverity::concern,
                     run.id,
                     fmt::format("{} found no partner{}", fmt::join(parts, ", "),
                                 by_row ? "; rows were joined by their number"
                                        : fmt::format("; the largest difference in time is {} s",
                                                      model::numeral(difference_s, 3))),
                     blocks ? "which rows belong together is not known: not decided"
                            : "what was read beside them is missing: those rows do not count",
                     by_row ? "name a column for time in each part" : "log both devices over the same time",
                     std::move(whole.results),
                     {}});
    }
}

void comment_row(Bench& bench)
{
    constexpr std::size_t most_named = 5;
    for (auto& whole : whole_runs(bench)) {
        const auto& run = bench.run(whole.first);
        for (const auto& file : run.files) {
            if (file.comment_lines.empty())
                continue;
            const auto named = std::min(most_named, file.comment_lines.size());
            std::vector<std::string> more;
            for (std::size_t i = 1; i < named; ++i)
                more.push_back(fmt::format("{}", file.comment_lines[i]));
            if (file.comment_lines.size() > named)
                more.push_back(fmt::format("{} more", file.comment_lines.size() - named));
            bench.raise({"comment-row",
                         RemarkSeverity::concern,
                         run.id,
                         fmt::format("{}:{}: a line that begins with # among the readings{}", file.file,
                                     file.comment_lines.front(),
                                     more.empty() ? "" : fmt::format(" (also {})", fmt::join(more, ", "))),
                         "a reading may have been left out without a reason",
                         "take the # away, and exclude the row with a reason where it is not to count",
                         whole.results,
                         {}});
        }
    }
}

}  // namespace luxdossier::practice

#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/levels.hpp"

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Above this u(E)/E the difference is to be judged.
constexpr double judge_difference_above = 0.1;

std::string level_words(const Bench& bench, const LevelReading& level)
{
    return fmt::format("run {}{}", bench.run(level.run).id,
                       level.level_lx ? fmt::format(", level {} lx", *level.level_lx) : std::string{});
}

void evaluate_level(Bench& bench, const LevelReading& level)
{
    auto error = level_result(bench, level, "reading_error", "%");
    auto difference = level_result(bench, level, "reading_difference", "lx");
    if (!level.reading || !level.illuminance) {
        bench.add_undecided(std::move(error), level.trail.undecided.front(), level.trail);
        bench.add_undecided(std::move(difference), level.trail.undecided.front(), level.trail);
        return;
    }
    auto trail = level.reading->trail;
    trail.add(level.illuminance->trail);
    const auto& d = level.reading->value;
    const auto& e = level.illuminance->value;
    auto error_trail = trail;
    const double relative = relative_uncertainty(bench, *level.illuminance);
    if (const auto reason = says_nothing(relative))
        error_trail.undecide(*reason);
    else if (relative > judge_difference_above)
        bench.state(
            "reading-error",
            fmt::format("where u(E)/E is above {:.1f} the difference is to be judged, not the relative error",
                        judge_difference_above),
            fmt::format("{} ({:.2f})", level_words(bench, level), relative));
    bench.add(std::move(error), {((d / e - 1.0) * 100.0).named("e"), error_trail});
    bench.add(std::move(difference), {(d - e).named("Delta"), trail});
}

void evaluate_family(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        for (const auto& level : levels_of(bench, run))
            evaluate_level(bench, level);
}

}  // namespace

Family reading_error_family()
{
    Family family;
    family.info.id = "reading-error";
    family.info.title = "Reading error";
    family.info.question =
        "By how much does the product's reading differ from the illuminance at its sensor?";
    family.info.method =
        "At each level the mean reading D of the product is compared with the illuminance E at the sensor. "
        "Readings of "
        "product and meter that were taken together are correlated by the covariance of their pairs.";
    family.info.formulas = {"e = (D/E - 1) x 100 %", "Delta = D - E"};
    family.info.metrics = {{"reading_error",
                            "Reading error",
                            "%",
                            "e",
                            {"configuration", "source", "level"},
                            true,
                            "relative deviation of the product's reading from the illuminance at the sensor"},
                           {"reading_difference",
                            "Reading difference",
                            "lx",
                            "Delta",
                            {"configuration", "source", "level"},
                            true,
                            "the product's reading less the illuminance at the sensor"}};
    family.evaluate = evaluate_family;
    family.figures = reading_error_figures;
    return family;
}

}  // namespace luxdossier::metrics

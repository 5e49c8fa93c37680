#include "metrics/figures.hpp"

#include "metrics/figure_parts.hpp"
#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"

#include <algorithm>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::metrics;
using test::agree;

namespace {

/// A result as an evaluation holds it, with u where it is above 0 (k = 2).
model::Result result_of(std::string metric, model::Conditions conditions, double value, double u,
                        std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = "S1";
    result.conditions = std::move(conditions);
    result.conditions.emplace("configuration", std::string("windowed"));
    result.conditions.emplace("source", std::string("led"));
    result.unit = std::move(unit);
    result.value = value;
    result.id = model::result_id(result.metric, result.sample, result.conditions);
    result.runs = {0};
    if (u > 0)
        result.combined = uncertainty::Combined{value, u, uncertainty::infinite, 0.9545, 2, 2 * u};
    return result;
}

model::ConditionQuantity lx(double value)
{
    return {value, "lx"};
}

/// Three levels of one sample: difference, error, and deviations from two lines; the terminal-based line has
/// a deviation at the middle level only.
model::Dossier levels()
{
    model::Dossier dossier;
    auto& results = dossier.evaluation.results;
    const std::vector<double> nominal{10, 100, 1000}, e{9.9, 101, 1002}, error{4, -2, 1};
    for (std::size_t i = 0; i < 3; ++i) {
        auto difference = result_of("reading_difference", {{"level", lx(nominal[i])}}, error[i] * e[i] / 100,
                                    0.01 * e[i], "lx");
        auto relative = result_of("reading_error", {{"level", lx(nominal[i])}}, error[i], 1, "%");
        auto independent = result_of("linearity_deviation",
                                     {{"level", lx(nominal[i])},
                                      {"line", std::string("independent")},
                                      {"relative_to", std::string("span")}},
                                     0.1 * error[i], 0.05, "%");
        difference.illuminance_lx = relative.illuminance_lx = independent.illuminance_lx = e[i];
        results.push_back(difference);
        results.push_back(relative);
        results.push_back(independent);
    }
    auto terminal = result_of("linearity_deviation",
                              {{"level", lx(100)},
                               {"line", std::string("terminal-based")},
                               {"relative_to", std::string("reading")}},
                              -0.7, 0.1, "%");
    terminal.illuminance_lx = e[1];
    results.push_back(terminal);
    return dossier;
}

/// Adds a two-sided limit in record units and its verdict on one result, with a guard band of that width.
void judge(model::Dossier& dossier, const std::string& id, std::size_t result, double half_width,
           double guard)
{
    if (!dossier.limits)
        dossier.limits.emplace();
    auto& limits = dossier.limits->limits;
    auto found = std::ranges::find(limits, id, &model::Limit::id);
    if (found == limits.end()) {
        limits.emplace_back();
        limits.back().id = id;
        found = limits.end() - 1;
    }
    model::Verdict verdict;
    verdict.limit = static_cast<std::size_t>(found - limits.begin());
    verdict.result = result;
    verdict.tolerance_lower = -half_width;
    verdict.tolerance_upper = half_width;
    verdict.acceptance_lower = -half_width + guard;
    verdict.acceptance_upper = half_width - guard;
    dossier.verdicts.verdicts.push_back(verdict);
}

std::size_t index_of(const model::Dossier& dossier, const std::string& metric, double level,
                     const std::string& line = "")
{
    const auto& all = dossier.evaluation.results;
    for (std::size_t i = 0; i < all.size(); ++i)
        if (all[i].metric == metric && number_of(all[i], "level") == level && text_of(all[i], "line") == line)
            return i;
    FAIL("no such result");
    return 0;
}

}  // namespace

TEST_CASE("a quantity stands at the place of its uncertainty", "[metrics][figures]")
{
    // JCGM 100:2008, 7.2.6: U to two significant digits at most, the value to the same place.
    CHECK(quantity_text(56.38966, 0.32918, "\u00B0") == "56.39\u00B0 \u00B1 0.33\u00B0");
    CHECK(quantity_text(20.7612, 0.3233, "min", 1) == "20.8\u202Fmin \u00B1 0.3\u202Fmin");
    CHECK(quantity_text(-0.42, 0.0996, "%") == "\u22120.42\u202F% \u00B1 0.10\u202F%");
    CHECK(quantity_text(12345.6, 87, "lx") == "12\u202F346\u202Flx \u00B1 87\u202Flx");
    CHECK(quantity_text(12345.6, 870, "lx", 1) == "12\u202F300\u202Flx \u00B1 900\u202Flx");
    CHECK(quantity_text(0.12345, std::nullopt, "1") == "0.123");
    CHECK(quantity_text(-0.0001, 0.1, "%") == "0.00\u202F% \u00B1 0.10\u202F%");
    CHECK(short_text(1000) == "1000");
    CHECK(short_text(0.5) == "0.5");
}

TEST_CASE("a long log is thinned so that its extremes stay", "[metrics][figures]")
{
    std::vector<double> times, levels;
    for (int i = 0; i < 100'000; ++i) {
        times.push_back(i);
        levels.push_back(std::sin(i * 0.001));
    }
    levels[54'321] = 7;
    levels[54'322] = -9;
    const auto kept = thinned(times, levels, 700);
    CHECK(kept.size() <= 1400);
    CHECK(kept.size() >= 1300);
    CHECK(std::ranges::is_sorted(kept));
    CHECK(std::ranges::count(kept, std::size_t{54'321}) == 1);
    CHECK(std::ranges::count(kept, std::size_t{54'322}) == 1);
    CHECK(thinned(std::span(times).first(1400), std::span(levels).first(1400), 700).size() == 1400);
    CHECK(thinned({}, {}, 700).empty());
}

TEST_CASE("the warm-up figure marks the settling time and states it in words", "[metrics][figures]")
{
    model::Dossier dossier;
    auto& qualification = dossier.qualification;
    model::Source source;
    source.id = "led";
    source.settling_tolerance = 0.005;
    qualification.sources = {source};
    qualification.evaluation.settling_window_s = 600;
    std::vector<double> times, levels;
    for (int t = 0; t <= 7200; ++t) {
        times.push_back(t);
        levels.push_back(1500 * (1 + 0.06 * std::exp(-t / 600.0)) + (t % 2 == 0 ? 0.1 : -0.1));
    }
    auto run = test::run_of("log", model::RunKind::warm_up,
                            {test::column("time", "s", times), test::column("meter", "lx", levels)});
    run.source = "led";
    qualification.runs = {run};
    dossier.evaluation = evaluate(qualification);
    const auto figures = warm_up_figures(dossier);
    REQUIRE(figures.size() == 1);
    const auto& figure = figures.front();
    CHECK(figure.id == "warm_up");
    CHECK(figure.kind == model::FigureKind::small_multiples);
    REQUIRE(figure.panels.size() == 1);
    const auto& panel = figure.panels.front();
    CHECK(panel.x.title == "time / min");
    CHECK(panel.y.title == "level / % of final");
    CHECK(agree(*panel.band_lower, 99.5, 1e-12));
    CHECK(agree(*panel.band_upper, 100.5, 1e-12));
    CHECK(panel.series.front().points.size() <= 1500);
    CHECK(agree(panel.series.front().points.front().y, 106, 1e-4));
    REQUIRE(panel.verticals.size() == 1);
    // tau ln(0.06/0.005) = 1491 s = 24.85 min, the filter shifts by a quarter of a second.
    CHECK(std::abs(panel.verticals.front().x - 24.85) < 0.05);
    CHECK_THAT(panel.verticals.front().text, Catch::Matchers::StartsWith("settled after 24.8"));
    CHECK_THAT(figure.alternative_text,
               Catch::Matchers::StartsWith("Warm-up: led (tolerance 0.5 %) settled after 24.8"));
    CHECK_FALSE(figure.caption.empty());
}

TEST_CASE("a log that does not settle is drawn without a mark", "[metrics][figures]")
{
    model::Dossier dossier;
    dossier.qualification.evaluation.settling_window_s = 600;
    auto run = test::run_of(
        "log", model::RunKind::warm_up,
        {test::column("time", "s", {0, 600, 1200}), test::column("meter", "lx", {100, 110, 120})});
    run.source = "led";
    dossier.qualification.runs = {run};
    dossier.evaluation = evaluate(dossier.qualification);
    const auto figures = warm_up_figures(dossier);
    REQUIRE(figures.size() == 1);
    CHECK(figures.front().panels.front().verticals.empty());
    CHECK_THAT(figures.front().alternative_text, Catch::Matchers::Contains("led did not settle"));
    dossier.qualification.evaluation.settling_window_s.reset();
    CHECK(warm_up_figures(dossier).empty());
}

TEST_CASE("reading error is drawn against illuminance with limits and guard bands", "[metrics][figures]")
{
    auto dossier = levels();
    for (const double level : {10.0, 100.0, 1000.0})
        judge(dossier, "L-01", index_of(dossier, "reading_error", level), 8, level == 10 ? 3 : 2);
    const auto figures = reading_error_figures(dossier);
    REQUIRE(figures.size() == 1);
    const auto& figure = figures.front();
    CHECK(figure.id == "reading_error/windowed/led");
    const auto& panel = figure.panels.front();
    CHECK(panel.x.logarithmic);
    REQUIRE(panel.series.size() == 1);
    CHECK(panel.series.front().name == "S1");
    REQUIRE(panel.series.front().points.size() == 3);
    CHECK(panel.series.front().points[1].x == 101);
    CHECK(panel.series.front().points[1].y == -2);
    CHECK(panel.series.front().points[1].u_upper == 2);
    REQUIRE(panel.limits.size() == 2);
    const auto& upper = panel.limits.front();
    CHECK(upper.id == "L-01");
    CHECK(upper.upper);
    REQUIRE(upper.points.size() == 2);  // constant: two points
    CHECK(upper.points.front().x == 10);
    CHECK(upper.points.back().x == 1000);
    CHECK(upper.points.front().y == 8);
    REQUIRE(upper.acceptance.size() == 3);
    CHECK(upper.acceptance.front().y == 5);
    CHECK(upper.acceptance.back().y == 6);
    CHECK(panel.limits.back().points.front().y == -8);
    CHECK(figure.alternative_text == "Reading error of windowed, led for 1 sample: the greatest is "
                                     "4.0\u202F% \u00B1 2.0\u202F%, of S1 at 9.9 lx.");
}

TEST_CASE("readings of a level at other temperatures do not stand above each other", "[metrics][figures]")
{
    auto dossier = levels();
    const auto alone = reading_error_figures(dossier).front();
    for (const double kelvin : {253.15, 318.15}) {
        auto chamber = result_of("reading_error",
                                 {{"level", lx(100)}, {"temperature", model::ConditionQuantity{kelvin, "K"}}},
                                 -3, 1, "%");
        chamber.illuminance_lx = 101;
        dossier.evaluation.results.insert(dossier.evaluation.results.begin(), chamber);
    }
    const auto figures = reading_error_figures(dossier);
    REQUIRE(figures.size() == 1);
    const auto& series = figures.front().panels.front().series;
    REQUIRE(series.size() == 1);
    REQUIRE(series.front().points.size() == 3);
    for (std::size_t i = 0; i < 3; ++i)
        CHECK(series.front().points[i].y == alone.panels.front().series.front().points[i].y);
    CHECK(alone.caption.find("other temperatures") == std::string::npos);
    CHECK(figures.front().caption.find("; other temperatures have a figure of their own") !=
          std::string::npos);
    // Each level at a temperature of its own: none is left out.
    auto drifting = levels();
    double kelvin = 295;
    for (auto& result : drifting.evaluation.results)
        if (result.metric == "reading_error")
            result.conditions.emplace("temperature", model::ConditionQuantity{kelvin++, "K"});
    CHECK(reading_error_figures(drifting).front().panels.front().series.front().points.size() == 3);
}

TEST_CASE("of samples that share a level the narrowest acceptance is drawn", "[metrics][figures]")
{
    auto dossier = levels();
    auto other = dossier.evaluation.results[index_of(dossier, "reading_error", 100)];
    other.sample = "S2";
    dossier.evaluation.results.push_back(other);
    judge(dossier, "L-01", index_of(dossier, "reading_error", 100), 8, 1);
    judge(dossier, "L-01", dossier.evaluation.results.size() - 1, 8, 3);
    const auto figures = reading_error_figures(dossier);
    REQUIRE(figures.front().panels.front().series.size() == 2);
    CHECK(figures.front().panels.front().series[0].mark != figures.front().panels.front().series[1].mark);
    const auto& upper = figures.front().panels.front().limits.front();
    REQUIRE(upper.points.size() == 2);  // one level, given a width
    CHECK(upper.points.front().x == 75);
    CHECK(agree(upper.points.back().x, 100 / 0.75, 1e-12));
    REQUIRE(upper.acceptance.size() == 2);
    CHECK(upper.acceptance.front().y == 5);
}

TEST_CASE("a limit in another unit is drawn in the unit of the record", "[metrics][figures]")
{
    auto dossier = levels();
    judge(dossier, "L-01", index_of(dossier, "reading_error", 100), 0.08, 0.02);
    dossier.limits->limits.front().unit = "1";
    dossier.limits->limits.front().unit_scale = 100;
    const auto figures = reading_error_figures(dossier);
    const auto& upper = figures.front().panels.front().limits.front();
    CHECK(agree(upper.points.front().y, 8, 1e-12));
    CHECK(agree(upper.acceptance.front().y, 6, 1e-12));
}

TEST_CASE("linearity shows readings above and the deviations of the judged line below", "[metrics][figures]")
{
    auto dossier = levels();
    SECTION("without limits the independent line, relative to the span")
    {
        const auto figures = linearity_figures(dossier);
        REQUIRE(figures.size() == 1);
        const auto& figure = figures.front();
        CHECK(figure.id == "linearity/S1/windowed/led");
        CHECK(figure.kind == model::FigureKind::stacked);
        REQUIRE(figure.panels.size() == 2);
        CHECK(figure.panels[0].x.logarithmic);
        CHECK(figure.panels[0].y.logarithmic);
        REQUIRE(figure.panels[0].series.front().points.size() == 3);
        CHECK(figure.panels[0].series.front().points[0].x == 9.9);
        CHECK(agree(figure.panels[0].series.front().points[0].y, 9.9 * 1.04, 1e-12));
        CHECK(figure.panels[1].y.title == "deviation / % of span");
        CHECK(figure.panels[1].series.front().points.size() == 3);
        CHECK(figure.panels[1].limits.empty());
        CHECK(figure.caption.find("hollow") == std::string::npos);
        CHECK(figure.alternative_text ==
              "Linearity of S1, windowed, led over 3 levels: the greatest deviation from the "
              "independent line is 0.40\u202F% \u00B1 0.10\u202F% of span at 9.9 lx.");
    }
    SECTION("the line that a limit judges, hollow where it is zero by construction")
    {
        judge(dossier, "L-02", index_of(dossier, "linearity_deviation", 100, "terminal-based"), 1, 0.2);
        const auto figures = linearity_figures(dossier);
        const auto& panel = figures.front().panels[1];
        CHECK(panel.y.title == "deviation / % of reading");
        REQUIRE(panel.series.front().points.size() == 3);
        CHECK(panel.series.front().points[0].hollow);
        CHECK_FALSE(panel.series.front().points[1].hollow);
        CHECK(panel.series.front().points[1].y == -0.7);
        CHECK(panel.series.front().points[2].hollow);
        CHECK_THAT(figures.front().caption,
                   Catch::Matchers::EndsWith("hollow points are zero by construction."));
        CHECK(panel.limits.size() == 2);
        CHECK_THAT(figures.front().alternative_text,
                   Catch::Matchers::EndsWith("; upper limit 1 %, lower limit \u22121 %."));
    }
}

TEST_CASE("of several samples the readings share a panel, the deviations an axis", "[metrics][figures]")
{
    auto dossier = levels();
    auto& results = dossier.evaluation.results;
    const auto first = results.size();
    for (std::size_t i = 0; i < first; ++i) {
        auto copy = results[i];
        copy.sample = "S2";
        *copy.value *= 1.5;
        results.push_back(std::move(copy));
    }
    const auto figures = linearity_figures(dossier);
    REQUIRE(figures.size() == 1);
    const auto& figure = figures.front();
    CHECK(figure.id == "linearity/windowed/led");
    CHECK(figure.kind == model::FigureKind::small_multiples);
    REQUIRE(figure.panels.size() == 3);
    REQUIRE(figure.panels[0].series.size() == 2);
    CHECK(figure.panels[0].series[1].name == "S2");
    CHECK(agree(figure.panels[0].series[1].points[0].y, 9.9 * 1.06, 1e-12));
    CHECK(figure.panels[1].title == "S1");
    CHECK(figure.panels[2].title == "S2");
    // The same colour and mark stand for a sample in every panel.
    CHECK(figure.panels[0].series[1].colour == figure.panels[2].series[0].colour);
    CHECK(figure.panels[0].series[1].mark == figure.panels[2].series[0].mark);
    CHECK(agree(figure.panels[2].series[0].points[0].y, 0.6, 1e-12));
    CHECK(figure.panels[1].y.from == figure.panels[2].y.from);
    CHECK(figure.panels[1].y.to == figure.panels[2].y.to);
    CHECK(*figure.panels[1].y.from < -0.3 - 0.1);
    CHECK(*figure.panels[1].y.to > 0.6 + 0.1);
    CHECK_FALSE(figure.panels[0].y.from);
    CHECK(figure.alternative_text ==
          "Linearity of 2 samples, windowed, led: the greatest deviation from the independent line is "
          "0.60\u202F% \u00B1 0.10\u202F% of span for S2 at 9.9 lx.");
}

TEST_CASE("panels keep an axis of their own where a shared one would hide their values", "[metrics][figures]")
{
    std::vector<model::Panel> panels(2);
    panels[0].series.emplace_back().points = {{1, 0}, {2, 1}};
    panels[1].series.emplace_back().points = {{1, 0}, {2, 100}};
    share_values(panels);
    CHECK_FALSE(panels[0].y.from);
    panels[1].series.front().points[1].y = 2;
    share_values(panels);
    CHECK(panels[0].y.to == panels[1].y.to);
    CHECK(*panels[0].y.to > 2);
}

TEST_CASE("a reading of zero has no place on a log axis", "[metrics][figures]")
{
    auto dossier = levels();
    auto& difference = dossier.evaluation.results[index_of(dossier, "reading_difference", 10)];
    difference.value = -*difference.illuminance_lx;
    const auto figures = linearity_figures(dossier);
    CHECK(figures.front().panels[0].series.front().points.size() == 2);
    CHECK(figures.front().panels[1].series.front().points.size() == 3);
}

TEST_CASE("the polar figure shows both planes, the target and the half-response angles", "[metrics][figures]")
{
    model::Dossier dossier;
    model::Configuration configuration;
    configuration.id = "windowed";
    configuration.target_is_cosine = true;
    dossier.qualification.configurations = {configuration};
    auto& results = dossier.evaluation.results;
    for (const double plane : {0.0, 90.0}) {
        for (const double angle : {60.0, -60.0, -30.0, 30.0})
            results.push_back(result_of("angular_response",
                                        {{"plane", model::ConditionQuantity{plane, "degree"}},
                                         {"angle", model::ConditionQuantity{angle, "degree"}}},
                                        std::abs(angle) == 60 ? 0.45 : 0.85, 0.001, "1"));
        for (const auto* side : {"negative", "positive"})
            results.push_back(
                result_of("half_response_angle",
                          {{"plane", model::ConditionQuantity{plane, "degree"}}, {"side", std::string(side)}},
                          56.4, 0.165, "degree"));
    }
    results.push_back(result_of("directional_index", {{"plane", std::string("mean")}}, 5.2, 0.13, "%"));
    const auto figures = angular_figures(dossier);
    REQUIRE(figures.size() == 1);
    const auto& figure = figures.front();
    CHECK(figure.id == "angular/S1/windowed/led");
    CHECK(figure.kind == model::FigureKind::polar);
    const auto& panel = figure.panels.front();
    REQUIRE(panel.series.size() == 2);
    CHECK(panel.series[0].name == "plane 0\u00B0");
    CHECK(panel.series[1].name == "plane 90\u00B0");
    REQUIRE(panel.series[0].points.size() == 5);
    CHECK(panel.series[0].points.front().x == -60);
    CHECK(panel.series[0].points[2].x == 0);
    CHECK(panel.series[0].points[2].y == 1);
    CHECK(panel.series[0].points[2].hollow);
    REQUIRE(panel.references.size() == 1);
    CHECK(panel.references.front().name == "cosine");
    REQUIRE(figure.angles.size() == 4);
    CHECK(figure.angles[0].angle_degree == -56.4);
    CHECK(agree(figure.angles[0].u_degree, 0.33, 1e-12));
    CHECK(figure.angles[0].text == "56.40\u00B0 \u00B1 0.33\u00B0");
    CHECK(figure.angles[3].series == 1);
    CHECK_THAT(figure.alternative_text,
               Catch::Matchers::Contains("plane 0\u00B0 negative side 56.40\u00B0 \u00B1 0.33\u00B0"));
    CHECK_THAT(figure.alternative_text, Catch::Matchers::Contains("mean 5.20\u202F% \u00B1 0.26\u202F%"));
}

TEST_CASE("of many samples those that stand worst are named, the others step back", "[metrics][figures]")
{
    // Sample 7 fails, sample 3 has the least margin of those that pass, then the magnitude counts.
    model::Dossier dossier;
    model::Panel panel;
    for (std::size_t s = 0; s < 12; ++s) {
        auto result = result_of("reading_error", {{"level", lx(10)}}, static_cast<double>(s), 1, "%");
        result.sample = "S" + std::to_string(s);
        dossier.evaluation.results.push_back(result);
        model::Series series;
        series.name = result.sample;
        series.stroke = model::Stroke::solid;
        series.points = {point_of(result, 10)};
        series.origin.results = {s};
        panel.series.push_back(series);
        model::Verdict verdict;
        verdict.result = s;
        verdict.outcome = s == 7 ? model::Outcome::fail : model::Outcome::pass;
        verdict.margin = s == 7 ? -1 : s == 3 ? 0.1 : 2;
        dossier.verdicts.verdicts.push_back(verdict);
    }
    const auto magnitude = [](const model::Series& series) { return series.points.front().y; };
    auto few = panel;
    few.series.resize(10);
    CHECK(step_back(dossier, few, magnitude) == 0);
    CHECK(step_back(dossier, panel, magnitude) == 7);
    REQUIRE(panel.series.size() == 12);
    std::string named;
    for (const auto& series : panel.series) {
        if (!series.in_background) {
            named += series.name + " ";
            CHECK(series.points.front().u_upper == 2);
        } else {
            CHECK(series.mark == model::Mark::none);
            CHECK(series.points.front().u_upper == 0);
        }
    }
    CHECK(named == "S9 S10 S11 S3 S7 ");
    CHECK(panel.series.front().in_background);
}

TEST_CASE("whiskers are the interval of the trials where that is judged", "[metrics][figures]")
{
    auto result = result_of("reading_error", {{"level", lx(10)}}, 4, 1, "%");
    result.monte_carlo.emplace();
    result.monte_carlo->interval = uncertainty::Ends{1, 9};
    CHECK(point_of(result, 10).u_upper == 2);
    result.is_judged_by_trials = true;
    CHECK(point_of(result, 10).u_lower == 3);
    CHECK(point_of(result, 10).u_upper == 5);
}

TEST_CASE("nothing is drawn where there are no results", "[metrics][figures]")
{
    const model::Dossier dossier;
    CHECK(warm_up_figures(dossier).empty());
    CHECK(linearity_figures(dossier).empty());
    CHECK(angular_figures(dossier).empty());
    CHECK(reading_error_figures(dossier).empty());
}

TEST_CASE("an axis is framed by its limits, not by a whisker that dwarfs them", "[metrics][figures]")
{
    model::Panel panel;
    model::Series series;
    // 0.1 lx is not judged; the levels from 10 lx on are.
    series.points = {{0.1, 60, 100, 100, false}, {10, 2, 1, 1, false}, {1000, -3, 1, 1, false}};
    panel.series = {series};
    panel.limits = {{"L-1", true, {{10, 8}, {1000, 8}}, {}}, {"L-1", false, {{10, -8}, {1000, -8}}, {}}};
    SECTION("half a tolerance beyond the limits")
    {
        CHECK(frame_by_limits(panel) == 1);
        // The tolerance is 16 wide: from -16 to 16, and 3 % of air.
        CHECK(agree(*panel.y.from, -16 - 0.03 * 32, 1e-12));
        CHECK(agree(*panel.y.to, 16 + 0.03 * 32, 1e-12));
    }
    SECTION("a judged result is seen up to two tolerances beyond")
    {
        panel.series[0].points[0] = {0.1, 1, 0, 0, false};
        panel.series[0].points[1].y = 39;
        panel.series[0].points[2].y = 41;
        CHECK(frame_by_limits(panel) == 1);
        CHECK(*panel.y.to > 39);
        CHECK(*panel.y.to < 41);
    }
    SECTION("the axis stays free where everything is near")
    {
        panel.series[0].points.erase(panel.series[0].points.begin());
        CHECK(frame_by_limits(panel) == 0);
        CHECK_FALSE(panel.y.from);
        CHECK_FALSE(panel.y.to);
    }
    SECTION("without a limit, or on a logarithmic axis, nothing is fixed")
    {
        panel.y.logarithmic = true;
        CHECK(frame_by_limits(panel) == 0);
        panel.y.logarithmic = false;
        panel.limits.clear();
        CHECK(frame_by_limits(panel) == 0);
        CHECK_FALSE(panel.y.from);
    }
    SECTION("the side without a limit shows every result")
    {
        panel.limits.pop_back();
        panel.series[0].points[0] = {0.1, -500, 600, 600, false};
        CHECK(frame_by_limits(panel) == 0);
        // Above, half the limit beyond it; below, the result and as much of its whisker as the limit is
        // large.
        CHECK(agree(*panel.y.from, -508 - 0.03 * 520, 1e-12));
        CHECK(agree(*panel.y.to, 12 + 0.03 * 520, 1e-12));
    }
    CHECK(beyond_text(0).empty());
    CHECK(beyond_text(2) == "; an arrow at the frame stands for a result beyond it (2)");
}

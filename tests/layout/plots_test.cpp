#include "layout/page.hpp"
#include "layout/page_checks.hpp"
#include "layout/plots/clip.hpp"
#include "layout/plots/direct_labels.hpp"
#include "layout/read_back.hpp"
#include "report/small_dossier.hpp"

#include <map>
#include <numbers>
#include <set>

#include "support/catch.hpp"

using namespace luxdossier;
using layout::PathItem;
using layout::Position;
using layout::Rect;
using layout::TextItem;
using test::middle;
using test::paths;
using test::printed_number;
using test::Ruler;
using test::texts;

namespace {

// Marks, limits and ticks are read back from the page: the ticks and their printed labels are the ruler.

layout::Page page_of(model::Figure figure)
{
    auto dossier = test::small_dossier(1, 3, 1);
    figure.id = "figure";
    figure.alternative_text = "A figure.";
    dossier.figures = {std::move(figure)};
    const auto pages = layout::lay_out(report::compose(dossier, "![](plot:figure)\n"), dossier);
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
    return pages.pages.at(0);
}

/// The ruler along x (or y) inside a part of the page; every labelled tick must agree with it.
Ruler ruler(const layout::Page& page, bool along_x, bool logarithmic, const Rect& part)
{
    std::vector<std::pair<double, double>> marks;  // place, value
    const std::string role = along_x ? "tick:x" : "tick:y";
    auto ticks = paths(page, role);
    std::ranges::move(paths(page, role + ":minor"), std::back_inserter(ticks));
    for (const auto& tick : ticks) {
        const auto foot = tick.points.back();
        if (foot.x < part.x || foot.x > part.x + part.width || foot.y < part.y ||
            foot.y > part.y + part.height)
            continue;
        for (const auto& label : texts(page, "tick-label")) {
            const double x = label.box.x + label.box.width / 2, y = label.box.y + label.box.height / 2;
            const bool own =
                along_x ? std::abs(x - foot.x) < 0.2 && label.box.y > foot.y - 1 && label.box.y < foot.y + 3
                        : std::abs(y - foot.y) < 1 && label.box.x < foot.x &&
                              foot.x - label.box.x - label.box.width < 1.5;
            if (own)
                marks.emplace_back(along_x ? foot.x : foot.y, printed_number(label.text));
        }
    }
    REQUIRE(marks.size() >= 2);
    const Ruler found{marks.front().first, marks.front().second, marks.back().first, marks.back().second,
                      logarithmic};
    for (const auto& [place, value] : marks)
        CHECK(test::agree(found.value(place), value, 1e-6, 1e-6));
    return found;
}

constexpr Rect whole_page{0, 0, 210, 297};

model::Panel panel_of(bool log_x, bool log_y)
{
    model::Panel panel;
    panel.x = {"illuminance / lx", log_x, std::nullopt, std::nullopt};
    panel.y = {"reading error / %", log_y, std::nullopt, std::nullopt};
    model::Series series;
    series.name = "S1";
    series.stroke = model::Stroke::solid;
    series.points = {{10, 2, 1, 1, false}, {200, 3, 0.5, 2, false}, {5000, 7, 1, 1, false}};
    panel.series.push_back(series);
    series.name = "S2";
    series.mark = model::Mark::square;
    series.colour = 1;
    for (auto& point : series.points)
        point.y *= 0.8;
    panel.series.push_back(series);
    panel.limits.push_back({"L-1", true, {{10, 8}, {5000, 8}}, {{10, 6}, {5000, 6.5}}});
    panel.limits.push_back({"L-2", false, {{10, 1}, {5000, 1}}, {}});
    return panel;
}

void check_panel(const layout::Page& page, const model::Panel& panel, const Rect& part)
{
    const auto inside = [&](Position at) {
        return at.x >= part.x && at.x <= part.x + part.width && at.y >= part.y &&
               at.y <= part.y + part.height;
    };
    const auto y = ruler(page, false, panel.y.logarithmic, part);
    const auto x = ruler(page, true, panel.x.logarithmic, part);
    for (const auto& series : panel.series) {
        CAPTURE(series.name);
        std::vector<Position> marks;
        for (const auto& path : paths(page, "mark:" + series.name)) {
            if (inside(middle(path)))
                marks.push_back(middle(path));
        }
        REQUIRE(marks.size() == series.points.size());
        for (std::size_t i = 0; i < marks.size(); ++i) {
            CHECK(test::agree(x.value(marks[i].x), series.points[i].x, 1e-3));
            CHECK(test::agree(y.value(marks[i].y), series.points[i].y, 1e-3));
        }
        std::size_t i = 0;
        for (const auto& whisker : paths(page, "whisker:" + series.name)) {
            if (!inside(whisker.points.front()))
                continue;
            const auto& point = series.points.at(i++);
            CHECK(test::agree(y.value(whisker.points.front().y), point.y - point.u_lower, 1e-6, 1e-6));
            CHECK(test::agree(y.value(whisker.points.back().y), point.y + point.u_upper, 1e-6, 1e-6));
        }
        CHECK(i == series.points.size());
    }
    for (const auto& limit : panel.limits) {
        for (const auto& [role, points] : {std::pair("limit:" + limit.id, limit.points),
                                           std::pair("acceptance:" + limit.id, limit.acceptance)}) {
            CAPTURE(role);
            std::vector<PathItem> drawn;
            for (const auto& path : paths(page, role)) {
                if (inside(path.points.front()))
                    drawn.push_back(path);
            }
            REQUIRE(drawn.size() == (points.empty() ? 0U : 1U));
            for (std::size_t i = 0; i < points.size(); ++i) {
                CHECK(test::agree(x.value(drawn[0].points[i].x), points[i].x, 1e-6));
                CHECK(test::agree(y.value(drawn[0].points[i].y), points[i].y, 1e-6));
            }
        }
    }
}

}  // namespace

TEST_CASE("marks, whiskers and limits of a plot stand where its ticks say", "[layout][plots]")
{
    const bool log_x = GENERATE(false, true), log_y = GENERATE(false, true);
    CAPTURE(log_x, log_y);
    model::Figure figure;
    figure.panels = {panel_of(log_x, log_y)};
    check_panel(page_of(figure), figure.panels.front(), whole_page);
}

TEST_CASE("panels above each other share their x axis", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::stacked;
    figure.panels = {panel_of(true, false), panel_of(true, false)};
    figure.panels[1].limits[0].id = "L-3";
    figure.panels[1].limits[1].id = "L-4";
    const auto page = page_of(figure);
    // The ticks of x stand below the lower panel alone; places along x agree above and below.
    const auto axes = paths(page, "axis:x");
    REQUIRE(axes.size() == 2);
    const double border = axes[0].points.front().y + 2;
    check_panel(page, figure.panels[1], {0, border, 210, 297 - border});
    const auto marks = paths(page, "mark:S1");
    REQUIRE(marks.size() == 6);
    for (std::size_t i = 0; i < 3; ++i)
        CHECK(test::agree(middle(marks[i]).x, middle(marks[i + 3]).x, 1e-9));
}

TEST_CASE("small multiples stand side by side, each on its own ticks", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::small_multiples;
    figure.panels = {panel_of(false, false), panel_of(false, false)};
    for (auto& point : figure.panels[1].series[0].points)
        point.y *= 10;
    const auto page = page_of(figure);
    const auto axes = paths(page, "axis:y");
    REQUIRE(axes.size() == 2);
    const double border = axes[1].points.front().x - 12;
    check_panel(page, figure.panels[0], {0, 0, border, 297});
    check_panel(page, figure.panels[1], {border, 0, 210 - border, 297});
}

TEST_CASE("small multiples write a shared axis once and name their series in one legend", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::small_multiples;
    for (int i = 0; i < 6; ++i) {
        auto panel = panel_of(true, false);
        panel.y.from = -10;
        panel.y.to = 10;
        panel.title = "P" + std::to_string(i);
        panel.series.push_back(panel.series.front());
        panel.series.back().name = "S2";
        figure.panels.push_back(std::move(panel));
    }
    const auto page = page_of(figure);
    std::size_t x_titles = 0, y_titles = 0, names = 0;
    for (const auto& text : texts(page, "axis-title"))
        (text.text == "reading error / %" ? y_titles : x_titles) += 1;
    for (const auto& text : texts(page, "plot"))
        names += text.text == "S1" || text.text == "S2" ? 1U : 0U;
    CHECK(y_titles == 2);  // one a row
    CHECK(x_titles == 3);  // one a column, below its last panel
    CHECK(names == 2);
    CHECK(texts(page, "panel-title").size() == 6);
    // Every panel has its plot as wide and as high as the others; those of a row share their scale.
    const auto across = paths(page, "axis:x"), up = paths(page, "axis:y");
    REQUIRE(across.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) {
        CHECK(test::agree(across[i].points.back().x - across[i].points.front().x,
                          across[0].points.back().x - across[0].points.front().x, 1e-9));
        CHECK(test::agree(up[i].points.front().y - up[i].points.back().y,
                          up[0].points.front().y - up[0].points.back().y, 1e-9));
    }
    const auto marks = paths(page, "mark:S1");
    REQUIRE(marks.size() == 18);
    for (std::size_t i = 0; i < 3; ++i)
        CHECK(test::agree(middle(marks[i]).y, middle(marks[i + 3]).y, 1e-9));
}

TEST_CASE("40 panels go on over several figures, the caption below the last", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::small_multiples;
    figure.title = "Many";
    figure.caption = "All of them.";
    figure.id = "figure";
    figure.panels.assign(40, panel_of(true, false));
    auto dossier = test::small_dossier(1, 3, 1);
    dossier.figures = {figure};
    const auto pages = layout::lay_out(report::compose(dossier, "![](plot:figure)\n"), dossier);
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
    std::size_t panels = 0, captions = 0;
    for (const auto& page : pages.pages) {
        panels += paths(page, "axis:x").size();
        captions += texts(page, "caption").size();
    }
    CHECK(panels == 40);
    CHECK(captions == 1);
}

TEST_CASE("a legend of 40 long names stands in columns and tells them apart", "[layout][plots]")
{
    const bool half = GENERATE(false, true);
    model::Figure figure;
    figure.half_width = half;
    auto panel = panel_of(true, false);
    for (int i = 0; i < 40; ++i) {
        panel.series.push_back(panel.series.front());
        panel.series.back().name =
            "sample-" + std::to_string(i) + "-as-it-was-taken-out-of-the-third-lot-of-displays";
    }
    figure.panels.push_back(std::move(panel));
    const auto page = page_of(figure);
    std::set<std::string> names;
    double top = 1e9, bottom = 0;
    for (const auto& text : texts(page, "plot")) {
        if (!text.text.starts_with("sample"))
            continue;
        names.insert(text.text);
        top = std::min(top, text.box.y);
        bottom = std::max(bottom, text.box.y + text.box.height);
    }
    CHECK(names.size() == 40);
    CHECK(bottom - top < (half ? 90 : 60));
}

TEST_CASE("bars are as long as their values, Type A filled and Type B hollow", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::bars;
    figure.bars = {
        {"first", 0.6, true, "60 %"}, {"second", 0.3, false, "30 %"}, {"third", -0.1, false, "-10 %"}};
    const auto page = page_of(figure);
    const auto length = [&](const std::string& name) {
        const auto bar = paths(page, "bar:" + name);
        REQUIRE(bar.size() == 1);
        CHECK(bar[0].filled == (name == "first"));
        double left = 1e9, right = -1e9;
        for (const auto& point : bar[0].points) {
            left = std::min(left, point.x);
            right = std::max(right, point.x);
        }
        CHECK(test::agree(left, paths(page, "axis:y").at(0).points[0].x, 1e-9));
        return right - left;
    };
    CHECK(test::agree(length("second"), length("first") / 2, 1e-9));
    CHECK(test::agree(length("third"), length("first") / 6, 1e-9));  // the sign stands in the text
}

TEST_CASE("the strips of all limits put results where their tolerance says", "[layout][plots]")
{
    auto dossier = test::small_dossier(3, 4, 12);
    const auto pages = layout::lay_out(report::compose(dossier, "![](plot:margins)\n"), dossier);
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
    const auto& page = pages.pages.at(0);
    const auto lower = paths(page, "strip-wall:lower"), upper = paths(page, "strip-wall:upper"),
               dots = paths(page, "strip-value"), whiskers = paths(page, "strip-whisker");
    REQUIRE(lower.size() == 12);
    REQUIRE(upper.size() == 12);
    REQUIRE(dots.size() == 12);
    REQUIRE(whiskers.size() == 12);
    double before = -1e9;
    for (std::size_t i = 0; i < 12; ++i) {
        // Read back: the walls are the tolerance, of which the margin takes its part.
        const double left = middle(lower[i]).x, right = middle(upper[i]).x;
        const double value = 2 * (middle(dots[i]).x - left) / (right - left) - 1;  // in half tolerances
        const double half_whisker =
            (middle(whiskers[i]).x - whiskers[i].points.front().x) * 2 / (right - left);
        const double margin = 1 - std::abs(value) - half_whisker;  // guard band of one U
        CHECK(margin >= before - 1e-9);
        before = margin;
        const auto all = texts(page, "plot");
        bool found = false;
        for (const auto& text : all) {
            if (text.text.ends_with("%") &&
                std::abs(text.box.y + text.box.height / 2 - middle(dots[i]).y) < 1) {
                found = true;
                CHECK(std::abs(printed_number(text.text) - 100 * margin) <= 0.5 + 1e-6);
            }
        }
        CHECK(found);
    }
    CHECK(before > -1e9);
}

TEST_CASE("rows that no page holds are parted evenly, and none is lost", "[layout][plots]")
{
    auto dossier = test::small_dossier(3, 4, 60);
    const auto pages = layout::lay_out(report::compose(dossier, "![](plot:margins)\n"), dossier);
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
    std::vector<std::size_t> rows;
    for (const auto& page : pages.pages)
        if (const auto count = paths(page, "strip-value").size(); count > 0)
            rows.push_back(count);
    CAPTURE(rows);
    REQUIRE(rows.size() == 2);
    CHECK(rows[0] + rows[1] == 60);
    CHECK(std::max(rows[0], rows[1]) - std::min(rows[0], rows[1]) <= 2);
}

TEST_CASE("a polar plot puts responses at their angle and rings, half angles on the ring of one half",
          "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::polar;
    model::Panel panel;
    model::Series series;
    series.name = "plane 0";
    series.points = {{-60, 0.45}, {-30, 0.85}, {0, 1}, {30, 0.86}, {60, 0.5}, {80, 0.1}};
    panel.series.push_back(series);
    panel.references.push_back({"cosine", {{-90, 0}, {0, 1}, {90, 0}}});
    figure.panels.push_back(panel);
    figure.angles = {{-56, 2, "\u221256\u00B0", 0}, {60, 1, "60\u00B0", 0}};
    const auto page = page_of(figure);
    // The spokes meet in the centre; the ring in ink is one half of the reference.
    const auto centre = paths(page, "spoke").at(0).points.front();
    const auto distance = [&](const Position& at) { return std::hypot(at.x - centre.x, at.y - centre.y); };
    const auto ring = paths(page, "ring:half").at(0);
    const double half = distance(ring.points.front());
    for (const auto& point : ring.points)
        CHECK(test::agree(distance(point), half, 1e-9));
    const auto marks = paths(page, "mark:plane 0");
    REQUIRE(marks.size() == series.points.size());
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const auto at = middle(marks[i]);
        CHECK(std::abs(0.5 * distance(at) / half - series.points[i].y) < 0.01);
        const double angle = std::atan2(at.x - centre.x, centre.y - at.y) * 180 / std::numbers::pi;
        CHECK(std::abs(angle - series.points[i].x) < 1.5);
    }
    const auto bars = paths(page, "half-angle");
    REQUIRE(bars.size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
        const auto angle_of = [&](const Position& at) {
            CHECK(test::agree(distance(at), half, 1e-9));
            return std::atan2(at.x - centre.x, centre.y - at.y) * 180 / std::numbers::pi;
        };
        const double from = angle_of(bars[i].points.front()), to = angle_of(bars[i].points.back());
        CHECK(test::agree((from + to) / 2, figure.angles[i].angle_degree, 1e-9));
        CHECK(test::agree((to - from) / 2, figure.angles[i].u_degree, 1e-9));
    }
    // Printed values stand clear of the curves and of the printed rings.
    REQUIRE(texts(page, "half-angle-label").size() == 2);
}

TEST_CASE("plots beside each other begin at one height, whatever their titles", "[layout][plots]")
{
    auto dossier = test::small_dossier(1, 3, 1);
    dossier.figures.clear();
    for (const auto* title :
         {"Short", "A title so long that it takes two lines at half the width of the page"}) {
        model::Figure figure;
        figure.id = std::string("pair/") + title;
        figure.title = title;
        figure.half_width = true;
        figure.panels = {panel_of(true, false)};
        dossier.figures.push_back(std::move(figure));
    }
    const auto pages = layout::lay_out(report::compose(dossier, "![](plot:pair/*)\n"), dossier);
    const auto axes = paths(pages.pages.at(0), "axis:x");
    REQUIRE(axes.size() == 2);
    CHECK(axes[0].points.front().x < axes[1].points.front().x);
    CHECK(test::agree(axes[0].points.front().y, axes[1].points.front().y, 1e-9));
}

TEST_CASE("dots stand on the row of their category where the ticks of the values say", "[layout][plots]")
{
    model::Figure figure;
    figure.kind = model::FigureKind::dots;
    auto panel = panel_of(false, false);
    panel.x = {"sample",
               false,
               std::nullopt,
               std::nullopt,
               {"S1", "S2", "tolerance interval, 95 % of units with 95 % confidence and a name that wraps"}};
    for (auto& series : panel.series)
        for (std::size_t i = 0; i < series.points.size(); ++i)
            series.points[i].x = static_cast<double>(i + 1);
    for (auto& limit : panel.limits) {
        limit.points = {{0.5, limit.points.front().y}, {3.5, limit.points.front().y}};
        limit.acceptance.clear();
    }
    panel.limits[0].acceptance = {{0.5, 6}, {3.5, 6}};
    figure.panels = {panel};
    const auto page = page_of(figure);
    const auto values = ruler(page, true, false, whole_page);
    const auto rows = paths(page, "row");
    REQUIRE(rows.size() == 3);
    for (const auto& series : panel.series) {
        const auto marks = paths(page, "mark:" + series.name),
                   whiskers = paths(page, "whisker:" + series.name);
        REQUIRE(marks.size() == 3);
        REQUIRE(whiskers.size() == 3);
        for (std::size_t i = 0; i < 3; ++i) {
            CHECK(test::agree(values.value(middle(marks[i]).x), series.points[i].y, 1e-3));
            CHECK(std::abs(middle(marks[i]).y - rows[i].points.front().y) < 0.2);
            CHECK(test::agree(values.value(whiskers[i].points.front().x),
                              series.points[i].y - series.points[i].u_lower, 1e-6));
            CHECK(test::agree(values.value(whiskers[i].points.back().x),
                              series.points[i].y + series.points[i].u_upper, 1e-6));
        }
    }
    for (const auto& limit : panel.limits)
        CHECK(test::agree(values.value(paths(page, "limit:" + limit.id).at(0).points.front().x),
                          limit.points.front().y, 1e-6));
    CHECK(test::agree(values.value(paths(page, "acceptance:L-1").at(0).points.front().x), 6, 1e-6));
}

TEST_CASE("a result beyond a fixed axis is an arrow at the frame, its whisker is cut there",
          "[layout][plots]")
{
    model::Figure figure;
    auto panel = panel_of(true, false);
    panel.y.from = 0;
    panel.y.to = 5;
    panel.limits.clear();
    panel.series.resize(1);
    panel.series[0].points[2].u_lower = 4;  // from 3 to 8: seen up to 5
    figure.panels = {panel};
    const auto page = page_of(figure);
    const auto y = ruler(page, false, false, whole_page);
    CHECK(paths(page, "mark:S1").size() == 2);
    const auto arrows = paths(page, "beyond:S1");
    REQUIRE(arrows.size() == 1);
    CHECK(test::agree(y.value(arrows[0].points.front().y), 5, 1e-9));  // its tip
    const auto whiskers = paths(page, "whisker:S1");
    REQUIRE(whiskers.size() == 3);
    CHECK(test::agree(y.value(whiskers[2].points.front().y), 3, 1e-9));
    CHECK(test::agree(y.value(whiskers[2].points.back().y), 5, 1e-9));
    for (const auto& line : paths(page, "data:S1")) {
        for (const auto& point : line.points)
            CHECK(y.value(point.y) <= 5 + 1e-9);
    }
}

TEST_CASE("a line is cut at the edges of a box and stays one line inside", "[layout][plots]")
{
    const Rect box{0, 0, 10, 10};
    CHECK(layout::clipped({{1, 1}, {2, 5}, {9, 9}}, box).size() == 1);
    const auto through = layout::clipped({{-10, 5}, {20, 5}}, box);
    REQUIRE(through.size() == 1);
    CHECK(through[0].front().x == 0);
    CHECK(through[0].back().x == 10);
    const auto twice = layout::clipped({{5, 5}, {5, 20}, {8, 20}, {8, 5}}, box);
    REQUIRE(twice.size() == 2);
    CHECK(twice[0].back().y == 10);
    CHECK(twice[1].front().y == 10);
    CHECK(layout::clipped({{-1, -1}, {-1, 20}}, box).empty());
    CHECK(layout::clipped({}, box).empty());
}

TEST_CASE("names of limits at one place share a label, those that do not fit are counted", "[layout][plots]")
{
    using layout::DirectLabel;
    std::vector<DirectLabel> labels{{"L-1", 10, layout::ink, 0, 0, true},
                                    {"S1", 10.1, layout::ink, 0, 0, false},
                                    {"L-2", 10.2, layout::ink, 0, 0, true},
                                    {"L-3", 30, layout::ink, 0, 0, true},
                                    {"L-3", 30, layout::ink, 0, 0, true}};
    layout::join_limits(labels, 10);
    REQUIRE(labels.size() == 4);
    CHECK(labels[3].further.empty());
    std::vector<DirectLabel> many;
    for (int i = 0; i < 50; ++i)
        many.push_back({"limit-" + std::to_string(i), i * 1.0, layout::ink, 0, 0, true});
    layout::join_limits(many, 10);
    CHECK(many.size() == 10);
    const layout::Fonts fonts;
    const layout::Canvas canvas(fonts);
    for (const auto& label : many) {
        const auto words = layout::label_words(canvas, label, layout::plot_label, 30);
        CHECK(canvas.width(words, layout::plot_label) <= 30);
    }
}

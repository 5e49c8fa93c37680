#include "layout/whole_dossier.hpp"

#include "layout/page.hpp"
#include "layout/read_back.hpp"
#include "report/document.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "support/catch.hpp"

using namespace luxdossier;
using layout::PathItem;
using layout::Position;
using test::Ruler;

namespace {

/// Where a panel was drawn, between the ends of its axes.
struct Frame {
    double left = 0, right = 0, top = 0, bottom = 0;
    [[nodiscard]] bool holds(Position at) const
    {
        constexpr double room = 0.01;
        return at.x >= left - room && at.x <= right + room && at.y >= top - room && at.y <= bottom + room;
    }
};

std::vector<Frame> frames_of(const layout::Page& page)
{
    std::vector<Frame> frames;
    const auto across = test::paths(page, "axis:x"), up = test::paths(page, "axis:y");
    for (std::size_t i = 0; i < across.size(); ++i)
        frames.push_back({across[i].points.front().x, across[i].points.back().x, up.at(i).points.back().y,
                          up.at(i).points.front().y});
    return frames;
}

/// A label in line with a tick, and how far it stands from the axis.
struct Labelled {
    double place = 0, value = 0, away = 0;
};

/// Labels with the tick that each stands at: beside the axis, or further off where panels share one that is
/// written once.
std::vector<Labelled> labels_of(const layout::Page& page, const std::vector<Position>& feet, bool along_x)
{
    std::vector<Labelled> found;
    for (const auto& label : test::texts(page, "tick-label")) {
        const double middle =
            along_x ? label.box.x + label.box.width / 2 : label.box.y + label.box.height / 2;
        const auto place = [&](const Position& foot) { return along_x ? foot.x : foot.y; };
        const auto tick = std::ranges::min_element(
            feet, {}, [&](const Position& foot) { return std::abs(place(foot) - middle); });
        const double away = along_x ? label.box.y - tick->y : tick->x - label.box.x - label.box.width;
        if (std::abs(place(*tick) - middle) < 1.0 && away > -1)
            found.push_back({place(*tick), test::printed_number(label.text), away});
    }
    if (found.empty())
        return found;
    const double nearest = std::ranges::min(found, {}, &Labelled::away).away;
    std::erase_if(found, [&](const Labelled& label) { return label.away > nearest + 1; });
    return found;
}

Ruler ruler_of(const layout::Page& page, const Frame& frame, bool along_x, bool logarithmic)
{
    const std::string role = along_x ? "tick:x" : "tick:y";
    std::vector<Position> feet;
    std::vector<Labelled> labels;
    // Minor ticks of a logarithmic axis stand close: they have labels only where there are too few others.
    for (const auto& which : {role, role + ":minor"}) {
        for (const auto& tick : test::paths(page, which)) {
            const auto root = tick.points.front();
            const bool own =
                along_x ? std::abs(root.y - frame.bottom) < 0.01 : std::abs(root.x - frame.left) < 0.01;
            if (own && frame.holds(root))
                feet.push_back(tick.points.back());
        }
        if (labels.size() < 2 && !feet.empty())
            labels = labels_of(page, feet, along_x);
    }
    REQUIRE(labels.size() >= 2);
    const auto [low, high] = std::ranges::minmax_element(labels, {}, &Labelled::place);
    REQUIRE(high->place > low->place);
    const Ruler found{low->place, low->value, high->place, high->value, logarithmic};
    for (const auto& label : labels)
        CHECK(test::agree(found.value(label.place), label.value, 1e-6, 1e-6));
    return found;
}

/// Of the corners: also a triangle stands about its place.
Position centroid(const PathItem& path)
{
    auto corners = path.points;
    if (corners.size() > 2 &&
        std::hypot(corners.front().x - corners.back().x, corners.front().y - corners.back().y) < 1e-9)
        corners.pop_back();
    Position sum{0, 0};
    for (const auto& corner : corners) {
        sum.x += corner.x;
        sum.y += corner.y;
    }
    const auto n = static_cast<double>(corners.size());
    return {sum.x / n, sum.y / n};
}

struct Read {
    std::size_t marks = 0, limits = 0;
};

/// One panel, drawn within a frame, against its data.
Read read_panel(const layout::Page& page, const Frame& frame, const model::Panel& panel)
{
    const auto x = ruler_of(page, frame, true, panel.x.logarithmic);
    const auto y = ruler_of(page, frame, false, panel.y.logarithmic);
    const double low = y.value(frame.bottom), high = y.value(frame.top);
    const double from = x.value(frame.left), to = x.value(frame.right);
    const double span_x = panel.x.logarithmic ? 0 : 1e-3 * (to - from);
    const double span_y = panel.y.logarithmic ? 0 : 1e-3 * (high - low);
    Read read;
    for (const auto& series : panel.series) {
        CAPTURE(series.name);
        std::vector<Position> drawn;
        for (const auto& path : test::paths(page, "mark:" + series.name)) {
            const auto at = centroid(path);
            // A cross is two strokes through one place.
            const bool again =
                !drawn.empty() && std::hypot(drawn.back().x - at.x, drawn.back().y - at.y) < 1e-6;
            if (frame.holds(at) && !(series.mark == model::Mark::cross && again))
                drawn.push_back(at);
        }
        std::vector<model::Point> expected;
        constexpr double edge = 1e-9;
        for (const auto& point : series.points)
            if (series.mark != model::Mark::none && std::isfinite(point.x) && std::isfinite(point.y) &&
                point.x >= from * (1 - edge) - edge && point.x <= to * (1 + edge) + edge &&
                point.y >= low - edge * std::abs(low) && point.y <= high + edge * std::abs(high))
                expected.push_back(point);
        REQUIRE(drawn.size() == expected.size());
        for (std::size_t i = 0; i < drawn.size(); ++i) {
            CHECK(test::agree(x.value(drawn[i].x), expected[i].x, 1e-3, span_x));
            CHECK(test::agree(y.value(drawn[i].y), expected[i].y, 1e-3, span_y));
        }
        read.marks += drawn.size();
    }
    for (const auto& limit : panel.limits) {
        CAPTURE(limit.id, limit.upper);
        const bool is_drawn =
            std::ranges::any_of(test::paths(page, "limit:" + limit.id), [&](const PathItem& path) {
                if (path.points.size() != limit.points.size() || !frame.holds(path.points.front()))
                    return false;
                for (std::size_t i = 0; i < path.points.size(); ++i) {
                    const double wanted = std::clamp(limit.points[i].y, low, high);
                    if (!test::agree(x.value(path.points[i].x), std::clamp(limit.points[i].x, from, to), 1e-6,
                                     1e-6) ||
                        !test::agree(y.value(path.points[i].y), wanted, 1e-6, 1e-6 * (high - low)))
                        return false;
                }
                return true;
            });
        CHECK(is_drawn);
        read.limits += is_drawn ? 1U : 0U;
    }
    return read;
}

bool has_axes(const model::Figure& figure)
{
    return figure.kind == model::FigureKind::cartesian || figure.kind == model::FigureKind::small_multiples ||
           figure.kind == model::FigureKind::stacked;
}

}  // namespace

// The ticks and their printed labels are the ruler: what they say of a mark or a limit is what the data say.
TEST_CASE("in every plot of the fixtures and of a crowded folder marks and limits stand where the ticks say",
          "[layout]")
{
    struct Folder {
        std::string path;
        std::size_t figures, marks, limits;  ///< at least
    };
    for (const auto& folder :
         {Folder{test::fixture("bridge-dimmer"), 20, 500, 20}, Folder{test::fixture("tiny"), 2, 6, 0},
          Folder{test::write_crowded_folder(), 1, 60, 5}}) {
        CAPTURE(folder.path);
        const auto dossier = test::whole_dossier(folder.path);
        Read all;
        std::size_t figures = 0;
        for (const auto& figure : dossier.figures) {
            if (!has_axes(figure))
                continue;
            CAPTURE(figure.id);
            const auto pages =
                layout::lay_out(report::compose(dossier, fmt::format("![](plot:{})\n", figure.id)), dossier,
                                layout::Paper::a4);
            std::size_t panel = 0;
            for (const auto& page : pages.pages)
                for (const auto& frame : frames_of(page)) {
                    REQUIRE(panel < figure.panels.size());
                    CAPTURE(panel);
                    const auto read = read_panel(page, frame, figure.panels[panel++]);
                    all.marks += read.marks;
                    all.limits += read.limits;
                }
            CHECK(panel == figure.panels.size());
            ++figures;
        }
        CHECK(figures >= folder.figures);
        CHECK(all.marks >= folder.marks);
        CHECK(all.limits >= folder.limits);
    }
}

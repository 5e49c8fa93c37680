#include "layout/marks.hpp"

namespace luxdossier::layout {
namespace {

void draw_shape(Canvas& canvas, std::vector<Position> points, Rgb colour, bool hollow, std::string role)
{
    PathItem path;
    path.points = std::move(points);
    path.closed = true;
    path.line_width_mm = pt(0.8);
    path.stroke = colour;
    path.filled = true;
    path.fill = hollow ? white : colour;
    path.role = std::move(role);
    canvas.add(std::move(path));
}

std::vector<Position> square(Position centre, double half)
{
    return {{centre.x - half, centre.y - half},
            {centre.x + half, centre.y - half},
            {centre.x + half, centre.y + half},
            {centre.x - half, centre.y + half}};
}

std::vector<Position> disc(Position centre, double radius)
{
    auto points = arc_points(centre, radius, 0, 360);
    points.pop_back();
    return points;
}

}  // namespace

void draw_outcome(Canvas& canvas, model::Outcome outcome, Position centre, double size)
{
    const double radius = size / 2;
    switch (outcome) {
    case model::Outcome::pass:
        draw_shape(canvas, disc(centre, radius), ink, false, "outcome-mark");
        break;
    case model::Outcome::conditional_pass:
        draw_shape(canvas, disc(centre, radius), ink, true, "outcome-mark");
        canvas.polygon(arc_points(centre, radius, 180, 360), ink, "outcome-half");
        break;
    case model::Outcome::not_decided:
        draw_shape(canvas, disc(centre, radius), ink, true, "outcome-mark");
        break;
    case model::Outcome::conditional_fail:
        draw_shape(canvas, square(centre, radius * 0.9), ink, true, "outcome-mark");
        canvas.polygon({{centre.x - radius * 0.9, centre.y - radius * 0.9},
                        {centre.x, centre.y - radius * 0.9},
                        {centre.x, centre.y + radius * 0.9},
                        {centre.x - radius * 0.9, centre.y + radius * 0.9}},
                       ink, "outcome-half");
        break;
    case model::Outcome::fail:
        draw_shape(canvas, square(centre, radius * 0.9), ink, false, "outcome-mark");
        break;
    }
}

void draw_mark(Canvas& canvas, model::Mark mark, Position centre, Rgb colour, bool hollow, std::string role,
               double size)
{
    const double half = size / 2;
    const auto [x, y] = centre;
    switch (mark) {
    case model::Mark::none:
        break;
    case model::Mark::disc:
        draw_shape(canvas, disc(centre, half * 0.85), colour, hollow, std::move(role));
        break;
    case model::Mark::hollow_disc:
        draw_shape(canvas, disc(centre, half * 0.85), colour, true, std::move(role));
        break;
    case model::Mark::square:
        draw_shape(canvas, square(centre, half * 0.75), colour, hollow, std::move(role));
        break;
    case model::Mark::triangle:
        draw_shape(
            canvas,
            // Equal sides about the place; a tenth larger, as a triangle looks small.
            {{x, y - half * 1.1}, {x + half * 0.953, y + half * 0.55}, {x - half * 0.953, y + half * 0.55}},
            colour, hollow, std::move(role));
        break;
    case model::Mark::diamond:
        draw_shape(canvas, {{x, y - half}, {x + half, y}, {x, y + half}, {x - half, y}}, colour, hollow,
                   std::move(role));
        break;
    case model::Mark::cross:
        canvas.line({x - half * 0.75, y - half * 0.75}, {x + half * 0.75, y + half * 0.75},
                    {pt(1.1), colour, {}}, role);
        canvas.line({x - half * 0.75, y + half * 0.75}, {x + half * 0.75, y - half * 0.75},
                    {pt(1.1), colour, {}}, role);
        break;
    }
}

void draw_edge_arrow(Canvas& canvas, Position tip, Position direction, Rgb colour, std::string role)
{
    constexpr double length = 1.7, half = 0.85;
    const Position back{tip.x - length * direction.x, tip.y - length * direction.y};
    canvas.polygon({tip,
                    {back.x - half * direction.y, back.y + half * direction.x},
                    {back.x + half * direction.y, back.y - half * direction.x}},
                   colour, std::move(role));
}

}  // namespace luxdossier::layout

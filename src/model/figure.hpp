#pragma once

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::model {

enum class Mark { none, disc, square, triangle, diamond, cross, hollow_disc };
enum class Stroke { none, solid, dashed, dotted, dash_dot };

struct Axis {
    std::string title;  ///< with its unit: "illuminance / lx"
    bool logarithmic = false;
    std::optional<double> from, to;  ///< absent: from the data
    /// Names of the whole numbers 1, 2 ...: the rows of a figure of dots, from the top.
    std::vector<std::string> categories = {};
};

struct Point {
    double x = 0, y = 0;
    double u_lower = 0, u_upper = 0;  ///< expanded uncertainty as whisker; 0: none
    bool hollow = false;              ///< zero by construction
};

/// Where a series comes from, so that a workbook's chart can refer to cells: a column of a run, or the
/// results drawn.
struct Origin {
    std::optional<std::size_t> run;
    std::string x_column, y_column;
    std::vector<std::size_t> results;  ///< one a point
};

struct Series {
    std::string name;
    std::vector<Point> points;
    Mark mark = Mark::disc;
    Stroke stroke = Stroke::none;
    int colour = 0;  ///< index into the data colours of the page
    Origin origin;
    /// One of many that are not told apart: grey, behind the others, named together.
    bool in_background = false;
};

/// A tolerance limit along x, with the guard band inside it. A constant limit has two points.
struct LimitLine {
    std::string id;
    bool upper = true;
    std::vector<Point> points;      ///< x, y of the tolerance limit
    std::vector<Point> acceptance;  ///< x, y of the acceptance limit; empty: no guard band
};

struct Reference {
    std::string name;
    std::vector<Point> points;
};
struct MarkedX {
    double x = 0;
    double u = 0;
    std::string text;
};
struct MarkedAngle {
    double angle_degree = 0;
    double u_degree = 0;
    std::string text;
    int series = 0;
};

/// One coordinate system. Panels of one figure share the x axis.
struct Panel {
    std::string title;
    Axis x, y;
    std::vector<Series> series;
    std::vector<LimitLine> limits;
    std::vector<Reference> references;
    std::vector<MarkedX> verticals;
    std::optional<double> band_lower, band_upper;  ///< tolerance band between hairlines (warm-up)
};

/// `dots`: one row a category of the x axis, names at the left, y from left to right with its limits as
/// verticals.
enum class FigureKind { cartesian, small_multiples, stacked, polar, bars, strips, dots };

/// One horizontal bar; `text` stands at its end.
struct Bar {
    std::string name;
    double value = 0;
    bool filled = true;
    std::string text;
};
/// One strip: values normalised by the reader of the figure; `text` stands behind it.
struct Strip {
    std::string name;
    std::size_t verdict = 0;
    std::string text = {};
};

/// A plot as a value: the PDF's plots and the workbook's charts both come from it.
struct Figure {
    std::string id;      ///< "warm_up", "linearity/S1/windowed/led": unique; templates name it
    std::string family;  ///< metric family it belongs to
    FigureKind kind = FigureKind::cartesian;
    std::string title;
    std::vector<Panel> panels;        ///< polar: one panel, x angle in degree, y response
    std::vector<MarkedAngle> angles;  ///< polar only
    std::vector<Bar> bars;
    std::vector<Strip> strips;
    std::string caption;
    std::string alternative_text;
    bool half_width = false;
};

}  // namespace luxdossier::model

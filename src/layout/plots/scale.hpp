#pragma once

#include "model/figure.hpp"

#include <string>
#include <utility>
#include <vector>

namespace luxdossier::layout {

/// One axis on the page: values from `from` to `to` lie between `start` and `end` (millimetres).
struct Scale {
    bool logarithmic = false;
    double from = 0, to = 1;
    double start = 0, end = 1;

    struct Tick {
        double value = 0;
        std::string label;
        bool minor = false;
    };
    std::vector<Tick> ticks = {};

    /// Place of a value, not clamped. Domain of a logarithmic scale: value > 0.
    [[nodiscard]] double place(double value) const;
    /// The value clamped to the scale.
    [[nodiscard]] double clamped(double value) const;
    [[nodiscard]] bool holds(double value) const;
};

/// Extent of values along an axis, grown as points are added; on a logarithmic axis values that are not
/// positive are passed over.
class Extent {
public:
    explicit Extent(bool logarithmic) : logarithmic_(logarithmic) {}
    void add(double value);
    [[nodiscard]] bool empty() const { return empty_; }
    [[nodiscard]] double from() const { return from_; }
    [[nodiscard]] double to() const { return to_; }

private:
    bool logarithmic_;
    bool empty_ = true;
    double from_ = 0, to_ = 0;
};

/// A scale over an extent with about `count` ticks; fixed ends of the axis win, others get a little air.
[[nodiscard]] Scale make_scale(const model::Axis& axis, const Extent& extent, int count);

}  // namespace luxdossier::layout

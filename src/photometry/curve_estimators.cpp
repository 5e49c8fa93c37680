#include "photometry/curve.hpp"
#include "photometry/directional_index.hpp"
#include "photometry/hermite.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::photometry {
namespace {

using uncertainty::CellPlan;
using uncertainty::Estimator;

CellPlan stored_plan(std::string reason)
{
    CellPlan plan;
    plan.stored = true;
    plan.stored_reason = std::move(reason);
    return plan;
}

/// Inputs of an estimator on a curve: the first half are angles, the second half the responses there.
MonotoneCubic curve_of(std::span<const double> inputs)
{
    const std::size_t n = inputs.size() / 2;
    return {inputs.first(n), inputs.subspan(n, n)};
}

/// Adjoints of a curve's nodes and slopes, collected piece by piece and then carried to the inputs.
class CurveAdjoints {
public:
    explicit CurveAdjoints(std::size_t n) : of_x_(n), of_y_(n), of_slope_(n) {}

    /// Adds factor times the gradient with respect to x0, x1, y0, y1, d0, d1 of one piece.
    void add(std::size_t piece, double factor, const std::array<double, 6>& gradient)
    {
        of_x_[piece] += factor * gradient[0];
        of_x_[piece + 1] += factor * gradient[1];
        of_y_[piece] += factor * gradient[2];
        of_y_[piece + 1] += factor * gradient[3];
        of_slope_[piece] += factor * gradient[4];
        of_slope_[piece + 1] += factor * gradient[5];
    }

    /// The slopes depend on up to three nodes each; adds everything to the adjoints of the inputs.
    void carry_to(const MonotoneCubic& curve, std::span<double> input_adjoints)
    {
        pull_back_slopes(curve.x(), curve.y(), of_slope_, of_x_, of_y_);
        const std::size_t n = of_x_.size();
        for (std::size_t i = 0; i < n; ++i) {
            input_adjoints[i] += of_x_[i];
            input_adjoints[n + i] += of_y_[i];
        }
    }

private:
    std::vector<double> of_x_, of_y_, of_slope_;
};

class CrossingEstimator final : public Estimator {
public:
    CrossingEstimator(double level, std::size_t index) : level_(level), index_(index) {}
    std::string_view name() const override { return "monotone cubic crossing"; }
    std::size_t output_count() const override { return 1; }
    std::string output_name(std::size_t /*output*/) const override { return "angle"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        const std::size_t n = inputs.size() / 2;
        const auto crossings = crossings_of(inputs.first(n), inputs.subspan(n, n), level_);
        outputs[0] = index_ < crossings.size() ? crossings[index_] : std::numeric_limits<double>::quiet_NaN();
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        // Implicit function p(theta; z) = level: d(theta)/dz = -(dp/dz)/(dp/dtheta).
        const auto curve = curve_of(inputs);
        const double at = curve.crossings(level_).at(index_);
        const std::size_t piece = curve.piece_index(at);
        const auto held = curve.piece(piece);
        CurveAdjoints adjoints(inputs.size() / 2);
        adjoints.add(piece, -output_adjoints[0] / held.first_derivative(at), held.gradient(at));
        adjoints.carry_to(curve, input_adjoints);
    }

    CellPlan cell_plan(std::size_t /*input_count*/) const override
    {
        return stored_plan(
            "which piece of the curve crosses the level is searched for, and the root of its cubic "
            "iterated: stored as computed");
    }

private:
    double level_;
    std::size_t index_;
};

class DirectionalIndexEstimator final : public Estimator {
public:
    std::string_view name() const override { return "directional response index"; }
    std::size_t output_count() const override { return 1; }
    std::string output_name(std::size_t /*output*/) const override { return "f_2"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        const std::size_t n = inputs.size() / 2;
        outputs[0] = mean_directional_index(inputs.first(n), inputs.subspan(n, n));
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        // The limits between stretches need no term: at a node both pieces agree, at a sign change the
        // integrand is 0.
        const auto curve = curve_of(inputs);
        CurveAdjoints adjoints(inputs.size() / 2);
        each_stretch(curve, [&](std::size_t piece, double from, double to) {
            adjoints.add(piece, output_adjoints[0] / 2,
                         integrated_deviation_gradient(curve.piece(piece), from, to));
        });
        adjoints.carry_to(curve, input_adjoints);
    }

    CellPlan cell_plan(std::size_t /*input_count*/) const override
    {
        return stored_plan(
            "the integral of an absolute deviation over piecewise cubics is split where it changes sign: "
            "stored as computed");
    }

private:
    /// Calls visit(piece, from, to) for what lies between -80 and 80 degrees, parted at 0.
    template <typename Visit>
    static void each_stretch(const MonotoneCubic& curve, Visit&& visit)
    {
        for (const auto& [begin, end] :
             {std::pair{-directional_index_limit_rad, 0.0}, std::pair{0.0, directional_index_limit_rad}}) {
            const std::size_t first = curve.piece_index(begin), last = curve.piece_index(end);
            for (std::size_t i = first; i <= last; ++i)
                visit(i, i == first ? begin : curve.x()[i], i == last ? end : curve.x()[i + 1]);
        }
    }
};

class TargetEstimator final : public Estimator {
public:
    explicit TargetEstimator(MonotoneCubic target) : target_(std::move(target)) {}
    std::string_view name() const override { return "target"; }
    std::size_t output_count() const override { return 1; }
    std::string output_name(std::size_t /*output*/) const override { return "response"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        outputs[0] = held(inputs[0]).value(inputs[0]);
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        input_adjoints[0] += output_adjoints[0] * held(inputs[0]).first_derivative(inputs[0]);
    }

    CellPlan cell_plan(std::size_t /*input_count*/) const override
    {
        return stored_plan("the target's own curve is tabulated: stored as computed");
    }

private:
    HermitePiece held(double at) const { return target_.piece(target_.piece_index(at)); }
    MonotoneCubic target_;
};

}  // namespace

std::shared_ptr<const Estimator> crossing_estimator(double level, std::size_t index)
{
    return std::make_shared<CrossingEstimator>(level, index);
}

std::shared_ptr<const Estimator> directional_index_estimator()
{
    return std::make_shared<DirectionalIndexEstimator>();
}

std::shared_ptr<const Estimator> target_estimator(MonotoneCubic target)
{
    return std::make_shared<TargetEstimator>(std::move(target));
}

}  // namespace luxdossier::photometry

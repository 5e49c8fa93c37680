#pragma once

#include "uncertainty/graph.hpp"

#include <cmath>
#include <numbers>
#include <vector>

namespace luxdossier::test {

/// A curve on an uneven grid that falls from its middle to both sides and has a plateau (0.8 to 1.0).
struct UnevenCurve {
    std::vector<double> x{-1.5, -1.2, -0.9, -0.7, -0.4, -0.1, 0.0, 0.25, 0.45, 0.8, 1.0, 1.3, 1.55};
    std::vector<double> y{0.002, 0.21, 0.55, 0.71, 0.94, 0.985, 1.0, 0.99, 0.905, 0.62, 0.62, 0.3, 0.01};
    [[nodiscard]] std::vector<double> inputs() const
    {
        auto all = x;
        all.insert(all.end(), y.begin(), y.end());
        return all;
    }
};

/// Angles from -90 to 90 degrees in even steps, in rad, and cos^power there.
struct CosinePower {
    std::vector<double> x, y;
    CosinePower(double power, int steps_a_side)
    {
        for (int i = -steps_a_side; i <= steps_a_side; ++i) {
            x.push_back(std::numbers::pi / 2 * i / steps_a_side);
            y.push_back(std::abs(i) == steps_a_side ? 0.0 : std::pow(std::cos(x.back()), power));
        }
    }
};

/// Output 0 of an estimator.
[[nodiscard]] inline double output_of(const uncertainty::Estimator& estimator,
                                      const std::vector<double>& inputs)
{
    double output = 0;
    estimator.evaluate(inputs, {&output, 1});
    return output;
}

/// All derivatives of output 0: by the estimator, and by central differences with step h.
[[nodiscard]] inline std::vector<double> derivatives_of(const uncertainty::Estimator& estimator,
                                                        const std::vector<double>& inputs)
{
    std::vector<double> adjoints(inputs.size(), 0.0);
    const double one = 1;
    estimator.pull_back(inputs, {&one, 1}, adjoints);
    return adjoints;
}

[[nodiscard]] inline std::vector<double> differences_of(const uncertainty::Estimator& estimator,
                                                        std::vector<double> inputs, double h)
{
    std::vector<double> differences;
    for (auto& input : inputs) {
        const double kept = input;
        input = kept + h;
        const double above = output_of(estimator, inputs);
        input = kept - h;
        const double below = output_of(estimator, inputs);
        input = kept;
        differences.push_back((above - below) / (2 * h));
    }
    return differences;
}

}  // namespace luxdossier::test

#include "statistics/line.hpp"

#include "statistics/centred.hpp"
#include "statistics/minimax.hpp"
#include "uncertainty/block_kernels.hpp"
#include "uncertainty/formula.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <utility>

#include <Eigen/Core>
#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

using uncertainty::CellPlan;

/// Inputs x_1..x_n, y_1..y_n.
struct Points {
    std::span<const double> x, y;
};

Points points_of(std::span<const double> inputs)
{
    if (inputs.size() % 2 != 0)
        throw std::domain_error(
            fmt::format("found {} inputs of a line, expected as many x as y", inputs.size()));
    const auto n = inputs.size() / 2;
    return {inputs.first(n), inputs.last(n)};
}

/// Derivatives of the gain of a weighted line with respect to x_i and y_i, weights constant.
struct GainDerivative {
    double by_x, by_y;
};

GainDerivative gain_derivative(const Centred& centred, double x, double y, double weight)
{
    const double leverage = weight * (x - centred.mean_x) / centred.sum_xx;
    return {weight * centred.residual(x, y) / centred.sum_xx - centred.gain * leverage, leverage};
}

/// Helper cells of a weighted line: columns of x, y and weights (all of `count`), then the sums.
class LinePlan {
public:
    /// `transform` is put around each input: "{}" or "LN({})".
    LinePlan(std::size_t count, std::string_view x_text, std::string_view y_text, std::string_view transform,
             std::span<const double> weights)
        : count_(count)
    {
        for (std::size_t index = 0; index < 2 * count; ++index)
            cell(fmt::format("{}_{}", index < count ? x_text : y_text, index % count + 1),
                 fmt::format(fmt::runtime(transform), fmt::format("{{i{}}}", index)));
        for (std::size_t index = 0; index < count; ++index)
            cell(fmt::format("weight_{}", index + 1), uncertainty::exact_text(weights[index]));
        const auto x = range(0), y = range(1), w = range(2);
        sum_w_ = cell("sum of weights", fmt::format("SUM({})", w));
        mean_x_ = cell("weighted mean of x", fmt::format("SUMPRODUCT({},{})/{}", w, x, sum_w_));
        mean_y_ = cell("weighted mean of y", fmt::format("SUMPRODUCT({},{})/{}", w, y, sum_w_));
        sum_xx_ =
            cell("sum of squares", fmt::format("SUMPRODUCT({},{}-{},{}-{})", w, x, mean_x_, x, mean_x_));
        gain_ =
            cell("gain", fmt::format("SUMPRODUCT({},{}-{},{}-{})/{}", w, x, mean_x_, y, mean_y_, sum_xx_));
    }

    std::string add_offset() { return cell("offset", fmt::format("{}-{}*{}", mean_y_, gain_, mean_x_)); }
    [[nodiscard]] std::size_t last() const { return plan_.cells.size() - 1; }
    [[nodiscard]] std::string x(std::size_t index) const { return fmt::format("{{c{}}}", index); }
    [[nodiscard]] std::string y(std::size_t index) const { return fmt::format("{{c{}}}", count_ + index); }
    [[nodiscard]] std::string weight(std::size_t index) const
    {
        return fmt::format("{{c{}}}", 2 * count_ + index);
    }
    [[nodiscard]] std::string gain_by_y(std::size_t index) const
    {
        return fmt::format("{}*({}-{})/{}", weight(index), x(index), mean_x_, sum_xx_);
    }
    [[nodiscard]] std::string gain_by_x(std::size_t index) const
    {
        return fmt::format("{}*(({}-{})-2*{}*({}-{}))/{}", weight(index), y(index), mean_y_, gain_, x(index),
                           mean_x_, sum_xx_);
    }
    [[nodiscard]] std::string offset_by_y(std::size_t index) const
    {
        return fmt::format("{}/{}-{}*{}", weight(index), sum_w_, mean_x_, gain_by_y(index));
    }
    [[nodiscard]] std::string offset_by_x(std::size_t index) const
    {
        return fmt::format("0-{}*{}/{}-{}*{}", gain_, weight(index), sum_w_, mean_x_, gain_by_x(index));
    }
    CellPlan take() && { return std::move(plan_); }
    CellPlan& plan() { return plan_; }

private:
    std::string cell(std::string label, std::string formula)
    {
        plan_.cells.push_back({std::move(label), std::move(formula)});
        return fmt::format("{{c{}}}", last());
    }
    std::string range(std::size_t column) const
    {
        return fmt::format("{{c{}}}:{{c{}}}", column * count_, (column + 1) * count_ - 1);
    }

    std::size_t count_;
    CellPlan plan_;
    std::string sum_w_, mean_x_, mean_y_, sum_xx_, gain_;
};

class WeightedLine : public uncertainty::Estimator {
public:
    explicit WeightedLine(std::vector<double> weights) : weights_(std::move(weights)) {}
    std::string_view name() const override { return "weighted line"; }
    std::size_t output_count() const override { return 2; }
    std::string output_name(std::size_t output) const override { return output == 0 ? "offset" : "gain"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        const auto points = points_of(inputs);
        const auto line = centre(points.x, points.y, weights_).line();
        outputs[0] = line.offset;
        outputs[1] = line.gain;
    }

    /// As evaluate(), but the sums are plain ones: their rounding is nothing beside what trials scatter.
    void evaluate_trials(std::span<const double* const> inputs, std::span<double* const> outputs,
                         std::size_t trials) const override
    {
        const auto n = weights_.size();
        if (inputs.size() != 2 * n || n < 2)
            return Estimator::evaluate_trials(inputs, outputs, trials);
        const auto x = inputs.first(n), y = inputs.last(n);
        double sum_w = 0.0;
        for (const double weight : weights_)
            sum_w += weight;
        std::vector<double> mean_x(trials), mean_y(trials), sum_xx(trials), sum_xy(trials);
        add_weighted_mean(x, sum_w, mean_x);
        add_weighted_mean(y, sum_w, mean_y);
        for (std::size_t point = 0; point < n; ++point)
            for (std::size_t trial = 0; trial < trials; ++trial) {
                const double deviation = x[point][trial] - mean_x[trial];
                const double weighted = weights_[point] * deviation;
                sum_xx[trial] += weighted * deviation;
                sum_xy[trial] += weighted * (y[point][trial] - mean_y[trial]);
            }
        for (std::size_t trial = 0; trial < trials; ++trial) {
            const double gain = sum_xx[trial] > 0.0 ? sum_xy[trial] / sum_xx[trial]
                                                    : std::numeric_limits<double>::quiet_NaN();
            outputs[0][trial] = mean_y[trial] - gain * mean_x[trial];
            outputs[1][trial] = gain;
        }
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        const auto points = points_of(inputs);
        const auto n = points.x.size();
        const auto centred = centre(points.x, points.y, weights_);
        // offset = mean_y - gain mean_x
        const double offset = output_adjoints[0];
        const double gain = output_adjoints[1] - offset * centred.mean_x;
        for (std::size_t index = 0; index < n; ++index) {
            const auto of_gain = gain_derivative(centred, points.x[index], points.y[index], weights_[index]);
            const double part = weights_[index] / centred.sum_w;
            input_adjoints[index] += gain * of_gain.by_x - offset * centred.gain * part;
            input_adjoints[n + index] += gain * of_gain.by_y + offset * part;
        }
    }

    CellPlan cell_plan(std::size_t input_count) const override
    {
        const auto n = input_count / 2;
        LinePlan line(n, "x", "y", "{}", weights_);
        const auto gain = line.last();
        line.add_offset();
        auto& plan = line.plan();
        plan.outputs = {line.last(), gain};
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(line.offset_by_x(index));
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(line.offset_by_y(index));
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(line.gain_by_x(index));
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(line.gain_by_y(index));
        return std::move(line).take();
    }

private:
    /// Adds to `mean` the weighted mean of what the values exceed it by: from 0 the mean, and once more what
    /// rounding has left.
    void add_weighted_mean(std::span<const double* const> values, double sum_w,
                           std::vector<double>& mean) const
    {
        std::vector<double> sum(mean.size());
        for (int pass = 0; pass < 2; ++pass) {
            std::ranges::fill(sum, 0.0);
            for (std::size_t point = 0; point < weights_.size(); ++point)
                for (std::size_t trial = 0; trial < mean.size(); ++trial)
                    sum[trial] += weights_[point] * (values[point][trial] - mean[trial]);
            for (std::size_t trial = 0; trial < mean.size(); ++trial)
                mean[trial] += sum[trial] / sum_w;
        }
    }

    std::vector<double> weights_;
};

/// 0 times a number is 0; the sum is asked of every trial.
bool are_finite(std::span<const double> values)
{
    const Eigen::Map<const Eigen::ArrayXd> all(values.data(), static_cast<Eigen::Index>(values.size()));
    return (0.0 * all).sum() == 0.0;
}

class MinimaxLine : public uncertainty::Estimator {
public:
    explicit MinimaxLine(bool through_first) : through_first_(through_first) {}
    std::string_view name() const override
    {
        return through_first_ ? "line of least greatest deviation through the first point"
                              : "line of least greatest deviation";
    }
    std::size_t output_count() const override { return 2; }
    std::string output_name(std::size_t output) const override { return output == 0 ? "offset" : "gain"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        const auto line = fit(points_of(inputs)).line;
        outputs[0] = line.offset;
        outputs[1] = line.gain;
    }

    void evaluate_trials(std::span<const double* const> inputs, std::span<double* const> outputs,
                         std::size_t trials) const override
    {
        MinimaxSolver solver;
        uncertainty::each_trial(inputs, trials, [&](std::size_t trial, std::span<const double> arguments) {
            constexpr double undefined = std::numeric_limits<double>::quiet_NaN();
            Line line{undefined, undefined};
            const auto points = points_of(arguments);
            try {
                if (are_finite(arguments))
                    line = through_first_ ? solver.fit_through_first(points.x, points.y).line
                                          : solver.fit(points.x, points.y).line;
            } catch (const std::domain_error&) {  // the line stays undefined
            }
            outputs[0][trial] = line.offset;
            outputs[1][trial] = line.gain;
        });
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        const auto points = points_of(inputs);
        const auto found = fit(points);
        const auto n = points.x.size();
        const auto by_x = input_adjoints.first(n), by_y = input_adjoints.last(n);
        if (through_first_)
            pull_back_through_first(points, found, output_adjoints, by_x, by_y);
        else
            pull_back_strip(points, found, output_adjoints, by_x, by_y);
    }

    CellPlan cell_plan(std::size_t) const override
    {
        CellPlan plan;
        plan.stored = true;
        plan.stored_reason =
            "the points that hold this line are found by trying, which a cell formula cannot follow";
        return plan;
    }

private:
    MinimaxFit fit(const Points& points) const
    {
        return through_first_ ? fit_minimax_through_first(points.x, points.y)
                              : fit_minimax(points.x, points.y);
    }

    // gain = (y_r - y_l)/(x_r - x_l), offset = (y_l + y_m)/2 - gain (x_l + x_m)/2
    static void pull_back_strip(const Points& points, const MinimaxFit& found,
                                std::span<const double> output_adjoints, std::span<double> by_x,
                                std::span<double> by_y)
    {
        const std::size_t left = found.active[0], middle = found.active[1], right = found.active[2];
        const double b = found.line.gain;
        const double offset = output_adjoints[0];
        const double gain = output_adjoints[1] - offset * (points.x[left] + points.x[middle]) / 2.0;
        const double per_run = gain / (points.x[right] - points.x[left]);
        by_y[right] += per_run;
        by_y[left] += offset / 2.0 - per_run;
        by_y[middle] += offset / 2.0;
        by_x[right] -= b * per_run;
        by_x[left] += b * (per_run - offset / 2.0);
        by_x[middle] -= b * offset / 2.0;
    }

    // gain = (y_p + y_q - 2 y_0)/(x_p + x_q - 2 x_0), offset = y_0 - gain x_0
    static void pull_back_through_first(const Points& points, const MinimaxFit& found,
                                        std::span<const double> output_adjoints, std::span<double> by_x,
                                        std::span<double> by_y)
    {
        std::size_t first = 0;
        for (std::size_t index = 1; index < points.x.size(); ++index)
            if (std::pair{points.x[index], points.y[index]} < std::pair{points.x[first], points.y[first]})
                first = index;
        const std::size_t p = found.active[0], q = found.active[1];
        const double b = found.line.gain;
        const double x0 = points.x[first];
        const double offset = output_adjoints[0];
        const double per_run = (output_adjoints[1] - offset * x0) / ((points.x[p] - x0) + (points.x[q] - x0));
        by_y[p] += per_run;
        by_y[q] += per_run;
        by_y[first] += offset - 2.0 * per_run;
        by_x[p] -= b * per_run;
        by_x[q] -= b * per_run;
        by_x[first] += b * (2.0 * per_run - offset);
    }

    bool through_first_;
};

class LogLogSlope : public uncertainty::Estimator {
public:
    std::string_view name() const override { return "log-log slope"; }
    std::size_t output_count() const override { return 1; }
    std::string output_name(std::size_t) const override { return "slope"; }

    void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
    {
        const auto logarithms = logarithms_of(inputs);
        outputs[0] = slope_of(logarithms).gain;
    }

    /// The logarithms by blocks, then an unweighted line; of what is not above 0 they are no numbers.
    void evaluate_trials(std::span<const double* const> inputs, std::span<double* const> outputs,
                         std::size_t trials) const override
    {
        if (trials != uncertainty::chunk_trials)
            return Estimator::evaluate_trials(inputs, outputs, trials);
        const auto& kernels = uncertainty::widest_kernels();
        std::vector<uncertainty::Chunk> logarithms(inputs.size());
        std::vector<const double*> places;
        uncertainty::Chunk value, offset;
        for (std::size_t index = 0; index < inputs.size(); ++index) {
            std::copy_n(inputs[index], trials, value.trials);
            kernels.unary(uncertainty::Operation::natural_logarithm, value.trials, logarithms[index].trials);
            places.push_back(logarithms[index].trials);
        }
        const std::array<double*, 2> line{offset.trials, outputs[0]};
        WeightedLine(std::vector<double>(inputs.size() / 2, 1.0)).evaluate_trials(places, line, trials);
    }

    void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                   std::span<double> input_adjoints) const override
    {
        const auto logarithms = logarithms_of(inputs);
        const auto points = points_of(logarithms);
        const auto centred = slope_of(logarithms);
        const auto n = points.x.size();
        for (std::size_t index = 0; index < n; ++index) {
            const auto derivative = gain_derivative(centred, points.x[index], points.y[index], 1.0);
            input_adjoints[index] += output_adjoints[0] * derivative.by_x / inputs[index];
            input_adjoints[n + index] += output_adjoints[0] * derivative.by_y / inputs[n + index];
        }
    }

    CellPlan cell_plan(std::size_t input_count) const override
    {
        const auto n = input_count / 2;
        LinePlan line(n, "ln x", "ln y", "LN({})", std::vector<double>(n, 1.0));
        auto& plan = line.plan();
        plan.outputs = {line.last()};
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(fmt::format("{}/{{i{}}}", line.gain_by_x(index), index));
        for (std::size_t index = 0; index < n; ++index)
            plan.derivatives.push_back(fmt::format("{}/{{i{}}}", line.gain_by_y(index), n + index));
        return std::move(line).take();
    }

private:
    static std::vector<double> logarithms_of(std::span<const double> inputs)
    {
        std::vector<double> logarithms;
        for (const double value : inputs) {
            if (!(value > 0.0))
                throw std::domain_error(
                    fmt::format("found {} in a log-log slope, expected a value above 0", value));
            logarithms.push_back(std::log(value));
        }
        return logarithms;
    }
    static Centred slope_of(const std::vector<double>& logarithms)
    {
        const auto points = points_of(logarithms);
        return centre(points.x, points.y, std::vector<double>(points.x.size(), 1.0));
    }
};

}  // namespace

std::shared_ptr<const uncertainty::Estimator> weighted_line_estimator(std::vector<double> weights)
{
    return std::make_shared<WeightedLine>(std::move(weights));
}

std::shared_ptr<const uncertainty::Estimator> minimax_line_estimator(bool through_first)
{
    return std::make_shared<MinimaxLine>(through_first);
}

std::shared_ptr<const uncertainty::Estimator> log_log_slope_estimator()
{
    return std::make_shared<LogLogSlope>();
}

}  // namespace luxdossier::statistics

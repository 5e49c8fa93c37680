#include "statistics/line.hpp"

#include "uncertainty/expression.hpp"
#include "uncertainty/propagation.hpp"

#include "uncertainty/quantities.hpp"

#include <array>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier::statistics;
using namespace luxdossier::uncertainty;
using luxdossier::test::agree;
using luxdossier::test::quantity;

namespace {

// Thirteen levels over six decades, as a comparison run has them.
const std::vector<double> levels{0.1, 0.3, 1, 3, 10, 30, 100, 300, 1e3, 3e3, 1e4, 3e4, 1e5};

std::vector<double> readings()
{
    std::vector<double> values;
    for (std::size_t index = 0; index < levels.size(); ++index)
        values.push_back(0.02 + levels[index] * (1.01 + 0.004 * std::sin(1.7 * static_cast<double>(index))));
    return values;
}

std::vector<double> weights()
{
    std::vector<double> values;
    for (const double level : levels)
        values.push_back(1.0 / (0.0001 + 1e-5 * level * level));
    return values;
}

/// d(output)/d(input) by the vector-Jacobian product against central differences, both as what one relative
/// change of the input does to the output; outputs are of the order of 1 or of the largest reading.
void check_derivatives(const Estimator& estimator, std::vector<double> inputs)
{
    const auto m = estimator.output_count();
    for (std::size_t output = 0; output < m; ++output) {
        std::vector<double> adjoints(m, 0.0), found(inputs.size(), 0.0);
        adjoints[output] = 1.0;
        estimator.pull_back(inputs, adjoints, found);
        for (std::size_t index = 0; index < inputs.size(); ++index) {
            CAPTURE(estimator.name(), output, index);
            const double centre = inputs[index], step = 1e-5 * std::abs(centre);
            std::vector<double> above(m), below(m);
            inputs[index] = centre + step;
            estimator.evaluate(inputs, above);
            inputs[index] = centre - step;
            estimator.evaluate(inputs, below);
            inputs[index] = centre;
            const double expected = (above[output] - below[output]) / (2.0 * step);
            CHECK(std::abs(found[index] - expected) * std::abs(centre) <= 1e-8);
        }
    }
}

std::vector<double> joined(std::vector<double> x, const std::vector<double>& y)
{
    x.insert(x.end(), y.begin(), y.end());
    return x;
}

}  // namespace

TEST_CASE("line estimators have the derivatives that central differences show", "[statistics]")
{
    const std::vector<double> x{1.0, 2.1, 3.3, 4.2, 5.7}, y{2.3, 3.9, 6.8, 8.1, 11.9};
    const std::vector<double> w{4.0, 1.0, 0.5, 2.0, 0.7};
    check_derivatives(*weighted_line_estimator(w), joined(x, y));
    check_derivatives(*minimax_line_estimator(false), joined(x, y));
    check_derivatives(*minimax_line_estimator(true), joined(x, y));
    check_derivatives(*log_log_slope_estimator(), joined(x, y));
}

TEST_CASE("line estimators over six decades have the derivatives that central differences show",
          "[statistics]")
{
    check_derivatives(*weighted_line_estimator(weights()), joined(levels, readings()));
    check_derivatives(*log_log_slope_estimator(), joined(levels, readings()));
}

TEST_CASE("estimators give what the fits give", "[statistics]")
{
    const auto inputs = joined(levels, readings());
    std::array<double, 2> line{};
    weighted_line_estimator(weights())->evaluate(inputs, line);
    const auto fit = fit_line(levels, readings(), weights()).line;
    CHECK(line[0] == fit.offset);
    CHECK(line[1] == fit.gain);
    minimax_line_estimator(true)->evaluate(inputs, line);
    CHECK(line[1] == fit_minimax_through_first(levels, readings()).line.gain);
}

TEST_CASE("the log-log slope of a power is its exponent", "[statistics]")
{
    std::vector<double> y;
    for (const double level : levels)
        y.push_back(3.0 * std::pow(level, 0.97));
    std::array<double, 1> slope{};
    log_log_slope_estimator()->evaluate(joined(levels, y), slope);
    CHECK(agree(slope[0], 0.97, 1e-13));
    CHECK_THROWS_WITH(log_log_slope_estimator()->evaluate(std::vector{1.0, 0.0, 1.0, 2.0}, slope),
                      "found 0 in a log-log slope, expected a value above 0");
}

namespace {

/// Compares trials with one fit after the other; a NaN among the inputs, or levels that are all alike, make
/// no line.
void check_trials(const Estimator& estimator, const std::vector<double>& base, double offset_tolerance,
                  double gain_tolerance)
{
    constexpr std::size_t trials = 256, not_a_number = 17, alike = 40;
    std::mt19937_64 random(20);
    std::normal_distribution<double> normal;
    std::vector<std::vector<double>> columns(base.size(), std::vector<double>(trials));
    for (std::size_t index = 0; index < base.size(); ++index)
        for (double& value : columns[index])
            value = base[index] * (1.0 + 0.02 * normal(random));
    columns[3][not_a_number] = std::numeric_limits<double>::quiet_NaN();
    for (std::size_t index = 0; index < base.size() / 2; ++index)
        columns[index][alike] = 1.0;
    std::vector<const double*> inputs;
    for (const auto& column : columns)
        inputs.push_back(column.data());
    std::array<std::vector<double>, 2> lines{std::vector<double>(trials), std::vector<double>(trials)};
    const std::array<double*, 2> outputs{lines[0].data(), lines[1].data()};
    estimator.evaluate_trials(inputs, outputs, trials);
    std::vector<double> arguments(base.size());
    std::array<double, 2> expected{};
    for (std::size_t trial = 0; trial < trials; ++trial) {
        CAPTURE(estimator.name(), trial);
        for (std::size_t index = 0; index < base.size(); ++index)
            arguments[index] = columns[index][trial];
        if (trial == not_a_number || trial == alike) {
            CHECK(std::isnan(lines[0][trial]));
            CHECK(std::isnan(lines[1][trial]));
            continue;
        }
        estimator.evaluate(arguments, expected);
        CHECK(std::abs(lines[0][trial] - expected[0]) <= offset_tolerance);
        CHECK(std::abs(lines[1][trial] - expected[1]) <= gain_tolerance);
    }
}

}  // namespace

TEST_CASE("trials of a minimax line are those of one fit after the other, to the bit", "[statistics]")
{
    // More points than are looked at one by one.
    std::vector<double> many_levels, many_readings;
    for (int level = 0; level < 60; ++level) {
        many_levels.push_back(std::pow(1.15, level));
        many_readings.push_back(1.02 * many_levels.back() + 0.3);
    }
    for (const auto& base : {joined(levels, readings()), joined(many_levels, many_readings)}) {
        CAPTURE(base.size());
        check_trials(*minimax_line_estimator(false), base, 0, 0);
        check_trials(*minimax_line_estimator(true), base, 0, 0);
    }
}

TEST_CASE("trials of a weighted line are those of one fit after the other", "[statistics]")
{
    // Plain sums against compensated ones: levels from 1, gain about 1.
    check_trials(*weighted_line_estimator(weights()), joined(levels, readings()), 1e-13, 1e-13);
}

TEST_CASE("trials of a log-log slope are those of one fit after the other", "[statistics]")
{
    constexpr std::size_t zero = 17;
    const auto estimator = log_log_slope_estimator();
    const auto base = joined(levels, readings());
    for (const std::size_t trials : {256U, 30U}) {
        CAPTURE(trials);
        std::mt19937_64 random(21);
        std::normal_distribution<double> normal;
        std::vector<std::vector<double>> columns(base.size(), std::vector<double>(trials));
        std::vector<const double*> inputs;
        for (std::size_t index = 0; index < base.size(); ++index) {
            for (double& value : columns[index])
                value = base[index] * (1.0 + 0.02 * normal(random));
            inputs.push_back(columns[index].data());
        }
        columns[3][zero] = 0.0;
        columns.back()[zero + 1] = -1.0;
        std::vector<double> slopes(trials);
        const std::array<double*, 1> outputs{slopes.data()};
        estimator->evaluate_trials(inputs, outputs, trials);
        for (std::size_t trial = 0; trial < trials; ++trial) {
            CAPTURE(trial);
            if (trial == zero || trial == zero + 1) {
                CHECK(std::isnan(slopes[trial]));
                continue;
            }
            std::vector<double> arguments;
            for (const auto& column : columns)
                arguments.push_back(column[trial]);
            std::array<double, 1> expected{};
            estimator->evaluate(arguments, expected);
            CHECK(agree(slopes[trial], expected[0], 1e-13));
        }
    }
}

TEST_CASE("a factor common to all levels moves the gain and no relative deviation", "[statistics]")
{
    for (const auto& estimator :
         {weighted_line_estimator(weights()), minimax_line_estimator(false), minimax_line_estimator(true)}) {
        CAPTURE(estimator->name());
        GraphBuilder builder;
        const auto common = builder.input(quantity("C_common", 1.0, 0.0075));
        const auto measured = readings();
        std::vector<Expression> e, d;
        for (std::size_t index = 0; index < levels.size(); ++index) {
            const auto name = std::to_string(index);
            e.push_back(builder.input(quantity("R" + name, levels[index], 0.001 * levels[index], 19)) *
                        common);
            d.push_back(builder.input(quantity("D" + name, measured[index], 0.002 * measured[index], 19)));
        }
        std::vector<Expression> arguments = e;
        arguments.insert(arguments.end(), d.begin(), d.end());
        const auto line = builder.estimate(estimator, arguments);
        const auto gain_budget = propagate(builder.graph(), line[1].node(), 0.9545);
        CHECK(agree(gain_budget.lines.front().contribution, 0.0075 * line[1].value(), 1e-9));
        for (std::size_t index = 0; index < levels.size(); ++index) {
            const auto deviation = (d[index] - line[0] - line[1] * e[index]) / d[index] * 100.0;
            for (const auto& budget_line : propagate(builder.graph(), deviation.node(), 0.9545).lines) {
                if (builder.graph().inputs()[budget_line.input.index].symbol != "C_common")
                    continue;
                CAPTURE(index, deviation.value());
                // The line through the first point deviates from it by nothing, by construction.
                if (deviation.value() != 0.0)
                    CHECK(budget_line.contribution < 1e-12 * std::abs(deviation.value()));
            }
        }
    }
}

TEST_CASE("the thermometer line through propagation, JCGM 100:2008, H.3.2 and H.3.4", "[statistics]")
{
    // Each reading carries s = 0.0035 (printed), 9 degrees of freedom, as
    // one pool.
    constexpr std::array<double, 11> t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                       24.513, 25.002, 25.503, 26.010, 26.511};
    constexpr std::array<double, 11> b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                       -0.156, -0.157, -0.159, -0.161, -0.160};
    const double s = fit_line(t, b).residual_standard_deviation;
    GraphBuilder builder;
    std::vector<Expression> arguments, corrections;
    for (const double value : t)
        arguments.push_back(builder.constant(value - 20.0));
    InputGroup pool{InputGroup::Kind::pooled, "residuals", {}, std::vector<double>(121, 0.0), 9};
    for (std::size_t index = 0; index < b.size(); ++index) {
        corrections.push_back(builder.input(quantity("b" + std::to_string(index), b[index], s, 9)));
        pool.members.push_back(builder.input_of(corrections.back()));
        pool.covariance[index * 12] = s * s;
    }
    builder.group(pool);
    arguments.insert(arguments.end(), corrections.begin(), corrections.end());
    const auto line = builder.estimate(weighted_line_estimator(std::vector<double>(11, 1.0)), arguments);
    const auto predicted = line[0] + line[1] * 10.0;  // at 30 degrees Celsius
    const auto u = [&](const Expression& result) {
        return propagate(builder.graph(), result.node(), 0.95).combined;
    };
    CHECK(std::abs(line[0].value() + 0.1712) <= 0.00005);
    CHECK(std::abs(u(line[0]).standard_uncertainty - 0.0029) <= 0.00005);
    CHECK(std::abs(u(line[1]).standard_uncertainty - 0.00067) <= 0.000005);
    CHECK(std::abs(predicted.value() + 0.1494) <= 0.00005);
    CHECK(std::abs(u(predicted).standard_uncertainty - 0.0041) <= 0.00005);
    CHECK(agree(u(predicted).standard_uncertainty, 0.0041385957528549434, 1e-8));
    CHECK(u(predicted).degrees_of_freedom == 9.0);
    const double r = covariance(builder.graph(), line[0].node(), line[1].node()) /
                     (u(line[0]).standard_uncertainty * u(line[1]).standard_uncertainty);
    CHECK(std::abs(r + 0.930) <= 0.0005);
}

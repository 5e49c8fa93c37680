#include "statistics/line.hpp"

#include <cctype>
#include <charconv>
#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::agree;
using luxdossier::uncertainty::CellPlan;
using luxdossier::uncertainty::Estimator;

namespace {

/// The little of a spreadsheet that the plans use: + - * /, parentheses, cells, ranges, SUM, SUMPRODUCT, LN.
/// A value is a column of numbers; a single number goes with every row.
class Sheet {
public:
    using Column = std::vector<double>;
    std::vector<double> inputs, cells, outputs;

    double number(const std::string& formula)
    {
        text_ = formula;
        at_ = 0;
        const auto value = sum();
        if (at_ != text_.size() || value.size() != 1)
            throw std::runtime_error("formula not read to its end: " + formula);
        return value.front();
    }

private:
    bool take(std::string_view token)
    {
        if (text_.compare(at_, token.size(), token) != 0)
            return false;
        at_ += token.size();
        return true;
    }
    void expect(std::string_view token)
    {
        if (!take(token))
            throw std::runtime_error("expected " + std::string(token) + " in " + text_);
    }
    static Column combine(const Column& a, const Column& b,
                          const std::function<double(double, double)>& operation)
    {
        Column result(std::max(a.size(), b.size()));
        for (std::size_t row = 0; row < result.size(); ++row)
            result[row] = operation(a.size() == 1 ? a[0] : a.at(row), b.size() == 1 ? b[0] : b.at(row));
        return result;
    }
    Column sum()
    {
        auto value = product();
        while (at_ < text_.size()) {
            if (take("+"))
                value = combine(value, product(), std::plus{});
            else if (take("-"))
                value = combine(value, product(), std::minus{});
            else
                break;
        }
        return value;
    }
    Column product()
    {
        auto value = operand();
        while (at_ < text_.size()) {
            if (take("*"))
                value = combine(value, operand(), std::multiplies{});
            else if (take("/"))
                value = combine(value, operand(), std::divides{});
            else
                break;
        }
        return value;
    }
    Column operand()
    {
        if (take("(")) {
            auto value = sum();
            expect(")");
            return value;
        }
        if (take("LN(")) {
            auto value = sum();
            expect(")");
            return {std::log(value.at(0))};
        }
        if (take("SUMPRODUCT(") || take("SUM(")) {
            auto value = sum();
            while (take(","))
                value = combine(value, sum(), std::multiplies{});
            expect(")");
            double total = 0.0;
            for (const double part : value)
                total += part;
            return {total};
        }
        if (take("{")) {
            const auto [kind, first] = reference();
            const auto& from = kind == 'i' ? inputs : (kind == 'c' ? cells : outputs);
            if (!take(":{"))
                return {from.at(first)};
            const auto last = reference().second;
            return {from.begin() + static_cast<std::ptrdiff_t>(first),
                    from.begin() + static_cast<std::ptrdiff_t>(last) + 1};
        }
        double value = 0.0;
        const auto [end, error] = std::from_chars(text_.data() + at_, text_.data() + text_.size(), value);
        if (error != std::errc{})
            throw std::runtime_error("expected an operand in " + text_);
        at_ = static_cast<std::size_t>(end - text_.data());
        return {value};
    }
    std::pair<char, std::size_t> reference()
    {
        const char kind = text_.at(at_++);
        std::size_t index = 0;
        while (std::isdigit(static_cast<unsigned char>(text_.at(at_))))
            index = index * 10 + static_cast<std::size_t>(text_.at(at_++) - '0');
        expect("}");
        return {kind, index};
    }

    std::string text_;
    std::size_t at_ = 0;
};

void check_plan(const Estimator& estimator, const std::vector<double>& inputs)
{
    CAPTURE(estimator.name());
    const auto plan = estimator.cell_plan(inputs.size());
    const auto m = estimator.output_count();
    REQUIRE_FALSE(plan.stored);
    Sheet sheet;
    sheet.inputs = inputs;
    for (const auto& cell : plan.cells)
        sheet.cells.push_back(sheet.number(cell.formula));
    std::vector<double> expected(m);
    estimator.evaluate(inputs, expected);
    REQUIRE(plan.outputs.size() == m);
    for (std::size_t output = 0; output < m; ++output) {
        sheet.outputs.push_back(sheet.cells.at(plan.outputs[output]));
        CHECK(agree(sheet.outputs.back(), expected[output], 1e-11));
    }
    REQUIRE(plan.derivatives.size() == m * inputs.size());
    for (std::size_t output = 0; output < m; ++output) {
        std::vector<double> adjoints(m, 0.0), derivatives(inputs.size(), 0.0);
        adjoints[output] = 1.0;
        estimator.pull_back(inputs, adjoints, derivatives);
        for (std::size_t index = 0; index < inputs.size(); ++index) {
            CAPTURE(output, index, plan.derivatives[output * inputs.size() + index]);
            CHECK(agree(sheet.number(plan.derivatives[output * inputs.size() + index]), derivatives[index],
                        1e-10, 1e-13));
        }
    }
}

}  // namespace

TEST_CASE("cell plans of lines compute what the estimators compute, derivatives included", "[statistics]")
{
    const std::vector<double> points{0.1, 1.0, 10.0, 100.0, 1000.0, 0.12, 1.02, 10.3, 99.0, 1012.0};
    check_plan(*weighted_line_estimator({1e4, 1e3, 80.0, 1.5, 0.02}), points);
    check_plan(*log_log_slope_estimator(), points);
}

TEST_CASE("a minimax line is stored in a workbook, with the reason", "[statistics]")
{
    const auto plan = minimax_line_estimator(false)->cell_plan(6);
    CHECK(plan.stored);
    CHECK_FALSE(plan.stored_reason.empty());
    CHECK(plan.derivatives.empty());
}

#include "uncertainty/derivative.hpp"

#include <cmath>

namespace luxdossier::uncertainty {
namespace {

Partials of_power(double base, double exponent, double value)
{
    // x^0 is 1 for every x, also at 0, where y x^(y-1) would be 0 times infinity.
    const double by_base = exponent == 0.0 ? 0.0 : exponent * std::pow(base, exponent - 1.0);
    const double by_exponent = base > 0.0 ? value * std::log(base) : 0.0;
    return {by_base, by_exponent};
}

}  // namespace

double operation_value(Operation operation, double left, double right)
{
    switch (operation) {
    case Operation::add:
        return left + right;
    case Operation::subtract:
        return left - right;
    case Operation::multiply:
        return left * right;
    case Operation::divide:
        return left / right;
    case Operation::negate:
        return -left;
    case Operation::power:
        return std::pow(left, right);
    case Operation::square_root:
        return std::sqrt(left);
    case Operation::exponential:
        return std::exp(left);
    case Operation::natural_logarithm:
        return std::log(left);
    case Operation::sine:
        return std::sin(left);
    case Operation::cosine:
        return std::cos(left);
    case Operation::tangent:
        return std::tan(left);
    case Operation::arcsine:
        return std::asin(left);
    case Operation::arccosine:
        return std::acos(left);
    case Operation::arctangent:
        return std::atan(left);
    case Operation::absolute_value:
        return std::abs(left);
    case Operation::minimum:
        return right < left || std::isnan(right) ? right : left;
    case Operation::maximum:
        return right > left || std::isnan(right) ? right : left;
    case Operation::input:
    case Operation::constant:
    case Operation::estimate:
        break;
    }
    return std::numeric_limits<double>::quiet_NaN();
}

Partials partial_derivatives(Operation operation, double left, double right, double value)
{
    switch (operation) {
    case Operation::add:
        return {1.0, 1.0};
    case Operation::subtract:
        return {1.0, -1.0};
    case Operation::multiply:
        return {right, left};
    case Operation::divide:
        return {1.0 / right, -value / right};
    case Operation::negate:
        return {-1.0, 0.0};
    case Operation::power:
        return of_power(left, right, value);
    case Operation::square_root:
        return {0.5 / value, 0.0};
    case Operation::exponential:
        return {value, 0.0};
    case Operation::natural_logarithm:
        return {1.0 / left, 0.0};
    case Operation::sine:
        return {std::cos(left), 0.0};
    case Operation::cosine:
        return {-std::sin(left), 0.0};
    case Operation::tangent:
        return {1.0 + value * value, 0.0};
    // (1 - x)(1 + x) keeps its digits near the ends, 1 - x^2 does not.
    case Operation::arcsine:
        return {1.0 / std::sqrt((1.0 - left) * (1.0 + left)), 0.0};
    case Operation::arccosine:
        return {-1.0 / std::sqrt((1.0 - left) * (1.0 + left)), 0.0};
    case Operation::arctangent:
        return {1.0 / (1.0 + left * left), 0.0};
    case Operation::absolute_value:
        return {left > 0.0 ? 1.0 : (left < 0.0 ? -1.0 : 0.0), 0.0};
    case Operation::minimum:
        return right < left ? Partials{0.0, 1.0} : Partials{1.0, 0.0};
    case Operation::maximum:
        return right > left ? Partials{0.0, 1.0} : Partials{1.0, 0.0};
    case Operation::input:
    case Operation::constant:
    case Operation::estimate:
        break;
    }
    return {};
}

int operand_count(Operation operation)
{
    switch (operation) {
    case Operation::input:
    case Operation::constant:
    case Operation::estimate:
        return 0;
    case Operation::add:
    case Operation::subtract:
    case Operation::multiply:
    case Operation::divide:
    case Operation::power:
    case Operation::minimum:
    case Operation::maximum:
        return 2;
    case Operation::negate:
    case Operation::square_root:
    case Operation::exponential:
    case Operation::natural_logarithm:
    case Operation::sine:
    case Operation::cosine:
    case Operation::tangent:
    case Operation::arcsine:
    case Operation::arccosine:
    case Operation::arctangent:
    case Operation::absolute_value:
        return 1;
    }
    return 0;
}

}  // namespace luxdossier::uncertainty

#pragma once

#include "uncertainty/graph.hpp"

namespace luxdossier::uncertainty {

/// Value of an operation on its operands; `right` is not used by those of one operand.
[[nodiscard]] double operation_value(Operation operation, double left, double right);

/// Partial derivatives of an operation with respect to its operands; `value` is what operation_value gave.
/// Where there is none: |x| at 0 has 0, minimum and maximum of equal operands follow the left one, x^y has
/// none in y for x <= 0 and takes 0 (the builder refuses an uncertain exponent there).
struct Partials {
    double left = 0;
    double right = 0;
};
[[nodiscard]] Partials partial_derivatives(Operation operation, double left, double right, double value);

/// Number of operands: 0 (input, constant, estimate), 1 or 2.
[[nodiscard]] int operand_count(Operation operation);

}  // namespace luxdossier::uncertainty

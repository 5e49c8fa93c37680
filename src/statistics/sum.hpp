#pragma once

#include <cmath>

namespace luxdossier::statistics {

/// A sum that carries its rounding error along (Neumaier 1974, ZAMM 54, p. 39).
class CompensatedSum {
public:
    void add(double value)
    {
        const double next = sum_ + value;
        error_ += std::abs(sum_) >= std::abs(value) ? (sum_ - next) + value : (value - next) + sum_;
        sum_ = next;
    }
    [[nodiscard]] double value() const { return sum_ + error_; }

private:
    double sum_ = 0;
    double error_ = 0;
};

}  // namespace luxdossier::statistics

#pragma once

#include "metrics/bench.hpp"

#include <map>
#include <string>

namespace luxdossier::metrics {

/// What a ratio or difference of two results gets rid of: inputs that act on a part alone and not, or hardly,
/// on the whole.
class Cancellation {
public:
    /// Compares the contributions of every input to `part` with those to `whole`, both in the same unit.
    void note(const Expression& part, const Expression& whole);
    /// "certificate of M1, common part: 0.6 % of each source's own reading error, here below 0.001 %; ...",
    /// the largest first; empty where nothing cancelled.
    [[nodiscard]] std::string words(const std::string& unit) const;

private:
    struct Largest {
        double alone = 0;  ///< contribution to a part
        double left = 0;   ///< contribution to the whole
    };
    std::map<std::string, Largest> by_quantity_;
};

}  // namespace luxdossier::metrics

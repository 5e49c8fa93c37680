#pragma once

#include "practice/practice.hpp"

#include <map>
#include <string>
#include <utility>
#include <vector>

namespace luxdossier::test {

/// A small bench in memory on which no rule has anything serious to say: one display, one LED source, three
/// levels read side by side with a meter, dark readings, position factor, field map and warm-up log. Tests
/// change one thing.
class SmallBench {
public:
    using Columns = std::map<std::string, std::vector<double>>;

    SmallBench();
    model::Qualification qualification;
    model::Limits limits;
    bool with_limits = true;

    model::Run& run(const std::string& id);
    void remove_run(const std::string& id);
    model::Run& add_run(model::RunKind kind, const std::string& id, const Columns& columns);
    /// Column of a run, to be changed.
    std::vector<double>& column(const std::string& id, const std::string& meaning);
    /// Places of a position run: reference, sensor, reference.
    void set_places(const std::string& id, std::size_t each);
    /// A comparison run at these levels; the product reads `response` times the level, `n` readings each.
    model::Run& add_levels(const std::string& id, const std::vector<double>& levels, double response,
                           std::size_t n = 10);
    /// A scan from -to to +to with a cosine response and three readings at 0 at the start, the middle and the
    /// end.
    model::Run& add_scan(const std::string& id, double to_degree, double step_degree);
    void add_limit(const std::string& metric, double lower, double upper, const std::string& unit);

    struct Result {
        model::Evaluation evaluation;
        practice::Findings findings;
        [[nodiscard]] std::vector<model::Remark> of(const std::string& id) const;
        [[nodiscard]] bool raised(const std::string& id) const { return !of(id).empty(); }
        /// Reasons of results of one metric, empty text where decided.
        [[nodiscard]] std::vector<std::string> reasons(const std::string& metric) const;
    };
    [[nodiscard]] Result examine() const;
};

/// Quantity in canonical units.
[[nodiscard]] model::Quantity stated(double value, const std::string& unit, double standard_uncertainty = 0);
[[nodiscard]] model::TimePoint at(int day, double hours);

}  // namespace luxdossier::test

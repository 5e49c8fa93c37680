#pragma once

#include "model/evaluation.hpp"
#include "model/limits.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::practice {

/// Share of the illuminance above which foreign light is worth a remark (common practice, no source).
inline constexpr double negligible_light = 0.002;

/// One level of a comparison run as it was evaluated.
struct Level {
    std::size_t run = 0;
    std::optional<double> nominal_lx;
    double illuminance_lx = 0;                ///< E
    std::vector<std::size_t> results;         ///< of this run at this level
    std::optional<double> half_tolerance_lx;  ///< T: strictest of the two-sided limits that the level feeds
    /// As remarks call it: the nominal level, else E.
    [[nodiscard]] double named_lx() const { return nominal_lx.value_or(illuminance_lx); }
};

/// What the rules look at, and where they leave their remarks.
class Bench {
public:
    Bench(const model::Qualification& qualification, const model::Limits* limits,
          const model::Evaluation& evaluation);

    [[nodiscard]] const model::Qualification& qualification() const { return qualification_; }
    [[nodiscard]] const model::Evaluation& evaluation() const { return evaluation_; }
    [[nodiscard]] const model::Limits* limits() const { return limits_; }
    [[nodiscard]] const model::Run& run(std::size_t index) const { return qualification_.runs.at(index); }

    [[nodiscard]] std::vector<std::size_t> runs_of(model::RunKind kind) const;
    /// Results that rest on a run; results of other levels are left out where a level is given.
    [[nodiscard]] std::vector<std::size_t> results_of(std::size_t run,
                                                      std::optional<double> level_lx = std::nullopt) const;
    /// Results of metrics whose name is one of these and that rest on a run.
    [[nodiscard]] std::vector<std::size_t> results_of(std::size_t run,
                                                      std::initializer_list<std::string_view> metrics) const;
    /// Levels of a comparison run whose illuminance was evaluated, ascending.
    [[nodiscard]] const std::vector<Level>& levels_of(std::size_t run) const;
    /// Readings of a number column in the rows of a run, missing ones left out.
    [[nodiscard]] std::vector<double> readings(std::size_t run, std::string_view column) const;
    [[nodiscard]] double cell(std::size_t run, std::string_view column, std::uint32_t row) const;
    /// Distance of a run: its condition, else the geometry's.
    [[nodiscard]] std::optional<double> distance_m(std::size_t run) const;
    /// "S1 windowed led", for runs that share an id; empty where nothing is stated.
    [[nodiscard]] std::string words(std::size_t run) const;

    void raise(model::Remark remark);
    [[nodiscard]] std::vector<model::Remark> take_remarks() { return std::move(remarks_); }

private:
    std::optional<double> half_tolerance(const model::Result& result) const;

    const model::Qualification& qualification_;
    const model::Limits* limits_;
    const model::Evaluation& evaluation_;
    std::vector<std::vector<std::size_t>> results_of_run_;
    std::vector<std::vector<Level>> levels_;
    std::vector<model::Remark> remarks_;
};

/// Mean and standard uncertainty of the readings of one column of a run: scatter and, where it is known,
/// resolution.
struct Mean {
    std::size_t n = 0;
    double mean = 0;
    double standard_uncertainty = 0;
};
[[nodiscard]] std::optional<Mean> mean_of(const Bench& bench, std::size_t run, std::string_view column);

/// Resolution of a device in a run at an indication: the product's, or that of the meter's range.
[[nodiscard]] std::optional<double> resolution_of(const Bench& bench, std::size_t run,
                                                  std::string_view column, double indication_lx);

/// Text of a condition of a run, empty where it is not stated: "capped", "on" ...
[[nodiscard]] std::string condition_of(const model::Run& run, const std::string& name);

/// The latest day on which a run can have been made: its own, else the last of the tests, else that of issue.
[[nodiscard]] std::optional<model::Date> date_of(const Bench& bench, std::size_t run);

using model::compatible;

/// Joins without repeating what is there.
void add_results(std::vector<std::size_t>& to, const std::vector<std::size_t>& from);

}  // namespace luxdossier::practice

#pragma once

#include "model/evaluation.hpp"
#include "uncertainty/expression.hpp"

#include <cstddef>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::metrics {

using uncertainty::Expression;

/// What a quantity rests on, and what keeps results that use it from a decision. Trails add up along the
/// model.
struct Trail {
    std::vector<std::size_t> runs;     ///< indices of runs, the main one first
    std::vector<std::size_t> sets;     ///< indices of reading sets
    std::vector<std::size_t> remarks;  ///< indices of remarks that touch every result that uses the quantity
    std::vector<std::string> undecided;  ///< reasons; the first is printed
    bool uncertainty_unknown = false;  ///< a part of u cannot be told: results keep their value and get no u
    void add(const Trail& other);
    void undecide(std::string reason) { undecided.push_back(std::move(reason)); }
    [[nodiscard]] bool decided() const { return undecided.empty(); }
};

/// A quantity of the model with its trail.
struct Traced {
    Expression value;
    Trail trail;
};

/// The settled part of a source's warm-up log, left by the warm-up family for the factor S of a substitution
/// without return. `unsettled` is the reason where the log does not show that the source settles; the
/// readings are empty then.
struct SettledLog {
    struct Copies {
        std::vector<double> time_s, level;
    };
    std::size_t run = 0;
    std::span<const double> time_s;  ///< into the run's table, or into `kept` where rows of it are left out
    std::span<const double> level;
    std::shared_ptr<const Copies> kept;
    std::string unsettled;
};

struct LevelReading;  // one level of a comparison run: levels.hpp

/// What the metric families share while the graph is built: the qualification, the one graph, and the
/// results, reading sets, remarks and statements so far. Expressions point into it: it does not move.
class Bench {
public:
    explicit Bench(const model::Qualification& qualification);
    Bench(const Bench&) = delete;
    Bench& operator=(const Bench&) = delete;

    [[nodiscard]] const model::Qualification& qualification() const { return qualification_; }
    [[nodiscard]] uncertainty::GraphBuilder& builder() { return builder_; }
    [[nodiscard]] const model::Run& run(std::size_t index) const { return qualification_.runs.at(index); }

    // ---- Inputs: the same identity gives the same node ----------------------------------------------------
    Expression constant(double value) { return builder_.constant(value); }
    Expression input(const uncertainty::InputQuantity& quantity) { return builder_.input(quantity); }
    /// A Type B input with a rectangular distribution of the given half-width around the estimate;
    /// `from_readings`: the half-width comes from readings and is fixed at the estimate.
    Expression rectangular(std::string identity, std::string quantity, std::string symbol, std::string unit,
                           double estimate, double half_width, std::string note, bool from_readings = false);
    /// A stated quantity as an input (u = 0 where none was stated): estimate, distribution and dof as stated.
    Expression stated(std::string identity, std::string quantity, std::string symbol,
                      const model::Quantity& value);

    // ---- Runs ---------------------------------------------------------------------------------------------
    [[nodiscard]] std::vector<std::size_t> runs_of(model::RunKind kind) const;
    /// The run with that id (the first of those that a condition column split), if there is one.
    [[nodiscard]] std::optional<std::size_t> find_run(std::string_view id) const;
    /// "run:bare", for identities of inputs; runs that a condition column split carry what tells them apart.
    [[nodiscard]] std::string run_identity(std::size_t run) const;
    /// Conditions of a result of this run: configuration, source (where stated) and the run's own, level left
    /// out.
    [[nodiscard]] model::Conditions conditions_of(std::size_t run) const;
    /// Whether the header accepts a remark with a reason, for all runs or for this one: then it blocks
    /// nothing.
    [[nodiscard]] bool accepts(std::string_view remark, std::size_t run) const
    {
        return qualification_.acceptance(remark, this->run(run).id) != nullptr;
    }
    /// Rows of a run whose cells of a number column are not missing.
    [[nodiscard]] std::vector<std::uint32_t> rows_with(std::size_t run, std::string_view column) const;

    // ---- Quantities that several results share ------------------------------------------------------------
    [[nodiscard]] const Traced* recall(std::string_view key) const;
    const Traced& keep(const std::string& key, Traced quantity);
    [[nodiscard]] std::shared_ptr<const std::vector<LevelReading>> recall_levels(std::size_t run) const;
    void keep_levels(std::size_t run, std::shared_ptr<const std::vector<LevelReading>> levels);

    /// The correlation of neighbouring readings, by device, and which device each column of a run is of.
    struct Devices {
        std::vector<model::Device> all;
        std::map<std::pair<std::size_t, std::string>, std::size_t> of;
    };
    [[nodiscard]] const Devices* recall_devices() const { return devices_ ? &*devices_ : nullptr; }
    [[nodiscard]] const model::Device& device(std::size_t index) const
    {
        return devices_.value().all.at(index);
    }
    const Devices& keep_devices(Devices devices) { return devices_.emplace(std::move(devices)); }

    // ---- What was found -----------------------------------------------------------------------------------
    /// A result in the record unit of its metric. `result` brings metric, sample, conditions and unit; node,
    /// runs, sets and reasons come from the quantity. Where u cannot be told the value stands without node.
    /// Returns its index.
    std::size_t add(model::Result result, const Traced& quantity);
    /// A value that has no u by design (dark noise, peak-to-peak).
    std::size_t add_value(model::Result result, double value, const Trail& trail);
    /// A result that cannot be given.
    std::size_t add_undecided(model::Result result, std::string reason, const Trail& trail);
    /// A remark; the same remark (id, run, what was seen) is kept once. Returns its index, for trails.
    std::size_t remark(model::Remark remark);
    /// What a remark that is raised again has seen by now.
    void see(std::size_t remark, std::string seen) { remarks_.at(remark).seen = std::move(seen); }
    /// Adds a figure to a list of figures under a key and returns all of them: for remarks that sum up.
    const std::vector<double>& collect(const std::string& key, double figure);
    std::size_t add_set(model::ReadingSet set);
    [[nodiscard]] const model::ReadingSet& set(std::size_t index) const { return sets_.at(index); }
    /// Tells a pooled set which like sets make its standard deviation.
    void set_pool(std::size_t set, std::vector<std::size_t> like_sets)
    {
        sets_.at(set).pool = std::move(like_sets);
    }
    void state(std::string family, std::string text, std::string subject = {});
    [[nodiscard]] const std::vector<model::Result>& results() const { return results_; }
    /// For a value whose readings became sets only after it was added.
    void set_recipe(std::size_t result, model::Recipe recipe)
    {
        results_.at(result).recipe = std::move(recipe);
    }

    // ---- What the warm-up family leaves for the factor S --------------------------------------------------
    void leave_settled_log(const std::string& source, SettledLog log);
    [[nodiscard]] const SettledLog* settled_log(std::string_view source) const;

    /// Freezes the graph and propagates every result; `threads` changes nothing but the time it takes.
    [[nodiscard]] model::Evaluation finish(unsigned threads) &&;

private:
    std::size_t append(model::Result result, const Trail& trail);

    const model::Qualification& qualification_;
    uncertainty::GraphBuilder builder_;
    std::vector<model::Result> results_;
    std::vector<model::ReadingSet> sets_;
    std::vector<model::Remark> remarks_;
    std::vector<model::Statement> statements_;
    std::map<std::string, SettledLog, std::less<>> settled_logs_;
    std::map<std::string, Traced, std::less<>> shared_;
    std::map<std::string, std::vector<double>> figures_;
    std::map<std::size_t, std::shared_ptr<const std::vector<LevelReading>>> levels_;
    std::optional<Devices> devices_;
};

}  // namespace luxdossier::metrics

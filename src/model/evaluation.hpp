#pragma once

#include "model/qualification.hpp"
#include "uncertainty/graph.hpp"
#include "uncertainty/monte_carlo.hpp"
#include "uncertainty/propagation.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::model {

enum class RemarkSeverity { note, concern, blocks };
[[nodiscard]] std::string_view severity_text(RemarkSeverity severity);

/// What the data say about bench practice.
struct Remark {
    std::string id;  ///< "not-co-located"
    RemarkSeverity severity = RemarkSeverity::note;
    std::string run;     ///< id of the run it is about; may be empty
    std::string seen;    ///< what was seen, with the figure
    std::string effect;  ///< what it does to the results
    std::string advice;  ///< what to do
    std::vector<std::size_t>
        results;           ///< indices of the results it touches; those of `blocks` become not decided
    std::string accepted;  ///< reason from accepted_remarks, where accepted: then it does not block
};

/// A mean of readings of one device in one run and how it was judged: which rows, and what they give.
struct ReadingSet {
    std::size_t run = 0;              ///< index into Qualification::runs
    std::string column;               ///< "sensor", "meter", "monitor"
    std::vector<std::uint32_t> rows;  ///< rows of the run's table
    std::optional<double> level_lx;   ///< nominal
    std::string place;     ///< "sensor" or "reference" in position runs, "A1", "B", "A2" in substitution
    bool is_half = false;  ///< readings that another set holds too
    std::size_t n = 0;
    double mean = 0;
    double standard_deviation = 0;    ///< as used: own or pooled
    double standard_uncertainty = 0;  ///< of the mean, autocorrelation included, resolution not
    double degrees_of_freedom = 0;
    double r1 = 0;
    bool autocorrelated = false;  ///< by its own r1
    bool by_itself = false;       ///< and beyond what its device shows: judged by its own r1
    /// Index into Evaluation::devices: whose readings these are, where they follow one another in time.
    std::optional<std::size_t> device;
    bool pooled = false;
    std::vector<std::size_t>
        pool;  ///< pooled only: indices of the like sets that make s_p, this one included
    std::optional<double> resolution;  ///< q, and whether it was stated or taken from the data
    bool resolution_from_data = false;
    std::optional<uncertainty::Input> input;             ///< the mean
    std::optional<uncertainty::Input> resolution_input;  ///< where s < q/2
    std::string undecided;  ///< reason where the set cannot be judged (n = 1 without a pool ...)
};

/// What the readings of one device at one interval say about their neighbours, all comparison runs together.
struct Device {
    std::string column;  ///< "sensor", "meter"
    std::string id;      ///< of the sample or the meter; may be empty
    std::string words;   ///< "sensor of S1, read about 1 s apart": unique
    double sets = 0, readings = 0;
    double estimate = 0;  ///< correlation of neighbouring readings, whether significant or not
    double weight = 0;    ///< 1/variance of the estimate
    double r = 0;         ///< as used: 0 where not significant
};

/// How a value without a model follows from sets of readings, steps of the model and other results, so that a
/// workbook can hold it as a formula. Only for values that arithmetic gives; what is found by search has
/// none.
struct Recipe {
    enum class Of {
        set_mean,
        set_deviation,
        set_size,
        set_resolution,
        node,
        result,
        sensitivity,
        input_uncertainty,
        normal_factor,
        factor
    };
    struct Operand {
        Of of = Of::factor;
        std::size_t index = 0;    ///< of the set, node or result; of the result whose sensitivity it is
        double value = 0;         ///< of a factor: a number that depends on no reading
        std::string name = {};    ///< of a factor: "Student's t at 95 %, one-sided, 19 degrees of freedom"
        std::string reason = {};  ///< of a factor: why a spreadsheet does not compute it
        uncertainty::Input input = {};  ///< of sensitivity and input_uncertainty
    };
    std::string formula;  ///< as a formula of uncertainty::CellPlan: {iK} stands for operand K
    std::vector<Operand> operands;
};

/// One result: a value with its uncertainty under stated conditions. `node` is in the record unit of the
/// metric.
struct Result {
    std::string id;  ///< metric and sorted conditions:
                     ///< "reading_error/configuration=bare/level=100lx/sample=S1/source=led"
    std::string metric;
    std::string sample;  ///< empty: none
    Conditions conditions;
    std::string unit;  ///< record unit
    std::optional<uncertainty::Node>
        node;  ///< absent: a value without a model (dark_noise, peak-to-peak), or none
    std::optional<double> value;
    std::optional<Recipe> recipe;  ///< of a value without a model
    std::string without_recipe;    ///< why a spreadsheet cannot follow a value that has neither
    bool upper_bound = false;      ///< printed "<="
    std::string undecided;         ///< reason why it is not decided; value may still be there
    std::optional<uncertainty::Combined> combined;  ///< filled by evaluate(); absent where no u is given
    std::optional<uncertainty::MonteCarloResult> monte_carlo;  ///< where trials were made
    /// The interval of the trials is reported and judged in the place of the first order: validation failed.
    bool is_judged_by_trials = false;
    std::vector<std::size_t> runs;  ///< indices of the runs it rests on, the main one first
    std::vector<std::size_t> sets;  ///< indices of the reading sets it rests on directly
    std::optional<double>
        illuminance_lx;  ///< the evaluated E, where the result belongs to a level (for plus_minus)
    /// How far the reported coverage interval reaches below and above the value: U, or to the ends of the
    /// interval of the trials where that stands in its place. Absent without an uncertainty.
    struct Reach {
        double below = 0, above = 0;
        [[nodiscard]] double half_length() const { return (below + above) / 2; }
    };
    [[nodiscard]] std::optional<Reach> reach() const;
    /// Half the length of the reported interval: U.
    [[nodiscard]] std::optional<double> expanded_uncertainty() const;
};

/// What a chapter states beside its results ("settling filter, mean of 11 readings"), and of what ("source
/// led"). Statements that say the same of several subjects are printed once.
struct Statement {
    std::string family;
    std::string text;          ///< without a full stop where there is a subject
    std::string subject = {};  ///< "run dark-bare", "source led"; empty: the text says it
};
/// The statement as one sentence: "Source led: settling filter, mean of 11 readings."
[[nodiscard]] std::string statement_text(const Statement& statement);

/// All results of a qualification on one graph.
struct Evaluation {
    uncertainty::Graph graph;
    std::vector<Result> results;  ///< grouped by metric family in the order of the registry
    std::vector<ReadingSet> sets;
    std::vector<Device> devices;
    std::vector<Remark> remarks;  ///< those that the evaluation itself raises
    std::vector<Statement> statements;
    double coverage_probability = 0.9545;
    struct Trials {
        std::size_t per_block = 0;
        std::size_t most = 0;  ///< of the result that took the most
        std::uint64_t seed = 1;
        int significant_digits = 2;
        bool only_judged = false;  ///< of results that a limit selects, of no others
    };
    std::optional<Trials> trials;  ///< where a Monte Carlo evaluation was made
    [[nodiscard]] uncertainty::Budget
    budget(const Result& result) const;  ///< computed on demand; result.node must be set
};

/// "metric/name=value/..." with conditions and sample sorted by name.
[[nodiscard]] std::string result_id(std::string_view metric, std::string_view sample,
                                    const Conditions& conditions);

}  // namespace luxdossier::model

#pragma once

#include "model/quantity.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::model {

enum class RuleKind { simple_acceptance, guarded_acceptance, four_outcome };
[[nodiscard]] std::string_view rule_text(RuleKind kind);  ///< "simple acceptance" ...

struct DecisionRule {
    RuleKind kind = RuleKind::simple_acceptance;
    double guard_band_multiple = 1.0;
};

/// The largest probability that an item does not conform although the rule passes it, at one tolerance limit:
/// the item lies on its acceptance limit. Simple acceptance 0.5; w = U with k = 2 gives 0.023.
///
/// Domain: 0 < coverage_probability < 1; degrees_of_freedom > 0, infinite for a normal distribution.
/// Source: JCGM 106:2012, 8.3; ILAC-G8:09/2019, Table 1.
[[nodiscard]] double largest_specific_risk(const model::DecisionRule& rule, double coverage_probability,
                                           double degrees_of_freedom);

/// One clause of `where`: results whose condition `name` is one of `ids`, or lies in [from, to] (ends
/// included). Numbers are in the record unit of the condition (level lx, plane and angle degree). "sample" is
/// selected likewise.
struct Selector {
    std::string name;
    std::vector<std::string> ids;
    std::optional<double> from, to;  ///< a single value has from == to
};

/// +- (percent of level and fixed), taken at the evaluated illuminance.
struct PlusMinus {
    std::optional<double> fraction_of_level;
    std::optional<double> fixed_lx;
    bool greater = false;  ///< whichever is greater; else the sum
};

/// Bounds along an angle, linear in between; NaN: no bound there.
struct Mask {
    std::string file;
    std::vector<double> angle_degree, lower, upper;
};

struct Expects {
    std::optional<std::vector<std::string>> samples, configurations, sources;
    std::optional<std::vector<double>> levels_lx;
};

struct Limit {
    std::string id, clause, metric, reference, title;
    std::optional<std::string> not_assessed;  ///< reason; then nothing else is set
    std::vector<Selector> where;
    std::optional<double> lower, upper;  ///< in `unit`, as written
    std::string unit;                    ///< as written
    /// Record unit = written * unit_scale + unit_offset (from udunits2, settled by intake).
    double unit_scale = 1, unit_offset = 0;
    std::optional<PlusMinus> plus_minus;
    std::optional<Mask> mask;          ///< bounds in `unit`
    std::optional<DecisionRule> rule;  ///< overrides the file's
    Expects expects;
};

struct Limits {
    std::string title, revision, agreed_with;
    std::optional<Date> agreed_on;
    DecisionRule rule;
    std::vector<Limit> limits;
    std::string file;  ///< path as given
};

/// What intake must know of the metrics to check a limits file (metrics/ fills it in).
struct MetricEntry {
    std::string id;
    std::string unit;                     ///< record unit
    std::vector<std::string> conditions;  ///< besides sample; further conditions of the runs may be added
    bool has_sample = true;
};
using MetricCatalogue = std::vector<MetricEntry>;

}  // namespace luxdossier::model

#pragma once

#include "model/dossier.hpp"

#include <functional>
#include <span>
#include <vector>

namespace luxdossier::metrics {

class Bench;  // what the families share while the graph is built: bench.hpp

/// One metric family: one file in this folder that registers itself in registry.cpp.
struct Family {
    model::FamilyInfo info;
    /// Builds the family's results on the shared graph.
    std::function<void(Bench&)> evaluate;
    /// Figures of the family; limits and guard bands come from the verdicts (empty where there are no
    /// limits).
    std::function<std::vector<model::Figure>(const model::Dossier&)> figures;
};

/// All families, in the order in which they are evaluated and reported.
[[nodiscard]] std::span<const Family> families();
[[nodiscard]] model::MetricCatalogue catalogue();
/// The same with the measurement models that a header states, each a metric of its own.
[[nodiscard]] model::MetricCatalogue catalogue(const model::Qualification& qualification);

/// Evaluates a qualification: all results on one graph, propagated (Result::value and combined are filled).
[[nodiscard]] model::Evaluation evaluate(const model::Qualification& qualification);

/// Figures of all families that have results.
[[nodiscard]] std::vector<model::Figure> figures(const model::Dossier& dossier);

}  // namespace luxdossier::metrics

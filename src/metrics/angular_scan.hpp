#pragma once

#include "metrics/bench.hpp"
#include "metrics/readings.hpp"

#include <vector>

namespace luxdossier::metrics {

/// One plane of one angular run as expressions: relative response over the angle (docs/metrics/angular.md,
/// "Angular response"). Angles ascend; theta[i], rho[i] and trails[i] belong to angle_degree[i].
struct PlaneScan {
    std::size_t run = 0;
    std::string sample;
    model::Conditions conditions;  ///< of its results, plane included
    double plane_degree = 0;
    std::string identity;  ///< "run:angular/plane=0degree"
    std::string words;     ///< "plane 0 deg"
    std::vector<double> angle_degree;
    std::vector<Expression> theta;  ///< rad: nominal (1 + scale) + zero
    std::vector<Expression> rho;    ///< exactly 1 at the reference
    std::vector<Trail> trails;      ///< of what belongs to one angle, that of the reference included
    std::size_t reference = 0;
    Trail trail;        ///< of the curve: all angles
    std::string fault;  ///< why the plane tells nothing; the expressions are empty then
};

/// All planes of a run, in ascending order: from its `plane` column, else its condition, else 0.
[[nodiscard]] std::vector<PlaneScan> scan_planes(Bench& bench, std::size_t run);

}  // namespace luxdossier::metrics

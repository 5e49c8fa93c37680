#include "metrics/families.hpp"
#include "metrics/levels.hpp"

namespace luxdossier::metrics {
namespace {

void evaluate_family(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        for (const auto& level : levels_of(bench, run)) {
            auto result = level_result(bench, level, "illuminance", "lx");
            if (level.illuminance)
                bench.add(std::move(result), *level.illuminance);
            else
                bench.add_undecided(std::move(result), level.trail.undecided.front(), level.trail);
        }
}

}  // namespace

Family illuminance_family()
{
    Family family;
    family.info.id = "illuminance";
    family.info.title = "Illuminance at the sensor";
    family.info.question = "What illuminance reached the sensor at each level, and how well is it known?";
    family.info.method = "The mean indication R of the reference meter, less its dark reading R_0, is "
                         "corrected by the factor C of its "
                         "certificate (linear in ln(R - R_0) between the points) and carried to the place of "
                         "the sensor by the position "
                         "factor K, or by the placement P where the meter was read in the sensor's own "
                         "place. The factors A (ageing), "
                         "T (temperature), L (linearity), G (range change), F (spectral mismatch) and S "
                         "(source) have the estimate 1 unless "
                         "they are stated, and bring their uncertainty.";
    family.info.formulas = {"E = (R - R_0) C A T L G F K P S"};
    family.info.metrics = {{"illuminance",
                            "Illuminance at the sensor",
                            "lx",
                            "E",
                            {"configuration", "source", "level"},
                            true,
                            "illuminance at the sensor's place, from the reference meter"}};
    family.evaluate = evaluate_family;
    return family;
}

}  // namespace luxdossier::metrics

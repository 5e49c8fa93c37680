#include "metrics/near_infrared_steps.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::metrics {

std::vector<IrradianceStep> irradiance_steps(const model::Run& run)
{
    const auto* irradiance = run.table ? run.table->number("irradiance") : nullptr;
    const auto* sensor = run.table ? run.table->number("sensor") : nullptr;
    std::vector<IrradianceStep> steps;
    if (irradiance == nullptr || sensor == nullptr)
        return steps;
    std::vector<std::uint32_t> rows;
    double greatest = 0;
    for (const auto row : run.rows)
        if (!std::isnan(irradiance->values.at(row)) && !std::isnan(sensor->values.at(row))) {
            rows.push_back(row);
            greatest = std::max(greatest, std::abs(irradiance->values[row]));
        }
    for (const auto row : rows) {
        const double value = irradiance->values[row];
        const bool stays = !steps.empty() && std::abs(value - steps.back().mean_w_m2) <=
                                                 0.1 * std::abs(steps.back().mean_w_m2) + 0.02 * greatest;
        if (!stays)
            steps.emplace_back();
        auto& step = steps.back();
        step.rows.push_back(row);
        step.mean_w_m2 += (value - step.mean_w_m2) / static_cast<double>(step.rows.size());
    }
    std::ranges::stable_sort(steps, {}, &IrradianceStep::mean_w_m2);
    return steps;
}

}  // namespace luxdossier::metrics

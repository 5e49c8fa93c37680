#include "metrics/linearity_weights.hpp"

#include "statistics/line.hpp"
#include "uncertainty/propagation.hpp"

#include <cmath>
#include <map>

namespace luxdossier::metrics {
namespace {

/// What cancels to less than this share of u does not act.
constexpr double acts_above = 1e-9;

using Contributions = std::map<std::uint32_t, double>;  ///< by input: c u, only what acts

Contributions acting_on(Bench& bench, const Expression& quantity)
{
    const auto& graph = bench.builder().graph();
    const auto combined =
        uncertainty::propagate(graph, quantity.node(), bench.qualification().evaluation.coverage_probability)
            .combined;
    Contributions acting;
    for (const auto& [input, coefficient] : graph.sensitivities(quantity.node())) {
        const double contribution = coefficient * graph.inputs()[input.index].standard_uncertainty;
        if (std::abs(contribution) > acts_above * combined.standard_uncertainty)
            acting[input.index] = contribution;
    }
    return acting;
}

/// u from the inputs that act on this level and on no other.
double own_u(const Contributions& acting, const std::map<std::uint32_t, std::size_t>& levels_of_input)
{
    double squares = 0;
    for (const auto& [input, contribution] : acting)
        if (levels_of_input.at(input) == 1)
            squares += contribution * contribution;
    return std::sqrt(squares);
}

}  // namespace

std::optional<std::vector<double>> line_weights(Bench& bench, std::span<const Expression> arguments,
                                                std::span<const double> e_lx, std::span<const double> d_lx)
{
    const auto levels = e_lx.size();
    std::vector<Contributions> on_e, on_d;
    std::map<std::uint32_t, std::size_t> levels_of_input;
    for (std::size_t i = 0; i < levels; ++i) {
        on_e.push_back(acting_on(bench, arguments[i]));
        on_d.push_back(acting_on(bench, arguments[levels + i]));
        auto either = on_e.back();
        either.insert(on_d.back().begin(), on_d.back().end());
        for (const auto& [input, contribution] : either)
            ++levels_of_input[input];
    }
    std::vector<double> u_e, u_d;
    for (std::size_t i = 0; i < levels; ++i) {
        u_e.push_back(own_u(on_e[i], levels_of_input));
        u_d.push_back(own_u(on_d[i], levels_of_input));
        if (!(u_e.back() > 0) && !(u_d.back() > 0))
            return std::nullopt;
    }
    return statistics::fit_effective_variance(e_lx, d_lx, u_e, u_d).weights;
}

}  // namespace luxdossier::metrics

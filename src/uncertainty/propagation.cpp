#include "uncertainty/propagation.hpp"

#include "uncertainty/coverage.hpp"
#include "uncertainty/second_order.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace luxdossier::uncertainty {
namespace {

/// A member of a group that is upstream of a result.
struct Member {
    std::size_t position = 0;     ///< in the group
    std::size_t sensitivity = 0;  ///< in the list of sensitivities
};

/// Members of each group among the sensitivities that act (coefficient and uncertainty not 0).
std::map<std::size_t, std::vector<Member>> members_by_group(const Graph& graph,
                                                            const std::vector<Sensitivity>& sensitivities)
{
    std::map<std::size_t, std::vector<Member>> found;
    for (std::size_t index = 0; index < sensitivities.size(); ++index) {
        const Input input = sensitivities[index].input;
        const auto group = graph.group_of(input);
        if (!group || sensitivities[index].coefficient == 0.0)
            continue;
        const auto& members = graph.groups()[*group].members;
        const auto position = std::ranges::find(members, input) - members.begin();
        found[*group].push_back({static_cast<std::size_t>(position), index});
    }
    return found;
}

/// The terms of a combined variance, each with its degrees of freedom.
class Terms {
public:
    void add(double variance, double degrees_of_freedom)
    {
        total_ += variance;
        terms_.push_back({variance, degrees_of_freedom});
    }
    [[nodiscard]] double variance() const { return total_; }
    /// Welch-Satterthwaite, not truncated (JCGM 100:2008, eq. G.2b). Each term is taken relative to the sum,
    /// so that tiny and huge variances neither underflow nor overflow.
    [[nodiscard]] double effective_degrees_of_freedom() const
    {
        double sum = 0.0;
        for (const auto& term : terms_) {
            const double part = term.variance / total_;
            if (part > 0.0 && std::isfinite(term.degrees_of_freedom))
                sum += part * part / term.degrees_of_freedom;
        }
        return sum > 0.0 ? 1.0 / sum : infinite;
    }

private:
    struct Term {
        double variance, degrees_of_freedom;
    };
    double total_ = 0;
    std::vector<Term> terms_;
};

double contribution(const Graph& graph, const Sensitivity& sensitivity)
{
    const double u = graph.inputs()[sensitivity.input.index].standard_uncertainty;
    // An input without uncertainty contributes nothing, also where its sensitivity is infinite.
    return u == 0.0 || sensitivity.coefficient == 0.0 ? 0.0 : sensitivity.coefficient * u;
}

Combined combined_of(double value, const Terms& terms, double coverage_probability)
{
    Combined combined;
    combined.value = value;
    combined.coverage_probability = coverage_probability;
    combined.standard_uncertainty = std::sqrt(terms.variance());
    if (!std::isfinite(value) || !std::isfinite(terms.variance())) {
        constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
        combined.standard_uncertainty = combined.coverage_factor = combined.expanded_uncertainty = unknown;
        combined.degrees_of_freedom = unknown;
        return combined;
    }
    combined.degrees_of_freedom = truncated_degrees_of_freedom(terms.effective_degrees_of_freedom());
    combined.coverage_factor = coverage_factor(coverage_probability, combined.degrees_of_freedom);
    combined.expanded_uncertainty = combined.coverage_factor * combined.standard_uncertainty;
    return combined;
}

/// `second_order_of()` gives the second-order variance where it is asked.
template <class SecondOrder>
Budget propagate(const Graph& graph, Node result, double coverage_probability, SecondOrder&& second_order_of)
{
    const auto sensitivities = graph.sensitivities(result);
    const auto inputs = graph.inputs();
    std::vector<double> shares(sensitivities.size(), 0.0);  // c_i sum_j c_j u(x_i, x_j), not yet relative
    Terms terms;
    for (std::size_t index = 0; index < sensitivities.size(); ++index) {
        const Input input = sensitivities[index].input;
        if (graph.group_of(input))
            continue;
        const double part = contribution(graph, sensitivities[index]);
        shares[index] = part * part;
        terms.add(part * part, inputs[input.index].degrees_of_freedom);
    }
    for (const auto& [index, members] : members_by_group(graph, sensitivities)) {
        const auto& group = graph.groups()[index];
        double variance = 0.0;
        for (const Member& a : members) {
            double row = 0.0;
            for (const Member& b : members)
                row += sensitivities[b.sensitivity].coefficient *
                       group.covariance[a.position * group.members.size() + b.position];
            shares[a.sensitivity] = sensitivities[a.sensitivity].coefficient * row;
            variance += shares[a.sensitivity];
        }
        // Readings that cancel exactly leave a rounding residue, which may be negative.
        terms.add(std::isnan(variance) ? variance : std::max(variance, 0.0), group.degrees_of_freedom);
    }

    const double first_order = terms.variance();
    if (const double second = first_order == 0.0 ? second_order_of() : 0.0;
        second > 0.0 && std::isfinite(second))
        terms.add(second, infinite);
    Budget budget;
    budget.combined = combined_of(graph.value(result), terms, coverage_probability);
    budget.combined.is_second_order = first_order == 0.0 && terms.variance() > 0.0;
    for (std::size_t index = 0; index < sensitivities.size(); ++index)
        budget.lines.push_back({sensitivities[index].input, sensitivities[index].coefficient,
                                std::abs(contribution(graph, sensitivities[index])),
                                terms.variance() > 0.0 ? shares[index] / terms.variance() : 0.0});
    std::ranges::sort(budget.lines, [&](const BudgetLine& a, const BudgetLine& b) {
        if (a.contribution != b.contribution)
            return a.contribution > b.contribution;
        return inputs[a.input.index].identity < inputs[b.input.index].identity;
    });
    return budget;
}

}  // namespace

Budget propagate(const Graph& graph, Node result, double coverage_probability)
{
    return propagate(graph, result, coverage_probability,
                     [&] { return second_order_variance(graph, result); });
}

Budget propagate(const Graph& graph, Node result, const Combined& known)
{
    return propagate(graph, result, known.coverage_probability, [&known] {
        return known.is_second_order ? known.standard_uncertainty * known.standard_uncertainty : 0.0;
    });
}

double covariance(const Graph& graph, Node a, Node b)
{
    const auto of_a = graph.sensitivities(a);
    const auto of_b = graph.sensitivities(b);
    double sum = 0.0;
    for (auto left = of_a.begin(), right = of_b.begin(); left != of_a.end() && right != of_b.end();) {
        if (left->input < right->input) {
            ++left;
        } else if (right->input < left->input) {
            ++right;
        } else {
            if (!graph.group_of(left->input))
                sum += contribution(graph, *left) * contribution(graph, *right);
            ++left;
            ++right;
        }
    }
    const auto groups_of_b = members_by_group(graph, of_b);
    for (const auto& [index, members_a] : members_by_group(graph, of_a)) {
        const auto members_b = groups_of_b.find(index);
        if (members_b == groups_of_b.end())
            continue;
        const auto& group = graph.groups()[index];
        for (const Member& i : members_a)
            for (const Member& j : members_b->second)
                sum += of_a[i.sensitivity].coefficient * of_b[j.sensitivity].coefficient *
                       group.covariance[i.position * group.members.size() + j.position];
    }
    return sum;
}

}  // namespace luxdossier::uncertainty

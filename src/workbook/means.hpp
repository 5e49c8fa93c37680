#pragma once

#include "workbook/cell_map.hpp"
#include "workbook/neighbours.hpp"

#include <map>
#include <optional>
#include <set>

namespace luxdossier::workbook {

/// Formulas of the means of repeated readings, of their uncertainties, and of the inputs and groups that rest
/// on them.
///
/// A formula is offered only where it gives what the evaluation holds (to 1e-9): otherwise the number is
/// stored, and the sheet says so. What the formulas follow is in the product's reference, "repeated
/// readings": s/sqrt(n), the autocorrelation factor, pooled sets, readings of one row taken together.
class MeanFormulas {
public:
    MeanFormulas(const model::Dossier& dossier, const CellMap& map);

    struct Row {
        std::optional<Term> mean, own, used, r1, shows_own, effective_n, uncertainty, freedom,
            pair_covariance;
        bool tells_of_device = false;  ///< counts for the correlation of its device
    };
    struct Pool {
        std::vector<std::size_t> sets;
        std::string run, device;
        std::optional<Term> relative_s, freedom, relative_covariance, stretch;
    };
    [[nodiscard]] const Row& row(std::size_t set) const { return rows_.at(set); }
    [[nodiscard]] const std::vector<Pool>& pools() const { return pools_; }
    [[nodiscard]] const NeighbourFormulas& neighbours() const { return neighbours_; }
    [[nodiscard]] const Term* estimate(uncertainty::Input input) const
    {
        return find(estimates_, input.index);
    }
    [[nodiscard]] const Term* uncertainty(uncertainty::Input input) const
    {
        return find(uncertainties_, input.index);
    }
    [[nodiscard]] const Term* freedom(uncertainty::Input input) const { return find(freedoms_, input.index); }
    [[nodiscard]] const Term* group_freedom(std::size_t group) const { return find(group_freedoms_, group); }
    [[nodiscard]] const Term* covariance(std::size_t group, std::size_t a, std::size_t b) const
    {
        return find(covariances_, std::tuple{group, a, b});
    }

private:
    template <typename Key>
    [[nodiscard]] static const Term* find(const std::map<Key, Term>& terms, const Key& key)
    {
        const auto found = terms.find(key);
        return found == terms.end() ? nullptr : &found->second;
    }
    struct Area {
        const std::string* sheet = nullptr;
        Position first, last;
        std::size_t from = 0, to = 0;
    };

    [[nodiscard]] std::vector<Area> areas(std::size_t set) const;
    [[nodiscard]] std::vector<double> readings(std::size_t set) const;
    void find_partners();
    void find_pools();
    void write_readings(std::size_t set);
    void write_pair(std::size_t set);
    void write_pool(Pool& pool, std::size_t index);
    void write_uncertainty(std::size_t set);
    void write_inputs();
    void write_groups();
    void write_half_widths();  ///< half_widths.cpp
    void write_slopes();       ///< of warm-up logs; half_widths.cpp
    [[nodiscard]] std::optional<Term> bracketing(std::size_t before, std::size_t after) const;
    [[nodiscard]] std::vector<Term> drifts(std::size_t set) const;
    [[nodiscard]] Term cell(std::size_t set, std::uint16_t column, double value) const;
    [[nodiscard]] double factor(std::size_t set) const;
    [[nodiscard]] Term own_freedom(std::size_t set) const;
    [[nodiscard]] std::optional<Term> pooled_factor(std::size_t set) const;

    const model::Dossier& dossier_;
    const CellMap& map_;
    NeighbourFormulas neighbours_;
    std::vector<Row> rows_;
    std::vector<Pool> pools_;
    std::vector<std::optional<std::size_t>> partners_, pool_of_set_;
    std::map<std::uint32_t, std::size_t> set_of_input_;
    std::map<std::uint32_t, Term> estimates_, uncertainties_, freedoms_;
    std::map<std::size_t, Term> group_freedoms_;
    std::map<std::tuple<std::size_t, std::size_t, std::size_t>, Term> covariances_;
};

}  // namespace luxdossier::workbook

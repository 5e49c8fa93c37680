#pragma once

#include "workbook/cell_map.hpp"

#include <map>
#include <optional>

namespace luxdossier::workbook {

/// Formulas of how neighbouring readings of a device correlate, and of what that makes of a set of n readings
/// (the product's reference, "repeated readings"). The sheet has a table of the devices and, beside it, one
/// of each device and number of readings that occurs.
class NeighbourFormulas {
public:
    struct OfDevice {
        std::optional<Term> sum, weight, estimate, r;  ///< empty where they do not give what was evaluated
        std::optional<Term> largest;  ///< standard deviations that the largest of so many sets may reach
    };
    struct OfNumber {
        std::size_t device = 0, n = 0;
        Term effective_n, trace, trace_of_square, freedom;
    };

    NeighbourFormulas(const model::Dossier& dossier, const CellMap& map);

    /// Takes what a set says about its device: r1 and s as the cells of the sheet of means have them.
    void take(std::size_t set, double r1, double s);
    /// After the last set.
    void finish();

    [[nodiscard]] const std::vector<OfDevice>& devices() const { return devices_; }
    [[nodiscard]] const std::vector<OfNumber>& numbers() const { return numbers_; }
    /// Cells of a device, and of its sets of n readings.
    [[nodiscard]] Term r(std::size_t device) const;
    [[nodiscard]] Term weight(std::size_t device) const;
    [[nodiscard]] Term largest(std::size_t device) const;
    [[nodiscard]] Term effective_n(std::size_t set) const;
    [[nodiscard]] Term trace(std::size_t set) const;
    [[nodiscard]] Term trace_of_square(std::size_t set) const;
    [[nodiscard]] Term freedom(std::size_t set) const;
    /// Degrees of freedom of sums of squares with these traces, of a device.
    [[nodiscard]] Term freedom(std::size_t device, const Term& readings_less_sets, const Term& trace,
                               const Term& trace_of_square) const;

private:
    [[nodiscard]] Term cell(std::size_t set, std::uint16_t column, double value) const;
    [[nodiscard]] const OfNumber& number_of(std::size_t set) const;
    void write_device(std::size_t device);
    void write_number(OfNumber& number) const;

    const model::Dossier& dossier_;
    const CellMap& map_;
    std::vector<OfDevice> devices_;
    std::vector<OfNumber> numbers_;
    std::map<std::pair<std::size_t, std::size_t>, std::size_t> number_at_;
    std::vector<double> sums_, weights_;
};

}  // namespace luxdossier::workbook

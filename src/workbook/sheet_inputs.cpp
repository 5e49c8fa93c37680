#include "workbook/sheets.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Input;

namespace {

/// Degrees of freedom of readings are whole numbers; those that certificates imply are not.
Look freedom_look(double freedom)
{
    return std::isfinite(freedom) && freedom == std::floor(freedom) ? Look::whole : Look::number;
}

/// Why a spreadsheet cannot follow what the program takes from the readings of a run.
std::string why_stored(const model::Dossier& dossier, const uncertainty::InputQuantity& input)
{
    constexpr std::string_view start = "run:";
    const auto id = input.identity.starts_with(start)
                        ? input.identity.substr(start.size(), input.identity.find('/') - start.size())
                        : std::string{};
    const auto& runs = dossier.qualification.runs;
    const auto run = std::ranges::find(runs, id, &model::Run::id);
    if (input.identity.ends_with("/window_slope"))
        return "the last window of the log is no single range of cells";
    if (run != runs.end() && run->kind == model::RunKind::warm_up)
        return "settling is found by filtering the log and searching for its last crossing";
    if (run != runs.end() && run->kind == model::RunKind::waveform)
        return "the frequency of a waveform, and with it the phase of each reading, is found by search";
    if (input.evaluation == uncertainty::Evaluation::type_a)
        return "summary of readings made by the program";
    if (input.identity.find("interpolation") != std::string::npos)
        return "half-width: what another curve through the same points would give";
    return "half-width taken from readings by the program";
}

void write_groups(Book& book)
{
    auto& sheet = book.xlsx.sheet("groups");
    sheet.title(
        "Groups",
        "Inputs that make one term of the effective degrees of freedom: read together, sharing a pooled "
        "standard deviation, or stated as correlated.",
        ways());
    sheet.headings(heading_row, {{"group", false, 48},
                                 {"input", false, 48},
                                 {"and input", false, 48},
                                 {"covariance", true, 12},
                                 {"degrees of freedom", true, 9},
                                 {"live or stored", false, 12}});
    const auto& graph = book.dossier.evaluation.graph;
    for (std::size_t index = 0; index < graph.groups().size(); ++index) {
        const auto& group = graph.groups()[index];
        auto row = book.map.group_row(index);
        const bool stated = group.kind == uncertainty::InputGroup::Kind::stated;
        const std::string reason = stated ? "" : "covariance or degrees of freedom of readings";
        sheet.text({row, 0}, group.identity, Look::strong);
        bool live = book.number(sheet, {row, column::group_freedom}, book.means.group_freedom(index),
                                group.degrees_of_freedom, reason, freedom_look(group.degrees_of_freedom));
        sheet.text({row, 5}, live ? "live" : (stated ? "stated" : "stored"), Look::after);
        for (const auto& pair : book.map.pairs(index)) {
            ++row;
            sheet.text({row, 1}, graph.inputs()[group.members[pair.a].index].identity);
            sheet.text({row, 2}, graph.inputs()[group.members[pair.b].index].identity);
            live = book.number(sheet, {row, column::group_covariance},
                               book.means.covariance(index, pair.a, pair.b), pair.covariance, reason);
            sheet.text({row, 5}, live ? "live" : (stated ? "stated" : "stored"), Look::after);
        }
    }
}

void write_pools(Book& book)
{
    auto& sheet = book.xlsx.sheet("pools");
    sheet.title(
        "Pools",
        "Like sets of readings of one run, device and range that share one relative standard deviation.",
        ways());
    sheet.headings(heading_row, {{"run"},
                                 {"device", false, 10},
                                 {"sets", true, 8},
                                 {"relative standard deviation", true, 16},
                                 {"degrees of freedom", true, 12},
                                 {"relative covariance with the other device", true, 20},
                                 {"variance enlarged by correlation", true, 14}});
    auto row = first_row;
    for (const auto& pool : book.means.pools()) {
        sheet.text({row, 0}, pool.run);
        sheet.text({row, 1}, pool.device);
        sheet.number({row, 2}, static_cast<double>(pool.sets.size()), Look::whole);
        if (pool.relative_s)
            sheet.formula({row, 3}, pool.relative_s->text, pool.relative_s->value);
        if (pool.freedom)
            sheet.formula({row, 4}, pool.freedom->text, pool.freedom->value, Look::whole);
        if (pool.relative_covariance)
            sheet.formula({row, 5}, pool.relative_covariance->text, pool.relative_covariance->value);
        if (pool.stretch)
            sheet.formula({row, 6}, pool.stretch->text, pool.stretch->value);
        ++row;
    }
}

void write_device(Book& book, Sheet& sheet, std::size_t device)
{
    const auto& expected = book.dossier.evaluation.devices[device];
    const auto& formulas = book.means.neighbours().devices()[device];
    const auto row = first_row + static_cast<std::uint32_t>(device);
    const std::string reason = "correlation of neighbouring readings found by the program";
    sheet.text({row, 0}, expected.words);
    sheet.number({row, column::device_number}, static_cast<double>(device + 1), Look::whole);
    const auto put = [&](std::uint16_t at, const std::optional<Term>& term, double value) {
        book.number(sheet, {row, at}, term ? &*term : nullptr, value, reason);
    };
    put(column::device_sum, formulas.sum, expected.estimate * expected.weight);
    put(column::device_weight, formulas.weight, expected.weight);
    put(column::device_estimate, formulas.estimate, expected.estimate);
    put(column::device_r, formulas.r, expected.r);
    put(column::device_largest, formulas.largest, book.means.neighbours().largest(device).value);
}

void write_number(Sheet& sheet, std::uint32_t row, const NeighbourFormulas::OfNumber& number)
{
    sheet.number({row, column::number_device}, static_cast<double>(number.device + 1), Look::whole);
    sheet.number({row, column::number_n}, static_cast<double>(number.n), Look::whole);
    const auto put = [&](std::uint16_t at, const Term& term) {
        if (!term.text.empty())
            sheet.formula({row, at}, term.text, term.value);
    };
    put(column::number_effective, number.effective_n);
    put(column::number_trace, number.trace);
    put(column::number_trace_of_square, number.trace_of_square);
    put(column::number_freedom, number.freedom);
}

void write_neighbours(Book& book)
{
    auto& sheet = book.xlsx.sheet("neighbours");
    sheet.title(
        "Neighbouring readings",
        "How neighbouring readings of each device correlate over all its sets, and what that makes of "
        "sets of n readings that do not show more by themselves.",
        ways());
    sheet.headings(heading_row, {{"device", false, 34},
                                 {"number", true, 8},
                                 {"sum of (n - 1)(r1 + 1/n)", true, 14},
                                 {"sum of (n - 1)(1 - 2/n)^2", true, 14},
                                 {"correlation", true, 12},
                                 {"as used: 0 where not significant", true, 14},
                                 {"standard deviations of the largest of its sets", true, 14},
                                 {"number of device", true, 10},
                                 {"readings n", true, 10},
                                 {"effective number", true, 10},
                                 {"expected sum of squares / variance", true, 16},
                                 {"half the variance of that sum", true, 14},
                                 {"degrees of freedom", true, 10}});
    const auto& neighbours = book.means.neighbours();
    for (std::size_t i = 0; i < std::max(neighbours.devices().size(), neighbours.numbers().size()); ++i) {
        if (i < neighbours.devices().size())
            write_device(book, sheet, i);
        if (i < neighbours.numbers().size())
            write_number(sheet, first_row + static_cast<std::uint32_t>(i), neighbours.numbers()[i]);
    }
}

}  // namespace

void write_inputs(Book& book)
{
    auto& sheet = book.xlsx.sheet("inputs");
    sheet.title("Input quantities",
                "Estimates and standard uncertainties of everything that is not computed. Means of "
                "readings live; certificates, data sheets and half-widths are numbers as stated.",
                ways());
    sheet.headings(heading_row, {{"quantity"},
                                 {"symbol", false, 14},
                                 {"readings", false, 10},
                                 {"estimate", true, 12},
                                 {"standard uncertainty", true, 12},
                                 {"degrees of freedom", true, 9},
                                 {"unit", false, 8},
                                 {"distribution", false, 13},
                                 {"evaluation", false, 11},
                                 {"estimate is", false, 11},
                                 {"uncertainty is", false, 12},
                                 {"note"},
                                 {"identity, as in the record"}});
    sheet.print_until(11);
    std::map<std::uint32_t, std::size_t> set_of;
    for (std::size_t set = 0; set < book.dossier.evaluation.sets.size(); ++set)
        if (const auto input = book.dossier.evaluation.sets[set].input)
            set_of.emplace(input->index, set);
    const auto& inputs = book.dossier.evaluation.graph.inputs();
    for (std::uint32_t index = 0; index < inputs.size(); ++index) {
        const auto& input = inputs[index];
        const auto row = first_row + index;
        sheet.text({row, 0}, input.quantity);
        sheet.text({row, 1}, input.symbol);
        if (const auto set = set_of.find(index); set != set_of.end())
            sheet.link({row, 2}, book.map.set_cell(set->second, 0), "mean");
        // A Type A input comes from readings: where its formula is missing, the number is one to be counted.
        const bool type_a = input.evaluation == uncertainty::Evaluation::type_a;
        const bool from_readings = type_a || input.from_readings;
        const std::string reason = from_readings ? why_stored(book.dossier, input) : "";
        const bool estimate =
            book.number(sheet, {row, column::input_estimate}, book.means.estimate(Input{index}),
                        input.estimate, input.estimate == 0 ? "" : reason);
        const bool uncertainty =
            book.number(sheet, {row, column::input_uncertainty}, book.means.uncertainty(Input{index}),
                        input.standard_uncertainty, reason);
        book.number(sheet, {row, column::input_freedom}, book.means.freedom(Input{index}),
                    input.degrees_of_freedom, type_a ? reason : "", freedom_look(input.degrees_of_freedom));
        sheet.text({row, 6}, input.unit, Look::after);
        sheet.text({row, 7}, input.distribution == uncertainty::Distribution::student_t
                                 ? "Student's t"
                                 : uncertainty::distribution_text(input.distribution));
        sheet.text({row, 8}, type_a ? "A" : "B");
        const auto word = [](bool live, bool of_readings) {
            return live ? "live" : (of_readings ? "stored" : "as stated");
        };
        sheet.text({row, 9}, word(estimate, type_a));
        sheet.text({row, 10}, word(uncertainty, from_readings));
        sheet.text({row, 11}, input.note);
        sheet.text({row, 12}, input.identity);
    }
    write_groups(book);
}

void write_means(Book& book)
{
    auto& sheet = book.xlsx.sheet("means");
    sheet.title("Means of repeated readings",
                "Mean, standard deviation and standard uncertainty of each set of readings, from the rows of "
                "its run. The "
                "last column says whether the readings still call for the model as evaluated.",
                ways());
    sheet.headings(heading_row, {{"run", false, 30},
                                 {"device", false, 9},
                                 {"level / lx", true, 9},
                                 {"place", false, 10},
                                 {"readings", true, 9},
                                 {"mean", true, 12},
                                 {"standard deviation", true, 12},
                                 {"as used", true, 12},
                                 {"lag-1 auto- correlation", true, 10},
                                 {"effective number", true, 10},
                                 {"standard uncertainty of the mean", true, 13},
                                 {"degrees of freedom", true, 9},
                                 {"resolution", true, 11},
                                 {"covariance with the other device", true, 13},
                                 {"live or stored", false, 9},
                                 {"resolution term", false, 22},
                                 {"device, see neighbours", true, 12},
                                 {"judged by its own r1", true, 11}});
    const auto& sets = book.dossier.evaluation.sets;
    for (std::size_t index = 0; index < sets.size(); ++index) {
        const auto& set = sets[index];
        const auto& formulas = book.means.row(index);
        const auto row = first_row + static_cast<std::uint32_t>(index);
        const auto& run = book.dossier.qualification.runs[set.run];
        sheet.link({row, 0}, book.map.first_reading(index), run.id);
        sheet.text({row, 1}, set.column);
        if (set.level_lx)
            sheet.number({row, 2}, *set.level_lx, Look::plain);
        sheet.text({row, 3}, set.place, Look::after);
        sheet.number({row, column::set_n}, static_cast<double>(set.n), Look::whole);
        const std::string reason = "mean or standard deviation made by the program";
        const auto put = [&](std::uint16_t at, const std::optional<Term>& term, double value, bool counts) {
            if (term || (std::isfinite(value) && (counts || value != 0)))
                book.number(sheet, {row, at}, term ? &*term : nullptr, value, reason,
                            at == column::set_freedom ? freedom_look(value) : Look::number);
        };
        put(column::set_mean, formulas.mean, set.mean, true);
        put(column::set_own, formulas.own, formulas.own ? formulas.own->value : 0, false);
        put(column::set_used, formulas.used, formulas.used ? formulas.used->value : set.standard_deviation,
            false);
        put(column::set_r1, formulas.r1, formulas.r1 ? formulas.r1->value : 0, false);
        put(column::set_factor, formulas.effective_n, formulas.effective_n ? formulas.effective_n->value : 0,
            false);
        put(column::set_uncertainty, formulas.uncertainty, set.standard_uncertainty, true);
        put(column::set_freedom, formulas.freedom, set.degrees_of_freedom, false);
        const Position resolution{row, column::set_resolution};
        if (set.resolution && set.resolution_from_data)
            book.store(sheet, resolution, *set.resolution, "resolution found in the readings");
        else if (set.resolution)
            sheet.number(resolution, *set.resolution, Look::plain);
        put(13, formulas.pair_covariance, formulas.pair_covariance ? formulas.pair_covariance->value : 0,
            false);
        sheet.text({row, 14}, formulas.mean && formulas.uncertainty ? "live" : "stored", Look::after);
        if (set.resolution && formulas.used) {
            const bool has_term = set.resolution_input.has_value();
            sheet.formula({row, 15},
                          fmt::format("IF(({}<{}/2)={},\"as evaluated\",\"changed: evaluate again\")",
                                      cell_name({row, column::set_used}),
                                      cell_name({row, column::set_resolution}), has_term ? "TRUE" : "FALSE"),
                          (formulas.used->value < *set.resolution / 2) == has_term
                              ? "as evaluated"
                              : "changed: evaluate again");
        }
        if (formulas.tells_of_device)
            sheet.number({row, column::set_device}, static_cast<double>(*set.device + 1), Look::whole);
        if (formulas.shows_own)
            sheet.formula({row, column::set_shows_own}, formulas.shows_own->text, formulas.shows_own->value,
                          Look::whole);
    }
    write_pools(book);
    write_neighbours(book);
}

}  // namespace luxdossier::workbook

#include "intake/curve_reader.hpp"

#include "intake/csv_heading.hpp"
#include "intake/csv_reader.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr CsvFormat comma_and_point()
{
    CsvFormat format;
    format.delimiter = ',';
    format.decimal = '.';
    return format;
}

/// Cells of the first line that is neither blank nor a comment.
std::vector<std::string> heading_cells(std::string_view content)
{
    for (std::size_t start = 0; start < content.size();) {
        const auto end = std::min(content.find('\n', start), content.size());
        auto line = content.substr(start, end - start);
        if (start == 0 && line.starts_with("\xEF\xBB\xBF"))
            line.remove_prefix(3);
        if (line.ends_with('\r'))
            line.remove_suffix(1);
        if (!line.empty() && line.front() != '#')
            return split_line(line, ',');
        start = end + 1;
    }
    return {};
}

ColumnRequest number_column(std::string meaning, std::string heading, std::string written_unit,
                            std::string_view unit)
{
    ColumnRequest request;
    request.meaning = std::move(meaning);
    request.heading = std::move(heading);
    request.conversion = convert_unit(written_unit, unit).conversion;
    request.written_unit = std::move(written_unit);
    request.unit = std::string(unit);
    return request;
}

/// A curve file as it was read, for messages about its rows.
struct CurveTable {
    const std::string& name;
    const Files::Answer& file;
    const model::Table& table;
    diagnostics::Diagnostics& diagnostics;

    void fault(std::size_t row, std::string found, std::string expected) const
    {
        auto made = row_diagnostic(name, file, table, row);
        made.found = std::move(found);
        made.expected = std::move(expected);
        diagnostics.add(std::move(made));
    }
};

/// The abscissa ascends and has no gaps; the ordinates named have none either.
bool check_curve(const CurveTable& curve, std::size_t complete_columns)
{
    const auto& table = curve.table;
    const auto& x = table.numbers.front();
    for (std::size_t row = 0; row < table.rows; ++row) {
        for (std::size_t column = 0; column < complete_columns; ++column) {
            if (std::isnan(table.numbers[column].values[row])) {
                curve.fault(row, fmt::format("found an empty cell for \"{}\"", table.numbers[column].meaning),
                            "a number in every row");
                return false;
            }
        }
        if (row > 0 && !(x.values[row] > x.values[row - 1])) {
            curve.fault(row, fmt::format("found \"{}\" that does not ascend", x.meaning),
                        "each value above the one before");
            return false;
        }
    }
    if (table.rows >= 2)
        return true;
    curve.fault(0, "found a curve of one point", "two points or more");
    return false;
}

/// Reads the columns of a curve. A point that a # takes out would change the curve, or a limit, without a
/// word.
std::optional<model::Table> read_columns(const std::string& name, const Files::Answer& file,
                                         std::span<const ColumnRequest> requests,
                                         diagnostics::Diagnostics& diagnostics)
{
    CsvComments comments;
    auto table = read_csv(name, file, comma_and_point(), requests, diagnostics, &comments);
    for (const auto line : comments.like_rows) {
        auto fault = line_diagnostic(name, file, line);
        fault.found = "found a row of values that begins with #";
        fault.expected = "a row without it, or no such line";
        fault.advice = "delete the line where the value is not to count";
        diagnostics.add(std::move(fault));
    }
    return comments.like_rows.empty() ? std::move(table) : std::nullopt;
}

}  // namespace

std::optional<model::CurveFile> read_curve(const std::string& name, const Files::Answer& file,
                                           CurveRequest::Kind kind, diagnostics::Diagnostics& diagnostics)
{
    std::vector<ColumnRequest> requests;
    if (kind == CurveRequest::Kind::angular_target) {
        requests = {number_column("angle", "angle", "degree", "rad"),
                    number_column("response", "response", "1", "1")};
    } else {
        const auto cells = heading_cells(file.content);
        const std::string first =
            !cells.empty() && cells.front() == "wavelength_nm" ? "wavelength_nm" : "wavelength";
        const std::string second = cells.size() > 1 ? cells[1] : "value";
        requests = {number_column("wavelength", first, "nm", "m"), number_column("value", second, "1", "1")};
    }
    const auto table = read_columns(name, file, requests, diagnostics);
    if (!table || !check_curve({name, file, *table, diagnostics}, 2))
        return std::nullopt;
    return model::CurveFile{name, table->numbers[0].values, table->numbers[1].values};
}

std::optional<model::Mask> read_mask(const std::string& name, const Files::Answer& file,
                                     diagnostics::Diagnostics& diagnostics)
{
    const auto cells = heading_cells(file.content);
    const auto has = [&cells](std::string_view heading) {
        return std::ranges::find(cells, heading) != cells.end();
    };
    std::vector<ColumnRequest> requests{number_column("angle", "angle", "degree", "degree")};
    if (has("lower") || !has("upper"))
        requests.push_back(number_column("lower", "lower", "1", "1"));
    if (has("upper") || !has("lower"))
        requests.push_back(number_column("upper", "upper", "1", "1"));
    const auto table = read_columns(name, file, requests, diagnostics);
    if (!table)
        return std::nullopt;
    const CurveTable curve{name, file, *table, diagnostics};
    if (!check_curve(curve, 1))
        return std::nullopt;
    model::Mask mask;
    mask.file = name;
    mask.angle_degree = table->number("angle")->values;
    const std::vector<double> none(table->rows, std::numeric_limits<double>::quiet_NaN());
    mask.lower = table->number("lower") != nullptr ? table->number("lower")->values : none;
    mask.upper = table->number("upper") != nullptr ? table->number("upper")->values : none;
    for (std::size_t row = 0; row < table->rows; ++row) {
        if (mask.lower[row] > mask.upper[row]) {
            curve.fault(
                row,
                fmt::format("found lower bound {} above upper bound {}", mask.lower[row], mask.upper[row]),
                "lower not above upper");
            return std::nullopt;
        }
    }
    const auto is_bound = [](double bound) { return !std::isnan(bound); };
    if (std::ranges::none_of(mask.lower, is_bound) && std::ranges::none_of(mask.upper, is_bound)) {
        curve.fault(0, "found a mask without a bound", "a number under \"lower\" or \"upper\"");
        return std::nullopt;
    }
    return mask;
}

}  // namespace luxdossier::intake

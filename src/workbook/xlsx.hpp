#pragma once

#include "workbook/names.hpp"
#include "workbook/package.hpp"

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

struct lxw_workbook;
struct lxw_worksheet;
struct lxw_format;

namespace luxdossier::workbook {

/// How a cell looks. Live cells are ink, stored numbers grey and italic, editable cells stand in a frame. No
/// two looks are alike: the library finds a format that has a double by a slow search, for every cell anew.
enum class Look : std::uint8_t {
    plain,  ///< words, and readings with the digits that they have
    wrapped,
    note,
    title,
    heading,
    number_heading,  ///< above a column of numbers
    after_heading,   ///< above a column of words to the right of one of numbers: set in a little
    after,           ///< words to the right of a number
    strong,
    number,  ///< to five significant digits
    whole,
    percent,
    factor,
    stored,
    editable,
    link,
    passes,
    in_doubt,
    fails,
    decimals,  ///< the first of most_decimals + 1
    count = decimals + 10
};
inline constexpr int most_decimals = 8;

/// So many decimals; above most_decimals a power of ten.
[[nodiscard]] Look decimals(int count);
/// As many decimals as show `digits` significant digits of a number.
[[nodiscard]] Look significant(double value, int digits = 5);
/// As many decimals as show two significant digits of the uncertainty beside which a number stands.
[[nodiscard]] Look beside(double uncertainty);

/// A column of a table: its heading, what it holds, and its width in characters (0: as wide as its texts).
struct Column {
    std::string heading;
    bool numbers = false;
    double width = 0;
};
struct Link {
    std::string target;  ///< such as "results!A12"
    std::string text;
};

class Xlsx;

/// One sheet, written from top to bottom: rows never go back (the writer keeps one row in memory).
/// Errors: std::domain_error for a number that is not finite or a formula that is too long.
class Sheet {
public:
    void text(Position position, std::string_view text, Look look = Look::plain);
    void number(Position position, double value, Look look = Look::number);
    /// `formula` without the leading "=", with the value that it has now.
    void formula(Position position, const std::string& formula, double value, Look look = Look::number);
    void formula(Position position, const std::string& formula, std::string_view value,
                 Look look = Look::plain);
    /// A link inside the workbook: target such as "results!A12".
    void link(Position position, const std::string& target, std::string_view text);
    /// A row of column headings, frozen and repeated on each printed page.
    void headings(std::uint32_t row, const std::vector<Column>& columns);
    /// Title in the first row, an explanation in the second, the way to other sheets in the third.
    void title(std::string_view title, std::string_view explanation, const std::vector<Link>& ways = {});
    /// Room for so many lines of text. Before the cells of the row.
    void row_lines(std::uint32_t row, double lines);
    /// Text that takes several lines of a column of this width, in characters; the number of lines.
    [[nodiscard]] static double lines_of(std::string_view text, double width);
    void choice(Position first, Position last, const std::vector<std::string>& texts);
    void at_least_zero(Position first, Position last);
    /// Conditional formats of the five outcomes: the word says it, weight and shade help the eye.
    void outcomes(Position first, Position last);
    /// The printed area reaches at least to this cell (for what is not a cell: charts).
    void extend_to(Position position);
    /// A grey tab: a sheet of workings.
    void mark_workings();
    /// Columns behind this one are not printed: workings that nobody reads on paper.
    void print_until(std::uint16_t column) { last_printed_ = column; }
    /// Printed at a scale in per cent, with a new page at each of these rows, instead of one page wide.
    void pages(std::uint16_t scale, const std::vector<std::uint32_t>& breaks);
    void column_width(std::uint16_t column, double characters);
    /// Height of all rows that have none of their own.
    void row_height(double points);
    [[nodiscard]] const std::string& name() const { return name_; }
    [[nodiscard]] lxw_worksheet* handle() const { return sheet_; }

private:
    friend class Xlsx;
    Sheet(Xlsx& book, lxw_worksheet* sheet, std::string name)
        : book_(&book), sheet_(sheet), name_(std::move(name))
    {
    }
    void widen(std::uint16_t column, std::size_t characters);
    [[nodiscard]] std::uint16_t last_printed() const;
    void check(int error, std::string_view doing) const;
    void check_length(Position position, const std::string& formula) const;
    /// Counts a cell that is written; the last one written into a place is the one that stands.
    void count(Position position, std::string_view formula, std::string_view value);
    void count_row();
    Xlsx* book_;
    lxw_worksheet* sheet_;
    std::string name_;
    std::vector<double> widths_;
    std::vector<bool> fixed_widths_;
    std::uint32_t last_row_ = 0;
    std::uint16_t last_column_ = 0, last_printed_ = 0;
    std::size_t note_length_ = 0, links_ = 0;
    bool one_page_wide_ = true;
    bool has_repeated_rows_ = false;
    Tally tally_;
    std::uint32_t row_ = 0;                             ///< that is being written
    std::vector<std::optional<std::uint32_t>> in_row_;  ///< codes of its cells, by column
};

/// The workbook file. Every error of the library is checked, and because it tells not all, the file is read
/// back; nothing depends on locale, clock or zone. Its temporary files lie in the folder of the file.
class Xlsx {
public:
    struct Properties {
        std::string title, subject, author, header_left, footer_left, footer_middle, version;
        std::int64_t created = 0;  ///< seconds since 1970-01-01
    };
    /// Errors: std::system_error where the file cannot be written.
    Xlsx(const std::filesystem::path& file, Properties properties);
    ~Xlsx();
    Xlsx(const Xlsx&) = delete;
    Xlsx& operator=(const Xlsx&) = delete;

    /// Name: at most 31 characters, none of []:*?/\, unlike any other sheet's (checked).
    Sheet& add_sheet(const std::string& name);
    /// A sheet that was added. Errors: std::logic_error where there is none of that name.
    [[nodiscard]] Sheet& sheet(const std::string& name);
    void define_name(const std::string& name, const std::string& target);
    /// A chart of so many series was put on a sheet.
    void count_chart(std::size_t series) { ++expected_.charts, expected_.series += series; }
    /// Widths, print set-up; writes the file and reads it back. Nothing may be written afterwards. Errors:
    /// std::system_error, also where the file does not hold what was written.
    void close();
    [[nodiscard]] lxw_format* format(Look look) const;
    [[nodiscard]] lxw_workbook* handle() const { return book_; }

private:
    void add_formats();
    void finish(Sheet& sheet) const;
    std::filesystem::path file_;
    Properties properties_;
    lxw_workbook* book_ = nullptr;
    std::vector<lxw_format*> formats_;
    std::vector<std::unique_ptr<Sheet>> sheets_;
    Expected expected_;
};

}  // namespace luxdossier::workbook

#include "workbook/xlsx.hpp"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <fstream>
#include <stdexcept>
#include <system_error>

#include <fmt/format.h>
#include <sys/resource.h>
#include <xlsxwriter.h>

namespace luxdossier::workbook {
namespace {

constexpr double widest_column = 58;
constexpr std::size_t number_width = 10;
constexpr double points_of_a_line = 15;
/// One of the report's faces, in a size whose digits are as wide as columns are counted in (7 pixels).
constexpr const char* face = "Lato";
constexpr double face_size = 9.5;
/// A spreadsheet follows no more links of one sheet.
constexpr std::size_t most_links = 65'000;

/// The library keeps a temporary file open for each sheet: a folder of a thousand runs needs more than are
/// usually permitted at first.
void permit_open_files()
{
    rlimit limit{};
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= limit.rlim_max)
        return;
    limit.rlim_cur = limit.rlim_max;
    setrlimit(RLIMIT_NOFILE, &limit);
}

std::size_t characters(std::string_view text)
{
    // Bytes of UTF-8 that begin a character, of the longest line.
    std::size_t longest = 0, line = 0;
    for (const char c : text) {
        if (c == '\n')
            line = 0;
        else if ((static_cast<unsigned char>(c) & 0xC0U) != 0x80U)
            longest = std::max(longest, ++line);
    }
    return longest;
}

/// A part of a header or footer, which hold 255 characters in all: cut between words. Codes begin with "&":
/// one in the text is written twice.
std::string shortened(std::string_view text)
{
    constexpr std::size_t longest = 80;
    bool cut = false;
    if (text.size() > longest) {
        const auto space = text.rfind(' ', longest);
        cut = true;
        text = text.substr(0, space == std::string_view::npos ? longest : space);
        while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0x80U) != 0)
            text.remove_suffix(1);
    }
    std::string result;
    for (const char c : text) {
        if (static_cast<unsigned char>(c) >= 0x20)
            result += c;
        if (c == '&')
            result += c;
    }
    return cut ? result + " ..." : result;
}

}  // namespace

void Sheet::check(int error, std::string_view doing) const
{
    if (error != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook, sheet \"{}\", {}: {}", name_, doing,
                                           lxw_strerror(static_cast<lxw_error>(error))));
}

void Sheet::count(Position position, std::string_view formula, std::string_view value)
{
    if (position.row < row_)
        throw std::logic_error(fmt::format("workbook, sheet \"{}\", cell {}: a row was left behind", name_,
                                           cell_name(position)));
    if (position.row > row_)
        count_row();
    row_ = position.row;
    if (in_row_.size() <= position.column)
        in_row_.resize(position.column + 1U);
    in_row_[position.column] = code_of_cell(cell_name(position), formula, value);
}

void Sheet::count_row()
{
    for (const auto& code : in_row_)
        if (code)
            tally_.add_cell(*code);
    in_row_.clear();
}

void Sheet::widen(std::uint16_t column, std::size_t count)
{
    if (widths_.size() <= column) {
        widths_.resize(column + 1U, 0);
        fixed_widths_.resize(column + 1U, false);
    }
    if (!fixed_widths_[column])
        widths_[column] =
            std::min(widest_column, std::max(widths_[column], static_cast<double>(count) + 1.5));
    last_column_ = std::max(last_column_, column);
}

void Sheet::column_width(std::uint16_t column, double count)
{
    widen(column, 0);
    widths_[column] = count;
    fixed_widths_[column] = true;
}

void Sheet::text(Position position, std::string_view text, Look look)
{
    if (text.empty())
        return;
    last_row_ = std::max(last_row_, position.row);
    if (look != Look::title && look != Look::note)
        widen(position.column, characters(text));
    const auto held = cell_text(text);
    count(position, {}, held);
    check(worksheet_write_string(sheet_, position.row, position.column, held.c_str(), book_->format(look)),
          "a text");
}

Look decimals(int count)
{
    const int offset = count < 0 ? 0 : (count > most_decimals ? most_decimals + 1 : count);
    return static_cast<Look>(static_cast<int>(Look::decimals) + offset);
}

Look significant(double value, int digits)
{
    if (value == 0 || !std::isfinite(value))  // what is not finite is refused where it is written
        return decimals(0);
    const int exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
    constexpr int largest = 7;
    return decimals(exponent > largest ? most_decimals + 1 : digits - 1 - exponent);
}

Look beside(double uncertainty)
{
    return uncertainty > 0 && std::isfinite(uncertainty) ? significant(uncertainty, 2) : Look::number;
}

void Sheet::number(Position position, double value, Look look)
{
    if (look == Look::number)
        look = significant(value);
    if (!std::isfinite(value))
        throw std::domain_error(
            fmt::format("workbook, sheet \"{}\", cell {}: the number is {}, a sheet holds finite "
                        "numbers only",
                        name_, cell_name(position), value));
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, number_width);
    count(position, {}, number_in_file(value));
    check(worksheet_write_number(sheet_, position.row, position.column, value, book_->format(look)),
          "a number");
}

void Sheet::check_length(Position position, const std::string& formula) const
{
    if (formula.size() + 1 > longest_formula)
        throw std::domain_error(
            fmt::format("workbook, sheet \"{}\", cell {}: the formula has {} characters, a cell "
                        "holds {}",
                        name_, cell_name(position), formula.size(), longest_formula));
}

void Sheet::formula(Position position, const std::string& formula, double value, Look look)
{
    if (!std::isfinite(value))
        throw std::domain_error(
            fmt::format("workbook, sheet \"{}\", cell {}: the formula {} gives {}, a sheet holds "
                        "finite numbers only",
                        name_, cell_name(position), formula, value));
    if (look == Look::number)
        look = significant(value);
    check_length(position, formula);
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, number_width);
    count(position, formula, number_in_file(value));
    check(worksheet_write_formula_num(sheet_, position.row, position.column, ("=" + formula).c_str(),
                                      book_->format(look), value),
          "a formula");
}

void Sheet::formula(Position position, const std::string& formula, std::string_view value, Look look)
{
    check_length(position, formula);
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, characters(value));
    const auto held = cell_text(value);
    count(position, formula, held);
    check(worksheet_write_formula_str(sheet_, position.row, position.column, ("=" + formula).c_str(),
                                      book_->format(look), held.c_str()),
          "a formula");
}

void Sheet::link(Position position, const std::string& target, std::string_view text)
{
    if (++links_ > most_links) {
        this->text(position, text);
        return;
    }
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, characters(text));
    const auto held = cell_text(text);
    count(position, {}, held);
    tally_.add_link(code_of_cell(cell_name(position), target, {}));
    check(worksheet_write_url_opt(sheet_, position.row, position.column, ("internal:" + target).c_str(),
                                  book_->format(Look::link), held.c_str(), nullptr),
          "a link");
}

void Sheet::headings(std::uint32_t row, const std::vector<Column>& columns)
{
    double lines = 1;
    for (std::uint16_t at = 0; at < columns.size(); ++at) {
        const auto& column = columns[at];
        if (column.width > 0)
            column_width(at, column.width);
        lines = std::max(lines, lines_of(column.heading, column.width > 0 ? column.width : widest_column));
    }
    row_lines(row, lines);
    bool after_numbers = false;
    for (std::uint16_t at = 0; at < columns.size(); ++at) {
        const bool numbers = columns[at].numbers;
        text({row, at}, columns[at].heading,
             numbers ? Look::number_heading : (after_numbers ? Look::after_heading : Look::heading));
        after_numbers = numbers;
    }
    worksheet_freeze_panes(sheet_, row + 1, 0);
    has_repeated_rows_ = true;
    check(worksheet_repeat_rows(sheet_, row, row), "repeated headings");
}

void Sheet::title(std::string_view title, std::string_view explanation, const std::vector<Link>& ways)
{
    constexpr double title_lines = 1.6;
    row_lines(0, title_lines);
    text({0, 0}, title, Look::title);
    text({1, 0}, explanation, Look::note);
    note_length_ = characters(explanation);
    for (std::uint16_t at = 0; at < ways.size(); ++at)
        link({2, at}, ways[at].target, ways[at].text);
}

void Sheet::row_lines(std::uint32_t row, double lines)
{
    check(worksheet_set_row(sheet_, row, points_of_a_line * lines, nullptr), "a row");
}

double Sheet::lines_of(std::string_view text, double width)
{
    // The width counts digits, which are wider than most letters; words do not fill a line to its end.
    return std::max(1.0, std::ceil(static_cast<double>(characters(text)) / (1.05 * width)));
}

void Sheet::mark_workings()
{
    worksheet_set_tab_color(sheet_, 0xBFBEBA);
}

void Sheet::row_height(double points)
{
    worksheet_set_default_row(sheet_, points, LXW_FALSE);
}

void Sheet::pages(std::uint16_t scale, const std::vector<std::uint32_t>& breaks)
{
    one_page_wide_ = false;
    worksheet_set_print_scale(sheet_, scale);
    auto list = breaks;
    list.push_back(0);
    check(worksheet_set_h_pagebreaks(sheet_, list.data()), "page breaks");
}

/// The explanation above the table runs over the columns to its right: so many are printed.
std::uint16_t Sheet::last_printed() const
{
    constexpr double usual_width = 8.43, narrow = 0.9;
    const std::uint16_t wanted = last_printed_ > 0 ? last_printed_ : last_column_;
    double width = 0;
    std::uint16_t column = 0;
    for (; column <= wanted || width < narrow * static_cast<double>(note_length_); ++column)
        width += column < widths_.size() && widths_[column] > 0 ? widths_[column] : usual_width;
    return static_cast<std::uint16_t>(column - 1);
}

void Sheet::extend_to(Position position)
{
    last_row_ = std::max(last_row_, position.row);
    last_column_ = std::max(last_column_, position.column);
}

Xlsx::Xlsx(const std::filesystem::path& file, Properties properties)
    : file_(file), properties_(std::move(properties))
{
    // The library would find out when it closes the file, and complain on stderr.
    errno = 0;
    if (!std::ofstream(file, std::ios::binary))
        throw std::system_error(errno, std::generic_category(), file.string());
    permit_open_files();
    lxw_workbook_options options{};
    options.constant_memory = LXW_TRUE;
    options.use_zip64 = LXW_FALSE;
    auto folder = std::filesystem::absolute(file).parent_path().string();
    options.tmpdir = folder.data();
    book_ = workbook_new_opt(file.c_str(), &options);
    if (book_ == nullptr)
        throw std::system_error(errno, std::generic_category(), file.string());
    add_formats();
    lxw_doc_properties document{};
    document.title = properties_.title.data();
    document.subject = properties_.subject.data();
    document.author = properties_.author.data();
    document.created = static_cast<time_t>(properties_.created);
    workbook_set_properties(book_, &document);
}

Xlsx::~Xlsx()
{
    if (book_ != nullptr)
        lxw_workbook_free(book_);
}

lxw_format* Xlsx::format(Look look) const
{
    return formats_[static_cast<std::size_t>(look)];
}

void Xlsx::add_formats()
{
    constexpr lxw_color_t grey = 0x595959, ink = 0x1C1C1C, head_fill = 0xF3F3F1, hairline = 0xBFBEBA,
                          blue = 0x2676C2;
    for (std::size_t i = 0; i < static_cast<std::size_t>(Look::count); ++i)
        formats_.push_back(workbook_add_format(book_));
    format_set_font_name(STAILQ_FIRST(book_->formats), face);  // the format of cells that have none
    format_set_font_size(STAILQ_FIRST(book_->formats), face_size);
    for (auto* format : formats_) {
        format_set_font_name(format, face);
        format_set_font_size(format, face_size);
    }
    // Without a format of its own a cell looks as the program that opens it shows words and numbers.
    formats_[static_cast<std::size_t>(Look::plain)] = nullptr;
    format_set_text_wrap(format(Look::wrapped));
    format_set_align(format(Look::wrapped), LXW_ALIGN_VERTICAL_TOP);
    format_set_font_color(format(Look::note), grey);
    format_set_font_size(format(Look::title), 15);
    format_set_bold(format(Look::title));
    for (const Look look : {Look::heading, Look::number_heading, Look::after_heading}) {
        format_set_bold(format(look));
        format_set_text_wrap(format(look));
        format_set_align(format(look), LXW_ALIGN_VERTICAL_BOTTOM);
        format_set_bg_color(format(look), head_fill);
        format_set_bottom(format(look), LXW_BORDER_THIN);
        format_set_top(format(look), LXW_BORDER_THIN);
        format_set_border_color(format(look), hairline);
    }
    format_set_align(format(Look::number_heading), LXW_ALIGN_RIGHT);
    format_set_indent(format(Look::after_heading), 1);
    format_set_indent(format(Look::after), 1);
    for (const Look look : {Look::after, Look::link, Look::editable})
        format_set_align(format(look), LXW_ALIGN_VERTICAL_TOP);
    format_set_bold(format(Look::strong));
    format_set_align(format(Look::strong), LXW_ALIGN_VERTICAL_TOP);
    format_set_num_format(format(Look::whole), "0;-0;0");
    format_set_num_format(format(Look::percent), "0.0%");
    format_set_num_format(format(Look::factor), "0.000;-0.000");
    format_set_font_color(format(Look::stored), grey);
    format_set_italic(format(Look::stored));
    format_set_border(format(Look::editable), LXW_BORDER_THIN);
    format_set_border_color(format(Look::editable), ink);
    format_set_unlocked(format(Look::editable));
    std::string decimal = "0";
    for (int count = 0; count <= most_decimals; ++count) {
        format_set_num_format(format(decimals(count)), decimal.c_str());
        decimal += count == 0 ? ".0" : "0";
    }
    format_set_num_format(format(decimals(most_decimals + 1)), "0.0000E+00");
    // Conditional formats may change neither face nor size: these three only colour and weigh.
    format_set_font_color(format(Look::passes), 0x00604A);
    format_set_bold(format(Look::in_doubt));
    format_set_bg_color(format(Look::in_doubt), head_fill);
    format_set_bold(format(Look::fails));
    format_set_font_color(format(Look::fails), 0xFFFFFF);
    format_set_bg_color(format(Look::fails), 0x4A0E3A);
    format_set_font_color(format(Look::link), blue);
    format_set_underline(format(Look::link), LXW_UNDERLINE_SINGLE);
}

Sheet& Xlsx::add_sheet(const std::string& name)
{
    if (workbook_validate_sheet_name(book_, name.c_str()) != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook: \"{}\" is no name for a sheet", name));
    errno = 0;
    auto* sheet = workbook_add_worksheet(book_, name.c_str());
    if (sheet == nullptr)
        throw std::system_error(errno == 0 ? ENOMEM : errno, std::generic_category(),
                                fmt::format("a temporary file for the sheet \"{}\"", name));
    sheets_.push_back(std::unique_ptr<Sheet>(new Sheet(*this, sheet, name)));
    return *sheets_.back();
}

Sheet& Xlsx::sheet(const std::string& name)
{
    const auto found =
        std::ranges::find_if(sheets_, [&](const auto& sheet) { return sheet->name() == name; });
    if (found == sheets_.end())
        throw std::logic_error(fmt::format("workbook: there is no sheet \"{}\"", name));
    return **found;
}

void Xlsx::define_name(const std::string& name, const std::string& target)
{
    if (workbook_define_name(book_, name.c_str(), ("=" + target).c_str()) != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook: \"{}\" is no name for cells", name));
    ++expected_.names;
}

void Xlsx::finish(Sheet& sheet) const
{
    auto* handle = sheet.sheet_;
    for (std::uint16_t column = 0; column < sheet.widths_.size(); ++column)
        if (sheet.widths_[column] > 0)
            sheet.check(worksheet_set_column(handle, column, column, sheet.widths_[column], nullptr),
                        "a column");
    constexpr std::uint8_t a4 = 9;
    worksheet_set_landscape(handle);
    worksheet_set_paper(handle, a4);
    if (sheet.one_page_wide_)
        worksheet_fit_to_pages(handle, 1, 0);
    worksheet_set_margins(handle, 0.5, 0.5, 0.75, 0.75);
    worksheet_gridlines(handle, LXW_HIDE_ALL_GRIDLINES);
    sheet.check(worksheet_print_area(handle, 0, 0, sheet.last_row_, sheet.last_printed()), "the print area");
    const auto header = fmt::format("&L{}&R{}", shortened(properties_.header_left), shortened(sheet.name_));
    const auto footer = fmt::format("&L{}&C{}&Rpage &P of &N", shortened(properties_.footer_left),
                                    shortened(properties_.footer_middle));
    sheet.check(worksheet_set_header(handle, header.c_str()), "the header");
    sheet.check(worksheet_set_footer(handle, footer.c_str()), "the footer");
}

void Xlsx::close()
{
    for (auto& sheet : sheets_) {
        finish(*sheet);
        sheet->count_row();
        expected_.names += sheet->has_repeated_rows_ ? 2U : 1U;  // with the printed area
        expected_.sheets.push_back({sheet->name_, sheet->tally_});
    }
    errno = 0;
    const auto error = workbook_close(book_);  // frees the workbook, whatever it returns
    book_ = nullptr;
    if (error != LXW_NO_ERROR)
        throw std::system_error(errno == 0 ? EIO : errno, std::generic_category(),
                                fmt::format("{}: {}", file_.string(), lxw_strerror(error)));
    put_own_parts(file_, properties_.version, face);
    check_package(file_, expected_);
}

}  // namespace luxdossier::workbook

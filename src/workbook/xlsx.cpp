#include "workbook/xlsx.hpp"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <fstream>
#include <stdexcept>
#include <system_error>

#include <fmt/format.h>
#include <xlsxwriter.h>

namespace luxdossier::workbook {
namespace {

constexpr double widest_column = 58;
constexpr std::size_t number_width = 12;

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

/// Header and footer codes begin with "&": one in the text is written twice.
std::string header_text(std::string_view text)
{
    std::string result;
    for (const char c : text) {
        result += c;
        if (c == '&')
            result += c;
    }
    return result;
}

}  // namespace

void Sheet::check(int error, std::string_view doing) const
{
    if (error != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook, sheet \"{}\", {}: {}", name_, doing,
                                           lxw_strerror(static_cast<lxw_error>(error))));
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
    check(worksheet_write_string(sheet_, position.row, position.column, cell_text(text).c_str(),
                                 book_->format(look)),
          "a text");
}

void Sheet::number(Position position, double value, Look look)
{
    if (!std::isfinite(value))
        throw std::domain_error(
            fmt::format("workbook, sheet \"{}\", cell {}: the number is {}, a sheet holds finite "
                        "numbers only",
                        name_, cell_name(position), value));
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, number_width);
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
    check_length(position, formula);
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, number_width);
    check(worksheet_write_formula_num(sheet_, position.row, position.column, ("=" + formula).c_str(),
                                      book_->format(look), value),
          "a formula");
}

void Sheet::formula(Position position, const std::string& formula, std::string_view value, Look look)
{
    check_length(position, formula);
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, characters(value));
    check(worksheet_write_formula_str(sheet_, position.row, position.column, ("=" + formula).c_str(),
                                      book_->format(look), cell_text(value).c_str()),
          "a formula");
}

void Sheet::link(Position position, const std::string& target, std::string_view text)
{
    last_row_ = std::max(last_row_, position.row);
    widen(position.column, characters(text));
    check(worksheet_write_url_opt(sheet_, position.row, position.column, ("internal:" + target).c_str(),
                                  book_->format(Look::link), cell_text(text).c_str(), nullptr),
          "a link");
}

void Sheet::headings(std::uint32_t row, const std::vector<std::string>& names)
{
    for (std::uint16_t column = 0; column < names.size(); ++column)
        text({row, column}, names[column], Look::heading);
    worksheet_freeze_panes(sheet_, row + 1, 0);
    check(worksheet_repeat_rows(sheet_, row, row), "repeated headings");
}

void Sheet::title(std::string_view title, std::string_view explanation)
{
    text({0, 0}, title, Look::title);
    text({1, 0}, explanation, Look::note);
}

void Sheet::choice(Position first, Position last, const std::vector<std::string>& texts)
{
    auto copies = texts;
    std::vector<char*> list;
    for (auto& one : copies)
        list.push_back(one.data());
    list.push_back(nullptr);
    lxw_data_validation validation{};
    validation.validate = LXW_VALIDATION_TYPE_LIST;
    validation.value_list = list.data();
    check(
        worksheet_data_validation_range(sheet_, first.row, first.column, last.row, last.column, &validation),
        "a choice");
}

void Sheet::at_least_zero(Position first, Position last)
{
    lxw_data_validation validation{};
    validation.validate = LXW_VALIDATION_TYPE_DECIMAL;
    validation.criteria = LXW_VALIDATION_CRITERIA_GREATER_THAN_OR_EQUAL_TO;
    validation.value_number = 0;
    check(
        worksheet_data_validation_range(sheet_, first.row, first.column, last.row, last.column, &validation),
        "a validation");
}

void Sheet::outcomes(Position first, Position last)
{
    std::pair<std::string, Look> words[] = {{"\"pass\"", Look::passes},
                                            {"\"conditional pass\"", Look::in_doubt},
                                            {"\"not decided\"", Look::in_doubt},
                                            {"\"conditional fail\"", Look::fails},
                                            {"\"fail\"", Look::fails}};
    for (auto& [word, look] : words) {
        lxw_conditional_format condition{};
        condition.type = LXW_CONDITIONAL_TYPE_CELL;
        condition.criteria = LXW_CONDITIONAL_CRITERIA_EQUAL_TO;
        condition.value_string = word.data();
        condition.format = book_->format(look);
        check(worksheet_conditional_format_range(sheet_, first.row, first.column, last.row, last.column,
                                                 &condition),
              "a conditional format");
    }
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
    lxw_workbook_options options{};
    options.constant_memory = LXW_TRUE;
    options.use_zip64 = LXW_FALSE;
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
    for (std::size_t i = 0; i < static_cast<std::size_t>(Look::count); ++i) {
        formats_.push_back(workbook_add_format(book_));
        format_set_font_name(formats_.back(), "Calibri");
        format_set_font_size(formats_.back(), 10);
        format_set_align(formats_.back(), LXW_ALIGN_VERTICAL_TOP);
    }
    constexpr lxw_color_t grey = 0x595959, ink = 0x1C1C1C, head_fill = 0xF3F3F1, hairline = 0xBFBEBA,
                          blue = 0x2676C2;
    format_set_text_wrap(format(Look::wrapped));
    format_set_font_color(format(Look::note), grey);
    format_set_font_size(format(Look::title), 15);
    format_set_bold(format(Look::title));
    format_set_bold(format(Look::heading));
    format_set_text_wrap(format(Look::heading));
    format_set_bg_color(format(Look::heading), head_fill);
    format_set_bottom(format(Look::heading), LXW_BORDER_THIN);
    format_set_top(format(Look::heading), LXW_BORDER_THIN);
    format_set_border_color(format(Look::heading), hairline);
    format_set_bold(format(Look::strong));
    format_set_num_format(format(Look::whole), "0");
    format_set_num_format(format(Look::percent), "0.0%");
    format_set_num_format(format(Look::factor), "0.000");
    format_set_font_color(format(Look::stored), grey);
    format_set_italic(format(Look::stored));
    for (const Look look : {Look::editable, Look::editable_text}) {
        format_set_border(format(look), LXW_BORDER_THIN);
        format_set_border_color(format(look), ink);
        format_set_unlocked(format(look));
    }
    // Conditional formats may change neither face nor size: these three only colour and weigh.
    for (const Look look : {Look::passes, Look::in_doubt, Look::fails})
        formats_[static_cast<std::size_t>(look)] = workbook_add_format(book_);
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
    lxw_worksheet* sheet = nullptr;
    if (workbook_validate_sheet_name(book_, name.c_str()) == LXW_NO_ERROR)
        sheet = workbook_add_worksheet(book_, name.c_str());
    if (sheet == nullptr)
        throw std::logic_error(fmt::format("workbook: \"{}\" is no name for a sheet", name));
    sheets_.push_back(std::unique_ptr<Sheet>(new Sheet(*this, sheet, name)));
    return *sheets_.back();
}

void Xlsx::define_name(const std::string& name, const std::string& target)
{
    if (workbook_define_name(book_, name.c_str(), ("=" + target).c_str()) != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook: \"{}\" is no name for cells", name));
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
    worksheet_fit_to_pages(handle, 1, 0);
    worksheet_set_margins(handle, 0.5, 0.5, 0.75, 0.75);
    worksheet_gridlines(handle, LXW_HIDE_ALL_GRIDLINES);
    sheet.check(worksheet_print_area(handle, 0, 0, sheet.last_row_, sheet.last_column_), "the print area");
    // Header and footer hold 255 characters at most.
    const auto part = [](const std::string& text) { return header_text(text.substr(0, 70)); };
    const auto header = fmt::format("&L{}&C{}&R{}", part(properties_.header_left), part(sheet.name_),
                                    part(properties_.header_right));
    const auto footer = fmt::format("&L{}&Rpage &P of &N", part(properties_.footer_left));
    sheet.check(worksheet_set_header(handle, header.c_str()), "the header");
    sheet.check(worksheet_set_footer(handle, footer.c_str()), "the footer");
}

void Xlsx::close()
{
    for (auto& sheet : sheets_)
        finish(*sheet);
    errno = 0;
    const auto error = workbook_close(book_);  // frees the workbook, whatever it returns
    book_ = nullptr;
    if (error != LXW_NO_ERROR)
        throw std::system_error(errno == 0 ? EIO : errno, std::generic_category(),
                                fmt::format("{}: {}", file_.string(), lxw_strerror(error)));
}

}  // namespace luxdossier::workbook

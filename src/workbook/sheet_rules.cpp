#include "workbook/xlsx.hpp"

#include <utility>

#include <xlsxwriter.h>

namespace luxdossier::workbook {

// What a spreadsheet does with cells when somebody edits them.

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

}  // namespace luxdossier::workbook

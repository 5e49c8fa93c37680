// Writes texts into a workbook, one below the other: the other side of texts_test.py.
//
//     write_texts WORKBOOK TEXT ...        each TEXT as hexadecimal digits of its bytes

#include "workbook/xlsx.hpp"

#include <string>

int main(int argc, char** argv)
{
    using namespace luxdossier::workbook;
    if (argc < 2)
        return 2;
    Xlsx::Properties properties;
    properties.header_left = "=1+1 & more";
    Xlsx book(argv[1], properties);
    auto& sheet = book.add_sheet("texts");
    for (int i = 2; i < argc; ++i) {
        const std::string digits = argv[i];
        std::string text;
        for (std::size_t at = 0; at + 1 < digits.size(); at += 2)
            text += static_cast<char>(std::stoi(digits.substr(at, 2), nullptr, 16));
        sheet.text({static_cast<std::uint32_t>(i) - 2, 0}, text);
    }
    book.close();
    return 0;
}

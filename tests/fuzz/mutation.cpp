#include "fuzz/mutation.hpp"

#include <algorithm>
#include <array>
#include <random>
#include <string_view>

namespace luxdossier::fuzz {
namespace {

class Mutation {
public:
    Mutation(std::string text, std::uint64_t seed) : text_(std::move(text)), draw_(seed) {}

    std::string run()
    {
        const auto changes = 1 + below(4);
        for (std::size_t i = 0; i < changes; ++i)
            change();
        return std::move(text_);
    }

private:
    /// Not std::uniform_int_distribution, whose numbers differ between libraries.
    std::size_t below(std::size_t bound)
    {
        return bound == 0 ? 0 : static_cast<std::size_t>(draw_() % bound);
    }

    /// A range of at most 40 bytes.
    std::pair<std::size_t, std::size_t> range()
    {
        const auto begin = below(text_.size() + 1);
        return {begin, std::min(text_.size() - begin, 1 + below(40))};
    }

    void change()
    {
        const auto [begin, length] = range();
        switch (below(7)) {
        case 0:
            if (begin < text_.size())
                text_[begin] = static_cast<char>(static_cast<unsigned char>(text_[begin]) ^ (1U << below(8)));
            return;
        case 1:
            text_.erase(begin, length);
            return;
        case 2:
            text_.insert(below(text_.size() + 1), text_.substr(begin, length));
            return;
        case 3:
            text_.insert(begin, token());
            return;
        case 4:
            text_.replace(begin, length, token());
            return;
        case 5:
            replace_number(begin);
            return;
        default:
            if (below(8) == 0)  // seldom: little is left of the text
                text_.resize(begin);
            else
                replace_number(begin);
        }
    }

    void replace_number(std::size_t from)
    {
        constexpr std::string_view digits = "0123456789";
        const auto begin = text_.find_first_of(digits, from);
        if (begin == text_.npos)
            return;
        const auto end = std::min(text_.find_first_not_of("0123456789.eE+-", begin), text_.size());
        text_.replace(begin, end - begin, number());
    }

    std::string_view number()
    {
        static constexpr auto numbers = std::to_array<std::string_view>({"0",
                                                                         "-0",
                                                                         "1",
                                                                         "-1",
                                                                         "2",
                                                                         "1e-300",
                                                                         "1e300",
                                                                         "-1e300",
                                                                         "1e999",
                                                                         "4.9e-324",
                                                                         "1e-9",
                                                                         "0.5",
                                                                         "100000",
                                                                         "1e15",
                                                                         "9007199254740993",
                                                                         "99999999999999999999",
                                                                         "NaN",
                                                                         "inf",
                                                                         "0x10",
                                                                         "1,5",
                                                                         "1e",
                                                                         ".",
                                                                         "-",
                                                                         ""});
        return numbers.at(below(numbers.size()));
    }

    std::string_view token()
    {
        using namespace std::string_view_literals;
        static constexpr auto tokens = std::to_array<std::string_view>({"\"",
                                                                        "'",
                                                                        ",",
                                                                        ";",
                                                                        "\t",
                                                                        "\n",
                                                                        "\r",
                                                                        "\r\n",
                                                                        "{",
                                                                        "}",
                                                                        "[",
                                                                        "]",
                                                                        ":",
                                                                        "#",
                                                                        "\\",
                                                                        "\\u0000",
                                                                        "\\ud800",
                                                                        "\0"sv,
                                                                        "\xEF\xBB\xBF",
                                                                        "\xFF\xFE",
                                                                        "\xFF",
                                                                        "\xC3",
                                                                        "null",
                                                                        "true",
                                                                        "[]",
                                                                        "{}",
                                                                        "\"\"",
                                                                        "1e999",
                                                                        "NaN",
                                                                        "%",
                                                                        "\xC2\xB0",
                                                                        "../",
                                                                        "/",
                                                                        "=",
                                                                        "+",
                                                                        "-",
                                                                        "@",
                                                                        "*",
                                                                        "**",
                                                                        "`",
                                                                        "{{",
                                                                        "}}",
                                                                        "|",
                                                                        "![](x)",
                                                                        "<b>",
                                                                        "2020-02-30",
                                                                        "T25:00",
                                                                        "lx",
                                                                        "klx",
                                                                        "mW/m2",
                                                                        "S1",
                                                                        "bare"});
        return tokens.at(below(tokens.size()));
    }

    std::string text_;
    std::mt19937_64 draw_;  // its sequence is fixed by the standard
};

}  // namespace

std::string mutate(std::string text, std::uint64_t seed)
{
    return Mutation(std::move(text), seed).run();
}

}  // namespace luxdossier::fuzz

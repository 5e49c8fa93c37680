#include "intake/formula_parser.hpp"

#include "diagnostics/diagnostic.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <optional>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

using uncertainty::Operation;

struct Function {
    std::string_view name;
    Operation operation;
    int arguments;
};

constexpr std::array functions{Function{"sqrt", Operation::square_root, 1},
                               Function{"exp", Operation::exponential, 1},
                               Function{"ln", Operation::natural_logarithm, 1},
                               Function{"log10", Operation::natural_logarithm, 1},
                               Function{"sin", Operation::sine, 1},
                               Function{"cos", Operation::cosine, 1},
                               Function{"tan", Operation::tangent, 1},
                               Function{"asin", Operation::arcsine, 1},
                               Function{"acos", Operation::arccosine, 1},
                               Function{"atan", Operation::arctangent, 1},
                               Function{"abs", Operation::absolute_value, 1},
                               Function{"min", Operation::minimum, 2},
                               Function{"max", Operation::maximum, 2}};

const Function* function_of(std::string_view name)
{
    const auto found = std::ranges::find(functions, name, &Function::name);
    return found == functions.end() ? nullptr : &*found;
}

bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' ||
           static_cast<unsigned char>(c) >= 0x80;
}

/// Thrown at the first fault of the grammar, caught by parse_formula.
struct Broken {};

class Parser {
public:
    Parser(std::string_view text, const std::vector<std::string>& symbols) : text_(text), symbols_(symbols) {}

    ParsedFormula parse() &&
    {
        try {
            sum();
            skip_blanks();
            if (at_ < text_.size())
                fail(at_, length_here(), fmt::format("found {}", quoted_here()),
                     "an operator or the end of the equation",
                     text_[at_] == ')' ? "" : "write * between factors");
        } catch (const Broken&) {
            parsed_.steps.clear();
        }
        return std::move(parsed_);
    }

private:
    void sum()
    {
        const Depth depth(*this);
        product();
        for (char sign = peek(); sign == '+' || sign == '-'; sign = peek()) {
            ++at_;
            product();
            push(sign == '+' ? Operation::add : Operation::subtract);
        }
    }

    void product()
    {
        signed_power();
        for (char sign = peek(); sign == '*' || sign == '/'; sign = peek()) {
            ++at_;
            signed_power();
            push(sign == '*' ? Operation::multiply : Operation::divide);
        }
    }

    /// -x^2 is -(x^2); 2^-x is 2^(-x).
    void signed_power()
    {
        const Depth depth(*this);
        const char sign = peek();
        if (sign == '-' || sign == '+') {
            ++at_;
            signed_power();
            if (sign == '-')
                push(Operation::negate);
            return;
        }
        operand();
        if (peek() == '^') {
            ++at_;
            signed_power();
            push(Operation::power);
        }
    }

    void operand()
    {
        const char first = peek();
        if (first == '(') {
            ++at_;
            sum();
            expect(')', "\")\"");
        } else if (is_digit(first) || first == '.') {
            number();
        } else if (is_letter(first)) {
            word();
        } else {
            fail(at_, length_here(),
                 at_ < text_.size() ? fmt::format("found {}", quoted_here())
                                    : "found the end of the equation",
                 "a number, a symbol, a function or \"(\"");
        }
    }

    void number()
    {
        double value = 0;
        const char* const begin = text_.data() + at_;
        const auto [end, error] = std::from_chars(begin, text_.data() + text_.size(), value);
        const auto length = std::max<std::size_t>(1, static_cast<std::size_t>(end - begin));
        if (error != std::errc{})
            fail(at_, length, fmt::format("found {}", diagnostics::quoted(text_.substr(at_, length))),
                 error == std::errc::result_out_of_range ? "a number of at most 1.8e308" : "a number");
        at_ += length;
        parsed_.steps.push_back({Operation::constant, value, {}});
    }

    void word()
    {
        const auto begin = at_;
        while (at_ < text_.size() && (is_letter(text_[at_]) || is_digit(text_[at_])))
            ++at_;
        const auto name = text_.substr(begin, at_ - begin);
        if (peek() == '(')
            return call(begin, name);
        if (name == "pi") {
            parsed_.steps.push_back({Operation::constant, std::numbers::pi, {}});
            return;
        }
        if (function_of(name) != nullptr)
            fail(begin, name.size(),
                 fmt::format("found function {} without its argument", diagnostics::quoted(name)),
                 fmt::format("\"{}(...)\"", name));
        if (std::ranges::find(symbols_, name) == symbols_.end())
            unknown(begin, name, "symbol", symbols_.begin(), symbols_.end());
        parsed_.steps.push_back({Operation::input, 0.0, std::string(name)});
    }

    void call(std::size_t begin, std::string_view name)
    {
        ++at_;
        const auto* function = function_of(name);
        if (function == nullptr) {
            std::vector<std::string_view> names;
            for (const auto& known : functions)
                names.push_back(known.name);
            if (name == "log")
                parsed_.faults.push_back({begin, name.size(), "found function \"log\"", "\"ln\" or \"log10\"",
                                          "trades differ on what log means"});
            else
                unknown(begin, name, "function", names.begin(), names.end());
        }
        int arguments = 0;
        do {
            sum();
            ++arguments;
        } while (peek() == ',' && ++at_ > 0);
        expect(')', "\",\" or \")\"");
        if (function == nullptr)
            throw Broken{};  // how many values it leaves is not known
        if (arguments != function->arguments)
            fail(begin, name.size(),
                 fmt::format("found {} argument{} of {}", arguments, arguments == 1 ? "" : "s", name),
                 fmt::format("{}", function->arguments));
        push(function->operation);
        if (name == "log10") {
            parsed_.steps.push_back({Operation::constant, std::numbers::ln10, {}});
            push(Operation::divide);
        }
    }

    template <class Iterator>
    void unknown(std::size_t begin, std::string_view name, std::string_view what, Iterator first,
                 Iterator last)
    {
        const std::vector<std::string_view> names(first, last);
        const auto near = diagnostics::nearest(name, names);
        parsed_.faults.push_back(
            {begin,
             name.size(),
             fmt::format("found unknown {} {}", what, diagnostics::quoted(name)),
             near.empty() ? fmt::format("one of {}", fmt::join(names, ", ")) : fmt::format("\"{}\"", near),
             {}});
    }

    /// The next character that is no blank; 0 at the end.
    char peek()
    {
        skip_blanks();
        return at_ < text_.size() ? text_[at_] : '\0';
    }
    void skip_blanks()
    {
        while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\t' || text_[at_] == '\n'))
            ++at_;
    }
    void expect(char wanted, std::string_view words)
    {
        if (peek() != wanted)
            fail(at_, length_here(),
                 at_ < text_.size() ? fmt::format("found {}", quoted_here())
                                    : "found the end of the equation",
                 std::string(words));
        ++at_;
    }
    void push(Operation operation) { parsed_.steps.push_back({operation, 0.0, {}}); }

    [[nodiscard]] std::size_t length_here() const
    {
        std::size_t end = at_;
        if (end < text_.size() && is_letter(text_[end]))
            while (end < text_.size() && (is_letter(text_[end]) || is_digit(text_[end])))
                ++end;
        return std::max<std::size_t>(1, end - at_);
    }
    [[nodiscard]] std::string quoted_here() const
    {
        return diagnostics::quoted(text_.substr(at_, length_here()));
    }
    [[noreturn]] void fail(std::size_t offset, std::size_t length, std::string found, std::string expected,
                           std::string advice = {})
    {
        parsed_.faults.push_back({offset, length, std::move(found), std::move(expected), std::move(advice)});
        throw Broken{};
    }

    /// Keeps nested parentheses and signs from exhausting the stack.
    class Depth {
    public:
        explicit Depth(Parser& parser) : parser_(parser)
        {
            constexpr int deepest = 200;
            if (++parser_.depth_ > deepest)
                parser_.fail(parser_.at_, 1,
                             fmt::format("found an equation nested more than {} deep", deepest),
                             "a simpler one");
        }
        Depth(const Depth&) = delete;
        Depth& operator=(const Depth&) = delete;
        ~Depth() { --parser_.depth_; }

    private:
        Parser& parser_;
    };

    std::string_view text_;
    const std::vector<std::string>& symbols_;
    std::size_t at_ = 0;
    int depth_ = 0;
    ParsedFormula parsed_;
};

}  // namespace

ParsedFormula parse_formula(std::string_view text, const std::vector<std::string>& symbols)
{
    return Parser(text, symbols).parse();
}

bool is_symbol(std::string_view text)
{
    return !text.empty() && is_letter(text.front()) &&
           std::ranges::all_of(text, [](char c) { return is_letter(c) || is_digit(c); }) && text != "pi" &&
           text != "log" && function_of(text) == nullptr;
}

}  // namespace luxdossier::intake

#include "report/symbols.hpp"

#include "report/numbers.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <utility>

namespace luxdossier::report {
namespace {

using Pair = std::pair<std::string_view, std::string_view>;

constexpr std::array<Pair, 24> greek{{
    {"alpha", "α"}, {"beta", "β"},  {"gamma", "γ"}, {"delta", "δ"}, {"epsilon", "ε"}, {"eps", "ε"},
    {"zeta", "ζ"},  {"eta", "η"},   {"theta", "θ"}, {"kappa", "κ"}, {"lambda", "λ"},  {"mu", "µ"},
    {"nu", "ν"},    {"rho", "ρ"},   {"sigma", "σ"}, {"tau", "τ"},   {"phi", "φ"},     {"psi", "ψ"},
    {"omega", "ω"}, {"Delta", "Δ"}, {"Sigma", "Σ"}, {"Phi", "Φ"},   {"Omega", "Ω"},   {"chi", "χ"},
}};
constexpr std::array<std::string_view, 26> words{
    "ln", "log", "sin", "cos", "tan", "exp",  "max", "min",  "mean", "sqrt", "abs", "if",  "of",
    "in", "at",  "to",  "on",  "and", "over", "or",  "with", "the",  "by",   "is",  "int", "lx"};

bool is_letter(char c)
{
    return std::isalpha(static_cast<unsigned char>(c)) != 0;
}
bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}
bool is_word_character(char c)
{
    return is_letter(c) || is_digit(c);
}

// Written "int Z V" and "sum (e_i - e)".
std::string_view operator_sign(std::string_view name)
{
    return name == "int" ? "∫" : name == "sum" ? "∑" : name;
}

std::string_view greek_letter(std::string_view name)
{
    const auto* const found = std::ranges::find(greek, name, &Pair::first);
    return found == greek.end() ? std::string_view() : found->second;
}

void add(Text& text, std::string_view piece, Style style)
{
    if (piece.empty())
        return;
    if (!text.empty() && text.back().style == style)
        text.back().text += piece;
    else
        text.push_back({std::string(piece), style});
}

// Subscripts and superscripts: minus sign and Greek letters as print has them.
std::string printed_index(std::string_view index)
{
    if (const auto letter = greek_letter(index); !letter.empty())
        return std::string(letter);
    std::string text;
    for (const char c : index) {
        if (c == '-')
            text += "\u2212";
        else
            text += c == '_' ? ',' : c;
    }
    return text;
}

// The part behind "_" or "^": a parenthesised expression, or a word (a sign may lead a superscript).
std::string_view take_index(std::string_view rest, bool sign_allowed)
{
    if (rest.empty())
        return {};
    if (rest.front() == '(' || rest.front() == '{') {
        int depth = 0;
        for (std::size_t i = 0; i < rest.size(); ++i) {
            depth += rest[i] == '(' || rest[i] == '{' ? 1 : rest[i] == ')' || rest[i] == '}' ? -1 : 0;
            if (depth == 0)
                return rest.substr(0, i + 1);
        }
        return rest;
    }
    std::size_t end = sign_allowed && (rest.front() == '-' || rest.front() == '+') ? 1 : 0;
    while (end < rest.size() &&
           (is_word_character(rest[end]) || (!sign_allowed && (rest[end] == ',' || rest[end] == '_'))))
        ++end;
    while (end > 0 && (rest[end - 1] == ',' || rest[end - 1] == '_'))
        --end;
    return rest.substr(0, end);
}

std::string_view without_brackets(std::string_view index)
{
    if (index.size() >= 2 && (index.front() == '(' || index.front() == '{'))
        return index.substr(1, index.size() - 2);
    return index;
}

// One name at the start of `rest` with what belongs to it; returns its length.
std::size_t add_name(Text& text, std::string_view rest, bool always_symbol)
{
    std::size_t letters = 0;
    while (letters < rest.size() && is_letter(rest[letters]))
        ++letters;
    std::size_t end = letters;
    while (end < rest.size() && is_digit(rest[end]))
        ++end;
    const auto name = rest.substr(0, letters);
    const auto digits = rest.substr(letters, end - letters);
    const auto letter = greek_letter(name);
    const bool has_subscript = end < rest.size() && rest[end] == '_';
    const bool word = letter.empty() && !always_symbol &&
                      (std::ranges::find(words, name) != words.end() || (name.size() > 2 && !has_subscript));
    add(text,
        word             ? operator_sign(name)
        : letter.empty() ? name
                         : letter,
        word ? Style::plain : Style::italic);
    if (!digits.empty())
        add(text, digits, word ? Style::plain : Style::subscript);
    if (has_subscript) {
        const auto index = take_index(rest.substr(end + 1), false);
        add(text, printed_index(without_brackets(index)), Style::subscript);
        end += 1 + index.size();
    }
    while (end < rest.size() && rest[end] == '\'') {
        add(text, "′", Style::plain);
        ++end;
    }
    return end;
}

constexpr std::array<Pair, 6> signs{
    {{"+-", "±"}, {"<=", "≤"}, {">=", "≥"}, {"...", "…"}, {" x ", " × "}, {"*", "\u2009"}}};

// An operator sign at the start of `rest`; returns its length, 0 where there is none.
std::size_t add_sign(Text& text, std::string_view rest)
{
    for (const auto& [written, printed] : signs) {
        if (rest.starts_with(written)) {
            add(text, printed, Style::plain);
            return written.size();
        }
    }
    if (rest.front() == '-') {
        add(text, "\u2212", Style::plain);
        return 1;
    }
    return 0;
}

double parsed(std::string_view digits)
{
    double value = 0;
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
}

// A number at the start of `rest`, printed to six significant digits at most; returns its length.
std::size_t add_number(Text& text, std::string_view rest)
{
    std::size_t end = 0, digits = 0;
    while (end < rest.size() && (is_digit(rest[end]) || rest[end] == '.'))
        digits += rest[end++] == '.' ? 0U : 1U;
    const bool exponent = end + 2 < rest.size() && rest[end] == 'e' &&
                          (is_digit(rest[end + 1]) ||
                           ((rest[end + 1] == '-' || rest[end + 1] == '+') && is_digit(rest[end + 2])));
    if (exponent) {
        end += 2;
        while (end < rest.size() && is_digit(rest[end]))
            ++end;
    }
    constexpr std::size_t printed_digits = 6;
    if (!exponent && digits <= printed_digits) {
        add(text, rest.substr(0, end), Style::plain);
        return end;
    }
    add(text, significant_text(parsed(rest.substr(0, end)), static_cast<int>(printed_digits)), Style::plain);
    return end;
}

}  // namespace

Text plain(std::string_view text)
{
    return styled(text, Style::plain);
}

Text styled(std::string_view text, Style style)
{
    return text.empty() ? Text{} : Text{Span{std::string(text), style}};
}

void append(Text& text, Text more)
{
    for (auto& span : more)
        text.push_back(std::move(span));
}

std::string plain_text(const Text& text)
{
    std::string all;
    for (const auto& span : text)
        all += span.text;
    return all;
}

Text symbol_text(std::string_view symbol)
{
    Text text;
    if (!symbol.empty() && is_letter(symbol.front())) {
        const std::size_t used = add_name(text, symbol, true);
        append(text, formula_text(symbol.substr(used)));
        return text;
    }
    return formula_text(symbol);
}

Text formula_text(std::string_view formula)
{
    Text text;
    std::size_t at = 0;
    while (at < formula.size()) {
        const auto rest = formula.substr(at);
        if (is_letter(rest.front())) {
            at += add_name(text, rest, false);
        } else if (is_digit(rest.front())) {
            at += add_number(text, rest);
        } else if (rest.front() == '^') {
            const auto index = take_index(rest.substr(1), true);
            add(text, printed_index(without_brackets(index)), Style::superscript);
            at += 1 + index.size();
        } else if (const std::size_t length = add_sign(text, rest); length > 0) {
            at += length;
        } else {
            add(text, rest.substr(0, 1), Style::plain);  // digits, brackets, spaces, bytes of UTF-8
            ++at;
        }
    }
    return text;
}

Text prose_text(std::string_view sentence)
{
    constexpr std::string_view opening = "(", closing = ",.;:)";
    Text text;
    std::string words;
    bool opens_sentence = true;
    const auto flush = [&] {
        append(text, plain(words));
        words.clear();
    };
    while (!sentence.empty()) {
        const auto end = std::min(sentence.find(' '), sentence.size());
        const std::string_view word = sentence.substr(0, end);
        const auto first = std::min(word.find_first_not_of(opening), word.size());
        const auto last = word.find_last_not_of(closing);
        const std::string_view core = last == std::string_view::npos || last < first
                                          ? std::string_view()
                                          : word.substr(first, last + 1 - first);
        const bool capital = core.size() == 1 && core[0] >= 'A' && core[0] <= 'Z' && !opens_sentence;
        if (word == "-") {
            words += "\u2212";
        } else if (capital || core.find('_') != std::string_view::npos) {
            words += word.substr(0, first);
            flush();
            append(text, symbol_text(core));
            words += word.substr(last + 1);
        } else {
            words += word;
        }
        opens_sentence = word.ends_with('.') || word.ends_with(':');
        sentence.remove_prefix(end);
        if (!sentence.empty()) {
            words += ' ';
            sentence.remove_prefix(1);
        }
    }
    flush();
    return text;
}

}  // namespace luxdossier::report

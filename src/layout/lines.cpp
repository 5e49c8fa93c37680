#include "layout/lines.hpp"

#include <algorithm>
#include <string_view>

namespace luxdossier::layout {
namespace {

// Kerning with a space can make a joined run a trace wider than its words.
constexpr double safety_mm = 0.08;
constexpr double shortest_broken_word =
    20;  // paths and long ids may be broken at their separators, words not

struct WordPart {
    std::string text;
    report::Style style;
    double width = 0;
    std::string link = {};
};
struct Word {
    std::vector<WordPart> parts;
    double width = 0;
    report::Style space_style = report::Style::plain;  ///< of the space before it
    std::string space_link = {};
};

double width_of(const Fonts& fonts, std::string_view text, report::Style style, const TypeStyle& base)
{
    const auto type = run_type(style, base).type;
    return fonts.width(text, type.face, type.size_pt, type.tabular);
}

std::vector<Word> words_of(const Fonts& fonts, const report::Text& text, const TypeStyle& base)
{
    std::vector<Word> words;
    bool open = false;
    report::Style space = report::Style::plain;
    std::string space_link;
    for (const auto& span : text) {
        std::size_t at = 0;
        while (at < span.text.size()) {
            if (span.text[at] == ' ' || span.text[at] == '\n') {
                open = false;
                space = span.style;
                space_link = span.link;
                ++at;
                continue;
            }
            const auto end = std::min(span.text.find_first_of(" \n", at), span.text.size());
            if (!open)
                words.push_back({{}, 0, space, space_link});
            open = true;
            WordPart part{span.text.substr(at, end - at), span.style, 0, span.link};
            part.width = width_of(fonts, part.text, part.style, base);
            words.back().width += part.width;
            words.back().parts.push_back(std::move(part));
            at = end;
        }
    }
    return words;
}

std::size_t next_character(std::string_view text, std::size_t at)
{
    ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U)
        ++at;
    return at;
}

// A long word may be broken behind these; not inside a date or a number.
bool parts_a_word(std::string_view text, std::size_t at)
{
    if (std::string_view("/_=:").find(text[at]) != std::string_view::npos)
        return true;
    const auto digit = [&](std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; };
    return std::string_view("-.,").find(text[at]) != std::string_view::npos &&
           !(at > 0 && digit(at - 1) && digit(at + 1));
}

// How many bytes of a part fit into `room`; 0: none. Breaks behind a separator in the last two thirds where
// there is one.
std::size_t fitting_prefix(const Fonts& fonts, const WordPart& part, const TypeStyle& base, double room)
{
    std::size_t fits = 0, separator = 0;
    for (std::size_t end = next_character(part.text, 0);; end = next_character(part.text, end)) {
        if (width_of(fonts, std::string_view(part.text).substr(0, end), part.style, base) > room)
            break;
        fits = end;
        if (parts_a_word(part.text, end - 1))
            separator = end;
        if (end >= part.text.size())
            break;
    }
    return fits < part.text.size() && separator * 3 > fits ? separator : fits;
}

class Breaker {
public:
    Breaker(const Fonts& fonts, const TypeStyle& base, double width_mm)
        : fonts_(fonts), base_(base), room_(width_mm - safety_mm)
    {
    }

    std::vector<Line> lines(const std::vector<Word>& words)
    {
        for (const auto& word : words)
            add(word);
        finish();
        return std::move(lines_);
    }

private:
    void add(const Word& word)
    {
        const double space = used_ > 0 ? width_of(fonts_, " ", word.space_style, base_) : 0;
        if (used_ > 0 && used_ + space + word.width > room_)
            finish();
        else if (used_ > 0)
            append(" ", word.space_style, space, word.space_link);
        if (word.width <= room_) {
            for (const auto& part : word.parts)
                append(part.text, part.style, part.width, part.link);
            return;
        }
        for (auto part : word.parts)
            add_broken(std::move(part));
    }

    void add_broken(WordPart part)
    {
        while (!part.text.empty()) {
            std::size_t length = fitting_prefix(fonts_, part, base_, room_ - used_);
            if (length == 0 && used_ > 0) {
                finish();
                continue;
            }
            length = std::max(length, next_character(part.text, 0));
            const std::string piece = part.text.substr(0, length);
            append(piece, part.style, width_of(fonts_, piece, part.style, base_), part.link);
            part.text.erase(0, length);
            if (!part.text.empty())
                finish();
        }
    }

    void append(std::string_view text, report::Style style, double width, const std::string& link)
    {
        if (!runs_.empty() && runs_.back().style == style && runs_.back().link == link)
            runs_.back().text += text;
        else
            runs_.push_back({std::string(text), style, 0, 0, link});
        used_ += width;
    }

    void finish()
    {
        if (runs_.empty())
            return;
        Line line;
        for (auto& run : runs_) {
            run.x = line.width;
            run.width = width_of(fonts_, run.text, run.style, base_);
            line.width += run.width;
        }
        line.runs = std::move(runs_);
        lines_.push_back(std::move(line));
        runs_.clear();
        used_ = 0;
    }

    const Fonts& fonts_;
    const TypeStyle& base_;
    double room_;
    double used_ = 0;
    std::vector<Run> runs_;
    std::vector<Line> lines_;
};

}  // namespace

RunType run_type(report::Style style, const TypeStyle& base)
{
    RunType result{base, 0};
    switch (style) {
    case report::Style::plain:
        break;
    case report::Style::italic:
        result.type.face = TextItem::Face::italic;
        break;
    case report::Style::semibold:
        result.type.face = TextItem::Face::semibold;
        break;
    case report::Style::grey:
        result.type.colour = grey;
        break;
    case report::Style::small:
        result.type.size_pt = std::min(6.2, base.size_pt);
        break;
    case report::Style::subscript:
        result.type.size_pt = base.size_pt * 0.7;
        result.raise_mm = -pt(base.size_pt * 0.16);
        break;
    case report::Style::superscript:
        result.type.size_pt = base.size_pt * 0.7;
        result.raise_mm = pt(base.size_pt * 0.34);
        break;
    }
    return result;
}

std::vector<Line> break_lines(const Fonts& fonts, const report::Text& text, const TypeStyle& style,
                              double width_mm)
{
    return Breaker(fonts, style, width_mm).lines(words_of(fonts, text, style));
}

Line single_line(const Fonts& fonts, const report::Text& text, const TypeStyle& style)
{
    Line line;
    for (const auto& span : text) {
        Run run{span.text, span.style, line.width, width_of(fonts, span.text, span.style, style), span.link};
        line.width += run.width;
        line.runs.push_back(std::move(run));
    }
    return line;
}

double widest_word(const Fonts& fonts, const report::Text& text, const TypeStyle& style)
{
    double widest = 0;
    for (const auto& word : words_of(fonts, text, style)) {
        if (word.parts.size() > 1 || word.width < shortest_broken_word) {
            widest = std::max(widest, word.width);
            continue;
        }
        const auto& part = word.parts.front();
        std::size_t start = 0;
        for (std::size_t i = 0; i < part.text.size(); ++i) {
            if (i + 1 < part.text.size() && !parts_a_word(part.text, i))
                continue;
            widest =
                std::max(widest, width_of(fonts, std::string_view(part.text).substr(start, i + 1 - start),
                                          part.style, style));
            start = i + 1;
        }
    }
    return widest + 2 * safety_mm;
}

void draw_line(Canvas& canvas, const Line& line, Position baseline, const TypeStyle& style)
{
    for (const auto& run : line.runs) {
        const auto type = run_type(run.style, style);
        canvas.text({baseline.x + run.x, baseline.y - type.raise_mm}, run.text, type.type);
        if (!run.link.empty())
            canvas.add(
                LinkItem{{baseline.x + run.x, baseline.y - pt(style.size_pt), run.width, pt(style.line_pt)},
                         run.link});
    }
}

}  // namespace luxdossier::layout

#include "report/template.hpp"

#include "report/placeholders.hpp"
#include "report/symbols.hpp"

#include <algorithm>
#include <memory>

#include <cmark.h>
#include <fmt/format.h>

namespace luxdossier::report {
namespace {

struct NodeDeleter {
    void operator()(cmark_node* node) const { cmark_node_free(node); }
};
using NodeHandle = std::unique_ptr<cmark_node, NodeDeleter>;

std::string text_or_empty(const char* text)
{
    return text == nullptr ? std::string() : std::string(text);
}

class Reader {
public:
    Reader(std::string_view name, const std::string& text, const Lookup& lookup,
           std::vector<diagnostics::Diagnostic>& faults)
        : name_(name), text_(text), lookup_(lookup), faults_(faults)
    {
    }

    std::vector<Piece> read()
    {
        const NodeHandle root(cmark_parse_document(text_.data(), text_.size(), CMARK_OPT_DEFAULT));
        for (auto* node = cmark_node_first_child(root.get()); node != nullptr; node = cmark_node_next(node))
            add_block(node);
        return std::move(pieces_);
    }

private:
    void add_block(cmark_node* node)
    {
        line_ = static_cast<std::size_t>(std::max(0, cmark_node_get_start_line(node)));
        switch (cmark_node_get_type(node)) {
        case CMARK_NODE_HEADING:
            add(HeadingPiece{cmark_node_get_heading_level(node), inline_text(node)});
            break;
        case CMARK_NODE_PARAGRAPH:
            add_paragraph(node);
            break;
        case CMARK_NODE_LIST:
            add(BulletsPiece{list_items(node)});
            break;
        case CMARK_NODE_BLOCK_QUOTE:
            add_caution(node);
            break;
        case CMARK_NODE_THEMATIC_BREAK:
            add(BreakPiece{});
            break;
        case CMARK_NODE_HTML_BLOCK:
            if (!text_or_empty(cmark_node_get_literal(node)).starts_with("<!--"))
                fault("found HTML", "CommonMark without HTML", "write headings, paragraphs, lists and images",
                      "<");
            break;
        default:
            fault(fmt::format("found a {}", cmark_node_get_type_string(node)),
                  "a heading, paragraph, list, quote or image", "write it as a paragraph", "");
        }
    }

    template <typename Content>
    void add(Content content)
    {
        auto& piece = pieces_.emplace_back();
        piece.line = line_;
        piece.content.template emplace<Content>(std::move(content));
    }

    // Images part a paragraph: what stands between two of them is a paragraph of its own.
    void add_paragraph(cmark_node* node)
    {
        Text text;
        for (auto* child = cmark_node_first_child(node); child != nullptr; child = cmark_node_next(child)) {
            if (cmark_node_get_type(child) == CMARK_NODE_IMAGE) {
                flush(text);
                const int line = cmark_node_get_start_line(child);
                line_ = line > 0 ? static_cast<std::size_t>(line) : line_;
                add_insert(child);
            } else {
                add_inline(text, child, Style::plain);
            }
        }
        flush(text);
    }

    void flush(Text& text)
    {
        const std::string words = plain_text(text);
        if (words.find_first_not_of(" \n") != std::string::npos)
            add(ParagraphPiece{text});
        text.clear();
    }

    void add_insert(cmark_node* image)
    {
        const std::string address = text_or_empty(cmark_node_get_url(image));
        const auto colon = address.find(':');
        if (colon == std::string::npos) {
            fault(fmt::format("found image \"{}\"", address), "plot:, table:, chapter: or part: and a name",
                  "write for example ![Verdicts](table:verdicts)", address);
            return;
        }
        add(InsertPiece{address.substr(0, colon), address.substr(colon + 1), plain_text(inline_text(image))});
    }

    void add_caution(cmark_node* quote)
    {
        CautionPiece caution;
        for (auto* block = cmark_node_first_child(quote); block != nullptr; block = cmark_node_next(block)) {
            auto* child = cmark_node_first_child(block);
            if (caution.title.empty() && child != nullptr &&
                cmark_node_get_type(child) == CMARK_NODE_STRONG) {
                caution.title = plain_text(inline_text(child));
                child = cmark_node_next(child);
            }
            if (!caution.text.empty())
                caution.text.push_back({" ", Style::plain});
            for (; child != nullptr; child = cmark_node_next(child))
                add_inline(caution.text, child, Style::plain);
        }
        add(std::move(caution));
    }

    std::vector<Text> list_items(cmark_node* list)
    {
        std::vector<Text> items;
        for (auto* item = cmark_node_first_child(list); item != nullptr; item = cmark_node_next(item)) {
            Text text;
            for (auto* block = cmark_node_first_child(item); block != nullptr; block = cmark_node_next(block))
                append(text, inline_text(block));
            items.push_back(std::move(text));
        }
        return items;
    }

    Text inline_text(cmark_node* parent)
    {
        Text text;
        for (auto* child = cmark_node_first_child(parent); child != nullptr; child = cmark_node_next(child))
            add_inline(text, child, Style::plain);
        return text;
    }

    void add_inline(Text& text, cmark_node* node, Style style)
    {
        switch (cmark_node_get_type(node)) {
        case CMARK_NODE_TEXT:
        case CMARK_NODE_CODE:
            add_words(text, substituted(text_or_empty(cmark_node_get_literal(node))), style);
            break;
        case CMARK_NODE_SOFTBREAK:
        case CMARK_NODE_LINEBREAK:
            add_words(text, " ", style);
            break;
        case CMARK_NODE_EMPH:
            add_children(text, node, Style::italic);
            break;
        case CMARK_NODE_STRONG:
            add_children(text, node, Style::semibold);
            break;
        case CMARK_NODE_HTML_INLINE:
            break;
        default:
            add_children(text, node, style);
        }
    }

    void add_children(Text& text, cmark_node* node, Style style)
    {
        for (auto* child = cmark_node_first_child(node); child != nullptr; child = cmark_node_next(child))
            add_inline(text, child, style);
    }

    static void add_words(Text& text, std::string words, Style style)
    {
        if (!text.empty() && text.back().style == style)
            text.back().text += words;
        else if (!words.empty())
            text.push_back({std::move(words), style});
    }

    std::string substituted(const std::string& text)
    {
        std::string result;
        for (std::size_t i = 0; i < text.size(); ++i) {
            if (text.compare(i, 2, "{{") == 0 || text.compare(i, 2, "}}") == 0) {
                result += text[i++];
            } else if (text[i] == '{') {
                const auto end = text.find('}', i);
                if (end == std::string::npos) {
                    fault("found \"{\" without \"}\"", "a placeholder such as {document.number}",
                          "write {{ for a brace", "{");
                    return result;
                }
                result += value_of(text.substr(i + 1, end - i - 1));
                i = end;
            } else {
                result += text[i];
            }
        }
        return result;
    }

    std::string value_of(const std::string& name)
    {
        if (auto value = lookup_(name))
            return *value;
        const auto names = placeholder_names();
        const auto near = diagnostics::nearest(name, names);
        fault(fmt::format("found placeholder \"{{{}}}\"", name),
              near.empty() ? "a known placeholder" : fmt::format("\"{{{}}}\"", near),
              fmt::format("known are {}", fmt::join(names, ", ")), "{" + name + "}");
        return {};
    }

    // cmark gives no columns of text behind a line break: the offending words are looked for from the block's
    // line on.
    void fault(std::string found, std::string expected, std::string advice, const std::string& words)
    {
        diagnostics::Diagnostic diagnostic;
        diagnostic.location.file = name_;
        diagnostic.location.line = line_;
        diagnostic.found = std::move(found);
        diagnostic.expected = std::move(expected);
        diagnostic.advice = std::move(advice);
        locate(diagnostic, words);
        faults_.push_back(std::move(diagnostic));
    }

    void locate(diagnostics::Diagnostic& diagnostic, const std::string& words) const
    {
        std::size_t start = 0;
        for (std::size_t line = 1; line < line_ && start != std::string::npos; ++line) {
            const auto end = text_.find('\n', start);
            start = end == std::string::npos ? end : end + 1;
        }
        if (words.empty() || start == std::string::npos)
            return;
        const auto at = text_.find(words, start);
        if (at == std::string::npos)
            return;
        const auto line_start =
            text_.rfind('\n', at) == std::string::npos || at == 0 ? 0 : text_.rfind('\n', at) + 1;
        diagnostic.location.line =
            1 + static_cast<std::size_t>(
                    std::count(text_.begin(), text_.begin() + static_cast<std::ptrdiff_t>(at), '\n'));
        diagnostic.location.column = at - line_start + 1;
        diagnostic.source_line = text_.substr(line_start, text_.find('\n', at) - line_start);
        diagnostic.caret_length = words.size();
    }

    std::string name_;
    const std::string& text_;
    const Lookup& lookup_;
    std::vector<diagnostics::Diagnostic>& faults_;
    std::vector<Piece> pieces_;
    std::size_t line_ = 0;
};

}  // namespace

std::vector<Piece> read_template(std::string_view name, const std::string& text, const Lookup& lookup,
                                 std::vector<diagnostics::Diagnostic>& faults)
{
    return Reader(name, text, lookup, faults).read();
}

}  // namespace luxdossier::report

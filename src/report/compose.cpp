#include "report/document.hpp"
#include "report/parts.hpp"
#include "report/placeholders.hpp"
#include "report/symbols.hpp"
#include "report/template.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

std::string rendered(const std::vector<diagnostics::Diagnostic>& faults)
{
    std::string text;
    for (const auto& fault : faults)
        text += diagnostics::render(fault);
    return text;
}

class Composer {
public:
    Composer(const model::Dossier& dossier, std::string name) : dossier_(dossier), name_(std::move(name)) {}

    std::vector<Block> compose(const std::string& template_text)
    {
        const auto lookup = [this](std::string_view name) { return placeholder(dossier_, name); };
        for (const auto& piece : read_template(name_, template_text, lookup, faults_)) {
            line_ = piece.line;
            std::visit([this](const auto& content) { add(content); }, piece.content);
        }
        if (!faults_.empty())
            throw TemplateError(std::move(faults_));
        return std::move(blocks_);
    }

private:
    void add(const HeadingPiece& heading) { blocks_.push_back(Heading{heading.level, heading.text, {}}); }
    void add(const ParagraphPiece& paragraph) { blocks_.push_back(Paragraph{paragraph.text}); }
    void add(const BulletsPiece& bullets) { blocks_.push_back(Bullets{bullets.items}); }
    void add(const CautionPiece& caution) { blocks_.push_back(Caution{caution.title, caution.text}); }
    void add(const BreakPiece&) { blocks_.push_back(PageBreak{}); }

    void add(const InsertPiece& insert)
    {
        if (insert.kind == "plot")
            add_plots(insert);
        else if (insert.kind == "chapter")
            add_chapters(insert);
        else if (insert.kind == "table" || insert.kind == "part")
            add_part(insert);
        else
            unknown(insert, "kind", insert.kind, {"plot", "table", "chapter", "part"});
    }

    void add_plots(const InsertPiece& insert)
    {
        for (const auto& part : parts()) {
            if (part.kind == "plot" && part.name == insert.name) {
                add_all(part.compose(dossier_));
                return;
            }
        }
        // A figure of a family without results is absent, not unknown: families name what plots there can be.
        std::vector<std::string_view> known;
        for (const auto& part : parts()) {
            if (part.kind == "plot")
                known.push_back(part.name);
        }
        bool found = false;
        for (std::size_t i = 0; i < dossier_.figures.size(); ++i) {
            const auto& figure = dossier_.figures[i];
            known.push_back(figure.id);
            const bool group = insert.name.ends_with("/*") &&
                               figure.id.starts_with(insert.name.substr(0, insert.name.size() - 1));
            if (figure.id == insert.name || figure.family == insert.name || group) {
                blocks_.push_back(FigureBlock{i});
                found = true;
            }
        }
        if (!found && !is_family(insert.name))
            unknown(insert, "plot", insert.name, known);
    }

    void add_chapters(const InsertPiece& insert)
    {
        std::vector<std::string_view> known{"*"};
        bool found = insert.name == "*";
        for (const auto& family : dossier_.families) {
            known.push_back(family.id);
            if (insert.name != "*" && insert.name != family.id)
                continue;
            found = true;
            add_all(chapter(dossier_, family));
        }
        if (!found)
            unknown(insert, "chapter", insert.name, known);
    }

    void add_part(const InsertPiece& insert)
    {
        std::vector<std::string_view> known;
        for (const auto& part : parts()) {
            if (part.kind != insert.kind)
                continue;
            known.push_back(part.name);
            if (part.name == insert.name) {
                add_captioned(part.compose(dossier_), insert.caption);
                return;
            }
        }
        unknown(insert, insert.kind, insert.name, known);
    }

    void add_captioned(Blocks blocks, const std::string& caption)
    {
        for (auto& block : blocks) {
            if (auto* table = std::get_if<Table>(&block); table != nullptr && !caption.empty()) {
                table->caption = plain(caption);
                break;
            }
        }
        add_all(std::move(blocks));
    }

    void add_all(Blocks blocks)
    {
        for (auto& block : blocks)
            blocks_.push_back(std::move(block));
    }

    [[nodiscard]] bool is_family(std::string_view name) const
    {
        return std::ranges::find(dossier_.families, name, &model::FamilyInfo::id) != dossier_.families.end();
    }

    void unknown(const InsertPiece& insert, std::string_view what, const std::string& name,
                 const std::vector<std::string_view>& known)
    {
        diagnostics::Diagnostic fault;
        fault.location.file = name_;
        fault.location.line = line_;
        fault.found = fmt::format("found {} \"{}\" in \"{}:{}\"", what, name, insert.kind, insert.name);
        const auto near = diagnostics::nearest(name, known);
        fault.expected = near.empty() ? fmt::format("a known {}", what) : fmt::format("\"{}\"", near);
        fault.advice = known.empty() ? fmt::format("this dossier holds no {}", what)
                                     : fmt::format("known are {}", fmt::join(known, ", "));
        faults_.push_back(std::move(fault));
    }

    const model::Dossier& dossier_;
    std::string name_;
    std::size_t line_ = 0;
    std::vector<Block> blocks_;
    std::vector<diagnostics::Diagnostic> faults_;
};

// A heading that nothing follows before the next heading of its level (or a higher one) has nothing to say.
std::vector<Block> without_empty_sections(std::vector<Block> blocks)
{
    std::vector<Block> kept;
    for (auto block = blocks.rbegin(); block != blocks.rend(); ++block) {
        const auto* heading = std::get_if<Heading>(&*block);
        if (heading != nullptr) {
            const auto* next = kept.empty() ? nullptr : std::get_if<Heading>(&kept.back());
            const bool empty = kept.empty() || std::holds_alternative<PageBreak>(kept.back()) ||
                               (next != nullptr && next->level <= heading->level);
            if (empty)
                continue;
        }
        kept.push_back(std::move(*block));
    }
    std::ranges::reverse(kept);
    return kept;
}

void number_headings(std::vector<Block>& blocks)
{
    std::array<int, 2> counts{};
    for (auto& block : blocks) {
        auto* heading = std::get_if<Heading>(&block);
        if (heading == nullptr || heading->level > 2)
            continue;
        if (heading->level == 1)
            counts = {counts[0] + 1, 0};
        else
            ++counts[1];
        const std::string number =
            heading->level == 1 ? fmt::format("{}", counts[0]) : fmt::format("{}.{}", counts[0], counts[1]);
        Text numbered = plain(number + "\u2003");
        append(numbered, std::move(heading->text));
        heading->text = std::move(numbered);
        if (heading->anchor.empty())
            heading->anchor = "section-" + number;
    }
}

std::string draft_reason(const model::DocumentInfo& document)
{
    std::vector<std::string> missing;
    if (document.number.empty())
        missing.emplace_back("number");
    if (document.title.empty())
        missing.emplace_back("title");
    if (!document.issued)
        missing.emplace_back("issue date");
    return missing.empty() ? "" : fmt::format("Draft: {} not stated", fmt::join(missing, ", "));
}

}  // namespace

TemplateError::TemplateError(std::vector<diagnostics::Diagnostic> faults)
    : std::runtime_error(rendered(faults)), faults_(std::move(faults))
{
}

Document compose(const model::Dossier& dossier, const std::string& template_text)
{
    const auto& info = dossier.qualification.document;
    Document document;
    document.title = info.title.empty() ? "Qualification of an ambient-light sensor" : info.title;
    document.number_and_revision = info.number;
    if (!info.revision.empty())
        document.number_and_revision +=
            fmt::format("{}revision {}", info.number.empty() ? "" : ", ", info.revision);
    document.laboratory = info.laboratory.name;
    document.author = info.laboratory.name;
    document.subject = dossier.qualification.product.description;
    document.draft_reason = draft_reason(info);
    document.blocks =
        without_empty_sections(Composer(dossier, dossier.template_name + ".md").compose(template_text));
    number_headings(document.blocks);
    return document;
}

}  // namespace luxdossier::report

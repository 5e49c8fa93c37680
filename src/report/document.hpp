#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/dossier.hpp"

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

namespace luxdossier::report {

// The document as blocks: words and order, no coordinates. layout/ gives it places.

enum class Style { plain, italic, semibold, subscript, superscript, grey, small };
struct Span {
    std::string text;
    Style style = Style::plain;
    std::string link = {};  ///< anchor
};
using Text = std::vector<Span>;

struct Heading {
    int level = 1;
    Text text;
    std::string anchor;
};  ///< 1 chapter, 2 section
struct Paragraph {
    Text text;
    bool note = false;  ///< small and grey
    bool lead = false;  ///< the answer that opens a chapter
};
struct Formula {
    Text text;
};
struct Bullets {
    std::vector<Text> items;
};
/// Names and what is to be said of each, in two columns without rules.
struct Facts {
    struct Fact {
        std::string name;
        Text value;
    };
    std::vector<Fact> facts;
};
/// The traceability chain as a figure, from the standard to the results.
struct Chain {
    struct Link {
        std::string role;
        Text text;
        bool established = true;  ///< false: what follows is not tied to it
    };
    std::vector<Link> links;
    Text caption;
    std::string alternative_text;
};
struct Caution {
    std::string title;
    Text text;
};

enum class Alignment { left, right, decimal, centre };
struct ColumnSpec {
    Text heading;
    Alignment alignment = Alignment::left;
    double weight = 1;
};
/// The verdict strip, as values normalised so that the tolerance zone is 0 ... 1
/// (one-sided: the wall is at 0 or at 1); a missing wall, acceptance limit or whisker is empty.
struct StripCell {
    std::optional<double> lower, upper, acceptance_lower, acceptance_upper, value, whisker_lower,
        whisker_upper;
};
struct Cell {
    Text text;
    std::optional<StripCell> strip;
    std::optional<model::Outcome> outcome;  ///< mark drawn before the text
    std::string link;                       ///< anchor
    std::size_t columns = 1;                ///< it reaches over; the cells that it covers are empty
};
/// A row; `spanning`: its one cell takes the whole width (the name of a group), kept with the row below it.
struct Row {
    std::vector<Cell> cells;
    bool group_start = false;
    bool spanning = false;
    std::string anchor = {};
};
struct Table {
    Text caption;
    std::vector<ColumnSpec> columns;
    std::vector<Row> rows;
    std::string anchor;
    std::vector<Text> notes = {};  ///< below the last row
};
struct FigureBlock {
    std::size_t figure = 0;
};  ///< index into Dossier::figures
/// A figure of the report itself: shares of a budget, margins of the limits.
struct OwnFigure {
    model::Figure figure;
};
struct SignOffBlock {
    std::vector<model::SignOff> roles;
};
struct Cover;
struct PageBreak {};
struct EndMark {
    std::string text;
};

struct CoverFact {
    std::string name, value;
};
struct Cover {
    std::string title, number_line;
    std::vector<CoverFact> facts;  ///< what, for whom, where, when
    std::optional<model::Outcome> overall;
    Text overall_sentence;  ///< what passes, what does not
    std::optional<Table> worst_margins;
    std::vector<Text> statements;  ///< specification, rule, draft ...
    SignOffBlock sign_off;
};
struct Contents {};

using Block = std::variant<Cover, Contents, Heading, Paragraph, Formula, Bullets, Facts, Chain, Caution,
                           Table, FigureBlock, OwnFigure, SignOffBlock, PageBreak, EndMark>;

struct Document {
    std::string title, number_and_revision, laboratory;  ///< header and footer lines
    std::string author, subject;                         ///< for the properties of the file
    std::string draft_reason;                            ///< not empty: "Draft" on every page
    std::vector<Block> blocks;
};

/// Faults of a template: what() is their rendered text, each with file and line.
class TemplateError : public std::runtime_error {
public:
    explicit TemplateError(std::vector<diagnostics::Diagnostic> faults);
    [[nodiscard]] const std::vector<diagnostics::Diagnostic>& faults() const { return faults_; }

private:
    std::vector<diagnostics::Diagnostic> faults_;
};

/// Composes the document from the dossier and the template (a CommonMark file with placeholders).
/// Errors: TemplateError for an unknown placeholder, plot, table, chapter or part.
[[nodiscard]] Document compose(const model::Dossier& dossier, const std::string& template_text);

}  // namespace luxdossier::report

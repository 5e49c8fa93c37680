#include "report/parts.hpp"
#include "report/small_dossier.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include "report/document.hpp"
#include "uncertainty/expression.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::report;

namespace {

std::string fault_of(const std::string& text)
{
    try {
        static_cast<void>(compose(test::small_dossier(), text));
    } catch (const TemplateError& error) {
        return error.what();
    }
    return "";
}

template <typename Wanted>
std::vector<const Wanted*> blocks_of(const Document& document)
{
    std::vector<const Wanted*> found;
    for (const auto& block : document.blocks) {
        if (const auto* wanted = std::get_if<Wanted>(&block))
            found.push_back(wanted);
    }
    return found;
}

}  // namespace

TEST_CASE("an unknown placeholder is told with its place and the nearest known name", "[report]")
{
    const auto fault = fault_of("# Title\n\nReport {document.numbr} of today\n");
    CHECK_THAT(fault, Catch::Matchers::StartsWith(
                          "customer.md:3:8: error: found placeholder \"{document.numbr}\", expected "
                          "\"{document.number}\"\n"));
}

TEST_CASE("an unknown table, plot, chapter or kind is told with its line", "[report]")
{
    CHECK_THAT(fault_of("text\n\n![](table:verdict)\n"),
               Catch::Matchers::StartsWith(
                   "customer.md:3: error: found table \"verdict\" in \"table:verdict\", expected "
                   "\"verdicts\""));
    CHECK_THAT(fault_of("![](plot:nothing)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found plot \"nothing\""));
    CHECK_THAT(fault_of("![](chapter:none)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found chapter \"none\""));
    CHECK_THAT(fault_of("![](picture:x)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found kind \"picture\""));
}

TEST_CASE("placeholders are filled and doubled braces are braces", "[report]")
{
    const auto document =
        compose(test::small_dossier(), "Report {document.number} {{as is}}, method {document.method}\n");
    const auto paragraphs = blocks_of<Paragraph>(document);
    REQUIRE(paragraphs.size() == 1);
    CHECK(plain_text(paragraphs[0]->text) == "Report K-1 {as is}, method not stated");
}

TEST_CASE("headings are numbered and those with nothing below are left out", "[report]")
{
    const auto document = compose(
        test::small_dossier(), "# One\n\ntext\n\n# Empty\n\n![](part:opinions)\n\n# Two\n\n## Sub\n\ntext\n");
    const auto headings = blocks_of<Heading>(document);
    REQUIRE(headings.size() == 3);
    CHECK(plain_text(headings[0]->text) == "1\u2003One");
    CHECK(plain_text(headings[1]->text) == "2\u2003Two");
    CHECK(plain_text(headings[2]->text) == "2.1\u2003Sub");
}

TEST_CASE("a report without number, title or issue date is a draft and says why", "[report]")
{
    auto dossier = test::small_dossier();
    CHECK(compose(dossier, "text\n").draft_reason.empty());
    dossier.qualification.document.number.clear();
    dossier.qualification.document.issued.reset();
    CHECK(compose(dossier, "text\n").draft_reason == "Draft: number, issue date not stated");
}

TEST_CASE("a chapter opens with the worst figure, its limit, margin and outcome", "[report]")
{
    const auto document = compose(test::small_dossier(), "![](chapter:*)\n");
    const auto paragraphs = blocks_of<Paragraph>(document);
    REQUIRE_FALSE(paragraphs.empty());
    CHECK(paragraphs[0]->lead);
    const auto text = plain_text(paragraphs[0]->text);
    CHECK_THAT(text,
               Catch::Matchers::Contains("By how much does the reading differ? Worst: reading error of "));
    CHECK_THAT(text, Catch::Matchers::Contains("margin \u2212"));
}

TEST_CASE("every verdict is told: in a row of its own, or in a matrix where all pass", "[report]")
{
    auto dossier = test::small_dossier(6, 12, 8);
    for (auto& verdict : dossier.verdicts.verdicts) {
        if (verdict.limit % 2 == 0) {
            verdict.outcome = model::Outcome::pass;
            verdict.conformance_probability = 0.9999;
        }
    }
    const auto document = compose(dossier, "![](table:every_verdict)\n");
    std::size_t listed = 0, in_matrices = 0, expected_listed = 0;
    for (std::size_t limit = 0; limit < dossier.limits->limits.size(); ++limit) {
        const auto verdicts = verdicts_of(dossier, limit);
        const bool all_pass = std::ranges::all_of(verdicts, [&](std::size_t index) {
            const auto& verdict = dossier.verdicts.verdicts[index];
            return verdict.outcome == model::Outcome::pass;
        });
        expected_listed += all_pass ? 0 : verdicts.size();
    }
    for (const auto* table : blocks_of<Table>(document)) {
        const bool matrix = plain_text(table->columns.front().heading) != "Result";
        for (const auto& row : table->rows) {
            if (row.spanning)
                continue;
            if (matrix) {
                in_matrices += static_cast<std::size_t>(std::ranges::count_if(row.cells, [](const auto& one) {
                    return plain_text(one.text).find('(') != std::string::npos;
                }));
                continue;
            }
            CHECK(row.cells.back().outcome.has_value());
            CHECK(row.cells.at(2).strip.has_value());
            ++listed;
        }
    }
    CHECK(listed == expected_listed);
    CHECK(in_matrices > 0);
    CHECK(listed + in_matrices == dossier.verdicts.verdicts.size());
}

TEST_CASE("a reason that several limits give stands once, below the table of verdicts", "[report]")
{
    const std::string reason = "reference not traceable: run levels names no meter";
    const auto table_of = [&](std::size_t limits) {
        auto dossier = test::small_dossier(2, 3, limits);
        for (auto& verdict : dossier.verdicts.verdicts) {
            verdict.outcome = model::Outcome::not_decided;
            verdict.reason = reason;
        }
        return compose(dossier, "![](table:verdicts)\n");
    };
    const auto rows_that_say_it = [&](const Table& table) {
        return std::ranges::count_if(table.rows, [&](const auto& row) {
            return !row.spanning && plain_text(row.cells.at(1).text).find(reason) != std::string::npos;
        });
    };
    const auto often = table_of(3), seldom = table_of(2);
    const auto& many = *blocks_of<Table>(often).at(0);
    CHECK(rows_that_say_it(many) == 0);
    REQUIRE(many.notes.size() == 1);
    CHECK(plain_text(many.notes[0]) == "a not decided: " + reason);
    for (const auto& row : many.rows) {
        if (row.spanning)
            continue;
        const auto& text = row.cells.at(1).text;
        CHECK(std::ranges::any_of(
            text, [](const auto& run) { return run.text == "a" && run.style == Style::superscript; }));
    }
    const auto& few = *blocks_of<Table>(seldom).at(0);
    CHECK(rows_that_say_it(few) == 2);
    CHECK(few.notes.empty());
}

TEST_CASE("the cover says why nothing is decided, where there is one reason", "[report]")
{
    auto dossier = test::small_dossier(2, 3, 3);
    const auto sentence = [&] {
        const auto document = compose(dossier, "![](part:cover)\n");
        return plain_text(blocks_of<Cover>(document).at(0)->overall_sentence);
    };
    CHECK_THAT(sentence(), !Catch::Matchers::Contains("Not decided"));
    for (auto& verdict : dossier.verdicts.verdicts) {
        verdict.outcome = model::Outcome::not_decided;
        verdict.reason = "reference not traceable";
    }
    for (auto& outcome : dossier.verdicts.by_limit)
        outcome = model::Outcome::not_decided;
    CHECK_THAT(sentence(), Catch::Matchers::StartsWith("Of 3 limits 3 are not decided") &&
                               Catch::Matchers::EndsWith("). Not decided: reference not traceable."));
    dossier.verdicts.verdicts.front().reason = "no value";
    CHECK_THAT(sentence(), !Catch::Matchers::Contains("Not decided"));
}

TEST_CASE("the one sample of all verdicts of a limit stands in the heading alone", "[report]")
{
    for (const std::size_t samples : {1U, 2U}) {
        CAPTURE(samples);
        const auto dossier = test::small_dossier(samples, 12, 1);
        const std::string name = dossier.evaluation.results.front().sample;
        const auto document = compose(dossier, "![](table:every_verdict)\n");
        const auto& table = *blocks_of<Table>(document).at(0);
        std::size_t rows = 0, with_name = 0;
        for (const auto& row : table.rows) {
            const bool is_there = plain_text(row.cells.at(0).text).find(name) != std::string::npos;
            if (row.spanning) {
                CHECK(is_there == (samples == 1));
                continue;
            }
            ++rows;
            with_name += is_there ? 1U : 0U;
        }
        CHECK(rows > 1);
        CHECK((with_name > 0) == (samples > 1));
    }
}

TEST_CASE("wavelengths are read in nanometres and temperatures in degree Celsius, heading and cell alike")
{
    const model::ConditionQuantity wavelength{0.00000094, "m"};
    CHECK(condition_phrase("wavelength", wavelength) == "wavelength 940\u202fnm");
    CHECK(condition_heading("wavelength", "m") == "Wavelength / nm");
    CHECK(condition_cell("wavelength", wavelength) == "940");
    CHECK(condition_cell("temperature", model::ConditionQuantity{296.75, "K"}) == "23.6");
    CHECK(condition_cell("distance", model::ConditionQuantity{0.00005, "m"}) == "0.000\u200905");
}

TEST_CASE("of each limit the result that needs most says what would have to improve", "[report]")
{
    auto dossier = test::small_dossier(2, 3, 2);
    for (auto& verdict : dossier.verdicts.verdicts)
        verdict.improvement.reset();
    CHECK(compose(dossier, "![](table:needs)\n").blocks.empty());
    auto& all = dossier.verdicts.verdicts;
    all.push_back(all.front());
    all.front().improvement = model::Improvement{0.8, {{uncertainty::Input{0}, 0.7, 0.699}}};
    all.back().improvement = model::Improvement{0.479, {{uncertainty::Input{0}, 0.7, {}}}};
    const auto document = compose(dossier, "![](table:needs)\n");
    const auto tables = blocks_of<Table>(document);
    REQUIRE(tables.size() == 1);
    REQUIRE(tables[0]->rows.size() == 1);
    const auto& cells = tables[0]->rows[0].cells;
    CHECK(plain_text(cells.at(0).text) == dossier.limits->limits.at(all.front().limit).id);
    // Rounded down: a factor of 0.48 would not do.
    CHECK(plain_text(cells.at(3).text) == "0.47");
    CHECK_THAT(plain_text(cells.at(4).text), Catch::Matchers::StartsWith("none; largest in the variance: "));
    all.back().improvement.reset();
    const auto again = compose(dossier, "![](table:needs)\n");
    CHECK_THAT(plain_text(blocks_of<Table>(again).at(0)->rows[0].cells.at(4).text),
               Catch::Matchers::EndsWith(" × 0.69"));
}

TEST_CASE("the whisker of a strip reaches as far as the interval that was judged", "[report]")
{
    auto dossier = test::small_dossier(1, 3, 1);
    auto& verdict = dossier.verdicts.verdicts.front();
    verdict.tolerance_lower = -10;
    verdict.tolerance_upper = 10;
    verdict.value = 2;
    verdict.expanded_uncertainty = 1;
    const auto strip = [&] {
        const auto document = compose(dossier, "![](table:every_verdict)\n\n![](table:verdicts)\n");
        for (const auto* table : blocks_of<Table>(document))
            for (const auto& row : table->rows)
                for (const auto& cell : row.cells)
                    if (cell.strip)
                        return *cell.strip;
        return StripCell{};
    };
    const auto even = strip();
    verdict.width_below = 0.5;
    verdict.width_above = 1.5;
    const auto uneven = strip();
    REQUIRE((even.whisker_lower && uneven.whisker_upper));
    const double per_unit = (*even.whisker_upper - *even.whisker_lower) / 2;
    CHECK(std::abs(*uneven.whisker_lower - *even.value + 0.5 * per_unit) < 1e-12);
    CHECK(std::abs(*uneven.whisker_upper - *even.value - 1.5 * per_unit) < 1e-12);
}

TEST_CASE("what trials decided carries a mark, and why is told once", "[report]")
{
    auto dossier = test::small_dossier(2, 3, 2);
    const auto text_of = [&] {
        const auto composed = compose(dossier, "![](part:judged_by_trials)\n");
        return plain_text(blocks_of<Paragraph>(composed).at(0)->text);
    };
    CHECK_THAT(text_of(), Catch::Matchers::Contains("was left out when this report was made"));
    dossier.evaluation.trials.emplace();
    CHECK(compose(dossier, "![](part:judged_by_trials)\n").blocks.empty());
    dossier.evaluation.results.at(*dossier.verdicts.verdicts.front().result).monte_carlo.emplace();
    CHECK_THAT(text_of(), Catch::Matchers::Contains("validates the first order in 1 verdict:"));
    for (auto& verdict : dossier.verdicts.verdicts)
        verdict.by_trials =
            "judged by the interval of the trials: the first order is not validated, its ends differ "
            "by up to 2.5 times what one digit of u permits";
    dossier.verdicts.verdicts.back().by_trials.replace(dossier.verdicts.verdicts.back().by_trials.find("2.5"),
                                                       3, "4.0");
    const auto document = compose(dossier, "![](part:judged_by_trials)\n\n![](table:verdicts)\n");
    const auto bullets = blocks_of<Bullets>(document);
    REQUIRE(bullets.size() == 1);
    REQUIRE(bullets[0]->items.size() == 1);
    CHECK_THAT(
        plain_text(bullets[0]->items[0]),
        Catch::Matchers::Contains("): ends differ by up to 2.5 to 4.0 times what one digit of u permits."));
    const auto tables = blocks_of<Table>(document);
    REQUIRE(tables.size() == 1);
    for (const auto& row : tables[0]->rows)
        if (!row.spanning)
            CHECK_THAT(plain_text(row.cells.at(1).text), Catch::Matchers::Contains("†"));
    CHECK_THAT(plain_text(tables[0]->notes.at(0)), Catch::Matchers::StartsWith("†"));
}

TEST_CASE("inputs of one name are told apart by their run", "[report]")
{
    uncertainty::GraphBuilder builder;
    uncertainty::InputQuantity placement;
    placement.quantity = "placement of the meter";
    placement.unit = "m";
    placement.standard_uncertainty = 1;
    placement.identity = "run:position-bare/place=sensor/plane-offset";
    const auto bare = builder.input(placement);
    placement.identity = "run:position-windowed/place=sensor/plane-offset";
    const auto windowed = builder.input(placement);
    placement.identity = "run:position-windowed/place=reference/plane-offset";
    placement.quantity = "another";
    const auto other = builder.input(placement);
    const auto sum = bare + windowed + other;
    model::Dossier dossier;
    dossier.evaluation.graph = builder.graph();
    const auto budget = uncertainty::propagate(dossier.evaluation.graph, sum.node(), 0.95);
    const auto sorted = [&] {
        auto names = quantity_names(dossier, budget.lines);
        std::ranges::sort(names);
        return names;
    };
    CHECK(sorted() == std::vector<std::string>{"another", "placement of the meter, run position-bare",
                                               "placement of the meter, run position-windowed"});
    dossier.qualification.runs.resize(2);
    dossier.qualification.runs[0].id = "position-bare";
    dossier.qualification.runs[0].configuration = "bare";
    dossier.qualification.runs[1].id = "position-windowed";
    dossier.qualification.runs[1].configuration = "windowed";
    CHECK(sorted().at(1) == "placement of the meter, bare");
}

TEST_CASE("the margins of all limits stand in one figure, the worst first", "[report]")
{
    const auto dossier = test::small_dossier(3, 4, 12);
    const auto document = compose(dossier, "![](plot:margins)\n");
    const auto figures = blocks_of<OwnFigure>(document);
    REQUIRE(figures.size() == 1);
    const auto& strips = figures[0]->figure.strips;
    REQUIRE(strips.size() == 12);
    double before = -1e9;
    for (const auto& strip : strips) {
        const auto& verdict = dossier.verdicts.verdicts[strip.verdict];
        CHECK(strip.name.starts_with(dossier.limits->limits[verdict.limit].id));
        const double margin = *relative_margin(verdict);
        CHECK(margin >= before);
        before = margin;
        // Of each limit its own worst.
        for (const auto other : verdicts_of(dossier, verdict.limit))
            CHECK((*relative_margin(dossier.verdicts.verdicts[other]) >= margin ||
                   dossier.verdicts.verdicts[other].outcome < verdict.outcome));
    }
    CHECK(compose(test::small_dossier(1, 3, 0), "![](plot:margins)\n").blocks.empty());
}

TEST_CASE("the shares of a budget are its contributions squared over the variance", "[report]")
{
    const auto dossier = test::small_dossier();
    const auto& result = dossier.evaluation.results.front();
    const auto figure = budget_shares(dossier, 0);
    REQUIRE(figure.bars.size() == 2);
    const double u = result.combined->standard_uncertainty;
    double total = 0;
    for (const auto& bar : figure.bars) {
        const auto budget = dossier.evaluation.budget(result);
        bool found = false;
        for (const auto& line : budget.lines) {
            const auto& input = dossier.evaluation.graph.inputs()[line.input.index];
            // JCGM 100:2008, 5.1.3: u_i(y) = |c_i| u(x_i); inputs of this bench are not correlated.
            const double share = std::pow(line.sensitivity * input.standard_uncertainty / u, 2);
            if (input.quantity == bar.name && test::agree(share, bar.value, 1e-9)) {
                found = true;
                CHECK(bar.filled == (input.evaluation == uncertainty::Evaluation::type_a));
            }
        }
        CHECK(found);
        total += bar.value;
    }
    CHECK(test::agree(total, 1, 1e-9));
    CHECK(figure.bars[0].value >= figure.bars[1].value);
}

TEST_CASE("joint probabilities stand by sample and in all, certainty is never claimed", "[report]")
{
    auto dossier = test::small_dossier();
    CHECK(compose(dossier, "# Together\n\n![](table:joint)\n").blocks.empty());
    dossier.verdicts.joint = {{"S-1", 4, 0.98765, 0.9, 1000}, {"", 9, 1, 0.00001, 20000}};
    const auto document = compose(dossier, "# Together\n\n![](table:joint)\n");
    const auto tables = blocks_of<Table>(document);
    REQUIRE(tables.size() == 1);
    REQUIRE(tables[0]->rows.size() == 2);
    const auto told = [&](std::size_t row, std::size_t column) {
        return plain_text(tables[0]->rows[row].cells[column].text);
    };
    CHECK(told(0, 0) == "S-1");
    CHECK(told(0, 2) == "98.77");
    CHECK(told(0, 3) == "90.00");
    CHECK(told(1, 0) == "the whole qualification");
    CHECK(told(1, 2) == "> 99.99");
    CHECK(told(1, 3) == "< 0.01");
}

TEST_CASE("many results of no sample stand level by level, groups with the same levels side by side",
          "[report]")
{
    auto dossier = test::small_dossier(1, 3, 1);
    const auto pattern = dossier.evaluation.results.front();
    const auto metric = dossier.families.front().metrics.front().id;
    dossier.evaluation.results.clear();
    dossier.verdicts = {};
    dossier.limits.reset();
    const auto add = [&](const std::string& configuration, int levels) {
        for (int level = 1; level <= levels; ++level) {
            auto result = pattern;
            result.metric = metric;
            result.sample.clear();
            result.conditions = {{"configuration", configuration},
                                 {"source", std::string("led")},
                                 {"level", model::ConditionQuantity{static_cast<double>(level), "lx"}}};
            result.id = model::result_id(result.metric, "", result.conditions);
            dossier.evaluation.results.push_back(std::move(result));
        }
    };
    add("bare", 12);
    add("cold", 3);
    add("windowed", 12);
    const auto document = compose(dossier, "![](chapter:*)\n");
    std::vector<const Table*> tables;
    for (const auto* table : blocks_of<Table>(document))
        if (plain_text(table->columns.front().heading).starts_with("Level"))
            tables.push_back(table);
    REQUIRE(tables.size() == 2);
    CHECK(tables[0]->rows.size() == 12);
    REQUIRE(tables[0]->columns.size() == 3);
    CHECK_THAT(plain_text(tables[0]->columns[1].heading), Catch::Matchers::StartsWith("bare"));
    CHECK_THAT(plain_text(tables[0]->columns[2].heading), Catch::Matchers::StartsWith("windowed"));
    CHECK(tables[1]->rows.size() == 3);
    CHECK_THAT(plain_text(tables[1]->columns[1].heading), Catch::Matchers::StartsWith("cold"));
}

#include "report/small_dossier.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include "report/document.hpp"
#include "report/merged_tables.hpp"

#include <algorithm>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::report;

namespace {

model::Remark remark(const std::string& id, model::RemarkSeverity severity, const std::string& run,
                     std::vector<std::size_t> results)
{
    return {id, severity, run, "seen in " + run, "the effect", "the advice", std::move(results), ""};
}

std::string value_of(const Facts& facts, const std::string& name)
{
    const auto found = std::ranges::find(facts.facts, name, &Facts::Fact::name);
    return found == facts.facts.end() ? "" : plain_text(found->value);
}

Table lone_table(const std::string& caption, const std::string& value)
{
    Table table;
    table.caption = plain(caption);
    table.columns = {{plain("Source")}, {plain("Value ± U / s")}};
    Row row;
    row.cells = {{plain("led"), {}, {}, {}}, {plain(value), {}, {}, {}}};
    table.rows.push_back(row);
    return table;
}

}  // namespace

TEST_CASE("remarks that do and advise the same are one block, the gravest first, with links", "[report]")
{
    auto dossier = test::small_dossier();
    dossier.remarks = {remark("trend", model::RemarkSeverity::note, "a", {0}),
                       remark("outside-span", model::RemarkSeverity::blocks, "b", {1, 0}),
                       remark("outside-span", model::RemarkSeverity::blocks, "c", {1})};
    const auto document = compose(dossier, "# Remarks\n\n![](part:remarks)\n");
    std::vector<std::string> titles;
    std::vector<Facts> facts;
    for (const auto& block : document.blocks) {
        if (const auto* heading = std::get_if<Heading>(&block); heading != nullptr && heading->level == 3)
            titles.push_back(plain_text(heading->text));
        if (const auto* found = std::get_if<Facts>(&block))
            facts.push_back(*found);
    }
    CHECK(titles == std::vector<std::string>{"Blocks: outside-span", "Note: trend"});
    REQUIRE(facts.size() == 2);
    CHECK(value_of(facts[0], "Seen") == "seen in b; seen in c");
    CHECK(value_of(facts[0], "In runs") == "b and c");
    CHECK(value_of(facts[0], "What to do") == "the advice");
    CHECK(value_of(facts[0], "Touches").starts_with("2 results: "));
    const auto touches = std::ranges::find(facts[0].facts, "Touches", &Facts::Fact::name);
    CHECK(std::ranges::any_of(touches->value,
                              [](const Span& span) { return span.link.starts_with("chapter-"); }));
}

TEST_CASE("a chapter names the remarks that touch its results and links to them", "[report]")
{
    auto dossier = test::small_dossier();
    dossier.remarks = {remark("trend", model::RemarkSeverity::note, "a", {0})};
    const auto document = compose(dossier, "![](chapter:*)\n\n# Remarks\n\n![](part:remarks)\n");
    std::string anchor, link;
    for (const auto& block : document.blocks) {
        if (const auto* heading = std::get_if<Heading>(&block);
            heading != nullptr && heading->level == 3 && plain_text(heading->text) == "Note: trend")
            anchor = heading->anchor;
        const auto* paragraph = std::get_if<Paragraph>(&block);
        if (paragraph == nullptr ||
            plain_text(paragraph->text) != "Remarks that touch these results: trend (note).")
            continue;
        for (const auto& span : paragraph->text)
            link += span.link;
    }
    CHECK_FALSE(anchor.empty());
    CHECK(link == anchor);
}

TEST_CASE("a selection by range tells the unit in which a reader thinks", "[report]")
{
    model::Limit limit;
    model::Selector wavelength, temperature;
    wavelength.name = "wavelength";
    wavelength.from = 930e-9;
    wavelength.to = 950e-9;
    temperature.name = "temperature";
    temperature.from = temperature.to = 296.15;
    limit.where = {wavelength, temperature};
    CHECK(selection_text(limit) == "wavelength 930\u202fnm to 950\u202fnm, temperature 23\u202f°C");
}

TEST_CASE("metrics without samples stand side by side where their rows are the same", "[report]")
{
    auto merged = side_by_side({lone_table("Warm-up time", "20 ± 1"), lone_table("Averaging time", "32")});
    REQUIRE(merged.size() == 1);
    const auto& table = std::get<Table>(merged[0]);
    CHECK(plain_text(table.caption) == "Warm-up time; averaging time");
    REQUIRE(table.columns.size() == 3);
    CHECK(plain_text(table.columns[1].heading) == "Warm-up time / s");
    CHECK(plain_text(table.columns[2].heading) == "Averaging time / s");
    CHECK(plain_text(table.rows[0].cells[2].text) == "32");

    auto other = lone_table("Averaging time", "32");
    other.rows[0].cells[0].text = plain("incandescent");
    CHECK(side_by_side({lone_table("Warm-up time", "20 ± 1"), other}).size() == 2);
}

TEST_CASE("tables with the same groups and notes stand side by side, with other notes they do not",
          "[report]")
{
    const auto grouped = [](const std::string& title, const std::string& value, const std::string& note) {
        auto table = lone_table(title + ", of reading_error", value);
        Row heading;
        heading.spanning = true;
        heading.cells.push_back(table.rows.front().cells.front());
        heading.cells.front().text = plain("bare, led");
        table.rows.insert(table.rows.begin(), heading);
        table.notes.push_back(plain(note));
        return table;
    };
    auto merged = side_by_side(
        {grouped("Lower end", "-3", "a not decided"), grouped("Upper end", "4", "a not decided")});
    REQUIRE(merged.size() == 1);
    const auto& table = std::get<Table>(merged.front());
    CHECK(plain_text(table.caption) == "Lower end; upper end, of reading_error");
    CHECK(table.rows.front().cells.size() == 1);
    CHECK(table.notes.size() == 1);
    CHECK(side_by_side({grouped("Lower end", "-3", "a not decided"), grouped("Upper end", "4", "a missing")})
              .size() == 2);
}

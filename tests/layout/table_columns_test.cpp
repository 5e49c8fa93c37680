#include "layout/table_columns.hpp"

#include "layout/fonts.hpp"
#include "layout/lines.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::layout;

namespace {

report::Text words(const std::string& text)
{
    return {{text, report::Style::plain}};
}

report::Row row_of(const std::vector<std::string>& texts)
{
    report::Row row;
    for (const auto& text : texts)
        row.cells.push_back({words(text), {}, {}, {}});
    return row;
}

std::size_t lines_in(const Fonts& fonts, const report::Table& table, std::size_t column, double width)
{
    std::size_t most = 0;
    for (const auto& row : table.rows)
        most = std::max(most, break_lines(fonts, row.cells[column].text, table_style, width + 0.05).size());
    return most;
}

}  // namespace

TEST_CASE("a long text takes the room that short columns do not need", "[layout]")
{
    const Fonts fonts;
    report::Table table;
    table.columns = {{words("Run"), report::Alignment::left, 1},
                     {words("Conditions"), report::Alignment::left, 2},
                     {words("File"), report::Alignment::left, 1}};
    for (int i = 0; i < 5; ++i)
        table.rows.push_back(row_of({"comparison-of-the-first-sample-behind-its-window",
                                     "S1, windowed, led, distance 1.5 m, temperature 23 °C, plane 90 degree",
                                     "readings/of/the/first/sample/windowed.csv"}));
    const double width = 170;
    const auto places = place_columns(fonts, table, width);
    CHECK(places.width <= width + 1e-6);
    std::size_t most = 0;
    for (std::size_t c = 0; c < 3; ++c)
        most = std::max(most, lines_in(fonts, table, c, places.columns[c].width));
    CHECK(most <= 2);
}

TEST_CASE("figures and outcomes keep their line when texts must wrap", "[layout]")
{
    const Fonts fonts;
    report::Table table;
    table.columns = {{words("Result"), report::Alignment::left, 2},
                     {words("p"), report::Alignment::right, 1},
                     {words("Outcome"), report::Alignment::left, 1}};
    std::string sentence;
    for (int i = 0; i < 40; ++i)
        sentence += "a word and ";
    auto row = row_of({sentence, "> 99.9", "conditional pass"});
    row.cells[2].outcome = model::Outcome::conditional_pass;
    table.rows.push_back(row);
    const auto places = place_columns(fonts, table, 120);
    CHECK(lines_in(fonts, table, 1, places.columns[1].width) == 1);
    CHECK(lines_in(fonts, table, 2, places.columns[2].width) == 1);
}

TEST_CASE("a long word heads figures over several lines, the figures keep theirs", "[layout]")
{
    const Fonts fonts;
    report::Table table;
    table.columns = {{words("Level / lx"), report::Alignment::decimal, 1}};
    std::vector<std::string> cells{"1000"};
    for (int c = 0; c < 6; ++c) {
        table.columns.push_back({words("sample-" + std::string(52, 'm') + std::to_string(c) + " / lx"),
                                 report::Alignment::decimal, 1});
        cells.emplace_back("1000.25 ± 0.25");
    }
    table.rows.push_back(row_of(cells));
    const auto places = place_columns(fonts, table, 170);
    CHECK(places.width <= 170 + 1e-6);
    for (std::size_t c = 1; c < table.columns.size(); ++c) {
        CHECK(lines_in(fonts, table, c, places.columns[c].width) == 1);
        CHECK(break_lines(fonts, table.columns[c].heading, table_head_style, places.columns[c].width).size() >
              2);
    }
}

TEST_CASE("a span with a link is a link as wide as its words", "[layout]")
{
    const Fonts fonts;
    Canvas canvas(fonts);
    const report::Text text{{"see ", report::Style::plain}, {"there", report::Style::plain, "anchor"}};
    const auto lines = break_lines(fonts, text, body, 100);
    REQUIRE(lines.size() == 1);
    draw_line(canvas, lines[0], {10, 20}, body);
    std::size_t links = 0;
    for (const auto& item : canvas.items()) {
        const auto* link = std::get_if<LinkItem>(&item);
        if (link == nullptr)
            continue;
        ++links;
        CHECK(link->anchor == "anchor");
        CHECK(link->box.x > 10);
        CHECK(link->box.width == Approx(fonts.width("there", body.face, body.size_pt, false)).margin(1e-6));
    }
    CHECK(links == 1);
}

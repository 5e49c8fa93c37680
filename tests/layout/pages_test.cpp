#include "report/small_dossier.hpp"

#include "layout/page.hpp"
#include "layout/page_checks.hpp"
#include "report/document.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using layout::PathItem;
using layout::TextItem;

namespace {

void check_pages(const layout::Pages& pages)
{
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
}

}  // namespace

TEST_CASE("no two texts meet and none leaves the text area", "[layout]")
{
    const auto dossier = test::small_dossier();
    check_pages(layout::lay_out(report::compose(dossier, test::customer_template()), dossier));
}

TEST_CASE("long ids, 40 samples and 200 limits are laid out without overlap or clipping", "[layout]")
{
    const auto dossier = test::small_dossier(40, 8, 200, 60);
    const auto pages = layout::lay_out(report::compose(dossier, test::customer_template()), dossier);
    check_pages(pages);
    for (std::size_t p = 0; p < pages.pages.size(); ++p) {
        const auto expected = "page " + std::to_string(p + 1) + " of " + std::to_string(pages.pages.size());
        bool found = false;
        for (const auto& item : pages.pages[p].items) {
            if (const auto* text = std::get_if<TextItem>(&item))
                found = found || text->text == expected;
        }
        CHECK(found);
    }
}

TEST_CASE("a table that breaks repeats its head and says continued", "[layout]")
{
    auto dossier = test::small_dossier(40, 8, 60, 6);
    for (auto& verdict : dossier.verdicts.verdicts)  // none of them is told in a matrix
        verdict.outcome = model::Outcome::conditional_pass;
    const auto pages =
        layout::lay_out(report::compose(dossier, "![Every verdict](table:every_verdict)\n"), dossier);
    REQUIRE(pages.pages.size() > 2);
    for (std::size_t p = 1; p < pages.pages.size(); ++p) {
        std::size_t heads = 0, continued = 0;
        for (const auto& item : pages.pages[p].items) {
            const auto* text = std::get_if<TextItem>(&item);
            heads += text != nullptr && text->text == "Outcome" ? 1U : 0U;
            continued += text != nullptr && text->text == "Every verdict (continued)" ? 1U : 0U;
        }
        CHECK(heads == 1);
        CHECK(continued == 1);
    }
}

TEST_CASE("a group of rows that goes on on a further page is named there again", "[layout]")
{
    const auto dossier = test::small_dossier(1, 3, 1);
    const auto text = [](const std::string& words) { return report::Text{{words}}; };
    report::Table table;
    table.caption = text("Rows");
    table.columns = {{text("Head")}};
    for (const std::string group : {"first", "second"}) {
        report::Row name;
        name.spanning = true;
        name.cells.emplace_back().text = text(group);
        table.rows.push_back(name);
        for (int i = 0; i < 60; ++i) {
            report::Row row;
            row.cells.emplace_back().text = text("row of " + group);
            table.rows.push_back(row);
        }
    }
    report::Document document;
    document.blocks.emplace_back(table);
    const auto pages = layout::lay_out(document, dossier);
    check_pages(pages);
    std::size_t again = 0;
    for (const auto& page : pages.pages) {
        std::string group;
        for (const auto& item : page.items) {
            const auto* one = std::get_if<TextItem>(&item);
            if (one == nullptr)
                continue;
            again += one->text.ends_with("(continued)") && !one->text.starts_with("Rows") ? 1U : 0U;
            for (const std::string name : {"first", "second"}) {
                group = one->text == name ? name : group;
                CHECK((one->text != "row of " + name || group == name));
            }
        }
    }
    CHECK(again == pages.pages.size() - 1);
}

TEST_CASE("a cell may reach over the columns beside it", "[layout]")
{
    const auto dossier = test::small_dossier(1, 3, 1);
    const auto text = [](const std::string& words) { return report::Text{{words}}; };
    report::Table table;
    table.columns = {{text("A")}, {text("B")}, {text("C")}};
    for (const bool wide : {false, true}) {
        report::Row row;
        row.cells.resize(3);
        for (auto& cell : row.cells)
            cell.text = text("short");
        if (wide) {
            row.cells[0].text = text("words that need the room of two");
            row.cells[0].columns = 2;
            row.cells[1].text.clear();
        }
        table.rows.push_back(std::move(row));
    }
    report::Document document;
    document.blocks.emplace_back(table);
    const auto pages = layout::lay_out(document, dossier);
    check_pages(pages);
    double first = 0, second = 0, last = 0;
    std::size_t lines = 0;
    for (const auto& item : pages.pages.front().items) {
        const auto* one = std::get_if<TextItem>(&item);
        if (one == nullptr)
            continue;
        first = one->text == "A" ? one->box.x : first;
        second = one->text == "B" ? one->box.x : second;
        last = one->text == "C" ? one->box.x : last;
        if (one->text.starts_with("words")) {
            ++lines;
            CHECK(one->box.x == first);
            CHECK(one->box.x + one->box.width > second);
            CHECK(one->box.x + one->box.width <= last);
        }
    }
    CHECK(lines == 1);
}

TEST_CASE("a figure that does not fit lets text and rows pass, a table goes on below its head", "[layout]")
{
    auto dossier = test::small_dossier(1, 3, 1);
    report::Document document;
    const auto text = [](const std::string& words) { return report::Text{{words}}; };
    for (int i = 0; i < 20; ++i)
        document.blocks.emplace_back(report::Paragraph{text("before")});
    for (int i = 0; i < 4; ++i)
        document.blocks.emplace_back(report::FigureBlock{0});
    report::Table table;
    table.caption = text("Rows");
    table.columns = {{text("Head")}};
    for (int i = 0; i < 60; ++i) {
        report::Row row;
        row.cells.emplace_back().text = text("row");
        table.rows.push_back(row);
    }
    const bool heading = GENERATE(false, true);
    CAPTURE(heading);
    if (heading)
        document.blocks.emplace_back(report::Heading{1, text("Next chapter"), "next"});
    document.blocks.emplace_back(table);
    const auto pages = layout::lay_out(document, dossier);
    check_pages(pages);
    const auto count = [&](std::size_t page, const std::string& words) {
        std::size_t found = 0;
        for (const auto& item : pages.pages[page].items) {
            const auto* one = std::get_if<TextItem>(&item);
            found += one != nullptr && one->text == words ? 1U : 0U;
        }
        return found;
    };
    std::size_t rows = 0, before_figures = 0, figures = 0;
    for (std::size_t p = 0; p < pages.pages.size(); ++p) {
        rows += count(p, "row");
        CHECK((count(p, "row") == 0 || count(p, "Head") == 1));  // rows never stand without their head
        figures += pages.pages[p].figures.size();
        before_figures += figures < 4 ? count(p, "row") : 0;
    }
    CHECK(rows == 60);
    CHECK(figures == 4);
    CHECK((before_figures > 0) == !heading);  // nothing passes a figure out of another chapter
}

TEST_CASE("a row higher than a page goes on between its lines, no word is lost", "[layout]")
{
    const auto dossier = test::small_dossier(1, 3, 1);
    report::Document document;
    report::Table table;
    table.caption = {{"Rows"}};
    table.columns = {{{{"Reason"}}}, {{{"Remark"}}}};
    std::string words;
    constexpr int count = 6000;
    for (int i = 0; i < count; ++i)
        words += "word ";
    for (int r = 0; r < 2; ++r) {
        report::Row row;
        row.cells.emplace_back().text = {{words}};
        row.cells.emplace_back().text = {{"short"}};
        table.rows.push_back(row);
    }
    document.blocks.emplace_back(table);
    const auto pages = layout::lay_out(document, dossier, GENERATE(layout::Paper::a4, layout::Paper::letter));
    check_pages(pages);
    REQUIRE(pages.pages.size() > 4);
    int found = 0;
    for (const auto& page : pages.pages) {
        std::size_t heads = 0;
        for (const auto& item : page.items) {
            const auto* text = std::get_if<TextItem>(&item);
            if (text == nullptr)
                continue;
            heads += text->text == "Reason" ? 1U : 0U;
            for (auto at = text->text.find("word"); at != std::string::npos;
                 at = text->text.find("word", at + 1))
                ++found;
        }
        CHECK(heads == 1);
    }
    CHECK(found == 2 * count);
}

TEST_CASE("marks stand where the data are, read back against ticks and limit", "[layout]")
{
    const auto dossier = test::small_dossier(1, 3, 0);
    const auto pages =
        layout::lay_out(report::compose(dossier, "![](plot:reading_error/bare/led)\n"), dossier);
    std::vector<double> marks_x, marks_y, limits_y;
    for (const auto& item : pages.pages.at(0).items) {
        const auto* path = std::get_if<PathItem>(&item);
        if (path == nullptr)
            continue;
        if (path->role.starts_with("mark:")) {
            double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
            for (const auto& point : path->points) {
                left = std::min(left, point.x);
                right = std::max(right, point.x);
                top = std::min(top, point.y);
                bottom = std::max(bottom, point.y);
            }
            marks_x.push_back((left + right) / 2);
            marks_y.push_back((top + bottom) / 2);
        } else if (path->role == "limit:L-1") {
            limits_y.push_back(path->points.front().y);
        }
    }
    REQUIRE(marks_x.size() == 3);
    REQUIRE(limits_y.size() == 2);
    // Levels 10, 100, 1000 lx are evenly spaced on the logarithmic axis.
    CHECK(std::abs((marks_x[1] - marks_x[0]) - (marks_x[2] - marks_x[1])) < 0.01);
    // Limits stand at +5 and -5: the data are read back on the scale between them.
    for (std::size_t i = 0; i < 3; ++i) {
        const double read = 5 - 10 * (marks_y[i] - limits_y[0]) / (limits_y[1] - limits_y[0]);
        CHECK(std::abs(read - *dossier.evaluation.results[i].value) < 0.01);
    }
}

TEST_CASE("a character that no face holds is named", "[layout]")
{
    auto dossier = test::small_dossier();
    dossier.qualification.samples[0].description = "\u4e2d";
    CHECK_THROWS_WITH(layout::lay_out(report::compose(dossier, "![](table:samples)\n"), dossier),
                      Catch::Matchers::Contains("U+4E2D"));
}

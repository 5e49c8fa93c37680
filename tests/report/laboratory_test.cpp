// What ISO/IEC 17025:2017, 7.8.2 and 7.8.3, ask beside results.

#include "report/parts.hpp"
#include "report/symbols.hpp"

#include "report/small_dossier.hpp"

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

std::string text_of(const report::Table& table)
{
    std::string text;
    for (const auto& row : table.rows) {
        for (const auto& cell : row.cells)
            text += report::plain_text(cell.text) + "|";
        text += "\n";
    }
    return text;
}

/// The words of all paragraphs, bullets, facts and tables.
std::string text_of(const report::Blocks& blocks)
{
    std::string text;
    for (const auto& block : blocks) {
        if (const auto* paragraph = std::get_if<report::Paragraph>(&block))
            text += report::plain_text(paragraph->text) + "\n";
        if (const auto* bullets = std::get_if<report::Bullets>(&block))
            for (const auto& item : bullets->items)
                text += "- " + report::plain_text(item) + "\n";
        if (const auto* facts = std::get_if<report::Facts>(&block))
            for (const auto& fact : facts->facts)
                text += fact.name + ": " + report::plain_text(fact.value) + "\n";
        if (const auto* table = std::get_if<report::Table>(&block))
            text += text_of(*table);
    }
    return text;
}

model::Date day(int month, int number)
{
    return std::chrono::sys_days{std::chrono::year{2026} / month / number};
}

}  // namespace

TEST_CASE("place, room, sampling and deviations are printed where they are stated", "[report]")
{
    auto dossier = test::small_dossier();
    auto& document = dossier.qualification.document;
    CHECK(report::room(dossier).empty());
    CHECK(report::sampling(dossier).empty());
    CHECK(text_of(report::deviations(dossier)) == "No deviation from the method is stated.\n");
    document.place = "hall 7";
    document.sampling = "five of forty";
    document.deviations = {"no second operator"};
    model::Quantity temperature;
    temperature.value = 296.15;
    temperature.half_width = 1.5;
    document.environment.temperature = {temperature, 294.15, 298.15};
    CHECK(text_of(report::room(dossier)) ==
          "Place of the tests: hall 7\n"
          "Temperature of the room: 23\u202f°C ± 1.5\u202fK (half-width); limits "
          "21\u202f°C to 25\u202f°C\n"
          "Relative humidity: not stated\n");
    CHECK(text_of(report::sampling(dossier)) == "Sampling: five of forty\n");
    CHECK(text_of(report::deviations(dossier)).find("- No second operator\n") != std::string::npos);
}

TEST_CASE("what the header does not state of place, room, sampling and receipt is listed", "[report]")
{
    auto dossier = test::small_dossier();
    const auto missing = text_of(report::not_stated(dossier));
    for (const auto* what :
         {"place of the tests", "how the items were sampled", "state in which the items were received",
          "temperature of the room", "humidity of the room"}) {
        CAPTURE(what);
        CHECK(missing.find(std::string("- ") + what + "\n") != std::string::npos);
    }
}

TEST_CASE(
    "chain, last check and recall of equipment, risk groups and states as received stand in their tables",
    "[report]")
{
    auto dossier = test::small_dossier();
    auto& qualification = dossier.qualification;
    model::Equipment stage;
    stage.id = "stage";
    stage.traceable_to = "angle laboratory";
    stage.checked = day(2, 16);
    stage.recall = day(12, 31);
    qualification.equipment = {stage};
    CHECK(text_of(report::equipment(dossier)).find("stage|angle laboratory|2026-02-16|2026-12-31|") !=
          std::string::npos);
    qualification.sources.resize(1);
    qualification.sources[0].id = "led";
    qualification.sources[0].risk_group = "RG1";
    CHECK(text_of(report::sources(dossier)).find("RG1|") != std::string::npos);
    CHECK(text_of(report::risk_groups(dossier)) ==
          "Risk groups of the sources (IEC 62471): led risk group 1.\n");
    qualification.sources.push_back(qualification.sources[0]);
    qualification.sources[1].id = "lamp";
    qualification.sources[1].risk_group.clear();
    CHECK(text_of(report::risk_groups(dossier)) ==
          "Risk groups of the sources (IEC 62471): led risk group 1; not stated of lamp.\n");
    for (auto& sample : qualification.samples)
        sample.received = "sealed box";
    CHECK(text_of(report::samples(dossier)).find("sealed box|") != std::string::npos);
}

TEST_CASE("intermediate checks of a meter stand in its chain and in a table", "[report]")
{
    auto dossier = test::small_dossier();
    model::Meter meter;
    meter.id = "M1";
    meter.certificate.emplace().points.push_back({100, 1, 0.01, ""});
    meter.checks = {{day(1, 15), "0.2 % high", "bench engineer"}, {day(2, 27), "0.1 % high", ""}};
    dossier.qualification.meters = {meter};
    const auto blocks = report::reference_meters(dossier);
    CHECK(text_of(blocks).find("2026-01-15|0.2 % high|bench engineer|\n2026-02-27|0.1 % high||\n") !=
          std::string::npos);
    bool in_chain = false;
    for (const auto& block : blocks)
        if (const auto* chain = std::get_if<report::Chain>(&block))
            for (const auto& link : chain->links)
                in_chain = in_chain || report::plain_text(link.text).find("checked 2026-02-27: 0.1 % high") !=
                                           std::string::npos;
    CHECK(in_chain);
}

TEST_CASE("a run whose parts were joined says how, and a line that begins with # counts as left out",
          "[report]")
{
    auto dossier = test::small_dossier();
    model::Run run;
    run.id = "levels";
    run.files.resize(2);
    run.files[0] = {"product.csv", 50, 50, 0, "rows of this file are kept", {}};
    run.files[1] = {"meter.csv", 0, 50, 0.4, "by time within 1 s (half the longer interval)", {14, 15}};
    dossier.qualification.runs = {run};
    CHECK(text_of(report::runs(dossier))
              .find("joined by time within 1 s (half the longer interval): 50 of 100 rows of product.csv, 50 "
                    "of 50 rows "
                    "of meter.csv belong together, at most 0.4 s apart") != std::string::npos);
    CHECK(text_of(report::exclusions(dossier))
              .find("levels|meter.csv, line 14 to 15|no reason is stated: the line begins with #|") !=
          std::string::npos);
}

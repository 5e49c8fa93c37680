#include "intake/intake.hpp"

#include "memory_files.hpp"
#include "model/deviations.hpp"
#include "model/evaluation.hpp"

#include <nlohmann/json.hpp>

#include "support/catch.hpp"

using namespace luxdossier;
using nlohmann::json;

namespace {

json quantity(double value, const char* unit)
{
    return {{"value", value}, {"unit", unit}};
}

json column(const char* heading, const char* unit)
{
    return {{"column", heading}, {"unit", unit}};
}

/// The keys that numbers need, and no others.
json least_header()
{
    return {{"format", "luxdossier/qualification/1"},
            {"runs",
             {{{"id", "levels"},
               {"kind", "comparison"},
               {"file", "levels.csv"},
               {"columns",
                {{"level", column("nominal", "lx")},
                 {"sensor", column("product", "lx")},
                 {"meter", column("Lux", "lx")}}},
               {"sample", "S1"}}}}};
}

const std::string least_readings = "nominal,product,Lux\n10,9.9,10.1\n100,99,101\n1000,990,1010\n";

model::Qualification read(const json& header,
                          std::initializer_list<std::pair<const std::string, std::string>> others = {})
{
    test::MemoryFiles files(others);
    files.set("qualification.json", header.dump());
    if (files.read("levels.csv").state == intake::Files::State::missing)
        files.set("levels.csv", least_readings);
    diagnostics::Diagnostics found;
    auto qualification = intake::read_qualification(files, found);
    CHECK(test::all_messages(found) == "");
    REQUIRE(qualification);
    return std::move(*qualification);
}

}  // namespace

namespace {

/// Files that are other ones at every reading.
class ChangingFiles final : public intake::Files {
public:
    explicit ChangingFiles(std::string header) : header_(std::move(header)) {}
    [[nodiscard]] Answer read(std::string_view path) const override
    {
        ++readings;
        const auto content = path == "qualification.json"
                                 ? header_
                                 : "nominal,product,Lux\n10," + std::to_string(readings) + ",10.1\n";
        return {State::regular, content, nullptr, content.size()};
    }
    mutable int readings = 0;

private:
    std::string header_;
};

}  // namespace

TEST_CASE(
    "a file that several runs name is read once, so that all are evaluated from the bytes that are kept",
    "[intake][header]")
{
    auto header = least_header();
    header["samples"] = {{{"id", "S1"}}, {{"id", "S2"}}};
    header["runs"].push_back(header["runs"][0]);
    header["runs"][1]["id"] = "again";
    header["runs"][1]["sample"] = "S2";
    const ChangingFiles files(header.dump());
    diagnostics::Diagnostics found;
    const auto qualification = intake::read_qualification(files, found);
    CHECK(test::all_messages(found) == "");
    REQUIRE(qualification);
    CHECK(files.readings == 2);
    CHECK(qualification->files.size() == 2);
    REQUIRE(qualification->runs.size() == 2);
    const auto sensor = [&](std::size_t run) {
        return qualification->runs[run].table->number("sensor")->values.front();
    };
    CHECK(sensor(0) == sensor(1));
}

TEST_CASE("numbers need runs with kind, file, columns and sample only", "[intake][header]")
{
    const auto qualification = read(least_header());
    REQUIRE(qualification.runs.size() == 1);
    const auto& run = qualification.runs.front();
    CHECK(run.sample == "S1");
    CHECK(run.table->number("meter")->values == std::vector<double>{10.1, 101, 1010});
    CHECK(run.rows == std::vector<std::uint32_t>{0, 1, 2});
    CHECK_FALSE(run.time_ordered);
    CHECK(qualification.is_draft());
    CHECK(qualification.evaluation.coverage_probability == 0.9545);
    CHECK(qualification.evaluation.monte_carlo);
    REQUIRE(qualification.files.size() == 2);
    CHECK(qualification.files[0].role == "qualification header");
    CHECK(qualification.files[1].path == "levels.csv");
    CHECK(qualification.files[1].content == least_readings);
    CHECK(qualification.files[1].role == "readings of levels");
}

TEST_CASE("quantities become canonical, each way of stating an uncertainty its standard uncertainty",
          "[intake][header]")
{
    auto header = least_header();
    header["geometry"]["distance"] = {
        {"value", 150}, {"unit", "cm"}, {"standard_uncertainty", 2}, {"degrees_of_freedom", 9}};
    header["geometry"]["plane_offset"] = {{"value", 1},
                                          {"unit", "mm"},
                                          {"expanded_uncertainty", 1.6},
                                          {"coverage_factor", 2},
                                          {"note", "depth gauge"}};
    header["geometry"]["stage_zero"] = {{"value", 0}, {"unit", "degree"}, {"half_width", 0.3}};
    const auto geometry = read(header).geometry;
    CHECK(geometry.distance->value == 1.5);
    CHECK(geometry.distance->unit == "m");
    CHECK(*geometry.distance->standard_uncertainty == 0.02);
    CHECK(geometry.distance->degrees_of_freedom == 9);
    CHECK(geometry.distance->distribution == uncertainty::Distribution::student_t);
    CHECK(geometry.distance->written_value == 150);
    CHECK(geometry.distance->written_unit == "cm");
    CHECK(test::agree(*geometry.plane_offset->standard_uncertainty, 0.0008, 1e-15));
    CHECK(geometry.plane_offset->distribution == uncertainty::Distribution::normal);
    CHECK(geometry.plane_offset->note == "depth gauge");
    // Half-width over the square root of 3: JCGM 100:2008, 4.3.7.
    CHECK(test::agree(*geometry.stage_zero->standard_uncertainty,
                      0.3 * 3.14159265358979 / 180 / 1.7320508075688772, 1e-14));
    CHECK(geometry.stage_zero->distribution == uncertainty::Distribution::rectangular);
}

TEST_CASE("a certificate's points become correction factors, sorted by illuminance", "[intake][header]")
{
    auto header = least_header();
    header["meters"] = {{{"id", "M1"},
                         {"certificate",
                          {{"number", "K-1"},
                           {"issued", "2025-09-15"},
                           {"coverage_factor", 2},
                           {"temperature", quantity(23, "degC")},
                           {"points",
                            {{{"illuminance", quantity(1, "klx")},
                              {"indication", quantity(998, "lx")},
                              {"expanded_uncertainty", quantity(15, "lx")}},
                             {{"illuminance", quantity(10, "lx")},
                              {"correction_factor", 1.004},
                              {"expanded_uncertainty", quantity(1.2, "%")}},
                             {{"illuminance", quantity(100, "lx")},
                              {"error", quantity(-0.5, "lx")},
                              {"expanded_uncertainty", quantity(1, "%")}}}}}},
                         {"annual_drift", quantity(0.3, "%/year")}}};
    const auto qualification = read(header);
    const auto& meter = qualification.meters.front();
    const auto& points = meter.certificate->points;
    REQUIRE(points.size() == 3);
    CHECK(points[0].illuminance_lx == 10);
    CHECK(points[0].correction_factor == 1.004);
    CHECK(points[0].relative_expanded_uncertainty == 0.012);
    CHECK(points[1].correction_factor == 100 / 99.5);
    CHECK(points[1].written == "error -0.5 lx, U 1.0 %");
    CHECK(points[2].correction_factor == 1000.0 / 998);
    CHECK(points[2].relative_expanded_uncertainty == 0.015);
    CHECK(meter.certificate->temperature->value == 296.15);
    CHECK(test::agree(*meter.annual_drift_per_year, 0.003, 1e-15));
}

TEST_CASE("the stated class fills in what nothing else states, and says so", "[intake][header]")
{
    auto header = least_header();
    header["meters"] = {{{"id", "M1"},
                         {"linearity", quantity(0.2, "%")},
                         {"class",
                          {{"standard", "a standard of the trade"},
                           {"class", "B"},
                           {"limits",
                            {{"linearity", quantity(1, "%")},
                             {"mismatch_index", quantity(6, "%")},
                             {"temperature_coefficient", quantity(0.2, "%/K")}}}}}}};
    const auto qualification = read(header);
    const auto& meter = qualification.meters.front();
    CHECK(*meter.linearity == 0.002);
    CHECK(*meter.mismatch_index == 0.06);
    CHECK_FALSE(meter.range_change);
    CHECK(meter.temperature_coefficient->value == 0);
    CHECK(test::agree(*meter.temperature_coefficient->half_width, 0.002, 1e-15));
    CHECK(meter.from_class == std::vector<std::string>{"mismatch_index", "temperature_coefficient"});
}

TEST_CASE("counts become lx by the product's scale, in columns, resolution and ceiling", "[intake][header]")
{
    auto header = least_header();
    header["product"] = {
        {"scale", 0.025}, {"resolution", quantity(1, "count")}, {"ceiling", quantity(4, "klx")}};
    header["runs"][0]["columns"]["sensor"]["unit"] = "count";
    const auto qualification =
        read(header, {{"levels.csv", "nominal,product,Lux\n10,400,10\n100,4000,100\n"}});
    CHECK(qualification.runs[0].table->number("sensor")->values == std::vector<double>{10, 100});
    CHECK(qualification.product.resolution->value == 0.025);
    CHECK(qualification.product.resolution->unit == "lx");
    CHECK(qualification.product.ceiling->value == 4000);
}

TEST_CASE("defaults of a kind add what a run does not state, conditions name by name", "[intake][header]")
{
    auto header = least_header();
    header["run_defaults"]["comparison"] = {
        {"source", "led"},
        {"file", "other.csv"},
        {"conditions", {{"own_light", "off"}, {"distance", quantity(1.5, "m")}}}};
    header["runs"][0]["conditions"] = {{"distance", quantity(500, "mm")}, {"operator", "night shift"}};
    const auto qualification = read(header);
    const auto& run = qualification.runs.front();
    CHECK(run.source == "led");
    CHECK(run.files.front().file == "levels.csv");
    CHECK(model::result_id("m", run.sample, run.conditions) ==
          "m/distance=0.5m/operator=night shift/own_light=off/sample=S1");
}

TEST_CASE("conditions are kept in their record units", "[intake][header]")
{
    auto header = least_header();
    header["runs"][0]["columns"].erase("level");
    header["runs"][0]["conditions"] = {{"level", quantity(0.3, "klx")},
                                       {"plane", quantity(1.5707963267948966, "rad")},
                                       {"temperature", quantity(40, "degC")},
                                       {"humidity", quantity(45, "%")}};
    const auto qualification = read(header);
    const auto& conditions = qualification.runs.front().conditions;
    CHECK(model::condition_text(conditions.at("level")) == "300lx");
    CHECK(model::condition_text(conditions.at("plane")) == "90degree");
    CHECK(model::condition_text(conditions.at("temperature")) == "313.15K");
    CHECK(model::condition_text(conditions.at("humidity")) == "0.45");
}

TEST_CASE("each distinct combination of columns that are conditions is a run", "[intake][header]")
{
    auto header = least_header();
    header["runs"][0].erase("sample");
    header["runs"][0]["columns"]["sample"] = {{"column", "unit"}};
    header["runs"][0]["columns"]["temperature"] = column("T", "degC");
    header["runs"][0]["columns"]["meter_temperature"] = column("Tm", "degC");
    const auto qualification =
        read(header, {{"levels.csv", "unit,nominal,product,Lux,T,Tm\n"
                                     "S2,10,1,1,20.1,23\nS1,10,2,2,20.2,23\nS2,100,3,3,20.3,23\n"
                                     "S1,100,4,4,20.4,40\n"}});
    REQUIRE(qualification.runs.size() == 3);
    CHECK(qualification.runs[0].sample == "S2");
    CHECK(qualification.runs[0].rows == std::vector<std::uint32_t>{0, 2});
    CHECK(qualification.runs[1].sample == "S1");
    CHECK(qualification.runs[1].rows == std::vector<std::uint32_t>{1});
    CHECK(model::condition_text(qualification.runs[2].conditions.at("meter_temperature")) == "313.15K");
    CHECK(qualification.runs[2].rows == std::vector<std::uint32_t>{3});
    CHECK(qualification.runs[0].id == qualification.runs[2].id);
    CHECK(qualification.runs[0].table == qualification.runs[2].table);
    // The temperature that a comparison run logs is a reading, not a condition.
    CHECK(qualification.runs[0].conditions.count("temperature") == 0);
}

TEST_CASE("excluded rows count data rows from 1, comments left out", "[intake][header]")
{
    auto header = least_header();
    header["exclusions"] = {{{"run", "levels"}, {"rows", {2}}, {"reason", "door opened"}}};
    const auto qualification =
        read(header, {{"levels.csv", "# first\nnominal,product,Lux\n10,1,1\n# door\n100,2,2\n1000,3,3\n"}});
    CHECK(qualification.runs[0].rows == std::vector<std::uint32_t>{0, 2});
}

TEST_CASE("dates and times in the time column start the run where nothing else does", "[intake][header]")
{
    auto header = least_header();
    header["runs"][0]["columns"]["time"] = {{"column", "t"}};
    const std::string readings =
        "t,nominal,product,Lux\n2025-03-10T09:00:00,10,1,1\n2025-03-10T09:00:05,100,2,2\n";
    auto qualification = read(header, {{"levels.csv", readings}});
    REQUIRE(qualification.runs[0].started);
    CHECK(model::date_text(qualification.runs[0].started->date()) == "2025-03-10");
    CHECK(qualification.runs[0].time_ordered);
    header["runs"][0]["started"] = "2025-03-09";
    header["runs"][0]["time_ordered"] = false;
    qualification = read(header, {{"levels.csv", readings}});
    CHECK(model::date_text(qualification.runs[0].started->date()) == "2025-03-09");
    CHECK_FALSE(qualification.runs[0].time_ordered);
}

TEST_CASE("parts are joined and their unmatched rows counted", "[intake][header]")
{
    auto header = least_header();
    auto& run = header["runs"][0];
    run.erase("file");
    run.erase("columns");
    run["join_within"] = quantity(500, "ms");
    run["parts"] = {
        {{"file", "product.csv"},
         {"columns",
          {{"time", column("t", "s")}, {"level", column("level", "lx")}, {"sensor", column("lx", "lx")}}}},
        {{"file", "meter.csv"},
         {"columns", {{"time", column("min", "min")}, {"meter", column("klx", "klx")}}}}};
    const auto qualification = read(header, {{"product.csv", "t;level;lx\n0;10;9,5\n60;10;9,6\n120;10;9,7\n"},
                                             {"meter.csv", "min,klx\n0,0.01\n1.005,0.0101\n1.9,0.0102\n"}});
    const auto& joined = qualification.runs.front();
    REQUIRE(joined.files.size() == 2);
    CHECK(joined.files[0].unmatched_rows == 1);
    CHECK(joined.files[1].unmatched_rows == 1);
    const auto& meter = joined.table->number("meter")->values;
    CHECK(meter[0] == 10);
    CHECK(test::agree(meter[1], 10.1, 1e-15));
    CHECK(std::isnan(meter[2]));
}

TEST_CASE("logs of other intervals are joined by their times without being asked, and how is told",
          "[intake][header]")
{
    auto header = least_header();
    auto& run = header["runs"][0];
    run.erase("file");
    run.erase("columns");
    run["parts"] = {
        {{"file", "product.csv"},
         {"columns",
          {{"time", column("t", "s")}, {"level", column("level", "lx")}, {"sensor", column("lx", "lx")}}}},
        {{"file", "meter.csv"},
         {"columns", {{"time", column("t", "s")}, {"meter", column("lx", "lx")}}},
         {"format", {{"delimiter", ";"}, {"decimal", ","}, {"clock_offset", quantity(-10, "s")}}}}};
    // The product every second, three levels of 20 s; the meter every two seconds, 10 s ahead: E 0.8 % above
    // D.
    std::string product = "t,level,lx\n", meter = "t;lx\n";
    const auto level_at = [](int second) { return second < 20 ? 10 : second < 40 ? 100 : 1000; };
    for (int second = 0; second < 60; ++second)
        product += std::to_string(second) + "," + std::to_string(level_at(second)) + "," +
                   std::to_string(level_at(second)) + "\n";
    for (int second = 0; second < 60; second += 2)
        meter += std::to_string(second + 10) + ",2;" + std::to_string(level_at(second)) + ",8\n";
    const auto qualification = read(header, {{"product.csv", product}, {"meter.csv", meter}});
    const auto& joined = qualification.runs.front();
    const auto& sensor = joined.table->number("sensor")->values;
    const auto& lux = joined.table->number("meter")->values;
    for (std::size_t row = 0; row < sensor.size(); ++row) {
        CAPTURE(row);
        if (row % 2 == 1)
            CHECK(std::isnan(lux[row]));
        else
            CHECK(lux[row] == sensor[row] + 0.8);
    }
    REQUIRE(joined.files.size() == 2);
    CHECK(joined.files[0].matched_rows == 30);
    CHECK(joined.files[0].unmatched_rows == 30);
    CHECK(joined.files[1].matched_rows == 30);
    CHECK(joined.files[1].unmatched_rows == 0);
    CHECK(test::agree(joined.files[1].largest_time_difference_s, 0.2, 1e-12));
    CHECK(model::join_words(joined) ==
          "joined by time within 1 s (half the longer interval), its clock put right by −10 s: 30 of 60 rows "
          "of "
          "product.csv, 30 of 30 rows of meter.csv belong together, at most 0.2 s apart");
}

TEST_CASE("the header holds what ISO/IEC 17025 asks beside results", "[intake][header]")
{
    auto header = least_header();
    header["document"] = {
        {"place", "hall 7"},
        {"sampling", "five of the pilot lot, drawn by the customer"},
        {"deviations", {"no second operator"}},
        {"environment",
         {{"temperature",
           {{"value", 23}, {"unit", "degC"}, {"half_width", 1.5}, {"limits", {{"from", 21}, {"to", 25}}}}},
          {"humidity", {{"value", 45}, {"unit", "%"}, {"half_width", 10}, {"limits", {{"to", 65}}}}}}}};
    header["samples"] = {{{"id", "S1"}, {"received", "sealed box, undamaged"}}};
    header["meters"] = {
        {{"id", "M1"},
         {"checks",
          {{{"date", "2026-02-20"}, {"found", "0.2 % from the lamp of 2025"}, {"by", "bench engineer"}},
           {{"date", "2026-01-15"}, {"found", "0.1 %"}}}}}};
    header["equipment"] = {
        {{"id", "stage"}, {"traceable_to", "length laboratory"}, {"checked", "2026-01-31"}}};
    header["sources"] = {{{"id", "led"}, {"kind", "led"}, {"risk_group", "RG1"}}};
    const auto qualification = read(header);
    const auto& document = qualification.document;
    CHECK(document.place == "hall 7");
    CHECK(document.sampling == "five of the pilot lot, drawn by the customer");
    CHECK(document.deviations == std::vector<std::string>{"no second operator"});
    const auto& temperature = document.environment.temperature;
    CHECK(test::agree(temperature.stated->value, 296.15, 1e-12));
    CHECK(test::agree(*temperature.stated->half_width, 1.5, 1e-12));
    CHECK(test::agree(*temperature.from, 294.15, 1e-12));
    CHECK(test::agree(*temperature.to, 298.15, 1e-12));
    CHECK(test::agree(document.environment.humidity.stated->value, 0.45, 1e-12));
    CHECK_FALSE(document.environment.humidity.from);
    CHECK(test::agree(*document.environment.humidity.to, 0.65, 1e-12));
    CHECK(qualification.samples[0].received == "sealed box, undamaged");
    REQUIRE(qualification.meters[0].checks.size() == 2);
    CHECK(qualification.meters[0].checks[0].found == "0.1 %");  // in the order of their dates
    CHECK(qualification.meters[0].checks[1].by == "bench engineer");
    CHECK(qualification.equipment[0].traceable_to == "length laboratory");
    CHECK(model::date_text(*qualification.equipment[0].checked) == "2026-01-31");
    CHECK(qualification.sources[0].risk_group == "RG1");
}

TEST_CASE("a run by substitution among others read side by side is a deviation", "[intake][header]")
{
    auto header = least_header();
    header["document"] = {{"deviations", {"no second operator"}}};
    CHECK(model::deviations_of(read(header)) == std::vector<std::string>{"no second operator"});
    auto second = header["runs"][0];
    second["id"] = "swapped";
    second["method"] = "substitution";
    header["runs"].push_back(second);
    CHECK(model::deviations_of(read(header)).back() ==
          "by substitution, unlike the other comparisons, which were read side by side: run swapped");
    header["runs"][0]["method"] = "substitution";  // all alike: the method itself
    CHECK(model::deviations_of(read(header)).size() == 1);
}

TEST_CASE("curves are read in canonical units and a file that is named twice is kept once",
          "[intake][header]")
{
    auto header = least_header();
    header["configurations"] = {
        {{"id", "bare"}, {"angular_target", "cosine"}},
        {{"id", "windowed"}, {"angular_target", "target.csv"}, {"angular_reference", "peak"}}};
    header["sources"] = {{{"id", "led"}, {"kind", "led"}, {"spectrum", "white.csv"}},
                         {{"id", "led-2"}, {"kind", "led"}, {"spectrum", "white.csv"}}};
    const auto qualification = read(header, {{"target.csv", "angle,response\n-90,0\n0,1\n90,0\n"},
                                             {"white.csv", "wavelength,power\n400,0\n500,2\n"}});
    CHECK(qualification.configuration("bare")->target_is_cosine);
    CHECK_FALSE(qualification.configuration("bare")->target);
    CHECK(qualification.configuration("windowed")->reference_is_peak);
    CHECK(test::agree(qualification.configuration("windowed")->target->x.back(), 1.5707963267948966, 1e-15));
    CHECK(test::agree(qualification.source("led")->spectrum->x.front(), 400e-9, 1e-15));
    CHECK(qualification.source("led-2")->spectrum->y == std::vector<double>{0, 2});
    REQUIRE(qualification.files.size() == 4);
    CHECK(qualification.files[2].role == "spectrum of led, spectrum of led-2");
}

TEST_CASE("a comment may stand in any object", "[intake][header]")
{
    auto header = least_header();
    header["comment"] = {{"anything", 1}};
    header["$schema"] = "qualification-1.schema.json";
    header["runs"][0]["comment"] = "first try";
    header["runs"][0]["columns"]["comment"] = 5;
    header["runs"][0]["columns"]["meter"]["comment"] = nullptr;
    header["runs"][0]["conditions"]["comment"] = "as usual";
    CHECK(read(header).runs[0].conditions.empty());
}

#include "metrics/laboratory.hpp"
#include "metrics/settling.hpp"

#include <random>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

model::NumberColumn times(std::vector<double> seconds)
{
    return column("time", "s", std::move(seconds));
}

model::Run with_time(model::Run run, std::vector<double> seconds)
{
    auto table = std::make_shared<model::Table>(*run.table);
    table->numbers.push_back(times(std::move(seconds)));
    run.table = table;
    return run;
}

/// Meter, product, meter at 500 lx: the source falls from 510 lx to 490 lx meanwhile.
model::Run returning()
{
    return comparison("r", std::vector<double>(9, 500.0),
                      {missing, missing, missing, 505, 506, 504, missing, missing, missing},
                      {510, 511, 509, missing, missing, missing, 490, 491, 489});
}

}  // namespace

TEST_CASE("500 lx at the sensor and 400 lx at the reference position make a position factor of 1.25",
          "[position]")
{
    // Common practice, no source.
    auto qualification = laboratory();
    qualification.runs = {position("p",
                                   {"reference", "reference", "sensor", "sensor", "reference", "reference"},
                                   {400, 400, 500, 500, 400, 400})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& k = only(evaluation, "position_factor");
    CHECK(agree(*k.value, 1.25, 1e-14));
    CHECK(k.sample.empty());
    // What both readings share cancels by itself; what is placed by hand counts once at each place.
    CHECK(line_of(evaluation, k, "/common").contribution < 1e-15);
    CHECK(line_of(evaluation, k, "annual-drift").contribution < 1e-15);
    CHECK(line_of(evaluation, k, "linearity/run:p").contribution < 1e-15);
    const double placement =
        1.25 * 2 / (1 + 0.05 * 0.05 / 4) / 2 * 0.001;  // r = 0.05 m, d = 2 m, u(dz) = 1 mm
    CHECK(agree(line_of(evaluation, k, "place=sensor/plane-offset").contribution, placement, 1e-12));
    CHECK(agree(line_of(evaluation, k, "place=reference/plane-offset").contribution, placement, 1e-12));
}

TEST_CASE("a stated offset of the product plane is corrected at the sensor's place", "[position]")
{
    auto qualification = laboratory();
    qualification.geometry.plane_offset = quantity(0.01, "m", 0.001);
    qualification.runs = {position("p",
                                   {"reference", "reference", "sensor", "sensor", "reference", "reference"},
                                   {400, 400, 500, 500, 400, 400})};
    const double r = 0.05, d = 2, dz = 0.01;
    CHECK(agree(*only(metrics::evaluate(qualification), "position_factor").value,
                1.25 * (d * d + r * r) / ((d + dz) * (d + dz) + r * r), 1e-13));
}

TEST_CASE("places in another order than there and back are not decided", "[position]")
{
    auto qualification = laboratory();
    const auto places = GENERATE(std::vector<std::string>{"reference", "sensor", "reference", "sensor"},
                                 std::vector<std::string>{"sensor", "sensor"});
    qualification.runs = {position("p", places, std::vector<double>(places.size(), 400.0))};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(!only(evaluation, "position_factor").value.has_value());
    CHECK(only(evaluation, "position_factor").undecided ==
          "run p: the places must come as reference, sensor (and back), each in one block");
}

TEST_CASE("the position factor carries the illuminance to the sensor, one input for all levels", "[position]")
{
    auto qualification = laboratory();
    auto run = comparison("r", {200, 200, 200, 400, 400, 400}, {250, 251, 249, 500, 502, 498},
                          {200, 201, 199, 400, 401, 399});
    run.position_runs = {"far", "p"};
    auto far = position("far", {"reference", "reference", "sensor", "sensor", "reference", "reference"},
                        {400, 400, 800, 800, 400, 400});
    far.conditions["distance"] = model::ConditionQuantity{3.0, "m"};
    qualification.runs = {run, far,
                          position("p",
                                   {"reference", "reference", "sensor", "sensor", "reference", "reference"},
                                   {400, 401, 500, 501, 400, 399})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto levels = all_of(evaluation, "illuminance");
    REQUIRE(levels.size() == 2);
    CHECK(agree(*levels[0]->value, 200 * 1.25125,
                1e-12));  // of the run at the same distance, not of the first one
    CHECK(has_line(evaluation, *levels[0], "run:p/A1/meter/mean"));
    CHECK(uncertainty::covariance(evaluation.graph, *levels[0]->node, *levels[1]->node) > 0);
}

TEST_CASE("a series that returns is interpolated to the product's time, with half of what the source did",
          "[substitution]")
{
    auto qualification = laboratory();
    qualification.runs = {returning()};
    const auto half_way = metrics::evaluate(qualification);
    CHECK(agree(*only(half_way, "illuminance").value, 500, 1e-12));
    const auto line = line_of(half_way, only(half_way, "illuminance"), "run:r/level=500lx/source");
    CHECK(agree(line.contribution, 10 / std::sqrt(3.0), 1e-9));  // half of the 20 lx
    CHECK(has_line(half_way, only(half_way, "illuminance"), "run:r/plane-offset"));

    // with times: the product was read a quarter of the way
    qualification.runs = {with_time(returning(), {0, 1, 2, 25, 26, 27, 100, 101, 102})};
    const auto timed = metrics::evaluate(qualification);
    CHECK(agree(*only(timed, "illuminance").value, 505, 1e-12));
}

TEST_CASE("where both ends agree the source input is bounded by what the two means can tell",
          "[substitution]")
{
    auto qualification = laboratory();
    auto run = comparison("r", std::vector<double>(9, 500.0),
                          {missing, missing, missing, 505, 506, 504, missing, missing, missing},
                          {500, 501, 499, missing, missing, missing, 500, 501, 499});
    qualification.runs = {run};
    const auto evaluation = metrics::evaluate(qualification);
    const auto line = line_of(evaluation, only(evaluation, "illuminance"), "run:r/level=500lx/source");
    // both means pool s = 1 lx: u(A2 - A1) = sqrt(2/3) lx
    CHECK(agree(line.contribution, std::sqrt(2.0 / 3) / 2 / std::sqrt(3.0), 1e-9));
}

TEST_CASE("a series without return needs a settled log or a stated drift of the source", "[substitution]")
{
    auto qualification = laboratory();
    qualification.runs = {comparison("r", std::vector<double>(6, 500.0),
                                     {missing, missing, missing, 505, 506, 504},
                                     {500, 501, 499, missing, missing, missing})};
    const auto without = metrics::evaluate(qualification);
    CHECK(only(without, "reading_error")
              .undecided.starts_with("run r: meter and product read one after the other without return"));
    CHECK(!only(without, "reading_error").combined.has_value());
    CHECK(agree(*only(without, "reading_error").value, 1.0, 1e-9));

    qualification.sources[0].drift = 0.003;
    const auto with = metrics::evaluate(qualification);
    CHECK(only(with, "reading_error").undecided.empty());
    const auto line = line_of(with, only(with, "illuminance"), "run:r/level=500lx/source");
    CHECK(agree(line.contribution, 500 * 0.003 / std::sqrt(3.0), 1e-12));
}

TEST_CASE("any other order of meter and product is not decided", "[substitution]")
{
    auto qualification = laboratory();
    qualification.runs = {comparison("r", std::vector<double>(4, 500.0), {missing, 505, missing, 504},
                                     {500, missing, 501, missing})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "reading_error").undecided ==
          "run r, level 500 lx: meter and product must come one after the other (and back), each row with "
          "the reading of one of them");
}

TEST_CASE("a steady log with noise alone shows no change of level beyond that noise", "[substitution]")
{
    std::mt19937 generator(20);
    std::normal_distribution<double> noise(1000, 1);
    std::vector<double> seconds, level;
    for (int i = 0; i < 20000; ++i) {
        seconds.push_back(i);
        level.push_back(noise(generator));
    }
    metrics::SettledLog log;
    log.time_s = seconds;
    log.level = level;
    const auto change = metrics::level_change(log, 60, 10);
    REQUIRE(change.has_value());
    // The difference of two means of 10 has a variance of 2/10 lx^2, known from 285 disjoint pairs to
    // sqrt(2/285) of it: what is left after taking it off is chance, here held to three standard deviations.
    const double left = 3 * 0.2e-6 * std::sqrt(2.0 / 285);
    CHECK(change->standard_uncertainty * change->standard_uncertainty < left);
    CHECK(change->degrees_of_freedom == 284);  // 20000 readings hold 285 disjoint pairs of 60 + 10 readings
}

TEST_CASE("a log that falls steadily shows the change over the lag", "[substitution]")
{
    std::vector<double> seconds, level;
    for (int i = 0; i < 2000; ++i) {
        seconds.push_back(i);
        level.push_back(1000 - 0.01 * i);
    }
    metrics::SettledLog log;
    log.time_s = seconds;
    log.level = level;
    const auto change = metrics::level_change(log, 100, 1);
    REQUIRE(change.has_value());
    CHECK(agree(change->standard_uncertainty, 1.0 / 990.005,
                1e-9));                                       // single readings: no spread inside a block
    CHECK(!metrics::level_change(log, 1500, 1).has_value());  // no two disjoint pairs
    CHECK(!metrics::level_change({}, 100, 1).has_value());
}

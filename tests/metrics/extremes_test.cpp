// What no bench should bring, and some do: nothing may crash, hang or give a number that is none.

#include "metrics/bench.hpp"
#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

model::Qualification with(std::vector<double> level, std::vector<double> sensor, std::vector<double> meter)
{
    auto qualification = laboratory();
    qualification.runs = {comparison("r", std::move(level), std::move(sensor), std::move(meter))};
    return qualification;
}

}  // namespace

TEST_CASE("odd readings give finite results or reasons, never NaN", "[extremes]")
{
    struct Case {
        std::string what;
        model::Qualification qualification;
    };
    const std::vector<Case> cases{
        {"one reading", with({100}, {100}, {100})},
        {"one reading a level", with({10, 100, 1000}, {10, 101, 1000}, {10, 100, 1000})},
        {"all equal", with({10, 10, 100, 100, 1000, 1000}, {10, 10, 100, 100, 1000, 1000},
                           {10, 10, 100, 100, 1000, 1000})},
        {"all missing", with({10, 100}, {missing, missing}, {missing, missing})},
        {"no meter readings", with({10, 100}, {10, 100}, {missing, missing})},
        {"no rows", with({}, {}, {})},
        {"all zero",
         with({10, 10, 100, 100, 1000, 1000}, std::vector<double>(6, 0.0), std::vector<double>(6, 0.0))},
        {"the meter below its zero",
         with({10, 10, 100, 100, 1000, 1000}, {1, 2, 3, 4, 5, 6}, {-1, -2, -3, -1, -2, -4})},
        {"saturated", with({10, 10, 100, 100, 1000, 1000}, std::vector<double>(6, 1000.0),
                           {10, 11, 100, 101, 1000, 1001})},
        {"the same illuminance at all levels",
         with({10, 10, 100, 100, 1000, 1000}, {1, 2, 3, 4, 5, 6}, std::vector<double>(6, 50.0))},
        {"levels out of order", with({1000, 1000, 10, 10, 100, 100}, {1000, 1002, 10, 10.1, 100, 101},
                                     {1000, 1001, 10, 10.2, 100, 102})},
        {"levels without a name", with(std::vector<double>(4, missing), {1, 2, 3, 4}, {1, 2, 3, 4})},
        {"very large", with({1e4, 1e4, 2e4, 2e4, 5e4, 5e4}, {1e300, 2e300, 1e300, 2e300, 3e300, 1e300},
                            {1e4, 1e4, 2e4, 2.1e4, 5e4, 5e4})},
    };
    for (const auto& [what, qualification] : cases) {
        CAPTURE(what);
        model::Evaluation evaluation;
        REQUIRE_NOTHROW(evaluation = metrics::evaluate(qualification));
        CHECK(all_finite(evaluation));
    }
}

TEST_CASE("readings that are all missing leave each level with a reason", "[extremes]")
{
    const auto evaluation = metrics::evaluate(with({10, 100}, {missing, missing}, {missing, missing}));
    REQUIRE(all_of(evaluation, "reading_error").size() == 2);
    CHECK(!only(evaluation, "reading_error").value.has_value());
    CHECK(!only(evaluation, "reading_error").undecided.empty());
}

TEST_CASE("one reading a level has values and no uncertainty", "[extremes]")
{
    const auto evaluation = metrics::evaluate(with({10, 100, 1000}, {10, 101, 1000}, {10, 100, 1000}));
    for (const auto* error : all_of(evaluation, "reading_error")) {
        CHECK(error->value.has_value());
        CHECK(!error->combined.has_value());
        CHECK(!error->undecided.empty());
    }
}

TEST_CASE("a qualification without runs has no results", "[extremes]")
{
    CHECK(metrics::evaluate(laboratory()).results.empty());
    CHECK(metrics::evaluate(model::Qualification{}).results.empty());
}

TEST_CASE("any number of threads gives the same bits", "[extremes]")
{
    const auto qualification =
        with({10, 10, 10, 100, 100, 100, 1000, 1000, 1000}, {10, 10.2, 10.4, 100, 102, 101, 1000, 1002, 1003},
             {10, 10.1, 10.3, 100, 101, 99, 1000, 1001, 1002});
    const auto evaluated = [&](unsigned threads) {
        metrics::Bench bench(qualification);
        for (const auto& family : metrics::families())
            family.evaluate(bench);
        return std::move(bench).finish(threads);
    };
    const auto one = evaluated(1);
    for (const unsigned threads : {2U, 3U, 7U, 1000U}) {
        const auto many = evaluated(threads);
        REQUIRE(many.results.size() == one.results.size());
        for (std::size_t i = 0; i < one.results.size(); ++i) {
            CHECK(many.results[i].id == one.results[i].id);
            CHECK(many.results[i].value == one.results[i].value);
            REQUIRE(many.results[i].combined.has_value() == one.results[i].combined.has_value());
            if (one.results[i].combined)
                CHECK(many.results[i].combined->standard_uncertainty ==
                      one.results[i].combined->standard_uncertainty);
        }
    }
}

TEST_CASE("the catalogue names every metric that results carry, with unit and conditions", "[registry]")
{
    auto qualification =
        with({10, 10, 10, 100, 100, 100, 1000, 1000, 1000}, {10, 10.2, 10.4, 100, 102, 101, 1000, 1002, 1003},
             {10, 10.1, 10.3, 100, 101, 99, 1000, 1001, 1002});
    const auto catalogue = metrics::catalogue();
    const auto evaluation = metrics::evaluate(qualification);
    REQUIRE(!evaluation.results.empty());
    for (const auto& result : evaluation.results) {
        CAPTURE(result.id);
        const auto entry = std::ranges::find(catalogue, result.metric, &model::MetricEntry::id);
        REQUIRE(entry != catalogue.end());
        CHECK(entry->unit == result.unit);
        CHECK(entry->has_sample == !result.sample.empty());
        for (const auto& [name, value] : result.conditions)
            CHECK(std::ranges::find(entry->conditions, name) != entry->conditions.end());
    }
}

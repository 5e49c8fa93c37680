#include "model/selection.hpp"

#include "support/catch.hpp"

using namespace luxdossier::model;

namespace {

Result reading_error()
{
    Result result;
    result.metric = "reading_error";
    result.sample = "S1";
    result.conditions["source"] = std::string("led");
    result.conditions["level"] = ConditionQuantity{100, "lx"};
    return result;
}

Limit limit_where(std::vector<Selector> where)
{
    Limit limit;
    limit.metric = "reading_error";
    limit.where = std::move(where);
    return limit;
}

}  // namespace

TEST_CASE("a limit selects by metric, sample, id and range, ends included", "[model]")
{
    const auto result = reading_error();
    CHECK(selects(limit_where({}), result));
    CHECK(selects(limit_where({{"sample", {"S2", "S1"}, {}, {}}}), result));
    CHECK_FALSE(selects(limit_where({{"sample", {"S2"}, {}, {}}}), result));
    CHECK(selects(limit_where({{"source", {"led"}, {}, {}}, {"level", {}, 100.0, 200.0}}), result));
    CHECK(
        selects(limit_where({{"level", {}, 10.0, 100.0 * (1 - 5e-10)}}), result));  // equal but for rounding
    CHECK_FALSE(selects(limit_where({{"level", {}, 10.0, 99.9}}), result));
    CHECK(selects(limit_where({{"level", {}, 50.0, {}}}), result));
    CHECK_FALSE(
        selects(limit_where({{"plane", {}, 0.0, 0.0}}), result));  // a condition that it does not carry
    auto other = limit_where({});
    other.metric = "gain";
    CHECK_FALSE(selects(other, result));
    other = limit_where({});
    other.not_assessed = "tested elsewhere";
    CHECK_FALSE(selects(other, result));
}

TEST_CASE("a mask selects the angles that it spans", "[model]")
{
    auto result = reading_error();
    auto limit = limit_where({});
    limit.mask = Mask{"mask.csv", {-60, 0, 60}, {0, 0, 0}, {1, 1, 1}};
    CHECK_FALSE(selects(limit, result));
    result.conditions["angle"] = ConditionQuantity{60, "degree"};
    CHECK(selects(limit, result));
    result.conditions["angle"] = ConditionQuantity{61, "degree"};
    CHECK_FALSE(selects(limit, result));
}

TEST_CASE("conditions are read as numbers and as text", "[model]")
{
    const auto result = reading_error();
    CHECK(condition_number(result.conditions, "level") == 100.0);
    CHECK_FALSE(condition_number(result.conditions, "source").has_value());
    CHECK_FALSE(condition_number(result.conditions, "angle").has_value());
    CHECK(condition_text(result.conditions, "level") == "100lx");
    CHECK(condition_text(result.conditions, "source") == "led");
    CHECK(condition_text(result.conditions, "angle").empty());
}

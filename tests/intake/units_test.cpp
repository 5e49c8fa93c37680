#include "intake/units.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using intake::convert_unit;
using intake::UnitState;

namespace {

double converted(double value, std::string_view from, std::string_view to)
{
    const auto answer = convert_unit(from, to);
    REQUIRE(answer.state == UnitState::known);
    return answer.conversion(value);
}

}  // namespace

TEST_CASE("units of the trade reach their canonical unit", "[intake][units]")
{
    CHECK(converted(1.5, "klx", "lx") == 1500);
    CHECK(converted(1.2, "%", "1") == 0.012);
    CHECK(converted(23, "degC", "K") == 296.15);
    CHECK(converted(0.4, "min", "s") == 24);
    CHECK(test::agree(converted(180, "degree", "rad"), 3.14159265358979323846, 1e-15));
    CHECK(test::agree(converted(-0.02, "%/K", "1/K"), -0.0002, 1e-15));
    CHECK(test::agree(converted(-0.02, "%/degC", "1/K"), -0.0002, 1e-15));
    CHECK(test::agree(converted(0.3, "%/year", "1/year"), 0.003, 1e-15));
    CHECK(test::agree(converted(1, "mW/cm2", "W/m2"), 10, 1e-15));
    CHECK(converted(4000, "count", "1") == 4000);
}

TEST_CASE("a year has the seconds that udunits2 gives it", "[intake][units]")
{
    CHECK(test::agree(converted(1, "1/s", "1/year"), 31556925.9747, 1e-13));
}

TEST_CASE("temperatures in degree Fahrenheit keep their digits", "[intake][units]")
{
    // 212 degF = 373.15 K, 32 degF = 273.15 K by definition.
    CHECK(test::agree(converted(212, "degF", "K"), 373.15, 1e-14));
    CHECK(test::agree(converted(32, "degF", "K"), 273.15, 1e-14));
}

TEST_CASE("a foot-candle is a lumen per square foot", "[intake][units]")
{
    // NIST SP 811 (2008), B.8: 1 footcandle = 10.763 91 lx; 1 ft = 0.3048 m exactly. The unit
    // database itself has a hundredth of it.
    const auto name = GENERATE("footcandle", "footcandles", "lm/ft2");
    CAPTURE(name);
    CHECK(test::agree(converted(1, name, "lx"), 10.763910416709722, 1e-14));
}

TEST_CASE("units of another dimension are told apart from unknown ones", "[intake][units]")
{
    struct Row {
        const char *written, *wanted;
        UnitState state;
    };
    const auto row = GENERATE(values<Row>({{"deg", "rad", UnitState::unknown},
                                           {"dB", "1", UnitState::unknown},
                                           {"", "1", UnitState::unknown},
                                           {" lx", "lx", UnitState::unknown},
                                           {"s since 1970-01-01", "s", UnitState::unknown},
                                           {"C", "K", UnitState::other_dimension},
                                           {"m", "lx", UnitState::other_dimension},
                                           {"cd/m2", "lx", UnitState::other_dimension},  // a luminance
                                           {"%", "rad", UnitState::other_dimension},
                                           {"degree", "1", UnitState::other_dimension},
                                           {"rad/s", "1/s", UnitState::other_dimension},
                                           {"lux", "lx", UnitState::known},
                                           {"1", "1", UnitState::known}}));
    CAPTURE(row.written, row.wanted);
    CHECK(convert_unit(row.written, row.wanted).state == row.state);
}

TEST_CASE("advice names the unit that was meant", "[intake][units]")
{
    CHECK(intake::unit_advice("deg", intake::plane_angle) == "write degree");
    CHECK(intake::unit_advice("C", intake::temperature) == "write degC");
    CHECK(intake::unit_advice("fc", intake::illuminance) == "write footcandle");
    CHECK(intake::unit_advice("%/a", intake::drift_rate) == "write %/year");
    CHECK(intake::unit_advice("kllx", intake::illuminance) == "did you mean klx?");
    CHECK(intake::unit_advice("whatever", intake::illuminance).empty());
}

TEST_CASE("a condition of the user's own is kept in the first canonical unit of its dimension",
          "[intake][units]")
{
    CHECK(intake::canonical_unit("mV") == "V");
    CHECK(intake::canonical_unit("hPa") == "Pa");
    CHECK(intake::canonical_unit("%") == "1");
    CHECK(intake::canonical_unit("kg/m3") == "kg/m3");
    CHECK(intake::canonical_unit("nonsense").empty());
}

TEST_CASE("converted levels print as they were written", "[intake][units]")
{
    CHECK(intake::without_noise(0.3 * 1000.0 + 5e-14) == 300);
    CHECK(intake::without_noise(1.0 / 3.0) == 0.333333333333333);
    CHECK(intake::without_noise(0) == 0);
}

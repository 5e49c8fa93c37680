#include "intake/dates.hpp"

#include "support/catch.hpp"

using namespace luxdossier;

TEST_CASE("a date is year, month and day that exist", "[intake][dates]")
{
    REQUIRE(intake::parse_date("2025-03-10"));
    CHECK(model::date_text(*intake::parse_date("2025-03-10")) == "2025-03-10");
    CHECK(intake::parse_date("2024-02-29"));
    for (const auto* text : {"2025-02-29", "2025-13-01", "2025-00-10", "2025-3-10", "10.03.2025",
                             "2025-03-10 ", "20250310", ""}) {
        CAPTURE(text);
        CHECK_FALSE(intake::parse_date(text));
    }
}

TEST_CASE("date and time count seconds of the bench's own clock, offsets subtracted", "[intake][dates]")
{
    struct Row {
        const char* text;
        double seconds;
    };
    // 2025-03-10 is day 20157 after 1970-01-01.
    constexpr double day = 20157.0 * 86400;
    const auto row = GENERATE(values<Row>({{"1970-01-01T00:00:00", 0},
                                           {"2025-03-10T09:00", day + 9 * 3600},
                                           {"2025-03-10T09:00:01.5", day + 9 * 3600 + 1.5},
                                           {"2025-03-10T09:00:01,5", day + 9 * 3600 + 1.5},
                                           {"2025-03-10 09:00:00Z", day + 9 * 3600},
                                           {"2025-03-10T09:00:00+01:30", day + 7.5 * 3600},
                                           {"2025-03-10T09:00:00-0500", day + 14 * 3600},
                                           {"1969-12-31T23:59:59", -1}}));
    CAPTURE(row.text);
    REQUIRE(intake::parse_date_time(row.text));
    CHECK(*intake::parse_date_time(row.text) == row.seconds);
}

TEST_CASE("text that is no date with a time is refused", "[intake][dates]")
{
    for (const auto* text :
         {"2025-03-10", "2025-03-10T24:00:00", "2025-03-10T09:60", "2025-03-10T09", "2025-03-10T09:00:00.",
          "2025-03-10T09:00:00+1", "2025-03-10T09:00:00 UTC", "9:00", "123"}) {
        CAPTURE(text);
        CHECK_FALSE(intake::parse_date_time(text));
    }
}

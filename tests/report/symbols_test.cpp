#include "report/symbols.hpp"

#include "support/catch.hpp"

using namespace luxdossier::report;

TEST_CASE("symbols of quantities are italic, subscripts upright", "[report]")
{
    const auto common = symbol_text("C_common");
    REQUIRE(common.size() == 2);
    CHECK(common[0].text == "C");
    CHECK(common[0].style == Style::italic);
    CHECK(common[1].text == "common");
    CHECK(common[1].style == Style::subscript);
    CHECK(plain_text(symbol_text("rho")) == "ρ");
    CHECK(plain_text(symbol_text("f1'")) == "f1′");
    CHECK(plain_text(symbol_text("q_D_0")) == "qD,0");
}

TEST_CASE("a formula gets its signs, superscripts and legible constants", "[report]")
{
    CHECK(plain_text(formula_text("e = (D/E - 1) x 100 %")) == "e = (D/E \u2212 1) × 100 %");
    const auto squared = formula_text("u^2");
    REQUIRE(squared.size() == 2);
    CHECK(squared[1].style == Style::superscript);
    CHECK(plain_text(formula_text("t + 1061.4747754490943")) == "t + 1061.47");
    CHECK(plain_text(formula_text("a/1.0217830857754297e-05")) == "a/1.021\u200978\u202f×\u202f10⁻⁵");
}

TEST_CASE("symbols inside a sentence are set as symbols, words are not", "[report]")
{
    const auto text = prose_text("A mean R, less R_0 (linear in R - R_0), by the factor C.");
    CHECK(plain_text(text) == "A mean R, less R0 (linear in R \u2212 R0), by the factor C.");
    std::vector<std::string> italics;
    for (const auto& span : text) {
        if (span.style == Style::italic)
            italics.push_back(span.text);
    }
    CHECK(italics == std::vector<std::string>{"R", "R", "R", "R", "C"});
}

#pragma once

#include "layout/fragment.hpp"
#include "report/document.hpp"

#include <vector>

namespace luxdossier::layout {

/// Text as fragments of one line each; first and last two lines stay together.
[[nodiscard]] std::vector<Fragment> text_fragments(const Fonts& fonts, const report::Text& text,
                                                   const TypeStyle& style, double width_mm,
                                                   double indent_mm = 0);

// Blocks to fragments.
void add_heading(Flow& flow, const Fonts& fonts, const report::Heading& heading, double width_mm);
void add_paragraph(Flow& flow, const Fonts& fonts, const report::Paragraph& paragraph, double width_mm);
void add_formula(Flow& flow, const Fonts& fonts, const report::Formula& formula, double width_mm);
void add_bullets(Flow& flow, const Fonts& fonts, const report::Bullets& bullets, double width_mm);
void add_facts(Flow& flow, const Fonts& fonts, const report::Facts& facts, double width_mm);
void add_caution(Flow& flow, const Fonts& fonts, const report::Caution& caution, double width_mm);
void add_end_mark(Flow& flow, const Fonts& fonts, const report::EndMark& mark, double width_mm);
void add_sign_off(Flow& flow, const Fonts& fonts, const report::SignOffBlock& block, double width_mm);

// chain.cpp: the traceability chain as a figure, from the national standard on the left to the results.
void add_chain(Flow& flow, const Fonts& fonts, const report::Chain& chain, double width_mm);

// table.cpp
void add_table(Flow& flow, const Fonts& fonts, const report::Table& table, double width_mm);

// cover.cpp: one fragment that fills its page; rows of the worst margins are left out where they do not fit.
void add_cover(Flow& flow, const Fonts& fonts, const report::Cover& cover, const PageGeometry& geometry);

// furniture.cpp
void add_contents(Flow& flow, const Fonts& fonts, const report::Document& document, double width_mm,
                  double page_mm);
/// Writes page numbers into the contents, and header and footer on every page.
void finish_pages(Pages& pages, const Fonts& fonts, const report::Document& document,
                  const PageGeometry& geometry);

}  // namespace luxdossier::layout

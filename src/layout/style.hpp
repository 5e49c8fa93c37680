#pragma once

#include "layout/page.hpp"

#include <array>

namespace luxdossier::layout {

// Sizes, colours and distances of the pages.

inline constexpr double mm_per_pt = 25.4 / 72.0;
[[nodiscard]] constexpr double pt(double points)
{
    return points * mm_per_pt;
}

inline constexpr Rgb ink{0x1C / 255.0, 0x1C / 255.0, 0x1C / 255.0};
inline constexpr Rgb grey{0x59 / 255.0, 0x59 / 255.0, 0x59 / 255.0};
inline constexpr Rgb hairline{0xBF / 255.0, 0xBE / 255.0, 0xBA / 255.0};
inline constexpr Rgb head_fill{0xF3 / 255.0, 0xF3 / 255.0, 0xF1 / 255.0};
inline constexpr Rgb white{1, 1, 1};
/// Blue, vermilion, plum, stone, pine: told apart by mark and dash as well.
inline constexpr std::array<Rgb, 5> data_colours{{{0x26 / 255.0, 0x76 / 255.0, 0xC2 / 255.0},
                                                  {0xC4 / 255.0, 0x4A / 255.0, 0x1C / 255.0},
                                                  {0x4A / 255.0, 0x0E / 255.0, 0x3A / 255.0},
                                                  {0x8C / 255.0, 0x87 / 255.0, 0x78 / 255.0},
                                                  {0x00 / 255.0, 0x60 / 255.0, 0x4A / 255.0}}};
[[nodiscard]] constexpr Rgb data_colour(int index)
{
    const int count = static_cast<int>(data_colours.size());
    return data_colours.at(static_cast<std::size_t>(((index % count) + count) % count));
}

/// Series of which only the crowd is looked at.
inline constexpr Rgb background_data{0xA9 / 255.0, 0xA7 / 255.0, 0xA2 / 255.0};
inline constexpr double hairline_mm = pt(0.5);

struct TypeStyle {
    double size_pt = 9.5;
    double line_pt = 13.5;
    TextItem::Face face = TextItem::Face::regular;
    Rgb colour = ink;
    bool tabular = false;
    const char* role = "body";
};
inline constexpr TypeStyle cover_title{26, 31.5, TextItem::Face::light, ink, false, "cover-title"};
inline constexpr TypeStyle outcome_style{20, 27, TextItem::Face::semibold, ink, false, "outcome"};
inline constexpr TypeStyle chapter_style{17, 22.5, TextItem::Face::semibold, ink, false, "chapter"};
inline constexpr TypeStyle section_style{12, 18, TextItem::Face::semibold, ink, false, "section"};
inline constexpr TypeStyle subsection_style{9.5, 13.5, TextItem::Face::semibold, ink, false, "section"};
inline constexpr TypeStyle body{9.5, 13.5, TextItem::Face::regular, ink, false, "body"};
inline constexpr TypeStyle note_style{8, 11.25, TextItem::Face::regular, grey, false, "note"};
inline constexpr TypeStyle caption_style{8, 11.25, TextItem::Face::regular, grey, false, "caption"};
inline constexpr TypeStyle table_style{8.5, 11.25, TextItem::Face::regular, ink, true, "table"};
inline constexpr TypeStyle table_head_style{8.5, 11.25, TextItem::Face::semibold, ink, true, "table-head"};
inline constexpr TypeStyle plot_label{8, 10, TextItem::Face::regular, ink, true, "plot"};
inline constexpr TypeStyle furniture_style{8, 11.25, TextItem::Face::regular, grey, true, "footer"};

struct PageGeometry {
    double width = 210, height = 297;
    double left = 20, right = 190, top = 24, bottom = 272;
    double header_baseline = 12, footer_baseline = 284;
    [[nodiscard]] double text_width() const { return right - left; }
};
/// Letter is 8.5 in by 11 in; all distances to the edges are those of A4.
[[nodiscard]] constexpr PageGeometry geometry_of(Paper paper)
{
    constexpr double letter_width = 215.9, letter_height = 279.4;
    PageGeometry geometry;
    if (paper == Paper::letter) {
        const double wider = letter_width - geometry.width, higher = letter_height - geometry.height;
        geometry.width = letter_width;
        geometry.height = letter_height;
        geometry.right += wider;
        geometry.bottom += higher;
        geometry.footer_baseline += higher;
    }
    return geometry;
}

}  // namespace luxdossier::layout

#pragma once

#include "layout/page.hpp"

#include <memory>
#include <string_view>

struct _PangoLayout;
struct _PangoContext;

namespace luxdossier::layout {

/// Measures and shapes text with our own faces only: what a machine has installed or configured plays no
/// part. One per thread. Errors: std::system_error (with the path) where a face cannot be read.
class Fonts {
public:
    Fonts();
    ~Fonts();
    Fonts(const Fonts&) = delete;
    Fonts& operator=(const Fonts&) = delete;

    /// Advance width of one line of text in millimetres.
    /// Errors: UnprintableText naming a character that no face holds.
    [[nodiscard]] double width(std::string_view text, TextItem::Face face, double size_pt,
                               bool tabular) const;

    struct Vertical {
        double ascent = 0, descent = 0;
    };
    /// Of the face itself, in millimetres, whatever the text.
    [[nodiscard]] Vertical vertical(TextItem::Face face, double size_pt) const;

    /// Gives the text of an item to a Pango layout made from `context()`: the PDF draws what was measured.
    void shape(const TextItem& item, _PangoLayout* layout) const;
    [[nodiscard]] _PangoContext* context() const;

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace luxdossier::layout

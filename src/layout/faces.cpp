#include "layout/faces.hpp"

#include "layout/fonts.hpp"

#include <memory>
#include <set>
#include <utility>
#include <variant>

#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>
#include <pango/pangofc-font.h>

namespace luxdossier::layout {
namespace {

struct ObjectDeleter {
    void operator()(gpointer object) const { g_object_unref(object); }
};

/// Files in which Pango sets a text.
void add_files(const PangoLayout* layout, std::set<std::string>& used)
{
    const auto* line = pango_layout_get_line_readonly(const_cast<PangoLayout*>(layout), 0);
    for (const GSList* run = line == nullptr ? nullptr : line->runs; run != nullptr; run = run->next) {
        auto* const font = static_cast<const PangoGlyphItem*>(run->data)->item->analysis.font;
        FcChar8* file = nullptr;
        if (FcPatternGetString(pango_fc_font_get_pattern(PANGO_FC_FONT(font)), FC_FILE, 0, &file) ==
            FcResultMatch)
            used.insert(reinterpret_cast<const char*>(file));
    }
}

}  // namespace

std::vector<std::string> used_faces(const Pages& pages)
{
    const Fonts fonts;
    const std::unique_ptr<PangoLayout, ObjectDeleter> layout(pango_layout_new(fonts.context()));
    std::set<std::pair<TextItem::Face, gunichar>> seen;
    std::set<std::string> used;
    TextItem one;
    for (const auto& page : pages.pages) {
        for (const auto& content : page.items) {
            const auto* const item = std::get_if<TextItem>(&content);
            if (item == nullptr)
                continue;
            const char* const end = item->text.data() + item->text.size();
            for (const char* at = item->text.data(); at < end; at = g_utf8_next_char(at)) {
                if (!seen.insert({item->face, g_utf8_get_char(at)}).second)
                    continue;
                one.face = item->face;
                const char* const next = g_utf8_next_char(at);
                one.text.assign(at, next);
                fonts.shape(one, layout.get());
                add_files(layout.get(), used);
            }
        }
    }
    std::vector<std::string> list;
    for (const auto& file : face_files())
        if (used.contains(file))
            list.push_back(file);
    return list;
}

}  // namespace luxdossier::layout

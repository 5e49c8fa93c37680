#include "layout/fonts.hpp"

#include "layout/style.hpp"

#include <array>
#include <atomic>
#include <cerrno>
#include <map>
#include <stdexcept>
#include <string>
#include <system_error>
#include <tuple>
#include <unordered_map>

#include <fmt/format.h>
#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>
#include <pango/pangofc-fontmap.h>

namespace luxdossier::layout {
namespace {

constexpr std::array<const char*, 5> files{LUXDOSSIER_FACE_REGULAR, LUXDOSSIER_FACE_ITALIC,
                                           LUXDOSSIER_FACE_SEMIBOLD, LUXDOSSIER_FACE_LIGHT,
                                           LUXDOSSIER_FACE_FALLBACK};
constexpr const char* family = "Lato, Noto Sans Math";

/// The configuration that was last handed to fontconfig as the current one.
std::atomic<FcConfig*> current_configuration = nullptr;

struct ConfigDeleter {
    void operator()(FcConfig* config) const { FcConfigDestroy(config); }
};
struct CharSetDeleter {
    void operator()(FcCharSet* set) const { FcCharSetDestroy(set); }
};
struct ObjectDeleter {
    void operator()(gpointer object) const { g_object_unref(object); }
};
struct DescriptionDeleter {
    void operator()(PangoFontDescription* description) const { pango_font_description_free(description); }
};
using Description = std::unique_ptr<PangoFontDescription, DescriptionDeleter>;

const FcChar8* fc_text(const char* text)
{
    return reinterpret_cast<const FcChar8*>(text);  // fontconfig's byte type for the same characters
}

std::unique_ptr<FcConfig, ConfigDeleter> own_configuration()
{
    std::unique_ptr<FcConfig, ConfigDeleter> config(FcConfigCreate());
    for (const auto* file : files) {
        if (FcConfigAppFontAddFile(config.get(), fc_text(file)) == FcFalse) {
            throw std::system_error(errno == 0 ? ENOENT : errno, std::generic_category(),
                                    fmt::format("cannot read the face {}", file));
        }
    }
    return config;
}

// Characters that at least one of the faces of a style holds: Lato, else the fallback.
std::unique_ptr<FcCharSet, CharSetDeleter> covered_characters(FcConfig* config)
{
    std::unique_ptr<FcCharSet, CharSetDeleter> all(FcCharSetCreate());
    const FcFontSet* fonts = FcConfigGetFonts(config, FcSetApplication);
    for (int i = 0; fonts != nullptr && i < fonts->nfont; ++i) {
        FcCharSet* set = nullptr;
        if (FcPatternGetCharSet(fonts->fonts[i], FC_CHARSET, 0, &set) == FcResultMatch)
            FcCharSetMerge(all.get(), set, nullptr);
    }
    return all;
}

Description description_of(TextItem::Face face, double size_pt)
{
    Description description(pango_font_description_new());
    pango_font_description_set_family(description.get(), family);
    pango_font_description_set_size(description.get(), static_cast<int>(size_pt * PANGO_SCALE + 0.5));
    switch (face) {
    case TextItem::Face::regular:
        break;
    case TextItem::Face::italic:
        pango_font_description_set_style(description.get(), PANGO_STYLE_ITALIC);
        break;
    case TextItem::Face::semibold:
        pango_font_description_set_weight(description.get(), PANGO_WEIGHT_SEMIBOLD);
        break;
    case TextItem::Face::light:
        pango_font_description_set_weight(description.get(), PANGO_WEIGHT_LIGHT);
        break;
    }
    return description;
}

using Key = std::tuple<TextItem::Face, int, bool>;
Key key_of(TextItem::Face face, double size_pt, bool tabular)
{
    return {face, static_cast<int>(size_pt * PANGO_SCALE + 0.5), tabular};
}

}  // namespace

struct Fonts::State {
    std::unique_ptr<FcConfig, ConfigDeleter> config;
    std::unique_ptr<FcCharSet, CharSetDeleter> characters;
    std::unique_ptr<PangoFontMap, ObjectDeleter> map;
    std::unique_ptr<PangoContext, ObjectDeleter> context;
    std::unique_ptr<PangoLayout, ObjectDeleter> layout;
    mutable std::map<Key, std::unordered_map<std::string, double>> widths;

    State() = default;
    State(const State&) = delete;
    State& operator=(const State&) = delete;
    ~State()
    {
        // A font map of Pango 1.50 keeps its reference to the configuration when it goes: take it back first.
        if (map)
            pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(map.get()), nullptr);
        // Asking fontconfig for its current configuration would read the system's where there is none.
        FcConfig* own = config.get();
        if (own != nullptr && current_configuration.compare_exchange_strong(own, nullptr))
            FcConfigSetCurrent(nullptr);
    }

    void check(std::string_view text) const
    {
        if (g_utf8_validate(text.data(), static_cast<gssize>(text.size()), nullptr) == FALSE)
            throw UnprintableText(fmt::format("text \"{}\" is not UTF-8", text));
        const char* const end = text.data() + text.size();
        for (const char* at = text.data(); at < end; at = g_utf8_next_char(at)) {
            const gunichar character = g_utf8_get_char(at);
            if (FcCharSetHasChar(characters.get(), character) != FcFalse)
                continue;
            const std::string_view bytes(at, static_cast<std::size_t>(g_utf8_next_char(at) - at));
            throw UnprintableText(
                fmt::format("no face of the report holds the character \"{}\" (U+{:04X}) in \"{}\"",
                            character < 0x20 ? std::string_view("control") : bytes, character, text));
        }
    }
};

Fonts::Fonts() : state_(std::make_unique<State>())
{
    state_->config = own_configuration();
    state_->characters = covered_characters(state_->config.get());
    // Set before the first Pango call, so that no system configuration is ever read.
    FcConfigSetCurrent(state_->config.get());
    current_configuration = state_->config.get();
    state_->map.reset(pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT));
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(state_->map.get()), 72.0);
    pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(state_->map.get()), state_->config.get());
    state_->context.reset(pango_font_map_create_context(state_->map.get()));
    // Hinted metrics and rounded positions belong to screens: on paper they make letter spacing uneven.
    pango_context_set_round_glyph_positions(state_->context.get(), FALSE);
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(state_->context.get(), options);
    cairo_font_options_destroy(options);
    pango_context_set_language(state_->context.get(), pango_language_from_string("en"));
    pango_context_set_base_dir(state_->context.get(), PANGO_DIRECTION_LTR);
    state_->layout.reset(pango_layout_new(state_->context.get()));
}

Fonts::~Fonts() = default;

void Fonts::shape(const TextItem& item, _PangoLayout* layout) const
{
    const Description description = description_of(item.face, item.size_pt);
    pango_layout_set_font_description(layout, description.get());
    PangoAttrList* attributes = pango_attr_list_new();
    pango_attr_list_insert(attributes, pango_attr_font_features_new(item.tabular ? "tnum=1" : "pnum=1"));
    pango_layout_set_attributes(layout, attributes);
    pango_attr_list_unref(attributes);
    pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_auto_dir(layout, FALSE);
    pango_layout_set_text(layout, item.text.data(), static_cast<int>(item.text.size()));
}

double Fonts::width(std::string_view text, TextItem::Face face, double size_pt, bool tabular) const
{
    if (text.empty())
        return 0;
    auto& cache = state_->widths[key_of(face, size_pt, tabular)];
    const std::string key(text);
    if (const auto known = cache.find(key); known != cache.end())
        return known->second;
    state_->check(text);
    TextItem item;
    item.text = key;
    item.face = face;
    item.size_pt = size_pt;
    item.tabular = tabular;
    shape(item, state_->layout.get());
    PangoRectangle logical;
    pango_layout_get_extents(state_->layout.get(), nullptr, &logical);
    const double width_mm = pt(static_cast<double>(logical.width) / PANGO_SCALE);
    cache.emplace(key, width_mm);
    return width_mm;
}

Fonts::Vertical Fonts::vertical(TextItem::Face, double size_pt) const
{
    // Lato's own ascender and descender (hhea: 1974 and -426 of 2000 units), less the air above its capitals.
    return {pt(size_pt * 0.80), pt(size_pt * 0.22)};
}

_PangoContext* Fonts::context() const
{
    return state_->context.get();
}

std::vector<std::string> face_files()
{
    return {files.begin(), files.end()};
}

}  // namespace luxdossier::layout

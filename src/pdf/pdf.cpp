#include "pdf/pdf.hpp"

#include "layout/fonts.hpp"
#include "pdf/finish.hpp"

#include <cerrno>
#include <cmath>
#include <fstream>
#include <memory>
#include <new>
#include <string>
#include <system_error>
#include <type_traits>
#include <vector>

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

namespace luxdossier::pdf {
namespace {

constexpr double pt_per_mm = 72.0 / 25.4;

struct SurfaceDeleter {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
struct CairoDeleter {
    void operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
};
struct ObjectDeleter {
    void operator()(gpointer object) const { g_object_unref(object); }
};

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length)
{
    auto& bytes = *static_cast<std::vector<unsigned char>*>(closure);
    bytes.insert(bytes.end(), data, data + length);
    return CAIRO_STATUS_SUCCESS;
}

// Cairo's attributes stand in single quotes.
std::string cairo_quoted(std::string_view text)
{
    std::string result = "'";
    for (const char c : text) {
        if (c == '\'' || c == '\\')
            result += '\\';
        result += c;
    }
    return result + "'";
}

class Writer {
public:
    Writer(const layout::Pages& pages, model::TimePoint date) : pages_(pages)
    {
        const auto& first = pages.pages.front();
        surface_.reset(cairo_pdf_surface_create_for_stream(append, &bytes_, first.width * pt_per_mm,
                                                           first.height * pt_per_mm));
        cairo_pdf_surface_restrict_to_version(surface_.get(), CAIRO_PDF_VERSION_1_5);
        set_metadata(date);
        cairo_.reset(cairo_create(surface_.get()));
        text_.reset(pango_layout_new(fonts_.context()));
    }

    std::vector<unsigned char> write()
    {
        for (std::size_t p = 0; p < pages_.pages.size(); ++p) {
            const auto& page = pages_.pages[p];
            cairo_pdf_surface_set_size(surface_.get(), page.width * pt_per_mm, page.height * pt_per_mm);
            // Cairo 1.16 writes links only inside a document structure; a new size forgets what was begun
            // before it.
            if (p == 0)
                cairo_tag_begin(cairo_.get(), "Document", nullptr);
            cairo_save(cairo_.get());
            cairo_scale(cairo_.get(), pt_per_mm, pt_per_mm);
            draw_items(page);
            cairo_restore(cairo_.get());
            if (p + 1 == pages_.pages.size())
                cairo_tag_end(cairo_.get(), "Document");
            cairo_show_page(cairo_.get());
        }
        add_outline();
        check(cairo_status(cairo_.get()));
        cairo_.reset();
        cairo_surface_finish(surface_.get());
        check(cairo_surface_status(surface_.get()));
        return std::move(bytes_);
    }

private:
    static void check(cairo_status_t status)
    {
        if (status == CAIRO_STATUS_NO_MEMORY)
            throw std::bad_alloc();
        if (status != CAIRO_STATUS_SUCCESS)
            throw std::runtime_error(
                fmt::format("the PDF could not be drawn: {}", cairo_status_to_string(status)));
    }

    // A figure is one leaf of the structure; what stands between figures is left to the document.
    void draw_items(const layout::Page& page)
    {
        auto figure = page.figures.begin();
        for (std::size_t i = 0; i < page.items.size(); ++i) {
            while (figure != page.figures.end() && figure->first >= figure->last)
                ++figure;
            const bool inside = figure != page.figures.end();
            if (inside && i == figure->first)
                cairo_tag_begin(cairo_.get(), "Figure", nullptr);
            std::visit([this](const auto& content) { draw(content); }, page.items[i]);
            if (inside && i + 1 == figure->last) {
                cairo_tag_end(cairo_.get(), "Figure");
                ++figure;
            }
        }
    }

    void set_metadata(model::TimePoint date)
    {
        const auto set = [&](cairo_pdf_metadata_t key, const std::string& value) {
            if (!value.empty())
                cairo_pdf_surface_set_metadata(surface_.get(), key, value.c_str());
        };
        set(CAIRO_PDF_METADATA_TITLE, pages_.title);
        set(CAIRO_PDF_METADATA_AUTHOR, pages_.author);
        set(CAIRO_PDF_METADATA_SUBJECT, pages_.subject);
        set(CAIRO_PDF_METADATA_CREATOR, "luxdossier");
        const auto day = date.date();
        const auto rest =
            static_cast<long>(date.seconds - static_cast<double>(day.time_since_epoch().count()) * 86400.0);
        set(CAIRO_PDF_METADATA_CREATE_DATE, fmt::format("{}T{:02}:{:02}:{:02}Z", model::date_text(day),
                                                        rest / 3600, rest / 60 % 60, rest % 60));
    }

    void draw(const layout::TextItem& item)
    {
        // Pango shapes in points, where it measured.
        fonts_.shape(item, text_.get());
        auto* cairo = cairo_.get();
        cairo_save(cairo);
        cairo_scale(cairo, 1 / pt_per_mm, 1 / pt_per_mm);
        cairo_set_source_rgb(cairo, item.colour.r, item.colour.g, item.colour.b);
        cairo_move_to(cairo, item.box.x * pt_per_mm, item.baseline * pt_per_mm);
        pango_cairo_show_layout_line(cairo, pango_layout_get_line_readonly(text_.get(), 0));
        cairo_restore(cairo);
    }

    void draw(const layout::PathItem& item)
    {
        if (item.points.empty())
            return;
        auto* cairo = cairo_.get();
        cairo_new_path(cairo);
        for (const auto& point : item.points)
            cairo_line_to(cairo, point.x, point.y);
        if (item.closed)
            cairo_close_path(cairo);
        if (item.filled) {
            cairo_set_source_rgb(cairo, item.fill.r, item.fill.g, item.fill.b);
            item.line_width_mm > 0 ? cairo_fill_preserve(cairo) : cairo_fill(cairo);
        }
        if (item.line_width_mm > 0) {
            cairo_set_source_rgb(cairo, item.stroke.r, item.stroke.g, item.stroke.b);
            cairo_set_line_width(cairo, item.line_width_mm);
            cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
            cairo_set_dash(cairo, item.dashes_mm.data(), static_cast<int>(item.dashes_mm.size()), 0);
            cairo_stroke(cairo);
        }
    }

    void draw(const layout::LinkItem& item)
    {
        const auto attributes = fmt::format(
            "dest={} rect=[{:.3f} {:.3f} {:.3f} {:.3f}]", cairo_quoted(item.anchor), item.box.x * pt_per_mm,
            item.box.y * pt_per_mm, item.box.width * pt_per_mm, item.box.height * pt_per_mm);
        in_points([&] {
            cairo_tag_begin(cairo_.get(), CAIRO_TAG_LINK, attributes.c_str());
            cairo_tag_end(cairo_.get(), CAIRO_TAG_LINK);
        });
    }

    void draw(const layout::AnchorItem& item)
    {
        const auto attributes = fmt::format("name={} x={:.3f} y={:.3f}", cairo_quoted(item.anchor),
                                            item.at.x * pt_per_mm, item.at.y * pt_per_mm);
        in_points([&] {
            cairo_tag_begin(cairo_.get(), CAIRO_TAG_DEST, attributes.c_str());
            cairo_tag_end(cairo_.get(), CAIRO_TAG_DEST);
        });
    }

    void draw(const layout::ClipBegin& item)
    {
        cairo_save(cairo_.get());
        cairo_rectangle(cairo_.get(), item.box.x, item.box.y, item.box.width, item.box.height);
        cairo_clip(cairo_.get());
    }

    void draw(const layout::ClipEnd&) { cairo_restore(cairo_.get()); }

    template <typename Drawing>
    void in_points(Drawing drawing)
    {
        cairo_save(cairo_.get());
        cairo_scale(cairo_.get(), 1 / pt_per_mm, 1 / pt_per_mm);
        drawing();
        cairo_restore(cairo_.get());
    }

    void add_outline()
    {
        int chapter = CAIRO_PDF_OUTLINE_ROOT;
        for (const auto& entry : pages_.outline) {
            const auto attributes =
                fmt::format("page={} pos=[0 {:.3f}]", entry.page + 1, entry.y * pt_per_mm);
            const int parent = entry.level <= 1 ? CAIRO_PDF_OUTLINE_ROOT : chapter;
            const int id =
                cairo_pdf_surface_add_outline(surface_.get(), parent, entry.title.c_str(), attributes.c_str(),
                                              static_cast<cairo_pdf_outline_flags_t>(0));
            if (entry.level <= 1)
                chapter = id;
        }
    }

    const layout::Pages& pages_;
    layout::Fonts fonts_;
    std::vector<unsigned char> bytes_;
    std::unique_ptr<cairo_surface_t, SurfaceDeleter> surface_;
    std::unique_ptr<cairo_t, CairoDeleter> cairo_;
    std::unique_ptr<PangoLayout, ObjectDeleter> text_;
};

std::system_error failed(const std::string& what, const std::filesystem::path& file)
{
    return {errno == 0 ? EIO : errno, std::generic_category(),
            fmt::format("cannot {} {}", what, file.string())};
}

std::string read_back(const std::filesystem::path& file)
{
    errno = 0;
    std::ifstream stream(file, std::ios::binary);
    std::string bytes(std::filesystem::file_size(file), '\0');
    if (!stream.read(bytes.data(), static_cast<std::streamsize>(bytes.size())))
        throw failed("read", file);
    return bytes;
}

}  // namespace

std::string write_pdf(const layout::Pages& pages, model::TimePoint date, const std::filesystem::path& file)
{
    if (pages.pages.empty())
        throw std::domain_error("a PDF needs at least one page");
    const auto drawn = finished(Writer(pages, date).write(), pages);
    std::string bytes(drawn.begin(), drawn.end());
    errno = 0;
    std::ofstream stream(file, std::ios::binary | std::ios::trunc);
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    stream.close();
    if (!stream)
        throw failed("write", file);
    if (read_back(file) != bytes)
        throw std::system_error(EIO, std::generic_category(),
                                file.string() + " does not read back as it was written");
    check_whole(bytes, pages.pages.size(), file.string());
    return bytes;
}

}  // namespace luxdossier::pdf

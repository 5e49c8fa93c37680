#include "pdf/finish.hpp"

#include <cerrno>
#include <set>
#include <stdexcept>
#include <string>
#include <system_error>

#include <fmt/format.h>

#define POINTERHOLDER_TRANSITION 4  // qpdf 11: std::shared_ptr throughout
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Discard.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFObjGen.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFWriter.hh>

namespace luxdossier::pdf {
namespace {

/// A warning tells that something was mended, and what was mended is not what was drawn.
void check_no_warnings(QPDF& pdf, const std::string& name)
{
    const auto warnings = pdf.getWarnings();
    if (!warnings.empty())
        throw std::system_error(EIO, std::generic_category(),
                                fmt::format("{} is not whole: {}", name, warnings.front().what()));
}

constexpr const char* language = "en";  // every template and phrase is English

/// Figure elements of the structure tree in document order.
class Figures {
public:
    explicit Figures(QPDFObjectHandle root) { visit(root.getKey("/K")); }
    [[nodiscard]] std::vector<QPDFObjectHandle>& elements() { return elements_; }

private:
    void visit(QPDFObjectHandle node)
    {
        if (node.isArray()) {
            for (auto& child : node.getArrayAsVector())
                visit(child);
            return;
        }
        if (!node.isDictionary() || (node.isIndirect() && !seen_.insert(node.getObjGen()).second))
            return;
        if (node.getKey("/S").isNameAndEquals("/Figure"))
            elements_.push_back(node);
        visit(node.getKey("/K"));
    }

    std::set<QPDFObjGen> seen_;
    std::vector<QPDFObjectHandle> elements_;
};

void describe_figures(QPDFObjectHandle catalog, const layout::Pages& pages)
{
    std::vector<std::string> texts;
    for (const auto& page : pages.pages) {
        for (const auto& figure : page.figures) {
            if (figure.first < figure.last)
                texts.push_back(figure.alternative_text);
        }
    }
    if (texts.empty())
        return;
    auto found = Figures(catalog.getKey("/StructTreeRoot"));
    if (found.elements().size() != texts.size())
        throw std::logic_error(fmt::format("found {} figures in the structure of the PDF, expected {}",
                                           found.elements().size(), texts.size()));
    for (std::size_t i = 0; i < texts.size(); ++i)
        found.elements()[i].replaceKey("/Alt", QPDFObjectHandle::newUnicodeString(texts[i]));
}

}  // namespace

std::vector<unsigned char> finished(const std::vector<unsigned char>& drawn, const layout::Pages& pages)
{
    constexpr const char* name = "the PDF as it was drawn";
    QPDF pdf;
    pdf.setSuppressWarnings(true);  // they are asked for
    pdf.processMemoryFile(name, reinterpret_cast<const char*>(drawn.data()), drawn.size());
    auto catalog = pdf.getRoot();
    catalog.replaceKey("/Lang", QPDFObjectHandle::newUnicodeString(language));
    auto preferences = QPDFObjectHandle::newDictionary();
    preferences.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
    catalog.replaceKey("/ViewerPreferences", preferences);
    for (auto& page : QPDFPageDocumentHelper(pdf).getAllPages())
        page.getObjectHandle().replaceKey("/Tabs", QPDFObjectHandle::newName("/S"));
    describe_figures(catalog, pages);

    QPDFWriter writer(pdf);
    writer.setOutputMemory();
    writer.setMinimumPDFVersion("1.5");
    writer.setObjectStreamMode(qpdf_o_generate);
    writer.setDeterministicID(true);
    writer.write();
    check_no_warnings(pdf, name);
    const auto buffer = writer.getBufferSharedPointer();
    return {buffer->getBuffer(), buffer->getBuffer() + buffer->getSize()};
}

void check_whole(std::string_view bytes, std::size_t pages, const std::string& name)
{
    QPDF pdf;
    pdf.setSuppressWarnings(true);
    try {
        pdf.processMemoryFile(name.c_str(), bytes.data(), bytes.size());
        Pl_Discard nowhere;
        QPDFWriter writer(pdf);
        writer.setOutputPipeline(&nowhere);
        writer.setDecodeLevel(qpdf_dl_specialized);  // every stream is read
        writer.write();
    } catch (const QPDFExc& broken) {
        throw std::system_error(EIO, std::generic_category(),
                                fmt::format("{} is not whole: {}", name, broken.what()));
    }
    check_no_warnings(pdf, name);
    if (const auto found = pdf.getAllPages().size(); found != pages)
        throw std::system_error(
            EIO, std::generic_category(),
            fmt::format("{} is not whole: it has {} pages, {} were written", name, found, pages));
}

}  // namespace luxdossier::pdf

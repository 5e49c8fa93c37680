#include "pdf/finish.hpp"

#include <set>
#include <stdexcept>
#include <string>

#include <fmt/format.h>

#define POINTERHOLDER_TRANSITION 4  // qpdf 11: std::shared_ptr throughout
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFObjGen.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFWriter.hh>

namespace luxdossier::pdf {
namespace {

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
    QPDF pdf;
    pdf.processMemoryFile("report", reinterpret_cast<const char*>(drawn.data()), drawn.size());
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
    const auto buffer = writer.getBufferSharedPointer();
    return {buffer->getBuffer(), buffer->getBuffer() + buffer->getSize()};
}

}  // namespace luxdossier::pdf

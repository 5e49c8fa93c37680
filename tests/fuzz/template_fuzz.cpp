#include "fuzz/whole_folder.hpp"

#include "layout/page.hpp"
#include "report/document.hpp"

#include <cstdint>
#include <string>

using namespace luxdossier;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size)
{
    static const auto dossier =
        fuzz::evaluate_with("qualification.json", fuzz::base_file("qualification.json"));
    fuzz::promise(dossier.has_value(), "the base folder is without fault");
    const std::string text(reinterpret_cast<const char*>(data), size);
    try {
        fuzz::write_all(*dossier, text);
    } catch (const report::TemplateError& error) {
        fuzz::promise(!error.faults().empty(), "a template refused without a fault");
    } catch (const layout::UnprintableText& error) {
        fuzz::promise(*error.what() != 0, "a text refused without a reason");
    }
    return 0;
}

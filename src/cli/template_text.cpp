#include "cli/template_text.hpp"

#include "cli/evidence.hpp"
#include "seal/seal.hpp"

#include <fmt/format.h>

namespace luxdossier::cli {

extern const char* const customer_template;  // templates/customer.md, put into the program by the build

Template read_template(const std::string& name)
{
    if (name == "customer")
        return {name, customer_template, {}};
    const std::filesystem::path file(name);
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error))
        throw InputFault(fmt::format("found no template \"{}\", expected \"customer\" or a CommonMark file\n"
                                     "  advice: start from a copy of templates/customer.md\n",
                                     name));
    return {file.filename().string(), seal::read_file(file), file};
}

void add_template(const Template& chosen, Inputs& inputs)
{
    if (chosen.file.empty())
        return;
    auto& files = inputs.qualification.files;
    files.push_back({folder_of_kind("template", files) + chosen.name, chosen.text,
                     seal::sha256_hex(chosen.text), chosen.text.size(), "template of the report"});
    inputs.sources.emplace_back();  // its bytes are kept
}

}  // namespace luxdossier::cli

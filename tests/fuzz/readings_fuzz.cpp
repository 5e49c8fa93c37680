#include "fuzz/whole_folder.hpp"

#include "record/record.hpp"

#include <cstdint>
#include <string>

using namespace luxdossier;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size)
{
    std::string content(reinterpret_cast<const char*>(data), size);
    if (const auto dossier = fuzz::evaluate_with(fuzz::readings_file(), std::move(content)))
        (void)record::write_record(*dossier);
    return 0;
}

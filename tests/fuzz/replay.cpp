// Drives a fuzz target without a fuzzing engine: every file of the corpus as it stands, then mutations of
// them drawn from fixed seeds. A target aborts where a promise is broken; the seed is then printed.
//
// Usage: NAME_fuzz MUTATIONS FILE...        MUTATIONS of each file
//        NAME_fuzz one SEED FILE            one mutation again; writes it to standard output first

#include "fuzz/mutation.hpp"
#include "seal/seal.hpp"

#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <stdexcept>
#include <string>

#include <fmt/format.h>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" void __sanitizer_set_death_callback(void (*callback)()) __attribute__((weak));

namespace seal = luxdossier::seal;

namespace {

std::string trying;

void tell()
{
    std::fputs((trying + '\n').c_str(), stderr);
}

void feed(const std::string& text, const std::string& what)
{
    trying = what;
    try {
        LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(text.data()), text.size());
    } catch (const std::exception& error) {
        fmt::print(stderr, "{}: nothing caught {}\n", what, error.what());
        std::abort();
    }
}

int replay(int count, char** arguments)
{
    if (count == 4 && std::string(arguments[1]) == "one") {
        const auto text = luxdossier::fuzz::mutate(seal::read_file(arguments[3]), std::stoull(arguments[2]));
        fmt::print("{}", text);
        std::fflush(stdout);
        feed(text, fmt::format("seed {} of {}", arguments[2], arguments[3]));
        return 0;
    }
    if (count < 3)
        throw std::runtime_error("usage: NAME_fuzz MUTATIONS FILE...");
    const auto mutations = std::stoull(arguments[1]);
    for (int i = 2; i < count; ++i) {
        const auto text = seal::read_file(arguments[i]);
        feed(text, arguments[i]);
        for (std::uint64_t seed = 1; seed <= mutations; ++seed)
            feed(luxdossier::fuzz::mutate(text, seed), fmt::format("seed {} of {}", seed, arguments[i]));
        fmt::print("{}: {} mutations\n", arguments[i], mutations);
    }
    return 0;
}

}  // namespace

int main(int count, char** arguments)
{
    for (const auto signal : {SIGABRT, SIGSEGV, SIGFPE})
        std::signal(signal, [](int) {
            tell();
            std::_Exit(1);
        });
    if (__sanitizer_set_death_callback != nullptr)
        __sanitizer_set_death_callback(tell);
    try {
        return replay(count, arguments);
    } catch (const std::exception& error) {
        fmt::print(stderr, "{}\n", error.what());
        return 2;
    }
}

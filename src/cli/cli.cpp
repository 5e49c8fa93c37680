#include "cli/cli.hpp"

#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/stages.hpp"
#include "layout/page.hpp"
#include "report/document.hpp"
#include "seal/seal.hpp"

#include <cerrno>
#include <cstdio>
#include <exception>
#include <new>
#include <system_error>
#include <variant>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

constexpr int bad_input = 2;
constexpr int environment = 3;
constexpr int internal_defect = 4;

int run_command(const Options& options)
{
    switch (options.command) {
    case Command::report:
        return report(options);
    case Command::verdicts:
        return verdicts(options);
    case Command::check:
        return check(options);
    case Command::budget:
        return budget(options);
    }
    return internal_defect;
}

/// What was printed has to have arrived: a full disk behind stdout is an error of the environment.
void flush_results()
{
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0)
        throw std::system_error(errno, std::generic_category(), "cannot write to standard output");
}

int tell(int code, const std::string& text)
{
    std::fputs(text.c_str(), stderr);
    return code;
}

}  // namespace

int run(int argc, char** argv)
{
    try {
        const auto parsed = parse_command_line(argc, argv);
        if (const auto* answer = std::get_if<Answer>(&parsed)) {
            if (answer->is_fault)
                return tell(bad_input, answer->text);
            fmt::print("{}", answer->text);
            flush_results();
            return 0;
        }
        const int code = run_command(std::get<Options>(parsed));
        flush_results();
        return code;
    } catch (const InputFault& fault) {
        return tell(bad_input, fault.what());
    } catch (const luxdossier::report::TemplateError& fault) {
        return tell(bad_input, fault.what());
    } catch (const layout::UnprintableText& fault) {
        return tell(
            bad_input,
            fmt::format("luxdossier: {}\n"
                        "  advice: write it in the header, limits or template with characters of Latin, "
                        "Greek, Cyrillic or mathematics\n",
                        fault.what()));
    } catch (const seal::Refusal& refusal) {
        return tell(bad_input, fmt::format("luxdossier: {}\n", refusal.what()));
    } catch (const std::system_error& error) {
        return tell(environment, fmt::format("luxdossier: {}\n", error.what()));
    } catch (const std::bad_alloc&) {
        return tell(environment, "luxdossier: not enough memory\n");
    } catch (const std::exception& defect) {
        return tell(internal_defect,
                    fmt::format("luxdossier: internal defect: {}\n"
                                "  advice: nothing was written; please report this text together with "
                                "the output of luxdossier --version\n",
                                defect.what()));
    }
}

}  // namespace luxdossier::cli

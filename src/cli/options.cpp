#include "cli/options.hpp"

#include "cli/version.hpp"
#include "diagnostics/diagnostic.hpp"

#include <array>
#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

/// One option: the table feeds the parser and its help.
struct OptionEntry {
    std::string_view name;
    std::string_view help;
    std::string_view commands;  ///< names of those that know it
    std::string Options::*text = nullptr;
    bool Options::*flag = nullptr;
    std::string_view value = {};  ///< how help calls the value of a text option
};

constexpr std::array option_table{
    OptionEntry{"--limits", "limits file; without it, limits.json of FOLDER where there is one",
                "report verdicts check", &Options::limits, nullptr, "FILE"},
    OptionEntry{"--out", "folder to make; FOLDER/dossier if not given", "report", &Options::out, nullptr,
                "DIR"},
    OptionEntry{"--template", "customer, or a template file of your own", "report", &Options::template_name,
                nullptr, "NAME|FILE"},
    OptionEntry{"--paper", "paper of the PDF; a4 if not given", "report", &Options::paper, nullptr,
                "a4|letter"},
    OptionEntry{"--replace", "put the new dossier in the place of an older one", "report", nullptr,
                &Options::replace},
    OptionEntry{"--timings", "print where the time went", "report", nullptr, &Options::timings},
    OptionEntry{"--all", "print every verdict, not only the worst of each limit", "verdicts", nullptr,
                &Options::all},
    OptionEntry{"--no-trials",
                "leave out the Monte Carlo method, which validates the intervals and gives the joint "
                "conformance probability",
                "report verdicts", nullptr, &Options::no_trials},
    OptionEntry{"--needs",
                "say how much less uncertainty a limit needs that its guard band keeps from passing",
                "verdicts", nullptr, &Options::needs},
    OptionEntry{"--json", "print JSON for scripts", "verdicts check budget", nullptr, &Options::json},
};

struct CommandEntry {
    Command command;
    std::string_view name;
    std::string_view help;
    std::string_view example;
    std::string_view input = "FOLDER";
    std::string_view input_help = "qualification folder, which holds qualification.json";
};

constexpr std::array command_table{
    CommandEntry{Command::report, "report", "evaluate a qualification folder and write its dossier",
                 "luxdossier report bridge --limits bridge/limits.json --out bridge/dossier"},
    CommandEntry{Command::verdicts, "verdicts", "evaluate a qualification folder and print the verdicts",
                 "luxdossier verdicts bridge --limits bridge/limits.json"},
    CommandEntry{Command::check, "check", "read everything and print faults and remarks on bench practice",
                 "luxdossier check bridge"},
    CommandEntry{Command::budget, "budget",
                 "evaluate measurement models of your own: budget, intervals, validation",
                 "luxdossier budget models.json", "FILE", "file of measurement models (luxdossier/models/1)"},
};

constexpr std::string_view exit_codes =
    "Exit codes: 0 done and all pass; 1 done, but something does not; 2 bad input or usage, nothing "
    "written;\n"
    "3 the environment (cannot read or write, no space, missing font); 4 an internal defect.";

bool knows(const OptionEntry& option, std::string_view command)
{
    return (" " + std::string(option.commands) + " ").find(" " + std::string(command) + " ") !=
           std::string::npos;
}

void add_command(CLI::App& app, const CommandEntry& entry, Options& options)
{
    auto* command = app.add_subcommand(std::string(entry.name), std::string(entry.help));
    command->add_option(std::string(entry.input), options.folder, std::string(entry.input_help))->required();
    for (const auto& option : option_table) {
        if (!knows(option, entry.name))
            continue;
        const std::string name(option.name), help(option.help);
        if (option.flag != nullptr)
            command->add_flag(name, options.*option.flag, help);
        else
            command->add_option(name, options.*option.text, help)->type_name(std::string(option.value));
        if (option.text == &Options::paper)
            command->get_option(name)->check(CLI::IsMember({"a4", "letter"}));
    }
    command->footer(fmt::format("Example:\n  {}", entry.example));
    command->callback([&options, which = entry.command] { options.command = which; });
}

std::string unknown_command(std::string_view word)
{
    std::vector<std::string_view> names;
    for (const auto& entry : command_table)
        names.push_back(entry.name);
    const auto near = diagnostics::nearest(word, names);
    return fmt::format("luxdossier: found \"{}\", expected a command: {}\n  advice: {}\n", word,
                       fmt::join(names, ", "),
                       near.empty() ? std::string("luxdossier --help shows commands and options")
                                    : fmt::format("did you mean {}?", near));
}

}  // namespace

std::variant<Options, Answer> parse_command_line(int argc, const char* const* argv)
{
    Options options;
    CLI::App app("Qualifies ambient-light sensors in products: uncertainty, verdicts, dossier.",
                 "luxdossier");
    app.require_subcommand(1);
    app.set_version_flag("--version", version_text());
    std::string footer = "Examples:\n";
    for (const auto& entry : command_table) {
        add_command(app, entry, options);
        footer += fmt::format("  {}\n", entry.example);
    }
    app.footer(fmt::format("{}\n{}", footer, exit_codes));
    try {
        app.parse(argc, argv);
    } catch (const CLI::CallForVersion&) {
        return Answer{version_text() + "\n", false};
    } catch (const CLI::CallForHelp&) {
        const auto chosen = app.get_subcommands();
        return Answer{chosen.empty() ? app.help() : chosen.front()->help(), false};
    } catch (const CLI::ParseError& fault) {
        if (app.get_subcommands().empty() && argc > 1)
            return Answer{unknown_command(argv[1]), true};
        return Answer{fmt::format("luxdossier: {}\n  advice: luxdossier --help shows commands and options\n",
                                  fault.what()),
                      true};
    }
    return options;
}

}  // namespace luxdossier::cli

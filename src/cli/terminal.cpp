#include "cli/terminal.hpp"

#include "diagnostics/diagnostic.hpp"

#include <algorithm>
#include <cstdio>
#include <cstdlib>

#include <fmt/format.h>
#include <unistd.h>

namespace luxdossier::cli {

bool is_rich_terminal(int stream)
{
    const auto* term = std::getenv("TERM");
    const auto* no_color = std::getenv("NO_COLOR");
    const bool is_plain =
        term == nullptr || std::string_view(term) == "dumb" || (no_color != nullptr && *no_color != 0);
    return !is_plain && isatty(stream) == 1;
}

Progress::Progress() : shown_(is_rich_terminal(2)) {}

Progress::~Progress()
{
    done();
}

void Progress::end_stage()
{
    if (name_.empty())
        return;
    const std::chrono::duration<double> passed = std::chrono::steady_clock::now() - began_;
    seconds_.emplace_back(name_, passed.count());
    name_.clear();
}

void Progress::stage(std::string_view name)
{
    end_stage();
    name_ = name;
    began_ = std::chrono::steady_clock::now();
    if (shown_)
        fmt::print(stderr, "\r\x1b[K{} ...", name);
}

void Progress::done()
{
    if (shown_ && !name_.empty())
        fmt::print(stderr, "\r\x1b[K");
    end_stage();
}

std::string Progress::timings() const
{
    std::string text;
    double sum = 0;
    for (const auto& [name, seconds] : seconds_) {
        text += fmt::format("{:<20} {:8.3f} s\n", name, seconds);
        sum += seconds;
    }
    return text + fmt::format("{:<20} {:8.3f} s\n", "in all", sum);
}

std::string aligned(const std::vector<std::vector<std::string>>& rows, const std::vector<bool>& right)
{
    std::vector<std::size_t> widths(right.size(), 0);
    for (const auto& row : rows)
        for (std::size_t i = 0; i < row.size(); ++i)
            widths[i] = std::max(widths[i], diagnostics::character_count(row[i]));
    std::string text;
    for (const auto& row : rows) {
        std::string line;
        for (std::size_t i = 0; i < row.size(); ++i) {
            const std::string padding(widths[i] - diagnostics::character_count(row[i]), ' ');
            line += (i == 0 ? "" : "  ") + (right[i] ? padding + row[i] : row[i] + padding);
        }
        line.erase(line.find_last_not_of(' ') + 1);
        text += line + '\n';
    }
    return text;
}

}  // namespace luxdossier::cli

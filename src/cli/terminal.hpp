#pragma once

#include <chrono>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace luxdossier::cli {

/// Whether stream 1 (stdout) or 2 (stderr) is a terminal that understands control sequences; NO_COLOR and
/// TERM=dumb say that it does not.
[[nodiscard]] bool is_rich_terminal(int stream);

/// Tells on a terminal what is being done, and keeps the time of each stage.
class Progress {
public:
    Progress();
    ~Progress();
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;
    /// Ends the stage before, begins this one.
    void stage(std::string_view name);
    /// Ends the last stage and clears the line.
    void done();
    /// One line a stage: name, seconds; the sum last.
    [[nodiscard]] std::string timings() const;

private:
    void end_stage();
    bool shown_ = false;
    std::string name_;
    std::chrono::steady_clock::time_point began_;
    std::vector<std::pair<std::string, double>> seconds_;
};

/// Rows of text in aligned columns; the first row is the heading. `right` tells the columns that are set
/// right.
[[nodiscard]] std::string aligned(const std::vector<std::vector<std::string>>& rows,
                                  const std::vector<bool>& right);

}  // namespace luxdossier::cli

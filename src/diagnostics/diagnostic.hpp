#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::diagnostics {

/// Where a fault stands. `line` and `column` count from 1 (0: not known), columns in characters, not bytes;
/// `pointer` is a JSON Pointer (RFC 6901) where the file is JSON.
struct Location {
    std::string file;  ///< as the user named it, relative to the qualification folder where it lies inside
    std::size_t line = 0;
    std::size_t column = 0;
    std::string pointer;
    auto operator<=>(const Location&) const = default;
};

enum class Severity { warning, error };

/// One fault of the input: where, what was found, what was expected and what to do.
/// `found` is a whole clause that quotes the offending value as written ("found unit \"lux\" for
/// illuminance").
struct Diagnostic {
    Severity severity = Severity::error;
    Location location;
    std::string found;
    std::string expected;          ///< "\"lx\""; printed after "expected "; may be empty
    std::string advice;            ///< what to do; may be empty
    std::string source_line;       ///< the offending line as written, for the caret; may be empty
    std::size_t line_start = 0;    ///< characters of a long line that were cut off before `source_line`
    bool line_cut = false;         ///< characters of a long line were cut off behind `source_line`
    std::size_t caret_length = 0;  ///< how many characters the caret underlines; 0: no caret
};

/// All faults of one run, in the order in which they were added.
class Diagnostics {
public:
    void add(Diagnostic diagnostic) { all_.push_back(std::move(diagnostic)); }
    [[nodiscard]] bool has_errors() const;
    [[nodiscard]] bool empty() const { return all_.empty(); }
    [[nodiscard]] std::span<const Diagnostic> all() const { return all_; }
    /// Sorts by file (in the order of `files`, then in the order in which further files were first named),
    /// line and column; stable. Of faults that are alike in every part one is kept.
    void sort_by_location(std::span<const std::string> files = {});
    /// Appends all faults of another list.
    void append(const Diagnostics& other);

private:
    std::vector<Diagnostic> all_;
};

/// The text of one diagnostic, as docs/architecture.md shows it:
///
///     bench-07.csv:41:11: error: found unit "lux" for illuminance, expected "lx"
///       41 | 3, 100.2, lux, 23.1
///          |           ^^^
///       advice: write lx, the SI symbol
///
/// The JSON Pointer stands in parentheses behind the message. Ends with a line feed.
[[nodiscard]] std::string render(const Diagnostic& diagnostic);

/// Sets column, source line and caret of a diagnostic from the line it stands in and the bytes it is about.
/// Long lines are cut to what stands around the caret.
/// Domain: `line` is valid UTF-8 without its line end; first_byte <= line.size(); bytes beyond the end are
/// ignored.
void point_at(Diagnostic& diagnostic, std::string_view line, std::size_t first_byte, std::size_t byte_count);

/// Number of characters (code points) of valid UTF-8 text.
[[nodiscard]] std::size_t character_count(std::string_view text);

/// A piece of user's text as messages quote it: control characters made visible, at most 40 characters.
[[nodiscard]] std::string quoted(std::string_view text);

/// The candidate nearest to `name` by edit distance, a swap of neighbours being one edit, or an empty view
/// where none is near (distance at most a third of the length, at least 1).
[[nodiscard]] std::string_view nearest(std::string_view name, std::span<const std::string_view> candidates);

}  // namespace luxdossier::diagnostics

#pragma once

// The CSV reader from within: csv_reader.cpp goes through the file, csv_cells.cpp makes numbers, texts and
// messages of single cells.

#include "intake/csv_heading.hpp"
#include "intake/csv_reader.hpp"
#include "intake/json_source.hpp"
#include "intake/text_input.hpp"

#include <limits>
#include <unordered_map>

namespace luxdossier::intake {

/// Stands for a text cell that a short row lacks: the table is refused, but read to its end.
inline constexpr std::uint32_t unread_text = std::numeric_limits<std::uint32_t>::max();
inline constexpr double missing_reading = std::numeric_limits<double>::quiet_NaN();

/// Where the cells of one column go.
struct Target {
    const ColumnRequest* request = nullptr;
    std::vector<double>* numbers = nullptr;
    model::TextColumn* texts = nullptr;
    std::unordered_map<std::string, std::uint32_t> known_texts;
};

/// A cell as it stands in the buffer.
struct Cell {
    const char* begin = nullptr;
    const char* end = nullptr;  ///< behind the last character, quotes included
    std::string_view text;      ///< quotes and blanks taken off
    bool quoted = false;
};

class CsvReader {
public:
    CsvReader(const std::string& name, const Files::Answer& file, const CsvFormat& format,
              std::span<const ColumnRequest> requests, diagnostics::Diagnostics& diagnostics)
        : name_(name), input_(file, format.encoding), format_(format), requests_(requests),
          diagnostics_(diagnostics)
    {
    }
    std::optional<model::Table> read();
    [[nodiscard]] CsvComments comments() const { return comments_; }

private:
    bool find_heading();
    void make_columns();
    void read_records();
    const char* read_record(const char* at, const char* end);
    const char* read_number(const char* at, const char* end, Target& target);
    const char* find_cell(const char* at, const char* end, Cell& cell);
    const char* skip_cell(const char* at, const char* end);
    void take_cell(const Cell& cell, Target& target);
    double number_of(const Cell& cell, const Target& target);
    bool settle_decimal(const Cell& cell, const Target& target);
    double no_number(const Cell& cell, const Target& target, std::string advice);
    void note_comment(const char* begin, const char* end);
    void keep_comments_among_rows();
    [[nodiscard]] bool looks_like_row(std::string_view line) const;
    void take_text(const Cell& cell, Target& target);
    void end_record(std::size_t columns, const char* end_of_record);
    void note_line();

    [[nodiscard]] std::string_view line_around(const char* at) const;
    [[nodiscard]] diagnostics::Diagnostic diagnostic_at(const char* begin, const char* end, std::string found,
                                                        std::string expected, std::string advice) const;
    void fault_at(const char* begin, const char* end, std::string found, std::string expected,
                  std::string advice = {});
    void fault_of_text();
    void fault_of_file(std::string found, std::string expected, std::string advice = {});
    void add(diagnostics::Diagnostic fault);
    [[nodiscard]] std::size_t lines_before(const char* at) const;

    const std::string& name_;
    TextInput input_;
    const CsvFormat& format_;
    std::span<const ColumnRequest> requests_;
    diagnostics::Diagnostics& diagnostics_;

    CsvHeading heading_;
    char delimiter_ = ',';
    char decimal_ = 0;  ///< 0: not settled yet
    /// The first number that can be read with a decimal mark or a mark of thousands, until another one tells.
    struct Doubt {
        char mark = 0;
        diagnostics::Diagnostic fault;
    };
    std::optional<Doubt> doubt_;
    CsvComments comments_;
    std::size_t last_row_line_ = 0;
    std::vector<std::int32_t> target_of_column_;
    std::vector<Target> targets_;
    model::Table table_;
    std::vector<std::size_t> places_;  ///< of each request among numbers or texts
    const char* record_ = nullptr;     ///< where the record begins
    std::size_t line_ = 1;             ///< of the record's beginning
    std::size_t heading_line_ = 1;
    std::size_t faults_ = 0;
};

}  // namespace luxdossier::intake

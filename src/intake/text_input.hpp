#pragma once

#include "intake/csv_format.hpp"
#include "intake/intake.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// A text file in pieces, whatever its encoding: valid UTF-8 without byte order mark, read on as it is used
/// up, so that a log of any size takes a buffer of a few megabytes.
class TextInput {
public:
    /// The encoding is as stated, else what the byte order mark says, else UTF-8.
    TextInput(const Files::Answer& file, std::optional<Encoding> stated);

    /// What stands in the buffer and was not used up; ends with a line feed once the file is at its end,
    /// unless it stopped being text.
    [[nodiscard]] std::string_view rest() const { return {buffer_.data() + begin_, end_ - begin_}; }
    /// Drops text from the front of rest().
    void use_up(std::size_t bytes) { begin_ += bytes; }
    /// Reads on; rest() moves and grows. False where the file is at its end. Throws std::system_error where
    /// reading fails.
    bool read_on();
    [[nodiscard]] bool at_end() const { return at_end_; }

    /// Why the text ends before the file does: "byte 0xE9, which is no UTF-8 text"; empty where all is well.
    [[nodiscard]] const std::string& fault() const { return fault_; }
    [[nodiscard]] bool encoding_was_stated() const { return stated_.has_value(); }
    [[nodiscard]] std::size_t file_bytes() const { return file_bytes_; }

private:
    std::size_t read_raw(char* to, std::size_t most);
    void settle_encoding();
    void read_utf8();
    void read_other();
    void accept_utf8();
    void decode_utf16();
    void decode_latin1();
    void append_character(char32_t character);
    void finish();

    std::string_view content_;  ///< what is left of a file that is held whole
    std::shared_ptr<Pieces> pieces_;
    std::optional<Encoding> stated_;
    Encoding encoding_ = Encoding::utf8;
    std::size_t file_bytes_ = 0, piece_bytes_ = 0;
    std::vector<char> buffer_;
    std::size_t begin_ = 0, end_ = 0;
    std::size_t unsettled_ = 0;  ///< bytes behind end_ that are not known to be UTF-8 yet
    std::string raw_;            ///< bytes of another encoding that are not decoded yet
    bool started_ = false, raw_at_end_ = false, at_end_ = false;
    std::string fault_;
};

}  // namespace luxdossier::intake

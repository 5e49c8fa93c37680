#pragma once

#include "intake/intake.hpp"
#include "intake/object_reader.hpp"

namespace luxdossier::intake {

struct StateText {
    std::string found, expected, advice;
};
/// What a message says of a file that is not there to be read; `found` is empty for a regular file.
[[nodiscard]] StateText describe_state(Files::State state);

/// Reads a file that a JSON value names; a fault at that value where it cannot be read.
[[nodiscard]] std::optional<Files::Answer> read_named_file(const Files& files, const std::string& path,
                                                           const JsonValue& at, const JsonReading& reading);

/// A file that was read before, from what is kept of it: its bytes are never asked for twice, because they
/// may be others by then. Empty where it came in pieces.
[[nodiscard]] std::optional<Files::Answer> answer_of(const model::InputFile& file);

/// The key "format" must say that the file is one of ours.
void check_format(ObjectReader& root, std::string_view expected);

}  // namespace luxdossier::intake

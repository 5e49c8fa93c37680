#include "intake/named_file.hpp"

#include <fmt/format.h>

namespace luxdossier::intake {

StateText describe_state(Files::State state)
{
    switch (state) {
    case Files::State::regular:
        return {};
    case Files::State::missing:
        return {"found no such file", "a file in the folder",
                "check the name, upper and lower case included"};
    case Files::State::not_regular:
        return {"found a folder, pipe or device", "a regular file", "name a file that holds readings"};
    case Files::State::outside:
        return {"found a link that leaves the folder", "a file inside the folder",
                "copy the file into the folder"};
    case Files::State::unreadable:
        return {"found a file that may not be read", "a readable file", "check the permissions of the file"};
    }
    return {};
}

std::optional<Files::Answer> read_named_file(const Files& files, const std::string& path, const JsonValue& at,
                                             const JsonReading& reading)
{
    auto answer = files.read(path);
    if (answer.state == Files::State::regular)
        return answer;
    const auto text = describe_state(answer.state);
    reading.fault(at, fmt::format("{} at {}", text.found, diagnostics::quoted(path)), text.expected,
                  text.advice);
    return std::nullopt;
}

std::optional<Files::Answer> answer_of(const model::InputFile& file)
{
    if (file.content.size() != file.size)
        return std::nullopt;
    return Files::Answer{Files::State::regular, file.content, nullptr, file.size};
}

void check_format(ObjectReader& root, std::string_view expected)
{
    (void)root.text("$schema");  // for editors
    const auto* format = root.require("format", fmt::format("\"{}\"", expected));
    if (format == nullptr || (format->kind == JsonValue::Kind::text && format->text == expected))
        return;
    const auto is_newer = format->kind == JsonValue::Kind::text &&
                          format->text.starts_with(expected.substr(0, expected.rfind('/') + 1));
    root.reading().fault(*format, fmt::format("found {} as \"format\"", root.reading().describe(*format)),
                         fmt::format("\"{}\"", expected),
                         is_newer ? "this version of the program reads format 1 only" : "");
}

}  // namespace luxdossier::intake

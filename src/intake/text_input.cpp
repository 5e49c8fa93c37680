#include "intake/text_input.hpp"

#include "intake/text_encoding.hpp"

#include <algorithm>
#include <cstring>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::size_t least_piece_bytes = std::size_t{1} << 12U, most_piece_bytes = std::size_t{1} << 20U;

}  // namespace

TextInput::TextInput(const Files::Answer& file, std::optional<Encoding> stated)
    : content_(file.content), pieces_(file.pieces), stated_(stated),
      file_bytes_(file.pieces ? file.size : file.content.size()),
      // A small file is read at once, and no more is cleared for it than it needs.
      piece_bytes_(std::clamp(file_bytes_ + 1, least_piece_bytes, most_piece_bytes))
{
}

std::size_t TextInput::read_raw(char* to, std::size_t most)
{
    if (pieces_)
        return pieces_->read({to, most});
    const auto taken = std::min(most, content_.size());
    std::memcpy(to, content_.data(), taken);
    content_.remove_prefix(taken);
    return taken;
}

void TextInput::settle_encoding()
{
    started_ = true;
    encoding_ = stated_.value_or(Encoding::utf8);
    const std::string_view front = raw_;
    const auto little = front.substr(0, 2) == "\xFF\xFE";
    const auto big = front.substr(0, 2) == "\xFE\xFF";
    if (little || big) {
        const auto fits = !stated_ || *stated_ == Encoding::utf16 ||
                          *stated_ == (little ? Encoding::utf16_little : Encoding::utf16_big);
        if (!fits)
            fault_ = "the byte order mark of UTF-16, though another encoding is stated";
        encoding_ = little ? Encoding::utf16_little : Encoding::utf16_big;
        raw_.erase(0, 2);
    } else if (encoding_ == Encoding::utf16) {
        fault_ = "no byte order mark, so that UTF-16 has two readings";
    } else if (encoding_ == Encoding::utf8) {
        raw_.erase(0, skip_bom(front));
    }
}

bool TextInput::read_on()
{
    if (at_end_)
        return false;
    if (begin_ > 0) {
        std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_ + unsettled_);
        end_ -= begin_;
        begin_ = 0;
    }
    const auto before = end_;
    while (end_ == before && !at_end_) {
        if (started_ && encoding_ == Encoding::utf8)
            read_utf8();
        else
            read_other();
        if (raw_at_end_ || !fault_.empty())
            finish();
    }
    return end_ > before;
}

/// UTF-8 is read into its place and checked there: the common case, without a copy.
void TextInput::read_utf8()
{
    if (buffer_.size() < end_ + unsettled_ + piece_bytes_ + 2)
        buffer_.resize(end_ + unsettled_ + piece_bytes_ + 2);
    const auto taken = read_raw(buffer_.data() + end_ + unsettled_, piece_bytes_);
    raw_at_end_ = taken == 0;
    unsettled_ += taken;
    accept_utf8();
}

void TextInput::read_other()
{
    constexpr std::size_t longest_mark = 3;
    do {
        const auto kept = raw_.size();
        raw_.resize(kept + piece_bytes_);
        const auto taken = read_raw(raw_.data() + kept, piece_bytes_);
        raw_.resize(kept + taken);
        raw_at_end_ = taken == 0;
    } while (!started_ && !raw_at_end_ && raw_.size() < longest_mark);
    if (!started_)
        settle_encoding();
    if (!fault_.empty())
        return;
    // A decoded character takes at most twice the bytes; two more for the last line's end.
    if (buffer_.size() < end_ + 2 * raw_.size() + 2)
        buffer_.resize(end_ + 2 * raw_.size() + 2);
    if (encoding_ == Encoding::utf8) {
        std::copy(raw_.begin(), raw_.end(), buffer_.begin());
        unsettled_ = raw_.size();
        raw_.clear();
        accept_utf8();
    } else if (encoding_ == Encoding::latin1) {
        decode_latin1();
    } else {
        decode_utf16();
    }
}

/// Checks what was read behind the settled text; a sequence that is cut by the end of a piece waits for the
/// next one.
void TextInput::accept_utf8()
{
    const std::string_view read(buffer_.data() + end_, unsettled_);
    const auto valid = valid_utf8_length(read);
    end_ += valid;
    unsettled_ -= valid;
    if (unsettled_ == 0)
        return;
    constexpr std::size_t longest_sequence = 4;
    const auto first = read[valid];
    if (first == '\0')
        fault_ = "a NUL byte: not a text file";
    else if (raw_at_end_ || unsettled_ >= longest_sequence)
        fault_ = fmt::format("byte 0x{:02X}, which is no UTF-8 text",
                             static_cast<unsigned>(static_cast<unsigned char>(first)));
}

void TextInput::append_character(char32_t character)
{
    auto* to = buffer_.data() + end_;
    const auto put = [&to](char32_t byte) { *to++ = static_cast<char>(static_cast<unsigned char>(byte)); };
    if (character < 0x80U) {
        put(character);
    } else if (character < 0x800U) {
        put(0xC0U | (character >> 6U));
        put(0x80U | (character & 0x3FU));
    } else if (character < 0x10000U) {
        put(0xE0U | (character >> 12U));
        put(0x80U | ((character >> 6U) & 0x3FU));
        put(0x80U | (character & 0x3FU));
    } else {
        put(0xF0U | (character >> 18U));
        put(0x80U | ((character >> 12U) & 0x3FU));
        put(0x80U | ((character >> 6U) & 0x3FU));
        put(0x80U | (character & 0x3FU));
    }
    end_ = static_cast<std::size_t>(to - buffer_.data());
}

void TextInput::decode_latin1()
{
    for (const auto byte : raw_) {
        if (byte == '\0') {
            fault_ = "a NUL byte: not a text file";
            return;
        }
        append_character(static_cast<unsigned char>(byte));
    }
    raw_.clear();
}

void TextInput::decode_utf16()
{
    const auto unit_at = [this](std::size_t i) {
        const auto first = static_cast<unsigned char>(raw_[i]);
        const auto second = static_cast<unsigned char>(raw_[i + 1]);
        return encoding_ == Encoding::utf16_little ? char32_t{first} | (char32_t{second} << 8U)
                                                   : char32_t{second} | (char32_t{first} << 8U);
    };
    std::size_t at = 0;
    while (at + 2 <= raw_.size() && fault_.empty()) {
        const auto unit = unit_at(at);
        const auto is_high = unit >= 0xD800U && unit < 0xDC00U;
        if (is_high && at + 4 > raw_.size() && !raw_at_end_)
            break;
        const auto low = is_high && at + 4 <= raw_.size() ? unit_at(at + 2) : char32_t{0};
        if (unit == 0) {
            fault_ = "a NUL character: not a text file";
        } else if (is_high && low >= 0xDC00U && low < 0xE000U) {
            append_character(0x10000U + ((unit - 0xD800U) << 10U) + (low - 0xDC00U));
            at += 4;
        } else if (unit >= 0xD800U && unit < 0xE000U) {
            fault_ = "half of a surrogate pair, which is no UTF-16 text";
        } else {
            append_character(unit);
            at += 2;
        }
    }
    raw_.erase(0, at);
    if (raw_at_end_ && raw_.size() == 1 && fault_.empty())
        fault_ = "an odd number of bytes, which is no UTF-16 text";
}

void TextInput::finish()
{
    at_end_ = true;
    if (!fault_.empty())
        return;
    if (buffer_.size() < end_ + 1)
        buffer_.resize(end_ + 1);
    if (end_ > begin_ && buffer_[end_ - 1] != '\n')
        buffer_[end_++] = '\n';
}

}  // namespace luxdossier::intake

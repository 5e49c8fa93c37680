#include "cli/hashed_files.hpp"

#include "cli/stages.hpp"
#include "seal/seal.hpp"

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

/// "./a.csv" and "a.csv" are one file, and one copy is sealed.
std::string plain_form(std::string_view path)
{
    return std::filesystem::path(path).lexically_normal().generic_string();
}

InputFault changed(std::string_view path)
{
    return InputFault(fmt::format("{} changed while it was evaluated\n  advice: run again\n", path));
}

}  // namespace

class HashedFiles::Stream final : public intake::Pieces {
public:
    explicit Stream(std::shared_ptr<intake::Pieces> pieces) : pieces_(std::move(pieces)) {}
    std::size_t read(std::span<char> buffer) override
    {
        const auto taken = pieces_->read(buffer);
        digest_.add({buffer.data(), taken});
        bytes_ += taken;
        return taken;
    }
    [[nodiscard]] Fingerprint read_to_end()
    {
        std::vector<char> buffer(std::size_t{1} << 20U);
        while (read(buffer) > 0) {
        }
        return {digest_.hex(), bytes_};
    }

private:
    std::shared_ptr<intake::Pieces> pieces_;
    seal::Digest digest_;
    std::size_t bytes_ = 0;
};

HashedFiles::HashedFiles(const std::filesystem::path& folder) : files_(intake::folder_on_disk(folder)) {}

HashedFiles::~HashedFiles() = default;

void HashedFiles::settle(std::string_view path, Fingerprint found) const
{
    const auto [known, is_new] = known_.emplace(plain_form(path), found);
    if (!is_new && known->second != found)
        throw changed(path);
}

intake::Files::Answer HashedFiles::read(std::string_view path) const
{
    auto answer = files_->read(path);
    if (answer.state != State::regular)
        return answer;
    if (answer.pieces) {
        const auto stream = std::make_shared<Stream>(std::move(answer.pieces));
        streams_[plain_form(path)].push_back(stream);
        answer.pieces = stream;
    } else {
        settle(path, {seal::sha256_hex(answer.content), answer.content.size()});
    }
    return answer;
}

HashedFiles::Fingerprint HashedFiles::fingerprint(std::string_view path) const
{
    const auto plain = plain_form(path);
    if (const auto open = streams_.find(plain); open != streams_.end()) {
        const auto streams = std::move(open->second);
        streams_.erase(open);
        for (const auto& stream : streams)
            settle(path, stream->read_to_end());
    }
    return known_.at(plain);
}

void HashedFiles::copy(std::string_view path, const std::function<void(std::string_view)>& append) const
{
    const auto answer = read(path);
    if (answer.state != State::regular)
        throw changed(path);
    append(answer.content);
    if (answer.pieces) {
        std::vector<char> buffer(std::size_t{1} << 20U);
        while (const auto taken = answer.pieces->read(buffer))
            append({buffer.data(), taken});
    }
    (void)fingerprint(path);  // a fault where these are not the bytes that were evaluated
}

}  // namespace luxdossier::cli

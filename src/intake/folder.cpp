#include "intake/intake.hpp"

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace luxdossier::intake {
namespace {

/// A file descriptor that is closed.
class Descriptor {
public:
    explicit Descriptor(int number) : number_(number) {}
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
    Descriptor& operator=(Descriptor&&) = delete;
    ~Descriptor()
    {
        if (number_ >= 0)
            ::close(number_);
    }
    [[nodiscard]] int number() const { return number_; }
    [[nodiscard]] bool is_open() const { return number_ >= 0; }

private:
    int number_;
};

std::system_error cannot_read(int error, std::string_view name)
{
    return {error, std::generic_category(), "cannot read " + std::string(name)};
}

/// What is the user's to mend is a state of the file; what is not is thrown.
Files::State state_of(const std::error_code& error, std::string_view name)
{
    switch (error.value()) {
    case ENOENT:
    case ENOTDIR:
    case ENAMETOOLONG:
    case ELOOP:  // a link that leads in a circle, or that was put there meanwhile
        return Files::State::missing;
    case EACCES:
    case EPERM:
        return Files::State::unreadable;
    case ENXIO:  // a socket
    case ENODEV:
        return Files::State::not_regular;
    default:
        throw cannot_read(error.value(), name);
    }
}

std::size_t read_bytes(int descriptor, std::span<char> buffer, const std::string& name)
{
    std::size_t filled = 0;
    while (filled < buffer.size()) {
        const auto taken = ::read(descriptor, buffer.data() + filled, buffer.size() - filled);
        if (taken < 0 && errno == EINTR)
            continue;
        if (taken < 0)
            throw cannot_read(errno, name);
        if (taken == 0)
            break;
        filled += static_cast<std::size_t>(taken);
    }
    return filled;
}

class DiskPieces final : public Pieces {
public:
    DiskPieces(Descriptor descriptor, std::string name)
        : descriptor_(std::move(descriptor)), name_(std::move(name))
    {
    }
    std::size_t read(std::span<char> buffer) override
    {
        return read_bytes(descriptor_.number(), buffer, name_);
    }

private:
    Descriptor descriptor_;
    std::string name_;
};

class FolderOnDisk final : public Files {
public:
    explicit FolderOnDisk(const std::filesystem::path& folder)
    {
        std::error_code error;
        root_ = std::filesystem::canonical(folder, error);
        if (!error && !std::filesystem::is_directory(root_, error))
            error = std::make_error_code(std::errc::not_a_directory);
        if (error)
            throw std::system_error(error, folder.string());
    }
    [[nodiscard]] Answer read(std::string_view path) const override;

private:
    [[nodiscard]] bool is_inside(const std::filesystem::path& resolved) const
    {
        const auto [root_end, path_end] = std::ranges::mismatch(root_, resolved);
        return root_end == root_.end() && path_end != resolved.end();
    }
    std::filesystem::path root_;
};

Files::Answer FolderOnDisk::read(std::string_view path) const
{
    const std::filesystem::path relative(path);
    if (relative.is_absolute())
        return {State::outside, {}, nullptr, 0};
    std::error_code error;
    const auto resolved = std::filesystem::canonical(root_ / relative, error);
    if (error)
        return {state_of(error, path), {}, nullptr, 0};
    if (!is_inside(resolved))
        return {resolved == root_ ? State::not_regular : State::outside, {}, nullptr, 0};
    // Without O_NONBLOCK a FIFO would wait for its writer; O_NOFOLLOW: a link put there meanwhile does not
    // lead out.
    Descriptor descriptor(
        ::open(resolved.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOFOLLOW | O_NOCTTY));
    if (!descriptor.is_open())
        return {state_of({errno, std::generic_category()}, path), {}, nullptr, 0};
    struct stat facts {};
    if (::fstat(descriptor.number(), &facts) != 0)
        throw cannot_read(errno, path);
    if (!S_ISREG(facts.st_mode))
        return {State::not_regular, {}, nullptr, 0};
    const auto size = static_cast<std::size_t>(facts.st_size);
    if (size > kept_whole_bytes)
        return {
            State::regular, {}, std::make_shared<DiskPieces>(std::move(descriptor), std::string(path)), size};
    Answer answer{State::regular, std::string(size, '\0'), nullptr, size};
    answer.size = read_bytes(descriptor.number(), answer.content, std::string(path));
    answer.content.resize(answer.size);
    return answer;
}

}  // namespace

std::unique_ptr<Files> folder_on_disk(const std::filesystem::path& folder)
{
    return std::make_unique<FolderOnDisk>(folder);
}

}  // namespace luxdossier::intake

#include "seal/seal.hpp"

#include <array>
#include <cerrno>
#include <cstdio>
#include <memory>
#include <system_error>
#include <vector>

#include <openssl/evp.h>

namespace luxdossier::seal {
namespace {

struct CloseFile {
    void operator()(std::FILE* file) const { std::fclose(file); }
};

void check(int result)
{
    if (result != 1)
        throw std::runtime_error("SHA-256 is not available in the cryptographic library");
}

template <typename Take>
void read_in_pieces(const std::filesystem::path& file, const Take& take)
{
    const auto failed = [&file] {
        return std::system_error(errno, std::generic_category(), "cannot read " + file.string());
    };
    const std::unique_ptr<std::FILE, CloseFile> stream(std::fopen(file.c_str(), "rb"));
    if (!stream)
        throw failed();
    std::vector<char> buffer(std::size_t{1} << 20U);
    while (const auto size = std::fread(buffer.data(), 1, buffer.size(), stream.get()))
        take(std::string_view(buffer.data(), size));
    if (std::ferror(stream.get()) != 0)
        throw failed();
}

}  // namespace

void Digest::Free::operator()(EVP_MD_CTX* context) const
{
    EVP_MD_CTX_free(context);
}

Digest::Digest() : context_(EVP_MD_CTX_new())
{
    check(EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr));
}

void Digest::add(std::string_view bytes)
{
    check(EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()));
}

std::string Digest::hex()
{
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned int size = 0;
    check(EVP_DigestFinal_ex(context_.get(), digest.data(), &size));
    constexpr std::string_view digits = "0123456789abcdef";
    std::string text;
    for (unsigned int i = 0; i < size; ++i) {
        text += digits.at(digest.at(i) >> 4U);
        text += digits.at(digest.at(i) & 15U);
    }
    return text;
}

std::string sha256_hex(std::string_view bytes)
{
    Digest digest;
    digest.add(bytes);
    return digest.hex();
}

std::string sha256_hex_of_file(const std::filesystem::path& file)
{
    Digest digest;
    read_in_pieces(file, [&digest](std::string_view piece) { digest.add(piece); });
    return digest.hex();
}

std::string read_file(const std::filesystem::path& file)
{
    std::string content;
    read_in_pieces(file, [&content](std::string_view piece) { content += piece; });
    return content;
}

std::string write_file_in_pieces(const std::filesystem::path& file, const MakePieces& make)
{
    Digest digest;
    const auto failed = [&file] {
        return std::system_error(errno, std::generic_category(), "cannot write " + file.string());
    };
    std::unique_ptr<std::FILE, CloseFile> stream(std::fopen(file.c_str(), "wb"));
    if (!stream)
        throw failed();
    make([&](std::string_view piece) {
        if (std::fwrite(piece.data(), 1, piece.size(), stream.get()) != piece.size())
            throw failed();
        digest.add(piece);
    });
    if (std::fclose(stream.release()) != 0)
        throw failed();
    return digest.hex();
}

std::string write_file(const std::filesystem::path& file, std::string_view content)
{
    return write_file_in_pieces(file, [content](const auto& append) { append(content); });
}

namespace {

void make_folders_below(const std::filesystem::path& folder, const std::filesystem::path& relative)
{
    auto made = folder;
    for (const auto& part : relative.parent_path()) {
        made /= part;
        std::error_code error;
        std::filesystem::create_directory(made, error);
        if (error)
            throw std::system_error(error, "cannot make folder " + made.string());
    }
}

}  // namespace

std::string write_file_below(const std::filesystem::path& folder, const std::filesystem::path& relative,
                             std::string_view content)
{
    return write_file_in_pieces_below(folder, relative, [content](const auto& append) { append(content); });
}

std::string write_file_in_pieces_below(const std::filesystem::path& folder,
                                       const std::filesystem::path& relative, const MakePieces& make)
{
    make_folders_below(folder, relative);
    return write_file_in_pieces(folder / relative, make);
}

}  // namespace luxdossier::seal

#include "record/read_back.hpp"

#include <cerrno>
#include <fstream>
#include <system_error>
#include <vector>

#include <nlohmann/json.hpp>

namespace luxdossier::record {
namespace {

using nlohmann::json;

std::ifstream opened(const std::filesystem::path& file)
{
    errno = 0;
    std::ifstream stream(file, std::ios::binary);
    if (!stream)
        throw std::system_error(errno == 0 ? EIO : errno, std::generic_category(),
                                "cannot read " + file.string());
    return stream;
}

/// Looks for /document/number and ends there, so that a record of many megabytes is not read whole.
class NumberSearch final : public nlohmann::json_sax<json> {
public:
    std::optional<std::string> number;
    bool null() override { return !is_there(); }
    bool boolean(bool) override { return !is_there(); }
    bool number_integer(number_integer_t) override { return !is_there(); }
    bool number_unsigned(number_unsigned_t) override { return !is_there(); }
    bool number_float(number_float_t, const string_t&) override { return !is_there(); }
    bool binary(binary_t&) override { return !is_there(); }
    bool string(string_t& value) override
    {
        if (is_there())
            number = value;
        return !is_there();
    }
    bool start_object(std::size_t) override { return deeper(); }
    bool end_object() override { return up(); }
    bool start_array(std::size_t) override { return deeper(); }
    bool end_array() override { return up(); }
    bool key(string_t& name) override
    {
        keys_.back() = name;
        return true;
    }
    bool parse_error(std::size_t, const std::string&, const nlohmann::detail::exception&) override
    {
        return false;
    }

private:
    [[nodiscard]] bool is_there() const
    {
        return keys_.size() == 2 && keys_[0] == "document" && keys_[1] == "number";
    }
    bool deeper()
    {
        keys_.emplace_back();
        return true;
    }
    bool up()
    {
        keys_.pop_back();
        return true;
    }
    std::vector<std::string> keys_;
};

}  // namespace

void check_json(const std::filesystem::path& file)
{
    auto stream = opened(file);
    if (!json::accept(stream) || stream.bad())
        throw std::system_error(EIO, std::generic_category(),
                                file.string() + " does not read back as it was written");
}

std::optional<std::string> document_number(const std::filesystem::path& record)
{
    auto stream = opened(record);
    NumberSearch search;
    json::sax_parse(stream, &search);
    return search.number;
}

}  // namespace luxdossier::record

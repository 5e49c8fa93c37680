#include "fuzz/whole_folder.hpp"

#include "intake/csv_reader.hpp"
#include "intake/memory_files.hpp"

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include <fmt/format.h>

using namespace luxdossier;

namespace {

struct Read {
    std::optional<model::Table> table;
    std::string messages;
};

/// Reads the first two columns as numbers and the last as text, whatever they are called.
Read read(const intake::Files::Answer& file, const std::vector<intake::ColumnRequest>& requests)
{
    diagnostics::Diagnostics faults;
    Read done;
    done.table = intake::read_csv("log.csv", file, {}, requests, faults);
    fuzz::promise(done.table.has_value() != faults.has_errors(), "refused if and only if a fault is told");
    fuzz::promise(faults.all().size() <= intake::most_faults_of_a_file + 1,
                  "more faults than a person reads");
    done.messages = test::all_messages(faults);
    return done;
}

std::vector<intake::ColumnRequest> requests_of(const std::string& text)
{
    auto heading = text.substr(0, text.find_first_of("\r\n"));
    std::vector<intake::ColumnRequest> requests;
    for (std::size_t begin = 0; begin <= heading.size() && requests.size() < 3;) {
        const auto end = std::min(heading.find(',', begin), heading.size());
        intake::ColumnRequest request;
        request.heading = heading.substr(begin, end - begin);
        request.meaning = fmt::format("column {}", requests.size());
        request.kind = requests.size() == 2 ? intake::ColumnKind::text : intake::ColumnKind::number;
        requests.push_back(std::move(request));
        begin = end + 1;
    }
    return requests;
}

bool same(double a, double b)
{
    return a == b || (a != a && b != b);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size)
{
    const std::string text(reinterpret_cast<const char*>(data), size);
    const auto requests = requests_of(text);
    const auto whole = read({intake::Files::State::regular, text, nullptr, text.size()}, requests);
    for (const std::size_t piece : {std::size_t{1}, std::size_t{7}, std::size_t{4096}}) {
        const auto pieces = std::make_shared<test::SmallPieces>(text, piece);
        const auto parts = read({intake::Files::State::regular, {}, pieces, text.size()}, requests);
        fuzz::promise(whole.table.has_value() == parts.table.has_value(), "in pieces it reads otherwise");
        if (!whole.table)
            continue;
        fuzz::promise(whole.table->rows == parts.table->rows, "in pieces it has other rows");
        for (std::size_t column = 0; column < whole.table->numbers.size(); ++column)
            fuzz::promise(std::ranges::equal(whole.table->numbers[column].values,
                                             parts.table->numbers[column].values, same),
                          "in pieces it has other numbers");
    }
    return 0;
}

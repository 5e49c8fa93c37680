// Reading a log of 10 million rows: MB/s, rows/s and peak memory, beside a bare std::from_chars loop over the
// same bytes. Usage: csv_bench [rows]

#include "intake/csv_reader.hpp"

#include <charconv>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <sys/resource.h>
#include <unistd.h>

using namespace luxdossier;
namespace fs = std::filesystem;

namespace {

/// A logger's file: time in s, nominal level, reading of the product, reading of the meter.
void write_log(const fs::path& file, std::size_t rows)
{
    std::ofstream out(file, std::ios::binary);
    fmt::memory_buffer text;
    fmt::format_to(std::back_inserter(text), "time_s,level_lx,product_lx,meter_lx\n");
    std::uint64_t state = 1;
    for (std::size_t row = 0; row < rows; ++row) {
        state = state * 6364136223846793005U + 1442695040888963407U;
        const auto noise = static_cast<double>(state >> 40U) / 16777216.0 - 0.5;
        fmt::format_to(std::back_inserter(text), "{:.2f},1000,{:.3f},{:.1f}\n",
                       static_cast<double>(row) * 0.01, 1012.0 + 3 * noise, 998.0 + noise);
        if (text.size() > 1U << 20U) {
            out.write(text.data(), static_cast<std::streamsize>(text.size()));
            text.clear();
        }
    }
    out.write(text.data(), static_cast<std::streamsize>(text.size()));
}

double seconds_since(std::chrono::steady_clock::time_point start)
{
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

double peak_memory_mb()
{
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

intake::ColumnRequest column(std::string meaning, std::string heading)
{
    intake::ColumnRequest request;
    request.meaning = std::move(meaning);
    request.heading = std::move(heading);
    return request;
}

/// What no reader of this text can beat by much: every number of the file, nothing else.
double bare_loop(const std::string& text, double& sum)
{
    const auto start = std::chrono::steady_clock::now();
    const auto* at = text.data() + text.find('\n') + 1;
    const auto* const end = text.data() + text.size();
    while (at < end) {
        double value = 0;
        at = std::from_chars(at, end, value).ptr + 1;
        sum += value;
    }
    return seconds_since(start);
}

}  // namespace

int main(int argc, char* argv[])
{
    const std::size_t rows = argc > 1 ? std::stoul(argv[1]) : 10'000'000;
    const auto folder = fs::temp_directory_path() / fmt::format("luxdossier-csv-bench-{}", ::getpid());
    fs::create_directory(folder);
    write_log(folder / "log.csv", rows);
    const auto megabytes = static_cast<double>(fs::file_size(folder / "log.csv")) / 1e6;

    const std::vector<intake::ColumnRequest> requests{column("time", "time_s"), column("level", "level_lx"),
                                                      column("sensor", "product_lx"),
                                                      column("meter", "meter_lx")};
    const auto files = intake::folder_on_disk(folder);
    const auto before_mb = peak_memory_mb();
    const auto start = std::chrono::steady_clock::now();
    diagnostics::Diagnostics found;
    double sum_read = 0;
    double read_s = 0;
    {
        const auto table = intake::read_csv("log.csv", files->read("log.csv"), {}, requests, found);
        read_s = seconds_since(start);
        if (!table || table->rows != rows)
            return 1;
        for (const auto& one : table->numbers)
            for (const auto value : one.values)
                sum_read += value;
    }
    const auto peak_mb = peak_memory_mb();
    const auto columns_mb = static_cast<double>(rows * requests.size() * sizeof(double)) / 1e6;

    std::string text(fs::file_size(folder / "log.csv"), '\0');
    std::ifstream(folder / "log.csv", std::ios::binary)
        .read(text.data(), static_cast<std::streamsize>(text.size()));
    double sum_bare = 0;
    const auto bare_s = bare_loop(text, sum_bare);
    fs::remove_all(folder);

    fmt::print("log            {:.1f} MB, {} rows of {} columns\n", megabytes, rows, requests.size());
    fmt::print("reader         {:.0f} MB/s, {:.2f} million rows/s, {:.2f} s from disk to table\n",
               megabytes / read_s, static_cast<double>(rows) / read_s / 1e6, read_s);
    fmt::print("bare loop      {:.0f} MB/s, {:.2f} s in memory\n", megabytes / bare_s, bare_s);
    fmt::print("reader/bare    {:.2f} of its speed (goal 0.5)\n", bare_s / read_s);
    fmt::print("peak memory    {:.0f} MB, {:.0f} MB before; the columns alone are {:.0f} MB\n", peak_mb,
               before_mb, columns_mb);
    return sum_read > 0 && std::abs(sum_read - sum_bare) <= 1e-9 * sum_bare ? 0 : 1;
}

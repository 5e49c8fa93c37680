#include "layout/whole_dossier.hpp"

#include "cli/stages.hpp"
#include "metrics/metrics.hpp"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <vector>

#include <fmt/format.h>

namespace luxdossier::test {
namespace {

std::string long_id(const std::string& stem)
{
    auto id = stem + "-";
    while (id.size() < 60)
        id += static_cast<char>('a' + id.size() % 26);
    return id;
}

}  // namespace

std::string fixture(const std::string& name)
{
    return std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/fixtures/" + name;
}

std::string write_crowded_folder()
{
    const std::filesystem::path folder = std::filesystem::path(LUXDOSSIER_BINARY_DIRECTORY) / "crowded";
    std::filesystem::create_directories(folder);
    std::ofstream csv(folder / "levels.csv"), header(folder / "qualification.json"),
        limits(folder / "limits.json");
    csv << "sample,nominal,product,meter\n";
    const auto source = long_id("led"), run = long_id("levels");
    std::string samples, rows;
    std::vector<double> levels;
    for (int l = 0; l < 60; ++l)
        levels.push_back(std::round(10 * std::pow(1.15, l) * 1000) / 1000);
    for (int s = 0; s < 40; ++s) {
        const auto id = long_id(fmt::format("sample-{}", s));
        samples += fmt::format("{}{{\"id\": \"{}\"}}", s == 0 ? "" : ", ", id);
        for (std::size_t l = 0; l < levels.size(); ++l)
            for (int n = 0; n < 3; ++n) {
                const double lx =
                    levels[l] * (1 + 0.001 * std::sin(1.0 * s + 7.0 * static_cast<double>(l) + 3 * n));
                csv << fmt::format("{},{},{:.5f},{:.5f}\n", id, levels[l], lx * (1 + 0.001 * s), lx);
            }
    }
    header << fmt::format(
        R"({{"format": "luxdossier/qualification/1", "samples": [{}], "sources": [{{"id": "{}", "kind": "led"}}],
"evaluation": {{"monte_carlo": {{"results": "judged"}}}},
"runs": [{{"id": "{}", "kind": "comparison", "file": "levels.csv", "source": "{}",
"columns": {{"sample": {{"column": "sample"}}, "level": {{"column": "nominal", "unit": "lx"}},
"sensor": {{"column": "product", "unit": "lx"}}, "meter": {{"column": "meter", "unit": "lx"}}}}}}]}})",
        samples, source, run, source);
    for (int i = 0; i < 200; ++i) {
        const auto first = levels.at(static_cast<std::size_t>(i * 7 % 50)),
                   last = levels.at(static_cast<std::size_t>(i * 7 % 50) + 9);
        rows += fmt::format(
            R"({}{{"id": "{}", "metric": "reading_error", "where": {{"sample": "{}",
"level": {{"from": {}, "to": {}, "unit": "lx"}}}}, "lower": {}, "upper": {}, "unit": "%"}})",
            i == 0 ? "" : ",\n", long_id(fmt::format("limit-{}", i)),
            long_id(fmt::format("sample-{}", i % 40)), first, last, -3 - i % 5, 3 + i % 5);
    }
    limits << fmt::format(R"({{"format": "luxdossier/limits/1", "title": "Crowded",
"decision_rule": {{"kind": "four-outcome", "guard_band_multiple": 1.0}}, "limits": [{}]}})",
                          rows);
    return folder.string();
}

model::Dossier whole_dossier(const std::string& folder)
{
    auto dossier = cli::evaluate_inputs(cli::read_or_fail(folder, ""));
    dossier.figures = metrics::figures(dossier);
    return dossier;
}

}  // namespace luxdossier::test

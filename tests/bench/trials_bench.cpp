// Monte Carlo trials a second of a file of measurement models, through the functions that `budget` calls.
// Usage: trials_bench FILE      (taskset chooses the processors, and with them the number of threads)

#include "cli/stages.hpp"
#include "intake/intake.hpp"
#include "uncertainty/block_kernels.hpp"

#include <algorithm>
#include <chrono>
#include <fstream>
#include <iostream>
#include <sstream>
#include <thread>

#include <fmt/format.h>

int main(int argc, char** argv)
{
    using namespace luxdossier;
    if (argc != 2) {
        std::cerr << "usage: trials_bench FILE\n";
        return 2;
    }
    std::ostringstream content;
    content << std::ifstream(argv[1]).rdbuf();
    diagnostics::Diagnostics faults;
    const auto read = intake::read_models_file(argv[1], content.str(), faults);
    if (!read) {
        for (const auto& fault : faults.all())
            std::cerr << diagnostics::render(fault);
        return 2;
    }
    double best = 1e9;
    std::size_t trials = 0;
    for (int repeat = 0; repeat < 9; ++repeat) {
        const auto start = std::chrono::steady_clock::now();
        const auto dossier = cli::evaluate_models(*read);
        best =
            std::min(best, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
        trials = dossier.evaluation.results.front().monte_carlo->trials;
    }
    fmt::print("{} threads, {}: {} trials in {:.4f} s, {:.1f} million/s\n",
               std::thread::hardware_concurrency(), uncertainty::widest_kernels().name, trials, best,
               static_cast<double>(trials) / best / 1e6);
    return 0;
}

#include "uncertainty/block_kernels.hpp"

#include <vector>

namespace luxdossier::uncertainty {
namespace {

/// Asks processor and operating system; what is not x86 at all does not compile these files.
bool runs_avx512()
{
    return __builtin_cpu_supports("avx512f") != 0 && __builtin_cpu_supports("avx512dq") != 0;
}

}  // namespace

std::span<const BlockKernels* const> available_kernels()
{
    static const auto available = [] {
        std::vector<const BlockKernels*> found;
        if (runs_avx512())
            found.push_back(&avx512_kernels());
        if (__builtin_cpu_supports("avx2") != 0)
            found.push_back(&avx2_kernels());
        found.push_back(&sse2_kernels());  // part of every x86-64
        return found;
    }();
    return available;
}

const BlockKernels& widest_kernels()
{
    return *available_kernels().front();
}

}  // namespace luxdossier::uncertainty

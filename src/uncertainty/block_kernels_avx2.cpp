// The block kernels for AVX2: 4 trials an instruction. See block_kernels_body.hpp.
#define LUXDOSSIER_KERNELS avx2_kernels
#define LUXDOSSIER_KERNEL_NAME "AVX2"
#define LUXDOSSIER_LANES 4
#define LUXDOSSIER_NATIVE __m256d
#define LUXDOSSIER_SQUARE_ROOT _mm256_sqrt_pd
#define LUXDOSSIER_SLEEF(function, accuracy) Sleef_cinz_##function##d4_##accuracy##avx

#include "uncertainty/block_kernels_body.hpp"

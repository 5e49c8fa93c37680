// The block kernels for SSE2: 2 trials an instruction. See block_kernels_body.hpp.
#define LUXDOSSIER_KERNELS sse2_kernels
#define LUXDOSSIER_KERNEL_NAME "SSE2"
#define LUXDOSSIER_LANES 2
#define LUXDOSSIER_NATIVE __m128d
#define LUXDOSSIER_SQUARE_ROOT _mm_sqrt_pd
#define LUXDOSSIER_SLEEF(function, accuracy) Sleef_cinz_##function##d2_##accuracy##sse2

#include "uncertainty/block_kernels_body.hpp"

// The block kernels for AVX-512: 8 trials an instruction. See block_kernels_body.hpp.
#define LUXDOSSIER_KERNELS avx512_kernels
#define LUXDOSSIER_KERNEL_NAME "AVX-512"
#define LUXDOSSIER_LANES 8
#define LUXDOSSIER_NATIVE __m512d
#define LUXDOSSIER_SQUARE_ROOT _mm512_sqrt_pd
#define LUXDOSSIER_SLEEF(function, accuracy) Sleef_cinz_##function##d8_##accuracy##avx512fnofma

#include "uncertainty/block_kernels_body.hpp"

/* What this machine can do, asked once when the library is loaded. */

#include "arrivals.h"

/* 1 if the kernels compiled for AVX2 and FMA can run here, else 0. Only the plain one is called. */
EXPORT int KERNEL(has_avx2)(void)
{
#if defined(__x86_64__)
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
#else
    return 0;
#endif
}

/* What this machine can do, and what the library was made of; asked once when it is loaded. */

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

#define TEXT_OF(word) #word
#define TEXT(word) TEXT_OF(word)

/* Tells the sources from others; the build computes it, and whoever loads the library again. */
EXPORT const char *KERNEL(sources)(void)
{
    return TEXT(SOURCES);
}

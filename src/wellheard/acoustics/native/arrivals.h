#ifndef WELLHEARD_ARRIVALS_H
#define WELLHEARD_ARRIVALS_H

/* Every source is compiled once for each kind of machine, with VARIANT set to plain or avx2, and
   the Python side picks by name when it loads the library: write plain C with v8, no dispatch. */
#define JOIN_(a, b) a##_##b
#define JOIN(a, b) JOIN_(a, b)
#define KERNEL(name) JOIN(name, VARIANT)

#if defined(_WIN32)
#define EXPORT __declspec(dllexport)
#else
#define EXPORT __attribute__((visibility("default")))
#endif

#endif

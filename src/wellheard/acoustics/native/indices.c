/* Modulation transfer indices of many paths at once.

   The specification is modulation_transfer_index in wellheard/acoustics/intelligibility.py, on what
   _transfer in wellheard/acoustics/indices.py gives it. */

#include "arrivals.h"

/* Effective signal-to-noise ratios of −15 and +15 dB. */
static const float LOW = 0.0316227766f, HIGH = 31.6227766f;

static inline v8 lesser(v8 a, v8 b)
{
    const i8 first = a < b;
    return (v8)((first & (i8)a) | (~first & (i8)b));
}

static inline v8 greater(v8 a, v8 b)
{
    const i8 first = a > b;
    return (v8)((first & (i8)a) | (~first & (i8)b));
}

static inline v8 roots(v8 squares)
{
    for (int o = 0; o < LANES; o++) squares[o] = sqrtf(squares[o]);
    return squares;
}

/* direct, reflected, gain, factor, index: (count, 7). modulation: (count, 14, 7, 2). */
EXPORT void KERNEL(indices)(int64_t count, const double *direct, const double *reflected,
                            const double *gain, const float *modulation, const double *factor,
                            double *index)
{
    for (int64_t p = 0; p < count; p++) {
        v8 sure = all8(0.0f), times = sure, scale = sure, product = all8(1.0f);
        for (int o = 0; o < OCTAVES; o++) {
            const int64_t at = p * OCTAVES + o;
            const double all = direct[at] + gain[at] * reflected[at];
            sure[o] = (float)direct[at];
            times[o] = (float)gain[at];
            scale[o] = all > 0.0 ? (float)(factor[at] / all) : 0.0f;
        }
        for (int f = 0; f < MODULATIONS; f++) {
            const float *z = modulation + (p * MODULATIONS + f) * OCTAVES * 2;
            const v8 re = {z[0], z[2], z[4], z[6], z[8], z[10], z[12], 0.0f};
            const v8 im = {z[1], z[3], z[5], z[7], z[9], z[11], z[13], 0.0f};
            const v8 a = sure + times * re, b = times * im;
            /* 0.97 is already past the upper edge, and 1 − m stays away from 0. */
            const v8 m = lesser(roots(a * a + b * b) * scale, all8(0.999f));
            product *= greater(lesser(m / (1.0f - m), all8(HIGH)), all8(LOW));
        }
        for (int o = 0; o < OCTAVES; o++) {
            const float share = (10.0f / MODULATIONS * log10f(product[o]) + 15.0f) / 30.0f;
            index[p * OCTAVES + o] = share < 0.0f ? 0.0 : share < 1.0f ? share : 1.0;
        }
    }
}

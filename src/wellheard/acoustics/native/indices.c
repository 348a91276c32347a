/* Modulation transfer indices of many paths at once.

   The specification is modulation_transfer_index in wellheard/acoustics/intelligibility.py, on what
   _transfer in wellheard/acoustics/indices.py gives it. */

#include "arrivals.h"

/* Effective signal-to-noise ratios of −15 and +15 dB. */
static const float LOW = 0.0316227766f, HIGH = 31.6227766f;

/* direct, reflected, gain, factor, index: (count, 7). modulation: (count, 14, 7, 2). */
EXPORT void KERNEL(indices)(int64_t count, const double *direct, const double *reflected,
                            const double *gain, const float *modulation, const double *factor,
                            double *index)
{
    for (int64_t p = 0; p < count; p++) {
        float sure[LANES] = {0}, times[LANES] = {0}, scale[LANES] = {0}, product[LANES];
        for (int o = 0; o < OCTAVES; o++) {
            const int64_t at = p * OCTAVES + o;
            const double all = direct[at] + gain[at] * reflected[at];
            sure[o] = (float)direct[at];
            times[o] = (float)gain[at];
            scale[o] = all > 0.0 ? (float)(factor[at] / all) : 0.0f;
        }
        for (int o = 0; o < LANES; o++) product[o] = 1.0f;
        for (int f = 0; f < MODULATIONS; f++) {
            const float *z = modulation + (p * MODULATIONS + f) * OCTAVES * 2;
            float re[LANES] = {0}, im[LANES] = {0};
            for (int o = 0; o < OCTAVES; o++) {
                re[o] = z[2 * o];
                im[o] = z[2 * o + 1];
            }
            for (int o = 0; o < LANES; o++) {
                const float a = sure[o] + times[o] * re[o], b = times[o] * im[o];
                const float m = sqrtf(a * a + b * b) * scale[o];
                /* 0.97 is already past the upper edge, and 1 − m stays away from 0. */
                const float cut = m < 0.999f ? m : 0.999f;
                const float ratio = cut / (1.0f - cut);
                product[o] *= ratio < LOW ? LOW : ratio < HIGH ? ratio : HIGH;
            }
        }
        for (int o = 0; o < OCTAVES; o++) {
            const double snr_db = 10.0 / MODULATIONS * log10((double)product[o]);
            const double share = (snr_db + 15.0) / 30.0;
            index[p * OCTAVES + o] = share < 0.0 ? 0.0 : share < 1.0 ? share : 1.0;
        }
    }
}

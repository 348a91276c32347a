/* What absorption leaves of rays, and what is still to come at any time.

   The specifications are the numpy twins in wellheard/acoustics/decay_table.py and late.py. */

#include "arrivals.h"

typedef double d8 __attribute__((vector_size(64), aligned(8)));

/* Add up where energy is lost, per bin of path. first, path, surface, scattered: see Flights.
   keep: (surfaces + 1, 8), what each surface leaves; its last row is for rays that were lost.
   total, specular: (bins + 1, 8), zero before; what is left at the end goes into the last row. */
EXPORT void KERNEL(decay)(int64_t rays, const int64_t *first, const float *path,
                          const int16_t *surface, const int32_t *scattered, const double *keep,
                          int64_t surfaces, double bins_per_metre, int64_t bins, double *total,
                          double *specular)
{
    for (int64_t i = 0; i < rays; i++) {
        d8 energy = {1, 1, 1, 1, 1, 1, 1, 1};
        int plain = scattered[i] >= 0;
        for (int64_t k = first[i], hit = 0; k < first[i + 1]; k++, hit++) {
            const int64_t bin = (int64_t)((double)path[k] * bins_per_metre);
            const int64_t row = bin < bins ? bin : bins;
            const int64_t met = surface[k] < 0 ? surfaces : surface[k];
            const d8 left = energy * *(const d8 *)(keep + LANES * met);
            const d8 gone = energy - left;
            *(d8 *)(total + LANES * row) += gone;
            if (plain) {
                plain = hit != scattered[i];
                *(d8 *)(specular + LANES * row) += plain ? gone : energy;
            }
            energy = left;
        }
        *(d8 *)(total + LANES * bins) += energy;
        if (plain) *(d8 *)(specular + LANES * bins) += energy;
    }
}

/* From the energy of each bin to all that is still to come at its start, and the transform of that
   re its start. energy: (bins, 8). rest: (8), rest_re, rest_im: (14, 8), past the last bin.
   half, whole: (14, 2), turns by half a bin and by one. sums: (rows, 8). transform: (rows, 14, 8, 2).
   rows <= bins + 1. */
EXPORT void KERNEL(to_come)(int64_t bins, int64_t rows, const double *energy, const double *rest,
                            const double *rest_re, const double *rest_im, const double *half,
                            const double *whole, float *sums, float *transform)
{
    d8 sum = *(const d8 *)rest, re[MODULATIONS], im[MODULATIONS];
    memcpy(re, rest_re, sizeof re);
    memcpy(im, rest_im, sizeof im);
    for (int64_t k = bins; k >= 0; k--) {
        if (k < bins) {
            const d8 bin = *(const d8 *)(energy + LANES * k);
            sum += bin;
            for (int f = 0; f < MODULATIONS; f++) {
                const double c = whole[2 * f], s = whole[2 * f + 1];
                const d8 real = re[f] * c - im[f] * s;
                im[f] = re[f] * s + im[f] * c + bin * half[2 * f + 1];
                re[f] = real + bin * half[2 * f];
            }
        }
        if (k >= rows) continue;
        for (int lane = 0; lane < LANES; lane++) sums[LANES * k + lane] = (float)sum[lane];
        float *out = transform + (int64_t)MODULATIONS * LANES * 2 * k;
        for (int f = 0; f < MODULATIONS; f++)
            for (int lane = 0; lane < LANES; lane++) {
                *out++ = (float)re[f][lane];
                *out++ = (float)im[f][lane];
            }
    }
}

/* Pressure image sources of a box, summed with windowed-sinc fractional delays.

   The specification is _sum_numpy in wellheard/acoustics/waveform.py. */

#include "arrivals.h"

#include <math.h>
#include <stdlib.h>

#define BANDS 8 /* at most */
#define TAPS 80
#define WIDE (TAPS / 8)

typedef float v8 __attribute__((vector_size(32), aligned(4)));

/* The image of `index` along an axis: even ones repeat the source, odd ones mirror it. */
static double image(int index, double length, double source)
{
    return index * length + (index % 2 ? length - source : source);
}

/* source, receiver, size: 3 each [m]. factors: reflected pressure by axis, image and band,
   (3, 2·order + 1, bands). table: taps of phases + 1 fractional delays, (phases + 1, TAPS).
   out: (bands, length), zero before; sample `lead` is the time 0. */
EXPORT void KERNEL(waveform)(const double *source, const double *receiver, const double *size,
                             const float *factors, int order, int bands, double samples_per_metre,
                             int lead, const float *table, int phases, float *out, long length)
{
    const long images = 2L * order + 1;
    const float *fx = factors, *fy = fx + images * bands, *fz = fy + images * bands;
    float plan[BANDS];
    for (int i = -order; i <= order; i++) {
        const double dx = image(i, size[0], source[0]) - receiver[0];
        const int left = order - abs(i);
        for (int j = -left; j <= left; j++) {
            const double dy = image(j, size[1], source[1]) - receiver[1];
            const double flat = dx * dx + dy * dy;
            const int deep = left - abs(j);
            for (int b = 0; b < bands; b++)
                plan[b] = fx[(i + order) * bands + b] * fy[(j + order) * bands + b];
            for (int k = -deep; k <= deep; k++) {
                const double dz = image(k, size[2], source[2]) - receiver[2];
                const double distance = sqrt(flat + dz * dz);
                const double place = distance * samples_per_metre + lead;
                const long sample = (long)place;
                const float phase = (float)(place - (double)sample) * (float)phases;
                const int row = (int)phase < phases ? (int)phase : phases - 1;
                const float share = phase - (float)row;
                const v8 *low = (const v8 *)(table + (long)row * TAPS);
                const v8 *high = (const v8 *)(table + (long)(row + 1) * TAPS);
                v8 weight[WIDE];
                for (int v = 0; v < WIDE; v++)
                    weight[v] = low[v] + share * (high[v] - low[v]);
                const float spread = (float)(1.0 / distance);
                float *at = out + sample - TAPS / 2 + 1;
                for (int b = 0; b < bands; b++, at += length) {
                    const float pressure = plan[b] * fz[(k + order) * bands + b] * spread;
                    v8 *to = (v8 *)at;
                    for (int v = 0; v < WIDE; v++)
                        to[v] += pressure * weight[v];
                }
            }
        }
    }
}

/* Scattered energy by place and time, and what of it a pair hears.

   The specifications are the numpy twins in wellheard/acoustics/resolved.py. */

#include "arrivals.h"

/* The same fields in wellheard/acoustics/resolved.py. */
typedef struct {
    double low[2], cells_per_metre[2], bins_per_metre;
    int32_t columns, rows, fine, bins;
    const int32_t *region_in; /* (rows, columns), below 0 where a cell has several */
    const int32_t *region_at; /* (rows * fine, columns * fine) */
} Net;

static inline int32_t within(int32_t index, int32_t count)
{
    return index < 0 ? 0 : index < count ? index : count - 1;
}

/* x, y: in cells from the low corner. */
static int32_t region_at(const Net *net, double x, double y)
{
    const int32_t i = within((int32_t)(x * net->fine), net->columns * net->fine);
    const int32_t j = within((int32_t)(y * net->fine), net->rows * net->fine);
    return net->region_at[(int64_t)j * net->columns * net->fine + i];
}

/* A coordinate that goes from a to b along a straight way: where on it, 0 to 1, the next whole
   number is passed and how far it is between two, the whole number below, and its step. */
typedef struct {
    double next, stride;
    int32_t index, step;
} Walk;

static inline Walk walk(double a, double b)
{
    const double along = b - a, below = floor(a);
    if (along == 0.0) return (Walk){INFINITY, INFINITY, (int32_t)below, 0};
    const double once = 1.0 / along;
    if (along > 0.0) return (Walk){(below + 1.0 - a) * once, once, (int32_t)below, 1};
    const int on_it = a == below;
    return (Walk){(below - on_it - a) * once, -once, (int32_t)below - on_it, -1};
}

/* One way from a hit to the next. place: x and y in cells, time in bins, at both ends. */
static void spread_way(const Net *net, const double from[3], const double to[3], double length,
                       v8 energy, float *out)
{
    Walk x = walk(from[0], to[0]), y = walk(from[1], to[1]), t = walk(from[2], to[2]);
    for (double at = 0.0; at < 1.0 && t.index < net->bins;) {
        double end = x.next < y.next ? x.next : y.next;
        end = end < t.next ? end : t.next;
        end = end < 1.0 ? end : 1.0;
        if (end > at) {
            const int64_t cell = (int64_t)within(y.index, net->rows) * net->columns
                                 + within(x.index, net->columns);
            int32_t region = net->region_in[cell];
            if (region < 0) {
                const double middle = 0.5 * (at + end);
                region = region_at(net, from[0] + middle * (to[0] - from[0]),
                                   from[1] + middle * (to[1] - from[1]));
            }
            v8 *row = (v8 *)(out + ((int64_t)region * net->bins + t.index) * LANES);
            *row += energy * (float)((end - at) * length);
            at = end;
        }
        Walk *passed = x.next <= end ? &x : y.next <= end ? &y : &t;
        passed->next += passed->stride;
        passed->index += passed->step;
    }
}

/* first, path, surface, points, scattered: see Flights. keep: (surfaces + 1, 8). out: (regions,
   bins, 8), zero before: energy × length of the scattered rays. */
EXPORT void KERNEL(spread)(const Net *net, int64_t rays, const int64_t *first, const float *path,
                           const int16_t *surface, const float *points, const int32_t *scattered,
                           const float *keep, int64_t surfaces, float *out)
{
    for (int64_t i = 0; i < rays; i++) {
        v8 energy = all8(1.0f);
        double place[2][3];
        for (int64_t k = first[i]; k < first[i + 1]; k++) {
            double *here = place[k & 1], *before = place[(k - 1) & 1];
            for (int axis = 0; axis < 2; axis++)
                here[axis] = (points[3 * k + axis] - net->low[axis]) * net->cells_per_metre[axis];
            here[2] = path[k] * net->bins_per_metre;
            if (k > first[i] && k - first[i] > scattered[i]) {
                if (before[2] >= net->bins) break;
                spread_way(net, before, here, (double)path[k] - (double)path[k - 1], energy, out);
            }
            energy *= row8(keep, surface[k] < 0 ? surfaces : surface[k]);
        }
    }
}

/* energy: (roots, regions, bins, 8). root: (pairs). blend, weight: (pairs, 4). front: (pairs), time
   of the direct sound in bins. split: early bins. turns: (bins, 14, 2). sums: (pairs, 2, 8), early
   and late. transform: (pairs, 14, 2, 8) of what comes after `front`, re the time 0; what came
   before is only summed, into `before`: (pairs, 8). */
EXPORT void KERNEL(gather)(int64_t pairs, int64_t regions, int32_t bins, const float *energy,
                           const int64_t *root, const int32_t *blend, const float *weight,
                           const double *front, double split, const float *turns, float *sums,
                           float *transform, float *before)
{
    for (int64_t p = 0; p < pairs; p++) {
        const float *held[4];
        for (int k = 0; k < 4; k++)
            held[k] = energy + (root[p] * regions + blend[4 * p + k]) * bins * LANES;
        const float *w = weight + 4 * p;
        v8 early = all8(0.0f), late = early, sooner = early;
        v8 re[MODULATIONS], im[MODULATIONS];
        for (int f = 0; f < MODULATIONS; f++) re[f] = im[f] = all8(0.0f);
        for (int32_t n = 0; n < bins; n++) {
            const v8 bin = w[0] * row8(held[0], n) + w[1] * row8(held[1], n)
                           + w[2] * row8(held[2], n) + w[3] * row8(held[3], n);
            const double share = front[p] + split - n;
            const float soon = share <= 0.0 ? 0.0f : share >= 1.0 ? 1.0f : (float)share;
            early += soon * bin;
            late += (1.0f - soon) * bin;
            if (n + 0.5 <= front[p]) {
                sooner += bin;
                continue;
            }
            const float *turn = turns + (int64_t)n * MODULATIONS * 2;
            for (int f = 0; f < MODULATIONS; f++) {
                re[f] += turn[2 * f] * bin;
                im[f] += turn[2 * f + 1] * bin;
            }
        }
        v8 *sum = (v8 *)(sums + 2 * LANES * p);
        sum[0] = early;
        sum[1] = late;
        *(v8 *)(before + LANES * p) = sooner;
        v8 *out = (v8 *)(transform + (int64_t)2 * MODULATIONS * LANES * p);
        for (int f = 0; f < MODULATIONS; f++) {
            out[2 * f] = re[f];
            out[2 * f + 1] = im[f];
        }
    }
}

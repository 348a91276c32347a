/* Energy image sources of a box, limited by time: the lattice of Allen and Berkley (1979).

   The specification is _reflect_numpy in wellheard/acoustics/images_box.py. */

#include "column.h"

#include <stdlib.h>

/* count pairs; rows, columns, patterns: which source, microphone and pattern each has.
   size (3); most (3): the images −most … most along each axis are in `factors`,
   (Σ (2·most + 1), 8), what they reflect, one axis after the other.
   sources, facings (…, 3); talker (entries, 8); receivers (…, 3); axes (count, 3);
   microphones (…, entries, 8); diffuse (…, 8) by pattern; upper (count): takes nothing from below;
   direct (count); front_air (count, 8);
   first (count, 4, 8) or null: what the first reflections at x = 0, x = size, y = 0, y = size
   leave, where they meet the wall. Returns 1 if memory ran out, else 0. */
EXPORT int32_t KERNEL(box_respond)(
    const Tables *tables, int64_t count, const int64_t *rows, const int64_t *columns,
    const int64_t *patterns, const double *size, const int32_t *most, const float *factors,
    const double *sources, const double *facings, const float *talker, const double *receivers,
    const double *axes, const float *microphones, const float *diffuse, const uint8_t *upper,
    const double *direct, const float *front_air, const float *first, float *energies,
    float *modulation)
{
    const float *factors_of[3] = {factors};
    size_t space[4] = {0};
    for (int axis = 0; axis < 3; axis++) {
        space[axis + 1] = space[axis] + 4 * (size_t)(2 * most[axis] + 1 + LANES);
        if (axis < 2) factors_of[axis + 1] = factors_of[axis] + (2 * most[axis] + 1) * LANES;
    }
    float *room = malloc(space[3] * sizeof(float));
    v8 *bins = malloc((size_t)tables->bins * sizeof(v8));
    if (!room || !bins) {
        free(room);
        free(bins);
        return 1;
    }
    for (int64_t p = 0; p < count; p++) {
        const double *source = sources + 3 * rows[p], *facing = facings + 3 * rows[p];
        const double *receiver = receivers + 3 * columns[p];
        const double reach = direct[p] + tables->reach;
        const float far = (float)(reach * reach);
        Line line[3];
        for (int axis = 0; axis < 3; axis++)
            line[axis] = lay_line(room + space[axis], most[axis], size[axis], source[axis],
                                  receiver[axis], facing[axis], axes[3 * p + axis],
                                  factors_of[axis], reach);
        const Line *x = &line[0], *y = &line[1], *column = &line[2];
        const Listener listener = {
            tables,
            talker,
            microphones + patterns[p] * tables->entries * LANES,
            (float)direct[p],
            (float)(1.0 / (tables->speed * tables->step)),
            0.5f * (float)(tables->entries - 1),
            bins,
        };
        clear_bins(bins, tables->bins);
        const Range across = within(x, (float)reach);
        for (int32_t i = across.from; i < across.to; i++) {
            if (x->square[i] >= far) continue;
            const Range along = within(y, sqrtf(far - x->square[i]));
            const v8 factor = row8(x->factors, i);
            for (int32_t j = along.from; j < along.to; j++) {
                const float flat = x->square[i] + y->square[j];
                if (flat >= far) continue;
                Range range = within(column, sqrtf(far - flat));
                if (upper[p]) range = from_above(column, range, flat);
                if (range.from >= range.to) continue;

                const float leaves = x->talker[i] + y->talker[j];
                const float meets = x->listen[i] + y->listen[j];
                const v8 plan = factor * row8(y->factors, j);
                const int32_t steps = abs(i - x->zero) + abs(j - y->zero), zero = column->zero;
                const int apart = (steps == 0 || (steps == 1 && first))
                                  && range.from <= zero && zero < range.to;
                if (!apart) {
                    add_column(&listener, column, range, flat, leaves, meets, plan);
                    continue;
                }
                /* The direct sound is none of these; a first reflection knows where it happens. */
                const Range below = {range.from, zero}, above = {zero + 1, range.to};
                add_column(&listener, column, below, flat, leaves, meets, plan);
                add_column(&listener, column, above, flat, leaves, meets, plan);
                if (steps == 1) {
                    const int wall = i != x->zero ? i > x->zero : 2 + (j > y->zero);
                    add_column(&listener, column, (Range){zero, zero + 1}, flat, leaves, meets,
                               row8(first, 4 * p + wall));
                }
            }
        }
        const Pair pair = {direct[p], front_air + LANES * p, diffuse + LANES * patterns[p]};
        finish(tables, bins, &pair, energies + 3 * LANES * p,
               modulation + 2 * MODULATIONS * OCTAVES * p);
    }
    free(room);
    free(bins);
    return 0;
}

/* Energy image sources of a box, limited by time: the lattice of Allen and Berkley (1979).

   The specification is _respond_numpy in wellheard/acoustics/images_box.py.

   For each image of the plan the column of images above and below it is gone through twice: once
   eight at a time for what is arithmetic (distance, cosines, bin), once one by one for what is
   looked up (patterns, factors). No exponential, sine or cosine is taken for an image. */

#include "arrivals.h"

#include <stdlib.h>

/* Images along the vertical for one pair, `count` of them, the source itself at `zero`; the arrays
   go on for eight more that are never used. */
typedef struct {
    int32_t count, zero;
    const float *offset;  /* image − microphone [m] */
    const float *square;  /* of it */
    const float *talker;  /* its part of distance · cosine at the talker */
    const float *listen;  /* and at the microphone */
    const float *factors; /* (count, 8): reflected */
} Column;

/* What stays the same for all images of a pair. */
typedef struct {
    const Tables *tables;
    const float *talker;  /* (entries, 8) */
    const float *pattern; /* (entries, 8) */
    float direct, per_bin, half_entries;
    v8 *bins;
} Listener;

/* The image of `index` along an axis: even ones repeat the source, odd ones mirror it. */
static inline double image(int32_t index, double length, double source)
{
    return index * length + (index & 1 ? length - source : source);
}

/* Adds the images from..to − 1 of a column to the bins. */
static inline void add_column(const Listener *listener, const Column *column, int32_t from,
                              int32_t to, float flat, float talker, float listen, v8 plan)
{
    enum { PART = 64 };
    float weight[PART];
    int32_t at_talker[PART], at_microphone[PART], bin[PART];
    const float closest = (float)(listener->tables->nearest * listener->tables->nearest);
    const float direct = listener->direct, per_bin = listener->per_bin;
    const float half = listener->half_entries, middle = half + 0.5f;
    const int32_t last = listener->tables->bins - 1;

    for (; from < to; from += PART) {
        const int32_t part = to - from < PART ? to - from : PART;
        for (int32_t start = 0; start < part; start += 8)
            for (int32_t k = start; k < start + 8; k++) {
                const int32_t i = from + k;
                float square = flat + column->square[i];
                square = square < closest ? closest : square;
                const float distance = sqrtf(square), inverse = 1.0f / distance;
                const int32_t n = (int32_t)((distance - direct) * per_bin);
                weight[k] = inverse * inverse;
                at_talker[k] = (int32_t)((talker + column->talker[i]) * inverse * half + middle);
                at_microphone[k] = (int32_t)((listen + column->listen[i]) * inverse * half + middle);
                bin[k] = n < 0 ? 0 : n < last ? n : last;
            }
        for (int32_t k = 0; k < part; k++) {
            const v8 energy = plan * row8(column->factors, from + k) * weight[k]
                              * row8(listener->talker, at_talker[k])
                              * row8(listener->pattern, at_microphone[k]);
            add_arrival(listener->bins, bin[k], energy);
        }
    }
}

/* Lays out the images along the vertical that are less than `reach` away from the microphone. */
static void lay_column(Column *column, float *room, int32_t most, double length, double source,
                       double receiver, double facing, double axis, const float *factors,
                       double reach)
{
    /* Image i lies in the i-th copy of the room; the factors begin with that of −most. */
    int32_t low = (int32_t)floor((receiver - reach) / length);
    int32_t high = (int32_t)floor((receiver + reach) / length);
    low = low < -most ? -most : low;
    high = high > most ? most : high;
    const int32_t count = high - low + 1, space = 2 * most + 1 + LANES;
    float *offset = room, *square = offset + space, *talker = square + space;
    float *listen = talker + space;
    for (int32_t k = 0; k < count; k++) {
        const double away = image(low + k, length, source) - receiver;
        offset[k] = (float)away;
        square[k] = (float)(away * away);
        talker[k] = (float)((low + k) & 1 ? facing * away : -facing * away);
        listen[k] = (float)(axis * away);
    }
    for (int32_t k = count; k < count + LANES; k++)
        offset[k] = square[k] = talker[k] = listen[k] = 0.0f;
    *column = (Column){count, -low, offset, square, talker, listen,
                       factors + (int64_t)(low + most) * LANES};
}

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
    const float *factors_x = factors, *factors_y = factors_x + (2 * most[0] + 1) * LANES;
    const float *factors_z = factors_y + (2 * most[1] + 1) * LANES;
    const size_t space = (size_t)(2 * most[2] + 1 + LANES);
    float *room = malloc(4 * space * sizeof(float));
    v8 *bins = malloc((size_t)tables->bins * sizeof(v8));
    if (!room || !bins) {
        free(room);
        free(bins);
        return 1;
    }
    for (int64_t p = 0; p < count; p++) {
        const double *source = sources + 3 * rows[p], *facing = facings + 3 * rows[p];
        const double *receiver = receivers + 3 * columns[p], *axis = axes + 3 * p;
        const double reach = direct[p] + tables->reach, far = reach * reach;
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
        Column column;
        lay_column(&column, room, most[2], size[2], source[2], receiver[2], facing[2], axis[2],
                   factors_z, reach);
        for (int32_t i = -most[0]; i <= most[0]; i++) {
            const double x = image(i, size[0], source[0]) - receiver[0];
            if (x * x >= far) continue;
            const double talker_x = i & 1 ? facing[0] * x : -facing[0] * x;
            const v8 factor_x = row8(factors_x, i + most[0]);
            for (int32_t j = -most[1]; j <= most[1]; j++) {
                const double y = image(j, size[1], source[1]) - receiver[1];
                const double flat = x * x + y * y;
                if (flat >= far) continue;
                const double talker_y = j & 1 ? facing[1] * y : -facing[1] * y;
                const float at_talker = (float)(talker_x + talker_y);
                const float at_microphone = (float)(axis[0] * x + axis[1] * y);
                const v8 plan = factor_x * row8(factors_y, j + most[1]);

                /* The offsets rise, so what lies in the sphere lies together. */
                const float half = (float)sqrt(far - flat);
                int32_t from = (int32_t)floor((receiver[2] - half) / size[2]) + column.zero;
                from = from < 0 ? 0 : from;
                while (from < column.count && column.offset[from] <= -half) from++;
                int32_t to = (int32_t)floor((receiver[2] + half) / size[2]) + column.zero + 1;
                to = to > column.count ? column.count : to;
                while (to > from && column.offset[to - 1] >= half) to--;
                if (upper[p])
                    while (from < to && column.offset[from]
                                            < -1e-6 * sqrt(flat + column.square[from]))
                        from++;
                if (from >= to) continue;

                const int32_t steps = abs(i) + abs(j), zero = column.zero;
                const int apart = steps == 0 || (steps == 1 && first);
                if (!apart || zero < from || zero >= to) {
                    add_column(&listener, &column, from, to, (float)flat, at_talker, at_microphone,
                               plan);
                    continue;
                }
                /* The direct sound is none of these; a first reflection knows where it happens. */
                add_column(&listener, &column, from, zero, (float)flat, at_talker, at_microphone,
                           plan);
                add_column(&listener, &column, zero + 1, to, (float)flat, at_talker, at_microphone,
                           plan);
                if (steps == 1) {
                    const int wall = i ? i > 0 : 2 + (j > 0);
                    add_column(&listener, &column, zero, zero + 1, (float)flat, at_talker,
                               at_microphone, row8(first, 4 * p + wall));
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

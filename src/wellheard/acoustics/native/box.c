/* Energy image sources of a box, limited by time: the lattice of Allen and Berkley (1979).

   The specification is _respond_numpy in wellheard/acoustics/images_box.py.

   For each image of the plan the column of images above and below it is gone through twice: once
   eight at a time for what is arithmetic (distance, cosines, bin), once one by one for what is
   looked up (patterns, factors). No exponential, sine or cosine is taken for an image. */

#include "arrivals.h"

#include <stdlib.h>

/* Images along one axis for one pair, `count` of them, the source itself at `zero`; the arrays go on
   for eight more that are never used. */
typedef struct {
    int32_t count, zero;
    float start, cell;    /* of the room itself, re the microphone, and 1/length [m, 1/m] */
    const float *offset;  /* image − microphone, rising [m] */
    const float *square;  /* of it */
    const float *talker;  /* its part of distance · cosine at the talker */
    const float *listen;  /* and at the microphone */
    const float *factors; /* (count, 8): reflected */
} Line;

typedef struct {
    int32_t from, to;
} Range;

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

/* Adds a range of images of a column to the bins. */
static inline void add_column(const Listener *listener, const Line *column, Range range, float flat,
                              float talker, float listen, v8 plan)
{
    enum { PART = 64 };
    float weight[PART];
    int32_t at_talker[PART], at_microphone[PART], bin[PART];
    const float closest = (float)(listener->tables->nearest * listener->tables->nearest);
    const float direct = listener->direct, per_bin = listener->per_bin;
    const float half = listener->half_entries, middle = half + 0.5f;
    const int32_t last = listener->tables->bins - 1;

    for (int32_t from = range.from; from < range.to; from += PART) {
        const int32_t part = range.to - from < PART ? range.to - from : PART;
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

/* Lays out the images along one axis that are less than `reach` away from the microphone. `most` and
   `factors`: as box_respond has them. */
static Line lay_line(float *room, int32_t most, double length, double source, double receiver,
                     double facing, double axis, const float *factors, double reach)
{
    /* Image i lies in the i-th copy of the room. */
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
    return (Line){count, -low, (float)receiver, (float)(1.0 / length), offset, square, talker,
                  listen, factors + (int64_t)(low + most) * LANES};
}

/* The images of a line that are less than `half` away: they lie together, for the offsets rise. */
static inline Range within(const Line *line, float half)
{
    int32_t from = (int32_t)floorf((line->start - half) * line->cell) - 1 + line->zero;
    int32_t to = (int32_t)floorf((line->start + half) * line->cell) + 2 + line->zero;
    from = from < 0 ? 0 : from;
    to = to > line->count ? line->count : to;
    while (from < to && line->offset[from] <= -half) from++;
    while (from < to && line->offset[to - 1] >= half) to--;
    return (Range){from, to};
}

/* Without those that arrive from below. */
static inline Range from_above(const Line *line, Range range, float flat)
{
    while (range.from < range.to
           && line->offset[range.from] < -1e-6f * sqrtf(flat + line->square[range.from]))
        range.from++;
    return range;
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

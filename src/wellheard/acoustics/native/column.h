/* Images along one axis, and columns of them: floor and ceiling repeat an image of the plan without
   end.

   A column is gone through twice: once eight at a time for what is arithmetic (distance, cosines,
   bin), once one by one for what is looked up (patterns, factors). No exponential, sine or cosine
   is taken for an image. */

#ifndef WELLHEARD_COLUMN_H
#define WELLHEARD_COLUMN_H

#include "arrivals.h"

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

#endif

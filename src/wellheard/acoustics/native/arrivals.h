/* What the kernels share: lanes, patterns, bins, and how bins become sums and transforms.

   A kernel follows each pair of source and microphone like this:

       v8 bins[tables->bins];                   one row of eight lanes per millisecond
       clear_bins(bins, tables->bins);
       for each arrival but the direct sound    energy re the free field at 1 m, without air
           add_arrival(bins, n, energy);        n = bin_of(tables, distance, direct)
       finish(tables, bins, &pair, energies, modulation);

   The specification is the numpy twin, wellheard/acoustics/arrivals.py, which also makes Tables.

   Every source is compiled once for each kind of machine, with VARIANT set to plain or avx2, and
   the Python side picks by name when it loads the library. So write plain C on v8, name what is
   exported EXPORT … KERNEL(name), and dispatch nothing. Sources that must follow their twin to the
   last bit are listed in hatch_build.py. */

#ifndef WELLHEARD_ARRIVALS_H
#define WELLHEARD_ARRIVALS_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#define JOIN_(a, b) a##_##b
#define JOIN(a, b) JOIN_(a, b)
#define KERNEL(name) JOIN(name, VARIANT)

#if defined(_WIN32)
#define EXPORT __declspec(dllexport)
#else
#define EXPORT __attribute__((visibility("default")))
#endif

/* --- Lanes: the octaves 125 Hz to 8 kHz, and one that stays 0. ----------------------------- */

enum { LANES = 8, OCTAVES = 7, MODULATIONS = 14 };

/* May lie anywhere a float may: arrays from numpy are not aligned to 32 bytes. */
typedef float v8 __attribute__((vector_size(32), aligned(4)));
typedef int32_t i8 __attribute__((vector_size(32), aligned(4)));

static inline v8 all8(float value)
{
    return (v8){value, value, value, value, value, value, value, value};
}

/* Eight numbers in the row-th row of an array of shape (…, 8). */
static inline v8 row8(const float *array, int64_t row)
{
    return *(const v8 *)(array + LANES * row);
}

/* --- Patterns: energy at equally spaced cosines, −1 first, shape (entries, 8). ------------- */

/* The entry nearest to a cosine. It may overshoot ±1 by a rounding error, no more. */
static inline int32_t nearest_entry(float cosine, int32_t entries)
{
    return (int32_t)((cosine + 1.0f) * 0.5f * (float)(entries - 1) + 0.5f);
}

/* --- What all pairs of a call share. The same fields in wellheard/acoustics/arrivals.py. ---- */

typedef struct {
    int32_t bins;           /* from the direct sound to the limit, 1 ms each */
    int32_t early_bins;     /* of which the first so many are early: 50 */
    int32_t tail_rows;      /* rows of `tail` and times of the direct sound that they cover */
    int32_t entries;        /* of each pattern */
    double speed;           /* of sound [m/s] */
    double step;            /* width of a bin [s] */
    double reach;           /* how much farther than the direct sound an image may be [m] */
    double nearest;         /* no distance counts as less [m] */
    double first;           /* time of the direct sound that row 0 of `tail` and `clear` is for,
                               in bins */
    const float *bin_air;   /* (bins, 8): what air leaves from t0 to the middle of each bin */
    const float *turns;     /* (bins, 14, 2): cos and −sin of 2πF(middle of the bin − t0) */
    const float *clear;     /* (tail_rows + bins, 8): share that met no object, in half bins past
                               row: row r is for the time (first + r + ½) bins */
    const float *tail;      /* (tail_rows, 30, 8): early, late, then 14 real and 14 imaginary parts
                               of the transform re the direct sound, all the energy that is in no
                               bin: see late_rows() in arrivals.py */
} Tables;

/* What belongs to one pair. */
typedef struct {
    double direct;          /* distance, held at least at Tables.nearest [m] */
    const float *front_air; /* (8) what air leaves up to the direct sound */
    const float *diffuse;   /* (8) mean of the source's pattern × diffuse efficiency of the
                               microphone: what the tail is multiplied by */
} Pair;

/* The bin of an arrival over `distance` [m]; it must be less than direct + reach. */
static inline int32_t bin_of(const Tables *tables, double distance, double direct)
{
    const int32_t n = (int32_t)((distance - direct) / (tables->speed * tables->step));
    return n < 0 ? 0 : n < tables->bins ? n : tables->bins - 1;
}

static inline void clear_bins(v8 *bins, int32_t count)
{
    memset(bins, 0, sizeof(v8) * (size_t)count);
}

static inline void add_arrival(v8 *bins, int32_t n, v8 energy)
{
    bins[n] += energy;
}

/* --- From bins to sums and transforms. ----------------------------------------------------- */

/* Real and imaginary parts of the modulation frequencies first … first + many − 1; sums of more than
   five at once would not stay in registers. Called with constants. */
static inline __attribute__((always_inline)) void transform(
    const Tables *tables, const v8 *bins, int first, int many, v8 *re, v8 *im)
{
    v8 real[5], imaginary[5];
    for (int f = 0; f < many; f++) real[f] = imaginary[f] = all8(0.0f);
    for (int32_t n = 1; n < tables->bins; n++) {
        const float *turn = tables->turns + (int64_t)(n * MODULATIONS + first) * 2;
        const v8 energy = bins[n];
        for (int f = 0; f < many; f++) {
            real[f] += energy * turn[2 * f];
            imaginary[f] += energy * turn[2 * f + 1];
        }
    }
    for (int f = 0; f < many; f++) {
        re[first + f] = real[f];
        im[first + f] = imaginary[f];
    }
}

/* Overwrites `bins`. energies: (3, 8), joined, early and late. modulation: (14, 7, 2), real and
   imaginary, of early + late; the first bin belongs to the direct sound and is not in it. */
static inline void finish(
    const Tables *tables, v8 *bins, const Pair *pair, float *energies, float *modulation)
{
    const double place = pair->direct / (tables->speed * tables->step) - tables->first;
    int32_t row = (int32_t)place;
    row = row < 0 ? 0 : row < tables->tail_rows - 1 ? row : tables->tail_rows - 2;
    const float next = (float)(place - row), here = 1.0f - next;

    v8 early = all8(0.0f), late = all8(0.0f), re[MODULATIONS], im[MODULATIONS];
    for (int32_t n = 0; n < tables->bins; n++) {
        const v8 clear = here * row8(tables->clear, row + n) + next * row8(tables->clear, row + n + 1);
        bins[n] *= clear * row8(tables->bin_air, n);
        if (n > 0) {
            if (n < tables->early_bins) early += bins[n];
            else late += bins[n];
        }
    }
    transform(tables, bins, 0, 5, re, im);
    transform(tables, bins, 5, 5, re, im);
    transform(tables, bins, 10, 4, re, im);

    const v8 air = row8(pair->front_air, 0), diffuse = row8(pair->diffuse, 0);
    const float *a = tables->tail + (int64_t)row * (2 + 2 * MODULATIONS) * LANES;
    const float *b = a + (2 + 2 * MODULATIONS) * LANES;
    const v8 joined = bins[0] * air;
    early = early * air + diffuse * (here * row8(a, 0) + next * row8(b, 0));
    late = late * air + diffuse * (here * row8(a, 1) + next * row8(b, 1));
    memcpy(energies, &joined, sizeof joined);
    memcpy(energies + LANES, &early, sizeof early);
    memcpy(energies + 2 * LANES, &late, sizeof late);
    for (int f = 0; f < MODULATIONS; f++) {
        const int i = 2 + f, j = 2 + MODULATIONS + f;
        const v8 real = re[f] * air + diffuse * (here * row8(a, i) + next * row8(b, i));
        const v8 imaginary = im[f] * air + diffuse * (here * row8(a, j) + next * row8(b, j));
        for (int octave = 0; octave < OCTAVES; octave++) {
            modulation[(f * OCTAVES + octave) * 2] = real[octave];
            modulation[(f * OCTAVES + octave) * 2 + 1] = imaginary[octave];
        }
    }
}

#endif

/* Rays through an enclosure, from hit to hit.

   The specification is wellheard/acoustics/ray_walk.py. Both do the same operations in the same
   order in double precision, so that their rays never part: no fused products (see hatch_build.py),
   no sine or cosine of a library. */

#include "arrivals.h"

#define TOUCH 1e-9        /* facets.TOUCH */
#define BEHIND 1e-6       /* ray_walk.BEHIND */
#define STALL 1e-6        /* ray_walk.STALL */
#define OFF 2e-9          /* ray_walk.OFF */
enum { STALLS = 64, TRIES = 8, WALL = 7, EDGE = 9, SOLID = 7, FIRST_WALL = 2 };
#define NEVER INT32_MAX

/* The same fields in wellheard/acoustics/rays.py. */
typedef struct {
    double height;
    const double *walls, *patches, *edges, *solids, *scattering, *cells;
    const int32_t *patch_first, *patch_surface, *edge_first, *solid_surface, *cell_first,
        *cell_solids;
    int32_t wall_count, solid_count, columns, rows;
} Facets;

typedef struct {
    double p[3], u[3];
} Ray;

/* What a ray meets next: how far away, whose surface (below 0: it has left the room), the normal
   into the air, and whether it is an object. */
typedef struct {
    double leg, normal[3];
    int32_t surface, object;
} Met;

enum { NOTHING = -1, OUTSIDE = -2, LOST = -1 };

static inline uint64_t mix(uint64_t z)
{
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* The number of a key and a counter, within 0 and 1, both excluded. */
static inline double draw(uint64_t key, uint64_t counter)
{
    const uint64_t bits = mix(key + (counter + 1) * UINT64_C(0x9E3779B97F4A7C15));
    return (double)(bits >> 11) * 0x1p-53 + 0x1p-54;
}

static void lambert(double *u, const double *n, double a, double b)
{
    const double w = b - 0.5, x = 3.14159265358979323846 * w, q = x * x;
    const double half = x * (1.0 - q / 6.0 * (1.0 - q / 20.0 * (1.0 - q / 42.0 * (1.0 - q / 72.0
                       * (1.0 - q / 110.0 * (1.0 - q / 156.0))))));
    const double rest = 1.0 - half * half;
    const double sine = 2.0 * half * sqrt(rest > 0.0 ? rest : 0.0);
    const double cosine = 1.0 - 2.0 * half * half;
    const double r = sqrt(a), up = sqrt(1.0 - a), first = r * cosine, second = r * sine;
    if (n[2] != 0.0) {
        u[0] = first;
        u[1] = second;
        u[2] = up * n[2];
    } else {
        u[0] = up * n[0] - first * n[1];
        u[1] = up * n[1] + first * n[0];
        u[2] = second;
    }
}

static inline void meet(Met *met, double leg, double x, double y, double z, int32_t surface,
                        int32_t object)
{
    met->leg = leg;
    met->normal[0] = x;
    met->normal[1] = y;
    met->normal[2] = z;
    met->surface = surface;
    met->object = object;
}

static int32_t surface_of_wall(const Facets *f, int32_t wall, double along, double z)
{
    for (int32_t k = f->patch_first[wall]; k < f->patch_first[wall + 1]; k++) {
        const double *patch = f->patches + 4 * (int64_t)k;
        if (along >= patch[0] && along <= patch[1] && z >= patch[2] && z <= patch[3])
            return f->patch_surface[k];
    }
    return FIRST_WALL + wall;
}

static void meet_walls(const Facets *f, const Ray *ray, Met *met)
{
    const double px = ray->p[0], py = ray->p[1], ux = ray->u[0], uy = ray->u[1];
    int32_t nearest = NOTHING;
    double best = INFINITY, place = 0.0;
    for (int32_t k = 0; k < f->wall_count; k++) {
        const double *w = f->walls + WALL * (int64_t)k;
        const double towards = ux * w[0] + uy * w[1];
        const double before = px * w[0] + py * w[1] - w[2];
        double leg, reach;
        int front = 0;
        if (towards < 0.0 && before >= -TOUCH) {
            leg = (before > 0.0 ? before : 0.0) / -towards;
            reach = TOUCH;
            front = 1;
        } else if (towards > 0.0 && before < -TOUCH) {
            leg = -before / towards + BEHIND;
            reach = -TOUCH;
        } else
            continue;
        if (leg >= best) continue;
        const double along = w[3] * (px + leg * ux) + w[4] * (py + leg * uy) - w[5];
        if (along < -reach || along > w[6] + reach) continue;
        best = leg;
        place = along;
        nearest = front ? k : OUTSIDE;
    }
    if (nearest >= 0) {
        const double *w = f->walls + WALL * (int64_t)nearest;
        /* The surface is looked up when the ray really gets there. */
        meet(met, best, w[0], w[1], 0.0, FIRST_WALL + nearest, 0);
        const double z = ray->p[2] + best * ray->u[2];
        met->surface = surface_of_wall(f, nearest, place, z);
    } else {
        meet(met, best, 0.0, 0.0, 0.0, nearest, 0);
    }
}

static void meet_floor_or_ceiling(const Facets *f, const Ray *ray, Met *met)
{
    const double pz = ray->p[2], uz = ray->u[2];
    if (uz > 0.0) {
        const double before = f->height - pz, leg = (before > 0.0 ? before : 0.0) / uz;
        if (leg < met->leg) meet(met, leg, 0.0, 0.0, -1.0, 1, 0);
    } else if (uz < 0.0) {
        const double leg = (pz > 0.0 ? pz : 0.0) / -uz;
        if (leg < met->leg) meet(met, leg, 0.0, 0.0, 1.0, 0, 0);
    }
}

static int holds(const Facets *f, int32_t solid, double x, double y)
{
    int inside = 0;
    const int32_t first = f->edge_first[solid], count = f->edge_first[solid + 1] - first;
    const double *edges = f->edges + EDGE * (int64_t)first;
    for (int32_t k = 0; k < count; k++) {
        const double *a = edges + EDGE * k, *b = edges + EDGE * (k + 1 < count ? k + 1 : 0);
        if ((a[8] > y) != (b[8] > y)
            && x < a[7] + (y - a[8]) * ((b[7] - a[7]) / (b[8] - a[8])))
            inside = !inside;
    }
    return inside;
}

/* `whose` is the object already met, whose index decides where two are met at once. */
static void meet_solid(const Facets *f, const Ray *ray, int32_t solid, Met *met, int32_t *whose)
{
    const double *s = f->solids + SOLID * (int64_t)solid;
    const double px = ray->p[0], py = ray->p[1], pz = ray->p[2];
    const double ux = ray->u[0], uy = ray->u[1], uz = ray->u[2];
    const double aside = (s[4] - px) * uy - (s[5] - py) * ux;
    if (aside * aside > s[6] * s[6] * (ux * ux + uy * uy)) return;

    Met own;
    own.leg = INFINITY;
    for (int32_t k = f->edge_first[solid]; k < f->edge_first[solid + 1]; k++) {
        const double *w = f->edges + EDGE * (int64_t)k;
        const double towards = ux * w[0] + uy * w[1];
        const double before = px * w[0] + py * w[1] - w[2];
        if (!(towards < 0.0 && before >= -TOUCH)) continue;
        const double leg = (before > 0.0 ? before : 0.0) / -towards;
        if (leg >= own.leg) continue;
        const double along = w[3] * (px + leg * ux) + w[4] * (py + leg * uy) - w[5];
        const double z = pz + leg * uz;
        if (along < -TOUCH || along > w[6] + TOUCH || z < s[0] - TOUCH || z > s[1] + TOUCH)
            continue;
        meet(&own, leg, w[0], w[1], 0.0, f->solid_surface[solid], 1);
    }
    if (uz < 0.0 && s[3] != 0.0 && pz >= s[1] - TOUCH) {
        const double before = pz - s[1], leg = (before > 0.0 ? before : 0.0) / -uz;
        if (leg < own.leg && holds(f, solid, px + leg * ux, py + leg * uy))
            meet(&own, leg, 0.0, 0.0, 1.0, f->solid_surface[solid], 1);
    } else if (uz > 0.0 && s[2] != 0.0 && pz <= s[0] + TOUCH) {
        const double before = s[0] - pz, leg = (before > 0.0 ? before : 0.0) / uz;
        if (leg < own.leg && holds(f, solid, px + leg * ux, py + leg * uy))
            meet(&own, leg, 0.0, 0.0, -1.0, f->solid_surface[solid], 1);
    }
    if (own.leg < met->leg || (own.leg == met->leg && solid < *whose)) {
        *met = own;
        *whose = solid;
    }
}

/* Narrow the stretch from *low to *high to where low_side <= p + t u <= high_side. */
static inline void clip(double p, double u, double low_side, double high_side, double *low,
                        double *high)
{
    if (u == 0.0) {
        if (p < low_side || p > high_side) *high = -INFINITY;
        return;
    }
    const double a = (low_side - p) / u, b = (high_side - p) / u;
    const double in = a < b ? a : b, out = a < b ? b : a;
    if (in > *low) *low = in;
    if (out < *high) *high = out;
}

/* Which objects are tried, and in what order, changes nothing but the time that it takes. */
static void meet_solids(const Facets *f, const Ray *ray, Met *met)
{
    const double *c = f->cells, side = c[2];
    double low = 0.0, high = met->leg;
    clip(ray->p[2], ray->u[2], c[3] - BEHIND, c[4] + BEHIND, &low, &high);
    clip(ray->p[0], ray->u[0], c[0], c[0] + side * f->columns, &low, &high);
    clip(ray->p[1], ray->u[1], c[1], c[1] + side * f->rows, &low, &high);
    if (low > high) return;

    int32_t cell[2], step[2], whose = -1;
    double next[2], stride[2];
    const int32_t count[2] = {f->columns, f->rows};
    for (int axis = 0; axis < 2; axis++) {
        const double u = ray->u[axis], start = (ray->p[axis] + low * u - c[axis]) / side;
        int32_t at = start > 0.0 ? (int32_t)start : 0;
        cell[axis] = at < count[axis] ? at : count[axis] - 1;
        step[axis] = u > 0.0 ? 1 : -1;
        const double edge = c[axis] + side * (cell[axis] + (u > 0.0));
        next[axis] = u == 0.0 ? INFINITY : (edge - ray->p[axis]) / u;
        stride[axis] = u == 0.0 ? INFINITY : side / fabs(u);
    }
    for (;;) {
        const int32_t here = cell[1] * f->columns + cell[0];
        for (int32_t k = f->cell_first[here]; k < f->cell_first[here + 1]; k++)
            meet_solid(f, ray, f->cell_solids[k], met, &whose);
        const int axis = next[0] <= next[1] ? 0 : 1;
        if (next[axis] > high || next[axis] > met->leg) return;
        cell[axis] += step[axis];
        if (cell[axis] < 0 || cell[axis] >= count[axis]) return;
        next[axis] += stride[axis];
    }
}

static void meet_next(const Facets *f, const Ray *ray, Met *met)
{
    meet_walls(f, ray, met);
    meet_floor_or_ceiling(f, ray, met);
    if (f->solid_count) meet_solids(f, ray, met);
}

/* start, direction: (rays, 3) [m]. Hits of all rays in a row, those of ray i from first[i] to
   first[i + 1]; what does not fit into `capacity` is counted, not stored. Returns their number. */
EXPORT int64_t KERNEL(trace)(const Facets *f, int64_t rays, const double *start,
                             const double *direction, double length, uint64_t seed,
                             int64_t most_hits, int64_t capacity, int64_t *first, float *path,
                             int16_t *surface, float *points, int32_t *scattered, int32_t *object,
                             int64_t *trouble)
{
    int64_t used = 0;
    for (int64_t i = 0; i < rays; i++) {
        const uint64_t key = mix(mix(seed) + (uint64_t)i);
        Ray ray;
        memcpy(ray.p, start + 3 * i, sizeof ray.p);
        memcpy(ray.u, direction + 3 * i, sizeof ray.u);
        double gone = 0.0, normal[3] = {0.0, 0.0, 1.0}, safe[3];
        memcpy(safe, ray.p, sizeof safe);
        int32_t hits = 0, stalls = 0, tries = 0;
        first[i] = used;
        scattered[i] = object[i] = NEVER;
        while (gone < length) {
            Met met;
            meet_next(f, &ray, &met);
            const uint64_t counter = ((uint64_t)tries << 40) + 3 * (uint64_t)hits;
            if (met.surface < 0 && tries < TRIES) { /* turn it back where it was last */
                tries++;
                trouble[0]++;
                memcpy(ray.p, safe, sizeof safe);
                lambert(ray.u, normal, draw(key, counter + 1), draw(key, counter + 2));
                if (scattered[i] == NEVER) scattered[i] = hits - 1;
                continue;
            }
            const int lost = met.surface < 0 || stalls >= STALLS || hits + 1 >= most_hits;
            if (!lost) {
                for (int axis = 0; axis < 3; axis++) {
                    ray.p[axis] += met.leg * ray.u[axis];
                    if (met.leg > 2.0 * BEHIND) safe[axis] = ray.p[axis] - BEHIND * ray.u[axis];
                    ray.p[axis] += OFF * met.normal[axis];
                }
                if (met.surface == 0) ray.p[2] = 0.0;
                if (met.surface == 1) ray.p[2] = f->height;
                gone += met.leg;
                stalls = met.leg < STALL ? stalls + 1 : 0;
                tries = 0;
            }
            if (used < capacity) {
                path[used] = (float)gone;
                surface[used] = (int16_t)(lost ? LOST : met.surface);
                for (int axis = 0; axis < 3; axis++)
                    points[3 * used + axis] = (float)ray.p[axis];
            }
            used++;
            hits++;
            if (lost) {
                trouble[1]++;
                break;
            }
            memcpy(normal, met.normal, sizeof normal);
            const double share = f->scattering[met.surface];
            const int diffuse = share > 0.0 && draw(key, counter) < share;
            if (diffuse) {
                lambert(ray.u, normal, draw(key, counter + 1), draw(key, counter + 2));
            } else if (normal[2] != 0.0) {
                ray.u[2] = -ray.u[2];
            } else {
                const double twice = 2.0 * (ray.u[0] * normal[0] + ray.u[1] * normal[1]);
                ray.u[0] -= twice * normal[0];
                ray.u[1] -= twice * normal[1];
            }
            if (met.object && object[i] == NEVER) object[i] = hits - 1;
            if ((met.object || diffuse) && scattered[i] == NEVER) scattered[i] = hits - 1;
        }
    }
    first[rays] = used;
    return used;
}

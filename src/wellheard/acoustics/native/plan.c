/* Image sources in plans that may be concave: the tree of beams, and the pairs that look into it.

   The specification is the numpy twin: wellheard/acoustics/plan_tree.py for the tree, and
   wellheard/acoustics/images_plan.py for the pairs. */

#include "column.h"

#include <stdlib.h>

static const double NARROW = 1e-12;  /* plan_tree.NARROW */
static const double TOGETHER = 1e-9; /* plan_tree.TOGETHER */

typedef struct { double x, y; } vec;

static inline vec sub(vec a, vec b) { return (vec){a.x - b.x, a.y - b.y}; }
static inline double cross(vec a, vec b) { return a.x * b.y - a.y * b.x; }
static inline double dot(vec a, vec b) { return a.x * b.x + a.y * b.y; }
static inline double norm(vec a) { return sqrt(a.x * a.x + a.y * a.y); }

typedef struct {
    int32_t walls;      /* how many */
    const double *wall; /* (walls, 4) */
    const double *tip;  /* (2): as plan_tree.TIP */
    double *image;      /* (beams, 2), and so on as in PlanTree */
    double *turn;       /* (beams, 2, 2) */
    int32_t *parent, *last, *stop;
    double *planes;     /* (beams, 4, 3) */
    double *nearest;
    double *edges;      /* (beams, 2, 2): right and left, unit vectors */
    int32_t *heap;      /* (beams): those not yet mirrored, the nearest on top */
    int32_t waiting;
    int32_t beams;      /* how many so far */
} Tree;

typedef struct { vec way; double turned; } Corner;

static inline vec wall_start(const Tree *t, int32_t w)
{
    return (vec){t->wall[4 * w], t->wall[4 * w + 1]};
}

static inline vec wall_end(const Tree *t, int32_t w)
{
    return (vec){t->wall[4 * w + 2], t->wall[4 * w + 3]};
}

/* --- The heap of beams. --------------------------------------------------------------------- */

static inline int before(const Tree *t, int32_t a, int32_t b)
{
    return t->nearest[a] < t->nearest[b] || (t->nearest[a] == t->nearest[b] && a < b);
}

static void push(Tree *t, int32_t beam)
{
    int32_t at = t->waiting++;
    while (at > 0 && before(t, beam, t->heap[(at - 1) / 2])) {
        t->heap[at] = t->heap[(at - 1) / 2];
        at = (at - 1) / 2;
    }
    t->heap[at] = beam;
}

static int32_t pop(Tree *t)
{
    const int32_t top = t->heap[0], moved = t->heap[--t->waiting];
    int32_t at = 0;
    for (;;) {
        int32_t child = 2 * at + 1;
        if (child >= t->waiting) break;
        if (child + 1 < t->waiting && before(t, t->heap[child + 1], t->heap[child])) child++;
        if (!before(t, t->heap[child], moved)) break;
        t->heap[at] = t->heap[child];
        at = child;
    }
    t->heap[at] = moved;
    return top;
}

/* --- One beam into parts. -------------------------------------------------------------------- */

/* Grows with the angle from `first`, 0 to 4 for a full turn. */
static inline double turned(vec first, vec way)
{
    const double x = dot(first, way), y = cross(first, way);
    const double size = fabs(x) + fabs(y), share = x / (size > 1e-300 ? size : 1e-300);
    return y >= 0.0 ? 1.0 - share : 3.0 + share;
}

/* Wall whose room side a ray from the image meets first past the last one, or −1. */
static int32_t next_wall(const Tree *t, vec image, int32_t last, vec way)
{
    const double hair = TOGETHER / norm(way);
    double beyond = 0.0, front = INFINITY, back = INFINITY;
    int32_t found = -1;
    if (last >= 0) {
        const vec start = sub(wall_start(t, last), image), end = sub(wall_end(t, last), image);
        const double past = cross(start, end) / (cross(way, end) - cross(way, start));
        if (past > beyond) beyond = past;
    }
    for (int32_t w = 0; w < t->walls; w++) {
        const vec start = sub(wall_start(t, w), image), end = sub(wall_end(t, w), image);
        const double at_start = cross(way, start), at_end = cross(way, end);
        if ((at_start > 0.0) == (at_end > 0.0)) continue;
        const double distance = cross(start, end) / (at_end - at_start);
        if (!(distance > beyond + hair)) continue;
        if (at_end > 0.0) {
            if (distance < front) { front = distance; found = w; }
        } else if (distance < back) {
            back = distance;
        }
    }
    return back < front - hair ? -1 : found;
}

static double share_at(vec edge, vec start, vec along, double when_along)
{
    const double slope = cross(edge, along);
    const double share = slope > 0.0 ? -cross(edge, start) / slope : when_along;
    return share < 0.0 ? 0.0 : share > 1.0 ? 1.0 : share;
}

/* Shortest way from an image to the part of a wall between two edges. */
static double distance_to_stop(const Tree *t, int32_t stop, vec image, vec right, vec left)
{
    const vec start = sub(wall_start(t, stop), image);
    const vec along = sub(wall_end(t, stop), wall_start(t, stop));
    const double from = share_at(right, start, along, 0.0), to = share_at(left, start, along, 1.0);
    const double square = dot(along, along);
    double share = -dot(start, along) / (square > 1e-300 ? square : 1e-300);
    share = share > from ? share : from;
    share = share < to ? share : to;
    return norm((vec){start.x + share * along.x, start.y + share * along.y});
}

static void plane(double *row, vec way, vec point)
{
    row[0] = -way.y;
    row[1] = way.x;
    row[2] = -cross(way, point);
}

static vec unit_along(const Tree *t, int32_t w)
{
    const vec along = sub(wall_end(t, w), wall_start(t, w));
    const double length = norm(along);
    return (vec){along.x / length, along.y / length};
}

static void add_beam(Tree *t, vec image, const double *turn, int32_t parent, int32_t last,
                     vec right, vec left, int32_t stop)
{
    const int32_t i = t->beams++;
    t->image[2 * i] = image.x;
    t->image[2 * i + 1] = image.y;
    memcpy(t->turn + 4 * i, turn, 4 * sizeof(double));
    t->parent[i] = parent;
    t->last[i] = last;
    t->stop[i] = stop;
    t->nearest[i] = distance_to_stop(t, stop, image, right, left);
    memcpy(t->edges + 4 * i, (double[]){right.x, right.y, left.x, left.y}, 4 * sizeof(double));
    double *rows = t->planes + 12 * (int64_t)i;
    const vec tip = {image.x + t->tip[0], image.y + t->tip[1]};
    plane(rows, right, tip);
    plane(rows + 3, (vec){-left.x, -left.y}, tip);
    if (last >= 0) plane(rows + 6, unit_along(t, last), wall_start(t, last));
    else memset(rows + 6, 0, 3 * sizeof(double));
    plane(rows + 9, unit_along(t, stop), wall_start(t, stop));
    push(t, i);
}

/* All parts of a beam by the wall that each meets next; edges is 0 for the root. */
static void split(Tree *t, vec image, const double *turn, int32_t parent, int32_t last,
                  const vec *edges, Corner *corners)
{
    const vec first = edges ? edges[0] : (vec){1.0, 0.0};
    const vec wall = last >= 0 ? wall_start(t, last) : image;
    const vec along = last >= 0 ? unit_along(t, last) : first;
    int32_t count = 0;
    for (int32_t w = 0; w < t->walls; w++) {
        const vec corner = wall_start(t, w), way = sub(corner, image);
        const double distance = norm(way);
        if (distance <= TOGETHER) continue;
        if (edges) {
            if (cross(edges[0], way) <= NARROW * distance) continue;
            if (cross(way, edges[1]) <= NARROW * distance) continue;
            if (cross(along, sub(corner, wall)) <= -TOGETHER) continue;
        }
        const vec unit = {way.x / distance, way.y / distance};
        const double angle = turned(first, unit);
        int32_t at = count++;
        for (; at > 0 && corners[at - 1].turned > angle; at--) corners[at] = corners[at - 1];
        corners[at] = (Corner){unit, angle};
    }
    if (!edges && count == 0) return;
    corners[count].way = edges ? edges[1] : corners[0].way;
    vec right = edges ? edges[0] : corners[0].way, from = right;
    int32_t stop = -1;
    for (int32_t i = edges ? 0 : 1; i <= count; i++) {
        const vec left = corners[i].way;
        if (cross(right, left) <= NARROW) continue;
        const int32_t met = next_wall(t, image, last, (vec){right.x + left.x, right.y + left.y});
        if (met != stop) {
            if (stop >= 0) add_beam(t, image, turn, parent, last, from, right, stop);
            from = right;
            stop = met;
        }
        right = left;
    }
    if (stop >= 0) add_beam(t, image, turn, parent, last, from, right, stop);
}

static void mirror(Tree *t, int32_t beam, Corner *corners)
{
    const vec along = unit_along(t, t->stop[beam]), start = wall_start(t, t->stop[beam]);
    const double flip[4] = {
        2.0 * along.x * along.x - 1.0, 2.0 * along.x * along.y,
        2.0 * along.x * along.y, 2.0 * along.y * along.y - 1.0};
    const vec old = {t->image[2 * beam] - start.x, t->image[2 * beam + 1] - start.y};
    const vec image = {
        start.x + flip[0] * old.x + flip[1] * old.y, start.y + flip[2] * old.x + flip[3] * old.y};
    const double *e = t->edges + 4 * beam, *m = t->turn + 4 * beam;
    /* What was left is right behind a mirror. */
    const vec edges[2] = {
        {flip[0] * e[2] + flip[1] * e[3], flip[2] * e[2] + flip[3] * e[3]},
        {flip[0] * e[0] + flip[1] * e[1], flip[2] * e[0] + flip[3] * e[1]}};
    const double turn[4] = {
        flip[0] * m[0] + flip[1] * m[2], flip[0] * m[1] + flip[1] * m[3],
        flip[2] * m[0] + flip[3] * m[2], flip[2] * m[1] + flip[3] * m[3]};
    split(t, image, turn, beam, t->stop[beam], edges, corners);
}

/* Grows the tree and returns how many beams it has, −1 without memory. It stops with `most` beams
   or a few more: there must be room for most + walls + 1. */
EXPORT int32_t KERNEL(plan_tree)(
    const double *walls, int32_t wall_count, const double *root, const double *tip, double reach,
    int32_t most,
    double *image, double *turn, int32_t *parent, int32_t *last, int32_t *stop, double *planes,
    double *nearest, double *complete_to)
{
    const int64_t room = (int64_t)most + wall_count + 1;
    Tree tree = {
        .walls = wall_count, .wall = walls, .tip = tip,
        .image = image, .turn = turn, .parent = parent, .last = last, .stop = stop,
        .planes = planes, .nearest = nearest};
    Corner *corners = malloc(sizeof(Corner) * (size_t)(wall_count + 1));
    tree.edges = malloc(sizeof(double) * 4 * (size_t)room);
    tree.heap = malloc(sizeof(int32_t) * (size_t)room);
    int32_t count = -1;
    if (corners && tree.edges && tree.heap) {
        const double upright[4] = {1.0, 0.0, 0.0, 1.0};
        split(&tree, (vec){root[0], root[1]}, upright, -1, -1, 0, corners);
        *complete_to = reach;
        while (tree.waiting && tree.nearest[tree.heap[0]] <= reach) {
            if (tree.beams >= most) {
                *complete_to = tree.nearest[tree.heap[0]];
                break;
            }
            mirror(&tree, pop(&tree), corners);
        }
        count = tree.beams;
    }
    free(corners);
    free(tree.edges);
    free(tree.heap);
    return count;
}

/* --- Pairs. ---------------------------------------------------------------------------------- */

/* The images of all roots, one tree after another, B beams in all. */
typedef struct {
    int64_t beams;
    const int64_t *first;    /* (trees + 1): where each tree begins */
    const int64_t *parent;   /* (B), −1 for none, counted through all trees */
    const int32_t *last;     /* (B) */
    const double *image;     /* (2, B) */
    const double *turn;      /* (B, 2, 2) */
    const double *planes;    /* (4, 3, B) */
    const double *bound;     /* (B): no way through the beam is shorter; rises in each tree */
} Forest;

/* Walls, and the rectangles on them that have a surface of their own. */
typedef struct {
    const double *wall;      /* (walls, 4) */
    const float *mean;       /* (walls, 8): what each reflects in the mean */
    const float *bare;       /* (walls, 8): where no patch is */
    int32_t patches;
    const int32_t *on;       /* (patches): wall */
    const double *rectangle; /* (patches, 4): start, end, bottom, top */
    const float *own;        /* (patches, 8) */
} Walls;

enum { CHUNK = 64 };

/* Marks which of up to 64 beams show their image at x, y nearer than √far. */
static inline void look(const Forest *forest, int64_t begin, int32_t count, double x, double y,
                        double far, int32_t *seen)
{
    const int64_t all = forest->beams;
    const double *row = forest->planes + begin;
    const double *image_x = forest->image + begin, *image_y = image_x + all;
    double worst[CHUNK];
    for (int32_t k = 0; k < count; k++) {
        const double dx = image_x[k] - x, dy = image_y[k] - y;
        worst[k] = far - dx * dx - dy * dy;
    }
    for (int plane = 0; plane < 4; plane++, row += 3 * all)
        for (int32_t k = 0; k < count; k++) {
            const double above = row[k] * x + row[k + all] * y + row[k + 2 * all];
            worst[k] = above < worst[k] ? above : worst[k];
        }
    for (int32_t k = 0; k < count; k++) seen[k] = worst[k] >= 0.0;
}

/* What the wall of a single reflection leaves at the place where it meets it. */
static v8 left_at(const Walls *walls, int32_t wall, const double *root, const double *image,
                  const double *here)
{
    const double *w = walls->wall + 4 * wall;
    const vec along = {w[2] - w[0], w[3] - w[1]};
    const double length = norm(along);
    const double near = cross(along, (vec){here[0] - w[0], here[1] - w[1]});
    const double behind = -cross(along, (vec){image[0] - w[0], image[1] - w[1]});
    const double share = near / (near + behind);
    const vec met = {here[0] + share * (image[0] - here[0]) - w[0],
                     here[1] + share * (image[1] - here[1]) - w[1]};
    const double s = dot(met, along) / length, z = here[2] + share * (root[2] - here[2]);
    for (int32_t p = walls->patches - 1; p >= 0; p--) {
        const double *r = walls->rectangle + 4 * p;
        if (walls->on[p] == wall && s >= r[0] && s <= r[1] && z >= r[2] && z <= r[3])
            return row8(walls->own, p);
    }
    return row8(walls->bare, wall);
}

/* What the walls of each beam have left, and of those with a single wall which it is; −1 for
   more, −2 for none. */
static void trace_back(const Forest *forest, const Walls *walls, v8 *left, int32_t *single)
{
    for (int64_t b = 0; b < forest->beams; b++) {
        const int64_t parent = forest->parent[b];
        left[b] = parent < 0 ? all8(1.0f) : left[parent] * row8(walls->mean, forest->last[b]);
        single[b] = parent < 0 ? -2 : single[parent] == -2 ? forest->last[b] : -1;
    }
}

/* count pairs as in box_respond. trees (count): which tree is that of the pair's root, which is the
   source or the microphone, as rooted_at_source says. most, factors (2·most + 1, 8): images in
   floor and ceiling, −most … most, and what they reflect; factors_above: without those that arrive
   at a root from below. Returns 1 if memory ran out, else 0. */
EXPORT int32_t KERNEL(plan_respond)(
    const Tables *tables, int64_t count, const int64_t *rows, const int64_t *columns,
    const int64_t *patterns, int32_t rooted_at_source, const int64_t *trees, const Forest *forest,
    const Walls *walls, double height, int32_t most, const float *factors,
    const float *factors_above, const double *sources, const double *facings, const float *talker,
    const double *receivers, const double *axes, const float *microphones, const float *diffuse,
    const uint8_t *upper, const double *direct, const float *front_air, float *energies,
    float *modulation)
{
    float *room = malloc(4 * (size_t)(2 * most + 1 + LANES) * sizeof(float));
    v8 *bins = malloc((size_t)tables->bins * sizeof(v8));
    v8 *left = malloc((size_t)(forest->beams + 1) * sizeof(v8));
    int32_t *single = malloc((size_t)(forest->beams + 1) * sizeof(int32_t));
    const int enough = room && bins && left && single;
    if (enough) trace_back(forest, walls, left, single);
    for (int64_t p = 0; enough && p < count; p++) {
        const double *source = sources + 3 * rows[p], *facing = facings + 3 * rows[p];
        const double *receiver = receivers + 3 * columns[p], *axis = axes + 3 * p;
        const float *pattern = microphones + patterns[p] * tables->entries * LANES;
        const double *root = rooted_at_source ? source : receiver;
        const double *here = rooted_at_source ? receiver : source;
        const double *out = rooted_at_source ? facing : axis;
        const double *in = rooted_at_source ? axis : facing;
        const double reach = direct[p] + tables->reach, far = reach * reach;
        const Listener listener = {
            tables,
            rooted_at_source ? talker : pattern,
            rooted_at_source ? pattern : talker,
            (float)direct[p],
            (float)(1.0 / (tables->speed * tables->step)),
            0.5f * (float)(tables->entries - 1),
            bins,
        };
        const int root_above = upper[p] && !rooted_at_source;
        const int here_above = upper[p] && rooted_at_source;
        const Line column = lay_line(room, most, height, root[2], here[2], out[2], in[2],
                                     root_above ? factors_above : factors, reach);
        clear_bins(bins, tables->bins);
        const int64_t end = forest->first[trees[p] + 1];
        for (int64_t begin = forest->first[trees[p]]; begin < end; begin += CHUNK) {
            if (forest->bound[begin] >= reach) break;
            int32_t seen[CHUNK];
            const int32_t some = end - begin < CHUNK ? (int32_t)(end - begin) : CHUNK;
            look(forest, begin, some, here[0], here[1], far, seen);
            for (int32_t k = 0; k < some; k++) {
                if (!seen[k]) continue;
                const int64_t b = begin + k;
                const double image[2] = {forest->image[b], forest->image[b + forest->beams]};
                const double dx = image[0] - here[0], dy = image[1] - here[1];
                const float flat = (float)(dx * dx + dy * dy);
                if (flat >= (float)far) continue;
                const double *m = forest->turn + 4 * b;
                const float leaves = (float)-((m[0] * out[0] + m[1] * out[1]) * dx
                                              + (m[2] * out[0] + m[3] * out[1]) * dy);
                const float meets = (float)(in[0] * dx + in[1] * dy);
                Range range = within(&column, sqrtf((float)far - flat));
                if (here_above) range = from_above(&column, range, flat);
                const int32_t zero = column.zero;
                const int apart = (single[b] == -2 || (single[b] >= 0 && walls->patches)
                                   || root_above)
                                  && range.from <= zero && zero < range.to;
                if (!apart) {
                    add_column(&listener, &column, range, flat, leaves, meets, left[b]);
                    continue;
                }
                const Range below = {range.from, zero}, above = {zero + 1, range.to};
                add_column(&listener, &column, below, flat, leaves, meets, left[b]);
                add_column(&listener, &column, above, flat, leaves, meets, left[b]);
                /* The direct sound is none of these. */
                if (single[b] == -2) continue;
                if (root_above
                    && column.offset[zero] > 1e-6f * sqrtf(flat + column.square[zero]))
                    continue;
                add_column(&listener, &column, (Range){zero, zero + 1}, flat, leaves, meets,
                           single[b] >= 0 && walls->patches
                               ? left_at(walls, single[b], root, image, here)
                               : left[b]);
            }
        }
        const Pair pair = {direct[p], front_air + LANES * p, diffuse + LANES * patterns[p]};
        finish(tables, bins, &pair, energies + 3 * LANES * p,
               modulation + 2 * MODULATIONS * OCTAVES * p);
    }
    free(room);
    free(bins);
    free(left);
    free(single);
    return !enough;
}

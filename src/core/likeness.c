/* likeness: owns the search for the edges at which two pictures agree best. Sums over everything above and left of a point make
 * the average of any area four look-ups, so a window costs the same wherever its edges lie. */
#include "core/likeness.h"

#include <math.h>
#include <stddef.h>

enum { SIDE_MAX = 64, EDGES = 4, COARSE = 16, MIDDLE = 32, FINE = 64 };

/* How much is cut off at left, right, top, bottom, as a share of the side: above 0 off picture a, below 0 off picture b. */
struct edges {
    double at[EDGES];
};

enum err likeness_of_grey(const struct photohash_grey *grey, struct likeness_picture *ret)
{
    return photohash_resize(grey, LIKENESS_SIDE, LIKENESS_SIDE, ret->grey);
}

static void add_up(const struct likeness_picture *p, bool is_mirrored,
                   uint32_t sums[LIKENESS_SIDE + 1][LIKENESS_SIDE + 1])
{
    for (int x = 0; x <= LIKENESS_SIDE; x++)
        sums[0][x] = 0;
    for (int y = 0; y < LIKENESS_SIDE; y++) {
        const uint8_t *row = p->grey + (size_t)y * LIKENESS_SIDE;
        uint32_t sum = 0;
        sums[y + 1][0] = 0;
        for (int x = 0; x < LIKENESS_SIDE; x++) {
            sum += row[is_mirrored ? LIKENESS_SIDE - 1 - x : x];
            sums[y + 1][x + 1] = sums[y][x + 1] + sum;
        }
    }
}

/* Where the line i of `side` equal parts of a window lies: whole areas and the rest of one. */
struct line {
    int whole;
    double rest;
};

static void draw_lines(double begin, double end, int side, struct line *ret)
{
    for (int i = 0; i <= side; i++) {
        double at = (begin + (end - begin) * i / side) * LIKENESS_SIDE;
        at = at < 0 ? 0 : at > LIKENESS_SIDE ? LIKENESS_SIDE : at;
        int whole = (int)at;
        whole = whole == LIKENESS_SIDE ? whole - 1 : whole;
        ret[i] = (struct line){whole, at - whole};
    }
}

/* Everything above and left of a point between the lines, as if each area were even. */
static double corner(const uint32_t sums[LIKENESS_SIDE + 1][LIKENESS_SIDE + 1], struct line x,
                     struct line y)
{
    const uint32_t *above = sums[y.whole] + x.whole, *below = sums[y.whole + 1] + x.whole;
    const double upper = (double)above[0] + x.rest * (double)(above[1] - above[0]);
    const double lower = (double)below[0] + x.rest * (double)(below[1] - below[0]);
    return upper + y.rest * (lower - upper);
}

/* The sums of side x side equal areas of the window; their common size is no matter to a correlation. */
static void cut_up(const uint32_t sums[LIKENESS_SIDE + 1][LIKENESS_SIDE + 1],
                   const double off[EDGES], int side, double *ret)
{
    struct line x[SIDE_MAX + 1], y[SIDE_MAX + 1];
    double above[SIDE_MAX + 1];
    draw_lines(off[0], 1.0 - off[1], side, x);
    draw_lines(off[2], 1.0 - off[3], side, y);
    for (int i = 0; i <= side; i++)
        above[i] = corner(sums, x[i], y[0]);
    for (int k = 0; k < side; k++) {
        double left = corner(sums, x[0], y[k + 1]), left_above = above[0];
        above[0] = left;
        for (int i = 0; i < side; i++) {
            const double right = corner(sums, x[i + 1], y[k + 1]);
            *ret++ = right - left - above[i + 1] + left_above;
            left_above = above[i + 1];
            above[i + 1] = left = right;
        }
    }
}

static double correlation(const double *a, const double *b, int n)
{
    double mean_a = 0, mean_b = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < n; i++) {
        mean_a += a[i];
        mean_b += b[i];
    }
    mean_a /= n;
    mean_b /= n;
    for (int i = 0; i < n; i++) {
        const double da = a[i] - mean_a, db = b[i] - mean_b;
        aa += da * da;
        bb += db * db;
        ab += da * db;
    }
    /* An even picture's areas differ by rounding alone, about 1e-9 of a grey level. */
    const double rounding = 1e-12 * n;
    if (!(aa > rounding * (1 + mean_a * mean_a)) || !(bb > rounding * (1 + mean_b * mean_b)) ||
        !(ab > 0))
        return 0;
    const double r = ab / sqrt(aa * bb);
    return r < 1 ? r : 1;
}

static double score(struct likeness_work *w, const struct edges *e, int side)
{
    double off[2][EDGES];
    for (int i = 0; i < EDGES; i++) {
        off[0][i] = e->at[i] > 0 ? e->at[i] : 0;
        off[1][i] = e->at[i] < 0 ? -e->at[i] : 0;
    }
    for (int p = 0; p < 2; p++)
        cut_up((const uint32_t(*)[LIKENESS_SIDE + 1]) w->sums[p], off[p], side, w->areas[p]);
    return correlation(w->areas[0], w->areas[1], side * side);
}

/* Moves the edges `first` and first + 1 by up to `reach` steps each; keeps the best. */
static double better(struct likeness_work *w, struct edges *e, int first, int side, int reach,
                     double step, double best)
{
    const struct edges from = *e;
    for (int i = -reach; i <= reach; i++)
        for (int k = -reach; k <= reach; k++) {
            struct edges to = from;
            to.at[first] += i * step;
            to.at[first + 1] += k * step;
            if ((i == 0 && k == 0) || fabs(to.at[first]) > LIKENESS_CROP_MAX + 1e-9 ||
                fabs(to.at[first + 1]) > LIKENESS_CROP_MAX + 1e-9)
                continue;
            const double r = score(w, &to, side);
            if (r > best) {
                best = r;
                *e = to;
            }
        }
    return best;
}

static double search(struct likeness_work *w)
{
    /* Coarse areas forgive being off by half of one; each finer look starts where the last one ended. */
    static const struct {
        int side, reach;
        double step;
    } looks[] = {{COARSE, 2, 0.03},
                 {COARSE, 1, 0.015},
                 {MIDDLE, 1, 0.01},
                 {MIDDLE, 1, 0.005},
                 {FINE, 1, 0.0025}};
    struct edges e = {{0}};
    for (size_t k = 0; k < sizeof looks / sizeof *looks; k++) {
        double best = score(w, &e, looks[k].side);
        for (int again = 0; again < 2; again++)
            for (int first = 0; first < EDGES; first += 2)
                best = better(w, &e, first, looks[k].side, looks[k].reach, looks[k].step, best);
    }
    return score(w, &e, FINE);
}

double likeness_at(const struct likeness_picture *a, const struct likeness_picture *b, int side,
                   struct likeness_work *work)
{
    const struct edges none = {{0}};
    if (side < 2 || side > SIDE_MAX)
        return 0;
    add_up(a, false, work->sums[0]);
    add_up(b, false, work->sums[1]);
    return score(work, &none, side);
}

double likeness(const struct likeness_picture *a, const struct likeness_picture *b,
                struct likeness_work *work, bool *ret_mirrored)
{
    add_up(a, false, work->sums[0]);
    add_up(b, false, work->sums[1]);
    const double plain = search(work);
    double mirrored = 0;
    if (plain < LIKENESS_CLEAR) {
        add_up(b, true, work->sums[1]);
        mirrored = search(work);
    }
    if (ret_mirrored != NULL)
        *ret_mirrored = mirrored > plain;
    return mirrored > plain ? mirrored : plain;
}

/* window: owns the scan and its draws. The method is in the header. */
#include "stat/window.h"

#include "stat/chance.h"

#include <assert.h>
#include <math.h>
#include <string.h>

enum { LEAF = 8, STACK = 256, CHANCE_REACH = 1, CHANCE_DROPS = 2 };

double window_ratio(int64_t c, int64_t n_cases, double exposure, double all)
{
    const double expected = (double)n_cases * (exposure / all), n = (double)c;
    if (n <= expected)
        return 0;
    double llr = n * log(n / expected);
    if (c < n_cases)
        llr += (double)(n_cases - c) * log((double)(n_cases - c) / ((double)n_cases - expected));
    return llr > 0 ? llr : 0;
}

/* ---- filling ----------------------------------------------------------------------------------- */

void window_take(struct window *w, double exposure, int64_t cases)
{
    assert(exposure > 0 && cases >= 0);
    if (w->n_parts == 0)
        window_part(w);
    w->sum[w->n + 1] = w->sum[w->n] + exposure;
    w->cases[w->n] = cases;
    w->n_cases += cases;
    w->part[w->n_parts] = ++w->n;
}

void window_part(struct window *w)
{
    if (w->n_parts > 0 && w->part[w->n_parts - 1] == w->n)
        return;
    assert(w->n_parts < WINDOW_PARTS_MAX);
    w->part[w->n_parts++] = w->n;
    w->part[w->n_parts] = w->n;
}

/* ---- only days with failures ------------------------------------------------------------------- */

/* Days first..after-1 with cases, into work; how many. */
static size_t pick(const struct window *w, const int64_t *cases, size_t first, size_t after,
                   struct window_work *work)
{
    size_t n = 0;
    int64_t sum = 0;
    for (size_t i = first; i < after; i++) {
        if (cases[i] == 0)
            continue;
        work->begin[n] = w->sum[i];
        work->end[n] = w->sum[i + 1];
        work->before[n++] = sum;
        sum += cases[i];
    }
    work->before[n] = sum;
    return n;
}

/* Runs that begin at i0..i1-1 and end at j0..j1-1, i <= j. */
struct block {
    size_t i0, i1, j0, j1;
};

/* The largest count and (a bound from below for) the smallest exposure of a block's runs; false when it holds none. */
static bool bound(const struct window_work *work, struct block *b, int64_t *ret_cases,
                  double *ret_exposure)
{
    if (b->j0 < b->i0)
        b->j0 = b->i0;
    if (b->i1 > b->j1)
        b->i1 = b->j1;
    if (b->i0 >= b->i1 || b->j0 >= b->j1)
        return false;
    *ret_cases = work->before[b->j1] - work->before[b->i0];
    const double gap = work->end[b->j0] - work->begin[b->i1 - 1];
    *ret_exposure = gap > 0 ? gap : 0;
    return true;
}

/* The longer side cut in two: the nearer half is looked at first. */
static void split(const struct block *b, struct block *ret_near, struct block *ret_far)
{
    *ret_near = *ret_far = *b;
    if (b->i1 - b->i0 > b->j1 - b->j0) {
        const size_t mid = b->i0 + (b->i1 - b->i0) / 2;
        ret_far->i1 = ret_near->i0 = mid;
    } else {
        const size_t mid = b->j0 + (b->j1 - b->j0) / 2;
        ret_near->j1 = ret_far->j0 = mid;
    }
}

static bool is_leaf(const struct block *b)
{
    return b->i1 - b->i0 <= LEAF && b->j1 - b->j0 <= LEAF;
}

/* ---- the best run ------------------------------------------------------------------------------ */

struct best {
    double llr;
    size_t i, j;
};

static double ratio_of(const struct window *w, const struct window_work *work, size_t i, size_t j)
{
    return window_ratio(work->before[j + 1] - work->before[i], w->n_cases,
                        work->end[j] - work->begin[i], w->sum[w->n]);
}

static void look_leaf(const struct window *w, const struct window_work *work, const struct block *b,
                      struct best *best)
{
    for (size_t i = b->i0; i < b->i1; i++)
        for (size_t j = b->j0 > i ? b->j0 : i; j < b->j1; j++) {
            const double llr = ratio_of(w, work, i, j);
            const bool is_tie = llr == best->llr && llr > 0;
            if (llr > best->llr || (is_tie && (i < best->i || (i == best->i && j < best->j))))
                *best = (struct best){llr, i, j};
        }
}

/* The best over n picked days, better than (or as good as and earlier than) *best. */
static void look(const struct window *w, const struct window_work *work, size_t n,
                 struct best *best)
{
    struct block stack[STACK];
    size_t depth = 0;
    if (n > 0)
        stack[depth++] = (struct block){0, n, 0, n};
    while (depth > 0) {
        struct block b = stack[--depth];
        int64_t cases = 0;
        double exposure = 0;
        if (!bound(work, &b, &cases, &exposure))
            continue;
        if (exposure > 0 && window_ratio(cases, w->n_cases, exposure, w->sum[w->n]) <
                                best->llr * (1 - WINDOW_TOLERANCE))
            continue;
        if (is_leaf(&b)) {
            look_leaf(w, work, &b, best);
            continue;
        }
        assert(depth + 2 <= STACK);
        split(&b, &stack[depth + 1], &stack[depth]);
        depth += 2;
    }
}

/* The day of the part that was picked as number i. */
static size_t day_of(const struct window *w, size_t first, size_t i)
{
    for (size_t day = first;; day++)
        if (w->cases[day] > 0 && i-- == 0)
            return day;
}

void window_best(const struct window *w, struct window_work *work, struct window_run *ret)
{
    const double all = w->sum[w->n];
    *ret = (struct window_run){0};
    for (size_t k = 0; k < w->n_parts; k++) {
        struct best best = {ret->llr, SIZE_MAX, SIZE_MAX};
        const size_t n = pick(w, w->cases, w->part[k], w->part[k + 1], work);
        look(w, work, n, &best);
        if (best.i == SIZE_MAX || !(best.llr > ret->llr))
            continue;
        ret->first = day_of(w, w->part[k], best.i);
        ret->last = day_of(w, w->part[k], best.j);
        ret->cases = work->before[best.j + 1] - work->before[best.i];
        ret->exposure = work->end[best.j] - work->begin[best.i];
        ret->expected = (double)w->n_cases * (ret->exposure / all);
        ret->llr = best.llr;
    }
}

/* ---- draws ------------------------------------------------------------------------------------- */

void window_limits(const struct window *w, double mark, double *limit)
{
    const double all = w->sum[w->n], least = mark * (1 - WINDOW_TOLERANCE);
    double low = 0; /* what a smaller count allows, this one allows too */
    limit[0] = -1;
    for (int64_t c = 1; c <= w->n_cases; c++) {
        double high = all * ((double)c / (double)w->n_cases); /* ratio 0 < least */
        double reach = low;
        /* Down to neighbouring doubles, so that the comparison is that of the ratios themselves. */
        while (true) {
            const double mid = reach + (high - reach) / 2;
            if (!(mid > reach && mid < high))
                break;
            if (window_ratio(c, w->n_cases, mid, all) >= least)
                reach = mid;
            else
                high = mid;
        }
        limit[c] = reach > 0 ? reach : -1;
        low = reach;
    }
}

void window_dice(struct window_dice *dice, const double *sum, size_t n)
{
    dice->sum = sum;
    size_t day = 0;
    for (size_t g = 0; g <= WINDOW_GUIDE; g++) {
        while (day + 1 < n && sum[day + 1] <= sum[n] * ((double)g / WINDOW_GUIDE))
            day++;
        dice->guide[g] = (uint32_t)day;
    }
}

/* Lays the failures on the days. */
static void throw_all(const struct window *w, const struct window_dice *dice, struct chance *chance,
                      int64_t *drawn)
{
    const double *sum = dice->sum;
    const double unit = sum[w->n] * 0x1p-53;
    for (int64_t c = 0; c < w->n_cases; c++) {
        const uint64_t bits = chance_bits(chance) >> 11;
        const double at = (double)bits * unit;
        size_t day = dice->guide[bits >> 41]; /* 53 - 41 = 12 bits, WINDOW_GUIDE of them */
        while (day + 1 < w->n && sum[day + 1] <= at)
            day++;
        drawn[day]++;
    }
}

static bool leaf_reaches(const struct window_work *work, const double *limit, const struct block *b)
{
    for (size_t i = b->i0; i < b->i1; i++)
        for (size_t j = b->j0 > i ? b->j0 : i; j < b->j1; j++)
            if (work->end[j] - work->begin[i] <= limit[work->before[j + 1] - work->before[i]])
                return true;
    return false;
}

static bool part_reaches(const struct window_work *work, size_t n, const double *limit)
{
    struct block stack[STACK];
    size_t depth = 0;
    if (n > 0)
        stack[depth++] = (struct block){0, n, 0, n};
    while (depth > 0) {
        struct block b = stack[--depth];
        int64_t cases = 0;
        double exposure = 0;
        if (!bound(work, &b, &cases, &exposure) || exposure > limit[cases])
            continue;
        if (is_leaf(&b)) {
            if (leaf_reaches(work, limit, &b))
                return true;
            continue;
        }
        assert(depth + 2 <= STACK);
        split(&b, &stack[depth + 1], &stack[depth]);
        depth += 2;
    }
    return false;
}

size_t window_reach(const struct window *w, const struct window_dice *dice, const double *limit,
                    uint64_t seed, uint64_t from, uint64_t to, struct window_work *work)
{
    size_t n_reach = 0;
    for (uint64_t draw = from; draw < to; draw++) {
        struct chance chance;
        chance_start(&chance, seed, CHANCE_REACH, draw);
        memset(work->drawn, 0, w->n * sizeof *work->drawn);
        throw_all(w, dice, &chance, work->drawn);
        bool is_there = false;
        for (size_t k = 0; k < w->n_parts && !is_there; k++) {
            const size_t n = pick(w, work->drawn, w->part[k], w->part[k + 1], work);
            is_there = part_reaches(work, n, limit);
        }
        n_reach += is_there;
    }
    return n_reach;
}

/* ---- how sure the ends are --------------------------------------------------------------------- */

void window_weigh(const struct window *w, const struct window_run *run, double *ret_sum)
{
    const double outside = w->sum[w->n] - run->exposure;
    const double rate_in = (double)run->cases / run->exposure;
    const double rate_out = outside > 0 ? (double)(w->n_cases - run->cases) / outside : 0;
    ret_sum[0] = 0;
    for (size_t i = 0; i < w->n; i++) {
        const double rate = i >= run->first && i <= run->last ? rate_in : rate_out;
        ret_sum[i + 1] = ret_sum[i] + rate * (w->sum[i + 1] - w->sum[i]);
    }
}

void window_drops(const struct window *w, const struct window_dice *dice,
                  const struct window_run *run, uint64_t seed, uint64_t from, uint64_t to,
                  struct window_work *work, double *ret)
{
    for (uint64_t draw = from; draw < to; draw++) {
        struct chance chance;
        int64_t inside = 0;
        chance_start(&chance, seed, CHANCE_DROPS, draw);
        memset(work->drawn, 0, w->n * sizeof *work->drawn);
        throw_all(w, dice, &chance, work->drawn);
        for (size_t i = run->first; i <= run->last; i++)
            inside += work->drawn[i];
        const double own = window_ratio(inside, w->n_cases, run->exposure, w->sum[w->n]);
        struct best best = {own, SIZE_MAX, SIZE_MAX};
        for (size_t k = 0; k < w->n_parts; k++)
            look(w, work, pick(w, work->drawn, w->part[k], w->part[k + 1], work), &best);
        ret[draw - from] = best.llr - own;
    }
}

static size_t part_of(const struct window *w, size_t day)
{
    size_t k = 0;
    while (w->part[k + 1] <= day)
        k++;
    return k;
}

void window_within(const struct window *w, const struct window_run *run, double drop,
                   struct window_set *ret, double *ret_share)
{
    const size_t k = part_of(w, run->first), from = w->part[k], after = w->part[k + 1];
    const double least = run->llr - drop - run->llr * WINDOW_TOLERANCE;
    struct window_set set = {after, 0, after, 0, 0};
    double all = 0;
    for (size_t i = 0; i < w->n; i++)
        ret_share[i] = 0;
    for (size_t i = from; i < after; i++) {
        int64_t cases = 0;
        double here = 0; /* of the runs that begin on day i */
        for (size_t j = i; j < after; j++) {
            cases += w->cases[j];
            const double llr =
                window_ratio(cases, w->n_cases, w->sum[j + 1] - w->sum[i], w->sum[w->n]);
            const double weight = exp(llr - run->llr);
            here += weight;
            if (j + 1 < after)
                ret_share[j + 1] -= weight; /* no longer in the run: summed up below */
            if (llr < least)
                continue;
            set.n++;
            set.first_low = i < set.first_low ? i : set.first_low;
            set.first_high = i > set.first_high ? i : set.first_high;
            set.last_low = j < set.last_low ? j : set.last_low;
            set.last_high = j > set.last_high ? j : set.last_high;
        }
        ret_share[i] += here;
        all += here;
    }
    double sum = 0;
    for (size_t i = from; i < after; i++) {
        sum += ret_share[i];
        ret_share[i] = sum < 0 ? 0 : sum > all ? 1 : sum / all;
    }
    *ret = set;
}

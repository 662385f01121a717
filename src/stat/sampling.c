/* sampling: owns the hypergeometric distribution and the search for plans. */
#include "stat/sampling.h"

#include "stat/special.h"

#include <assert.h>
#include <math.h>
#include <stddef.h>

struct urn {
    int64_t n, bad, lot;
};

/* P(x + 1)/P(x). */
static double step_up(const struct urn *u, int64_t x)
{
    return (double)(u->bad - x) * (double)(u->n - x) /
           ((double)(x + 1) * (double)(u->lot - u->bad - u->n + x + 1));
}

/* Terms are taken while they are more than this of the mode's: what is left out then cannot be seen in the sum, unless it is
 * all that
 * is asked for, which is why a tail is followed on below. */
#define SEEN 1e-18

/* Sum of the terms from x up to `last` relative to the term at x, which is 1. */
static double sum_up(const struct urn *u, int64_t x, int64_t last)
{
    double term = 1, sum = 0;
    for (; x <= last && term > 0; x++) {
        sum += term;
        if (term < SEEN * sum)
            break;
        term *= step_up(u, x);
    }
    return sum;
}

static double sum_down(const struct urn *u, int64_t x, int64_t first)
{
    double term = 1, sum = 0;
    for (; x >= first; x--) {
        sum += term;
        if (term < SEEN * sum || x == first)
            break;
        term /= step_up(u, x - 1);
    }
    return sum;
}

/* The term at `to` relative to that at `from`. */
static double ratio(const struct urn *u, int64_t from, int64_t to)
{
    double term = 1;
    for (; from < to && term > 0; from++)
        term *= step_up(u, from);
    for (; from > to && term > 0; from--)
        term /= step_up(u, from - 1);
    return term;
}

double stat_hypergeometric_cdf(int64_t c, int64_t n, int64_t bad, int64_t lot)
{
    assert(n >= 0 && bad >= 0 && n <= lot && bad <= lot && lot <= STAT_LOT_MAX);
    const struct urn u = {n, bad, lot};
    const int64_t first = n + bad > lot ? n + bad - lot : 0, last = n < bad ? n : bad;
    if (c < first)
        return 0;
    if (c >= last)
        return 1;
    int64_t mode = (int64_t)(((double)n + 1) * ((double)bad + 1) / ((double)lot + 2));
    mode = mode < first ? first : mode > last ? last : mode;
    const double all = sum_up(&u, mode, last) + sum_down(&u, mode, first) - 1;
    if (c < mode)
        return ratio(&u, mode, c) * sum_down(&u, c, first) / all;
    const double above = ratio(&u, mode, c + 1) * sum_up(&u, c + 1, last) / all;
    return above < 0.5 ? 1 - above : (sum_down(&u, c, first) * ratio(&u, mode, c)) / all;
}

double stat_plan_accepts(struct stat_plan plan, int64_t lot, int64_t bad, double share)
{
    return lot > 0 ? stat_hypergeometric_cdf(plan.c, plan.n, bad, lot)
                   : stat_binomial_cdf(plan.c, plan.n, share);
}

/* ---- the least plan ------------------------------------------------------------------------ */

struct search {
    const struct stat_promise *p;
    int64_t fine, poor, n_max;
};

static double accepts_fine(const struct search *s, int64_t n, int64_t c)
{
    return stat_plan_accepts((struct stat_plan){n, c}, s->p->lot, s->fine, s->p->fine_share);
}

static double accepts_poor(const struct search *s, int64_t n, int64_t c)
{
    return stat_plan_accepts((struct stat_plan){n, c}, s->p->lot, s->poor, s->p->poor_share);
}

/* The least n > c that keeps the consumer's promise, n_max + 1 when none does: from `from` on in steps that grow, then by
 * halving. */
static int64_t least_n(const struct search *s, int64_t c, int64_t from, int64_t step)
{
    int64_t low = from > c ? from : c + 1, high = low;
    while (high <= s->n_max && accepts_poor(s, high, c) > s->p->consumer) {
        low = high + 1;
        high = step < s->n_max - high ? high + step : s->n_max + (high == s->n_max);
        step *= 2;
    }
    while (low < high) {
        const int64_t n = low + (high - low) / 2;
        if (accepts_poor(s, n, c) <= s->p->consumer)
            high = n;
        else
            low = n + 1;
    }
    return low;
}

enum err stat_plan_find(const struct stat_promise *p, int64_t n_max, stat_plan_watch *watch,
                        void *me, struct stat_plan *ret)
{
    struct search s = {.p = p, .n_max = p->lot > 0 && p->lot < n_max ? p->lot : n_max};
    if (p->lot > 0) { /* half a millionth of a unit against the rounding of shares such as 2.5 % */
        s.fine = (int64_t)floor(p->fine_share * (double)p->lot + 5e-7);
        s.poor = (int64_t)ceil(p->poor_share * (double)p->lot - 5e-7);
    }
    int64_t n = 1, step = 1;
    for (int64_t c = 0; c < s.n_max; c++) {
        const int64_t next = least_n(&s, c, n, step);
        step = next - n > 0 ? next - n : 1;
        n = next;
        if (n > s.n_max)
            return ERR_IMPOSSIBLE;
        if (accepts_fine(&s, n, c) >= 1 - p->producer) {
            *ret = (struct stat_plan){n, c};
            return ERR_OK;
        }
        if (watch != NULL && !watch(me, (uint64_t)n, (uint64_t)s.n_max))
            return ERR_BUSY;
    }
    return ERR_IMPOSSIBLE;
}

/* ---- what a lot may hold ------------------------------------------------------------------- */

void stat_lot_interval(int64_t k, int64_t n, int64_t lot, double level, int64_t *ret_low,
                       int64_t *ret_high)
{
    const double tail = (1 - level) / 2;
    int64_t low = k, high = lot - (n - k); /* the least with P(X >= k) > tail */
    while (low < high) {
        const int64_t bad = low + (high - low) / 2;
        if (1 - stat_hypergeometric_cdf(k - 1, n, bad, lot) > tail)
            high = bad;
        else
            low = bad + 1;
    }
    *ret_low = low;
    high = lot - (n - k); /* the greatest with P(X <= k) > tail */
    while (low < high) {
        const int64_t bad = high - (high - low) / 2;
        if (stat_hypergeometric_cdf(k, n, bad, lot) > tail)
            low = bad;
        else
            high = bad - 1;
    }
    *ret_high = low;
}

/* life: owns the counts of who is at risk when, and what is summed over them. The rules are in the header. */
#include "core/life.h"

#include <assert.h>
#include <float.h>
#include <math.h>

/* Sums that must meet a mark exactly may miss it by rounding. */
#define MARK_TOLERANCE 1e-12

static bool is_time(double t)
{
    return t >= 0 && t <= DBL_MAX;
}

static enum err check_times(const double *t, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (!is_time(t[i]))
            return ERR_DOMAIN;
        if (i > 0 && t[i] < t[i - 1])
            return ERR_ORDER;
    }
    return ERR_OK;
}

static enum err check(const double *entry, const double *end, const uint8_t *event, size_t n)
{
    enum err e = check_times(end, n);
    if (e == ERR_OK && entry != NULL)
        e = check_times(entry, n);
    for (size_t i = 0; e == ERR_OK && i < n; i++)
        if (event[i] > 1)
            e = ERR_DOMAIN;
    return e;
}

/* ---- the product limit ----------------------------------------------------------------------- */

/* The step after `last` (zero-initialised with survival 1 before the first). */
static struct life_step step_on(struct life_step last, double t, int64_t at_risk, int64_t events)
{
    const double n = (double)at_risk, d = (double)events;
    struct life_step s = last;
    s.t = t;
    s.at_risk = at_risk;
    s.events = events;
    s.survival = events == at_risk ? 0 : last.survival * ((n - d) / n);
    s.has_se = s.survival > 0;
    if (s.has_se)
        s.greenwood = last.greenwood + d / (n * (n - d));
    s.se = s.has_se ? s.survival * sqrt(s.greenwood) : 0;
    s.hazard = last.hazard + d / n;
    s.hazard_se = sqrt(last.hazard_se * last.hazard_se + d / (n * n));
    return s;
}

enum err life_steps(const double *entry, const double *end, const uint8_t *event, size_t n,
                    struct life_step *ret, size_t room, size_t *ret_n)
{
    const enum err e = check(entry, end, event, n);
    if (e != ERR_OK)
        return e;
    struct life_step last = {.survival = 1};
    size_t n_steps = 0, n_in = entry == NULL ? n : 0;
    for (size_t i = 0; i < n;) {
        const double t = end[i];
        const size_t n_out = i;
        int64_t events = 0;
        for (; i < n && end[i] == t; i++)
            events += event[i];
        while (entry != NULL && n_in < n && entry[n_in] < t)
            n_in++;
        if (events == 0)
            continue;
        if (n_in < n_out + (size_t)events)
            return ERR_ORDER;
        if (n_steps == room)
            return ERR_SPACE;
        last = step_on(last, t, (int64_t)(n_in - n_out), events);
        ret[n_steps++] = last;
    }
    *ret_n = n_steps;
    return ERR_OK;
}

bool life_quantile(const struct life_step *steps, size_t n, double share, double *ret_t)
{
    for (size_t i = 0; i < n; i++)
        if (steps[i].survival <= 1 - share + MARK_TOLERANCE) {
            *ret_t = steps[i].t;
            return true;
        }
    return false;
}

bool life_at(const struct life_step *steps, size_t n, double t, size_t *ret_i)
{
    size_t low = 0, high = n; /* steps[0..low) are at or before t, steps[high..) after */
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (steps[mid].t <= t)
            low = mid + 1;
        else
            high = mid;
    }
    if (low == 0)
        return false;
    *ret_i = low - 1;
    return true;
}

/* ---- log-rank -------------------------------------------------------------------------------- */

/* x' V^-1 x of the leading k x k part of a symmetric matrix that should be positive definite, by Gauss with row choice. Directions
 * without variance are left out. */
static double quadratic(double v[][LIFE_GROUPS_MAX], double *x, int k, int *ret_rank)
{
    double sum = 0, largest = 0;
    bool is_done[LIFE_GROUPS_MAX] = {false};
    *ret_rank = 0;
    for (int i = 0; i < k; i++)
        largest = v[i][i] > largest ? v[i][i] : largest;
    for (int step = 0; step < k; step++) {
        int best = -1;
        for (int i = 0; i < k; i++)
            if (!is_done[i] && (best < 0 || v[i][i] > v[best][best]))
                best = i;
        if (best < 0 || v[best][best] <= largest * 1e-12)
            return sum;
        is_done[best] = true;
        ++*ret_rank;
        sum += x[best] * x[best] / v[best][best];
        for (int i = 0; i < k; i++) {
            if (is_done[i])
                continue;
            const double f = v[i][best] / v[best][best];
            x[i] -= f * x[best];
            for (int j = 0; j < k; j++)
                v[i][j] -= f * v[best][j];
        }
    }
    return sum;
}

struct race {
    double at_risk[LIFE_GROUPS_MAX], events[LIFE_GROUPS_MAX];
    double v[LIFE_GROUPS_MAX][LIFE_GROUPS_MAX];
};

static void add_time(struct race *race, int n_groups, struct life_logrank *ret)
{
    double n = 0, d = 0;
    for (int g = 0; g < n_groups; g++) {
        n += race->at_risk[g];
        d += race->events[g];
    }
    if (d == 0)
        return;
    const double spread = n > 1 ? d * (n - d) / (n - 1) : 0;
    for (int g = 0; g < n_groups; g++) {
        const double share = race->at_risk[g] / n;
        ret->observed[g] += race->events[g];
        ret->expected[g] += d * share;
        for (int h = 0; h < n_groups; h++)
            race->v[g][h] += spread * share * ((g == h) - race->at_risk[h] / n);
    }
}

static enum err check_groups(const uint32_t *group, size_t n, int n_groups)
{
    for (size_t i = 0; i < n; i++)
        if (group[i] >= (uint32_t)n_groups)
            return ERR_DOMAIN;
    return ERR_OK;
}

enum err life_logrank(const double *entry, const uint32_t *entry_group, const double *end,
                      const uint8_t *event, const uint32_t *group, size_t n, int n_groups,
                      struct life_logrank *ret)
{
    struct race race = {.at_risk = {0}};
    struct life_logrank sum = {.chi2 = 0};
    if (n_groups < 1 || n_groups > LIFE_GROUPS_MAX)
        return ERR_LIMIT;
    enum err e = check(entry, end, event, n);
    if (e == ERR_OK)
        e = check_groups(group, n, n_groups);
    if (e == ERR_OK && entry != NULL)
        e = check_groups(entry_group, n, n_groups);
    if (e != ERR_OK)
        return e;
    size_t n_in = 0;
    for (; entry == NULL && n_in < n; n_in++)
        race.at_risk[group[n_in]]++;
    for (size_t i = 0; i < n;) {
        const double t = end[i];
        size_t after = i;
        for (; entry != NULL && n_in < n && entry[n_in] < t; n_in++)
            race.at_risk[entry_group[n_in]]++;
        for (; after < n && end[after] == t; after++)
            race.events[group[after]] += event[after];
        add_time(&race, n_groups, &sum);
        for (; i < after; i++) {
            race.events[group[i]] = 0;
            race.at_risk[group[i]]--;
        }
    }
    double x[LIFE_GROUPS_MAX];
    for (int g = 0; g < n_groups; g++)
        x[g] = sum.observed[g] - sum.expected[g];
    sum.chi2 = quadratic(race.v, x, n_groups - 1, &sum.df);
    *ret = sum;
    return ERR_OK;
}

/* ---- the mean cumulative function ------------------------------------------------------------ */

static enum err check_mean(const double *t, const uint32_t *unit, const uint8_t *event, size_t n,
                           size_t n_units)
{
    enum err e = check(NULL, t, event, n);
    for (size_t i = 0; e == ERR_OK && i < n; i++)
        if (unit[i] >= n_units)
            e = ERR_DOMAIN;
    return e;
}

/* The robust variance of the mean is the sum over units of (own - drift)^2: own, a unit's failures each over the number at
 * risk; drift, the sum of d/n^2 over the steps while the unit was watched. Drift is common to all that are still at risk, so
 * sums over them do, and a unit's share is fixed when it leaves. */
struct crowd {
    double *last, *own, *here; /* of each unit: last row, sum so far, failures at this time */
    double n, sum, squares;    /* of those at risk: how many, sums of own and of its square */
    double drift, gone;        /* gone: shares of those that have left */
};

static void fail(struct crowd *c, uint32_t unit, double n_at_risk)
{
    const double before = c->own[unit], after = before + c->here[unit] / n_at_risk;
    c->sum += after - before;
    c->squares += after * after - before * before;
    c->own[unit] = after;
    c->here[unit] = 0;
}

static void leave(struct crowd *c, uint32_t unit)
{
    const double own = c->own[unit], share = own - c->drift;
    c->gone += share * share;
    c->n--;
    c->sum -= own;
    c->squares -= own * own;
    c->last[unit] = -1;
}

static double variance_of(const struct crowd *c)
{
    const double size = c->squares + c->n * c->drift * c->drift;
    const double those = size - 2 * c->drift * c->sum;
    /* Units that are all alike have no variance; what is left of the sums then is rounding. */
    return c->gone + (those > MARK_TOLERANCE * size ? those : 0);
}

enum err life_mean(const double *t, const uint32_t *unit, const uint8_t *event, size_t n,
                   size_t n_units, double *work, struct life_mean_step *ret, size_t room,
                   size_t *ret_n)
{
    struct crowd c = {.own = work + n_units, .here = work + 2 * n_units};
    const enum err e = check_mean(t, unit, event, n, n_units);
    c.last = work;
    if (e != ERR_OK)
        return e;
    for (size_t u = 0; u < n_units; u++) {
        c.last[u] = -1;
        c.own[u] = c.here[u] = 0;
    }
    for (size_t i = 0; i < n; i++) {
        c.n += c.last[unit[i]] < 0;
        c.last[unit[i]] = t[i];
    }
    double mean = 0;
    size_t n_steps = 0;
    for (size_t i = 0, after = 0; i < n; i = after) {
        const double now = t[i], at_risk = c.n;
        int64_t events = 0;
        for (; after < n && t[after] == now; after++) {
            c.here[unit[after]] += event[after];
            events += event[after];
        }
        if (events > 0 && n_steps == room)
            return ERR_SPACE;
        for (size_t k = i; events > 0 && k < after; k++)
            if (c.here[unit[k]] > 0)
                fail(&c, unit[k], at_risk);
        if (events > 0) {
            mean += (double)events / at_risk;
            c.drift += (double)events / (at_risk * at_risk);
            ret[n_steps++] = (struct life_mean_step){.t = now,
                                                     .at_risk = (int64_t)at_risk,
                                                     .events = events,
                                                     .mean = mean,
                                                     .se = sqrt(variance_of(&c))};
        }
        for (size_t k = i; k < after; k++)
            if (c.last[unit[k]] == now)
                leave(&c, unit[k]);
    }
    *ret_n = n_steps;
    return ERR_OK;
}

/* How long units last: intervals of the Weibull curve, of forecasts, of the steps, of repeats and of the share that ever comes, held against
 * what was planted. usage: sim_life [WORLDS] */
#include "stat/forecast.h"

#include "core/life.h"
#include "core/normal.h"
#include "stat/chance.h"

#include "sim/sim.h"

enum { UNITS_MAX = 2000, DRAWS = 400, NAME = 160 };
#define SLACK 0.02 /* of what rests on the normal distribution of a fit */

static struct weibull_term terms[2 * UNITS_MAX];
static struct forecast_open open_units[UNITS_MAX];
static double draws[DRAWS];
static size_t n_worlds;

struct plan {
    const char *name;
    size_t n;
    double share, scale, shape, watched;
    double late; /* entries lie evenly between 0 and this */
};

static double weibull_time(struct chance *c, double scale, double shape)
{
    return scale * pow(-log(chance_share(c)), 1 / shape);
}

/* Each unit seen from its entry to an age of its own (whole, even up to `watched` after it); one that fails before its entry is
 * never seen, and another takes its place. *ret_later: failures within `more` after that. Returns how many terms. */
static size_t world(struct chance *c, const struct plan *p, double more, size_t *ret_open,
                    size_t *ret_later)
{
    size_t n_terms = 0;
    *ret_open = *ret_later = 0;
    for (size_t i = 0; i < p->n; i++) {
        const double entry = p->late > 0 ? p->late * chance_share(c) : 0;
        const double end = entry + 1 + floor(chance_share(c) * p->watched);
        const bool comes = chance_share(c) < p->share;
        double t = weibull_time(c, p->scale, p->shape);
        while (t <= entry)
            t = weibull_time(c, p->scale, p->shape);
        const bool is_event = comes && t <= end;
        terms[n_terms++] = (struct weibull_term){
            .log_t = log(is_event ? t : end), .events = is_event, .censored = !is_event};
        if (entry > 0)
            terms[n_terms++] = (struct weibull_term){.log_t = log(entry), .entered = 1};
        if (is_event)
            continue;
        open_units[(*ret_open)++] = (struct forecast_open){end, 1};
        *ret_later += comes && t <= end + more;
    }
    return n_terms;
}

static bool holds_draw(double truth)
{
    return sim_is_held(draws[(size_t)(0.025 * DRAWS)], draws[DRAWS - 1 - (size_t)(0.025 * DRAWS)],
                       truth);
}

/* The likelihood's own intervals, and the forecast of further failures. */
static void sim_weibull(const struct plan *p)
{
    char what[NAME];
    const double z = normal_quantile(0.975), more = p->watched / 4;
    size_t n_scale = 0, n_shape = 0, n_later = 0, n_fitted = 0, n_scale_se = 0, n_shape_se = 0;
    double events = 0;
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct chance c;
        struct weibull w = {.scale = 0};
        struct weibull_ends ends;
        size_t n_open = 0, later = 0;
        chance_start(&c, 51, 400, i);
        const size_t n_terms = world(&c, p, more, &n_open, &later);
        if (weibull_fit(terms, n_terms, &w) != WEIBULL_FITTED)
            continue;
        n_fitted++;
        events += w.events / (double)n_worlds;
        n_scale_se += fabs(w.log_scale - log(p->scale)) <= z * w.se_log_scale;
        n_shape_se += fabs(w.log_shape - log(p->shape)) <= z * w.se_log_shape;
        weibull_find_ends(terms, n_terms, &w, z, &ends);
        n_scale += (!ends.has_scale_low || ends.log_scale_low <= log(p->scale)) &&
                   (!ends.has_scale_high || log(p->scale) <= ends.log_scale_high);
        n_shape += (!ends.has_shape_low || ends.log_shape_low <= log(p->shape)) &&
                   (!ends.has_shape_high || log(p->shape) <= ends.log_shape_high);
        const struct forecast_question q = {open_units, n_open, more, i, DRAWS};
        (void)forecast_weibull(&w, &q, draws);
        n_later += holds_draw((double)later);
    }
    /* With some four failures expected there is none, or they all come last, in a few worlds. */
    tap_ok(n_fitted == n_worlds || (events < 10 && n_fitted > n_worlds * 9 / 10),
           "%s: worlds are fitted (%zu of %zu)", p->name, n_fitted, n_worlds);
    (void)snprintf(what, sizeof what, "%s, %.0f failures of %zu: scale", p->name, events, p->n);
    sim_report(what, n_scale, n_fitted, 0.95, SLACK, SIM_AS_STATED);
    (void)snprintf(what, sizeof what, "%s: shape", p->name);
    sim_report(what, n_shape, n_fitted, 0.95, SLACK, SIM_AS_STATED);
    tap_note("%s: by standard errors instead: scale %.1f %%, shape %.1f %%", p->name,
             100 * (double)n_scale_se / (double)n_fitted,
             100 * (double)n_shape_se / (double)n_fitted);
    (void)snprintf(what, sizeof what, "%s: forecast of further failures", p->name);
    sim_report(what, n_later, n_fitted, 0.95, SLACK, SIM_AS_STATED);
}

/* The number to come is a whole one and the share may lie at its edge, so the interval may be wider than it says. */
static void sim_cure(const struct plan *p)
{
    char what[NAME];
    size_t n_share = 0, n_ever = 0, n_fitted = 0, n_open_end = 0, n = n_worlds / 2;
    for (uint64_t i = 0; i < n; i++) {
        struct chance c;
        struct weibull w;
        struct cure fit;
        static struct cure_shares shares;
        size_t n_open = 0, later = 0;
        chance_start(&c, 61, 500, i);
        const size_t n_terms = world(&c, p, HUGE_VAL, &n_open, &later);
        const bool is_plain = weibull_fit(terms, n_terms, &w) == WEIBULL_FITTED;
        if (cure_fit(terms, n_terms, is_plain ? &w : NULL, &fit) != WEIBULL_FITTED)
            continue;
        cure_spread(terms, n_terms, &fit, &shares);
        if (shares.n == 0)
            continue;
        n_fitted++;
        n_open_end += !fit.is_bounded;
        n_share += sim_is_held(cure_share_quantile(&shares, 0.025),
                               cure_share_quantile(&shares, 0.975), p->share);
        const struct forecast_question q = {open_units, n_open, HUGE_VAL, i, DRAWS};
        (void)forecast_cure(&shares, &fit, &q, draws);
        n_ever += holds_draw((double)later);
    }
    tap_ok(n_fitted == n, "%s: every world is fitted (%zu without a bound from above)", p->name,
           n_open_end);
    (void)snprintf(what, sizeof what, "%s: share that ever comes", p->name);
    sim_report(what, n_share, n_fitted, 0.95, SLACK, SIM_AT_LEAST);
    (void)snprintf(what, sizeof what, "%s: number that ever comes", p->name);
    sim_report(what, n_ever, n_fitted, 0.95, SLACK, SIM_AT_LEAST);
}

/* ---- steps ------------------------------------------------------------------------------------- */

struct row {
    double t;
    uint32_t unit;
    uint8_t event;
};

static int by_time(const void *a, const void *b)
{
    const struct row *x = a, *y = b;
    if (x->t != y->t)
        return x->t > y->t ? 1 : -1;
    return (int)y->event - (int)x->event;
}

/* The log-log interval of the share that is left at a time, at times where some half and some nine in ten are left. */
static void sim_steps(double at, const char *name)
{
    enum { N = 80 };
    const double z = normal_quantile(0.975), truth = exp(-pow(at / 100, 1.5));
    size_t n_held = 0, n_there = 0;
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct chance c;
        struct row rows[N];
        double end[N];
        uint8_t event[N];
        struct life_step steps[N];
        size_t n_steps = 0, k = 0;
        chance_start(&c, 71, 600, i);
        for (size_t u = 0; u < N; u++) {
            const double t = weibull_time(&c, 100, 1.5), stop = 40 + 120 * chance_share(&c);
            rows[u] = (struct row){fmin(t, stop), (uint32_t)u, t <= stop};
        }
        qsort(rows, N, sizeof *rows, by_time);
        for (size_t u = 0; u < N; u++) {
            end[u] = rows[u].t;
            event[u] = rows[u].event;
        }
        if (life_steps(NULL, end, event, N, steps, N, &n_steps) != ERR_OK ||
            !life_at(steps, n_steps, at, &k) || !steps[k].has_se)
            continue;
        n_there++;
        const double log_s = log(steps[k].survival);
        const double half = z * sqrt(steps[k].greenwood) / fabs(log_s);
        n_held += sim_is_held(exp(log_s * exp(half)), exp(log_s * exp(-half)), truth);
    }
    sim_report(name, n_held, n_there, 0.95, SLACK, SIM_AS_STATED);
}

/* Repeats: each unit fails at a rate of its own (even between 0 and 0.06 a day, so failures of one unit hang together) and is watched
 * for 30 to 90 days. The mean number of failures at day 60 is 1.8. */
static void sim_repeats(void)
{
    enum { N = 60, ROWS = 2000 };
    static struct row rows[ROWS];
    static double t[ROWS], work[3 * N];
    static uint32_t unit[ROWS];
    static uint8_t event[ROWS];
    static struct life_mean_step steps[ROWS];
    const double z = normal_quantile(0.975), at = 60, truth = 0.03 * at;
    size_t n_held = 0, n_there = 0;
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct chance c;
        size_t n = 0, n_steps = 0, k = 0;
        chance_start(&c, 81, 700, i);
        for (uint32_t u = 0; u < N; u++) {
            const double rate = 0.06 * chance_share(&c), stop = 30 + 60 * chance_share(&c);
            double now = -log(chance_share(&c)) / rate;
            while (now < stop && n < ROWS - N) {
                rows[n++] = (struct row){now, u, 1};
                now -= log(chance_share(&c)) / rate;
            }
            rows[n++] = (struct row){stop, u, 0};
        }
        qsort(rows, n, sizeof *rows, by_time);
        for (size_t r = 0; r < n; r++) {
            t[r] = rows[r].t;
            unit[r] = rows[r].unit;
            event[r] = rows[r].event;
        }
        if (life_mean(t, unit, event, n, N, work, steps, ROWS, &n_steps) != ERR_OK)
            continue;
        while (k < n_steps && steps[k].t <= at)
            k++;
        if (k == 0)
            continue;
        n_there++;
        const double factor = exp(z * steps[k - 1].se / steps[k - 1].mean);
        n_held += sim_is_held(steps[k - 1].mean / factor, steps[k - 1].mean * factor, truth);
    }
    sim_report("repeats, 60 units of unlike rates: failures a unit by day 60", n_held, n_there,
               0.95, SLACK, SIM_AS_STATED);
}

int main(int argc, char **argv)
{
    static const struct plan weibulls[] = {
        {"wear", 400, 1, 1200, 1.6, 700, 0},
        {"early failures", 300, 1, 5000, 0.7, 600, 0},
        {"wear, late entries", 300, 1, 1200, 1.6, 700, 500},
        {"wear, few failures", 60, 1, 1200, 1.6, 400, 0},
    };
    static const struct plan cures[] = {
        {"seven in ten come, long watched", 400, 0.7, 60, 1.3, 250, 0},
        {"eight in ten come, shortly watched", 400, 0.8, 90, 1.2, 180, 0},
    };
    n_worlds = sim_worlds(argc, argv, 500);
    for (size_t i = 0; i < sizeof weibulls / sizeof *weibulls; i++)
        sim_weibull(&weibulls[i]);
    for (size_t i = 0; i < sizeof cures / sizeof *cures; i++)
        sim_cure(&cures[i]);
    sim_steps(30, "steps, 80 units: share left where 85 % are");
    sim_steps(80, "steps, 80 units: share left where 49 % are");
    sim_repeats();
    return tap_done();
}

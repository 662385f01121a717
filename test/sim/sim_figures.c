/* Capability, did-it-hold, labour and gauge studies through their own tables: intervals held against what was planted.
 * usage: sim_figures [WORLDS] */
#include "base/text.h"
#include "core/normal.h"
#include "desk/study_capability.h"
#include "desk/study_gauge.h"
#include "desk/study_held.h"
#include "desk/study_labour.h"
#include "desk/study_try.h"
#include "stat/chance.h"

#include "sim/sim.h"

#define SLACK 0.02

static size_t n_worlds;

/* ---- capability -------------------------------------------------------------------------------- */

/* Readings N(58.4, 0.9) against 56 to 61: Pp 0.926, Ppk 0.889; outside by Phi. */
static void sim_capability(size_t n, const char *name)
{
    const double mean = 58.4, sd = 0.9;
    const double pp = 5 / (6 * sd), ppk = fmin(61 - mean, mean - 56) / (3 * sd);
    const double outside = normal_cdf((56 - mean) / sd) + normal_cdf((mean - 61) / sd);
    const struct study_capability_order order = {
        .unit = UNIT_MM, .low_nano = 56000000, .high_nano = 61000000, .confidence = 0.95};
    const struct study_capability_columns columns = {.value = "v"};
    size_t n_pp = 0, n_ppk = 0, n_outside = 0, n_done = 0;
    char what[120];
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct study_want wants[CAPABILITY_COLUMNS];
        struct study_capability r = {0};
        struct fault f = {0};
        struct text csv = {0};
        struct chance c;
        chance_start(&c, 91, 800, i);
        text_puts(&csv, "v\n");
        for (size_t k = 0; k < n; k++)
            text_printf(&csv, "%.6f\n", mean + sd * chance_normal(&c));
        study_capability_wants(&columns, UNIT_MM, wants);
        struct study_table *t = try_table(csv.data, wants, CAPABILITY_COLUMNS);
        if (t != NULL && study_capability(t, &order, &r, &f) == ERR_OK) {
            const struct study_capability_group *g = &r.groups[0];
            n_done++;
            n_pp += sim_is_held(g->pp_i.low, g->pp_i.high, pp);
            n_ppk += sim_is_held(g->ppk_i.low, g->ppk_i.high, ppk);
            n_outside += sim_is_held(g->outside_i.low, g->outside_i.high, outside);
        }
        study_capability_done(&r);
        study_table_free(t);
        text_done(&csv);
    }
    (void)snprintf(what, sizeof what, "capability, %s: Pp", name);
    sim_report(what, n_pp, n_done, 0.95, 0, SIM_AS_STATED);
    (void)snprintf(what, sizeof what, "capability, %s: Ppk (Bissell's approximation)", name);
    sim_report(what, n_ppk, n_done, 0.95, SLACK, SIM_AS_STATED);
    (void)snprintf(what, sizeof what, "capability, %s: share outside", name);
    sim_report(what, n_outside, n_done, 0.95, 0, SIM_AT_LEAST);
}

/* ---- did it hold ------------------------------------------------------------------------------- */

static int64_t poisson(struct chance *c, double mean)
{
    int64_t n = 0;
    double at = -log(chance_share(c));
    while (at < mean) {
        at -= log(chance_share(c));
        n++;
    }
    return n;
}

static void sim_held(double m1, double m2, const char *name)
{
    const struct study_held_order order = {.confidence = 0.95, .at_most = 1};
    size_t n_held = 0, n_done = 0;
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct study_want wants[HELD_COLUMNS];
        struct study_held r;
        struct fault f = {0};
        char csv[120];
        struct chance c;
        chance_start(&c, 95, 900, i);
        const int64_t a = poisson(&c, m1), b = poisson(&c, m2);
        (void)snprintf(csv, sizeof csv, "r,f,t\n1,%lld,1000\n0,%lld,500\n", (long long)a,
                       (long long)b);
        study_held_wants("r", "f", "t", wants);
        struct study_table *t = try_table(csv, wants, HELD_COLUMNS);
        n_done++; /* where nothing failed there is no interval, and nothing wrong is said */
        if (t != NULL && study_held(t, &order, &r, &f) == ERR_OK)
            n_held += sim_is_held(r.rates.low, r.rates.high, m1 / m2 / 2);
        else
            n_held += a + b == 0;
        study_table_free(t);
    }
    sim_report(name, n_held, n_done, 0.95, 0, SIM_AT_LEAST);
}

/* ---- labour ------------------------------------------------------------------------------------ */

/* Minutes 90 x order^log2(0.9) x e^(0.12 z): skewed about a curve. Without the curve, the middle and the 80th percentile. */
static void sim_labour(void)
{
    enum { N = 60 };
    const struct study_labour_order order = {
        .share = 0.8, .within = 0.05, .confidence = 0.95, .rating = 1};
    size_t n_rate = 0, n_p50 = 0, n_p80 = 0, n_done = 0;
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct study_want wants[LABOUR_COLUMNS];
        struct study_labour learn = {0}, plain = {0};
        struct fault f = {0};
        struct text csv = {0};
        struct chance c;
        chance_start(&c, 97, 1000, i);
        text_puts(&csv, "learn,plain,k\n");
        for (int k = 1; k <= N; k++) {
            const double noise = exp(0.12 * chance_normal(&c)), own = exp(0.2 * chance_normal(&c));
            text_printf(&csv, "%.9f,%.9f,%d\n", 90 * pow(k, log2(0.9)) * noise, 90 * own, k);
        }
        study_labour_wants("learn", "k", NULL, wants);
        struct study_table *t = try_table(csv.data, wants, LABOUR_COLUMNS);
        study_labour_wants("plain", NULL, NULL, wants);
        struct study_table *u = try_table(csv.data, wants, LABOUR_COLUMNS);
        if (t != NULL && u != NULL && study_labour(t, &order, &learn, &f) == ERR_OK &&
            study_labour(u, &order, &plain, &f) == ERR_OK) {
            n_done++;
            n_rate += sim_is_held(learn.rate.low, learn.rate.high, 0.9);
            n_p50 += sim_is_held(plain.p50.low, plain.p50.high, 90);
            n_p80 +=
                sim_is_held(plain.p80.low, plain.p80.high, 90 * exp(0.2 * normal_quantile(0.8)));
        }
        study_table_free(t);
        study_table_free(u);
        text_done(&csv);
    }
    sim_report("labour, 60 jobs: learning rate", n_rate, n_done, 0.95, 0, SIM_AS_STATED);
    sim_report("labour, 60 jobs: median by order statistics", n_p50, n_done, 0.95, 0, SIM_AT_LEAST);
    sim_report("labour, 60 jobs: 80th percentile by order statistics", n_p80, n_done, 0.95, 0,
               SIM_AT_LEAST);
}

/* ---- gauge ------------------------------------------------------------------------------------- */

/* Parts sd 1, people sd 0.3, interaction sd 0.1, repeats sd 0.2: percent study 100 sqrt(.14/1.14). */
static void sim_gauge(void)
{
    enum { P = 8, O = 4, R = 2 };
    const struct study_gauge_order order = {.pool_above = 1, .confidence = 0.95, .unit = UNIT_N};
    const size_t n = n_worlds / 5; /* 20,000 draws each */
    size_t n_percent = 0, n_repeat = 0, n_part = 0, n_done = 0;
    for (uint64_t i = 0; i < n; i++) {
        struct study_want wants[GAUGE_COLUMNS];
        struct text csv = {0};
        struct study_gauge g = {0};
        struct fault f = {0};
        struct chance c;
        double who[O];
        chance_start(&c, 3, 77, i);
        text_puts(&csv, "part,who,value\n");
        for (int o = 0; o < O; o++)
            who[o] = 0.3 * chance_normal(&c);
        for (int p = 0; p < P; p++) {
            const double part = chance_normal(&c);
            for (int o = 0; o < O; o++) {
                const double both = 0.1 * chance_normal(&c);
                for (int r = 0; r < R; r++)
                    text_printf(&csv, "%d,%d,%.9f\n", p, o,
                                part + who[o] + both + 0.2 * chance_normal(&c));
            }
        }
        study_gauge_wants("part", "who", "value", UNIT_N, wants);
        struct study_table *t = try_table(csv.data, wants, GAUGE_COLUMNS);
        if (t != NULL && study_gauge(t, &order, &g, &f) == ERR_OK) {
            n_done++;
            n_percent +=
                sim_is_held(g.percent_study_i.low, g.percent_study_i.high, 100 * sqrt(.14 / 1.14));
            n_repeat += sim_is_held(g.repeatability_i.low, g.repeatability_i.high, 0.04);
            n_part += sim_is_held(g.part_i.low, g.part_i.high, 1);
        }
        study_table_free(t);
        text_done(&csv);
    }
    sim_report("gauge, 8 parts, 4 people, twice: percent study", n_percent, n_done, 0.95, SLACK,
               SIM_AT_LEAST);
    sim_report("gauge, the same: repeatability (exact)", n_repeat, n_done, 0.95, 0, SIM_AS_STATED);
    sim_report("gauge, the same: variance of the parts", n_part, n_done, 0.95, SLACK, SIM_AT_LEAST);
}

int main(int argc, char **argv)
{
    n_worlds = sim_worlds(argc, argv, 500);
    sim_capability(50, "50 readings");
    sim_capability(15, "15 readings");
    sim_held(4, 9, "did it hold, some 4 failures against 9: ratio (exact)");
    sim_held(30, 60, "did it hold, some 30 failures against 60: ratio (exact)");
    sim_labour();
    sim_gauge();
    return tap_done();
}

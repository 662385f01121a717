/* Values: R 4.2.2, package survival 3.5-3 (survfit, survdiff), on the data printed here; the leukaemia data are Freireich et al.
 * 1963, Blood 21, 699-716, group 6-MP, worked by hand in exact fractions. */
#include "core/life.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MAX = 400 };
#define COUNT(x) (sizeof(x) / sizeof *(x))

static bool is_near(double a, double b, double tolerance)
{
    return fabs(a - b) <= tolerance * fmax(1, fabs(b));
}

/* A row of what is expected; se < 0: undefined; hazard < 0: not given. */
struct row {
    double t;
    int64_t at_risk;
    double survival, se, hazard, hazard_se;
};

static void hold(const char *name, const double *entry, const double *end, const uint8_t *event,
                 size_t n, const struct row *rows, size_t n_rows, const char *source)
{
    struct life_step steps[MAX];
    size_t n_steps = 0;
    const enum err e = life_steps(entry, end, event, n, steps, MAX, &n_steps);
    tap_ok(e == ERR_OK, "%s: is computed", name);
    for (size_t r = 0; r < n_rows; r++) {
        size_t i = 0;
        const struct row *w = &rows[r];
        const bool is_found =
            life_at(steps, n_steps, w->t, &i) && (steps[i].t == w->t || w->at_risk < 0);
        bool is_good = is_found && is_near(steps[i].survival, w->survival, 1e-9) &&
                       (w->at_risk < 0 || steps[i].at_risk == w->at_risk);
        is_good &=
            w->se < 0 ? !steps[i].has_se : steps[i].has_se && is_near(steps[i].se, w->se, 1e-9);
        if (w->hazard >= 0)
            is_good &= is_near(steps[i].hazard, w->hazard, 1e-9);
        if (w->hazard_se >= 0)
            is_good &= is_near(steps[i].hazard_se, w->hazard_se, 1e-9);
        if (!tap_ok(is_good, "%s: t = %g (%s)", name, w->t, source) && is_found)
            tap_note("found %.15g se %.15g at risk %lld hazard %.15g se %.15g", steps[i].survival,
                     steps[i].se, (long long)steps[i].at_risk, steps[i].hazard, steps[i].hazard_se);
    }
}

/* ---- product limit ----------------------------------------------------------------------------- */

static const double kept[] = {9, 13, 13, 18, 23, 28, 31, 34, 45, 48, 161};
static const uint8_t kept_event[] = {1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0};
static const double not_kept[] = {5, 5, 8, 8, 12, 16, 23, 27, 30, 33, 43, 45};
static const uint8_t not_kept_event[] = {1, 1, 1, 1, 1, 0, 1, 1, 1, 1, 1, 1};

static void test_leukaemia(void)
{
    static const double end[] = {6,  6,  6,  6,  7,  9,  10, 10, 11, 13, 16,
                                 17, 19, 20, 22, 23, 25, 32, 32, 34, 35};
    static const uint8_t event[] = {1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0};
    const double f6 = 18. / 21, f7 = f6 * 16 / 17, f10 = f7 * 14 / 15, f13 = f10 * 11 / 12,
                 f16 = f13 * 10 / 11, f22 = f16 * 6 / 7, f23 = f22 * 5 / 6;
    const double g6 = 3. / (21 * 18), g7 = g6 + 1. / (17 * 16), g10 = g7 + 1. / (15 * 14),
                 g13 = g10 + 1. / (12 * 11), g16 = g13 + 1. / (11 * 10), g22 = g16 + 1. / (7 * 6),
                 g23 = g22 + 1. / (6 * 5);
    const struct row rows[] = {
        {6, 21, f6, f6 * sqrt(g6), -1, -1},     {7, 17, f7, f7 * sqrt(g7), -1, -1},
        {10, 15, f10, f10 * sqrt(g10), -1, -1}, {13, 12, f13, f13 * sqrt(g13), -1, -1},
        {16, 11, f16, f16 * sqrt(g16), -1, -1}, {22, 7, f22, f22 * sqrt(g22), -1, -1},
        {23, 6, f23, f23 * sqrt(g23), -1, -1},
    };
    hold("leukaemia, 6-MP", NULL, end, event, COUNT(end), rows, COUNT(rows),
         "Freireich et al. 1963, by hand");
    struct life_step steps[MAX];
    size_t n = 0;
    double median = 0;
    tap_ok(life_steps(NULL, end, event, COUNT(end), steps, MAX, &n) == ERR_OK && n == 7 &&
               life_quantile(steps, n, 0.5, &median) && median == 23,
           "leukaemia, 6-MP: seven steps, half are over at week 23 (by hand: 0.448 is the first "
           "below a half)");
    tap_ok(!life_quantile(steps, n, 0.9, &median), "leukaemia: nine in ten are never over");
}

static void test_aml(void)
{
    static const struct row rows[] = {
        {9, 11, 0.909090909090909, 0.0866784172041447, 0.0909090909090909, 0.0909090909090909},
        {13, 10, 0.818181818181818, 0.116291299830333, 0.190909090909091, 0.135146079521077},
        {18, 8, 0.715909090909091, 0.139664970557228, 0.315909090909091, 0.184090909090909},
        {23, 7, 0.613636363636364, 0.152632331027312, 0.458766233766234, 0.233018510155789},
        {31, 5, 0.490909090909091, 0.164193267221136, 0.658766233766234, 0.307079185350006},
        {34, 4, 0.368181818181818, 0.162668885827095, 0.908766233766234, 0.395976799920429},
        {48, 2, 0.184090909090909, 0.153492745786294, 1.40876623376623, 0.637806887760883},
    };
    static const struct row others[] = {
        {5, 12, 0.833333333333333, 0.107582870727984, -1, -1},
        {8, 10, 0.666666666666667, 0.136082763487954, -1, -1},
        {12, 8, 0.583333333333333, 0.142318760638328, -1, -1},
        {23, 6, 0.486111111111111, 0.148130062553483, -1, -1},
        {27, 5, 0.388888888888889, 0.146986183948033, -1, -1},
        {30, 4, 0.291666666666667, 0.138715169134987, -1, -1},
        {33, 3, 0.194444444444444, 0.121874505380446, -1, -1},
        {43, 2, 0.0972222222222222, 0.0918663649675205, -1, -1},
        {45, 1, 0, -1, -1, -1},
    };
    hold("aml maintained", NULL, kept, kept_event, COUNT(kept), rows, COUNT(rows), "R survfit");
    hold("aml not maintained", NULL, not_kept, not_kept_event, COUNT(not_kept), others,
         COUNT(others), "R survfit");
}

static void test_nist(void)
{
    static const double end[] = {54,  187, 216, 240, 244, 335, 361, 373, 375, 386,
                                 500, 500, 500, 500, 500, 500, 500, 500, 500, 500};
    static const uint8_t event[] = {1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0};
    static const struct row rows[] = {{54, 20, 0.95, 0.0487339717240448, -1, -1},
                                      {240, 17, 0.8, 0.0894427190999916, -1, -1},
                                      {386, 11, 0.5, 0.111803398874989, -1, -1}};
    hold("twenty units", NULL, end, event, COUNT(end), rows, COUNT(rows),
         "data of NIST/SEMATECH e-Handbook 8.4.1.3; R survfit");
    struct life_step steps[MAX];
    size_t n = 0;
    double median = 0;
    tap_ok(life_steps(NULL, end, event, COUNT(end), steps, MAX, &n) == ERR_OK &&
               life_quantile(steps, n, 0.5, &median) && median == 386,
           "twenty units: exactly a half is a half, whatever rounding did to ten products");
}

static void test_entries(void)
{
    /* (0,12,1) (0,20,0) (0,31,1) (5,18,1) (8,25,0) (10,40,1) (12,22,1) (0,15,1) (3,9,0) (6,33,1), each column ascending */
    static const double entry[] = {0, 0, 0, 0, 3, 5, 6, 8, 10, 12};
    static const double end[] = {9, 12, 15, 18, 20, 22, 25, 31, 33, 40};
    static const uint8_t event[] = {0, 1, 1, 1, 0, 1, 0, 1, 1, 1};
    static const struct row rows[] = {
        {12, 8, 0.875, 0.116926793336686, 0.125, -1},
        {15, 8, 0.765625, 0.144689524823845, 0.25, -1},
        {18, 7, 0.65625, 0.160108605718119, 0.392857142857143, -1},
        {22, 5, 0.525, 0.173745503538941, 0.592857142857143, -1},
        {31, 3, 0.35, 0.183938395484285, 0.926190476190476, -1},
        {33, 2, 0.175, 0.154177927516663, 1.42619047619048, -1},
        {40, 1, 0, -1, 2.42619047619048, -1},
    };
    hold("late entries", entry, end, event, COUNT(end), rows, COUNT(rows),
         "R survfit(Surv(start,stop,ev)~1)");
}

static void test_refusals(void)
{
    static const struct {
        const char *name;
        double entry[3], end[3];
        uint8_t event[3];
        bool has_entry;
        enum err err;
    } rows[] = {
        {"a negative time", {0}, {-1, 2, 3}, {1, 0, 1}, false, ERR_DOMAIN},
        {"no number", {0}, {NAN, 2, 3}, {1, 0, 1}, false, ERR_DOMAIN},
        {"without end", {0}, {1, 2, INFINITY}, {1, 0, 1}, false, ERR_DOMAIN},
        {"not ascending", {0}, {1, 3, 2}, {1, 0, 1}, false, ERR_ORDER},
        {"half an event", {0}, {1, 2, 3}, {1, 2, 1}, false, ERR_DOMAIN},
        {"all enter after the first failure", {2, 2, 2}, {1, 3, 4}, {1, 0, 1}, true, ERR_ORDER},
    };
    struct life_step steps[3];
    size_t n = 0;
    for (size_t i = 0; i < COUNT(rows); i++)
        tap_ok(life_steps(rows[i].has_entry ? rows[i].entry : NULL, rows[i].end, rows[i].event, 3,
                          steps, 3, &n) == rows[i].err,
               "refused: %s", rows[i].name);
    const double end[] = {1, 2, 3};
    const uint8_t all[] = {1, 1, 1}, none[] = {0, 0, 0};
    tap_ok(life_steps(NULL, end, all, 3, steps, 2, &n) == ERR_SPACE, "refused: no room");
    tap_ok(life_steps(NULL, end, none, 3, steps, 0, &n) == ERR_OK && n == 0,
           "nothing failed: no steps");
    tap_ok(life_steps(NULL, end, all, 0, steps, 0, &n) == ERR_OK && n == 0, "no rows: no steps");
    size_t at = 0;
    tap_ok(life_steps(NULL, end, all, 3, steps, 3, &n) == ERR_OK && !life_at(steps, n, 0.5, &at),
           "before the first failure there is no step");
}

/* ---- log-rank ---------------------------------------------------------------------------------- */

/* The two groups run together in the order of time. */
static size_t merge(double *end, uint8_t *event, uint32_t *group)
{
    size_t i = 0, j = 0, n = 0;
    while (i < COUNT(kept) || j < COUNT(not_kept)) {
        const bool is_kept = j == COUNT(not_kept) || (i < COUNT(kept) && kept[i] <= not_kept[j]);
        end[n] = is_kept ? kept[i] : not_kept[j];
        event[n] = is_kept ? kept_event[i] : not_kept_event[j];
        group[n++] = is_kept ? 0 : 1;
        i += is_kept;
        j += !is_kept;
    }
    return n;
}

static void test_logrank(void)
{
    double end[MAX], zero[MAX] = {0};
    uint8_t event[MAX];
    uint32_t group[MAX];
    struct life_logrank r;
    const size_t n = merge(end, event, group);
    tap_ok(life_logrank(NULL, NULL, end, event, group, n, 2, &r) == ERR_OK && r.df == 1 &&
               is_near(r.chi2, 3.3963886989776, 1e-9),
           "aml: chi2 3.396 between the groups (R survdiff)");
    tap_ok(is_near(r.expected[0], 10.6893359923007, 1e-9) &&
               is_near(r.expected[1], 7.31066400769928, 1e-9) && r.observed[0] == 7 &&
               r.observed[1] == 11,
           "aml: expected 10.689 and 7.311 (R survdiff)");
    tap_ok(life_logrank(zero, group, end, event, group, n, 2, &r) == ERR_OK &&
               is_near(r.chi2, 3.3963886989776, 1e-9),
           "aml: entering at 0 is being there from the start");
    tap_ok(life_logrank(NULL, NULL, end, event, group, n, 5, &r) == ERR_OK && r.df == 1 &&
               is_near(r.chi2, 3.3963886989776, 1e-9),
           "aml: groups without units change nothing");
    memset(group, 0, sizeof group);
    tap_ok(life_logrank(NULL, NULL, end, event, group, n, 1, &r) == ERR_OK && r.df == 0 &&
               r.chi2 == 0,
           "one group: nothing to compare");
    group[3] = 7;
    tap_ok(life_logrank(NULL, NULL, end, event, group, n, 2, &r) == ERR_DOMAIN,
           "refused: a group that is not there");
    tap_ok(life_logrank(NULL, NULL, end, event, group, n, LIFE_GROUPS_MAX + 1, &r) == ERR_LIMIT,
           "refused: too many groups");
}

/* ---- mean cumulative function ------------------------------------------------------------------ */

static void hold_mean(const char *name, const double *t, const uint32_t *unit, const uint8_t *event,
                      size_t n, size_t n_units, const double rows[][3], size_t n_rows)
{
    double *work = calloc(3 * n_units, sizeof *work);
    struct life_mean_step steps[MAX];
    size_t n_steps = 0;
    tap_ok(work != NULL &&
               life_mean(t, unit, event, n, n_units, work, steps, MAX, &n_steps) == ERR_OK,
           "%s: is computed", name);
    for (size_t r = 0; r < n_rows; r++) {
        size_t i = 0;
        while (i < n_steps && steps[i].t != rows[r][0])
            i++;
        const bool is_good = i < n_steps && is_near(steps[i].mean, rows[r][1], 1e-9) &&
                             is_near(steps[i].se, rows[r][2], 1e-9);
        if (!tap_ok(is_good, "%s: t = %g (R survfit with id)", name, rows[r][0]) && i < n_steps)
            tap_note("found %.15g se %.15g", steps[i].mean, steps[i].se);
    }
    free(work);
}

static void test_mean_small(void)
{
    static const double t[] = {1, 5, 8, 8, 12, 16, 16, 20};
    static const uint32_t unit[] = {2, 0, 0, 2, 0, 1, 2, 2};
    static const uint8_t event[] = {1, 1, 1, 1, 0, 0, 1, 0};
    static const double rows[][3] = {{1, 1. / 3, 0.272165526975909},
                                     {5, 2. / 3, 0.272165526975909},
                                     {8, 4. / 3, 0.544331053951817},
                                     {16, 11. / 6, 0.868694209506216}};
    hold_mean("three units", t, unit, event, COUNT(t), 3, rows, COUNT(rows));
}

/* Valve seats of 41 diesel engines (Nelson 1995): the day each was watched to, then replacements; 0 closes. */
static const int seats[][6] = {{761},
                               {759},
                               {667, 98},
                               {667, 326, 653, 653},
                               {665},
                               {667, 84},
                               {663, 87},
                               {653, 646},
                               {653, 92},
                               {651},
                               {650, 258, 328, 377, 621},
                               {648, 61, 539},
                               {644, 254, 276, 298, 640},
                               {642, 76, 538},
                               {641, 635},
                               {649, 349, 404, 561},
                               {631},
                               {596},
                               {614, 120, 479},
                               {582, 323, 449},
                               {589, 139, 139},
                               {593},
                               {589, 573},
                               {606, 165, 408, 604},
                               {594, 249},
                               {613, 344, 497},
                               {595, 265, 586},
                               {389, 166, 206, 348},
                               {601},
                               {601, 410, 581},
                               {611},
                               {608},
                               {587},
                               {603, 367},
                               {585, 202, 563, 570},
                               {587},
                               {578},
                               {578},
                               {586},
                               {585},
                               {582}};

struct seat {
    double t;
    uint32_t unit;
    uint8_t event;
};

static int by_time(const void *a, const void *b)
{
    const struct seat *x = a, *y = b;
    return (x->t > y->t) - (x->t < y->t);
}

static void test_mean_seats(void)
{
    static const double rows[][3] = {
        {61, 0.0243902439024390, 0.0240909657719412}, {76, 0.0487804878048780, 0.0336412028925608},
        {92, 0.121951219512195, 0.0511046557880171},  {166, 0.268292682926829, 0.0773166134009753},
        {326, 0.512195121951220, 0.109739571761355},  {646, 1.32046529133481, 0.228505154950117},
        {653, 1.54268751355703, 0.311656074750563}};
    struct seat list[MAX] = {{0}};
    double t[MAX];
    uint32_t unit[MAX];
    uint8_t event[MAX];
    size_t n = 0;
    for (uint32_t u = 0; u < COUNT(seats); u++)
        for (size_t i = 0; i < 6 && (i == 0 || seats[u][i] != 0); i++)
            list[n++] = (struct seat){seats[u][i], u, i > 0};
    qsort(list, n, sizeof *list, by_time);
    for (size_t i = 0; i < n; i++) {
        t[i] = list[i].t;
        unit[i] = list[i].unit;
        event[i] = list[i].event;
    }
    hold_mean("valve seats", t, unit, event, n, COUNT(seats), rows, COUNT(rows));
}

/* The sums over all units at every step, as the formula is written (Lawless & Nadeau 1995), on made-up fleets with ties. */
static double plain_se(const struct seat *list, size_t n, uint32_t n_units, double upto)
{
    double variance = 0;
    for (uint32_t u = 0; u < n_units; u++) {
        double share = 0;
        for (size_t i = 0; i < n && list[i].t <= upto; i++) {
            const double now = list[i].t;
            double at_risk = 0, events = 0, own = 0;
            bool is_watched = false;
            if (i > 0 && list[i - 1].t == now)
                continue;
            for (uint32_t v = 0; v < n_units; v++) {
                double last = -1;
                for (size_t k = 0; k < n; k++)
                    if (list[k].unit == v)
                        last = list[k].t;
                at_risk += last >= now;
                is_watched = v == u ? last >= now : is_watched;
            }
            for (size_t k = 0; k < n; k++) {
                events += list[k].t == now && list[k].event;
                own += list[k].t == now && list[k].event && list[k].unit == u;
            }
            share += is_watched && events > 0 ? (own - events / at_risk) / at_risk : 0;
        }
        variance += share * share;
    }
    return sqrt(variance);
}

static void test_mean_plainly(void)
{
    double worst = 0;
    size_t n_compared = 0;
    for (unsigned seed = 1; seed <= 40; seed++) {
        struct seat list[48];
        double t[48], work[36];
        uint32_t unit[48], n_units = 2 + seed % 11;
        uint8_t event[48];
        struct life_mean_step steps[48];
        size_t n_steps = 0, n = 0;
        unsigned state = seed;
        for (uint32_t u = 0; u < n_units; u++)
            for (unsigned k = 0; k < 4; k++) {
                state = state * 1664525u + 1013904223u;
                if (k == 0 || state >> 31)
                    list[n++] = (struct seat){(double)(state >> 8) / (1 << 24) * 20, u, k > 0};
            }
        for (size_t i = 0; i < n; i++)
            list[i].t = floor(list[i].t); /* ties, and failures on the last day */
        qsort(list, n, sizeof *list, by_time);
        for (size_t i = 0; i < n; i++) {
            t[i] = list[i].t;
            unit[i] = list[i].unit;
            event[i] = list[i].event;
        }
        if (life_mean(t, unit, event, n, n_units, work, steps, 48, &n_steps) != ERR_OK)
            continue;
        for (size_t i = 0; i < n_steps; i++, n_compared++)
            worst = fmax(worst, fabs(steps[i].se - plain_se(list, n, n_units, steps[i].t)));
    }
    tap_ok(n_compared > 200 && worst < 1e-7,
           "repeats: errors of 40 made-up fleets (seeds 1 to 40), %zu steps, as by the formula "
           "summed plainly: largest difference %.1e",
           n_compared, worst);
}

int main(void)
{
    test_leukaemia();
    test_aml();
    test_nist();
    test_entries();
    test_refusals();
    test_logrank();
    test_mean_small();
    test_mean_seats();
    test_mean_plainly();
    return tap_done();
}

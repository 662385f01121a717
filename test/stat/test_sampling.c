/* Sampling plans against R 4.2.2 (phyper, pbinom), published plans, and a search by brute force. */
#include "stat/sampling.h"

#include "stat/near.h"
#include "stat/special.h"

static void hypergeometric(void)
{
    /* R 4.2.2 phyper(c, D, N - D, n) */
    static const struct {
        int64_t lot, n, c, bad;
        double want;
    } rows[] = {{50, 8, 0, 1, 0.84},
                {50, 8, 0, 2, 0.702857142857143},
                {50, 8, 0, 5, 0.401493326285186},
                {100, 20, 1, 5, 0.739453444608084},
                {100, 20, 1, 10, 0.363049434207657},
                {280, 32, 1, 3, 0.96464542651593},
                {280, 32, 1, 14, 0.50886596748494},
                {280, 32, 1, 28, 0.140122219463436}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        near(stat_hypergeometric_cdf(rows[i].c, rows[i].n, rows[i].bad, rows[i].lot), rows[i].want,
             1e-12, "hypergeometric (R phyper)");
    near(stat_hypergeometric_cdf(0, 5, 0, 10), 1, 0, "nothing bad: surely accepted");
    near(stat_hypergeometric_cdf(0, 5, 6, 10), 0, 0, "five of ten with six bad hold one at least");
    near(stat_hypergeometric_cdf(3, 10, 3, 10), 1, 0, "the whole lot");
    near(stat_hypergeometric_cdf(2, 10, 3, 10), 0, 0, "the whole lot, all bad ones seen");
    /* 0 bad in a sample of half the lot with one bad: 1/2, whatever the size; two bad: (1/2)(N/2 - 1)/(N - 1). */
    near(stat_hypergeometric_cdf(0, 50000000, 1, 100000000), 0.5, 1e-15,
         "100 million, half of them looked at, one bad (by hand)");
    near(stat_hypergeometric_cdf(0, 50000000, 2, 100000000), 0.5 * 49999999.0 / 99999999.0, 1e-14,
         "and two bad (by hand)");
    near(stat_hypergeometric_cdf(25000000, 50000000, 50000000, 100000000),
         0.5 + 0.5 / (2500 * 2.5066282746310002), 1e-9,
         "the middle of a huge lot: half, and half of the middle term (sd 2500, de Moivre)");
}

/* By symmetry of sample and bad ones, and from one plan to the next by Pascal's rule: P(n + 1, c) from P(n, .). */
static void identities(void)
{
    double worst = 0, worst_sum = 0;
    for (int64_t lot = 2; lot <= 40; lot += 3)
        for (int64_t n = 0; n <= lot; n++)
            for (int64_t bad = 0; bad <= lot; bad++)
                for (int64_t c = 0; c <= n; c++) {
                    const double p = stat_hypergeometric_cdf(c, n, bad, lot);
                    worst = fmax(worst, fabs(p - stat_hypergeometric_cdf(c, bad, n, lot)));
                    /* bad in the sample <= c is good in the sample >= n - c */
                    worst_sum =
                        fmax(worst_sum,
                             fabs(p + stat_hypergeometric_cdf(n - c - 1, n, lot - bad, lot) - 1));
                }
    tap_ok(worst < 1e-13, "sample and bad ones may change places (largest difference %.2g)", worst);
    tap_ok(worst_sum < 1e-13, "good and bad are complements (largest difference %.2g)", worst_sum);
}

static void curve(void)
{
    /* NIST/SEMATECH e-Handbook 6.2.3.2, plan (52, 3); p = .01(.01).12 by R 4.2.2 pbinom (the handbook prints three digits). */
    static const double want[12] = {0.998153065260, 0.979765080120, 0.929537383868, 0.845989468474,
                                    0.738317410797, 0.619593873402, 0.501847251964, 0.393763025569,
                                    0.300279924626, 0.223187098561, 0.162065526684, 0.115198415950};
    static const double printed[6] = {
        .998, .980, .930, .845, .739, .620}; /* the 4th and 5th are off by one in the last digit */
    const struct stat_plan plan = {52, 3};
    for (int i = 0; i < 12; i++) {
        const double p = stat_plan_accepts(plan, 0, 0, (i + 1) / 100.0);
        near(p, want[i], 1e-11, "NIST plan (52, 3), operating curve (R pbinom)");
        if (i < 6)
            tap_ok(fabs(p - printed[i]) < 0.00151, "and as the handbook prints it: %.3f",
                   printed[i]);
    }
    near(stat_plan_accepts((struct stat_plan){5, 0}, 0, 0, 0.025), 0.881095693359, 1e-11,
         "code letter C, AQL 2.5: n 5, c 0 (R pbinom)");
    near(stat_plan_accepts((struct stat_plan){32, 2}, 0, 0, 0.10), 0.366683519081, 1e-11,
         "code letter G, AQL 2.5: n 32, c 2 (R pbinom)");
    near(stat_plan_accepts((struct stat_plan){80, 5}, 0, 0, 0.025), 0.984785378709, 1e-11,
         "code letter J, AQL 2.5: n 80, c 5 (R pbinom)");
}

static void plans(void)
{
    /* Published two-point plans, binomial (a statistics library's source list, each again by R). */
    static const struct {
        struct stat_promise p;
        int64_t n, c;
        const char *name;
    } rows[] = {{{0, .05, .15, .05, .075}, 80, 7, "(.05, .95) and (.15, .075): n 80, c 7"},
                {{0, .01, .05, .02, .15}, 144, 4, "(.01, .98) and (.05, .15): n 144, c 4"},
                {{0, 0, .05, .05, .05},
                 59,
                 0,
                 "none bad at 95 % reliability, 95 % confidence: 59 (58.404 by R)"},
                {{0, 0, .10, .05, .05},
                 29,
                 0,
                 "none bad at 90 % reliability, 95 % confidence: 29 (28.433 by R)"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct stat_plan plan = {0};
        const enum err e = stat_plan_find(&rows[i].p, 100000, NULL, NULL, &plan);
        tap_ok(e == ERR_OK && plan.n == rows[i].n && plan.c == rows[i].c,
               "published plan %s (found %lld, %lld)", rows[i].name, (long long)plan.n,
               (long long)plan.c);
    }
    struct stat_plan plan = {144, 4};
    near(1 - stat_plan_accepts(plan, 0, 0, .01), 0.01534843, 1e-6,
         "its producer's risk, printed 0.01534843");
    near(stat_plan_accepts(plan, 0, 0, .05), 0.1487162, 1e-6,
         "its consumer's risk, printed 0.1487162");
    tap_ok(stat_plan_find(&(struct stat_promise){0, .0100, .0101, .05, .05}, 1000, NULL, NULL,
                          &plan) == ERR_IMPOSSIBLE,
           "none within 1000");
}

static bool by_force(const struct stat_promise *p, struct stat_plan *ret)
{
    const int64_t fine = (int64_t)floor(p->fine_share * (double)p->lot + 5e-7),
                  poor = (int64_t)ceil(p->poor_share * (double)p->lot - 5e-7);
    for (int64_t n = 1; n <= p->lot; n++)
        for (int64_t c = 0; c < n; c++)
            if (stat_hypergeometric_cdf(c, n, fine, p->lot) >= 1 - p->producer &&
                stat_hypergeometric_cdf(c, n, poor, p->lot) <= p->consumer) {
                *ret = (struct stat_plan){n, c};
                return true;
            }
    return false;
}

static void force(void)
{
    size_t n_off = 0, n = 0;
    for (int64_t lot = 4; lot <= 64; lot += 5)
        for (int fine = 0; fine <= 10; fine += 2)
            for (int poor = fine + 4; poor <= 40; poor += 6) {
                const struct stat_promise p = {lot, fine / 100.0, poor / 100.0, 0.05, 0.10};
                struct stat_plan a = {0}, b = {0};
                if (floor(p.fine_share * (double)lot + 5e-7) >=
                    ceil(p.poor_share * (double)lot - 5e-7))
                    continue;
                const bool has_a = stat_plan_find(&p, 100000, NULL, NULL, &a) == ERR_OK,
                           has_b = by_force(&p, &b);
                n++;
                n_off += has_a != has_b || (has_b && (a.n != b.n || a.c != b.c));
            }
    tap_ok(n > 300 && n_off == 0,
           "the search agrees with brute force on %zu lots and promises (%zu do not)", n, n_off);
}

/* What a lot may hold: the ends are those of the exact tests, found by asking every number of bad ones. */
static void lots(void)
{
    size_t n_off = 0;
    for (int64_t lot = 5; lot <= 60; lot += 11)
        for (int64_t n = 1; n <= lot; n += 4)
            for (int64_t k = 0; k <= n; k++) {
                int64_t low = 0, high = 0, low_2 = -1, high_2 = -1;
                stat_lot_interval(k, n, lot, 0.95, &low, &high);
                for (int64_t bad = k; bad <= lot - (n - k); bad++) {
                    if (low_2 < 0 &&
                        1 - stat_hypergeometric_cdf(k - 1, n, bad, lot) > (1 - 0.95) / 2)
                        low_2 = bad;
                    if (stat_hypergeometric_cdf(k, n, bad, lot) > (1 - 0.95) / 2)
                        high_2 = bad;
                }
                n_off += low != low_2 || high != high_2;
            }
    tap_ok(n_off == 0, "what a lot may hold, against every number asked (%zu differ)", n_off);
    int64_t low = 0, high = 0;
    stat_lot_interval(3, 52, 100000000, 0.95, &low, &high);
    tap_ok(fabs((double)low / 1e8 - 0.0120593180267384) < 1e-6 &&
               fabs((double)high / 1e8 - 0.159473358638591) < 1e-6,
           "3 of 52 from a huge lot: Clopper and Pearson's interval (R binom.test)");
}

int main(void)
{
    hypergeometric();
    identities();
    curve();
    plans();
    force();
    lots();
    return tap_done();
}

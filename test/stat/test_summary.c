/* Means, spreads and lines against NIST StRD certified values; quantiles against worked small cases. The log relative
 * error (digits right) is printed for the hard ones. */
#include "stat/line.h"
#include "stat/near.h"
#include "stat/summary.h"

#include <stdlib.h>

static double digits(double got, double want)
{
    const double off = fabs(got - want) / fabs(want);
    return off > 0 ? fmin(15, -log10(off)) : 15;
}

static void certified(const char *name, const double *x, size_t n, double mean, double sd,
                      double least)
{
    double m = 0, s = 0;
    stat_mean_sd(x, n, &m, &s);
    tap_note("%s: digits right: mean %.1f, sd %.1f", name, digits(m, mean), digits(s, sd));
    tap_ok(digits(m, mean) >= 14, "NIST StRD %s: mean", name);
    tap_ok(digits(s, sd) >= least, "NIST StRD %s: standard deviation to %g digits", name, least);
}

/* NumAcc2, 3, 4: B + .2, then 500 times the pair B + .1, B + .3. Least digits: what the data keep as doubles, which step by
 * 1.2e-10 at 10^6 and 1.9e-9 at 10^7. */
static void num_acc(const char *name, double base, double least)
{
    static double x[1001];
    x[0] = base + .2;
    for (size_t i = 1; i < 1001; i += 2) {
        x[i] = base + .1;
        x[i + 1] = base + .3;
    }
    certified(name, x, 1001, base + .2, 0.1, least);
}

static const short michelson[100] = {/* 299 + x/1000 */
                                     850, 740, 900, 1070, 930,  850,  950, 980, 980, 880, 1000, 980,
                                     930, 650, 760, 810,  1000, 1000, 960, 960, 960, 940, 960,  940,
                                     880, 800, 850, 880,  900,  840,  830, 790, 810, 880, 880,  830,
                                     800, 790, 760, 800,  880,  880,  880, 860, 720, 720, 620,  860,
                                     970, 950, 880, 910,  850,  870,  840, 840, 850, 840, 840,  840,
                                     890, 810, 810, 820,  800,  770,  760, 740, 750, 760, 910,  920,
                                     890, 860, 880, 720,  840,  850,  850, 780, 890, 840, 780,  810,
                                     760, 810, 790, 810,  820,  850,  870, 870, 810, 740, 810,  940,
                                     950, 800, 810, 870};

static void sums(void)
{
    static const double acc1[] = {10000001, 10000003, 10000002};
    static double light[100];
    certified("NumAcc1", acc1, 3, 10000002, 1, 15);
    num_acc("NumAcc2", 1, 14);
    num_acc("NumAcc3", 1e6, 9);
    num_acc("NumAcc4", 1e7, 8);
    for (size_t i = 0; i < 100; i++)
        light[i] = 299 + michelson[i] / 1000.0;
    certified("Michelso", light, 100, 299.852400000000, 0.0790105478190518, 12);
    double m = 0, s = 1;
    stat_mean_sd((const double[]){5}, 1, &m, &s);
    tap_ok(m == 5 && s == 0, "one value: itself, spread 0");
    stat_mean_sd((const double[]){1e300, 1e300, 1e300}, 3, &m, &s);
    near(m, 1e300, 1e-15, "large values do not overflow in the mean");
}

static void quantiles(void)
{
    /* Position (n - 1) p, by hand: 1..5, p 0.8: position 3.2. */
    static const double x[] = {1, 2, 3, 4, 5};
    near(stat_quantile(x, 5, 0.8), 4.2, 1e-15, "Hyndman and Fan 7, by hand");
    near(stat_quantile(x, 5, 0.5), 3, 0, "median of five");
    near(stat_quantile(x, 4, 0.5), 2.5, 0, "median of four");
    near(stat_quantile(x, 5, 0), 1, 0, "least");
    near(stat_quantile(x, 5, 1), 5, 0, "greatest");
    near(stat_quantile(x, 1, 0.3), 1, 0, "of one");
    /* Sign test intervals, by binomial sums: n = 5: 1 - 2/32 = 0.9375 < 0.95; n = 6: 1 - 2/64 = 0.96875; n = 20: ranks 6 and 15,
     * 0.9586 (the same ranks stand in printed tables of the sign test; from memory). */
    double y[20], low = 0, high = 0;
    for (size_t i = 0; i < 20; i++)
        y[i] = (double)i + 1;
    tap_ok(!stat_quantile_interval(y, 5, 0.5, 0.95, &low, &high), "5 values: none for the median");
    tap_ok(stat_quantile_interval(y, 6, 0.5, 0.95, &low, &high) && low == 1 && high == 6,
           "6 values: the whole range (1 - 2/64)");
    tap_ok(stat_quantile_interval(y, 20, 0.5, 0.95, &low, &high) && low == 6 && high == 15,
           "20 values: ranks 6 and 15");
}

static void lines(void)
{
    /* Anscombe's first set (The American Statistician 27(1), 17-21, 1973), which prints: intercept 3.0, slope 0.5, r2 .667,
     * standard error of the slope .118. */
    static const double x[] = {10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5};
    static const double y[] = {8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68};
    struct stat_line l;
    tap_ok(stat_line_fit(x, y, 11, &l), "a line is found");
    tap_ok(fabs(l.intercept - 3.0) < 0.005 && fabs(l.slope - 0.5) < 0.0005,
           "Anscombe: y = 3 + 0.5 x");
    tap_ok(fabs(l.se_slope - 0.118) < 0.0005 && fabs(l.r2 - 0.667) < 0.0006,
           "Anscombe: se .118, r2 .667");
    near(l.residual_sd * l.residual_sd * 9, 13.75, 0.002,
         "Anscombe: residual sum of squares 13.75");
    tap_ok(!stat_line_fit(x, y, 1, &l), "one point makes no line");
    tap_ok(!stat_line_fit((const double[]){2, 2}, y, 2, &l), "points above one another make none");
    tap_ok(stat_line_fit((const double[]){1, 2}, (const double[]){3, 3}, 2, &l) && l.slope == 0 &&
               l.r2 == 1 && l.se_slope == 0,
           "two points: a line through both, and nothing is not a number");
}

int main(void)
{
    sums();
    quantiles();
    lines();
    return tap_done();
}

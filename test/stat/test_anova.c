/* Sums of squares against NIST StRD's certified values and a published gauge study. Digits right are printed. */
#include "stat/anova.h"

#include "base/number.h"

#include "stat/near.h"

#include <stdio.h>

static double digits(double got, double want)
{
    const double off = fabs(got - want) / fabs(want);
    return off > 0 ? fmin(15, -log10(off)) : 15;
}

/* NIST StRD, SiRstv: 5 instruments x 5 (read from the StRD file). */
static void silicon(void)
{
    static const double y[25] = {
        196.3052, 196.1240, 196.1890, 196.2569, 196.3403, 196.3042, 196.3825, 196.1669, 196.3257,
        196.0422, 196.1303, 196.2005, 196.2889, 196.0343, 196.1811, 196.2795, 196.1748, 196.1494,
        196.1485, 195.9885, 196.2119, 196.1051, 196.1850, 196.0052, 196.2090};
    uint32_t group[25];
    struct stat_oneway r = {0};
    for (uint32_t i = 0; i < 25; i++)
        group[i] = i / 5;
    tap_ok(stat_oneway(y, group, 25, 5, &r) == ERR_OK, "SiRstv is worked");
    const struct {
        const char *name;
        double got, want;
    } rows[] = {{"between sum of squares", r.between.ss, 5.11462616000000E-02},
                {"between mean square", r.between.ms, 1.27865654000000E-02},
                {"within sum of squares", r.within.ss, 2.16636560000000E-01},
                {"within mean square", r.within.ms, 1.08318280000000E-02},
                {"F", r.between.f, 1.18046237440255E+00},
                {"R squared", r.r2, 1.90999039051129E-01},
                {"residual sd", r.residual_sd, 1.04076068334656E-01}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        tap_note("SiRstv %s: %.1f digits right", rows[i].name, digits(rows[i].got, rows[i].want));
        tap_ok(digits(rows[i].got, rows[i].want) >= 9, "NIST StRD SiRstv: %s to 9 digits",
               rows[i].name);
    }
    tap_ok(r.between.df == 4 && r.within.df == 20, "NIST StRD SiRstv: degrees of freedom");
}

/* NIST StRD, SmLs01, 04, 07: 9 treatments x 21 (read from the StRD files), as the files print them: `whole` and one decimal. First
 * as doubles, which near 10^12 step by 1.2e-4, so that no method can give more than about 3 digits of SmLs07 (R 4.2.2, two passes:
 * F 20.98860321976674). Then as studies read them (base/number.h: the double and what it leaves of the decimal), less the first
 * value: what is asked for then is 13 digits of all three. */
static void stacked(const char *name, const char *whole, double least)
{
    static const int first[9] = {4, 3, 5, 3, 5, 3, 5, 3, 5}; /* tenths */
    double y[189], shifted[189], rest[189];
    uint32_t group[189];
    struct stat_oneway r = {0};
    bool is_read = true;
    for (size_t i = 0; i < 189; i++) { /* first, then (first - .1), (first + .1) in turn */
        const size_t at = i % 21;
        char text[40];
        group[i] = (uint32_t)(i / 21);
        const int tenths = first[i / 21] + (at == 0 ? 0 : at % 2 == 1 ? -1 : 1);
        const int n = snprintf(text, sizeof text, "%s.%d", whole, tenths);
        is_read = is_read && number_read(text, (size_t)n, &y[i], &rest[i]);
        shifted[i] = (y[i] - y[0]) + rest[i];
    }
    tap_ok(is_read && stat_oneway(y, group, 189, 9, &r) == ERR_OK, "%s is worked", name);
    tap_note("%s as doubles: F %.17g, digits right: F %.1f, between %.1f, within %.1f", name,
             r.between.f, digits(r.between.f, 21), digits(r.between.ss, 1.68),
             digits(r.within.ss, 1.80));
    tap_ok(digits(r.between.f, 21) >= least && digits(r.between.ss, 1.68) >= least &&
               digits(r.within.ss, 1.80) >= least,
           "NIST StRD %s as doubles: F and sums of squares to %g digits", name, least);
    tap_ok(stat_oneway(shifted, group, 189, 9, &r) == ERR_OK, "%s as it is read is worked", name);
    const struct {
        const char *name;
        double got, want;
    } rows[] = {{"between sum of squares", r.between.ss, 1.68},
                {"between mean square", r.between.ms, 0.21},
                {"within sum of squares", r.within.ss, 1.80},
                {"within mean square", r.within.ms, 0.01},
                {"F", r.between.f, 21},
                {"R squared", r.r2, 4.82758620689655E-01},
                {"residual sd", r.residual_sd, 0.1}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        tap_note("%s %s: %.1f digits right (log relative error)", name, rows[i].name,
                 digits(rows[i].got, rows[i].want));
        tap_ok(digits(rows[i].got, rows[i].want) >= 13,
               "NIST StRD %s as it is read: %s to 13 digits", name, rows[i].name);
    }
}

/* 10 parts x 3 appraisers x 3 trials (AIAG MSA manual's example; data from memory; the figures by R 4.2.2 aov). */
static const double aiag[9][10] = {
    {0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36},
    {0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25},
    {0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31},
    {0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68},
    {0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62},
    {0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50},
    {0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49},
    {-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77},
    {-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16}};

static void crossed(void)
{
    double y[90];
    struct stat_crossed r = {0};
    for (size_t p = 0; p < 10; p++)
        for (size_t o = 0; o < 3; o++)
            for (size_t k = 0; k < 3; k++)
                y[(p * 3 + o) * 3 + k] = aiag[o * 3 + k][p];
    tap_ok(stat_crossed(y, 10, 3, 3, &r) == ERR_OK, "the published study is worked");
    near(r.a.ss, 88.361934444444, 1e-12, "parts, sum of squares (R aov)");
    near(r.b.ss, 3.1672622222222, 1e-12, "appraisers, sum of squares");
    near(r.ab.ss, 0.35898222222222, 1e-12, "interaction, sum of squares");
    near(r.within.ss, 2.7589333333333, 1e-12, "within, sum of squares");
    near(r.ab.f, 0.43372, 2e-5, "interaction, F as printed");
    near(r.ab.p, 0.97411, 1e-5, "interaction, p as printed");
    near(r.a.ms / r.within.ms, 213.51714, 1e-7,
         "parts against the within-cell error, F as aov prints it");
    tap_ok(r.a.df == 9 && r.b.df == 2 && r.ab.df == 18 && r.within.df == 60 && r.total.df == 89,
           "degrees of freedom");
    tap_ok(stat_crossed(y, 1, 3, 3, &r) == ERR_DOMAIN && stat_crossed(y, 3, 3, 1, &r) == ERR_DOMAIN,
           "too small a layout is refused");
    for (size_t i = 0; i < 90; i++)
        y[i] = 7;
    tap_ok(stat_crossed(y, 10, 3, 3, &r) == ERR_OK && r.total.ss == 0 && isnan(r.ab.f),
           "constant data: no F, and no division by nothing");
}

static void refusals(void)
{
    static const double y[3] = {1, 2, 3};
    struct stat_oneway r = {0};
    tap_ok(stat_oneway(y, (const uint32_t[]){0, 0, 0}, 3, 1, &r) == ERR_DOMAIN,
           "one group is refused");
    tap_ok(stat_oneway(y, (const uint32_t[]){0, 1, 2}, 3, 3, &r) == ERR_DOMAIN,
           "one value a group is refused");
    tap_ok(stat_oneway(y, (const uint32_t[]){0, 0, 0}, 3, 2, &r) == ERR_DOMAIN,
           "an empty group is refused");
}

int main(void)
{
    silicon();
    stacked("SmLs01", "1", 12);
    stacked("SmLs04", "1000000", 9);
    stacked("SmLs07", "1000000000000", 3);
    crossed();
    refusals();
    return tap_done();
}

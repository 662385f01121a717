/* Rows for core/conform: JCGM 106:2012 cases, guard bands, resolution (JCGM 100:2008), global
 * risks, refusals. The stories of the JCGM 106 cases are from memory, their numbers from
 * scipy 1.10.1. */
#include "core/conform.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define IN      25400000.0 /* nm */
#define NO_LOW  INT64_MIN
#define NO_HIGH INT64_MAX

static bool is_near(double got, double want, double absolute)
{
    return fabs(got - want) <= absolute;
}

static void probability_rows(void)
{
    /* Absolute tolerance 2e-15 where the inputs are whole nano; 1e-12 where u was rounded to 17
     * digits of an inch. */
    static const struct {
        const char *what;
        int64_t reading;
        double u;
        int64_t low, high;
        double want, tolerance;
        const char *source;
    } rows[] = {
        {"Zener voltage -5.47 V, u 0.05, at most -5.40", -5470000000, 5e7, NO_LOW, -5400000000,
         0.9192433407662289, 2e-15, "JCGM 106 Zener case (printed 0.92), scipy 1.10.1"},
        {"oil viscosity 13.6, u 1.8, 12.5..16.3", 13600000000, 1.8e9, 12500000000, 16300000000,
         0.6626297864953079, 2e-15, "JCGM 106 oil case, arguments unrounded, scipy 1.10.1"},
        {"gap 0.5 in, u 0.02", 12700000, 0.02 * IN, 11112500, 14287500, 0.9982219494017832, 1e-14,
         "scipy 1.10.1"},
        {"gap 0.55 in, u 0.02", 13970000, 0.02 * IN, 11112500, 14287500, 0.7340144616759, 1e-13,
         "scipy 1.10.1, 13 digits given"},
        {"gap 0.5625 in, u 0.02", 14287500, 0.02 * IN, 11112500, 14287500, 0.49999999979477366,
         1e-14, "scipy 1.10.1"},
        {"gap 0.58 in, u 0.02", 14732000, 0.02 * IN, 11112500, 14287500, 0.19078695285199077, 1e-14,
         "scipy 1.10.1"},
        {"gap 0.53125 in, u of 1/16 in", 13493750, 0.018042195912175808 * IN, 11112500, 14287500,
         0.9583676399404941, 1e-14, "scipy 1.10.1"},
        {"exact reading on the limit", 100, 0.0, 0, 100, 1.0, 0.0, "limits belong to the inside"},
        {"exact reading past the limit", 101, 0.0, 0, 100, 0.0, 0.0, "definition"},
        {"no limits at all", 5, 3.0, NO_LOW, NO_HIGH, 1.0, 0.0, "definition"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double got = conform_p(rows[i].reading, rows[i].u,
                                     (struct conform_limits){rows[i].low, rows[i].high});
        if (!tap_ok(is_near(got, rows[i].want, rows[i].tolerance), "%s: %.16g (%s)", rows[i].what,
                    rows[i].want, rows[i].source))
            tap_note("got %.17g", got);
    }
    const double bad = conform_p(0, -1.0, (struct conform_limits){0, 1});
    tap_ok(bad != bad, "a negative uncertainty has no probability (header)");
}

static void guard_rows(void)
{
    static const struct {
        const char *what;
        double u, risk;
        enum err e;
        int64_t want;
        const char *source;
    } rows[] = {
        {"0.02 in at 5 %", 508000.0, 0.05, ERR_OK, 835586,
         "1.6448536269514722 x 508000 = 835585.64, up; scipy 1.10.1 norm.ppf"},
        {"0.02 in at 1 %", 508000.0, 0.01, ERR_OK, 1181785,
         "2.3263478740408408 x 508000 = 1181784.72, up; scipy 1.10.1 norm.ppf"},
        {"0.3 mm at 5 %", 300000.0, 0.05, ERR_OK, 493457,
         "1.6448536269514722 x 300000 = 493456.09, up"},
        {"risk one half", 508000.0, 0.5, ERR_OK, 0, "z(0.5) = 0"},
        {"exact reading", 0.0, 0.05, ERR_OK, 0, "z x 0"},
        {"a hair of an uncertainty", 1e-9, 0.05, ERR_OK, 1, "rounded up to a whole nm, contract"},
        {"risk 0", 1.0, 0.0, ERR_DOMAIN, 0, "contract"},
        {"risk above one half", 1.0, 0.500001, ERR_DOMAIN, 0, "contract"},
        {"risk not a number", 1.0, (double)NAN, ERR_DOMAIN, 0, "contract"},
        {"u negative", -1.0, 0.05, ERR_DOMAIN, 0, "contract"},
        {"u not a number", (double)NAN, 0.05, ERR_DOMAIN, 0, "contract"},
        {"u infinite", (double)INFINITY, 0.05, ERR_DOMAIN, 0, "contract"},
        {"u beyond int64", 1e19, 0.05, ERR_RANGE, 0, "contract"},
        {"band just beyond int64", 5.61e18, 0.05, ERR_RANGE, 0, "5.61e18 x 1.645 > 2^63"},
        {"band just within int64", 5.6e18, 0.05, ERR_OK, 9211180310928244736,
         "ceil(1.6448536269514722 x 5.6e18) in doubles, whose step there is 1024"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t got = 0;
        const enum err e = conform_guard(rows[i].u, rows[i].risk, &got);
        const bool is_close =
            rows[i].want > 1000000000 ? llabs(got - rows[i].want) <= 4096 : got == rows[i].want;
        if (!tap_ok(e == rows[i].e && is_close, "guard band, %s: %s %" PRId64 " (%s)", rows[i].what,
                    err_symbol(rows[i].e), rows[i].want, rows[i].source))
            tap_note("got %s %" PRId64, err_symbol(e), got);
    }
}

static void narrow_rows(void)
{
    static const struct {
        int64_t low, high, guard;
        enum err e;
        int64_t want_low, want_high;
        const char *why;
    } rows[] = {
        {0, 100, 10, ERR_OK, 10, 90, "both moved in"},
        {0, 100, 50, ERR_OK, 50, 50, "they meet"},
        {0, 100, 51, ERR_OK, 50, 50, "they cross: the midpoint"},
        {0, 101, 60, ERR_OK, 50, 50, "midpoint 50.5 rounded down"},
        {-101, 0, 60, ERR_OK, -51, -51, "midpoint -50.5 rounded down, not to zero"},
        {NO_LOW, 100, 10, ERR_OK, NO_LOW, 90, "no low limit"},
        {0, NO_HIGH, 10, ERR_OK, 10, NO_HIGH, "no high limit"},
        {NO_LOW, NO_HIGH, 10, ERR_OK, NO_LOW, NO_HIGH, "no limits"},
        {INT64_MIN + 1, INT64_MAX - 1, INT64_MAX, ERR_OK, -1, -1,
         "widest, midpoint -1/2 rounded down"},
        {1, 0, 0, ERR_ORDER, 0, 0, "low above high"},
        {0, 1, -1, ERR_DOMAIN, 0, 0, "a negative guard"},
        {INT64_MAX - 5, NO_HIGH, 10, ERR_RANGE, 0, 0, "past int64 on one side"},
        {NO_LOW, INT64_MIN + 5, 10, ERR_RANGE, 0, 0, "past int64 on the other"},
        {INT64_MAX - 5, NO_HIGH, 5, ERR_RANGE, 0, 0, "would look like no limit"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct conform_limits got = {0, 0};
        const enum err e =
            conform_narrow((struct conform_limits){rows[i].low, rows[i].high}, rows[i].guard, &got);
        const bool is_good =
            e == rows[i].e &&
            (e != ERR_OK || (got.low == rows[i].want_low && got.high == rows[i].want_high));
        tap_ok(is_good, "guarded limits: %s (contract and integer arithmetic)", rows[i].why);
    }
}

static void judge_rows(void)
{
    /* Limits 56..61 mm, u = 0.3 mm, risk 5 %: band 0.493457 mm; guarded 56.493457..60.506543. */
    static const struct {
        int64_t reading;
        enum verdict simple, guarded;
        int64_t margin;
        const char *why;
    } rows[] = {
        {58000000, VERDICT_INSIDE, VERDICT_INSIDE, 2000000, "well inside"},
        {60506543, VERDICT_INSIDE, VERDICT_INSIDE, 493457, "on the guarded limit: inside"},
        {60506544, VERDICT_INSIDE, VERDICT_UNCERTAIN, 493456, "1 nm past it"},
        {61000000, VERDICT_INSIDE, VERDICT_UNCERTAIN, 0, "on the limit"},
        {61000001, VERDICT_OUTSIDE, VERDICT_UNCERTAIN, -1, "past the limit, within the band"},
        {61493457, VERDICT_OUTSIDE, VERDICT_UNCERTAIN, -493457, "beyond by the band, not more"},
        {61493458, VERDICT_OUTSIDE, VERDICT_OUTSIDE, -493458, "beyond by more than the band"},
        {55506543, VERDICT_OUTSIDE, VERDICT_UNCERTAIN, -493457, "below by the band"},
        {55506542, VERDICT_OUTSIDE, VERDICT_OUTSIDE, -493458, "below by more"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct conform_answer a;
        const enum err e = conform_judge(rows[i].reading, 300000.0,
                                         (struct conform_limits){56000000, 61000000}, 0.05, &a);
        tap_ok(e == ERR_OK && a.simple == rows[i].simple && a.guarded == rows[i].guarded &&
                   a.margin == rows[i].margin && a.guard == 493457,
               "judged: %s (contract)", rows[i].why);
    }
    struct conform_answer a;
    tap_ok(conform_judge(0, 1.0, (struct conform_limits){2, 1}, 0.05, &a) == ERR_ORDER,
           "low above high is refused (ERR_ORDER)");
    tap_ok(conform_judge(0, -1.0, (struct conform_limits){1, 2}, 0.05, &a) == ERR_DOMAIN,
           "negative uncertainty is refused (ERR_DOMAIN)");
    tap_ok(conform_judge(INT64_MAX, 1.0, (struct conform_limits){INT64_MIN + 1, -2}, 0.05, &a) ==
               ERR_RANGE,
           "a margin beyond int64 is refused (ERR_RANGE)");
    tap_ok(conform_judge(12700000, 0.0, (struct conform_limits){NO_LOW, NO_HIGH}, 0.05, &a) ==
                   ERR_OK &&
               a.margin == INT64_MAX,
           "without limits the margin is the greatest number (header)");
    tap_ok(strcmp(conform_verdict_name(VERDICT_UNCERTAIN), "uncertain") == 0 &&
               strcmp(conform_verdict_name(VERDICT_INSIDE), "inside") == 0 &&
               strcmp(conform_verdict_name(VERDICT_OUTSIDE), "outside") == 0,
           "verdicts are named as in the contract");
}

static void uncertainty_rows(void)
{
    static const struct {
        const char *what;
        struct conform_u parts;
        double want;
        const char *source;
    } rows[] = {
        {"resolution 1/16 in", {1587500, 0.0, 0.0}, 0.018042195912175808 * IN, "GUM F.2.2.1"},
        {"resolution 1/32 in", {793750, 0.0, 0.0}, 0.009021097956087904 * IN, "GUM F.2.2.1"},
        {"resolution 1 mm", {1000000, 0.0, 0.0}, 288675.13459481287, "GUM F.2.2.1: 0.2887 d"},
        {"3 and 4", {0, 3.0, 4.0}, 5.0, "root sum of squares, GUM 5.1.2"},
        {"none", {0, 0.0, 0.0}, 0.0, "definition"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tap_ok(is_near(conform_combine(rows[i].parts), rows[i].want, 1e-14 * rows[i].want),
               "%s: u = %.12g (%s)", rows[i].what, rows[i].want, rows[i].source);
}

static void risk_rows(void)
{
    /* 1e-12 is what the header promises. scipy was given 1499.8 as a double, 1e-13 off, which moves
     * the results by 9e-14. The rows by mpmath 1.3.0 (30 digits) have a gauge far sharper and far
     * coarser than the process. */
    static const struct {
        double mean, s, um, low, high, w, consumer, producer, accept;
        const char *source;
    } rows[] = {
        {1500, 0.12, 0.04, 1499.8, 1500.2, 0, 0.01894220671694175, 0.037207800177953596,
         0.886153701993424, "JCGM 106 9.5 case, scipy 1.10.1 quad"},
        {1500, 0.12, 0.04, 1499.8, 1500.2, 0.04, 0.004334072221801687, 0.11465657840795807,
         0.7940967892681638, "JCGM 106 9.5 case, scipy 1.10.1 quad"},
        {1500, 0.12, 0.04, 1499.8, 1500.2, 0.08, 0.00046863359886933404, 0.2476696402005545,
         0.6572182888525642, "JCGM 106 9.5 case, scipy 1.10.1 quad"},
        {1500, 0.12, 0.04, 1499.8, 1500.2, -0.04, 0.04489816527634412, 0.007097031854486178,
         0.9422204288764122, "JCGM 106 9.5 case, scipy 1.10.1 quad"},
        {0.5, 0.03, 0.01, 0.4375, 0.5625, 0, 0.008123881422131171, 0.01900985893087784,
         0.9518931721114807, "gap case, scipy 1.10.1 quad"},
        {0.5, 0.03, 0.01, 0.4375, 0.5625, 0.01, 0.0018875421248348329, 0.061541766771336735,
         0.9031249249737254, "gap case, scipy 1.10.1 quad"},
        {0, 1, 0.001, -1, 1, 0, 0.00019294371995831515, 0.00019318569056184899, 0.68268925016648236,
         "sharp gauge, mpmath 1.3.0"},
        {0, 1, 50, -1, 2, -20, 0.060324688463694469, 0.54619311542576271, 0.3327261871582955,
         "coarse gauge, mpmath 1.3.0"},
        {5, 1, 0.5, -1, 1, 0, 0.00015250220155301792, 1.0902906787493954e-5, 0.00017326955001099885,
         "process far off, mpmath 1.3.0"},
        {0.3, 1, 0.25, -1, 1, 1.5, 0.0, 0.66123586319131665, 0.0,
         "limits of acceptance cross: nothing is accepted, mpmath 1.3.0"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct conform_risks got = {0};
        const enum err e = conform_risks(rows[i].mean, rows[i].s, rows[i].um, rows[i].low,
                                         rows[i].high, rows[i].w, &got);
        if (!tap_ok(e == ERR_OK && is_near(got.consumer, rows[i].consumer, 1e-12) &&
                        is_near(got.producer, rows[i].producer, 1e-12) &&
                        is_near(got.accept, rows[i].accept, 1e-12),
                    "risks for um/u0 = %g, w = %g (%s)", rows[i].um / rows[i].s, rows[i].w,
                    rows[i].source))
            tap_note("got %.17g %.17g %.17g", got.consumer, got.producer, got.accept);
    }
    /* P(accept) = 1 - P(outside) - RP + RC, exact for any guard band. P(outside) = 2 Phi(-5/3). */
    for (int i = -10; i <= 15; i++) {
        struct conform_risks got = {0};
        const enum err e = conform_risks(0, 0.12, 0.04, -0.2, 0.2, i * 0.01, &got);
        const double by_parts = 1 - 0.0955807045456294 - got.producer + got.consumer;
        tap_ok(e == ERR_OK && is_near(got.accept, by_parts, 1e-12),
               "w = %g: accept = 1 - outside - producer + consumer (identity; scipy 1.10.1 for "
               "outside)",
               i * 0.01);
    }
    struct conform_risks r;
    tap_ok(conform_risks(0, 0, 1, -1, 1, 0, &r) == ERR_DOMAIN, "process without spread is refused");
    tap_ok(conform_risks(0, 1, -1, -1, 1, 0, &r) == ERR_DOMAIN, "negative spread is refused");
    tap_ok(conform_risks(0, 1, (double)NAN, -1, 1, 0, &r) == ERR_DOMAIN, "NaN is refused");
    tap_ok(conform_risks(0, 1, 1, 1, -1, 0, &r) == ERR_ORDER, "low above high is refused");
    tap_ok(conform_risks(0, 1, 1, -(double)INFINITY, 0, 0, &r) == ERR_OK &&
               is_near(r.accept, 0.5, 1e-14) && is_near(r.consumer, 0.125, 1e-12),
           "one limit only, equal spreads: accept 1/2, consumer 1/8 (angle pi/4 of the plane)");
}

int main(void)
{
    probability_rows();
    guard_rows();
    narrow_rows();
    judge_rows();
    uncertainty_rows();
    risk_rows();
    return tap_done();
}

/* Indices of final readings: by hand, with quantiles from R; the measurement's share; limits that change; too few. */
#include "desk/study_capability.h"

#include "desk/study_try.h"

#include <stdlib.h>

static const struct study_capability_order plain = {
    .unit = UNIT_MM, .low_nano = 56000000, .high_nano = 61000000, .confidence = 0.95};

static enum err capability(const char *csv, const char *low, struct study_capability_order o,
                           struct study_capability *c, struct fault *f)
{
    const struct study_capability_columns columns = {
        .value = "v", .point = "p", .by = "s", .low = low, .high = low != NULL ? "high" : NULL};
    struct study_want wants[CAPABILITY_COLUMNS];
    study_capability_wants(&columns, o.unit, wants);
    struct study_table *t = try_table(csv, wants, CAPABILITY_COLUMNS);
    study_capability_done(c);
    *f = (struct fault){0};
    *c = (struct study_capability){0};
    const enum err e = t != NULL ? study_capability(t, &o, c, f) : ERR_IO;
    study_table_free(t);
    if (e != ERR_OK) /* what the tests look at is there, and fails them */
        c->groups = calloc(4, sizeof *c->groups);
    if (c->groups == NULL)
        abort();
    return e;
}

/* 57, 58, 59, 58, 58: mean 58, sd sqrt(2/4); Pp = 5/(6 sd), Ppk = 2/(3 sd), by hand. */
static void by_hand(void)
{
    struct study_capability c = {0};
    struct fault f;
    struct study_capability_order o = plain;
    const char *csv = "p,s,v\nx,A,57\nx,A,58\nx,A,59\nx,A,58\nx,A,58\n";
    o.u_nano = 500000;
    o.least_ppk = 1;
    tap_ok(capability(csv, NULL, o, &c, &f) == ERR_OK && c.n_groups == 1 && c.groups[0].has_index &&
               c.groups[0].has_pp,
           "five readings");
    const struct study_capability_group *g = &c.groups[0];
    near(g->pp, 5 / (6 * sqrt(0.5)), 1e-12, "Pp (by hand)");
    near(g->ppk, 2 / (3 * sqrt(0.5)), 1e-12, "Ppk (by hand)");
    /* chi-square, 4 df: R qchisq(.025, 4) 0.48441855708793, qchisq(.975, 4) 11.1432867818778 (printed tables: 0.484, 11.143) */
    near(g->pp_i.low, 5 / (6 * sqrt(0.5)) * sqrt(0.48441855708793 / 4), 1e-9,
         "Pp's interval, low (chi-square tables)");
    near(g->pp_i.high, 5 / (6 * sqrt(0.5)) * sqrt(11.1432867818778 / 4), 1e-9,
         "Pp's interval, high");
    /* Bissell: Ppk^2 = 8/9: half width 1.959963984540054 sqrt(1/45 + (8/9)/8) = z sqrt(2/15) */
    near(g->ppk_i.high - g->ppk, 1.959963984540054 * sqrt(2.0 / 15), 1e-9,
         "Ppk's interval (Bissell's formula by hand)");
    near(g->measured_share, 0.5, 1e-12, "u = 0.5: half of the variance is measuring (by hand)");
    near(g->process_sd, 0.5, 1e-12, "what is left to the work (by hand)");
    near(g->process_ppk, 2 / 1.5, 1e-12, "its Ppk (by hand)");
    tap_ok(g->is_short && c.n_short == 1, "0.943 falls short of 1");
    near(g->outside_i.high, 1 - pow(0.025, 0.2), 1e-9,
         "none of five outside: up to 1 - .025^(1/5) (by hand)");
    study_capability_done(&c);
    o.u_nano = 2000000;
    tap_ok(capability(csv, NULL, o, &c, &f) == ERR_OK && !c.groups[0].has_process &&
               c.groups[0].measured_share == 1 &&
               try_has_note(&c.notes, STUDY_CAVEAT, "explains all"),
           "a tape too coarse: nothing is said of the work");
    study_capability_done(&c);
    o = plain;
    o.high_nano = INT64_MAX;
    tap_ok(capability(csv, NULL, o, &c, &f) == ERR_OK && !c.groups[0].has_pp &&
               !c.groups[0].pp_i.is_known,
           "one limit: no Pp");
    near(c.groups[0].ppk, 2 / (3 * sqrt(0.5)), 1e-12, "and Ppk from that limit");
    study_capability_done(&c);
}

static void groups(void)
{
    struct study_capability c = {0};
    struct fault f;
    const char *csv = "p,s,v,low,high\nx,A,57,56,61\ny,A,5,4,\nx,B,62,56,61\nx,A,58,56,61\ny,A,6,4,"
                      "\nx,A,59,56,61\ny,A,5,4,\nx,A,58,56,61\ny,A,7,4,\nx,A,58,56,61\ny,A,3,4,\n";
    tap_ok(capability(csv, "low", plain, &c, &f) == ERR_OK && c.n_groups == 3 && c.n == 11,
           "two points, two shops: three groups");
    tap_ok(c.groups[0].n == 5 && c.groups[0].n_outside == 0 && c.groups[1].n == 1 &&
               c.groups[1].n_outside == 1 && !c.groups[1].has_index && c.groups[2].n == 5 &&
               c.groups[2].n_outside == 1 && c.groups[2].high_nano == INT64_MAX,
           "each by its own limits; an empty one is none");
    tap_ok(c.n_outside == 2 && try_has_note(&c.notes, STUDY_CAVEAT, "no index"),
           "what cannot be judged is said");
    study_capability_done(&c);
}

static void refusals(void)
{
    struct study_capability c = {0};
    struct fault f;
    tap_ok(capability("p,s,v\n", NULL, plain, &c, &f) == ERR_EMPTY && f.line == 0, "no row: %s",
           f.message);
    tap_ok(capability("p,s,v\nx,A,57\nx,A,58\n", NULL, plain, &c, &f) == ERR_EMPTY && f.line == 0,
           "too few: %s", f.message);
    tap_ok(capability("p,s,v\nx,A,57\nx,A,57\nx,A,57\nx,A,57\nx,A,57\n", NULL, plain, &c, &f) ==
               ERR_EMPTY,
           "all alike: %s", f.message);
    tap_ok(capability("p,s,v,low,high\nx,A,57,56,61\nx,A,58,55,61\n", "low", plain, &c, &f) ==
                   ERR_DOMAIN &&
               f.line == 3,
           "limits that change: %s", f.message);
    tap_ok(capability("p,s,v,low,high\nx,A,57,61,56\n", "low", plain, &c, &f) == ERR_ORDER &&
               f.line == 2,
           "limits the wrong way round: %s", f.message);
    study_capability_done(&c);
}

int main(void)
{
    by_hand();
    groups();
    refusals();
    return tap_done();
}

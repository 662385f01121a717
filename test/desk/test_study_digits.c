/* How readings end, against R's chisq.test and p.adjust; copied sets; honest readings are left alone. */
#include "desk/study_digits.h"

#include "base/text.h"
#include "desk/study_try.h"
#include "stat/draws.h"

#include <stdlib.h>

static struct study_table *table;

/* The table stays for the names until the next call. */
static enum err digits(const char *csv, const char *set, enum unit unit, int64_t step,
                       struct study_digits *d, struct fault *f)
{
    const struct study_digits_order o = {.step_nano = step, .unit = unit, .discovery = 0.05};
    struct study_want wants[DIGITS_COLUMNS];
    study_digits_wants("v", "by", set, unit, wants);
    study_digits_done(d);
    study_table_free(table);
    table = try_table(csv, wants, DIGITS_COLUMNS);
    *f = (struct fault){0};
    *d = (struct study_digits){0};
    const enum err e = table != NULL ? study_digits(table, &o, NULL, d, f) : ERR_IO;
    if (e != ERR_OK) { /* what the tests look at is there, and fails them */
        d->groups = calloc(4, sizeof *d->groups);
        d->copies = calloc(4, sizeof *d->copies);
    }
    if (d->groups == NULL)
        abort();
    return e;
}

/* count[i] readings that end on step i, on whole units that differ. */
static void put(struct text *csv, const char *by, const int *count, int k, const char *unit)
{
    int whole = 10;
    for (int i = 0; i < k; i++)
        for (int n = 0; n < count[i]; n++) {
            whole = 10 + (whole * 7 + 3) % 13;
            if (k == 8 && i > 0)
                text_printf(csv, "%d %d/8%s,%s\n", whole, i, unit, by);
            else if (k == 8)
                text_printf(csv, "%d%s,%s\n", whole, unit, by);
            else
                text_printf(csv, "%d.%d%s,%s\n", whole, i, unit, by);
        }
}

static void published(void)
{
    static const int eighths[8] = {38, 6, 18, 8, 26, 6, 16, 10};
    static const int tenths[10] = {30, 12, 18, 10, 22, 10, 16, 12, 20, 10};
    struct text csv = {0};
    struct study_digits d = {0};
    struct fault f;
    text_puts(&csv, "v,by\n");
    put(&csv, "Elm", eighths, 8, " in");
    tap_ok(digits(csv.data, NULL, UNIT_IN, 25400000 / 8, &d, &f) == ERR_OK && d.n_groups == 1 &&
               d.n_steps == 8,
           "eighths of an inch");
    near(d.groups[0].chi2, 55.5, 1e-13, "chi-square 55.5 (R chisq.test)");
    near(d.groups[0].p, 1.186702279107589e-09, 1e-9, "its p (R chisq.test)");
    tap_ok(d.df == 7 && d.groups[0].n == 128 && !d.groups[0].is_simulated &&
               d.groups[0].is_flagged && d.groups[0].favourite == 0 && d.groups[0].is_spread,
           "flagged; whole inches are the favourite");
    near(d.groups[0].q, d.groups[0].p, 0, "one group: q is p");
    study_digits_done(&d);
    text_clear(&csv);
    text_puts(&csv, "v,by\n");
    put(&csv, "Elm", tenths, 10, "");
    tap_ok(digits(csv.data, NULL, UNIT_MM, 100000, &d, &f) == ERR_OK, "tenths of a millimetre");
    near(d.groups[0].chi2, 24.5, 1e-13, "chi-square 24.5 (R chisq.test)");
    near(d.groups[0].p, 0.003577030926761579, 1e-9, "its p (R chisq.test)");
    study_digits_done(&d);
    text_done(&csv);
}

/* Small groups: p by draws lies within four of its standard errors of the exact one. Ten of ten on one of ten steps: 10 x
 * 10^-10, so 1e-4 = 1/(1 + 9999). Six readings on two steps, 5 and 1:
 * 2 x (6 + 1)/64 = 0.21875 for 5 or more alike. */
static void small(void)
{
    struct study_digits d = {0};
    struct fault f;
    tap_ok(digits("v,by\n1,A\n2,A\n3,A\n4,A\n5,A\n6,A\n7,A\n8,A\n9,A\n10,A\n", NULL, UNIT_MM,
                  100000, &d, &f) == ERR_OK &&
               d.groups[0].is_simulated,
           "ten readings, ten steps");
    near(d.groups[0].p, 1e-4, 1e-12, "as far as draws can tell: 1/(1 + 9999)");
    near(d.groups[0].chi2, 90, 1e-12, "chi-square 90 (by hand)");
    study_digits_done(&d);
    tap_ok(digits("v,by\n1,A\n2,A\n3,A\n4,A\n5,A\n6.5,A\n", NULL, UNIT_MM, 500000, &d, &f) ==
                   ERR_OK &&
               d.groups[0].is_simulated,
           "six readings, two steps");
    tap_ok(fabs(d.groups[0].p - 0.21875) < 4 * sqrt(0.21875 * 0.78125 / 9999),
           "p %.4f, by counting 0.21875", d.groups[0].p);
    study_digits_done(&d);
}

static void honest(void)
{
    struct text csv = {0};
    struct study_digits d = {0};
    struct fault f;
    struct chance c;
    int n_flagged = 0;
    chance_start(&c, 5, 88, 0);
    for (int trial = 0; trial < 40; trial++) {
        text_clear(&csv);
        text_puts(&csv, "v,by\n");
        for (int i = 0; i < 800; i++)
            text_printf(&csv, "%.1f,%d\n", 58 + 2 * chance_normal(&c), i % 10);
        if (digits(csv.data, NULL, UNIT_MM, 100000, &d, &f) == ERR_OK)
            n_flagged += d.n_flagged > 0;
        study_digits_done(&d);
    }
    /* A false flag in about one family of twenty: of 40 about 2; 9 or more has a chance of 3e-4 (binomial, by hand). */
    tap_ok(n_flagged < 9, "honest readings: %d of 40 families of ten shops hold a flag", n_flagged);
    text_done(&csv);
}

static void narrow(void)
{
    struct study_digits d = {0};
    struct fault f;
    tap_ok(digits("v,by\n5.0,A\n5.1,A\n5.2,A\n5.1,A\n5.1,A\n5.1,A\n-0.1,B\n9.9,B\n", NULL, UNIT_MM,
                  100000, &d, &f) == ERR_OK &&
               !d.groups[0].is_spread && !d.groups[1].is_tested &&
               try_has_note(&d.notes, STUDY_CAVEAT, "less than a unit") &&
               try_has_note(&d.notes, STUDY_CAVEAT, "fewer than 5"),
           "readings that hardly differ, and a group of two: said");
    tap_ok(d.groups[1].favourite == 9 && d.groups[1].favourite_share == 1,
           "-0.1 ends like 9.9: on 0.9 above a whole");
    study_digits_done(&d);
}

static void copies(void)
{
    struct study_digits d = {0};
    struct fault f;
    const char *csv = "job,by,v\n"
                      "j1,A,58.2\nj1,A,57.9\nj1,A,59.0\nj2,A,58.1\nj2,A,57.9\nj2,A,59.3\n"
                      "j3,A,58.2\nj3,A,57.9\nj3,A,59.0\nj4,B,58.2\nj4,B,57.9\nj4,B,59.0\n"
                      "j5,A,58.2\nj5,A,57.9\n";
    tap_ok(digits(csv, "job", UNIT_MM, 100000, &d, &f) == ERR_OK && d.n_sets == 4,
           "four jobs of three readings; the fifth is too short");
    tap_ok(d.n_copies == 1 && strcmp(study_text(table, DIGITS_SET, d.copies[0].first), "j1") == 0 &&
               strcmp(study_text(table, DIGITS_SET, d.copies[0].second), "j3") == 0 &&
               d.copies[0].n == 3,
           "j3 repeats j1; j4 is another shop's");
    /* By hand: of the 6 pairs of jobs, 3 agree in place 1 (58.2), 6 in place 2, 3 in place 3: 1/2 x 1 x 1/2; three pairs in
     * shop A. */
    near(d.copies[0].chance, 0.25, 1e-14, "chance of one pair (by hand)");
    near(d.expected_copies, 0.75, 1e-14, "expected pairs (by hand)");
    study_digits_done(&d);
    /* Rows of two jobs may stand mixed. */
    csv = "job,by,v\na,A,1\nb,A,1\na,A,2\nb,A,2\na,A,3\nb,A,3\nc,A,4\nc,A,4\nc,A,4\n";
    tap_ok(digits(csv, "job", UNIT_MM, 100000, &d, &f) == ERR_OK && d.n_copies == 1 &&
               d.n_sets == 3,
           "jobs whose rows are mixed");
    study_digits_done(&d);
}

static void refusals(void)
{
    struct study_digits d = {0};
    struct fault f;
    tap_ok(digits("v,by\n1.05,A\n", NULL, UNIT_MM, 100000, &d, &f) == ERR_DOMAIN && f.line == 2 &&
               strstr(f.message, "1.05") != NULL,
           "between the steps: %s", f.message);
    tap_ok(digits("v,by\n", NULL, UNIT_MM, 100000, &d, &f) == ERR_EMPTY && f.line == 0,
           "no row: %s", f.message);
    tap_ok(digits("v,by\n1,A\n2,B\n", NULL, UNIT_MM, 100000, &d, &f) == ERR_EMPTY && f.line == 0,
           "too few: %s", f.message);
    tap_ok(digits("v,by\n1,A\n", NULL, UNIT_MM, 300000, &d, &f) == ERR_DOMAIN &&
               strcmp(f.path, "--step") == 0,
           "0.3 mm does not divide 1 mm: %s", f.message);
    tap_ok(digits("v,by\n1,A\n", NULL, UNIT_MM, 1000000, &d, &f) == ERR_DOMAIN, "one step: %s",
           f.message);
    tap_ok(digits("v,by\n1,A\n", NULL, UNIT_MM, 0, &d, &f) == ERR_DOMAIN &&
               digits("v,by\n1,A\n", NULL, UNIT_MM, -100000, &d, &f) == ERR_DOMAIN,
           "no step, and a negative one");
    study_digits_done(&d);
}

int main(void)
{
    published();
    small();
    honest();
    narrow();
    copies();
    refusals();
    study_table_free(table);
    return tap_done();
}

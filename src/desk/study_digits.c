/* study_digits: owns the questions about how readings end and whether they were copied. */
#include "desk/study_digits.h"

#include "desk/study_digits_sets.h"
#include "stat/draws.h"
#include "stat/many.h"
#include "stat/special.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct work {
    const struct study_table *t;
    const struct study_digits_order *o;
    const struct study_watch *watch;
    struct study_digits *d;
    uint32_t *counts; /* by group, then step */
    double
        *sums; /* of the readings in units, then of their squares about the first one, by group */
};

void study_digits_wants(const char *value, const char *by, const char *set, enum unit unit,
                        struct study_want wants[DIGITS_COLUMNS])
{
    wants[DIGITS_VALUE] =
        (struct study_want){.column = value, .type = STUDY_AMOUNT, .unit = unit, STUDY_ANY};
    wants[DIGITS_BY] = (struct study_want){.column = by, .type = STUDY_TEXT};
    wants[DIGITS_SET] = (struct study_want){.column = set, .type = STUDY_TEXT};
}

/* ---- counting ------------------------------------------------------------------------------ */

static enum err count(const struct work *w, struct fault *f)
{
    const int64_t *value = study_amounts(w->t, DIGITS_VALUE);
    const uint32_t *by = study_texts(w->t, DIGITS_BY);
    const int64_t step = w->o->step_nano, n_steps = (int64_t)w->d->n_steps;
    const int64_t whole = quantity_unit_nano(w->o->unit);
    for (size_t i = 0; i < study_rows(w->t); i++) {
        if (value[i] % step != 0) {
            char shown[QUANTITY_SHOW_MAX], steps[QUANTITY_SHOW_MAX];
            (void)quantity_show(value[i], w->o->unit, 4, shown, NULL);
            (void)quantity_show(step, w->o->unit, 6, steps, NULL);
            return study_row_fault(w->t, i, DIGITS_VALUE, f, ERR_DOMAIN,
                                   "found %s; expected a whole number of steps of %s", shown,
                                   steps);
        }
        const int64_t at = (value[i] / step) % n_steps;
        w->counts[(size_t)by[i] * w->d->n_steps + (size_t)(at < 0 ? at + n_steps : at)]++;
        w->d->groups[by[i]].n++;
        const double x = (double)value[i] / (double)whole;
        w->sums[(size_t)2 * by[i]] += x;
    }
    for (size_t i = 0; i < study_rows(w->t); i++) {
        const double mean = w->sums[(size_t)2 * by[i]] / (double)w->d->groups[by[i]].n;
        const double x = (double)value[i] / (double)whole - mean;
        w->sums[(size_t)2 * by[i] + 1] += x * x;
    }
    return ERR_OK;
}

static double chi_square(const uint32_t *counts, size_t k, size_t n)
{
    const double expected = (double)n / (double)k;
    double sum = 0;
    for (size_t i = 0; i < k; i++) {
        const double d = (double)counts[i] - expected;
        sum += d * d / expected;
    }
    return sum;
}

/* ---- p by simulation ----------------------------------------------------------------------- */

/* Chi-square is (k/n) times the sum of squared counts, less n: the sums are whole numbers and compare without rounding. */
static uint64_t sum_squares(const uint32_t *counts, size_t k)
{
    uint64_t sum = 0;
    for (size_t i = 0; i < k; i++)
        sum += (uint64_t)counts[i] * counts[i];
    return sum;
}

static double simulate(const struct work *w, const struct study_digits_group *g)
{
    const size_t k = w->d->n_steps;
    const uint64_t seen = sum_squares(&w->counts[(size_t)g->by * k], k);
    uint32_t counts[DIGITS_STEPS_MAX];
    struct chance chance;
    uint64_t as_far = 1;
    chance_start(&chance, 1, 0, g->by);
    for (int i = 0; i < DIGITS_DRAWS; i++) {
        memset(counts, 0, k * sizeof *counts);
        for (size_t j = 0; j < g->n; j++)
            counts[draws_below(&chance, k)]++;
        as_far += sum_squares(counts, k) >= seen;
    }
    return (double)as_far / (DIGITS_DRAWS + 1);
}

static void test_group(const struct work *w, struct study_digits_group *g)
{
    const size_t k = w->d->n_steps;
    const uint32_t *counts = &w->counts[(size_t)g->by * k];
    g->is_tested = g->n >= DIGITS_FEWEST;
    g->is_spread = g->n > 1 && sqrt(w->sums[(size_t)2 * g->by + 1] / (double)(g->n - 1)) >= 0.5;
    for (size_t i = 0; i < k; i++)
        if (counts[i] > counts[g->favourite])
            g->favourite = i;
    g->favourite_share = (double)counts[g->favourite] / (double)g->n;
    if (!g->is_tested)
        return;
    g->chi2 = chi_square(counts, k, g->n);
    g->is_simulated = g->n < 5 * k;
    g->p = g->is_simulated ? simulate(w, g) : stat_chi2_upper(g->chi2, (double)w->d->df);
}

/* ---- together ------------------------------------------------------------------------------ */

static enum err correct(struct study_digits *d, double discovery, struct fault *f)
{
    double *p = malloc((d->n_groups + 1) * sizeof *p);
    size_t n = 0;
    if (p == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < d->n_groups; i++)
        if (d->groups[i].is_tested)
            p[n++] = d->groups[i].p;
    const enum err e = stat_false_discovery(p, n, p);
    n = 0;
    for (size_t i = 0; e == ERR_OK && i < d->n_groups; i++) {
        if (!d->groups[i].is_tested)
            continue;
        d->groups[i].q = p[n++];
        d->groups[i].is_flagged = d->groups[i].q <= discovery;
        d->n_flagged += d->groups[i].is_flagged;
    }
    free(p);
    return e == ERR_OK ? e : fault_set(f, e, "memory ran out");
}

static void note(struct work *w)
{
    struct study_digits *d = w->d;
    size_t n_few = 0, n_simulated = 0, n_narrow = 0;
    for (size_t i = 0; i < d->n_groups; i++) {
        n_few += d->groups[i].n < DIGITS_FEWEST;
        n_simulated += d->groups[i].is_tested && d->groups[i].is_simulated;
        n_narrow += d->groups[i].is_tested && !d->groups[i].is_spread;
    }
    study_note(&d->notes, STUDY_ASSUMED,
               "Honest readings of different units end on every step equally often, and do not "
               "hang on one another.");
    if (n_narrow > 0)
        study_note(&d->notes, STUDY_CAVEAT,
                   "%zu group%s spread%s over less than a unit (sd below half of one), so honest "
                   "readings would "
                   "favour steps, too: a flag there proves nothing.",
                   n_narrow, n_narrow == 1 ? "" : "s", n_narrow == 1 ? "s" : "");
    else
        study_note(
            &d->notes, STUDY_CHECKED,
            "Every group's readings spread over a unit or more, so no step is likelier by itself.");
    if (n_simulated > 0)
        study_note(&d->notes, STUDY_CHECKED,
                   "%zu group%s too small for the chi-square distribution: p by %d seeded draws.",
                   n_simulated, n_simulated == 1 ? " is" : "s are", (int)DIGITS_DRAWS);
    if (n_few > 0)
        study_note(&d->notes, STUDY_CAVEAT, "%zu group%s fewer than %d readings and %s not tested.",
                   n_few, n_few == 1 ? " has" : "s have", (int)DIGITS_FEWEST,
                   n_few == 1 ? "is" : "are");
    if (d->is_cut_short)
        study_note(&d->notes, STUDY_CAVEAT,
                   "Stopped early: the groups without a p were not tested.");
    study_note(
        &d->notes, STUDY_CAVEAT,
        "A flag is a reason to look, not proof: a coarse instrument makes favourites as well.");
}

static enum err check(const struct work *w, struct fault *f)
{
    const int64_t whole = quantity_unit_nano(w->o->unit), step = w->o->step_nano;
    if (step <= 0 || whole % step != 0 || whole / step < 2 || whole / step > DIGITS_STEPS_MAX) {
        snprintf(f->path, sizeof f->path, "--step");
        return fault_set(f, ERR_DOMAIN, "does not divide 1 %s into 2 to %d equal steps",
                         quantity_unit_name(w->o->unit), (int)DIGITS_STEPS_MAX);
    }
    if (study_rows(w->t) == 0)
        return study_table_fault(w->t, f, ERR_EMPTY, "found no row; expected readings");
    return ERR_OK;
}

static enum err make_room(struct work *w, struct fault *f)
{
    struct study_digits *d = w->d;
    d->n_steps = (size_t)(quantity_unit_nano(w->o->unit) / w->o->step_nano);
    d->df = d->n_steps - 1;
    d->n_groups = study_n_texts(w->t, DIGITS_BY);
    if (d->n_groups > DIGITS_CELLS_MAX / d->n_steps) {
        (void)study_table_fault(
            w->t, f, ERR_LIMIT,
            "found %zu groups; with %zu steps each that is more than can be held", d->n_groups,
            d->n_steps);
        return ERR_LIMIT;
    }
    d->groups = calloc(d->n_groups, sizeof *d->groups);
    w->counts = calloc(d->n_groups, d->n_steps * sizeof *w->counts);
    w->sums = calloc(d->n_groups, 2 * sizeof *w->sums);
    if (d->groups == NULL || w->counts == NULL || w->sums == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < d->n_groups; i++)
        d->groups[i].by = (uint32_t)i;
    return ERR_OK;
}

static enum err test_all(struct work *w, struct fault *f)
{
    struct study_digits *d = w->d;
    size_t n_tested = 0;
    for (size_t i = 0; i < d->n_groups; i++) {
        d->is_cut_short = d->is_cut_short || !study_go_on(w->watch, "groups", i, d->n_groups);
        if (d->is_cut_short)
            continue;
        test_group(w, &d->groups[i]);
        n_tested += d->groups[i].is_tested;
    }
    if (n_tested == 0 && !d->is_cut_short)
        return study_table_fault(
            w->t, f, ERR_EMPTY,
            "no group has %d readings or more: too few to tell a habit from chance",
            (int)DIGITS_FEWEST);
    return correct(d, w->o->discovery, f);
}

enum err study_digits(const struct study_table *t, const struct study_digits_order *order,
                      const struct study_watch *watch, struct study_digits *ret,
                      struct fault *reterr)
{
    struct study_digits d = {0};
    struct work w = {.t = t, .o = order, .watch = watch, .d = &d};
    enum err e = check(&w, reterr);
    if (e == ERR_OK)
        e = make_room(&w, reterr);
    if (e == ERR_OK)
        e = count(&w, reterr);
    if (e == ERR_OK)
        e = test_all(&w, reterr);
    if (e == ERR_OK && study_texts(t, DIGITS_SET) != NULL)
        e = study_digits_sets(t, &d, reterr);
    free(w.counts);
    free(w.sums);
    if (e != ERR_OK) {
        study_digits_done(&d);
        return e;
    }
    note(&w);
    *ret = d;
    return ERR_OK;
}

void study_digits_done(struct study_digits *d)
{
    free(d->groups);
    free(d->copies);
    d->groups = NULL;
    d->copies = NULL;
}

/* study_capability: owns the question whether final readings hold their limits with room to spare. */
#include "desk/study_capability.h"

#include "core/normal.h"
#include "stat/special.h"
#include "stat/summary.h"

#include <stdlib.h>

struct row {
    uint32_t point, by;
    size_t at; /* row of the table */
};

struct work {
    const struct study_table *t;
    const struct study_capability_order *o;
    struct study_capability *c;
    struct row *rows;
    double *x;
};

void study_capability_wants(const struct study_capability_columns *c, enum unit unit,
                            struct study_want wants[CAPABILITY_COLUMNS])
{
    const struct study_want amount = {.type = STUDY_AMOUNT, .unit = unit, STUDY_ANY};
    wants[CAPABILITY_VALUE] = wants[CAPABILITY_LOW] = wants[CAPABILITY_HIGH] = amount;
    wants[CAPABILITY_VALUE].column = c->value;
    wants[CAPABILITY_LOW].column = c->low;
    wants[CAPABILITY_HIGH].column = c->high;
    wants[CAPABILITY_LOW].may_be_empty = wants[CAPABILITY_HIGH].may_be_empty = true;
    wants[CAPABILITY_POINT] = (struct study_want){.column = c->point, .type = STUDY_TEXT};
    wants[CAPABILITY_BY] = (struct study_want){.column = c->by, .type = STUDY_TEXT};
}

#define ORDER(x, y) (((x) > (y)) - ((x) < (y)))

static int compare(const void *a, const void *b)
{
    const struct row *x = a, *y = b;
    if (x->point != y->point)
        return ORDER(x->point, y->point);
    return x->by != y->by ? ORDER(x->by, y->by) : ORDER(x->at, y->at);
}

/* ---- limits -------------------------------------------------------------------------------- */

/* The limit of a row: its column's where there is one, an empty field there is no limit; else the order's. */
static int64_t limit_of(const struct work *w, size_t column, size_t row, int64_t otherwise,
                        int64_t none)
{
    const int64_t *limits = study_amounts(w->t, column);
    if (limits == NULL)
        return otherwise;
    return limits[row] == STUDY_NO_AMOUNT ? none : limits[row];
}

static enum err find_limits(const struct work *w, const struct row *rows, size_t n,
                            struct study_capability_group *g, struct fault *f)
{
    const size_t first = rows[0].at;
    g->low_nano = limit_of(w, CAPABILITY_LOW, first, w->o->low_nano, INT64_MIN);
    g->high_nano = limit_of(w, CAPABILITY_HIGH, first, w->o->high_nano, INT64_MAX);
    if (g->low_nano >= g->high_nano)
        return study_row_fault(w->t, first, CAPABILITY_VALUE, f, ERR_ORDER,
                               "the low limit is not below the high one");
    for (size_t i = 1; i < n; i++)
        if (limit_of(w, CAPABILITY_LOW, rows[i].at, w->o->low_nano, INT64_MIN) != g->low_nano ||
            limit_of(w, CAPABILITY_HIGH, rows[i].at, w->o->high_nano, INT64_MAX) != g->high_nano)
            return study_row_fault(
                w->t, rows[i].at, CAPABILITY_VALUE, f, ERR_DOMAIN,
                "the limits differ from those of line %d; expected one pair of limits for "
                "each group",
                study_line(w->t, first));
    return ERR_OK;
}

/* ---- a group ------------------------------------------------------------------------------- */

static double index_k(const struct study_capability_group *g, double low, double high, double sd)
{
    const double up = g->high_nano != INT64_MAX ? high - g->mean : HUGE_VAL;
    const double down = g->low_nano != INT64_MIN ? g->mean - low : HUGE_VAL;
    return fmin(up, down) / (3 * sd);
}

static void find_indices(const struct study_capability_order *o, struct study_capability_group *g)
{
    const double per = (double)quantity_unit_nano(o->unit), n = (double)g->n;
    const double low = (double)g->low_nano / per, high = (double)g->high_nano / per;
    const double level = o->confidence, u = o->u_nano / per;
    const double z = normal_quantile((1 + level) / 2);
    g->has_pp = g->low_nano != INT64_MIN && g->high_nano != INT64_MAX;
    g->pp = g->has_pp ? (high - low) / (6 * g->sd) : 0;
    g->pp_i = (struct study_interval){
        g->has_pp, g->pp * sqrt(stat_chi2_quantile((1 - level) / 2, n - 1) / (n - 1)),
        g->pp * sqrt(stat_chi2_quantile((1 + level) / 2, n - 1) / (n - 1))};
    g->ppk = index_k(g, low, high, g->sd);
    const double half = z * sqrt(1 / (9 * n) + g->ppk * g->ppk / (2 * (n - 1)));
    g->ppk_i = (struct study_interval){true, g->ppk - half, g->ppk + half};
    g->measured_share = fmin(1, u * u / (g->sd * g->sd));
    g->process_sd = sqrt(fmax(0, g->sd * g->sd - u * u));
    g->has_process = u > 0 && g->process_sd > 0;
    g->process_ppk = g->has_process ? index_k(g, low, high, g->process_sd) : 0;
    g->is_short = o->least_ppk > 0 && g->ppk < o->least_ppk;
}

void study_capability_indices(const struct study_capability_order *order,
                              struct study_capability_group *g)
{
    g->has_index = g->n >= CAPABILITY_FEWEST && g->sd > 0 &&
                   (g->low_nano != INT64_MIN || g->high_nano != INT64_MAX);
    if (g->has_index)
        find_indices(order, g);
}

static enum err find_group(const struct work *w, const struct row *rows, size_t n,
                           struct study_capability_group *g, struct fault *f)
{
    const int64_t *value = study_amounts(w->t, CAPABILITY_VALUE);
    *g = (struct study_capability_group){.point = rows[0].point, .by = rows[0].by, .n = n};
    const enum err e = find_limits(w, rows, n, g, f);
    if (e != ERR_OK)
        return e;
    for (size_t i = 0; i < n; i++) {
        const int64_t v = value[rows[i].at];
        w->x[i] = quantity_to_double(v, w->o->unit);
        g->n_outside += v < g->low_nano || v > g->high_nano;
    }
    stat_mean_sd(w->x, n, &g->mean, &g->sd);
    stat_share_interval((int64_t)g->n_outside, (int64_t)n, w->o->confidence, &g->outside_i.low,
                        &g->outside_i.high);
    g->outside_i.is_known = true;
    study_capability_indices(w->o, g);
    return ERR_OK;
}

/* ---- together ------------------------------------------------------------------------------ */

static bool is_same(const struct row *a, const struct row *b)
{
    return a->point == b->point && a->by == b->by;
}

static size_t count_groups(const struct work *w)
{
    size_t n = 0;
    for (size_t i = 0; i < study_rows(w->t); i++)
        n += i == 0 || !is_same(&w->rows[i - 1], &w->rows[i]);
    return n;
}

static enum err find_groups(struct work *w, struct fault *f)
{
    struct study_capability *c = w->c;
    const size_t n = study_rows(w->t), most = count_groups(w);
    if (most > CAPABILITY_GROUPS_MAX)
        return study_table_fault(w->t, f, ERR_LIMIT, "found %zu groups; expected at most %d", most,
                                 (int)CAPABILITY_GROUPS_MAX);
    c->groups = calloc(most + 1, sizeof *c->groups);
    if (c->groups == NULL)
        return fault_no_memory(f);
    size_t n_known = 0;
    for (size_t i = 0, end = 0; i < n; i = end) {
        struct study_capability_group *g = &c->groups[c->n_groups++];
        for (end = i; end < n && is_same(&w->rows[i], &w->rows[end]);)
            end++;
        const enum err e = find_group(w, &w->rows[i], end - i, g, f);
        if (e != ERR_OK)
            return e;
        c->n_outside += g->n_outside;
        c->n_short += g->is_short;
        n_known += g->has_index;
    }
    c->n = n;
    if (n_known == 0)
        return study_table_fault(w->t, f, ERR_EMPTY,
                                 "no group has %d readings or more that vary, and a limit",
                                 (int)CAPABILITY_FEWEST);
    return ERR_OK;
}

static void note(const struct work *w)
{
    struct study_capability *c = w->c;
    size_t n_unknown = 0, n_all = 0, n_few = 0;
    for (size_t i = 0; i < c->n_groups; i++) {
        n_unknown += !c->groups[i].has_index;
        n_few += c->groups[i].has_index && c->groups[i].n < 30;
        n_all += c->groups[i].has_index && w->o->u_nano > 0 && !c->groups[i].has_process;
    }
    study_note(&c->notes, STUDY_ASSUMED,
               "Readings of a group are independent and normal about one mean; an index says "
               "nothing of a mixture "
               "of shops or of a drift.");
    if (w->o->u_nano > 0)
        study_note(
            &c->notes, STUDY_ASSUMED,
            "A reading's standard uncertainty is the one given, and does not hang on the reading.");
    if (n_all > 0)
        study_note(&c->notes, STUDY_CAVEAT,
                   "In %zu group%s the measuring explains all of the spread: nothing can be said "
                   "of the work itself.",
                   n_all, n_all == 1 ? "" : "s");
    if (n_unknown > 0)
        study_note(&c->notes, STUDY_CAVEAT,
                   "%zu group%s no index: fewer than %d readings, all alike, or no limit.",
                   n_unknown, n_unknown == 1 ? " has" : "s have", (int)CAPABILITY_FEWEST);
    if (n_few > 0)
        study_note(
            &c->notes, STUDY_CAVEAT,
            "%zu group%s fewer than 30 readings: the intervals are wide, and Ppk's is rough.",
            n_few, n_few == 1 ? " has" : "s have");
}

static enum err fill(struct work *w, struct fault *f)
{
    const uint32_t *point = study_texts(w->t, CAPABILITY_POINT),
                   *by = study_texts(w->t, CAPABILITY_BY);
    const size_t n = study_rows(w->t);
    if (n == 0)
        return study_table_fault(w->t, f, ERR_EMPTY, "found no row; expected readings");
    w->rows = malloc(n * sizeof *w->rows);
    w->x = malloc(n * sizeof *w->x);
    if (w->rows == NULL || w->x == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < n; i++)
        w->rows[i] = (struct row){point != NULL ? point[i] : STUDY_NO_TEXT,
                                  by != NULL ? by[i] : STUDY_NO_TEXT, i};
    qsort(w->rows, n, sizeof *w->rows, compare);
    return find_groups(w, f);
}

enum err study_capability(const struct study_table *t, const struct study_capability_order *order,
                          struct study_capability *ret, struct fault *reterr)
{
    struct study_capability c = {0};
    struct work w = {.t = t, .o = order, .c = &c};
    const enum err e = fill(&w, reterr);
    free(w.rows);
    free(w.x);
    if (e != ERR_OK) {
        study_capability_done(&c);
        return e;
    }
    note(&w);
    *ret = c;
    return ERR_OK;
}

void study_capability_done(struct study_capability *c)
{
    free(c->groups);
    c->groups = NULL;
}

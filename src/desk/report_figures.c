/* report_figures: owns which studies the report rests on, and how they are called. */
#include "core/date.h"
#include "desk/report_inner.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DRAWS = 9999, SEED = 1, DAY_MS = 86400000 };
#define CONFIDENCE 0.95

/* ---- a study ------------------------------------------------------------------------------- */

/* The rows and the table. What the data cannot answer becomes `why`; anything else is an error. */
static enum err settle(struct report_study *s, enum err e, const struct fault *f, struct fault *to)
{
    s->has = e == ERR_OK;
    if (e == ERR_OK)
        return ERR_OK;
    if (e == ERR_BUSY || e == ERR_MEMORY || e == ERR_IO) {
        *to = *f;
        return e;
    }
    memcpy(s->why, f->message, sizeof s->why);
    return ERR_OK;
}

static enum err read_rows(struct report_run *r, struct report_study *s,
                          const struct study_rows_order *o, const struct study_want *wants,
                          size_t n_wants)
{
    struct fault f = {0};
    if (o->kind != ROWS_HELD && r->sites.n_builds == 0) {
        (void)fault_set(&f, ERR_EMPTY, "no build list is kept in this store (store builds)");
        return settle(s, ERR_EMPTY, &f, r->f);
    }
    if (o->kind != ROWS_COMPLETION && !r->sites.has_failures) {
        (void)fault_set(&f, ERR_EMPTY,
                        "no list of failure reports is kept in this store (store keep failures)");
        return settle(s, ERR_EMPTY, &f, r->f);
    }
    enum err e = study_rows_make(r->store, &r->sites, o, r->watch, &s->rows, &f);
    if (e == ERR_OK)
        e = study_table_parse(s->rows.csv.data, s->rows.csv.size, r->o->store_name, wants, n_wants,
                              &s->t, &f);
    return settle(s, e, &f, r->f);
}

static int32_t today(const struct report_run *r)
{
    return (int32_t)(r->o->now_ms / DAY_MS);
}

/* ---- windows ------------------------------------------------------------------------------- */

static enum err find_window(struct report_run *r, struct report_window *w)
{
    const struct study_rows_order o = {.kind = ROWS_WINDOW,
                                       .variant = w->variant,
                                       .unit = UNIT_MM,
                                       .notice = ROWS_NO_DAY,
                                       .until = today(r)};
    struct study_want wants[WINDOW_COLUMNS];
    struct fault f = {0};
    w->order = (struct study_window_order){
        .n_draws = DRAWS, .seed = SEED, .n_runs = REPORT_RUNS, .confidence = CONFIDENCE};
    study_window_wants("day", "built", "failed", NULL, wants);
    enum err e = read_rows(r, &w->s, &o, wants, WINDOW_COLUMNS);
    if (e != ERR_OK || !w->s.has)
        return e;
    w->r = calloc(1, sizeof *w->r);
    if (w->r == NULL)
        return fault_no_memory(r->f);
    e = study_window(w->s.t, &w->order, r->watch, w->r, &f);
    if (e == ERR_OK && w->r->is_stopped)
        return fault_set(r->f, ERR_BUSY, "stopped before the report was made");
    return settle(&w->s, e, &f, r->f);
}

/* A window for each variant, or, where there are many or only one, one for all. */
static enum err find_windows(struct report_run *r)
{
    const struct bulletin_scope *s = &r->b->scope;
    const bool is_each = s->variants.n > 1 && s->variants.n <= REPORT_WINDOWS_MAX;
    r->n_windows = is_each ? s->variants.n : 1;
    r->best = -1;
    for (size_t i = 0; i < r->n_windows; i++) {
        struct report_window *w = &r->windows[i];
        w->variant = is_each ? s->variants.at[i].id : NULL;
        w->name = is_each ? bulletin_text_in(r->b, &s->variants.at[i].name, r->language) : "all";
        const enum err e = find_window(r, w);
        if (e != ERR_OK)
            return e;
        const bool is_found = w->s.has && w->r->n_runs > 0 && w->r->runs[0].is_found;
        if (is_found && (r->best < 0 || w->r->runs[0].llr > r->windows[r->best].r->runs[0].llr))
            r->best = (int)i;
    }
    return ERR_OK;
}

/* ---- completion and held ------------------------------------------------------------------- */

static enum err find_completion(struct report_run *r)
{
    const struct study_rows_order o = {
        .kind = ROWS_COMPLETION, .unit = UNIT_MM, .notice = ROWS_NO_DAY, .until = today(r)};
    const int32_t left = r->b->claim.until - today(r);
    struct study_want wants[COMPLETION_COLUMNS];
    struct fault f = {0};
    r->completion_order = (struct study_completion_order){
        .confidence = CONFIDENCE, .seed = SEED, .within = left > 0 ? (double)left : 0};
    study_completion_wants("days", "come", wants);
    enum err e = read_rows(r, &r->completion_s, &o, wants, COMPLETION_COLUMNS);
    if (e != ERR_OK || !r->completion_s.has)
        return e;
    r->completion = calloc(1, sizeof *r->completion);
    if (r->completion == NULL)
        return fault_no_memory(r->f);
    e = study_completion(r->completion_s.t, &r->completion_order, r->completion, &f);
    return settle(&r->completion_s, e, &f, r->f);
}

static enum err find_held(struct report_run *r)
{
    const struct study_rows_order o = {
        .kind = ROWS_HELD, .unit = UNIT_MM, .notice = ROWS_NO_DAY, .until = today(r)};
    struct study_want wants[HELD_COLUMNS];
    struct fault f = {0};
    r->held_order = (struct study_held_order){.confidence = CONFIDENCE, .at_most = 1};
    study_held_wants("repaired", "failed", "days", wants);
    enum err e = read_rows(r, &r->held_s, &o, wants, HELD_COLUMNS);
    if (e != ERR_OK || !r->held_s.has)
        return e;
    e = study_held(r->held_s.t, &r->held_order, &r->held, &f);
    return settle(&r->held_s, e, &f, r->f);
}

/* ---- findings ------------------------------------------------------------------------------ */

/* The rules of each claim's last ruling by the rules, as bits; RULE_N is at most 64. */
struct ruled {
    char claim[STORE_CLAIM_SIZE + 1];
    size_t order;
    uint64_t rules;
};
struct findings {
    struct report_run *r;
    struct ruled *at;
    size_t n, room;
    enum err err;
};
_Static_assert(RULE_N <= 64, "rules are kept as bits");

static bool see_ruling(void *me, const struct store_ruling *ruling)
{
    struct findings *l = me;
    if (ruling->kind != STORE_RULED)
        return true;
    if (l->n == l->room) {
        const size_t room = l->room > 0 ? 2 * l->room : 256;
        struct ruled *at = realloc(l->at, room * sizeof *at);
        if (at == NULL) {
            l->err = fault_no_memory(l->r->f);
            return false;
        }
        l->at = at;
        l->room = room;
    }
    struct ruled *to = &l->at[l->n];
    *to = (struct ruled){.order = l->n};
    (void)snprintf(to->claim, sizeof to->claim, "%s", ruling->claim);
    for (size_t i = 0; i < ruling->n_findings; i++)
        for (size_t k = 0; k < RULE_N; k++)
            if (strcmp(ruling->findings[i].rule, rule_rows[k].name) == 0)
                to->rules |= (uint64_t)1 << k;
    l->n++;
    return true;
}

static int by_claim(const void *a, const void *b)
{
    const struct ruled *x = a, *y = b;
    const int c = strcmp(x->claim, y->claim);
    return c != 0 ? c : (x->order > y->order) - (x->order < y->order);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* The ids of this bulletin's claims, sorted; the caller frees them. NULL: no memory. */
static const char **our_claims(const struct report_run *r)
{
    const char **ids = calloc(r->sites.n_visits + 1, sizeof *ids);
    for (size_t i = 0; ids != NULL && i < r->sites.n_visits; i++)
        ids[i] = r->sites.visits[i].claim;
    if (ids != NULL)
        qsort(ids, r->sites.n_visits, sizeof *ids, by_name);
    return ids;
}

/* Counts the last ruling of each of this bulletin's claims. */
static void count_findings(struct report_run *r, const struct findings *l, const char **ids)
{
    for (size_t i = 0; i < l->n; i++) {
        const char *claim = l->at[i].claim;
        const bool is_last = i + 1 == l->n || strcmp(claim, l->at[i + 1].claim) != 0;
        if (!is_last || bsearch(&claim, ids, r->sites.n_visits, sizeof *ids, by_name) == NULL)
            continue;
        r->n_ruled++;
        for (size_t k = 0; k < RULE_N; k++)
            r->findings[k] += (int64_t)(l->at[i].rules >> k & 1);
    }
}

static enum err find_findings(struct report_run *r)
{
    struct findings l = {.r = r};
    const char **ids = our_claims(r);
    enum err e =
        ids != NULL ? store_rulings(r->store, NULL, see_ruling, &l, r->f) : fault_no_memory(r->f);
    e = e == ERR_OK ? l.err : e;
    if (e == ERR_OK && l.n > 0) {
        qsort(l.at, l.n, sizeof *l.at, by_claim);
        count_findings(r, &l, ids);
    }
    free(ids);
    free(l.at);
    return e;
}

/* ---- all of it ----------------------------------------------------------------------------- */

enum err report_figures(struct report_run *r)
{
    enum err e = study_sites_read(r->store, r->o->bulletin, r->watch, &r->sites, r->f);
    if (e != ERR_OK)
        return e;
    r->b = r->sites.bulletin;
    r->language = r->o->language != NULL ? r->o->language : r->b->head.language;
    date_show(today(r), r->today);
    e = find_findings(r);
    if (e == ERR_OK)
        e = find_windows(r);
    if (e == ERR_OK)
        e = find_completion(r);
    return e == ERR_OK ? find_held(r) : e;
}

struct report_ever report_ever(const struct report_run *r)
{
    const struct study_completion *s = r->completion;
    const struct study_completion_row *row = &s->rows[s->n_rows - 1];
    return (struct report_ever){llround((double)s->n_come + row->further),
                                llround((double)s->n_come + row->low),
                                llround((double)s->n_come + row->high)};
}

static void study_done(struct report_study *s)
{
    study_table_free(s->t);
    study_rows_done(&s->rows);
}

void report_figures_done(struct report_run *r)
{
    for (size_t i = 0; i < r->n_charts; i++)
        study_chart_done(&r->charts[i]);
    for (size_t i = 0; i < r->n_windows; i++) {
        study_done(&r->windows[i].s);
        free(r->windows[i].r);
    }
    study_done(&r->completion_s);
    study_done(&r->held_s);
    free(r->completion);
    study_sites_done(&r->sites);
    arena_done(&r->arena);
}

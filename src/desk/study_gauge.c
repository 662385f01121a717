/* study_gauge: owns the question how much of what is measured is the measuring. */
#include "desk/study_gauge.h"

#include "stat/draws.h"
#include "stat/special.h"
#include "stat/summary.h"

#include <stdlib.h>

#define READING_MAX 1e100 /* squares of readings, and sums of those, are still numbers */

/* Components as they come out, before negative ones are set to 0. */
struct parts {
    double repeatability, interaction, operators, part;
};

struct shape {
    double p, o, r; /* parts, operators, repeats */
    bool is_pooled;
};

struct squares { /* mean squares */
    double part, operators, both, within;
};

void study_gauge_wants(const char *part, const char *operator_, const char *value, enum unit unit,
                       struct study_want wants[GAUGE_COLUMNS])
{
    wants[GAUGE_PART] = (struct study_want){.column = part, .type = STUDY_TEXT};
    wants[GAUGE_OPERATOR] = (struct study_want){.column = operator_, .type = STUDY_TEXT};
    wants[GAUGE_VALUE] = (struct study_want){.column = value,
                                             .type = unit == UNIT_N ? STUDY_NUMBER : STUDY_AMOUNT,
                                             .unit = unit,
                                             .keeps_rest = true,
                                             .low = -READING_MAX,
                                             .high = READING_MAX};
}

/* ---- components ---------------------------------------------------------------------------- */

static struct parts components(const struct shape *s, const struct squares *m)
{
    if (s->is_pooled) { /* both and within are the pooled mean square */
        return (struct parts){.repeatability = m->within,
                              .operators = (m->operators - m->within) / (s->p * s->r),
                              .part = (m->part - m->within) / (s->o * s->r)};
    }
    return (struct parts){.repeatability = m->within,
                          .interaction = (m->both - m->within) / s->r,
                          .operators = (m->operators - m->both) / (s->p * s->r),
                          .part = (m->part - m->both) / (s->o * s->r)};
}

static struct parts cut(struct parts c)
{
    c.interaction = fmax(c.interaction, 0);
    c.operators = fmax(c.operators, 0);
    c.part = fmax(c.part, 0);
    return c;
}

static double gauge_of(const struct parts *c)
{
    return c->repeatability + c->interaction + c->operators;
}

static struct squares squares_of(const struct stat_crossed *a, bool is_pooled)
{
    struct squares m = {a->a.ms, a->b.ms, a->ab.ms, a->within.ms};
    if (is_pooled)
        m.both = m.within = (a->ab.ss + a->within.ss) / (a->ab.df + a->within.df);
    return m;
}

static void find_components(const struct shape *s, struct study_gauge *g)
{
    const struct squares m = squares_of(&g->anova, s->is_pooled);
    const struct parts raw = components(s, &m), c = cut(raw);
    g->repeatability = c.repeatability;
    g->interaction = c.interaction;
    g->operators = c.operators;
    g->reproducibility = c.operators + c.interaction;
    g->gauge = gauge_of(&c);
    g->part = c.part;
    g->total = g->gauge + g->part;
    g->is_cut_interaction = raw.interaction < 0;
    g->is_cut_operator = raw.operators < 0;
    g->is_cut_part = raw.part < 0;
    g->percent_study = g->total > 0 ? 100 * sqrt(g->gauge / g->total) : 0;
    g->has_ndc = g->gauge > 0;
    g->ndc_exact = g->has_ndc ? 1.41 * sqrt(g->part / g->gauge) : 0;
    g->has_ndc = g->has_ndc && g->ndc_exact < 1e15;
    g->ndc = g->has_ndc ? (int64_t)g->ndc_exact : 0;
}

/* ---- intervals ----------------------------------------------------------------------------- */

static double draw(struct chance *chance, double ss, double df)
{
    return df > 0 ? ss / draws_chi2(chance, df) : 0;
}

static struct study_interval middle(double *x, double level)
{
    stat_sort(x, GAUGE_DRAWS);
    return (struct study_interval){true, stat_quantile(x, GAUGE_DRAWS, (1 - level) / 2),
                                   stat_quantile(x, GAUGE_DRAWS, (1 + level) / 2)};
}

static enum err find_intervals(const struct shape *s, double level, struct study_gauge *g)
{
    const struct stat_crossed *a = &g->anova;
    const double df = a->within.df + (s->is_pooled ? a->ab.df : 0);
    const double ss = a->within.ss + (s->is_pooled ? a->ab.ss : 0);
    struct chance chance;
    double *x = malloc((size_t)3 * GAUGE_DRAWS * sizeof *x);
    if (x == NULL)
        return ERR_MEMORY;
    chance_start(&chance, 1, 0, 0);
    for (size_t i = 0; i < GAUGE_DRAWS; i++) {
        struct squares m = {.part = draw(&chance, a->a.ss, a->a.df),
                            .operators = draw(&chance, a->b.ss, a->b.df),
                            .both = draw(&chance, a->ab.ss, a->ab.df),
                            .within = draw(&chance, ss, df)};
        if (s->is_pooled)
            m.both = m.within;
        const struct parts c = cut(components(s, &m));
        const double gauge = gauge_of(&c), total = gauge + c.part;
        x[i] = gauge;
        x[GAUGE_DRAWS + i] = c.part;
        x[(size_t)2 * GAUGE_DRAWS + i] = total > 0 ? 100 * sqrt(gauge / total) : 0;
    }
    g->gauge_i = middle(x, level);
    g->part_i = middle(x + GAUGE_DRAWS, level);
    g->percent_study_i = middle(x + (size_t)2 * GAUGE_DRAWS, level);
    g->repeatability_i = (struct study_interval){true, ss / stat_chi2_quantile((1 + level) / 2, df),
                                                 ss / stat_chi2_quantile((1 - level) / 2, df)};
    free(x);
    return ERR_OK;
}

/* ---- the layout ---------------------------------------------------------------------------- */

/* Readings less the first, so that those far from 0 keep their digits: nothing here hangs on where 0 is. */
static void read_values(const struct study_table *t, const struct study_gauge_order *o, double *ret)
{
    const size_t n = study_rows(t);
    if (o->unit == UNIT_N) {
        study_shifted(t, GAUGE_VALUE, study_numbers(t, GAUGE_VALUE)[0], ret);
        return;
    }
    const int64_t *nano = study_amounts(t, GAUGE_VALUE);
    for (size_t i = 0; i < n; i++)
        ret[i] = quantity_to_double(nano[i], o->unit);
}

static enum err check_balance(const struct study_table *t, const size_t *seen,
                              const struct study_gauge *g, struct fault *f)
{
    for (size_t i = 0; i < g->n_parts * g->n_operators; i++)
        if (seen[i] != g->n_repeats)
            return study_table_fault(
                t, f, ERR_DOMAIN,
                "not balanced: part '%.60s' was measured %zu time%s by '%.60s' and %zu time%s by "
                "'%.60s' on part '%.60s'; expected every part as often by everyone",
                study_text(t, GAUGE_PART, (uint32_t)(i / g->n_operators)), seen[i],
                seen[i] == 1 ? "" : "s",
                study_text(t, GAUGE_OPERATOR, (uint32_t)(i % g->n_operators)), g->n_repeats,
                g->n_repeats == 1 ? "" : "s", study_text(t, GAUGE_OPERATOR, 0),
                study_text(t, GAUGE_PART, 0));
    if (g->n_repeats < 2)
        return study_table_fault(t, f, ERR_EMPTY,
                                 "every part was measured once by each person; expected twice or "
                                 "more, or repeatability cannot be told from the rest");
    return ERR_OK;
}

/* y by part, operator, repeat; seen counts as it goes. */
static void place(const struct study_table *t, const double *values, const struct study_gauge *g,
                  size_t *seen, double *y)
{
    const uint32_t *part = study_texts(t, GAUGE_PART), *who = study_texts(t, GAUGE_OPERATOR);
    for (size_t i = 0; i < g->n_parts * g->n_operators; i++)
        seen[i] = 0;
    for (size_t i = 0; i < study_rows(t); i++) {
        const size_t cell = part[i] * g->n_operators + who[i];
        y[cell * g->n_repeats + seen[cell]++] = values[i];
    }
}

static enum err work_layout(const struct study_table *t, const struct study_gauge_order *o,
                            struct study_gauge *g, size_t *seen, double *values, struct fault *f)
{
    const uint32_t *part = study_texts(t, GAUGE_PART), *who = study_texts(t, GAUGE_OPERATOR);
    for (size_t i = 0; i < study_rows(t); i++)
        seen[part[i] * g->n_operators + who[i]]++;
    g->n_repeats = seen[0];
    enum err e = check_balance(t, seen, g, f);
    if (e != ERR_OK)
        return e;
    double *y = values + study_rows(t);
    read_values(t, o, values);
    place(t, values, g, seen, y);
    e = stat_crossed(y, g->n_parts, g->n_operators, g->n_repeats, &g->anova);
    return e == ERR_OK ? e : fault_set(f, e, "%s", err_text(e));
}

static enum err lay_out(const struct study_table *t, const struct study_gauge_order *o,
                        struct study_gauge *g, struct fault *f)
{
    size_t *seen = calloc(g->n_parts * g->n_operators + 1, sizeof *seen);
    double *y = calloc(2 * study_rows(t) + 1, sizeof *y);
    const enum err e =
        seen != NULL && y != NULL ? work_layout(t, o, g, seen, y, f) : fault_no_memory(f);
    free(seen);
    free(y);
    return e;
}

static enum err check_size(const struct study_table *t, const struct study_gauge *g,
                           struct fault *f)
{
    if (g->n_parts < 2 || g->n_operators < 2)
        return study_table_fault(
            t, f, ERR_EMPTY, "found %zu part%s and %zu operator%s; expected two or more of each",
            g->n_parts, g->n_parts == 1 ? "" : "s", g->n_operators, g->n_operators == 1 ? "" : "s");
    if (g->n_parts > GAUGE_CELLS_MAX / g->n_operators)
        return study_table_fault(t, f, ERR_LIMIT,
                                 "found %zu parts and %zu operators; expected at most %d "
                                 "combinations",
                                 g->n_parts, g->n_operators, (int)GAUGE_CELLS_MAX);
    return ERR_OK;
}

/* ---- notes --------------------------------------------------------------------------------- */

static void note_cut(struct study_gauge *g)
{
    const struct {
        bool is_cut;
        const char *name;
    } rows[] = {{g->is_cut_interaction, "interaction"},
                {g->is_cut_operator, "operator"},
                {g->is_cut_part, "part"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (rows[i].is_cut)
            study_note(&g->notes, STUDY_CAVEAT,
                       "The %s component came out negative and is set to 0: it is too small to be "
                       "told from the rest.",
                       rows[i].name);
}

static void note(struct study_gauge *g)
{
    const double p = g->anova.ab.p;
    study_note(
        &g->notes, STUDY_ASSUMED,
        "Parts and people stand for many more (both random); repeats of a cell scatter normally, "
        "alike for all, and were read without knowing the earlier ones.");
    study_note(&g->notes, STUDY_CHECKED, "Balanced: %zu parts, %zu people, %zu readings of each.",
               g->n_parts, g->n_operators, g->n_repeats);
    if (g->is_pooled)
        study_note(&g->notes, STUDY_CHECKED,
                   "The interaction (p %.2g) is pooled with the repeatability, as asked.", p);
    else if (p < 0.05)
        study_note(&g->notes, STUDY_CAVEAT,
                   "People differ more on some parts than on others (interaction, p %.2g).", p);
    note_cut(g);
    if (g->repeatability <= 0)
        study_note(
            &g->notes, STUDY_CAVEAT,
            "Repeats are exactly alike: the instrument's steps are too coarse to show its scatter, "
            "or readings were copied.");
    if (g->n_operators < 3)
        study_note(
            &g->notes, STUDY_CAVEAT,
            "With %zu people the spread between people is hardly known; its interval is wide.",
            g->n_operators);
}

/* With the interaction pooled, parts and people are tested against the pooled mean square. */
static void test_pooled(struct stat_crossed *a)
{
    struct stat_square *const terms[] = {&a->a, &a->b};
    const double df = a->ab.df + a->within.df, ms = (a->ab.ss + a->within.ss) / df;
    for (size_t i = 0; i < 2 && ms > 0; i++) {
        terms[i]->f = terms[i]->ms / ms;
        terms[i]->p = stat_f_upper(terms[i]->f, terms[i]->df, df);
    }
}

static bool is_alike(const struct study_table *t, const struct study_gauge_order *o)
{
    bool is_same = true;
    for (size_t i = 1; i < study_rows(t); i++)
        is_same =
            is_same && (o->unit == UNIT_N
                            ? study_numbers(t, GAUGE_VALUE)[i] == study_numbers(t, GAUGE_VALUE)[0]
                            : study_amounts(t, GAUGE_VALUE)[i] == study_amounts(t, GAUGE_VALUE)[0]);
    return is_same;
}

enum err study_gauge(const struct study_table *t, const struct study_gauge_order *order,
                     struct study_gauge *ret, struct fault *reterr)
{
    struct study_gauge g = {.n_parts = study_n_texts(t, GAUGE_PART),
                            .n_operators = study_n_texts(t, GAUGE_OPERATOR)};
    enum err e = check_size(t, &g, reterr);
    if (e == ERR_OK)
        e = lay_out(t, order, &g, reterr);
    if (e != ERR_OK)
        return e;
    if (!(g.anova.total.ss > 0))
        return study_table_fault(
            t, reterr, ERR_DOMAIN, "%s",
            is_alike(t, order)
                ? "all readings are alike: nothing varies, so there is nothing to divide"
                : "readings differ too little to be worked with: give them in a "
                  "smaller unit");
    g.is_pooled = g.anova.ab.p > order->pool_above;
    if (g.is_pooled)
        test_pooled(&g.anova);
    const struct shape s = {(double)g.n_parts, (double)g.n_operators, (double)g.n_repeats,
                            g.is_pooled};
    find_components(&s, &g);
    g.percent_tolerance =
        order->tolerance > 0 ? 100 * 6 * sqrt(g.gauge) / order->tolerance : (double)NAN;
    if (find_intervals(&s, order->confidence, &g) != ERR_OK)
        return fault_no_memory(reterr);
    note(&g);
    *ret = g;
    return ERR_OK;
}

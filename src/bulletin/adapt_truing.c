/* adapt_truing: owns which readings are trued together, which are judged alone and which are
 * missing; see adapt_truing.h. Decides nothing itself. */
#include "bulletin/adapt_truing.h"

#include <stdio.h>
#include <string.h>

double adapt_point_u(const struct bulletin *b, const struct bulletin_point *point)
{
    return conform_combine(bulletin_uncertainty(b, point->instrument));
}

static int64_t effect_on(const struct bulletin_adjuster *a, const char *point)
{
    for (size_t i = 0; i < a->effects.n; i++)
        if (strcmp(a->effects.at[i].point, point) == 0)
            return a->effects.at[i].change.nano;
    return 0;
}

bool adapt_is_reached(const struct bulletin *b, const struct bulletin_point *point)
{
    for (size_t a = 0; a < b->adjusters.n; a++)
        if (effect_on(&b->adjusters.at[a], point->id) != 0)
            return true;
    return false;
}

static struct conform_limits limits_of(const struct bulletin_point *point)
{
    return (struct conform_limits){.low = point->low.is_given ? point->low.nano : INT64_MIN,
                                   .high = point->high.is_given ? point->high.nano : INT64_MAX};
}

/* ---- what becomes of each point ---- */

static void sort_points(const struct bulletin *b, const struct adapt_reading *readings,
                        struct adapt_truing *t)
{
    size_t n_reached[DIM_N] = {0}, n_read[DIM_N] = {0};
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        const bool is_reached = adapt_is_reached(b, point);
        n_reached[point->nominal.dim] += is_reached;
        n_read[point->nominal.dim] += is_reached && readings[i].is_given;
    }
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        const enum dim dim = point->nominal.dim;
        const bool is_reached = adapt_is_reached(b, point);
        if (!readings[i].is_given)
            t->part[i] = is_reached && n_read[dim] > 0 ? ADAPT_MISSING : ADAPT_UNREAD;
        else
            t->part[i] = is_reached && n_read[dim] == n_reached[dim] ? ADAPT_TRUED : ADAPT_JUDGED;
    }
}

static enum err judge_points(const struct bulletin *b, const struct adapt_reading *readings,
                             struct adapt_truing *t, struct fault *reterr)
{
    for (size_t i = 0; i < b->points.n; i++) {
        if (t->part[i] != ADAPT_JUDGED)
            continue;
        const enum err e =
            conform_judge(readings[i].nano, readings[i].u, limits_of(&b->points.at[i]),
                          b->decision.risk, &t->judged[i]);
        if (e == ERR_OK)
            continue;
        snprintf(reterr->path, sizeof reterr->path, "points[%zu]", i);
        return fault_set(reterr, e, "\"%s\" cannot be judged: %s", b->points.at[i].id, err_text(e));
    }
    return ERR_OK;
}

/* ---- one problem ---- */

static void add_point(const struct bulletin *b, size_t i, const struct adapt_reading *reading,
                      struct problem *p)
{
    const struct bulletin_point *from = &b->points.at[i];
    const struct conform_limits limits = limits_of(from);
    const size_t at = p->truing.n_points++;
    snprintf(p->point_id[at], sizeof p->point_id[at], "%s", from->id);
    p->points[at] = (struct truing_point){.nominal = from->nominal.nano,
                                          .low = limits.low,
                                          .high = limits.high,
                                          .reading = reading->nano,
                                          .u = reading->u};
    for (size_t f = 0; f < from->factors.n && f < MODES_FACTORS_MAX; f++)
        problem_level(p, at, from->factors.at[f].factor, from->factors.at[f].level);
}

/* Points of the problem that the adjuster moves; *ret_others: it moves readings of another
 * dimension too. Effects go in once the number of points is known. */
static size_t count_moved(const struct bulletin *b, const struct bulletin_adjuster *a, enum dim dim,
                          bool *ret_others)
{
    size_t n = 0;
    *ret_others = false;
    for (size_t i = 0; i < a->effects.n; i++) {
        const struct bulletin_point *point = bulletin_point_find(b, a->effects.at[i].point);
        if (point == NULL || a->effects.at[i].change.nano == 0)
            continue;
        n += point->nominal.dim == dim;
        *ret_others = *ret_others || point->nominal.dim != dim;
    }
    return n;
}

static void add_adjuster(const struct bulletin_adjuster *from, enum dim dim, struct problem *p)
{
    const size_t at = p->truing.n_adjusters++;
    snprintf(p->adjuster_id[at], sizeof p->adjuster_id[at], "%s", from->id);
    p->adjusters[at] = (struct truing_adjuster){
        .min = from->min, .max = from->max, .setup_s = from->setup_s, .step_s = from->per_step_s};
    /* A step in another kind of unit (a quarter turn) is shown as a number of steps. */
    p->step[at] = from->step.dim == dim ? from->step.nano : 0;
    for (size_t i = 0; i < p->truing.n_points; i++)
        p->effect[at * p->truing.n_points + i] = effect_on(from, p->point_id[i]);
}

static enum err fill_problem(const struct bulletin *b, const struct adapt_reading *readings,
                             const struct adapt_truing *t, enum dim dim, struct problem *p,
                             struct fault *reterr)
{
    snprintf(p->title, sizeof p->title, "%s revision %d: %s", b->head.id, (int)b->head.revision,
             bulletin_text_in(b, &b->head.title, b->head.language));
    p->truing.has_guard = b->decision.guard == BULLETIN_GUARD_RISK;
    p->truing.risk = b->decision.risk;
    for (size_t i = 0; i < b->points.n; i++) {
        if (t->part[i] != ADAPT_TRUED || b->points.at[i].nominal.dim != dim)
            continue;
        if (p->truing.n_points == 0)
            p->unit = b->points.at[i].nominal.unit;
        add_point(b, i, &readings[i], p);
    }
    for (size_t a = 0; a < b->adjusters.n; a++) {
        bool is_mixed = false;
        if (count_moved(b, &b->adjusters.at[a], dim, &is_mixed) == 0)
            continue;
        if (is_mixed) {
            snprintf(reterr->path, sizeof reterr->path, "adjusters[%zu].effects", a);
            return fault_set(reterr, ERR_UNIT,
                             "\"%s\" changes readings of two kinds, which cannot be weighed "
                             "against each other; expected one kind of amount",
                             b->adjusters.at[a].id);
        }
        add_adjuster(&b->adjusters.at[a], dim, p);
    }
    return problem_finish(p, reterr);
}

enum err adapt_truing(const struct bulletin *b, const struct adapt_reading *readings,
                      struct adapt_truing *ret, struct fault *reterr)
{
    bool is_done[DIM_N] = {false};
    memset(ret, 0, sizeof *ret);
    sort_points(b, readings, ret);
    enum err e = judge_points(b, readings, ret, reterr);
    for (size_t i = 0; i < b->points.n && e == ERR_OK; i++) {
        const enum dim dim = b->points.at[i].nominal.dim;
        if (ret->part[i] != ADAPT_TRUED || is_done[dim])
            continue;
        is_done[dim] = true;
        struct problem *p = problem_new();
        if (p == NULL)
            return fault_no_memory(reterr);
        ret->problems[ret->n_problems++] = p;
        e = fill_problem(b, readings, ret, dim, p, reterr);
    }
    return e;
}

void adapt_truing_done(struct adapt_truing *truing)
{
    for (size_t i = 0; i < truing->n_problems; i++)
        problem_free(truing->problems[i]);
    truing->n_problems = 0;
}

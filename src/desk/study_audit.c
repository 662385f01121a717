/* study_audit: owns the question how many to look at again. */
#include "desk/study_audit.h"

#include "stat/beta.h"
#include "stat/special.h"

#include <math.h>
#include <stdio.h>

enum { CURVE = 12 }; /* points when none are asked for */

static enum err refuse(struct fault *f, const char *option, enum err code, const char *message)
{
    (void)snprintf(f->path, sizeof f->path, "%s", option);
    return fault_set(f, code, "%s", message);
}

static enum err check_plan(const struct study_audit_order *o, struct fault *f)
{
    if (o->lot > 0 && o->plan.n > o->lot)
        return refuse(f, "--sample", ERR_ORDER, "the sample is larger than the lot");
    if (o->plan.c >= o->plan.n)
        return refuse(f, "--accept", ERR_ORDER,
                      "accepts whatever the sample holds; expected fewer than the sample");
    return ERR_OK;
}

static enum err check(const struct study_audit_order *o, struct fault *f)
{
    const bool has_both = o->fine_share >= 0 && o->poor_share >= 0;
    if (o->is_search && !has_both)
        return refuse(f, o->fine_share < 0 ? "--aql" : "--lq", ERR_EMPTY,
                      "a plan is sought between two shares; expected --aql and --lq");
    if (has_both && !(o->fine_share < o->poor_share))
        return refuse(f, "--lq", ERR_ORDER, "expected more than --aql");
    if (o->is_search && o->producer + o->consumer >= 1)
        return refuse(f, "--consumer", ERR_DOMAIN, "expected both risks together below 100 %");
    if (o->is_search && o->lot > 0 &&
        floor(o->fine_share * (double)o->lot + 5e-7) >= ceil(o->poor_share * (double)o->lot - 5e-7))
        return refuse(f, "--lq", ERR_ORDER,
                      "in a lot of this size --aql and --lq are the same number of units");
    if (!o->is_search) {
        const enum err e = check_plan(o, f);
        if (e != ERR_OK)
            return e;
    }
    for (size_t i = 0; i < o->n_bad; i++)
        if (o->bad[i] > o->lot)
            return refuse(f, "--bad", ERR_ORDER, "more bad ones than the lot holds");
    return ERR_OK;
}

/* ---- the curve ----------------------------------------------------------------------------- */

static void add_point(const struct study_audit_order *o, struct study_audit *r, int64_t bad,
                      double share)
{
    struct study_audit_point *p = &r->points[r->n_points];
    if (r->n_points == AUDIT_POINTS_MAX)
        return;
    r->n_points++;
    *p = (struct study_audit_point){.bad = o->lot > 0 ? bad : -1, .share = share};
    p->accept = stat_plan_accepts(r->plan, o->lot, bad, share);
    p->outgoing =
        share * p->accept * (o->lot > 0 ? (double)(o->lot - r->plan.n) / (double)o->lot : 1);
}

/* From none up to where one lot in a hundred is accepted, in even steps. */
static void choose_points(const struct study_audit_order *o, struct study_audit *r)
{
    if (o->lot > 0) {
        int64_t low = 0, high = o->lot;
        while (low < high) {
            const int64_t bad = low + (high - low) / 2;
            if (stat_plan_accepts(r->plan, o->lot, bad, 0) > 0.01)
                low = bad + 1;
            else
                high = bad;
        }
        const int64_t step = low / CURVE > 0 ? (low + CURVE - 1) / CURVE : 1;
        for (int64_t bad = 0; bad <= o->lot && bad < low + step; bad += step)
            add_point(o, r, bad, (double)bad / (double)o->lot);
        return;
    }
    const double last =
        stat_beta_quantile(0.99, (double)r->plan.c + 1, (double)(r->plan.n - r->plan.c));
    const double power = pow(10, floor(log10(last / CURVE)));
    const double step = ceil(last / CURVE / power) * power;
    for (int i = 0; i <= CURVE && i * step < 1; i++)
        add_point(o, r, 0, i * step);
}

static void draw_curve(const struct study_audit_order *o, struct study_audit *r)
{
    if (o->lot > 0 ? o->n_bad == 0 : o->n_shares == 0)
        choose_points(o, r);
    else if (o->lot > 0)
        for (size_t i = 0; i < o->n_bad; i++)
            add_point(o, r, o->bad[i], (double)o->bad[i] / (double)o->lot);
    else
        for (size_t i = 0; i < o->n_shares; i++)
            add_point(o, r, 0, o->shares[i]);
}

/* ---- together ------------------------------------------------------------------------------ */

static void find_risks(const struct study_audit_order *o, struct study_audit *r)
{
    r->has_risks = o->fine_share >= 0 && o->poor_share >= 0;
    if (!r->has_risks)
        return;
    const double lot = (double)o->lot;
    const int64_t fine = (int64_t)floor(o->fine_share * lot + 5e-7);
    const int64_t poor = (int64_t)ceil(o->poor_share * lot - 5e-7);
    r->producer_risk = 1 - stat_plan_accepts(r->plan, o->lot, fine, o->fine_share);
    r->consumer_risk = stat_plan_accepts(r->plan, o->lot, poor, o->poor_share);
    if (o->lot > 0)
        study_note(
            &r->notes, STUDY_CHECKED,
            "Shares of this lot in whole units: %lld bad ones are still fine, %lld are poor.",
            (long long)fine, (long long)poor);
}

static void find_lot(const struct study_audit_order *o, struct study_audit *r)
{
    r->is_accepted = o->found <= r->plan.c;
    if (o->found < 0)
        return;
    if (o->lot > 0) {
        stat_lot_interval(o->found, r->plan.n, o->lot, o->confidence, &r->may_low, &r->may_high);
        r->may_low_share = (double)r->may_low / (double)o->lot;
        r->may_high_share = (double)r->may_high / (double)o->lot;
    } else
        stat_share_interval(o->found, r->plan.n, o->confidence, &r->may_low_share,
                            &r->may_high_share);
}

static bool on_plan(void *me, uint64_t n, uint64_t n_max)
{
    return study_go_on(me, "sample", n, n_max);
}

static enum err find_plan(const struct study_audit_order *o, const struct study_watch *watch,
                          struct stat_plan *plan, struct fault *f)
{
    const struct stat_promise p = {.lot = o->lot,
                                   .fine_share = o->fine_share,
                                   .poor_share = o->poor_share,
                                   .producer = o->producer,
                                   .consumer = o->consumer};
    struct study_watch mine = watch != NULL ? *watch : (struct study_watch){0};
    const enum err e = stat_plan_find(&p, AUDIT_SEARCH_MAX, on_plan, &mine, plan);
    if (e == ERR_BUSY)
        return fault_set(f, e, "stopped before a plan was found; there is no part of an answer");
    if (e != ERR_OK)
        return fault_set(f, e,
                         "no sample of up to %d keeps both promises: --aql and --lq lie too close",
                         (int)AUDIT_SEARCH_MAX);
    return ERR_OK;
}

static void note_sample(const struct study_audit_order *o, struct study_audit *r)
{
    study_note(&r->notes, STUDY_ASSUMED,
               "The sample is drawn at random from the whole lot: every unit has the same chance, "
               "and nobody "
               "knows beforehand which.");
    study_note(&r->notes, STUDY_ASSUMED,
               "Looking at a unit finds every fault it has and makes none.");
    if (o->lot == 0)
        study_note(
            &r->notes, STUDY_ASSUMED,
            "The lot is large against the sample (ten times or more), so the binomial holds.");
}

enum err study_audit(const struct study_audit_order *order, const struct study_watch *watch,
                     struct study_audit *ret, struct fault *reterr)
{
    struct study_audit *r = ret;
    *r = (struct study_audit){.plan = order->plan};
    enum err e = check(order, reterr);
    if (e == ERR_OK && order->is_search)
        e = find_plan(order, watch, &r->plan, reterr);
    if (e != ERR_OK)
        return e;
    if (order->found > r->plan.n)
        return refuse(reterr, "--found", ERR_ORDER, "more bad ones than were looked at");
    note_sample(order, r);
    draw_curve(order, r);
    find_risks(order, r);
    find_lot(order, r);
    return ERR_OK;
}

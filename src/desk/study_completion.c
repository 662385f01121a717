/* study_completion: owns the question how many units will ever come. */
#include "desk/study_completion.h"

#include "core/life.h"
#include "desk/life_rows.h"
#include "stat/forecast.h"

#include <math.h>
#include <stdlib.h>

enum { OPEN_MAX = 256, TERMS_MAX = 1500, FEW = 10 };
#define STILL_COMING 0.1 /* of the time watched, without a claim at its end */

void study_completion_wants(const char *time, const char *event,
                            struct study_want wants[COMPLETION_COLUMNS])
{
    wants[COMPLETION_TIME] =
        (struct study_want){.column = time, .type = STUDY_NUMBER, .low = 0, .high = 1e12};
    wants[COMPLETION_EVENT] = (struct study_want){.column = event, .type = STUDY_YES};
}

struct work {
    const struct study_table *t; /* NULL: from counts */
    const struct study_completion_order *order;
    struct study_completion *ret;
    struct life_rows rows;
    struct weibull_term *terms; /* [2 * n + 1] */
    struct life_step *steps;    /* [n + 1] */
    struct forecast_open *open; /* [OPEN_MAX] */
    double *draws;              /* [COMPLETION_DRAWS] */
    struct cure_shares *shares;
    size_t n_terms, n_open, n_steps;
};

/* Room for n times. */
static enum err work_room(struct work *w, size_t n)
{
    w->terms = malloc((2 * n + 1) * sizeof *w->terms);
    w->steps = malloc((n + 1) * sizeof *w->steps);
    w->open = calloc(OPEN_MAX, sizeof *w->open);
    w->draws = malloc(COMPLETION_DRAWS * sizeof *w->draws);
    w->shares = malloc(sizeof *w->shares);
    const bool is_good = w->terms != NULL && w->steps != NULL && w->open != NULL &&
                         w->draws != NULL && w->shares != NULL;
    return is_good ? ERR_OK : ERR_MEMORY;
}

static enum err work_new(struct work *w)
{
    const size_t n = study_rows(w->t);
    const enum err e = life_rows_new(study_numbers(w->t, COMPLETION_TIME),
                                     study_yes(w->t, COMPLETION_EVENT), NULL, NULL, n, 1, &w->rows);
    return e != ERR_OK ? ERR_MEMORY : work_room(w, n);
}

static void work_done(struct work *w)
{
    life_rows_done(&w->rows);
    free(w->terms);
    free(w->steps);
    free(w->open);
    free(w->draws);
    free(w->shares);
}

/* ---- the fit ----------------------------------------------------------------------------------- */

static enum err check(const struct study_table *t, struct study_completion *r, struct fault *f)
{
    const double *time = study_numbers(t, COMPLETION_TIME);
    const uint8_t *event = study_yes(t, COMPLETION_EVENT);
    double first = HUGE_VAL;
    r->n = study_rows(t);
    if (r->n == 0)
        return study_table_fault(t, f, ERR_EMPTY, "found no row; expected units with their times");
    for (size_t i = 0; i < r->n; i++) {
        if (event[i] && !(time[i] > 0))
            return study_row_fault(t, i, COMPLETION_TIME, f, ERR_DOMAIN,
                                   "found a claim at time 0; expected it after the notice (half a "
                                   "day, say, for the same day)");
        r->n_come += event[i];
        r->last_seen = fmax(r->last_seen, time[i]);
        if (event[i]) {
            r->last_come = fmax(r->last_come, time[i]);
            first = fmin(first, time[i]);
        }
    }
    r->n_open = r->n - r->n_come;
    if (r->n_come == 0)
        return study_table_fault(t, f, ERR_DOMAIN, "none of %zu units has come yet", r->n);
    if (first == r->last_come)
        return study_table_fault(t, f, ERR_DOMAIN,
                                 "every claim came at time %g, and one time makes no curve", first);
    return ERR_OK;
}

static enum err impossible(const struct work *w, struct fault *f, const char *why)
{
    return w->t != NULL ? study_table_fault(w->t, f, ERR_IMPOSSIBLE, "%s", why)
                        : fault_set(f, ERR_IMPOSSIBLE, "%s", why);
}

static enum err fit(struct work *w, struct fault *f)
{
    struct study_completion *r = w->ret;
    struct weibull plain;
    w->n_terms = life_terms_merge(w->terms, w->n_terms, TERMS_MAX);
    const bool is_plain = weibull_fit(w->terms, w->n_terms, &plain) == WEIBULL_FITTED;
    if (cure_fit(w->terms, w->n_terms, is_plain ? &plain : NULL, &r->cure) != WEIBULL_FITTED)
        return impossible(w, f, "the curve of those that come did not settle, so none is given");
    cure_spread(w->terms, w->n_terms, &r->cure, w->shares);
    if (w->shares->n == 0)
        return impossible(w, f, "the share that comes did not settle, so none is given");
    const double tail = (1 - w->order->confidence) / 2;
    r->share = r->cure.share;
    /* No fewer than have come already. */
    const double least = (double)r->n_come / (double)r->n;
    r->share_low = fmax(least, cure_share_quantile(w->shares, tail));
    /* Where nothing points to owners who never come, nothing bounds the share from above. */
    r->share_high =
        !r->cure.is_bounded ? 1 : fmax(r->share_low, cure_share_quantile(w->shares, 1 - tail));
    r->half_by = r->cure.scale * pow(log(2), 1 / r->cure.shape);
    r->most_by = r->cure.scale * pow(log(10), 1 / r->cure.shape);
    return ERR_OK;
}

static void find_misfit(struct work *w)
{
    struct study_completion *r = w->ret;
    for (size_t i = 0; i < w->n_steps; i++) {
        const double s =
            weibull_survival(log(w->steps[i].t), log(r->cure.scale), log(r->cure.shape));
        const double left = 1 - r->share + r->share * s;
        r->misfit = fmax(r->misfit, fabs(left - w->steps[i].survival));
    }
}

/* ---- how many more ----------------------------------------------------------------------------- */

static void add_row(struct work *w, double within)
{
    struct study_completion *r = w->ret;
    const struct forecast_question q = {w->open, w->n_open, within, w->order->seed,
                                        COMPLETION_DRAWS};
    const size_t tail = (size_t)((1 - w->order->confidence) / 2 * COMPLETION_DRAWS);
    struct study_completion_row *row = &r->rows[r->n_rows++];
    row->within = within;
    row->further = forecast_cure(w->shares, &r->cure, &q, w->draws);
    row->low = w->draws[tail];
    row->high = w->draws[COMPLETION_DRAWS - 1 - tail];
    if (!r->cure.is_bounded) /* the fit lies at the edge of what was drawn */
        row->high = fmax(row->high, ceil(row->further));
}

static void find_rows(struct work *w)
{
    static const double usual[] = {30, 90, 180, 365};
    const double asked = w->order->within;
    bool has_asked = asked <= 0;
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++) {
        if (!has_asked && asked <= usual[i]) {
            add_row(w, asked);
            has_asked = true;
        }
        if (usual[i] != asked)
            add_row(w, usual[i]);
    }
    if (!has_asked)
        add_row(w, asked);
    add_row(w, HUGE_VAL);
}

/* ---- what the answer rests on ------------------------------------------------------------------ */

static void note_all(const struct work *w)
{
    struct study_completion *r = w->ret;
    study_note(&r->notes, STUDY_ASSUMED,
               "Owners who come do so along one curve from their notice, whenever that was sent; "
               "units noticed lately will behave like those before.");
    study_note(&r->notes, STUDY_ASSUMED,
               "Nothing new is done to bring them in: a reminder makes more come than this says.");
    study_note(&r->notes, STUDY_ASSUMED,
               "Before the data every share between 0 and 1 is as likely as any other.");
    if (r->last_come > (1 - STILL_COMING) * r->last_seen && r->n_open > 0)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Claims still come at the end of the time watched (the latest at %.4g of %.4g): "
                   "how many never come can hardly be told yet.",
                   r->last_come, r->last_seen);
    else
        study_note(&r->notes, STUDY_CHECKED,
                   "Units were watched well beyond the latest claim (%.4g, watched to %.4g).",
                   r->last_come, r->last_seen);
    if (!r->cure.is_bounded)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Nothing in the data points to owners who never come, so the share is bounded "
                   "from below only.");
    if (r->misfit > 0.1)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "The curve lies up to %.2g from what was seen: take the forecast as a rough guide.",
            r->misfit);
    else
        study_note(&r->notes, STUDY_CHECKED, "The curve keeps within %.2g of what was seen.",
                   r->misfit);
    if (r->n_come < FEW)
        study_note(&r->notes, STUDY_CAVEAT, "Only %zu have come, so all of this is rough.",
                   r->n_come);
}

/* What follows once terms, steps and open units stand. */
static enum err conclude(struct work *w, struct study_completion *ret, struct fault *f)
{
    const enum err e = fit(w, f);
    if (e != ERR_OK)
        return e;
    find_misfit(w);
    find_rows(w);
    note_all(w);
    *ret = *w->ret;
    return ERR_OK;
}

enum err study_completion(const struct study_table *t, const struct study_completion_order *order,
                          struct study_completion *ret, struct fault *reterr)
{
    struct study_completion r = {.n = 0};
    struct work w = {.t = t, .order = order, .ret = &r};
    enum err e = check(t, &r, reterr);
    if (e != ERR_OK)
        return e;
    e = work_new(&w);
    if (e == ERR_OK)
        e = life_steps(NULL, w.rows.end, w.rows.event, r.n, w.steps, r.n, &w.n_steps);
    if (e != ERR_OK)
        (void)fault_set(reterr, e, "%s", e == ERR_MEMORY ? "memory ran out" : err_text(e));
    if (e == ERR_OK) {
        w.n_terms = life_terms(&w.rows, 0, w.terms);
        w.n_open = life_open(&w.rows, 0, w.open, OPEN_MAX);
        e = conclude(&w, ret, reterr);
    }
    work_done(&w);
    return e;
}

/* ---- from counts ------------------------------------------------------------------------------- */

static enum err check_days(const struct study_completion_days *days, size_t n,
                           struct study_completion *r, struct fault *f)
{
    double first = HUGE_VAL;
    for (size_t i = 0; i < n; i++) {
        const struct study_completion_days *d = &days[i];
        if (!(d->t > 0) || d->come < 0 || d->open < 0)
            return fault_set(f, ERR_DOMAIN, "a time that is not above 0, or a count below it");
        if (i > 0 && d->t <= days[i - 1].t)
            return fault_set(f, ERR_ORDER, "the times do not ascend");
        r->n_come += (size_t)d->come;
        r->n_open += (size_t)d->open;
        if (d->come + d->open > 0)
            r->last_seen = d->t;
        if (d->come > 0) {
            r->last_come = d->t;
            first = fmin(first, d->t);
        }
    }
    r->n = r->n_come + r->n_open;
    if (r->n == 0)
        return fault_set(f, ERR_EMPTY, "there is no unit");
    if (r->n_come == 0)
        return fault_set(f, ERR_DOMAIN, "none of %zu units has come yet", r->n);
    if (first == r->last_come)
        return fault_set(f, ERR_DOMAIN, "every claim came at time %g, and one time makes no curve",
                         first);
    return ERR_OK;
}

/* Terms, product-limit steps (core/life.h) and open units of counts. The open ones of many days are those of the later day of every
 * two, three ...: there are OPEN_MAX places. */
static void take_days(struct work *w, const struct study_completion_days *days, size_t n)
{
    const size_t each = n / OPEN_MAX + 1;
    int64_t at_risk = (int64_t)w->ret->n;
    double survival = 1;
    for (size_t i = 0; i < n; i++) {
        const struct study_completion_days *d = &days[i];
        w->terms[w->n_terms++] = (struct weibull_term){
            .log_t = log(d->t), .events = (double)d->come, .censored = (double)d->open};
        if (d->come > 0) {
            survival *= 1 - (double)d->come / (double)at_risk;
            w->steps[w->n_steps++] = (struct life_step){.t = d->t, .survival = survival};
        }
        at_risk -= d->come + d->open;
        struct forecast_open *open = &w->open[i / each];
        open->t = d->t;
        open->n += (double)d->open;
        w->n_open = i / each + 1;
    }
}

enum err study_completion_days(const struct study_completion_days *days, size_t n,
                               const struct study_completion_order *order,
                               struct study_completion *ret, struct fault *reterr)
{
    struct study_completion r = {.n = 0};
    struct work w = {.order = order, .ret = &r};
    enum err e = check_days(days, n, &r, reterr);
    if (e != ERR_OK)
        return e;
    e = work_room(&w, n);
    if (e != ERR_OK) {
        (void)fault_set(reterr, e, "memory ran out");
    } else {
        take_days(&w, days, n);
        e = conclude(&w, ret, reterr);
    }
    work_done(&w);
    return e;
}

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
    const struct study_table *t;
    const struct study_completion_order *order;
    struct study_completion *ret;
    struct life_rows rows;
    struct weibull_term *terms; /* [2 * n + 1] */
    struct life_step *steps;    /* [n + 1] */
    struct forecast_open *open; /* [OPEN_MAX] */
    double *draws;              /* [COMPLETION_DRAWS] */
    struct cure_shares *shares;
    size_t n_terms, n_open;
};

static enum err work_new(struct work *w)
{
    const size_t n = study_rows(w->t);
    const enum err e = life_rows_new(study_numbers(w->t, COMPLETION_TIME),
                                     study_yes(w->t, COMPLETION_EVENT), NULL, NULL, n, 1, &w->rows);
    w->terms = malloc((2 * n + 1) * sizeof *w->terms);
    w->steps = malloc((n + 1) * sizeof *w->steps);
    w->open = malloc(OPEN_MAX * sizeof *w->open);
    w->draws = malloc(COMPLETION_DRAWS * sizeof *w->draws);
    w->shares = malloc(sizeof *w->shares);
    if (e != ERR_OK || w->terms == NULL || w->steps == NULL || w->open == NULL ||
        w->draws == NULL || w->shares == NULL)
        return ERR_MEMORY;
    return ERR_OK;
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

static enum err fit(struct work *w, struct fault *f)
{
    struct study_completion *r = w->ret;
    struct weibull plain;
    w->n_terms = life_terms(&w->rows, 0, w->terms);
    w->n_terms = life_terms_merge(w->terms, w->n_terms, TERMS_MAX);
    const bool is_plain = weibull_fit(w->terms, w->n_terms, &plain) == WEIBULL_FITTED;
    if (cure_fit(w->terms, w->n_terms, is_plain ? &plain : NULL, &r->cure) != WEIBULL_FITTED)
        return study_table_fault(w->t, f, ERR_IMPOSSIBLE,
                                 "the curve of those that come did not settle, so none is given");
    cure_spread(w->terms, w->n_terms, &r->cure, w->shares);
    if (w->shares->n == 0)
        return study_table_fault(w->t, f, ERR_IMPOSSIBLE,
                                 "the share that comes did not settle, so none is given");
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

static enum err find_misfit(struct work *w)
{
    struct study_completion *r = w->ret;
    size_t n = 0;
    const enum err e = life_steps(NULL, w->rows.end, w->rows.event, r->n, w->steps, r->n, &n);
    for (size_t i = 0; e == ERR_OK && i < n; i++) {
        const double s =
            weibull_survival(log(w->steps[i].t), log(r->cure.scale), log(r->cure.shape));
        const double left = 1 - r->share + r->share * s;
        r->misfit = fmax(r->misfit, fabs(left - w->steps[i].survival));
    }
    return e;
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
    w->n_open = life_open(&w->rows, 0, w->open, OPEN_MAX);
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

enum err study_completion(const struct study_table *t, const struct study_completion_order *order,
                          struct study_completion *ret, struct fault *reterr)
{
    struct study_completion r = {.n = 0};
    struct work w = {.t = t, .order = order, .ret = &r};
    enum err e = check(t, &r, reterr);
    if (e != ERR_OK)
        return e;
    e = work_new(&w);
    if (e != ERR_OK)
        (void)fault_set(reterr, e, "memory ran out");
    if (e == ERR_OK)
        e = fit(&w, reterr);
    if (e == ERR_OK) {
        e = find_misfit(&w);
        if (e != ERR_OK)
            (void)fault_set(reterr, e, "%s", err_text(e));
    }
    if (e == ERR_OK) {
        find_rows(&w);
        note_all(&w);
        *ret = r;
    }
    work_done(&w);
    return e;
}

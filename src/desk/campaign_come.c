/* campaign_come: owns the forecast of how many units will still come, and what the whole will then have cost.
 *
 * Every unit in scope was given notice on the day of the bulletin's issue; one comes on the day when its first claim was taken in. The
 * curve and its interval are desk/study_completion.h's, from counts by day. */
#include "desk/campaign_board.h"

#include "desk/study_completion.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { DAYS_MAX = 36500 };

/* Days from the notice: come[d], and all that are open on the last. A claim on the day of the notice, or before it, came after half a day. */
static size_t count_days(const struct board *b, int32_t today, struct study_completion_days *days)
{
    const int32_t issued = b->bulletin->head.issued;
    const size_t last = (size_t)(today - issued);
    for (size_t d = 0; d <= last; d++)
        days[d].t = d > 0 ? (double)d : 0.5;
    for (size_t i = 0; i < b->vins.n; i++) {
        const struct board_unit *u = &b->units[i];
        if (u->in == 0)
            continue;
        if (u->day == INT32_MAX || u->day > today)
            days[last].open++;
        else
            days[u->day > issued ? u->day - issued : 0].come++;
    }
    return last + 1;
}

static enum err forecast(const struct board *b, struct campaign *c, struct fault *f)
{
    const struct study_completion_order order = {.confidence = 0.95, .seed = 1};
    const int32_t issued = b->bulletin->head.issued;
    struct campaign_forecast *to = &c->forecast;
    struct study_completion *s = calloc(1, sizeof *s);
    struct study_completion_days *days = NULL;
    struct fault why = {0};
    enum err err = ERR_DOMAIN;
    to->from = issued;
    if (s == NULL) {
        err = fault_no_memory(f);
    } else if (!b->has_builds) {
        (void)fault_set(&why, ERR_DOMAIN,
                        "there is no build list, so nobody knows how many there are");
    } else if (c->today <= issued || c->today - issued > DAYS_MAX) {
        (void)fault_set(&why, ERR_DOMAIN, "the bulletin was not issued before today");
    } else {
        days = calloc((size_t)(c->today - issued) + 1, sizeof *days);
        err = days == NULL
                  ? fault_no_memory(f)
                  : study_completion_days(days, count_days(b, c->today, days), &order, s, &why);
    }
    to->is_known = err == ERR_OK && s != NULL && s->n_rows > 0;
    if (to->is_known) {
        const struct study_completion_row *ever = &s->rows[s->n_rows - 1];
        to->n = (int64_t)s->n;
        to->n_come = (int64_t)s->n_come;
        to->share = s->share;
        to->share_low = s->share_low;
        to->share_high = s->share_high;
        to->further = llround(ever->further);
        to->low = llround(floor(ever->low));
        to->high = llround(ceil(ever->high));
        to->half_by = s->half_by;
        to->most_by = s->most_by;
    } else {
        memcpy(to->why, why.message, sizeof to->why);
    }
    free(days);
    free(s);
    return err == ERR_MEMORY ? err : ERR_OK;
}

/* ---- what it will have cost ---------------------------------------------------------------- */

__extension__ typedef __int128 wide;
#define MOST ((wide)1000000000000000) /* 10^15 minor units: beyond it an amount counts as this */

static int64_t bounded(wide minor)
{
    return (int64_t)(minor > MOST ? MOST : minor);
}

/* Units that have a claim which stands as pay. */
static int64_t units_that_pay(const struct board *b)
{
    int64_t n = 0;
    uint8_t *seen = calloc(b->vins.n + 1, 1);
    for (size_t i = 0; seen != NULL && i < b->n_claims; i++)
        if (b->claims[i].stands_minor > 0 && !seen[b->claims[i].unit]) {
            seen[b->claims[i].unit] = 1;
            n++;
        }
    free(seen);
    return n;
}

static void expect(const struct board *b, struct campaign *c)
{
    struct campaign_reserve *r = &c->reserve;
    const int64_t n = units_that_pay(b);
    r->has_expected = c->forecast.is_known && n > 0;
    if (!r->has_expected)
        return;
    /* What was paid beyond what stands is owed back, and may never come. */
    const int64_t so_far =
        c->money.paid_minor + c->money.promised_minor + c->money.asked_minor + c->money.held_minor;
    r->mean_unit_minor = (c->money.stands_minor + n / 2) / n;
    r->expected_minor = bounded((wide)so_far + (wide)c->forecast.further * r->mean_unit_minor);
    r->low_minor = bounded((wide)so_far + (wide)c->forecast.low * r->mean_unit_minor);
    r->high_minor = bounded((wide)so_far + (wide)c->forecast.high * r->mean_unit_minor);
}

enum err campaign_come(const struct board *b, struct board_answer *made, struct fault *reterr)
{
    const enum err err = forecast(b, &made->c, reterr);
    struct campaign_reserve *r = &made->c.reserve;
    *r = (struct campaign_reserve){.is_given = b->reserve.is_given,
                                   .minor = b->reserve.minor,
                                   .at_ms = b->reserve.at_ms,
                                   .seq = b->reserve.seq,
                                   .person = campaign_keep(made, b->reserve.person)};
    expect(b, &made->c);
    return err;
}

enum campaign_verdict campaign_verdict(const struct campaign *c)
{
    const struct campaign_reserve *r = &c->reserve;
    if (!r->is_given || !r->has_expected)
        return CAMPAIGN_OPEN;
    if (r->high_minor <= r->minor)
        return CAMPAIGN_WITHIN;
    return r->low_minor > r->minor ? CAMPAIGN_OVER : CAMPAIGN_OPEN;
}

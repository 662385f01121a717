/* report_first: owns the page at a glance: the verdict, four figures, what was found, what is uncertain, what to do next. */
#include "desk/report_inner.h"

#include <math.h>
#include <string.h>

/* ---- the verdict --------------------------------------------------------------------------- */

/* From this share on all are said to come. */
#define NEARLY_ALL 0.995

static const char *reach_says(const struct report_run *r)
{
    if (!r->completion_s.has || r->c->units.in_scope == 0)
        return "";
    const double n = (double)r->completion->n;
    const struct report_ever ever = report_ever(r);
    if ((double)ever.low >= NEARLY_ALL * n)
        return ", and to reach every unit";
    return (double)ever.high < NEARLY_ALL * n ? ", but not to reach every unit" : "";
}

static const char *money_says(struct report_run *r)
{
    const struct campaign_reserve *reserve = &r->c->reserve;
    switch (campaign_verdict(r->c)) {
    case CAMPAIGN_WITHIN:
        r->tone = REPORT_GOOD;
        return report_say(r, "The campaign is set to stay within its reserve of %s%s",
                          report_money(r, reserve->minor), reach_says(r));
    case CAMPAIGN_OVER:
        r->tone = REPORT_BAD;
        return report_say(r, "The campaign will cost more than its reserve of %s",
                          report_money(r, reserve->minor));
    default:
        r->tone = REPORT_UNSURE;
    }
    if (!reserve->is_given)
        return "No reserve is kept for the campaign, so no money can be held against one";
    if (!reserve->has_expected)
        return report_say(r, "Whether the reserve of %s is enough cannot be told yet",
                          report_money(r, reserve->minor));
    return report_say(r, "The reserve of %s may or may not be enough",
                      report_money(r, reserve->minor));
}

static const char *units_say(struct report_run *r)
{
    const struct campaign_count *u = &r->c->units;
    if (!r->c->has_builds)
        return "without a build list nobody knows how many units there are";
    if (u->in_scope == 0)
        return "the build list holds no unit in scope";
    if (!r->completion_s.has)
        return report_say(r,
                          "%s of %s units in scope are done, and how many will come cannot be told",
                          report_count(r, u->done), report_count(r, u->in_scope));
    const struct report_ever ever = report_ever(r);
    return report_say(r, "of %s units in scope %s are done and about %s (%s to %s) will ever come",
                      report_count(r, u->in_scope), report_count(r, u->done),
                      report_count(r, ever.units), report_count(r, ever.low),
                      report_count(r, ever.high));
}

/* ---- four figures -------------------------------------------------------------------------- */

static void tile(struct report_tile *to, const char *label, const char *value, const char *note)
{
    *to = (struct report_tile){label, value, note};
}

static void units_tile(struct report_run *r, struct report_tile *to)
{
    const struct campaign_count *u = &r->c->units;
    if (u->in_scope == 0) {
        tile(to, "UNITS DONE", "not known", "no unit in scope is known");
        return;
    }
    tile(to, "UNITS DONE",
         report_say(r, "%s of %s", report_count(r, u->done), report_count(r, u->in_scope)),
         report_say(r, "%s of those in scope; %s are proved: their claims stand as pay",
                    report_share(r, (double)u->done / (double)u->in_scope),
                    report_count(r, u->proved)));
}

static void come_tile(struct report_run *r, struct report_tile *to)
{
    const struct study_completion *s = r->completion;
    if (!r->completion_s.has) {
        tile(to, "WILL EVER COME", "not known", r->completion_s.why);
        return;
    }
    const struct report_ever ever = report_ever(r);
    tile(to, "WILL EVER COME",
         report_say(r, "%s of %s", report_count(r, ever.units), report_count(r, (int64_t)s->n)),
         report_say(r, "%s to %s by the 95 %% interval; %s have sent a claim",
                    report_count(r, ever.low), report_count(r, ever.high),
                    report_count(r, (int64_t)s->n_come)));
}

static void money_tile(struct report_run *r, struct report_tile *to)
{
    const struct campaign_reserve *v = &r->c->reserve;
    if (!v->has_expected) {
        tile(to, "MONEY PAID SO FAR", report_money(r, r->c->money.paid_minor),
             v->is_given ? report_say(r, "of a reserve of %s", report_money(r, v->minor))
                         : "no reserve is kept");
        return;
    }
    tile(to, "MONEY EXPECTED IN THE END", report_money(r, v->expected_minor),
         report_say(r, "%s to %s; %s", report_money(r, v->low_minor),
                    report_money(r, v->high_minor),
                    v->is_given ? report_say(r, "reserve %s", report_money(r, v->minor))
                                : "no reserve is kept"));
}

static int32_t most_day(const struct report_run *r)
{
    return r->completion_s.rows.notice + (int32_t)ceil(r->completion->most_by);
}

static bool has_most_day(const struct report_run *r)
{
    return r->completion_s.has && isfinite(r->completion->most_by) &&
           r->completion->most_by < 36500;
}

static void time_tile(struct report_run *r, struct report_tile *to)
{
    const char *last =
        r->b->claim.until != BULLETIN_NO_DAY
            ? report_say(r, "; the last day for claims is %s", report_day(r, r->b->claim.until))
            : "";
    if (!has_most_day(r))
        tile(to, "NINE IN TEN BY", "not known",
             report_say(r, "of the units that ever come%s", last));
    else
        tile(to, "NINE IN TEN BY", report_day(r, most_day(r)),
             report_say(r, "of the units that ever come%s", last));
}

/* ---- in a line each ------------------------------------------------------------------------ */

static void say_window(struct report_run *r)
{
    if (!r->windows[0].s.has) {
        report_put(r, REPORT_POINT, "What was found: it cannot be told: %s.", r->windows[0].s.why);
        return;
    }
    if (r->best < 0) {
        report_put(r, REPORT_POINT,
                   "What was found: no run of build days stands out in what the store holds.");
        return;
    }
    const struct report_window *w = &r->windows[r->best];
    const struct study_window_run *run = &w->r->runs[0];
    const char *times = run->has_outside && run->rate_outside > 0
                            ? report_say(r, "%s times as often as the other days of their variant",
                                         report_number(r, run->rate_inside / run->rate_outside, 2))
                            : "and none of the others do";
    report_put(r, REPORT_POINT, "What was found: %s built %s to %s fail %s.",
               w->variant != NULL ? report_say(r, "stations of %s", w->name) : "stations",
               run->first.text, run->last.text, times);
}

static void say_held(struct report_run *r)
{
    static const char *const says[] = {
        [HELD_HOLDS] = "Did it hold: yes. Repaired stations fail at %s times the rate of the "
                       "others (%s to %s).",
        [HELD_WORSE] = "Did it hold: no. Repaired stations fail at %s times the rate of the others "
                       "(%s to %s).",
        [HELD_UNCERTAIN] = "Did it hold: it cannot be told yet. The ratio of rates is %s (%s to "
                           "%s); below 1 the repair helps."};
    if (!r->held_s.has) {
        report_put(r, REPORT_POINT, "Did it hold: it cannot be told: %s.", r->held_s.why);
        return;
    }
    const struct rates *x = &r->held.rates;
    const char *ratio = report_number(r, x->ratio, 2), *low = report_number(r, x->low, 2),
               *high = report_number(r, x->high, 2);
    switch (r->held.verdict) {
    case HELD_HOLDS:
        report_put(r, REPORT_POINT, says[HELD_HOLDS], ratio, low, high);
        break;
    case HELD_WORSE:
        report_put(r, REPORT_POINT, says[HELD_WORSE], ratio, low, high);
        break;
    default:
        report_put(r, REPORT_POINT, says[HELD_UNCERTAIN], ratio, low, high);
    }
}

static void say_money(struct report_run *r)
{
    const struct campaign_money *m = &r->c->money;
    report_put(
        r, REPORT_POINT,
        "Money: %s paid, %s promised; claims that were asked about or are held would come to %s "
        "more at most.",
        report_money(r, m->paid_minor), report_money(r, m->promised_minor),
        report_money(r, m->asked_minor + m->held_minor));
}

static void say_kits(struct report_run *r)
{
    int64_t n_short = 0, n_told = 0;
    const char *names = "";
    for (size_t i = 0; i < r->c->n_kits; i++) {
        const struct campaign_kit *k = &r->c->kits[i];
        n_told += k->has_stock;
        if (!report_is_short(k))
            continue;
        if (++n_short <= 3)
            names = report_say(r, "%s%s%s", names, names[0] != '\0' ? ", " : "", k->id);
    }
    if (n_told == 0)
        report_put(r, REPORT_POINT,
                   "Kits: no list of the stock is kept, so nobody is told what "
                   "runs short.");
    else if (n_short == 0)
        report_put(r, REPORT_POINT, "Kits: none runs short within its lead time.");
    else
        report_put(r, REPORT_POINT, "Kits: %s may run short before an order arrives: %s%s.",
                   report_count(r, n_short), names, n_short > 3 ? " and others" : "");
}

static void say_shops(struct report_run *r)
{
    if (r->c->n_shops == 0)
        (void)report_add(r, REPORT_POINT, "Shops: none has sent a claim yet.");
    else if (r->c->n_looks == 0)
        report_put(r, REPORT_POINT, "Shops: none stands out.");
    else
        report_put(r, REPORT_POINT,
                   "Shops: %s of %s stand out in what they sent. That is a reason to look, not a "
                   "proof of anything.",
                   report_count(r, (int64_t)r->c->n_looks),
                   report_count(r, (int64_t)r->c->n_shops));
}

static void say_uncertain(struct report_run *r)
{
    const struct study_completion *s = r->completion;
    if (r->completion_s.has) {
        const struct report_ever ever = report_ever(r);
        const int64_t n = (int64_t)s->n;
        report_put(
            r, REPORT_POINT,
            "Least certain: how many owners never come. By the curve it is %s of %s units (%s "
            "to %s); what the campaign costs in the end hangs on it.",
            report_count(r, n - ever.units), report_count(r, n), report_count(r, n - ever.high),
            report_count(r, n - ever.low));
    }
    if (r->c->units.unknown > 0)
        report_put(
            r, REPORT_POINT,
            "Labels of %s units do not tell whether they are in scope; they are in no figure "
            "here.",
            report_count(r, r->c->units.unknown));
}

/* ---- what to do next ----------------------------------------------------------------------- */

static void say_next(struct report_run *r)
{
    const struct campaign *c = r->c;
    const int64_t open = c->n_claims[RULE_VERDICT_ASK] + c->n_claims[RULE_VERDICT_HOLD] +
                         c->n_claims[CAMPAIGN_UNRULED];
    (void)report_add(r, REPORT_HEADING, "What to do next");
    if (open > 0)
        report_put(
            r, REPORT_POINT,
            "Settle the %s claims that are open: %s asked about, %s held for a person, %s not "
            "ruled on yet.",
            report_count(r, open), report_count(r, c->n_claims[RULE_VERDICT_ASK]),
            report_count(r, c->n_claims[RULE_VERDICT_HOLD]),
            report_count(r, c->n_claims[CAMPAIGN_UNRULED]));
    if (c->has_builds && c->units.in_scope > c->units.reached)
        report_put(r, REPORT_POINT,
                   "Write again to the owners of the %s units in scope that sent nothing yet.",
                   report_count(r, c->units.in_scope - c->units.reached));
    if (!c->has_builds)
        (void)report_add(
            r, REPORT_POINT,
            "Put the build list into the store (store builds), so that it is known which "
            "units are in scope.");
    if (!c->reserve.is_given)
        (void)report_add(r, REPORT_POINT,
                         "Keep the reserve in the store (store keep reserve), so that money can be "
                         "held against it.");
    if (!r->sites.has_failures)
        (void)report_add(r, REPORT_POINT,
                         "Keep the list of failure reports in the store (store keep failures): "
                         "without it neither the window nor the repair can be judged.");
    if (c->n_looks > 0)
        report_put(r, REPORT_POINT, "Look at the %s shops that stand out, beginning with a call.",
                   report_count(r, (int64_t)c->n_looks));
}

void report_first(struct report_run *r)
{
    struct report_tile *tiles = arena_get(&r->arena, 4 * sizeof *tiles);
    const char *money = money_says(r);
    report_section(r, "summary", "At a glance", false);
    r->verdict = report_say(r, "%s%s %s.", money,
                            campaign_verdict(r->c) == CAMPAIGN_OPEN ? ";" : ":", units_say(r));
    if (tiles == NULL)
        return;
    units_tile(r, &tiles[0]);
    come_tile(r, &tiles[1]);
    money_tile(r, &tiles[2]);
    time_tile(r, &tiles[3]);
    struct report_block *b = report_add(r, REPORT_TILES, NULL);
    b->n_tiles = 4;
    b->tiles = tiles;
    (void)report_money_bars(r);
    (void)report_add(r, REPORT_HEADING, "In a line each");
    say_window(r);
    say_held(r);
    say_money(r);
    say_kits(r);
    say_shops(r);
    say_uncertain(r);
    say_next(r);
    report_put(r, REPORT_SMALL,
               "%s Money in whole units of the currency; the figures to the last digit are in the "
               "same report as data.",
               r->source);
}

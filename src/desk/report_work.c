/* report_work: owns what is said of final readings, rulings, shops, and whether the repair held. */
#include "base/amount.h"
#include "core/date.h"
#include "desk/report_inner.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- readings ------------------------------------------------------------------------------ */

static const char *limits(struct report_run *r, const struct campaign_readings *x)
{
    char low[AMOUNT_SIZE], high[AMOUNT_SIZE];
    if (x->low_nano == INT64_MIN)
        return report_say(r, "at most %s", amount_show(x->high_nano, x->unit, high));
    if (x->high_nano == INT64_MAX)
        return report_say(r, "at least %s", amount_show(x->low_nano, x->unit, low));
    if (x->low_nano == x->high_nano)
        return report_say(r, "%s", amount_show(x->low_nano, x->unit, low));
    return report_say(r, "%s to %s", amount_figure(x->low_nano, x->unit, low),
                      amount_show(x->high_nano, x->unit, high));
}

static struct strip strip_of(const struct report_run *r, const struct campaign_readings *x)
{
    const struct bulletin_point *p = bulletin_point_find(r->b, x->point);
    const double nano = (double)quantity_unit_nano(x->unit);
    struct strip s = {.limits = {x->low_nano, x->high_nano},
                      .nominal = p != NULL ? p->nominal.nano : 0,
                      .has_reading = x->n > 0,
                      .reading = (int64_t)llround(x->mean * nano),
                      .expanded_u = 2 * x->sd * nano};
    s.guarded = s.limits;
    return s;
}

static void reading_row(struct report_rows *t, const struct campaign_readings *x)
{
    struct report_run *r = t->run;
    const struct bulletin_point *p = bulletin_point_find(r->b, x->point);
    const char *name = p != NULL ? bulletin_text_in(r->b, &p->name, r->language) : "";
    if (t->at < t->room)
        t->strips[t->at / t->t->n_columns] = strip_of(r, x);
    report_cell(t, "%s", name[0] != '\0' ? name : x->point);
    report_cell(t, "%s", limits(r, x));
    report_cell(t, "%s", "");
    report_cell(t, "%s", report_number(r, x->mean, 4));
    report_cell(t, "%s", report_number(r, x->sd, 2));
    report_cell(t, "%s of %s", report_count(r, x->n_outside), report_count(r, x->n));
    if (x->has_index)
        report_cell(t, "%.2f (%.2f to %.2f)", x->ppk, x->ppk_low, x->ppk_high);
    else
        report_cell(t, "none");
}

static void put_readings(struct report_run *r)
{
    static const struct report_column columns[] = {{"POINT", 0.22, false, false},
                                                   {"LIMITS", 0.15, false, false},
                                                   {"MEAN AND SPREAD", 0.18, false, true},
                                                   {"MEAN", 0.08, true, false},
                                                   {"SD", 0.06, true, false},
                                                   {"OUTSIDE", 0.11, true, false},
                                                   {"PPK (95 %)", 0.2, true, false}};
    struct report_rows t;
    int64_t n = 0, n_outside = 0;
    size_t n_points = 0;
    for (size_t i = 0; i < r->c->n_readings; i++)
        if (r->c->readings[i].shop == NULL) {
            n_points++;
            n += r->c->readings[i].n;
            n_outside += r->c->readings[i].n_outside;
        }
    report_section(r, "readings", "Final readings against their limits", true);
    if (n == 0) {
        (void)report_add(r, REPORT_SENTENCE,
                         "No final reading at a point with limits is in the store.");
        return;
    }
    report_put(r, REPORT_SENTENCE, "%s of %s final readings lie outside their limits (%s).",
               report_count(r, n_outside), report_count(r, n),
               report_share(r, (double)n_outside / (double)n));
    report_rows_begin(&t, r, columns, 7, n_points);
    for (size_t i = 0; i < r->c->n_readings; i++)
        if (r->c->readings[i].shop == NULL)
            reading_row(&t, &r->c->readings[i]);
    report_rows_end(
        &t, report_say(r,
                       "%s Strip: its ends are the limits, the tick the nominal, the wedge "
                       "the mean, the bar two standard deviations to either side. Ppk: room "
                       "to the nearer limit over three standard deviations, measuring included.",
                       r->source));
}

/* ---- rulings ------------------------------------------------------------------------------- */

static const char *const verdict_says[CAMPAIGN_VERDICTS] = {"pay", "ask: the shop can put it right",
                                                            "hold: a person must look", "refuse",
                                                            "not ruled on yet"};

static void put_verdicts(struct report_run *r)
{
    static const struct report_column columns[] = {{"WHAT STANDS", 0.5, false, false},
                                                   {"CLAIMS", 0.25, true, false},
                                                   {"SHARE", 0.25, true, false}};
    struct report_rows t;
    int64_t all = 0;
    for (int i = 0; i < CAMPAIGN_VERDICTS; i++)
        all += r->c->n_claims[i];
    report_rows_begin(&t, r, columns, 3, CAMPAIGN_VERDICTS + 1);
    for (int i = 0; i < CAMPAIGN_VERDICTS; i++) {
        report_cell(&t, "%s", verdict_says[i]);
        report_cell(&t, "%s", report_count(r, r->c->n_claims[i]));
        report_cell(&t, "%s",
                    all > 0 ? report_share(r, (double)r->c->n_claims[i] / (double)all) : "-");
    }
    report_total(&t);
    report_cell(&t, "in all");
    report_cell(&t, "%s", report_count(r, all));
    report_cell(&t, "%s", "");
    report_rows_end(&t, r->source);
}

enum { FINDINGS_SHOWN = 10 };

static void put_findings(struct report_run *r)
{
    static const struct report_column columns[] = {{"FINDING", 0.2, false, false},
                                                   {"WHAT IT SEES", 0.58, false, false},
                                                   {"CLAIMS", 0.11, true, false},
                                                   {"SHARE", 0.11, true, false}};
    struct report_rows t;
    bool is_shown[RULE_N] = {false};
    size_t n_kinds = 0;
    for (size_t k = 0; k < RULE_N; k++)
        n_kinds += r->findings[k] > 0;
    if (n_kinds == 0)
        return;
    report_put(r, REPORT_HEADING,
               n_kinds > FINDINGS_SHOWN ? "The ten findings that most claims have"
                                        : "What was found in claims");
    report_rows_begin(&t, r, columns, 4, FINDINGS_SHOWN);
    for (size_t i = 0; i < FINDINGS_SHOWN && i < n_kinds; i++) {
        size_t best = RULE_N;
        for (size_t k = 0; k < RULE_N; k++) /* the first of equal ones, in the order of the rules */
            if (!is_shown[k] && (best == RULE_N || r->findings[k] > r->findings[best]))
                best = k;
        is_shown[best] = true;
        report_cell(&t, "%s", rule_rows[best].name);
        report_cell(&t, "%s", rule_rows[best].sees);
        report_cell(&t, "%s", report_count(r, r->findings[best]));
        report_cell(&t, "%s", report_share(r, (double)r->findings[best] / (double)r->n_ruled));
    }
    report_rows_end(
        &t, report_say(r,
                       "%s The last ruling by the rules of each of %s claims; a claim may have "
                       "several findings.",
                       r->source, report_count(r, r->n_ruled)));
}

static void put_rulings(struct report_run *r)
{
    const int64_t *n = r->c->n_claims;
    report_section(r, "rulings", "What became of the claims", true);
    if (r->sites.n_visits == 0) {
        (void)report_add(r, REPORT_SENTENCE, "No claim has come in yet.");
        return;
    }
    report_put(r, REPORT_SENTENCE,
               "%s claims stand as pay, %s are asked about, %s held, %s refused%s.",
               report_count(r, n[RULE_PAY]), report_count(r, n[RULE_VERDICT_ASK]),
               report_count(r, n[RULE_VERDICT_HOLD]), report_count(r, n[RULE_VERDICT_REFUSE]),
               n[CAMPAIGN_UNRULED] > 0
                   ? report_say(r, ", %s not ruled on yet", report_count(r, n[CAMPAIGN_UNRULED]))
                   : "");
    put_verdicts(r);
    put_findings(r);
}

/* ---- shops --------------------------------------------------------------------------------- */

static void put_shops(struct report_run *r)
{
    static const struct report_column columns[] = {{"SHOP", 0.18, false, false},
                                                   {"WHY TO LOOK", 0.62, false, false},
                                                   {"P", 0.1, true, false},
                                                   {"Q", 0.1, true, false}};
    struct report_rows t;
    size_t n_rows = 0;
    report_section(r, "shops", "Shops to look at", true);
    for (size_t i = 0; i < r->c->n_looks; i++)
        n_rows += r->c->looks[i].n;
    if (r->c->n_shops == 0) {
        (void)report_add(r, REPORT_SENTENCE, "No shop has sent a claim yet.");
        return;
    }
    if (n_rows == 0) {
        report_put(r, REPORT_SENTENCE, "Of %s shops none stands out in what it sent.",
                   report_count(r, (int64_t)r->c->n_shops));
        if (r->c->n_tests > 0)
            report_put(r, REPORT_TEXT,
                       "%s tests were made, with the false discoveries held to 5 %%.",
                       report_count(r, (int64_t)r->c->n_tests));
        return;
    }
    report_put(r, REPORT_SENTENCE, "%s of %s shops stand out in what they sent.",
               report_count(r, (int64_t)r->c->n_looks), report_count(r, (int64_t)r->c->n_shops));
    struct report_block *notice =
        report_add(r, REPORT_NOTICE,
                   "This is a reason to look, never proof: a coarse gauge, a hard neighbourhood or "
                   "chance can do the same. Of the shops named here one in twenty or fewer is "
                   "expected to stand out by chance alone. Nobody should be told more than that "
                   "their figures differ, and asked why.");
    notice->word = "READ THIS FIRST";
    report_rows_begin(&t, r, columns, 4, n_rows);
    for (size_t i = 0; i < r->c->n_looks; i++)
        for (size_t k = 0; k < r->c->looks[i].n; k++) {
            const struct campaign_reason *why = &r->c->looks[i].at[k];
            report_cell(&t, "%s", k > 0 ? "" : r->c->looks[i].shop);
            report_cell(&t, "%s", why->words);
            report_cell(&t, "%s", report_p(r, why->p));
            report_cell(&t, "%s", report_p(r, why->q));
        }
    report_rows_end(
        &t, report_say(r,
                       "%s %s tests over all shops; q by Benjamini and Hochberg, shown where it "
                       "is at most 0.05.",
                       r->source, report_count(r, (int64_t)r->c->n_tests)));
}

/* ---- did it hold --------------------------------------------------------------------------- */

static void put_held(struct report_run *r)
{
    static const char *const says[] = {
        [HELD_HOLDS] = "The repair holds: repaired stations fail less often than the others.",
        [HELD_WORSE] =
            "The repair does not hold: repaired stations fail more often than the others.",
        [HELD_UNCERTAIN] = "Whether the repair holds cannot be told yet: the interval holds 1."};
    report_section(r, "held", "Did the repair hold?", false);
    if (!r->held_s.has) {
        report_put(r, REPORT_SENTENCE, "Whether the repair held cannot be told: %s.",
                   r->held_s.why);
        return;
    }
    const struct study_held *h = &r->held;
    const struct study_chart_about about = {report_say(r, "store %s", r->o->store_name), r->today,
                                            "days"};
    (void)report_add(r, REPORT_SENTENCE, says[h->verdict]);
    report_put(
        r, REPORT_TEXT,
        "Repaired stations failed %s times in %s days of watching (%s stations), others %s times "
        "in %s "
        "days. The rate of the repaired is %s times that of the others, with 95 %% confidence "
        "between %s and %s.",
        report_count(r, h->repaired.n_failed), report_count(r, llround(h->repaired.time)),
        report_count(r, (int64_t)h->repaired.n), report_count(r, h->others.n_failed),
        report_count(r, llround(h->others.time)), report_number(r, h->rates.ratio, 2),
        report_number(r, h->rates.low, 2), report_number(r, h->rates.high, 2));
    report_chart(
        r, study_chart_held(r->held_s.t, &r->held_order, h, &about, report_chart_next(r), r->f),
        false, 240);
}

void report_work(struct report_run *r)
{
    put_readings(r);
    put_rulings(r);
    put_shops(r);
    put_held(r);
}

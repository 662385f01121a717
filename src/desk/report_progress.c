/* report_progress: owns what is said of completion, money and kits. */
#include "core/date.h"
#include "desk/report_inner.h"

#include <math.h>

/* ---- completion ---------------------------------------------------------------------------- */

static void count_row(struct report_rows *t, const char *name, const struct campaign_count *c)
{
    struct report_run *r = t->run;
    report_cell(t, "%s", name);
    report_cell(t, "%s", report_count(r, c->in_scope));
    report_cell(t, "%s", report_count(r, c->reached));
    report_cell(t, "%s", report_count(r, c->done));
    report_cell(t, "%s", report_count(r, c->proved));
    report_cell(t, "%s", report_count(r, c->unknown));
    report_cell(t, "%s", report_count(r, c->beyond));
}

static void put_counts(struct report_run *r)
{
    static const struct report_column columns[] = {{"", 0.16, false, false},
                                                   {"IN SCOPE", 0.14, true, false},
                                                   {"REACHED", 0.14, true, false},
                                                   {"DONE", 0.14, true, false},
                                                   {"PROVED", 0.14, true, false},
                                                   {"NOT TOLD BY LABEL", 0.14, true, false},
                                                   {"CLAIMED, NOT IN SCOPE", 0.14, true, false}};
    struct report_rows t;
    report_rows_begin(&t, r, columns, 7, 2);
    count_row(&t, "units", &r->c->units);
    count_row(&t, "stations", &r->c->stations);
    report_rows_end(&t, report_say(r,
                                   "%s Reached: a claim came in. Done: a finished job that is not "
                                   "refused. Proved: its claim stands as pay. A unit is done "
                                   "when all its stations in scope are.",
                                   r->source));
}

static void put_forecast(struct report_run *r)
{
    static const struct report_column columns[] = {{"WITHIN", 0.28, false, false},
                                                   {"FURTHER UNITS", 0.18, true, false},
                                                   {"95 % INTERVAL", 0.22, true, false},
                                                   {"THEN IN ALL", 0.16, true, false},
                                                   {"OF THOSE IN SCOPE", 0.16, true, false}};
    const struct study_completion *s = r->completion;
    struct report_rows t;
    report_rows_begin(&t, r, columns, 5, s->n_rows);
    for (size_t i = 0; i < s->n_rows; i++) {
        const struct study_completion_row *row = &s->rows[i];
        const double all = (double)s->n_come + row->further;
        const bool is_until = row->within == r->completion_order.within;
        if (!isfinite(row->within))
            report_cell(&t, "ever");
        else if (is_until)
            report_cell(&t, "%g days: %s, the last day for claims", row->within,
                        report_day(r, r->b->claim.until));
        else
            report_cell(&t, "%g days", row->within);
        report_cell(&t, "%s", report_count(r, llround(row->further)));
        report_cell(&t, "%s to %s", report_count(r, llround(row->low)),
                    report_count(r, llround(row->high)));
        report_cell(&t, "%s", report_count(r, llround(all)));
        report_cell(&t, "%s", report_share(r, all / (double)s->n));
    }
    report_rows_end(&t, report_say(r,
                                   "%s Units in scope that send a first claim, counted from the "
                                   "notice on %s.",
                                   r->source, report_day(r, r->completion_s.rows.notice)));
}

static void put_completion(struct report_run *r)
{
    const struct study_completion *s = r->completion;
    report_section(r, "completion", "How far it is, and how far it will get", true);
    if (!r->completion_s.has) {
        report_put(r, REPORT_SENTENCE, "How many units will come cannot be told: %s.",
                   r->completion_s.why);
        put_counts(r);
        return;
    }
    const struct report_ever ever = report_ever(r);
    report_put(r, REPORT_SENTENCE,
               "%s of %s units in scope have sent a claim; in the end it will be about %s (%s to "
               "%s).",
               report_count(r, (int64_t)s->n_come), report_count(r, (int64_t)s->n),
               report_count(r, ever.units), report_count(r, ever.low), report_count(r, ever.high));
    put_counts(r);
    const struct study_chart_about about = {report_say(r, "store %s", r->o->store_name), r->today,
                                            "days"};
    report_chart(r,
                 study_chart_completion(r->completion_s.t, &r->completion_order, s, &about,
                                        report_chart_next(r), r->f),
                 false, 290);
    put_forecast(r);
}

/* ---- money --------------------------------------------------------------------------------- */

static const char *const kind_names[CAMPAIGN_KINDS] = {"labour", "kits",        "parts",
                                                       "travel", "consumables", "not told by kind"};

static void money_row(struct report_rows *t, const char *name, const struct campaign_money *m)
{
    struct report_run *r = t->run;
    report_cell(t, "%s", name);
    report_cell(t, "%s", report_money(r, m->stands_minor));
    report_cell(t, "%s", report_money(r, m->paid_minor));
    report_cell(t, "%s", report_money(r, m->promised_minor));
    report_cell(t, "%s", report_money(r, m->owed_back_minor));
    report_cell(t, "%s", report_money(r, m->asked_minor));
    report_cell(t, "%s", report_money(r, m->held_minor));
}

static bool is_empty(const struct campaign_money *m)
{
    return (m->stands_minor | m->paid_minor | m->promised_minor | m->owed_back_minor |
            m->asked_minor | m->held_minor) == 0;
}

static void put_money_table(struct report_run *r)
{
    static const struct report_column columns[] = {{"", 0.16, false, false},
                                                   {"STANDS AS PAY", 0.14, true, false},
                                                   {"PAID", 0.14, true, false},
                                                   {"PROMISED", 0.14, true, false},
                                                   {"OWED BACK", 0.14, true, false},
                                                   {"ASKED ABOUT, AT MOST", 0.14, true, false},
                                                   {"HELD, AT MOST", 0.14, true, false}};
    struct report_rows t;
    report_rows_begin(&t, r, columns, 7, CAMPAIGN_KINDS + 1);
    for (int i = 0; i < CAMPAIGN_KINDS; i++)
        if (!is_empty(&r->c->by_kind[i]))
            money_row(&t, kind_names[i], &r->c->by_kind[i]);
    report_total(&t);
    money_row(&t, "in all", &r->c->money);
    report_rows_end(
        &t, report_say(r,
                       "%s Rulings and payments of %s claims. Promised: stands as pay and "
                       "is not paid yet. At most: what it would cost once all is put right.",
                       r->source, report_count(r, (int64_t)r->sites.n_visits)));
}

static void bar(struct report_run *r, struct report_bars *bars, struct report_bar *to,
                const char *name, int64_t minor, enum report_ink ink)
{
    if (minor <= 0)
        return;
    to[bars->n++] = (struct report_bar){name, report_money(r, minor), (double)minor, ink};
}

bool report_money_bars(struct report_run *r)
{
    const struct campaign_money *m = &r->c->money;
    const struct campaign_reserve *v = &r->c->reserve;
    struct report_bar *list = arena_get(&r->arena, 4 * sizeof *list);
    const bool has_none = m->paid_minor + m->promised_minor + m->asked_minor + m->held_minor == 0;
    if (list == NULL || (has_none && !v->is_given))
        return false;
    struct report_bars *bars = &report_add(r, REPORT_BARS, NULL)->bars;
    bars->bars = list;
    bar(r, bars, list, "paid", m->paid_minor, REPORT_FULL);
    bar(r, bars, list, "promised", m->promised_minor, REPORT_HALF);
    bar(r, bars, list, "asked about or held, at most", m->asked_minor + m->held_minor,
        REPORT_HATCH);
    bars->has_mark = v->is_given;
    bars->mark = (double)v->minor;
    if (v->is_given)
        bars->mark_says = report_say(r, "reserve %s", report_money(r, v->minor));
    bars->has_interval = v->has_expected;
    bars->expected = (double)v->expected_minor;
    bars->low = (double)v->low_minor;
    bars->high = (double)v->high_minor;
    if (v->has_expected)
        bars->expected_says =
            report_say(r, "expected in the end %s (%s to %s)", report_money(r, v->expected_minor),
                       report_money(r, v->low_minor), report_money(r, v->high_minor));
    return true;
}

static void put_money(struct report_run *r)
{
    const struct campaign_reserve *v = &r->c->reserve;
    static const char *const says[] = {
        [CAMPAIGN_WITHIN] = "The whole interval of what it will cost lies within the reserve.",
        [CAMPAIGN_OVER] = "The whole interval of what it will cost lies above the reserve.",
        [CAMPAIGN_OPEN] =
            "The reserve lies within the interval of what it will cost: it may or may not do."};
    report_section(r, "money", "Money", true);
    if (!v->is_given)
        (void)report_add(r, REPORT_SENTENCE,
                         "No reserve is kept in the store, so nothing is said of whether the money "
                         "is enough.");
    else if (!v->has_expected)
        (void)report_add(
            r, REPORT_SENTENCE,
            "What it will cost in the end cannot be told yet: that needs a forecast of "
            "units and a claim that stands as pay.");
    else
        (void)report_add(r, REPORT_SENTENCE, says[campaign_verdict(r->c)]);
    if (report_money_bars(r))
        (void)report_add(r, REPORT_SMALL, r->source);
    if (v->has_expected)
        report_put(
            r, REPORT_TEXT,
            "Expected: all that is paid, promised, asked about or held, and further units at "
            "%s each, the mean of those that stand as pay. The interval is that of the units "
            "still to come; that a later unit may cost more or less than the mean is not in it.",
            report_money(r, v->mean_unit_minor));
    if (r->c->n_other_currency > 0)
        report_put(r, REPORT_TEXT,
                   "%s claims were ruled in another currency; they are in no sum here.",
                   report_count(r, r->c->n_other_currency));
    put_money_table(r);
}

/* ---- kits ---------------------------------------------------------------------------------- */

bool report_is_short(const struct campaign_kit *k)
{
    return k->has_stock && k->is_short && (!k->has_to_come || k->left < k->to_come_high);
}

static void kit_row(struct report_rows *t, const struct campaign_kit *k)
{
    struct report_run *r = t->run;
    report_cell(t, "%s", k->name[0] != '\0' ? k->name : k->id);
    report_cell(t, "%s", k->number);
    report_cell(t, "%s", report_count(r, k->used));
    report_cell(t, "%s", k->has_stock ? report_count(r, k->left) : "not told");
    report_cell(t, "%s", k->has_stock ? report_count(r, k->ordered) : "not told");
    if (k->has_to_come)
        report_cell(t, "%s (at most %s)", report_count(r, k->to_come),
                    report_count(r, k->to_come_high));
    else
        report_cell(t, "not known");
    if (k->has_days)
        report_cell(t, "%s (%s to %s)%s", report_number(r, k->days, 2),
                    report_number(r, k->days_low, 2), report_number(r, k->days_high, 2),
                    report_is_short(k) ? ", runs short" : "");
    else
        report_cell(t, "%s", k->has_stock && k->is_short ? "none left" : "not known");
}

static void put_kits(struct report_run *r)
{
    static const struct report_column columns[] = {{"KIT", 0.27, false, false},
                                                   {"NUMBER", 0.13, false, false},
                                                   {"USED", 0.07, true, false},
                                                   {"IN STOCK", 0.09, true, false},
                                                   {"ON ORDER", 0.09, true, false},
                                                   {"STILL NEEDED (95 %)", 0.16, true, false},
                                                   {"DAYS IT LASTS (95 %)", 0.19, true, false}};
    struct report_rows t;
    report_section(r, "kits", "Kits", false);
    if (r->c->n_kits == 0) {
        (void)report_add(r, REPORT_SENTENCE, "The bulletin has no kits.");
        return;
    }
    report_rows_begin(&t, r, columns, 7, r->c->n_kits);
    for (size_t i = 0; i < r->c->n_kits; i++)
        kit_row(&t, &r->c->kits[i]);
    report_rows_end(&t, report_say(r,
                                   "%s Used: stations in claims that do not stand refused. Days: "
                                   "at the pace so far. Still "
                                   "needed: by the forecast of units, in the mix seen so far.",
                                   r->source));
}

void report_progress(struct report_run *r)
{
    put_completion(r);
    put_money(r);
    put_kits(r);
}

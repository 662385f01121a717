/* report_found: owns what is said of the bad build days: the runs found, the one that is drawn, and where the line may be put. */
#include "core/date.h"
#include "desk/report_inner.h"

#include <string.h>

/* The bulletin's own windows of a variant, as one text. */
static const char *bulletin_windows(struct report_run *r, size_t variant)
{
    const char *text = "";
    const struct bulletin_variant *v = &r->b->scope.variants.at[variant];
    for (size_t i = 0; i < v->windows.n; i++)
        text = report_say(r, "%s%s%s to %s", text, i > 0 ? "; " : "",
                          report_day(r, v->windows.at[i].from.first),
                          report_day(r, v->windows.at[i].to.last));
    return text[0] != '\0' ? text : "none";
}

static void put_run(struct report_rows *t, const struct report_window *w,
                    const struct study_window_run *run, const char *known)
{
    struct report_run *r = t->run;
    report_cell(t, "%s", w->variant != NULL ? w->variant : w->name);
    report_cell(t, "%s to %s", run->first.text, run->last.text);
    if (run->has_set) {
        report_cell(t, "%s to %s", run->first_low.text, run->first_high.text);
        report_cell(t, "%s to %s", run->last_low.text, run->last_high.text);
    } else {
        report_cell(t, "not known");
        report_cell(t, "not known");
    }
    report_cell(t, "%s of %s", report_count(r, run->failed), report_count(r, run->built));
    report_cell(t, "%s",
                run->has_outside && run->rate_outside > 0
                    ? report_number(r, run->rate_inside / run->rate_outside, 2)
                    : "none else");
    report_cell(t, "%s", report_p(r, run->p));
    report_cell(t, "%s", known);
}

static void put_none(struct report_rows *t, const struct report_window *w, const char *why,
                     const char *known)
{
    report_cell(t, "%s", w->variant != NULL ? w->variant : w->name);
    report_cell(t, "%s", why);
    for (int i = 0; i < 5; i++)
        report_cell(t, "%s", "");
    report_cell(t, "%s", known);
}

static void put_windows(struct report_run *r)
{
    static const struct report_column columns[] = {{"VARIANT", 0.08, false, false},
                                                   {"FAILS MORE WHEN BUILT", 0.155, false, false},
                                                   {"BEGINS, 95 %", 0.155, false, false},
                                                   {"ENDS, 95 %", 0.155, false, false},
                                                   {"FAILED OF BUILT", 0.12, true, false},
                                                   {"TIMES THE REST", 0.08, true, false},
                                                   {"P", 0.09, true, false},
                                                   {"IN THE BULLETIN", 0.165, false, false}};
    struct report_rows t;
    report_rows_begin(&t, r, columns, 8, r->n_windows * REPORT_RUNS);
    for (size_t i = 0; i < r->n_windows; i++) {
        const struct report_window *w = &r->windows[i];
        const char *known = w->variant != NULL ? bulletin_windows(r, i) : "see the bulletin";
        if (!w->s.has || w->r->n_runs == 0 || !w->r->runs[0].is_found) {
            put_none(&t, w, w->s.has ? "no run stands out" : w->s.why, known);
            continue;
        }
        for (size_t k = 0; k < w->r->n_runs; k++)
            if (w->r->runs[k].is_found)
                put_run(&t, w, &w->r->runs[k], k == 0 ? known : "");
    }
    report_rows_end(&t,
                    report_say(r,
                               "%s Build list and failure reports; the day is the first of what "
                               "the label names. P: how often chance alone shows a run as "
                               "marked.",
                               r->source));
}

#define LEAST_SHARE 0.0099 /* wider lines are of no use to anybody */

static void put_curve(struct report_run *r, const struct report_window *w)
{
    static const struct report_column columns[] = {
        {"LINE AROUND DAYS THAT BELONG WITH", 0.2, false, false},
        {"BUILT FROM, TO", 0.32, false, false},
        {"SWEPT IN", 0.11, true, false},
        {"NEEDLESS", 0.11, true, false},
        {"BAD LEFT OUT", 0.13, true, false},
        {"FAILED OF THEM", 0.13, true, false}};
    const struct study_window_run *run = &w->r->runs[0];
    struct report_rows t;
    if (run->n_curve == 0)
        return;
    report_put(r, REPORT_HEADING, "Where to draw the line for %s, and what it costs", w->name);
    report_rows_begin(&t, r, columns, 6, run->n_curve);
    for (size_t i = 0; i < run->n_curve; i++) {
        if (run->curve[i].share < LEAST_SHARE)
            continue;
        const struct study_window_cut *cut = &run->curve[i];
        report_cell(&t, "%s or more", report_share(r, cut->share));
        report_cell(&t, "%s to %s", cut->first.text, cut->last.text);
        report_cell(&t, "%s", report_count(r, cut->built));
        report_cell(&t, "%s", report_expected(r, cut->needless));
        report_cell(&t, "%s", report_expected(r, cut->left_built));
        report_cell(&t, "%s", report_expected(r, cut->left_failed));
    }
    report_rows_end(
        &t, report_say(r,
                       "%s Stations, expected by the likelihood: a wide line sweeps in good "
                       "ones needlessly, a narrow one leaves bad ones out.",
                       r->source));
}

static void say_finding(struct report_run *r)
{
    if (r->best < 0 && r->windows[0].s.has)
        (void)report_add(r, REPORT_SENTENCE,
                         "No run of build days fails more often than chance explains.");
    else if (r->best < 0)
        report_put(r, REPORT_SENTENCE,
                   "Which builds are bad cannot be told: %s. That is no sign that none are.",
                   r->windows[0].s.why);
    else
        (void)report_add(r, REPORT_SENTENCE,
                         "Some build days fail far more often than the rest, and chance does not "
                         "explain it.");
}

void report_found(struct report_run *r)
{
    report_section(r, "found", "What was found", true);
    say_finding(r);
    if (!r->windows[0].s.has)
        return;
    put_windows(r);
    if (r->best < 0)
        return;
    const struct report_window *w = &r->windows[r->best];
    const struct study_chart_about about = {
        report_say(r, "store %s, %s", r->o->store_name, w->name), r->today, "days"};
    report_chart(r, study_chart_window(w->s.t, &w->order, w->r, &about, report_chart_next(r), r->f),
                 true, 300);
    put_curve(r, w);
}

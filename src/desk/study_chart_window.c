/* study_chart_window: owns the picture of which build days are bad. */
#include "desk/study_chart_inner.h"

#include "core/date.h"
#include "desk/study_window_inner.h"

#include <stdlib.h>
#include <string.h>

static double day_of(const struct study_window_day *day)
{
    int32_t date = 0;
    if (day->is_number)
        return (double)day->number;
    return date_parse(day->text, strlen(day->text), &date) == ERR_OK ? date : 0;
}

static void fill_days(struct study_chart *c, const struct window_days *days,
                      struct chart_window *ret)
{
    double *day = study_chart_numbers(c, days->n), *built = study_chart_numbers(c, days->n),
           *failed = study_chart_numbers(c, days->n);
    if (day == NULL || built == NULL || failed == NULL)
        return;
    for (size_t i = 0; i < days->n; i++) {
        day[i] = (double)days->at[i].key;
        built[i] = (double)days->at[i].built;
        failed[i] = (double)days->at[i].failed;
    }
    ret->is_date = days->is_dates;
    ret->n = days->n;
    ret->day = day;
    ret->built = built;
    ret->failed = failed;
}

static struct chart_window_run run_of(const struct study_window_run *r)
{
    struct chart_window_run run = {.first = day_of(&r->first),
                                   .last = day_of(&r->last),
                                   .is_found = r->is_found,
                                   .has_set = r->has_set && r->is_found,
                                   .rate_inside = r->rate_inside,
                                   .rate_outside = r->has_outside ? r->rate_outside : 0,
                                   .has_outside = r->has_outside};
    if (run.has_set) {
        run.first_low = day_of(&r->first_low);
        run.first_high = day_of(&r->first_high);
        run.last_low = day_of(&r->last_low);
        run.last_high = day_of(&r->last_high);
    }
    return run;
}

static void fill_runs(struct study_chart *c, const struct study_window *r, struct chart_window *ret)
{
    struct chart_window_run *runs = arena_get(&c->arena, (r->n_runs + 1) * sizeof *runs);
    struct chart_window_cut *cuts = arena_get(&c->arena, (WINDOW_CURVE_MAX + 1) * sizeof *cuts);
    if (runs == NULL || cuts == NULL)
        return;
    for (size_t i = 0; i < r->n_runs; i++)
        runs[i] = run_of(&r->runs[i]);
    ret->runs = runs;
    ret->n_runs = r->n_runs;
    ret->cuts = cuts;
    for (size_t i = 0; r->n_runs > 0 && r->runs[0].is_found && i < r->runs[0].n_curve; i++) {
        const struct study_window_cut *k = &r->runs[0].curve[i];
        cuts[ret->n_cuts++] = (struct chart_window_cut){day_of(&k->first), day_of(&k->last),
                                                        k->needless, k->left_built};
    }
}

static const char *title(struct study_chart *c, const struct study_window *r)
{
    size_t n_found = 0;
    if (r->n_runs == 0)
        return "No run of days has more than its share of the failures.";
    const struct study_window_run *best = &r->runs[0];
    if (!best->is_found)
        return study_chart_say(c,
                               "No run of days stands out: chance alone gives one as marked in %s "
                               "%% of all cases.",
                               study_chart_figure(c, 100 * best->p, 2));
    for (size_t i = 0; i < r->n_runs; i++)
        n_found += r->runs[i].is_found;
    const char *more = n_found > 1 ? study_chart_say(c, " %zu more run%s found.", n_found - 1,
                                                     n_found > 2 ? "s were" : " was")
                                   : "";
    const bool has_times = best->has_outside && best->rate_outside > 0;
    return study_chart_say(
        c, "Units built %s to %s fail %s%s (p %s).%s", best->first.text, best->last.text,
        has_times ? study_chart_figure(c, best->rate_inside / best->rate_outside, 2) : "",
        has_times ? " times as often as the rest" : "and none of the rest do",
        study_chart_p(c, best->p), more);
}

enum err study_chart_window(const struct study_table *t, const struct study_window_order *order,
                            const struct study_window *r, const struct study_chart_about *about,
                            struct study_chart *ret, struct fault *reterr)
{
    struct window_days days = {.n = 0};
    study_chart_begin(ret, CHART_WINDOW);
    ret->chart.window.confidence = order->confidence;
    const enum err e = window_days_read(t, &days, reterr);
    if (e == ERR_OK) {
        fill_days(ret, &days, &ret->chart.window);
        fill_runs(ret, r, &ret->chart.window);
    }
    free(days.at);
    if (e != ERR_OK)
        return e;
    const bool has_found = ret->chart.window.n_cuts > 0;
    ret->chart.title = title(ret, r);
    ret->chart.how = study_chart_say(
        ret, "%s%s%s%s",
        has_found ? "Shaded: the run; brackets: where each of its ends may lie" : "",
        has_found ? study_chart_say(ret, " (%g %% confidence). ", 100 * order->confidence) : "",
        has_found ? "Right: the lines that may be drawn and what each costs." : "",
        r->is_by_exposure ? " Runs are judged by the exposure, not by the number built." : "");
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}

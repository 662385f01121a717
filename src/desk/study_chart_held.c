/* study_chart_held: owns the picture of two rates and their ratio. */
#include "desk/study_chart_inner.h"

#include <math.h>

static struct chart_held_side side_of(const char *name, const struct study_held_side *s)
{
    return (struct chart_held_side){.name = name,
                                    .units = (double)s->n,
                                    .failed = (double)s->n_failed,
                                    .time = s->time,
                                    .rate = s->rate,
                                    .low = s->low,
                                    .high = s->high};
}

enum err study_chart_held(const struct study_table *t, const struct study_held_order *order,
                          const struct study_held *r, const struct study_chart_about *about,
                          struct study_chart *ret, struct fault *reterr)
{
    static const char *const words[] = {"The fix holds", "The fix does not hold",
                                        "It cannot be told yet whether the fix holds"};
    study_chart_begin(ret, CHART_HELD);
    ret->chart.title = study_chart_say(
        ret, "%s: repaired units fail at %s times the rate of the others (%s to %s).",
        words[r->verdict],
        isfinite(r->rates.ratio) ? study_chart_figure(ret, r->rates.ratio, 2) : "many",
        study_chart_figure(ret, r->rates.low, 2),
        isfinite(r->rates.high) ? study_chart_figure(ret, r->rates.high, 2) : "any");
    ret->chart.how = study_chart_say(ret,
                                     "Dots: what was found; bars: exact intervals of %g %%. Were "
                                     "the rates alike, chance would show as much with p %s.",
                                     100 * order->confidence, study_chart_p(ret, r->rates.p));
    ret->chart.held = (struct chart_held){
        .unit = study_chart_unit(about),
        .confidence = order->confidence,
        .sides = {side_of("repaired", &r->repaired), side_of("not repaired", &r->others)},
        .ratio = r->rates.ratio,
        .low = r->rates.low,
        .high = r->rates.high,
        .at_most = order->at_most};
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}

/* study_chart_audit: owns the picture of a sampling plan. */
#include "desk/study_chart_inner.h"

#include <math.h>

enum { POINTS = 240 };
#define HARDLY 0.005 /* accepted this seldom, the curve has told its story */

static double accepts(const struct study_audit_order *o, const struct study_audit *r, double share)
{
    const int64_t bad = o->lot > 0 ? (int64_t)floor(share * (double)o->lot + 0.5) : 0;
    return stat_plan_accepts(r->plan, o->lot, bad, share);
}

/* Up to where lots are hardly ever accepted any more, and as far as a promise reaches. */
static double end_of(const struct study_audit_order *o, const struct study_audit *r)
{
    double end = 1 / (double)(r->plan.n + 1);
    while (end < 1 && accepts(o, r, end) > HARDLY)
        end = fmin(end * 1.2, 1);
    if (r->has_risks)
        end = fmax(end, fmin(1.2 * o->poor_share, 1));
    return end;
}

/* In a lot of N there are no shares between d/N and (d + 1)/N: the curve goes from one to the next. */
static struct chart_curve curve_of(struct study_chart *c, const struct study_audit_order *o,
                                   const struct study_audit *r)
{
    double *x = study_chart_numbers(c, POINTS), *y = study_chart_numbers(c, POINTS);
    const double end = end_of(o, r);
    size_t n = 0;
    if (x == NULL || y == NULL)
        return (struct chart_curve){.n = 0};
    for (size_t i = 0; i < POINTS; i++) {
        double share = end * (double)i / (POINTS - 1);
        if (o->lot > 0)
            share = floor(share * (double)o->lot + 0.5) / (double)o->lot;
        if (n > 0 && share <= x[n - 1])
            continue;
        x[n] = share;
        y[n++] = accepts(o, r, share);
    }
    return (struct chart_curve){n, x, y};
}

static const char *title(struct study_chart *c, const struct study_audit_order *o,
                         const struct study_audit *r)
{
    const long long n = (long long)r->plan.n, most = (long long)r->plan.c;
    if (o->found >= 0)
        return study_chart_say(
            c, "%s the lot: %lld bad in a sample of %lld, where at most %lld may be.",
            r->is_accepted ? "Accept" : "Refuse", (long long)o->found, n, most);
    return study_chart_say(c, "Look at %lld units drawn at random%s; accept with at most %lld bad.",
                           n, o->lot > 0 ? study_chart_say(c, " of %lld", (long long)o->lot) : "",
                           most);
}

enum err study_chart_audit(const struct study_audit_order *order, const struct study_audit *r,
                           const struct study_chart_about *about, struct study_chart *ret,
                           struct fault *reterr)
{
    study_chart_begin(ret, CHART_AUDIT);
    ret->chart.audit = (struct chart_audit){.accept = curve_of(ret, order, r),
                                            .sample = (double)r->plan.n,
                                            .most = (double)r->plan.c,
                                            .has_promises = r->has_risks,
                                            .fine = order->fine_share,
                                            .poor = order->poor_share,
                                            .producer = r->producer_risk,
                                            .consumer = r->consumer_risk,
                                            .has_found = order->found >= 0,
                                            .found = (double)order->found,
                                            .may_low = r->may_low_share,
                                            .may_high = r->may_high_share,
                                            .confidence = order->confidence};
    ret->chart.title = title(ret, order, r);
    ret->chart.how = study_chart_say(
        ret, "The curve: how likely a lot is accepted that is so bad (%s, exact).%s%s",
        order->lot > 0 ? "hypergeometric" : "binomial, for a large lot",
        r->has_risks ? " Dot: a fine lot; ring: a poor one." : "",
        order->found >= 0 ? study_chart_say(ret, " Bar: what the lot may hold, %g %% interval.",
                                            100 * order->confidence)
                          : "");
    study_chart_words(ret, &r->notes, NULL, about);
    return study_chart_end(ret, reterr);
}

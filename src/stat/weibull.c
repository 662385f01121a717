/* weibull: owns the likelihoods and the climb to their tops. Formulas: with y = log t, z = k (y - m), w = e^z, survival is e^-w
 * and the density k w e^-w / t; k the shape, m the log of the scale. */
#include "stat/weibull.h"

#include <math.h>

#define SHAPE_LOG_LOW  -9.21 /* log 1e-4 */
#define SHAPE_LOG_HIGH 9.21

const char *weibull_outcome_text(enum weibull_outcome outcome)
{
    switch (outcome) {
    case WEIBULL_FITTED:
        return "";
    case WEIBULL_NO_EVENT:
        return "nothing failed, so there is no curve to fit";
    case WEIBULL_STEEP:
        return "every failure lies at the latest time that was watched, so no shape is best";
    case WEIBULL_SHALLOW:
        return "the failures bunch so early after entry that no shape is best";
    case WEIBULL_UNSETTLED:
        break;
    }
    return "the fit did not settle, so none is given";
}

/* ---- the plain curve --------------------------------------------------------------------------- */

/* Sums over terms with y less its greatest, so that nothing overflows: weight counts units that end less those that enter. */
struct sums {
    double a, b, c; /* of weight x e^ky times 1, y, y^2 */
};

struct fit {
    const struct weibull_term *terms;
    size_t n;
    double top;    /* greatest log t of a term with an end */
    double events; /* failures */
    double sum_y;  /* of failures, y - top */
};

static struct sums sum_up(const struct fit *f, double k)
{
    struct sums s = {0, 0, 0};
    for (size_t i = 0; i < f->n; i++) {
        const struct weibull_term *t = &f->terms[i];
        const double y = t->log_t - f->top;
        const double w = (t->events + t->censored - t->entered) * exp(k * y);
        s.a += w;
        s.b += w * y;
        s.c += w * y * y;
    }
    return s;
}

static bool prepare(struct fit *f)
{
    f->top = -HUGE_VAL;
    f->events = f->sum_y = 0;
    for (size_t i = 0; i < f->n; i++) {
        const struct weibull_term *t = &f->terms[i];
        f->events += t->events;
        if (t->events + t->censored > 0 && t->log_t > f->top)
            f->top = t->log_t;
    }
    for (size_t i = 0; i < f->n; i++)
        if (f->terms[i].events > 0)
            f->sum_y += f->terms[i].events * (f->terms[i].log_t - f->top);
    return f->events > 0;
}

/* k times the slope of the profile log-likelihood in k, and its slope in log k. */
static double slope(const struct fit *f, double log_k, double *ret_slope)
{
    const double k = exp(log_k);
    const struct sums s = sum_up(f, k);
    const double mean = s.b / s.a;
    const double g = 1 + k * (f->sum_y / f->events - mean);
    *ret_slope = (g - 1) - k * k * (s.c / s.a - mean * mean);
    return g;
}

/* A bracket of the root in log k: slope > 0 at *low, < 0 at *high. */
static enum weibull_outcome bracket(const struct fit *f, double *low, double *high)
{
    double unused = 0, at = 0, g = slope(f, at, &unused);
    const double step = g > 0 ? 0.7 : -0.7;
    while (at >= SHAPE_LOG_LOW && at <= SHAPE_LOG_HIGH) {
        const double next = at + step;
        const double g_next = slope(f, next, &unused);
        if (!isfinite(g_next))
            return WEIBULL_UNSETTLED;
        if (g_next == 0 || (g_next > 0) != (g > 0)) {
            *low = step > 0 ? at : next;
            *high = step > 0 ? next : at;
            return WEIBULL_FITTED;
        }
        at = next;
        g = g_next;
    }
    return step > 0 ? WEIBULL_STEEP : WEIBULL_SHALLOW;
}

static enum weibull_outcome find_shape(const struct fit *f, double *ret_log_k, int *ret_steps)
{
    double low = 0, high = 0;
    const enum weibull_outcome outcome = bracket(f, &low, &high);
    if (outcome != WEIBULL_FITTED)
        return outcome;
    double at = low + (high - low) / 2;
    for (int i = 1; i <= 100; i++) {
        double dg = 0;
        const double g = slope(f, at, &dg);
        if (g > 0)
            low = at;
        else
            high = at;
        double next = at - g / dg;
        if (!(next > low && next < high))
            next = low + (high - low) / 2;
        const double moved = fabs(next - at);
        at = next;
        if (moved < 1e-14 * (1 + fabs(at)) || high - low < 1e-15) {
            *ret_log_k = at;
            *ret_steps = i;
            return WEIBULL_FITTED;
        }
    }
    return WEIBULL_UNSETTLED;
}

/* Inverse of the observed information: at the top sum(w) = failures d, so that it is [k^2 d, -k Zw; -k Zw, d + Zzw]. */
static bool invert(const struct fit *f, const struct sums *s, struct weibull *ret)
{
    const double k = ret->shape, d = f->events, m = ret->log_scale - f->top;
    const double mean = s->b / s->a, square = s->c / s->a;
    const double zw = d * k * (mean - m);
    const double zzw = d * k * k * (square - 2 * m * mean + m * m);
    const double i00 = k * k * d, i01 = -k * zw, i11 = d + zzw;
    const double det = i00 * i11 - i01 * i01;
    if (!(det > 0) || !isfinite(det))
        return false;
    ret->cov[0][0] = i11 / det;
    ret->cov[1][1] = i00 / det;
    ret->cov[0][1] = ret->cov[1][0] = -i01 / det;
    ret->se_log_scale = sqrt(ret->cov[0][0]);
    ret->se_log_shape = sqrt(ret->cov[1][1]);
    return true;
}

/* log-likelihood at its top for a given shape: d (log k - k m) + (k - 1) sum(log t) - d. */
static double top_loglik(const struct fit *f, double k, double log_a, double *ret_log_scale)
{
    const double d = f->events, m = (log_a - log(d)) / k; /* less top */
    *ret_log_scale = m + f->top;
    return d * (log(k) - k * m) + (k - 1) * f->sum_y - d * f->top - d;
}

enum weibull_outcome weibull_fit(const struct weibull_term *terms, size_t n, struct weibull *ret)
{
    struct fit f = {.terms = terms, .n = n};
    struct weibull w = {.n_steps = 0};
    if (!prepare(&f))
        return WEIBULL_NO_EVENT;
    const enum weibull_outcome outcome = find_shape(&f, &w.log_shape, &w.n_steps);
    if (outcome != WEIBULL_FITTED)
        return outcome;
    w.events = f.events;
    w.shape = exp(w.log_shape);
    const struct sums s = sum_up(&f, w.shape), one = sum_up(&f, 1);
    if (!(s.a > 0) || !(one.a > 0))
        return WEIBULL_UNSETTLED;
    w.loglik = top_loglik(&f, w.shape, log(s.a), &w.log_scale);
    w.scale = exp(w.log_scale);
    double log_scale = 0;
    w.exponential_loglik = top_loglik(&f, 1, log(one.a), &log_scale);
    w.exponential_scale = exp(log_scale);
    if (!isfinite(w.scale) || !isfinite(w.loglik) || !invert(&f, &s, &w))
        return WEIBULL_UNSETTLED;
    *ret = w;
    return WEIBULL_FITTED;
}

double weibull_survival(double log_t, double log_scale, double log_shape)
{
    return exp(-exp(exp(log_shape) * (log_t - log_scale)));
}

double weibull_further(double t, double more, double log_scale, double log_shape)
{
    const double k = exp(log_shape);
    const double now = t > 0 ? exp(k * (log(t) - log_scale)) : 0;
    const double then = t + more > 0 ? exp(k * (log(t + more) - log_scale)) : 0;
    if (!(then > now))
        return 0;
    return -expm1(now - then);
}

/* weibull_ends: owns the likelihood's own interval of scale and shape. With y = log t less its greatest, A(k) = sum of w e^(k y) (w: units that
 * end less those that enter) and u = A e^(-k m), the log-likelihood is D log k + k Sy - D log A + (D log u - u) and what hangs on
 * neither parameter: for a shape k all scales whose likelihood is within the drop are those with u between two roots. So the ends of
 * the scale are the least and greatest over k of log(A/u)/k, and those of the shape are where the two roots meet. */
#include "stat/weibull.h"

#include <math.h>

enum { HALVINGS = 60, GRID = 24, GOLDEN = 40 };
#define LOG_SHAPE_MOST 9.21 /* log 1e4, as the fit's */
#define STEP           0.25

struct ends {
    const struct weibull_term *terms;
    size_t n;
    double top, events, sum_y; /* events: D; sum_y: Sy */
    double least;              /* log-likelihood that must be reached, less what hangs on neither */
};

/* log A; NAN where late entries outweigh the rest. */
static double log_a(const struct ends *e, double k)
{
    double a = 0;
    for (size_t i = 0; i < e->n; i++) {
        const struct weibull_term *t = &e->terms[i];
        a += (t->events + t->censored - t->entered) * exp(k * (t->log_t - e->top));
    }
    return a > 0 ? log(a) : (double)NAN;
}

/* By how much the best of a shape is above the mark, D log D - D being the greatest of D log u - u. */
static double room(const struct ends *e, double log_k, double *ret_log_a)
{
    const double d = e->events, k = exp(log_k);
    *ret_log_a = log_a(e, k);
    return d * log_k + k * e->sum_y - d * *ret_log_a + d * log(d) - d - e->least;
}

/* Where room ends, from log_k on in steps; false: it does not. */
static bool end_of_shape(const struct ends *e, double log_k, double step, double *ret)
{
    double in = log_k, out = log_k, unused = 0;
    do {
        in = out;
        out += step;
        if (fabs(out) > LOG_SHAPE_MOST)
            return false;
    } while (room(e, out, &unused) > 0);
    for (int i = 0; i < HALVINGS; i++) {
        const double mid = in + (out - in) / 2;
        if (room(e, mid, &unused) > 0)
            in = mid;
        else
            out = mid;
    }
    *ret = in + (out - in) / 2;
    return true;
}

/* log u at which D log u - u is `below` under its greatest; sign -1: the smaller root, 1: the larger. */
static double root_of(double d, double below, double sign)
{
    double in = 0, out = 1; /* distance of log u from log D */
    while (d * (sign * out - expm1(sign * out)) > -below && out < 700)
        out *= 2;
    for (int i = 0; i < HALVINGS; i++) {
        const double mid = in + (out - in) / 2;
        if (d * (sign * mid - expm1(sign * mid)) > -below)
            in = mid;
        else
            out = mid;
    }
    return log(d) + sign * in;
}

/* sign -1: greatest log scale of a shape that is within the drop; 1: the least, negated, so that both are sought as a greatest. */
static double scale_at(const struct ends *e, double log_k, double sign)
{
    double a = 0;
    const double below = room(e, log_k, &a);
    if (!(below >= 0))
        return -HUGE_VAL;
    return -sign * (a - root_of(e->events, below, sign)) / exp(log_k);
}

static double end_of_scale(const struct ends *e, double low, double high, double sign)
{
    const double golden = 0.6180339887498949;
    double best = -HUGE_VAL, at = low;
    for (int i = 0; i <= GRID; i++) {
        const double log_k = low + (high - low) * i / GRID, value = scale_at(e, log_k, sign);
        at = value > best ? log_k : at;
        best = fmax(best, value);
    }
    double a = fmax(low, at - (high - low) / GRID), b = fmin(high, at + (high - low) / GRID);
    for (int i = 0; i < GOLDEN; i++) {
        const double x = b - golden * (b - a), y = a + golden * (b - a);
        const double at_x = scale_at(e, x, sign), at_y = scale_at(e, y, sign);
        best = fmax(best, fmax(at_x, at_y));
        if (at_x > at_y)
            b = y;
        else
            a = x;
    }
    return -sign * best + e->top;
}

void weibull_find_ends(const struct weibull_term *terms, size_t n, const struct weibull *fit,
                       double z, struct weibull_ends *ret)
{
    struct ends e = {.terms = terms, .n = n, .top = -HUGE_VAL};
    double unused = 0;
    for (size_t i = 0; i < n; i++)
        if (terms[i].events + terms[i].censored > 0)
            e.top = fmax(e.top, terms[i].log_t);
    for (size_t i = 0; i < n; i++) {
        e.events += terms[i].events;
        e.sum_y += terms[i].events > 0 ? terms[i].events * (terms[i].log_t - e.top) : 0;
    }
    e.least = room(&e, fit->log_shape, &unused) - z * z / 2;
    struct weibull_ends r = {.has_shape_low = false};
    r.has_shape_low = end_of_shape(&e, fit->log_shape, -STEP, &r.log_shape_low);
    r.has_shape_high = end_of_shape(&e, fit->log_shape, STEP, &r.log_shape_high);
    const double low = r.has_shape_low ? r.log_shape_low : -LOG_SHAPE_MOST;
    const double high = r.has_shape_high ? r.log_shape_high : LOG_SHAPE_MOST;
    r.log_scale_low = end_of_scale(&e, low, high, 1);
    r.has_scale_high = r.has_shape_low; /* ever flatter curves go with ever longer scales */
    r.log_scale_high = end_of_scale(&e, low, high, -1);
    r.has_scale_low = isfinite(r.log_scale_low);
    r.has_scale_high = r.has_scale_high && isfinite(r.log_scale_high);
    *ret = r;
}

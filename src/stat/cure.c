/* cure: owns the mixture of units that fail along a Weibull curve and units that never do; declared in stat/weibull.h. Its
 * likelihood may be flat, have its top at the edge (everyone fails) or several tops, so it is climbed with care from more than one
 * side, and what is found is told apart. */
#include "stat/weibull.h"

#include <math.h>
#include <string.h>

enum { P = CURE_PARAMETERS };

/* ---- one term ---------------------------------------------------------------------------------- */

struct point {
    double share, rest; /* p and 1 - p */
    double k, m;
};

struct sum {
    double value, slope[P], curve[P][P];
};

/* times x log of the density of a failure. */
static void add_event(struct sum *s, const struct point *p, double log_t, double times)
{
    const double z = p->k * (log_t - p->m), w = exp(z);
    s->value += times * (log(p->share) + log(p->k) + z - log_t - w);
    s->slope[0] += times * p->rest;
    s->slope[1] += times * p->k * (w - 1);
    s->slope[2] += times * (1 + z - z * w);
    s->curve[0][0] -= times * p->share * p->rest;
    s->curve[1][1] -= times * p->k * p->k * w;
    s->curve[1][2] += times * p->k * (w - 1 + z * w);
    s->curve[2][2] += times * (z - z * w - z * z * w);
}

/* times x log of 1 - p + p S. */
static void add_whole(struct sum *s, const struct point *p, double log_t, double times)
{
    const double z = p->k * (log_t - p->m), w = exp(z);
    /* Far out w overflows; S and its slopes are 0 there. */
    const double f = w < 700 ? exp(-w) : 0, ws = w < 700 ? w * f : 0, u = w < 700 ? w : 0;
    const double gone = w < 700 ? -expm1(-w) : 1;
    const double pq = p->share * p->rest, a = p->rest + p->share * f;
    const double d[P] = {-pq * gone, p->share * p->k * ws, -p->share * z * ws};
    double dd[P][P];
    dd[0][0] = -pq * (p->rest - p->share) * gone;
    dd[0][1] = pq * p->k * ws;
    dd[0][2] = -pq * z * ws;
    dd[1][1] = p->share * p->k * p->k * ws * (u - 1);
    dd[1][2] = p->share * p->k * ws * (1 + z * (1 - u));
    dd[2][2] = -p->share * z * ws * (1 + z * (1 - u));
    s->value += times * log(a);
    for (int i = 0; i < P; i++) {
        s->slope[i] += times * d[i] / a;
        for (int j = i; j < P; j++)
            s->curve[i][j] += times * (dd[i][j] / a - d[i] * d[j] / (a * a));
    }
}

static struct sum total(const struct weibull_term *terms, size_t n, const double at[P])
{
    struct sum s;
    memset(&s, 0, sizeof s);
    const struct point p = {.share = 1 / (1 + exp(-at[CURE_LOGIT])),
                            .rest = 1 / (1 + exp(at[CURE_LOGIT])),
                            .k = exp(at[CURE_SHAPE]),
                            .m = at[CURE_SCALE]};
    for (size_t i = 0; i < n; i++) {
        if (terms[i].events > 0)
            add_event(&s, &p, terms[i].log_t, terms[i].events);
        if (terms[i].censored > 0)
            add_whole(&s, &p, terms[i].log_t, terms[i].censored);
        if (terms[i].entered > 0)
            add_whole(&s, &p, terms[i].log_t, -terms[i].entered);
    }
    for (int i = 0; i < P; i++)
        for (int j = 0; j < i; j++)
            s.curve[i][j] = s.curve[j][i];
    return s;
}

double cure_loglik(const struct weibull_term *terms, size_t n, const double at[P], double slope[P],
                   double curve[P][P])
{
    const struct sum s = total(terms, n, at);
    if (slope != NULL)
        memcpy(slope, s.slope, sizeof s.slope);
    if (curve != NULL)
        memcpy(curve, s.curve, sizeof s.curve);
    return s.value;
}

/* ---- the climb --------------------------------------------------------------------------------- */

/* x so that (-curve + ridge) x = slope over the parameters first..P-1, by Cholesky; false when that is not positive definite. */
static bool step_for(const struct sum *s, double ridge, int first, double x[P])
{
    double l[P][P] = {{0}};
    for (int i = first; i < P; i++)
        for (int j = first; j <= i; j++) {
            double v = -s->curve[i][j] + (i == j ? ridge * (1 + fabs(s->curve[i][i])) : 0);
            for (int k = first; k < j; k++)
                v -= l[i][k] * l[j][k];
            if (i == j && !(v > 1e-12))
                return false;
            l[i][j] = i == j ? sqrt(v) : v / l[j][j];
        }
    for (int i = first; i < P; i++) {
        x[i] = s->slope[i];
        for (int k = first; k < i; k++)
            x[i] -= l[i][k] * x[k];
        x[i] /= l[i][i];
    }
    for (int i = P - 1; i >= first; i--) {
        for (int k = i + 1; k < P; k++)
            x[i] -= l[k][i] * x[k];
        x[i] /= l[i][i];
    }
    return true;
}

static bool is_there(const struct sum *s, const double x[P], int first)
{
    double gain = 0;
    for (int i = first; i < P; i++)
        gain += x[i] * s->slope[i];
    return gain < 1e-16; /* twice what a full step would add */
}

bool cure_climb(const struct weibull_term *terms, size_t n, double at[P], bool is_share_held,
                double *ret_loglik)
{
    const int first = is_share_held ? CURE_SCALE : CURE_LOGIT;
    struct sum here = total(terms, n, at);
    double ridge = 1e-3;
    for (int i = 0; i < 300 && isfinite(here.value); i++) {
        double x[P] = {0}, next[P];
        const bool is_step = step_for(&here, ridge, first, x);
        if (is_step && ridge <= 1e-6 && is_there(&here, x, first)) {
            *ret_loglik = here.value;
            return true;
        }
        if (is_step) {
            for (int k = 0; k < P; k++)
                next[k] = at[k] + fmax(-2, fmin(2, x[k]));
            const struct sum there = total(terms, n, next);
            if (there.value >= here.value - 1e-13 * fabs(here.value)) {
                memcpy(at, next, sizeof next);
                here = there;
                ridge = fmax(ridge / 10, 1e-14);
                continue;
            }
        }
        ridge *= 10;
        if (ridge > 1e12)
            return false;
    }
    return false;
}

/* ---- the fit ----------------------------------------------------------------------------------- */

/* The curve of the failures alone, as if all others never failed. */
static bool of_events(const struct weibull_term *terms, size_t n, double at[P])
{
    double d = 0, sum = 0, square = 0;
    for (size_t i = 0; i < n; i++) {
        d += terms[i].events;
        sum += terms[i].events * terms[i].log_t;
        square += terms[i].events * terms[i].log_t * terms[i].log_t;
    }
    if (d < 1)
        return false;
    const double mean = sum / d, sd = sqrt(fmax(square / d - mean * mean, 1e-4));
    /* log t of a Weibull curve has mean m - 0.5772/k and standard deviation 1.2825/k. */
    at[CURE_SHAPE] = log(1.2825 / sd);
    at[CURE_SCALE] = mean + 0.5772 / 1.2825 * sd;
    return true;
}

static double open_share(const struct weibull_term *terms, size_t n)
{
    double events = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        events += terms[i].events;
        all += terms[i].events + terms[i].censored;
    }
    return events / all;
}

enum weibull_outcome cure_fit(const struct weibull_term *terms, size_t n,
                              const struct weibull *plain, struct cure *ret)
{
    double begin[P] = {0};
    if (!of_events(terms, n, begin))
        return WEIBULL_NO_EVENT;
    const double seen = fmin(open_share(terms, n), 0.98);
    const double shares[] = {seen, seen + 0.4 * (1 - seen), 0.98};
    struct cure best = {.loglik = -HUGE_VAL};
    for (size_t i = 0; i < sizeof shares / sizeof *shares; i++) {
        double at[P] = {log(shares[i] / (1 - shares[i])), begin[CURE_SCALE], begin[CURE_SHAPE]};
        double loglik = 0;
        if (plain != NULL && i == 2) {
            at[CURE_SCALE] = plain->log_scale;
            at[CURE_SHAPE] = plain->log_shape;
        }
        if (!cure_climb(terms, n, at, false, &loglik) || loglik <= best.loglik + 1e-9)
            continue;
        best.loglik = loglik;
        memcpy(best.at, at, sizeof at);
    }
    best.is_bounded = isfinite(best.loglik) && best.at[CURE_LOGIT] < 12;
    if (plain != NULL && (!best.is_bounded || best.loglik <= plain->loglik + 1e-7)) {
        best = (struct cure){.at = {HUGE_VAL, plain->log_scale, plain->log_shape},
                             .loglik = plain->loglik};
        best.share = 1;
    } else if (!best.is_bounded) {
        return WEIBULL_UNSETTLED;
    } else {
        best.share = 1 / (1 + exp(-best.at[CURE_LOGIT]));
    }
    best.scale = exp(best.at[CURE_SCALE]);
    best.shape = exp(best.at[CURE_SHAPE]);
    *ret = best;
    return WEIBULL_FITTED;
}

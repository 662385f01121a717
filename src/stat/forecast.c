/* forecast: owns the draws of curves and of counts. */
#include "stat/forecast.h"

#include "core/normal.h"
#include "stat/chance.h"
#include "stat/summary.h"

#include <math.h>
#include <string.h>

enum { PURPOSE = 3 };
#define INVERT_UP_TO                                                                               \
    60.0 /* means up to here are drawn by adding up chances, larger ones as normal */

/* ---- a count ----------------------------------------------------------------------------------- */

/* One count of the given mean and variance (at most the mean), as a binomial's would be. */
static double draw_count(struct chance *c, double mean, double variance, double most)
{
    const double u = chance_share(c);
    if (!(variance > 1e-9))
        return floor(mean + 0.5);
    if (mean > INVERT_UP_TO) {
        const double x = floor(mean + sqrt(variance) * normal_quantile(u) + 0.5);
        return fmax(0, fmin(most, x));
    }
    const double p = 1 - variance / mean; /* chance of one of mean / p trials */
    const double n = p > 1e-9 ? mean / p : 0;
    double chance = p > 1e-9 ? exp(n * log1p(-p)) : exp(-mean), sum = chance, k = 0;
    while (sum < u && k < most) {
        chance *= p > 1e-9 ? fmax(0, n - k) / (k + 1) * p / (1 - p) : mean / (k + 1);
        k++;
        sum += chance;
        if (!(chance > 0))
            break;
    }
    return k;
}

struct moments {
    double mean, variance, most;
};

static void add_open(struct moments *m, double n, double p)
{
    m->mean += n * p;
    m->variance += n * p * (1 - p);
    m->most += n;
}

/* ---- Weibull ----------------------------------------------------------------------------------- */

static struct moments of_weibull(const struct forecast_question *q, double log_scale,
                                 double log_shape)
{
    struct moments m = {0, 0, 0};
    for (size_t i = 0; i < q->n_open; i++) {
        const double p =
            isinf(q->more) ? 1 : weibull_further(q->open[i].t, q->more, log_scale, log_shape);
        add_open(&m, q->open[i].n, p);
    }
    return m;
}

double forecast_weibull(const struct weibull *w, const struct forecast_question *q, double *draws)
{
    const double l00 = sqrt(w->cov[0][0]), l10 = l00 > 0 ? w->cov[0][1] / l00 : 0;
    const double l11 = sqrt(fmax(0, w->cov[1][1] - l10 * l10));
    for (size_t i = 0; i < q->n_draws; i++) {
        struct chance c;
        chance_start(&c, q->seed, PURPOSE, i);
        const double a = chance_normal(&c), b = chance_normal(&c);
        const struct moments m =
            of_weibull(q, w->log_scale + l00 * a, w->log_shape + l10 * a + l11 * b);
        draws[i] = draw_count(&c, m.mean, m.variance, m.most);
    }
    stat_sort(draws, q->n_draws);
    return of_weibull(q, w->log_scale, w->log_shape).mean;
}

/* ---- the share that ever fails ----------------------------------------------------------------- */

/* Covariance of the other two at a point of the grid; false when it has no top there. */
static bool spread_at(const struct weibull_term *terms, size_t n, const double at[CURE_PARAMETERS],
                      double root[3], double *ret_log_det)
{
    double curve[CURE_PARAMETERS][CURE_PARAMETERS];
    cure_loglik(terms, n, at, NULL, curve);
    const double a = -curve[1][1], b = -curve[1][2], c = -curve[2][2];
    const double det = a * c - b * b;
    if (!(a > 0 && det > 0 && isfinite(det)))
        return false;
    root[0] = sqrt(c / det);
    root[1] = -b / det / root[0];
    root[2] = sqrt(fmax(0, a / det - root[1] * root[1]));
    *ret_log_det = -log(det);
    return true;
}

struct grid {
    double at[CURE_GRID][CURE_PARAMETERS], root[CURE_GRID][3], log_weight[CURE_GRID];
    bool is_there[CURE_GRID];
};

static void climb_from(const struct weibull_term *terms, size_t n, struct grid *g, size_t i,
                       const double begin[CURE_PARAMETERS])
{
    const double share = ((double)i + 0.5) / CURE_GRID;
    double loglik = 0, log_det = 0;
    double *at = g->at[i];
    at[CURE_LOGIT] = log(share / (1 - share));
    at[CURE_SCALE] = begin[CURE_SCALE];
    at[CURE_SHAPE] = begin[CURE_SHAPE];
    g->is_there[i] =
        cure_climb(terms, n, at, true, &loglik) && spread_at(terms, n, at, g->root[i], &log_det);
    g->log_weight[i] = loglik + log_det / 2;
}

void cure_spread(const struct weibull_term *terms, size_t n, const struct cure *fit,
                 struct cure_shares *ret)
{
    struct grid g = {.at = {{0}}};
    const double place = fit->share * CURE_GRID;
    const size_t middle = place < CURE_GRID - 1 ? (size_t)place : CURE_GRID - 1;
    climb_from(terms, n, &g, middle, fit->at);
    for (size_t i = middle + 1; i < CURE_GRID; i++)
        climb_from(terms, n, &g, i, g.is_there[i - 1] ? g.at[i - 1] : fit->at);
    for (size_t i = middle; i-- > 0;)
        climb_from(terms, n, &g, i, g.is_there[i + 1] ? g.at[i + 1] : fit->at);
    double top = -HUGE_VAL, sum = 0;
    for (size_t i = 0; i < CURE_GRID; i++)
        if (g.is_there[i])
            top = fmax(top, g.log_weight[i]);
    ret->n = 0;
    for (size_t i = 0; i < CURE_GRID; i++) {
        if (!g.is_there[i])
            continue;
        const size_t k = ret->n++;
        ret->share[k] = ((double)i + 0.5) / CURE_GRID;
        ret->weight[k] = exp(g.log_weight[i] - top);
        memcpy(ret->at[k], g.at[i], sizeof g.at[i]);
        memcpy(ret->root[k], g.root[i], sizeof g.root[i]);
        sum += ret->weight[k];
    }
    for (size_t k = 0; k < ret->n; k++)
        ret->weight[k] /= sum;
}

double cure_share_quantile(const struct cure_shares *s, double p)
{
    const double half = 0.5 / CURE_GRID;
    double below = 0;
    for (size_t k = 0; k < s->n; k++) {
        if (below + s->weight[k] >= p && s->weight[k] > 0)
            return s->share[k] + half * (2 * (p - below) / s->weight[k] - 1);
        below += s->weight[k];
    }
    return 1;
}

static double cure_chance(double t, double more, double share, double log_scale, double log_shape)
{
    const double now = t > 0 ? weibull_survival(log(t), log_scale, log_shape) : 1;
    const double then = isinf(more)    ? 0
                        : t + more > 0 ? weibull_survival(log(t + more), log_scale, log_shape)
                                       : 1;
    const double whole = 1 - share + share * now;
    return whole > 0 ? share * (now - then) / whole : 1;
}

static struct moments of_cure(const struct forecast_question *q, double share, double log_scale,
                              double log_shape)
{
    struct moments m = {0, 0, 0};
    for (size_t i = 0; i < q->n_open; i++)
        add_open(&m, q->open[i].n, cure_chance(q->open[i].t, q->more, share, log_scale, log_shape));
    return m;
}

double forecast_cure(const struct cure_shares *s, const struct cure *fit,
                     const struct forecast_question *q, double *draws)
{
    for (size_t i = 0; i < q->n_draws; i++) {
        struct chance c;
        chance_start(&c, q->seed, PURPOSE, i);
        const double u = chance_share(&c), a = chance_normal(&c), b = chance_normal(&c);
        const double within = chance_share(&c) - 0.5;
        size_t k = 0;
        for (double sum = s->weight[0]; k + 1 < s->n && sum < u;)
            sum += s->weight[++k];
        const double *root = s->root[k];
        const struct moments m =
            of_cure(q, s->share[k] + within / CURE_GRID, s->at[k][CURE_SCALE] + root[0] * a,
                    s->at[k][CURE_SHAPE] + root[1] * a + root[2] * b);
        draws[i] = draw_count(&c, m.mean, m.variance, m.most);
    }
    stat_sort(draws, q->n_draws);
    return of_cure(q, fit->share, fit->at[CURE_SCALE], fit->at[CURE_SHAPE]).mean;
}

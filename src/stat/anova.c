/* anova: owns sums of squares of one-way and crossed layouts. */
#include "stat/anova.h"

#include "stat/special.h"
#include "stat/summary.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

static void finish(struct stat_square *s)
{
    s->ms = s->df > 0 ? s->ss / s->df : 0;
    s->f = s->p = (double)NAN;
}

static void test_against(struct stat_square *s, const struct stat_square *error)
{
    if (!(s->df > 0 && error->df > 0 && error->ms > 0))
        return;
    s->f = s->ms / error->ms;
    s->p = stat_f_upper(s->f, s->df, error->df);
}

/* ---- one way ------------------------------------------------------------------------------- */

struct group {
    struct stat_sum sum;
    double n, mean; /* of what is left once the grand mean is out */
};

static void fill_oneway(const double *y, const uint32_t *group, size_t n, struct group *groups,
                        size_t k, struct stat_oneway *r)
{
    struct stat_sum between = {0}, within = {0};
    for (size_t i = 0; i < n; i++) {
        stat_add(&groups[group[i]].sum, y[i] - r->grand_mean);
        groups[group[i]].n++;
    }
    for (size_t g = 0; g < k; g++) {
        groups[g].mean = stat_total(&groups[g].sum) / groups[g].n;
        stat_add(&between, groups[g].n * groups[g].mean * groups[g].mean);
    }
    for (size_t i = 0; i < n; i++) {
        const double d = (y[i] - r->grand_mean) - groups[group[i]].mean;
        stat_add(&within, d * d);
    }
    r->between = (struct stat_square){.df = (double)(k - 1), .ss = stat_total(&between)};
    r->within = (struct stat_square){.df = (double)(n - k), .ss = stat_total(&within)};
    finish(&r->between);
    finish(&r->within);
    test_against(&r->between, &r->within);
    const double all = r->between.ss + r->within.ss;
    r->r2 = all > 0 ? r->between.ss / all : 0;
    r->residual_sd = sqrt(r->within.ms);
}

enum err stat_oneway(const double *y, const uint32_t *group, size_t n, size_t k,
                     struct stat_oneway *ret)
{
    struct stat_oneway r = {0};
    double sd = 0;
    if (k < 2 || n <= k)
        return ERR_DOMAIN;
    struct group *groups = calloc(k, sizeof *groups);
    if (groups == NULL)
        return ERR_MEMORY;
    stat_mean_sd(y, n, &r.grand_mean, &sd);
    fill_oneway(y, group, n, groups, k, &r);
    bool is_good = true;
    for (size_t g = 0; g < k; g++)
        is_good &= groups[g].n > 0;
    free(groups);
    if (!is_good)
        return ERR_DOMAIN;
    *ret = r;
    return ERR_OK;
}

/* ---- crossed ------------------------------------------------------------------------------- */

struct layout {
    const double *y;
    size_t na, nb, nr;
    double *a, *b, *cell; /* means once the grand mean is out */
    double grand_mean;
};

static void find_means(struct layout *l)
{
    double sd = 0;
    stat_mean_sd(l->y, l->na * l->nb * l->nr, &l->grand_mean, &sd);
    for (size_t i = 0; i < l->na * l->nb; i++) {
        struct stat_sum sum = {0};
        for (size_t r = 0; r < l->nr; r++)
            stat_add(&sum, l->y[i * l->nr + r] - l->grand_mean);
        l->cell[i] = stat_total(&sum) / (double)l->nr;
    }
    for (size_t a = 0; a < l->na; a++) {
        struct stat_sum sum = {0};
        for (size_t b = 0; b < l->nb; b++)
            stat_add(&sum, l->cell[a * l->nb + b]);
        l->a[a] = stat_total(&sum) / (double)l->nb;
    }
    for (size_t b = 0; b < l->nb; b++) {
        struct stat_sum sum = {0};
        for (size_t a = 0; a < l->na; a++)
            stat_add(&sum, l->cell[a * l->nb + b]);
        l->b[b] = stat_total(&sum) / (double)l->na;
    }
}

static double squares(const double *x, size_t n)
{
    struct stat_sum sum = {0};
    for (size_t i = 0; i < n; i++)
        stat_add(&sum, x[i] * x[i]);
    return stat_total(&sum);
}

static void find_squares(const struct layout *l, struct stat_crossed *r)
{
    const double na = (double)l->na, nb = (double)l->nb, nr = (double)l->nr;
    struct stat_sum ab = {0}, within = {0};
    for (size_t i = 0; i < l->na * l->nb; i++) {
        const double d = l->cell[i] - l->a[i / l->nb] - l->b[i % l->nb];
        stat_add(&ab, d * d);
        for (size_t k = 0; k < l->nr; k++) {
            const double e = (l->y[i * l->nr + k] - l->grand_mean) - l->cell[i];
            stat_add(&within, e * e);
        }
    }
    r->a = (struct stat_square){.df = na - 1, .ss = nb * nr * squares(l->a, l->na)};
    r->b = (struct stat_square){.df = nb - 1, .ss = na * nr * squares(l->b, l->nb)};
    r->ab = (struct stat_square){.df = (na - 1) * (nb - 1), .ss = nr * stat_total(&ab)};
    r->within = (struct stat_square){.df = na * nb * (nr - 1), .ss = stat_total(&within)};
    r->total = (struct stat_square){.df = na * nb * nr - 1,
                                    .ss = r->a.ss + r->b.ss + r->ab.ss + r->within.ss};
    finish(&r->a);
    finish(&r->b);
    finish(&r->ab);
    finish(&r->within);
    finish(&r->total);
    test_against(&r->a, &r->ab);
    test_against(&r->b, &r->ab);
    test_against(&r->ab, &r->within);
    r->grand_mean = l->grand_mean;
}

enum err stat_crossed(const double *y, size_t na, size_t nb, size_t nr, struct stat_crossed *ret)
{
    struct layout l = {.y = y, .na = na, .nb = nb, .nr = nr};
    if (na < 2 || nb < 2 || nr < 2)
        return ERR_DOMAIN;
    double *room = malloc((na + nb + na * nb) * sizeof *room);
    if (room == NULL)
        return ERR_MEMORY;
    l.a = room;
    l.b = room + na;
    l.cell = room + na + nb;
    find_means(&l);
    find_squares(&l, ret);
    free(room);
    return ERR_OK;
}

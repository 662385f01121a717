/* relax: owns the dual simplex method on a condensed tableau. See relax.h for why it may be wrong without harm. */
#include "core/relax.h"

#include <string.h>

#define PIVOT_LEAST 1e-9
#define FEASIBLE    1e-9
#define REDUCED     1e-11
/* A tableau gathers rounding errors with each pivot; after so many it is laid anew. */
#define PIVOTS_MAX 400

static size_t round8(size_t n)
{
    return (n + 7u) & ~(size_t)7u;
}

size_t relax_size(size_t n_rows, size_t n_vars)
{
    size_t doubles = n_rows * n_vars + 2 * n_vars + n_rows + 3 * (n_vars + n_rows);
    size_t ints = n_rows + 2 * n_vars;
    return round8(doubles * sizeof(double)) + round8(ints * sizeof(int)) + round8(n_vars + n_rows);
}

static void fresh_basis(struct relax *lp)
{
    memcpy(lp->tab, lp->coef, lp->n_rows * lp->n_vars * sizeof *lp->tab);
    for (size_t i = 0; i < lp->n_rows; i++)
        lp->basic[i] = (int)(lp->n_vars + i);
    for (size_t k = 0; k < lp->n_vars; k++)
        lp->nonbasic[k] = (int)k;
    lp->n_pivots = 0;
}

void relax_init(struct relax *lp, size_t n_rows, size_t n_vars, const double *coef, void *memory)
{
    double *d = memory;
    size_t n_all = n_vars + n_rows;
    lp->n_rows = n_rows;
    lp->n_vars = n_vars;
    lp->coef = coef;
    lp->tab = d, d += n_rows * n_vars;
    lp->reduced = d, d += n_vars;
    lp->ratio = d, d += n_vars;
    lp->value = d, d += n_rows;
    lp->lo = d, d += n_all;
    lp->hi = d, d += n_all;
    lp->cost = d, d += n_all;
    int *ints = (int *)(void *)d;
    lp->basic = ints, ints += n_rows;
    lp->nonbasic = ints, ints += n_vars;
    lp->order = ints, ints += n_vars;
    lp->at_upper = (unsigned char *)ints;
    memset(lp->at_upper, 0, n_all);
    memset(lp->cost, 0, n_all * sizeof *lp->cost);
    fresh_basis(lp);
}

static double nonbasic_value(const struct relax *lp, size_t k)
{
    int v = lp->nonbasic[k];
    return lp->at_upper[v] ? lp->hi[v] : lp->lo[v];
}

/* Reduced costs from scratch, and every nonbasic variable at the bound they ask for. */
static void price(struct relax *lp)
{
    for (size_t k = 0; k < lp->n_vars; k++)
        lp->reduced[k] = lp->cost[lp->nonbasic[k]];
    for (size_t i = 0; i < lp->n_rows; i++) {
        double c = lp->cost[lp->basic[i]];
        if (c == 0)
            continue;
        const double *row = lp->tab + i * lp->n_vars;
        for (size_t k = 0; k < lp->n_vars; k++)
            lp->reduced[k] += c * row[k];
    }
    for (size_t k = 0; k < lp->n_vars; k++) {
        if (lp->reduced[k] > REDUCED)
            lp->at_upper[lp->nonbasic[k]] = 0;
        else if (lp->reduced[k] < -REDUCED)
            lp->at_upper[lp->nonbasic[k]] = 1;
    }
}

static void refresh_values(struct relax *lp)
{
    for (size_t k = 0; k < lp->n_vars; k++)
        lp->ratio[k] = nonbasic_value(lp, k);
    for (size_t i = 0; i < lp->n_rows; i++) {
        const double *row = lp->tab + i * lp->n_vars;
        double sum = 0;
        for (size_t k = 0; k < lp->n_vars; k++)
            sum += row[k] * lp->ratio[k];
        lp->value[i] = sum;
    }
}

static double objective(const struct relax *lp)
{
    double z = 0;
    for (size_t k = 0; k < lp->n_vars; k++)
        z += lp->reduced[k] * nonbasic_value(lp, k);
    return z;
}

/* The row furthest outside its bounds, relative to their size; -1 when all are inside. */
static int leaving_row(const struct relax *lp, bool *ret_below)
{
    int best = -1;
    double worst = FEASIBLE;
    for (size_t i = 0; i < lp->n_rows; i++) {
        int v = lp->basic[i];
        double under = lp->lo[v] - lp->value[i], over = lp->value[i] - lp->hi[v];
        double by = under > over ? under : over;
        if (by <= worst)
            continue;
        worst = by;
        best = (int)i;
        *ret_below = under > over;
    }
    return best;
}

/* Candidates to enter for row r, smallest ratio first; insertion sort, for there are few. */
static size_t candidates(struct relax *lp, size_t r, bool is_below)
{
    const double *row = lp->tab + r * lp->n_vars;
    size_t n = 0;
    for (size_t k = 0; k < lp->n_vars; k++) {
        int v = lp->nonbasic[k];
        double a = is_below ? row[k] : -row[k];
        bool helps = lp->at_upper[v] ? a < -PIVOT_LEAST : a > PIVOT_LEAST;
        if (!helps || lp->hi[v] <= lp->lo[v])
            continue;
        double size = a < 0 ? -a : a;
        double d = lp->reduced[k] < 0 ? -lp->reduced[k] : lp->reduced[k];
        double ratio = d / size;
        size_t at = n++;
        while (at > 0 && lp->ratio[at - 1] > ratio) {
            lp->ratio[at] = lp->ratio[at - 1];
            lp->order[at] = lp->order[at - 1];
            at--;
        }
        lp->ratio[at] = ratio;
        lp->order[at] = (int)k;
    }
    return n;
}

/* Walks the candidates, flipping those whose whole range does not mend the row; -1 when nothing mends it. */
static int entering_column(struct relax *lp, size_t r, bool is_below, size_t n)
{
    const double *row = lp->tab + r * lp->n_vars;
    int v = lp->basic[r];
    double missing = is_below ? lp->lo[v] - lp->value[r] : lp->value[r] - lp->hi[v];
    double room = missing;
    size_t stop = n;
    for (size_t c = 0; c < n; c++) {
        int w = lp->nonbasic[lp->order[c]];
        double a = row[lp->order[c]];
        room -= (a < 0 ? -a : a) * (lp->hi[w] - lp->lo[w]);
        if (room < 0) {
            stop = c;
            break;
        }
    }
    if (stop == n)
        return -1;
    for (size_t c = 0; c < stop; c++) {
        int w = lp->nonbasic[lp->order[c]];
        lp->at_upper[w] = !lp->at_upper[w];
    }
    return lp->order[stop];
}

static void pivot(struct relax *lp, size_t r, size_t e)
{
    size_t n = lp->n_vars;
    double *row = lp->tab + r * n;
    double inverse = 1 / row[e];
    for (size_t k = 0; k < n; k++)
        row[k] *= -inverse;
    row[e] = inverse;
    for (size_t i = 0; i < lp->n_rows; i++) {
        double *other = lp->tab + i * n;
        double f = other[e];
        if (i == r || f == 0)
            continue;
        other[e] = 0;
        for (size_t k = 0; k < n; k++)
            other[k] += f * row[k];
    }
    double f = lp->reduced[e];
    lp->reduced[e] = 0;
    for (size_t k = 0; k < n; k++)
        lp->reduced[k] += f * row[k];
    int leaving = lp->basic[r];
    lp->basic[r] = lp->nonbasic[e];
    lp->nonbasic[e] = leaving;
    lp->n_pivots++;
}

static void cost_multipliers(const struct relax *lp, double *ret)
{
    memset(ret, 0, lp->n_rows * sizeof *ret);
    for (size_t k = 0; k < lp->n_vars; k++) {
        int v = lp->nonbasic[k];
        if (v >= (int)lp->n_vars)
            ret[v - (int)lp->n_vars] = -lp->reduced[k];
    }
}

/* Row r cannot be brought inside: the combination of rows it stands for is the proof. */
static void ray_multipliers(const struct relax *lp, size_t r, bool is_below, double *ret)
{
    double sign = is_below ? -1 : 1;
    const double *row = lp->tab + r * lp->n_vars;
    memset(ret, 0, lp->n_rows * sizeof *ret);
    if (lp->basic[r] >= (int)lp->n_vars)
        ret[lp->basic[r] - (int)lp->n_vars] = sign;
    for (size_t k = 0; k < lp->n_vars; k++) {
        int v = lp->nonbasic[k];
        if (v >= (int)lp->n_vars)
            ret[v - (int)lp->n_vars] = -sign * row[k];
    }
}

static void solution(const struct relax *lp, double *ret_x)
{
    for (size_t k = 0; k < lp->n_vars; k++) {
        int v = lp->nonbasic[k];
        if (v < (int)lp->n_vars)
            ret_x[v] = nonbasic_value(lp, k);
    }
    for (size_t i = 0; i < lp->n_rows; i++) {
        int v = lp->basic[i];
        if (v < (int)lp->n_vars)
            ret_x[v] = lp->value[i];
    }
}

enum relax_end relax_solve(struct relax *lp, double cutoff, double *ret_multiplier, double *ret_x)
{
    if (lp->n_pivots > PIVOTS_MAX)
        fresh_basis(lp);
    price(lp);
    enum relax_end end = RELAX_STUCK;
    int limit = 50 + 4 * (int)(lp->n_rows + lp->n_vars);
    for (int it = 0; it < limit; it++) {
        refresh_values(lp);
        if (objective(lp) > cutoff) {
            end = RELAX_CUTOFF;
            break;
        }
        bool is_below = false;
        int r = leaving_row(lp, &is_below);
        if (r < 0) {
            end = RELAX_OPTIMAL;
            break;
        }
        size_t n = candidates(lp, (size_t)r, is_below);
        int e = entering_column(lp, (size_t)r, is_below, n);
        if (e < 0) {
            ray_multipliers(lp, (size_t)r, is_below, ret_multiplier);
            return RELAX_INFEASIBLE;
        }
        int leaving = lp->basic[r];
        pivot(lp, (size_t)r, (size_t)e);
        lp->at_upper[leaving] = !is_below;
    }
    cost_multipliers(lp, ret_multiplier);
    solution(lp, ret_x);
    return end;
}

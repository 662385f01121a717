/* relax: owns the dual simplex method on a condensed tableau. See relax.h for why it may be wrong without harm.
 *
 * Invariant between iterations: every nonbasic variable stands where its reduced cost wants it (dual feasible, within
 * tolerance), and value[] follows from the positions of the nonbasic ones. */
#include "core/relax.h"

#include "core/align.h"

#include <string.h>

enum { AT_LO, AT_KINK, AT_HI };
enum { SIDE_DOWN, SIDE_UP };
enum { ITSELF = -1, NOTHING = -2 }; /* instead of a column */

#define PIVOT_LEAST 1e-9
#define FEASIBLE    1e-9
#define REDUCED     1e-11
/* A tableau gathers rounding errors with each pivot; after so many it is laid anew. */
#define PIVOTS_MAX 400

size_t relax_size(size_t n_rows, size_t n_vars)
{
    size_t doubles = n_rows * n_vars + n_vars + n_rows, n_all = n_vars + n_rows;
    return doubles * sizeof(double) + align8(n_all * sizeof(struct relax_var)) +
           align8((2 * n_vars + 1) * sizeof(struct relax_way)) + align8(n_all * sizeof(int));
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
    lp->price = d, d += n_vars;
    lp->value = d, d += n_rows;
    char *bytes = (char *)d;
    lp->var = (struct relax_var *)(void *)bytes;
    bytes += align8(n_all * sizeof *lp->var);
    lp->way = (struct relax_way *)(void *)bytes;
    bytes += align8((2 * n_vars + 1) * sizeof *lp->way);
    lp->basic = (int *)(void *)bytes;
    lp->nonbasic = lp->basic + n_rows;
    memset(lp->var, 0, n_all * sizeof *lp->var);
    fresh_basis(lp);
}

/* ---- one variable's cost --------------------------------------------------------------------------------------- */

static void set_slopes(struct relax_var *v)
{
    v->has_kink = v->lo < 0 && v->hi > 0 && v->up + v->down > 0;
    v->slope_up = v->up;
    v->slope_down = -v->down;
    if (v->has_kink)
        return;
    if (v->lo < 0 && v->hi <= 0)
        v->slope_up = v->slope_down;
    else
        v->slope_down = v->slope_up;
}

static double slope(const struct relax_var *v, int side)
{
    return side == SIDE_UP ? v->slope_up : v->slope_down;
}

static double side_lo(const struct relax_var *v)
{
    return v->at == SIDE_UP && v->has_kink ? 0 : v->lo;
}

static double side_hi(const struct relax_var *v)
{
    return v->at == SIDE_DOWN && v->has_kink ? 0 : v->hi;
}

static double place(const struct relax_var *v)
{
    return v->at == AT_LO ? v->lo : v->at == AT_HI ? v->hi : 0;
}

/* Where the price wants a nonbasic variable; it stays where it is when that is as good. */
static unsigned char wanted_place(const struct relax_var *v, double price)
{
    double below = price + v->slope_down, above = price + v->slope_up;
    if (below > REDUCED)
        return AT_LO;
    if (above < -REDUCED)
        return AT_HI;
    if (v->at == AT_LO && below >= -REDUCED)
        return AT_LO;
    if (v->at == AT_HI && above <= REDUCED)
        return AT_HI;
    return v->has_kink ? AT_KINK : AT_LO;
}

/* ---- the tableau ----------------------------------------------------------------------------------------------- */

/* Prices and values from scratch, and every nonbasic variable where it is wanted. */
static void set_up(struct relax *lp)
{
    size_t n = lp->n_vars;
    for (size_t v = 0; v < n; v++)
        set_slopes(&lp->var[v]);
    memset(lp->price, 0, n * sizeof *lp->price);
    for (size_t i = 0; i < lp->n_rows; i++) {
        struct relax_var *v = &lp->var[lp->basic[i]];
        v->at = v->at == SIDE_DOWN ? SIDE_DOWN : SIDE_UP;
        double c = slope(v, v->at);
        const double *row = lp->tab + i * n;
        for (size_t k = 0; c != 0 && k < n; k++)
            lp->price[k] += c * row[k];
    }
    memset(lp->value, 0, lp->n_rows * sizeof *lp->value);
    for (size_t k = 0; k < n; k++) {
        struct relax_var *v = &lp->var[lp->nonbasic[k]];
        v->at = wanted_place(v, lp->price[k]);
        double x = place(v);
        for (size_t i = 0; x != 0 && i < lp->n_rows; i++)
            lp->value[i] += lp->tab[i * n + k] * x;
    }
}

static double objective(const struct relax *lp)
{
    double z = 0;
    for (size_t k = 0; k < lp->n_vars; k++) {
        const struct relax_var *v = &lp->var[lp->nonbasic[k]];
        double x = place(v);
        z += x * (lp->price[k] + slope(v, x > 0 ? SIDE_UP : SIDE_DOWN));
    }
    return z;
}

/* The row furthest outside the bounds of its side; -1 when all are inside. */
static int leaving_row(const struct relax *lp, bool *ret_below)
{
    int best = -1;
    double worst = FEASIBLE;
    for (size_t i = 0; i < lp->n_rows; i++) {
        const struct relax_var *v = &lp->var[lp->basic[i]];
        double under = side_lo(v) - lp->value[i], over = lp->value[i] - side_hi(v);
        double by = under > over ? under : over;
        if (by <= worst)
            continue;
        worst = by;
        best = (int)i;
        *ret_below = under > over;
    }
    return best;
}

/* Smallest ratio first, among equals the larger pivot. Insertion, for there are few. */
static size_t add_way(struct relax_way *way, size_t n, struct relax_way w)
{
    size_t at = n;
    while (at > 0 && (way[at - 1].ratio > w.ratio ||
                      (way[at - 1].ratio == w.ratio && way[at - 1].size < w.size))) {
        way[at] = way[at - 1];
        at--;
    }
    way[at] = w;
    return n + 1;
}

/* The ways in which nonbasic variable k can move row r towards its bound; a is > 0 when moving up helps. */
static size_t ways_of_column(struct relax *lp, size_t k, double a, size_t n)
{
    const struct relax_var *v = &lp->var[lp->nonbasic[k]];
    int at = v->at;
    double size = a < 0 ? -a : a;
    if (size <= PIVOT_LEAST || v->hi <= v->lo || at == (a > 0 ? AT_HI : AT_LO))
        return n;
    struct relax_way w = {.size = size, .column = (int)k};
    for (int step = 0; step < 2; step++) {
        bool is_far = a > 0 ? at != AT_LO : at != AT_HI; /* past the kink, or there is none */
        bool is_last = !v->has_kink || is_far || step == 1;
        int side = (a > 0) == is_last ? SIDE_UP : SIDE_DOWN;
        double d = lp->price[k] + slope(v, side);
        w.ratio = (d < 0 ? -d : d) / size;
        w.length = !v->has_kink ? v->hi - v->lo : side == SIDE_UP ? v->hi : -v->lo;
        n = add_way(lp->way, n, w);
        if (is_last)
            break;
    }
    return n;
}

/* All ways to mend row r, in order; their number. The leaving variable may also cross its own kink. */
static size_t find_ways(struct relax *lp, size_t r, bool is_below)
{
    size_t n = 0;
    const double *row = lp->tab + r * lp->n_vars;
    const struct relax_var *v = &lp->var[lp->basic[r]];
    for (size_t k = 0; k < lp->n_vars; k++)
        n = ways_of_column(lp, k, is_below ? row[k] : -row[k], n);
    if (v->has_kink && v->at == (is_below ? SIDE_UP : SIDE_DOWN)) {
        struct relax_way self = {v->up + v->down, 1, is_below ? -v->lo : v->hi, ITSELF};
        n = add_way(lp->way, n, self);
    }
    return n;
}

/* The basic variable of row r goes over to the other side of its kink. */
static void cross(struct relax *lp, size_t r)
{
    struct relax_var *v = &lp->var[lp->basic[r]];
    const double *row = lp->tab + r * lp->n_vars;
    double turn = (v->at == SIDE_UP ? -1 : 1) * (v->up + v->down);
    v->at = v->at == SIDE_UP ? SIDE_DOWN : SIDE_UP;
    for (size_t k = 0; k < lp->n_vars; k++)
        lp->price[k] += turn * row[k];
}

/* Nonbasic column k goes to its next end or kink. */
static void flip(struct relax *lp, size_t k, bool goes_up)
{
    struct relax_var *v = &lp->var[lp->nonbasic[k]];
    double before = place(v);
    if (!v->has_kink)
        v->at = goes_up ? AT_HI : AT_LO;
    else
        v->at = (unsigned char)(goes_up ? v->at + 1 : v->at - 1);
    double by = place(v) - before;
    for (size_t i = 0; i < lp->n_rows; i++)
        lp->value[i] += lp->tab[i * lp->n_vars + k] * by;
}

/* Takes one way after another until the next would more than mend the row. Returns that one's column, which is to enter;
 * ITSELF when the crossing mended it; NOTHING when all ways together do not. */
static int take_ways(struct relax *lp, size_t r, bool is_below)
{
    size_t n = find_ways(lp, r, is_below), stop = 0;
    const double *row = lp->tab + r * lp->n_vars;
    const struct relax_var *v = &lp->var[lp->basic[r]];
    double room = is_below ? side_lo(v) - lp->value[r] : lp->value[r] - side_hi(v);
    while (stop < n && (room -= lp->way[stop].size * lp->way[stop].length) >= 0)
        stop++;
    if (stop == n)
        return NOTHING;
    for (size_t c = 0; c < stop; c++) {
        int k = lp->way[c].column;
        if (k == ITSELF)
            cross(lp, r);
        else
            flip(lp, (size_t)k, (is_below ? row[k] : -row[k]) > 0);
    }
    if (lp->way[stop].column == ITSELF)
        cross(lp, r);
    return lp->way[stop].column;
}

/* Column e becomes basic in row r, whose variable goes to the bound it had passed. */
static void pivot(struct relax *lp, size_t r, size_t e, bool is_below)
{
    size_t n = lp->n_vars;
    double *row = lp->tab + r * n;
    struct relax_var *leaving = &lp->var[lp->basic[r]], *entering = &lp->var[lp->nonbasic[e]];
    double target = is_below ? side_lo(leaving) : side_hi(leaving);
    double by = (target - lp->value[r]) / row[e];
    double reached = place(entering) + by;
    bool goes_up = (is_below ? row[e] : -row[e]) > 0;
    int side = goes_up ? (entering->at == AT_LO ? SIDE_DOWN : SIDE_UP)
                       : (entering->at == AT_HI ? SIDE_UP : SIDE_DOWN);
    if (!entering->has_kink)
        side = SIDE_UP;
    for (size_t i = 0; i < lp->n_rows; i++)
        lp->value[i] += lp->tab[i * n + e] * by;
    lp->value[r] = reached;

    double reduced = lp->price[e] + slope(entering, side);
    double own = slope(leaving, leaving->at);
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
    lp->price[e] = -own;
    for (size_t k = 0; k < n; k++)
        lp->price[k] += reduced * row[k];

    bool at_kink = leaving->has_kink && leaving->at == (is_below ? SIDE_UP : SIDE_DOWN);
    leaving->at = at_kink ? AT_KINK : is_below ? AT_LO : AT_HI;
    entering->at = (unsigned char)side;
    int out = lp->basic[r];
    lp->basic[r] = lp->nonbasic[e];
    lp->nonbasic[e] = out;
    lp->n_pivots++;
}

/* ---- answers --------------------------------------------------------------------------------------------------- */

static void cost_multipliers(const struct relax *lp, double *ret)
{
    memset(ret, 0, lp->n_rows * sizeof *ret);
    for (size_t k = 0; k < lp->n_vars; k++) {
        int v = lp->nonbasic[k];
        if (v >= (int)lp->n_vars)
            ret[v - (int)lp->n_vars] = -lp->price[k];
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
            ret_x[v] = place(&lp->var[v]);
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
    set_up(lp);
    enum relax_end end = RELAX_STUCK;
    int limit = 50 + 4 * (int)(lp->n_rows + lp->n_vars);
    for (int it = 0; it < limit; it++) {
        if (cutoff < RELAX_NO_CUTOFF && objective(lp) > cutoff) {
            end = RELAX_CUTOFF;
            break;
        }
        bool is_below = false;
        int r = leaving_row(lp, &is_below);
        if (r < 0) {
            end = RELAX_OPTIMAL;
            break;
        }
        int e = take_ways(lp, (size_t)r, is_below);
        if (e == NOTHING) {
            ray_multipliers(lp, (size_t)r, is_below, ret_multiplier);
            return RELAX_INFEASIBLE;
        }
        if (e != ITSELF)
            pivot(lp, (size_t)r, (size_t)e, is_below);
    }
    cost_multipliers(lp, ret_multiplier);
    solution(lp, ret_x);
    return end;
}

/* ---- putting a basis aside ------------------------------------------------------------------------------------- */

size_t relax_saved_size(size_t n_rows, size_t n_vars)
{
    size_t n_all = n_vars + n_rows;
    return n_rows * n_vars * sizeof(double) + align8((n_all + 1) * sizeof(int)) + align8(n_all);
}

void relax_save(const struct relax *lp, void *memory)
{
    size_t n_all = lp->n_vars + lp->n_rows, tab = lp->n_rows * lp->n_vars * sizeof *lp->tab;
    char *bytes = memory;
    memcpy(bytes, lp->tab, tab);
    memcpy(bytes + tab, lp->basic, n_all * sizeof(int)); /* nonbasic follows basic */
    memcpy(bytes + tab + n_all * sizeof(int), &lp->n_pivots, sizeof(int));
    unsigned char *at = (unsigned char *)bytes + tab + align8((n_all + 1) * sizeof(int));
    for (size_t v = 0; v < n_all; v++)
        at[v] = lp->var[v].at;
}

void relax_load(struct relax *lp, const void *memory)
{
    size_t n_all = lp->n_vars + lp->n_rows, tab = lp->n_rows * lp->n_vars * sizeof *lp->tab;
    const char *bytes = memory;
    memcpy(lp->tab, bytes, tab);
    memcpy(lp->basic, bytes + tab, n_all * sizeof(int));
    memcpy(&lp->n_pivots, bytes + tab + n_all * sizeof(int), sizeof(int));
    const unsigned char *at =
        (const unsigned char *)bytes + tab + align8((n_all + 1) * sizeof(int));
    for (size_t v = 0; v < n_all; v++)
        lp->var[v].at = at[v];
}

/* lagrange: owns the exact bound and the trimming of boxes by it. */
#include "core/lagrange.h"

typedef __int128 wide;

/* Largest multiplier aimed at, and the largest that is used at all: with it sums stay inside 128 bits, as 2^40 x 2^52 (reach of a
 * row) x 2^6 (rows); K is at most 2^50, all costs together below 2^49. */
#define MULTIPLIER_AIM 8589934592.0
#define MULTIPLIER_MAX 1e12
#define SCALE_MAX      1125899906842624.0

/* Rounds the multipliers to Y = y K, K a power of two. Returns K; 0 for a ray. Where the size of y makes no sense, all Y are 0: a
 * valid choice, if a weak one. */
static wide whole_multipliers(const struct lagrange *l, const double *y, bool is_ray)
{
    double largest = 0, k = 1;
    for (size_t r = 0; r < l->rows->n_live; r++) {
        double size = y[r] < 0 ? -y[r] : y[r];
        largest = size > largest ? size : largest;
    }
    if (!(largest < 1e30) || largest < 1e-30)
        k = 0;
    while (k > 0 && largest * k < MULTIPLIER_AIM && (is_ray || k < SCALE_MAX))
        k *= 2;
    while (is_ray && largest * k > 4 * MULTIPLIER_AIM)
        k /= 2;
    if (largest * k > MULTIPLIER_MAX)
        k = 0;
    for (size_t r = 0; r < l->rows->n_live; r++) {
        double whole = y[r] * k;
        l->multiplier[r] = k > 0 ? (int64_t)(whole + (whole < 0 ? -0.5 : 0.5)) : 0;
    }
    if (is_ray)
        return 0;
    return k > 0 ? (wide)k : 1;
}

static wide move_term(const struct move *m, wide k, wide weight, int32_t x)
{
    return k * move_cost(m, x) + weight * x;
}

/* On each side of 0 the term is linear, so the ends, 0 and its neighbours are all that can be least. */
static wide least_term(const struct move *m, wide k, wide weight, int32_t lo, int32_t hi)
{
    wide best = move_term(m, k, weight, lo), other = move_term(m, k, weight, hi);
    best = other < best ? other : best;
    const int32_t from = lo > -1 ? lo : -1, to = hi < 1 ? hi : 1;
    for (int32_t x = from; x <= to; x++) {
        other = move_term(m, k, weight, x);
        best = other < best ? other : best;
    }
    return best;
}

/* Values whose term alone passes `most` cannot be in a plan that matters: trims both ends of lo..hi. */
static void trim(const struct move *m, wide k, wide weight, wide most, int32_t *ret_lo,
                 int32_t *ret_hi)
{
    int32_t lo = *ret_lo, hi = *ret_hi;
    while (hi > lo && move_term(m, k, weight, hi) > most) {
        /* linear beyond 0: when both ends of the side are too dear, so is all between */
        const int32_t inner = lo > 1 ? lo : 1;
        hi = hi > 1 && move_term(m, k, weight, inner) > most ? inner : hi - 1;
    }
    while (lo < hi && move_term(m, k, weight, lo) > most) {
        const int32_t inner = hi < -1 ? hi : -1;
        lo = lo < -1 && move_term(m, k, weight, inner) > most ? inner : lo + 1;
    }
    *ret_lo = lo;
    *ret_hi = hi;
}

bool lagrange_kills(const struct lagrange *l, const double *y, bool is_ray, int64_t allowance,
                    int32_t *lo, int32_t *hi, int64_t *ret_bound)
{
    const struct rows *rows = l->rows;
    wide weight[MOVES_MAX] = {0}, term[MOVES_MAX], bound = 0;
    wide k = whole_multipliers(l, y, is_ray);
    for (size_t r = 0; r < rows->n_live; r++) {
        int64_t whole = l->multiplier[r];
        if (whole == 0)
            continue;
        bound -= (wide)whole * (whole > 0 ? rows->q_hi[r] : rows->q_lo[r]);
        const size_t at = r * rows->n_cols;
        for (size_t t = 0; t < rows->n_terms[r]; t++)
            weight[rows->term_col[at + t]] += (wide)whole * rows->term[at + t];
    }
    for (size_t j = 0; j < rows->n_cols; j++) {
        term[j] = least_term(&l->move[j], k, weight[j], lo[j], hi[j]);
        bound += term[j];
    }
    *ret_bound = 0;
    if (is_ray)
        return bound > 0;
    if (bound > 0)
        *ret_bound = (int64_t)((bound + k - 1) / k);
    if (allowance == LAGRANGE_NO_ALLOWANCE)
        return false;
    wide spare = k * allowance - bound;
    if (spare < 0)
        return true;
    for (size_t j = 0; j < rows->n_cols; j++)
        trim(&l->move[j], k, weight[j], term[j] + spare, &lo[j], &hi[j]);
    return false;
}

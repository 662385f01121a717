/* assort: owns the exact choice of stock sizes. cost(i, j): sizes i..j all cut from size j. */
#include "stat/assort.h"

#include <stdlib.h>

struct assort {
    const int64_t *sizes;
    int64_t *n, *sum; /* needs, and their total size, before place i */
    int64_t *now,
        *then; /* least waste of sizes 0..j with one stocked size more, and with one less */
    stat_assort_watch *watch;
    void *me;
    uint32_t *from; /* of the current row: where the run that ends in j begins */
};

/* Fits: it is at most size j times all needs, which was checked. */
static int64_t cost(const struct assort *a, size_t i, size_t j)
{
    return a->sizes[j] * (a->n[j + 1] - a->n[i]) - (a->sum[j + 1] - a->sum[i]);
}

/* A stretch of j whose best beginnings lie in low..high. */
struct stretch {
    size_t first, last, low, high;
};

/* One row, the middle of each stretch first; a stack in place of recursion (its depth is the logarithm of m). */
static void fill_row(struct assort *a, size_t row, size_t m)
{
    struct stretch stack[130];
    size_t n = 1;
    stack[0] = (struct stretch){row, m - 1, row, m - 1};
    while (n > 0) {
        const struct stretch s = stack[--n];
        const size_t j = s.first + (s.last - s.first) / 2;
        size_t best = s.low;
        int64_t least = INT64_MAX;
        for (size_t i = s.low; i <= s.high && i <= j; i++) {
            const int64_t waste = a->then[i - 1] + cost(a, i, j);
            if (waste < least) {
                least = waste;
                best = i;
            }
        }
        a->now[j] = least;
        a->from[j] = (uint32_t)best;
        if (j > s.first)
            stack[n++] = (struct stretch){s.first, j - 1, s.low, best};
        if (j < s.last)
            stack[n++] = (struct stretch){j + 1, s.last, best, s.high};
    }
}

static enum err add_up(struct assort *a, const int64_t *count, size_t m)
{
    a->n[0] = a->sum[0] = 0;
    for (size_t i = 0; i < m; i++) {
        int64_t size = 0;
        if (__builtin_add_overflow(a->n[i], count[i], &a->n[i + 1]) ||
            __builtin_mul_overflow(a->sizes[i], count[i], &size) ||
            __builtin_add_overflow(a->sum[i], size, &a->sum[i + 1]))
            return ERR_RANGE;
    }
    int64_t most = 0;
    return __builtin_mul_overflow(a->sizes[m - 1], a->n[m], &most) ? ERR_RANGE : ERR_OK;
}

static enum err solve(struct assort *a, uint32_t *rows, const int64_t *count, size_t m, size_t k,
                      size_t *chosen, int64_t *ret_waste)
{
    const enum err e = add_up(a, count, m);
    if (e != ERR_OK)
        return e;
    for (size_t j = 0; j < m; j++)
        a->now[j] = cost(a, 0, j);
    for (size_t row = 1; row < k; row++) {
        int64_t *const swap = a->then;
        a->then = a->now;
        a->now = swap;
        a->from = rows + row * m;
        fill_row(a, row, m);
        if (a->watch != NULL && !a->watch(a->me, row + 1, k))
            return ERR_BUSY;
    }
    size_t j = m - 1;
    for (size_t row = k; row-- > 0;) {
        chosen[row] = j;
        if (row > 0)
            j = rows[row * m + j] - 1;
    }
    *ret_waste = a->now[m - 1];
    return ERR_OK;
}

enum err stat_assort(const int64_t *sizes, const int64_t *count, size_t m, size_t k,
                     stat_assort_watch *watch, void *me, size_t *chosen, size_t *ret_n,
                     int64_t *ret_waste)
{
    if (m == 0 || k == 0)
        return ERR_DOMAIN;
    k = k < m ? k : m;
    if (m > STAT_ASSORT_CELLS_MAX / k)
        return ERR_LIMIT;
    struct assort a = {.sizes = sizes, .watch = watch, .me = me};
    int64_t *room = malloc((4 * m + 2) * sizeof *room);
    uint32_t *rows = malloc(k * m * sizeof *rows);
    enum err e = room == NULL || rows == NULL ? ERR_MEMORY : ERR_OK;
    if (e == ERR_OK) {
        a.n = room;
        a.sum = room + m + 1;
        a.now = room + 2 * m + 2;
        a.then = room + 3 * m + 2;
        e = solve(&a, rows, count, m, k, chosen, ret_waste);
    }
    if (e == ERR_OK)
        *ret_n = k;
    free(room);
    free(rows);
    return e;
}

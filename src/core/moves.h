/* moves: whole-step moves and what they cost. A move x_j is a number of steps in lo..hi; moved at all it costs setup once, and
 * step for each step. A box is an interval of each move: lo[j] <= x_j <= hi[j]. */
#ifndef CORE_MOVES_H
#define CORE_MOVES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { MOVES_MAX = 32 };

struct move {
    int32_t lo, hi; /* lo <= 0 <= hi */
    int64_t setup, step;
};

/* move_cost: of x steps. move_cost_least: of the cheapest x in lo..hi. */
int64_t move_cost(const struct move *m, int64_t x);
int64_t move_cost_least(const struct move *m, int32_t lo, int32_t hi);

/* moves_cost: of a plan x[n]. moves_touched: bit j set when x[j] != 0, n <= 32. */
int64_t moves_cost(const struct move *m, size_t n, const int32_t *x);
uint32_t moves_touched(const int32_t *x, size_t n);

/* moves_narrow: drops from the box what no plan of at most `allowance` can use. False when there is no such plan. Sets *changed
 * when the box became smaller. */
bool moves_narrow(const struct move *m, size_t n, int64_t allowance, int32_t *lo, int32_t *hi,
                  bool *changed);

#endif

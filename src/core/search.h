/* search: exact answers about whole-step moves under limits: "is there a plan, and which".
 *
 * Moves x_j (whole steps, lo_j..hi_j) change row values: value_i = start_i + sum_j effect_ij x_j, whole nano. A plan's excess
 * is the largest of value - high and low - value over all rows: positive when outside, negative (a margin) when inside. Its
 * cost is the sum over x_j != 0 of setup_j + step_j |x_j|.
 *
 * search_run decides, for a given excess and budget, whether a plan exists, by depth-first branch and bound on intervals:
 *   - reach: each row's interval from the intervals of the moves still free, and back (bounds consistency), in integers;
 *   - Lagrangian bound: with integer multipliers Y for the rows, scaled by K, no plan of the node costs less than
 *     (sum_j min over x_j of (K cost_j(x_j) + (Y.effect)_j x_j) - sum_i max over allowed value_i of Y_i value_i) / K.
 *     The minimum is over the true cost with its fixed charge, in 128-bit integers. The multipliers come from relax.h and may
 *     be as wrong as they like; a node is only dropped on the integer bound. The same bound drops single values of a move.
 *   - rows are divided by the common divisor of their effects first, so that limits snap to values that can occur;
 *   - among adjusters that are alike in everything, the earlier one takes the larger move (where sets do not matter).
 * No answer depends on floating point; only the time does. */
#ifndef CORE_SEARCH_H
#define CORE_SEARCH_H

#include "core/conform.h"
#include "core/relax.h"

#include <stddef.h>

#define SEARCH_NO_BUDGET INT64_MAX

enum { SEARCH_EXCLUDED_MAX = 8, SEARCH_POOL_MAX = 8, SEARCH_COLS_MAX = 32, SEARCH_ROWS_MAX = 64 };

struct search_move {
    int32_t lo, hi; /* lo <= 0 <= hi */
    int64_t setup, step;
};

struct search_frame; /* one open node */

struct search {
    size_t n_rows, n_cols;
    const struct search_move *move;      /* [n_cols], borrowed */
    const int64_t *effect;               /* [n_cols][n_rows], borrowed */
    const int64_t *start;                /* [n_rows], borrowed */
    const struct conform_limits *limits; /* [n_rows], borrowed */
    size_t n_excluded;
    uint32_t excluded
        [SEARCH_EXCLUDED_MAX]; /* sets of touched moves that may not be answered with; bit j = move j */
    int64_t nodes, node_limit;
    int64_t fixed_excess; /* of the rows that nothing can move; INT64_MIN when there is none */
    int32_t *box_lo,
        *box_hi; /* [n_cols] what search_run may use of each move; the caller may narrow it */
    int64_t bound_cost; /* of the last SEARCH_CHEAPEST run: no plan within its excess costs less */
    size_t
        n_wanted; /* for SEARCH_CHEAPEST: so many plans with different touched sets, 1..SEARCH_POOL_MAX */
    size_t n_pool; /* plans kept by the last run, cheapest first */
    struct search_kept {
        uint32_t touched;
        int64_t cost;
        int32_t x[SEARCH_COLS_MAX];
    } pool[SEARCH_POOL_MAX];

    /* private */
    size_t n_live;                /* rows that something moves */
    size_t *live;                 /* [n_live] their numbers */
    int64_t *divisor;             /* [n_live] common divisor of the row's effects */
    int64_t *coef;                /* [n_live][n_cols] effects / divisor */
    int64_t *reach_lo, *reach_hi; /* [n_live] of coef.x over all moves */
    int64_t *q_lo, *q_hi;         /* [n_live] allowed coef.x at the present excess */
    int64_t *multiplier;          /* [n_live] */
    int *twin;                    /* [n_cols] an earlier move that is alike, or -1 */
    double *scale;                /* [n_live] of the relaxation's rows */
    double *lp_coef;              /* [n_live][n_cols] */
    double *lp_y, *lp_x;
    struct relax lp;
    struct search_frame *frames;
    int32_t *frame_bounds; /* [frames][2][n_cols] */
    int32_t *lo, *hi;      /* [n_cols] the node at hand */
    int32_t *trial;        /* [n_cols] */
};

/* search_size: bytes of memory search_init needs, aligned for double. */
size_t search_size(size_t n_rows, size_t n_cols);

/* search_init: arrays are borrowed for the struct's life; amounts and reach must be below 2^53 nano (the caller checks). */
void search_init(struct search *s, size_t n_rows, size_t n_cols, const int64_t *start,
                 const struct conform_limits *limits, const int64_t *effect,
                 const struct search_move *move, int64_t node_limit, void *memory);

enum search_goal {
    SEARCH_ANY,      /* some plan within excess and budget */
    SEARCH_CHEAPEST, /* the cheapest ones, each with its own touched set: n_wanted of them go to pool */
    SEARCH_LEAST     /* the one with the least excess, or the first found with `floor` or less */
};

enum search_end {
    SEARCH_FOUND, /* ret_x holds the answer */
    SEARCH_NONE,  /* proved: there is none */
    SEARCH_STOPPED /* the node limit was hit; ret_x (and pool) hold the best so far when *ret_has is true */
};

/* search_run: plans with excess <= excess and cost <= budget (SEARCH_NO_BUDGET: any cost), whose touched set is not excluded.
 * floor matters to SEARCH_LEAST only. ret_x[n_cols] is written when *ret_has becomes true. */
enum search_end search_run(struct search *s, enum search_goal goal, int64_t excess, int64_t budget,
                           int64_t floor, int32_t *ret_x, bool *ret_has);

/* Exact figures of a plan. search_touched: bit j set when x[j] != 0. */
int64_t search_excess(const struct search *s, const int32_t *x);
int64_t search_cost(const struct search *s, const int32_t *x);
uint32_t search_touched(const struct search *s, const int32_t *x);

/* search_next_excess: the smallest excess above the given one at which any row allows a further value; INT64_MAX: none. */
int64_t search_next_excess(const struct search *s, int64_t excess);

#endif

/* search: exact answers about whole-step moves under limits: "is there a plan, and which".
 *
 * rows.h says what a plan's excess is, moves.h what it costs. search_run decides, for a given excess and budget, whether a plan exists,
 * by depth-first branch and bound on boxes:
 *   - narrowing by rows, lessons and cost, in integers (rows.h, moves.h);
 *   - the Lagrangian bound, in integers (lagrange.h), with multipliers from a floating-point relaxation (relax.h) that may be as
 *     wrong as it likes: a node is only dropped on the integer bound;
 *   - among moves that are alike in everything, the earlier one is the larger (where sets do not matter);
 *   - a box of a few plans is listed.
 * No answer depends on floating point; only the time does. */
#ifndef CORE_SEARCH_H
#define CORE_SEARCH_H

#include "core/lagrange.h"
#include "core/moves.h"
#include "core/relax.h"
#include "core/rows.h"

#define SEARCH_NO_BUDGET INT64_MAX

enum { SEARCH_EXCLUDED_MAX = 8, SEARCH_POOL_MAX = 8 };

struct search_frame; /* one open node */

struct search {
    size_t n_cols;
    const struct move *move; /* [n_cols], borrowed */
    struct rows rows;
    size_t n_excluded;
    uint32_t excluded
        [SEARCH_EXCLUDED_MAX]; /* sets of touched moves that may not be answered with; bit j = move j */
    int32_t *box_lo,
        *box_hi; /* [n_cols] what search_run may use of each move; the caller may narrow it */
    int64_t nodes, node_limit;
    size_t
        n_wanted; /* for SEARCH_CHEAPEST: so many plans with different touched sets, 1..SEARCH_POOL_MAX */

    /* answers of the last run, besides ret_x */
    int64_t bound_cost; /* SEARCH_CHEAPEST: no plan within its excess costs less */
    size_t n_pool;      /* plans kept, cheapest first */
    struct search_kept {
        uint32_t touched;
        int64_t cost;
        int32_t x[MOVES_MAX];
    } pool[SEARCH_POOL_MAX];

    /* private */
    struct lagrange bound;
    struct relax lp;
    double *scale, *lp_coef;     /* [n_live], [n_live][n_cols] rows of the relaxation */
    double *lp_y, *lp_x;         /* [n_live], [n_cols] its answer */
    double *impact;              /* [n_cols] of a step on what the rows allow */
    struct search_frame *frames; /* open nodes */
    int32_t *frame_bounds;       /* [frames][2][n_cols] */
    char *saved;                 /* bases of the relaxation, one an open frame */
    size_t saved_size;
    int *twin;        /* [n_cols] an earlier move that is alike, or -1 */
    int32_t *lo, *hi; /* [n_cols] the node at hand */
    int32_t *trial;   /* [n_cols] */
};

/* search_size: bytes of memory search_init needs, aligned for double. n_rows <= ROWS_MAX, n_cols <= MOVES_MAX. */
size_t search_size(size_t n_rows, size_t n_cols);

/* search_init: arrays (shapes as in rows.h) are borrowed for the struct's life; amounts and reach must be below 2^53 nano (the caller
 * checks). */
void search_init(struct search *s, size_t n_rows, size_t n_cols, const int64_t *start,
                 const struct conform_limits *limits, const int64_t *effect,
                 const struct move *move, int64_t node_limit, void *memory);

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

#endif

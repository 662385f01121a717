/* rows: what whole-step moves do to values under limits, in integers: value_i = start_i + sum_j effect_ij x_j.
 *
 * A plan's excess is the largest of value - high and low - value over all rows: positive outside, negative (a margin) inside.
 * Rows are divided by the common divisor of their effects, so that at a given excess the limits snap to values that can occur;
 * a box of moves is narrowed until each row can still be met by every end of every interval (bounds consistency).
 *
 * A lesson is one more row, learned when a combination of rows showed a box to be impossible: with whole multipliers Y,
 * sum_j (Y.coef)_j x_j <= sum_i max over allowed q of Y_i q holds for every plan, in that box or not. It costs a fraction of a
 * new relaxation and often turns the next boxes away. Lessons hold for the excess they were learned at and below. */
#ifndef CORE_ROWS_H
#define CORE_ROWS_H

#include "core/conform.h"
#include "core/moves.h"

enum { ROWS_MAX = 64, ROWS_LESSONS_MAX = 24 };

struct rows {
    size_t n_rows, n_cols;
    const int64_t *effect;               /* [n_cols][n_rows], borrowed */
    const int64_t *start;                /* [n_rows], borrowed */
    const struct conform_limits *limits; /* [n_rows], borrowed */
    int64_t fixed_excess; /* of the rows that nothing can move; INT64_MIN when there is none */

    size_t n_live;     /* rows that something moves; everything below is about these */
    size_t *live;      /* [n_live] their numbers */
    int64_t *divisor;  /* [n_live] common divisor of the row's effects */
    uint8_t *n_terms;  /* [n_live] moves that touch the row */
    uint8_t *term_col; /* [n_live][n_cols] which, ascending */
    int64_t *term;     /* [n_live][n_cols] their effect / divisor */
    int64_t *coef; /* [n_cols][n_live] the same for every move, 0 where it does not touch the row */
    int64_t *reach_lo, *reach_hi; /* [n_live] of coef.x over all moves */
    int64_t *q_lo, *q_hi;         /* [n_live] allowed coef.x, set by rows_allow */

    size_t n_lessons, next_lesson;
    int64_t *lesson;      /* [ROWS_LESSONS_MAX][n_cols] */
    uint8_t *every;       /* [n_cols] 0, 1, 2, ...: the columns of a lesson */
    int64_t *lesson_most; /* [ROWS_LESSONS_MAX] */
};

/* rows_size: bytes of memory rows_init needs, aligned for int64_t. */
size_t rows_size(size_t n_rows, size_t n_cols);

/* rows_init: arrays are borrowed for the struct's life; every amount and reach is below 2^53 nano (the caller checks). */
void rows_init(struct rows *r, size_t n_rows, size_t n_cols, const int64_t *start,
               const struct conform_limits *limits, const int64_t *effect, const struct move *move,
               void *memory);

/* rows_excess: of a plan x[n_cols], exact. */
int64_t rows_excess(const struct rows *r, const int32_t *x);

/* rows_next_excess: the smallest excess above the given one at which any row allows a further value; INT64_MAX: none. */
int64_t rows_next_excess(const struct rows *r, int64_t excess);

/* rows_allow: sets q_lo, q_hi for plans of at most this excess. False when some row allows nothing. Lessons stay: forget them
 * with rows_forget when the excess grows. */
bool rows_allow(struct rows *r, int64_t excess);
void rows_forget(struct rows *r);

/* rows_narrow: one sweep over rows and lessons. False when a row cannot be met in the box; *changed when the box shrank. */
bool rows_narrow(const struct rows *r, int32_t *lo, int32_t *hi, bool *changed);

/* rows_learn: keeps the lesson of multipliers[n_live], whole numbers below 2^40. */
void rows_learn(struct rows *r, const int64_t *multiplier);

/* For listing plans: value[n_live] of coef.x. rows_shift adds `by` steps of move j; rows_are_met compares with q_lo, q_hi. */
void rows_shift(const struct rows *r, int64_t *value, size_t j, int32_t by);
bool rows_are_met(const struct rows *r, const int64_t *value);

#endif

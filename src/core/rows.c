/* rows: owns limits as integers and the narrowing of boxes by them. */
#include "core/rows.h"

#include "core/align.h"

#include <string.h>

/* Multipliers of a lesson are cut down to this size, so that its sums stay inside 64 bits: 2^20 x 2^53 is avoided by leaving
 * out lessons whose terms would pass LESSON_TERM_MAX. */
#define LESSON_MULTIPLIER_MAX ((int64_t)1 << 20)
#define LESSON_TERM_MAX       ((int64_t)1 << 56)
#define LESSON_LEAST          (-((int64_t)1 << 61)) /* no lesson's sum is below: it bounds from above only */

static int64_t magnitude(int64_t v)
{
    return v < 0 ? -v : v;
}

static int64_t gcd(int64_t a, int64_t b)
{
    while (b != 0) {
        int64_t r = a % b;
        a = b;
        b = r;
    }
    return a;
}

static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return a % b != 0 && (a < 0) != (b < 0) ? q - 1 : q;
}

static int64_t ceil_div(int64_t a, int64_t b)
{
    return -floor_div(-a, b);
}

size_t rows_size(size_t n_rows, size_t n_cols)
{
    size_t words = 2 * n_rows * n_cols + 6 * n_rows + ROWS_LESSONS_MAX * (n_cols + 1);
    size_t bytes = n_rows + n_rows * n_cols + n_cols;
    return words * sizeof(int64_t) + align8(bytes);
}

static int64_t row_excess(struct conform_limits l, int64_t value)
{
    int64_t over = l.high == INT64_MAX ? INT64_MIN : value - l.high;
    int64_t under = l.low == INT64_MIN ? INT64_MIN : l.low - value;
    return over > under ? over : under;
}

/* What the effects on row i have in common; 0 when nothing moves it. */
static int64_t common_divisor(const struct rows *r, size_t i, const struct move *move)
{
    int64_t g = 0;
    for (size_t j = 0; j < r->n_cols; j++) {
        if (move[j].lo < move[j].hi)
            g = gcd(g, magnitude(r->effect[j * r->n_rows + i]));
    }
    return g;
}

/* Live row k from row i. */
static void reduce_row(struct rows *r, size_t k, size_t i, int64_t g, const struct move *move)
{
    int64_t *term = r->term + k * r->n_cols, lo = 0, hi = 0;
    uint8_t *col = r->term_col + k * r->n_cols, n = 0;
    for (size_t j = 0; j < r->n_cols; j++) {
        const struct move *m = &move[j];
        int64_t c = m->lo < m->hi ? r->effect[j * r->n_rows + i] / g : 0;
        r->coef[j * r->n_live + k] = c;
        if (c == 0)
            continue;
        term[n] = c;
        col[n++] = (uint8_t)j;
        lo += c > 0 ? c * m->lo : c * m->hi;
        hi += c > 0 ? c * m->hi : c * m->lo;
    }
    r->n_terms[k] = n;
    r->live[k] = i;
    r->divisor[k] = g;
    r->reach_lo[k] = lo;
    r->reach_hi[k] = hi;
}

static void lay_out(struct rows *r, void *memory)
{
    int64_t *w = memory;
    r->term = w, w += r->n_rows * r->n_cols;
    r->coef = w, w += r->n_rows * r->n_cols;
    r->divisor = w, w += r->n_rows;
    r->reach_lo = w, w += r->n_rows;
    r->reach_hi = w, w += r->n_rows;
    r->q_lo = w, w += r->n_rows;
    r->q_hi = w, w += r->n_rows;
    r->lesson = w, w += ROWS_LESSONS_MAX * r->n_cols;
    r->lesson_most = w, w += ROWS_LESSONS_MAX;
    r->live = (size_t *)(void *)w, w += r->n_rows;
    uint8_t *b = (uint8_t *)w;
    r->n_terms = b, b += r->n_rows;
    r->term_col = b, b += r->n_rows * r->n_cols;
    r->every = b;
    for (size_t j = 0; j < r->n_cols; j++)
        r->every[j] = (uint8_t)j;
}

void rows_init(struct rows *r, size_t n_rows, size_t n_cols, const int64_t *start,
               const struct conform_limits *limits, const int64_t *effect, const struct move *move,
               void *memory)
{
    int64_t divisor[ROWS_MAX];
    memset(r, 0, sizeof *r);
    r->n_rows = n_rows;
    r->n_cols = n_cols;
    r->start = start;
    r->limits = limits;
    r->effect = effect;
    r->fixed_excess = INT64_MIN;
    lay_out(r, memory);
    for (size_t i = 0; i < n_rows; i++) {
        divisor[i] = common_divisor(r, i, move);
        r->n_live += divisor[i] > 0;
    }
    for (size_t i = 0, k = 0; i < n_rows; i++) {
        int64_t e = row_excess(limits[i], start[i]);
        if (divisor[i] > 0)
            reduce_row(r, k++, i, divisor[i], move);
        else if (e > r->fixed_excess)
            r->fixed_excess = e;
    }
}

int64_t rows_excess(const struct rows *r, const int32_t *x)
{
    int64_t worst = r->fixed_excess;
    for (size_t k = 0; k < r->n_live; k++) {
        int64_t q = 0;
        for (size_t t = 0; t < r->n_terms[k]; t++)
            q += r->term[k * r->n_cols + t] * x[r->term_col[k * r->n_cols + t]];
        int64_t e = row_excess(r->limits[r->live[k]], r->start[r->live[k]] + q * r->divisor[k]);
        worst = e > worst ? e : worst;
    }
    return worst;
}

int64_t rows_next_excess(const struct rows *r, int64_t excess)
{
    int64_t next = r->fixed_excess > excess ? r->fixed_excess : INT64_MAX;
    for (size_t k = 0; k < r->n_live; k++) {
        struct conform_limits l = r->limits[r->live[k]];
        int64_t start = r->start[r->live[k]], g = r->divisor[k];
        if (l.high != INT64_MAX) {
            int64_t q = floor_div(l.high + excess - start, g) + 1;
            int64_t e = start + q * g - l.high;
            if (q <= r->reach_hi[k] && e < next)
                next = e;
        }
        if (l.low != INT64_MIN) {
            int64_t q = ceil_div(l.low - excess - start, g) - 1;
            int64_t e = l.low - (start + q * g);
            if (q >= r->reach_lo[k] && e < next)
                next = e;
        }
    }
    return next;
}

bool rows_allow(struct rows *r, int64_t excess)
{
    if (r->fixed_excess > excess)
        return false;
    for (size_t k = 0; k < r->n_live; k++) {
        struct conform_limits l = r->limits[r->live[k]];
        int64_t start = r->start[r->live[k]], g = r->divisor[k];
        int64_t lo = r->reach_lo[k], hi = r->reach_hi[k];
        if (l.low != INT64_MIN) {
            int64_t q = ceil_div(l.low - excess - start, g);
            lo = q > lo ? q : lo;
        }
        if (l.high != INT64_MAX) {
            int64_t q = floor_div(l.high + excess - start, g);
            hi = q < hi ? q : hi;
        }
        if (lo > hi)
            return false;
        r->q_lo[k] = lo;
        r->q_hi[k] = hi;
    }
    return true;
}

void rows_forget(struct rows *r)
{
    r->n_lessons = r->next_lesson = 0;
}

/* Narrows move j of a row: `above` is how much the row's least value may still rise, `below` how much its greatest may fall. */
static bool narrow_move(int32_t *ret_lo, int32_t *ret_hi, int64_t c, int64_t above, int64_t below)
{
    if (c == 0)
        return true;
    int64_t size = magnitude(c), span = size * (*ret_hi - *ret_lo);
    int32_t lo = *ret_lo, hi = *ret_hi;
    if (span > above) {
        int32_t by = (int32_t)(above / size);
        if (c > 0)
            *ret_hi = lo + by;
        else
            *ret_lo = hi - by;
    }
    if (span > below) {
        int32_t by = (int32_t)(below / size);
        if (c > 0 && hi - by > *ret_lo)
            *ret_lo = hi - by;
        if (c < 0 && lo + by < *ret_hi)
            *ret_hi = lo + by;
    }
    return *ret_lo <= *ret_hi;
}

/* Narrows the box by q_lo <= sum over t < n of term[t] x[col[t]] <= q_hi; false when that cannot be met. */
static bool narrow_row(const int64_t *term, const uint8_t *col, size_t n, int64_t q_lo,
                       int64_t q_hi, int32_t *lo, int32_t *hi, bool *changed)
{
    int64_t least = 0, most = 0, widest = 0;
    for (size_t t = 0; t < n; t++) {
        int64_t a = term[t] * lo[col[t]], b = term[t] * hi[col[t]];
        int64_t low = a < b ? a : b, high = a < b ? b : a;
        least += low;
        most += high;
        widest = high - low > widest ? high - low : widest;
    }
    int64_t above = q_hi - least, below = most - q_lo;
    if (above < 0 || below < 0)
        return false;
    if (widest <= above && widest <= below)
        return true;
    *changed = true;
    for (size_t t = 0; t < n; t++) {
        if (!narrow_move(&lo[col[t]], &hi[col[t]], term[t], above, below))
            return false;
    }
    return true;
}

bool rows_narrow(const struct rows *r, int32_t *lo, int32_t *hi, bool *changed)
{
    for (size_t k = 0; k < r->n_live; k++) {
        const size_t at = k * r->n_cols;
        if (!narrow_row(r->term + at, r->term_col + at, r->n_terms[k], r->q_lo[k], r->q_hi[k], lo,
                        hi, changed))
            return false;
    }
    for (size_t k = 0; k < r->n_lessons; k++) {
        if (!narrow_row(r->lesson + k * r->n_cols, r->every, r->n_cols, LESSON_LEAST,
                        r->lesson_most[k], lo, hi, changed))
            return false;
    }
    return true;
}

/* Whether the sums of a lesson of multipliers / divisor stay inside LESSON_TERM_MAX, whatever the plan. */
static bool is_summable(const struct rows *r, const int64_t *multiplier, int64_t divisor)
{
    int64_t reach = 0;
    for (size_t k = 0; k < r->n_live; k++) {
        int64_t size = magnitude(multiplier[k] / divisor);
        int64_t farthest = r->reach_hi[k] > -r->reach_lo[k] ? r->reach_hi[k] : -r->reach_lo[k];
        if (size == 0)
            continue;
        if (farthest > LESSON_TERM_MAX / size)
            return false;
        reach += farthest * size;
        if (reach > LESSON_TERM_MAX)
            return false;
    }
    return true;
}

void rows_learn(struct rows *r, const int64_t *multiplier)
{
    int64_t largest = 1, divisor = 1;
    for (size_t k = 0; k < r->n_live; k++)
        largest = magnitude(multiplier[k]) > largest ? magnitude(multiplier[k]) : largest;
    while (largest / divisor > LESSON_MULTIPLIER_MAX)
        divisor *= 2;
    if (!is_summable(r, multiplier, divisor))
        return; /* the search does without, and the lesson in the next place stays whole */
    int64_t *lesson = r->lesson + r->next_lesson * r->n_cols, most = 0;
    memset(lesson, 0, r->n_cols * sizeof *lesson);
    for (size_t k = 0; k < r->n_live; k++) {
        int64_t y = multiplier[k] / divisor;
        most += y * (y > 0 ? r->q_hi[k] : r->q_lo[k]);
        for (size_t t = 0; t < r->n_terms[k]; t++)
            lesson[r->term_col[k * r->n_cols + t]] += y * r->term[k * r->n_cols + t];
    }
    r->lesson_most[r->next_lesson] = most;
    r->next_lesson = (r->next_lesson + 1) % ROWS_LESSONS_MAX;
    if (r->n_lessons < ROWS_LESSONS_MAX)
        r->n_lessons++;
}

void rows_shift(const struct rows *r, int64_t *value, size_t j, int32_t by)
{
    for (size_t k = 0; k < r->n_live; k++)
        value[k] += r->coef[j * r->n_live + k] * by;
}

bool rows_are_met(const struct rows *r, const int64_t *value)
{
    for (size_t k = 0; k < r->n_live; k++) {
        if (value[k] < r->q_lo[k] || value[k] > r->q_hi[k])
            return false;
    }
    return true;
}

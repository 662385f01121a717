/* study_stock: owns the question which lengths to stock. */
#include "desk/study_stock.h"

#include "stat/assort.h"

#include <stdlib.h>

struct need {
    int64_t length, count;
};

struct needs {
    const struct study_watch *watch;
    size_t n;
    struct need *rows;        /* by row of the file, then sorted and merged */
    int64_t *lengths, *count; /* the same as two lists */
};

void study_stock_wants(const char *length, const char *count, enum unit unit,
                       struct study_want wants[STOCK_COLUMNS])
{
    wants[STOCK_LENGTH] =
        (struct study_want){.column = length, .type = STUDY_AMOUNT, .unit = unit, STUDY_ANY};
    wants[STOCK_COUNT] = (struct study_want){
        .column = count, .type = STUDY_NUMBER, .low = 0, .high = 1e9, .is_whole = true};
}

static int compare(const void *a, const void *b)
{
    const struct need *x = a, *y = b;
    return (x->length > y->length) - (x->length < y->length);
}

/* Needs of 0 pieces are left out; needs of one length are one. */
static enum err read_needs(const struct study_table *t, struct needs *needs, struct fault *f)
{
    const int64_t *length = study_amounts(t, STOCK_LENGTH);
    const double *count = study_numbers(t, STOCK_COUNT);
    size_t n = 0;
    for (size_t i = 0; i < study_rows(t); i++) {
        if (length[i] <= 0)
            return study_row_fault(t, i, STOCK_LENGTH, f, ERR_DOMAIN,
                                   "found a length of 0 or less; expected more than 0");
        needs->rows[n] = (struct need){length[i], count != NULL ? (int64_t)count[i] : 1};
        n += needs->rows[n].count > 0;
    }
    qsort(needs->rows, n, sizeof *needs->rows, compare);
    needs->n = 0;
    for (size_t i = 0; i < n; i++) {
        const struct need *row = &needs->rows[i];
        if (needs->n == 0 || needs->lengths[needs->n - 1] != row->length) {
            needs->lengths[needs->n] = row->length;
            needs->count[needs->n++] = 0;
        }
        needs->count[needs->n - 1] += row->count;
    }
    if (needs->n == 0)
        return study_table_fault(t, f, ERR_EMPTY,
                                 "found no piece that is needed; expected one or more");
    return ERR_OK;
}

static bool on_row(void *me, uint64_t row, uint64_t k)
{
    const struct needs *needs = me;
    return study_go_on(needs->watch, "lengths", row, k);
}

/* What stocking k lengths wastes; -1 when that is no choice. */
static enum err try_k(struct needs *needs, size_t k, size_t *chosen, size_t *n, int64_t *waste)
{
    *waste = -1;
    return k == 0 || k > needs->n ? ERR_OK
                                  : stat_assort(needs->lengths, needs->count, needs->n, k, on_row,
                                                needs, chosen, n, waste);
}

static void fill(const struct needs *needs, const size_t *chosen, struct study_stock *s)
{
    size_t i = 0;
    for (size_t c = 0; c < s->n; c++) {
        struct study_stock_length *l = &s->lengths[c];
        l->length_nm = needs->lengths[chosen[c]];
        for (; i <= chosen[c]; i++) {
            l->n_pieces += needs->count[i];
            l->n_lengths++;
            l->waste_nm += (l->length_nm - needs->lengths[i]) * needs->count[i];
            s->used_nm += needs->lengths[i] * needs->count[i];
        }
        s->n_pieces += l->n_pieces;
    }
}

static enum err choose(const struct study_table *t, struct needs *needs, size_t k,
                       struct study_stock *s, struct fault *f)
{
    size_t *chosen = calloc(k + 1, sizeof *chosen), n = 0;
    const size_t most = k < needs->n ? k : needs->n;
    enum err e = chosen == NULL ? ERR_MEMORY : ERR_OK;
    s->n_needs = needs->n;
    if (e == ERR_OK)
        e = try_k(needs, most - 1, chosen, &n, &s->waste_less_nm);
    if (e == ERR_OK)
        e = try_k(needs, most + 1, chosen, &n, &s->waste_more_nm);
    if (e == ERR_OK)
        e = try_k(needs, most, chosen, &s->n, &s->waste_nm);
    if (e == ERR_OK) {
        s->lengths = calloc(s->n + 1, sizeof *s->lengths);
        e = s->lengths == NULL ? ERR_MEMORY : ERR_OK;
    }
    if (e == ERR_OK)
        fill(needs, chosen, s);
    free(chosen);
    if (e == ERR_BUSY)
        return fault_set(f, e, "stopped before a choice was found; there is no part of an answer");
    if (e == ERR_LIMIT)
        return fault_set(f, e,
                         "found %zu different lengths; with %zu to stock that is more than can be "
                         "held; round them first",
                         needs->n, k);
    if (e == ERR_RANGE)
        return study_table_fault(t, f, e,
                                 "the lengths add up to more than can be counted in nanometres");
    return e == ERR_OK ? e : fault_no_memory(f);
}

static void note(size_t k, struct study_stock *s)
{
    study_note(&s->notes, STUDY_ASSUMED,
               "Each piece is cut from one stocked length; offcuts are not used again, and the "
               "kerf is not counted.");
    study_note(&s->notes, STUDY_ASSUMED, "What is needed later is like what was needed so far.");
    study_note(&s->notes, STUDY_CHECKED,
               "No other choice of %zu lengths wastes less: the search is exact.", s->n);
    if (k > s->n)
        study_note(&s->notes, STUDY_CAVEAT,
                   "Only %zu different lengths are needed, so %zu are enough.", s->n_needs, s->n);
}

enum err study_stock(const struct study_table *t, size_t k, const struct study_watch *watch,
                     struct study_stock *ret, struct fault *reterr)
{
    struct study_stock s = {0};
    struct needs needs = {.watch = watch};
    const size_t n = study_rows(t) + 1;
    needs.rows = malloc(n * sizeof *needs.rows);
    needs.lengths = calloc(n, sizeof *needs.lengths);
    needs.count = calloc(n, sizeof *needs.count);
    enum err e = needs.rows == NULL || needs.lengths == NULL || needs.count == NULL
                     ? fault_no_memory(reterr)
                     : read_needs(t, &needs, reterr);
    if (e == ERR_OK)
        e = choose(t, &needs, k, &s, reterr);
    free(needs.rows);
    free(needs.lengths);
    free(needs.count);
    if (e != ERR_OK) {
        study_stock_done(&s);
        return e;
    }
    note(k, &s);
    *ret = s;
    return ERR_OK;
}

void study_stock_done(struct study_stock *s)
{
    free(s->lengths);
    s->lengths = NULL;
}

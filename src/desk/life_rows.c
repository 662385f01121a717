/* life_rows: owns the order of rows: by time, by group, equal times together. */
#include "desk/life_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- in order ---------------------------------------------------------------------------------- */

struct row {
    double t;
    uint32_t group;
    uint8_t event;
};

static int by_time(const void *a, const void *b)
{
    const struct row *x = a, *y = b;
    return (x->t > y->t) - (x->t < y->t);
}

/* Rows in the order of their times; times that are not negative order as their bits do, so that they are sorted by digits: 11 bits
 * at a time, six rounds whatever the data. Small tables are left to qsort. */
static bool sort_rows(struct row *rows, size_t n)
{
    enum { BITS = 11, BUCKETS = 1 << BITS, ROUNDS = 6, SMALL = 4096 };
    if (n < SMALL) {
        qsort(rows, n, sizeof *rows, by_time);
        return true;
    }
    struct row *other = malloc(n * sizeof *other), *from = rows, *to = other;
    if (other == NULL)
        return false;
    for (int round = 0; round < ROUNDS; round++) {
        size_t at[BUCKETS] = {0}, sum = 0;
        for (int pass = 0; pass < 2; pass++) {
            for (size_t i = 0; i < n; i++) {
                uint64_t bits = 0;
                const double t = from[i].t + 0.0; /* -0 is 0 */
                memcpy(&bits, &t, sizeof bits);
                const size_t digit = (size_t)(bits >> (BITS * round)) & (BUCKETS - 1);
                if (pass == 0)
                    at[digit]++;
                else
                    to[at[digit]++] = from[i];
            }
            for (size_t b = 0; pass == 0 && b < BUCKETS; b++) {
                const size_t here = at[b];
                at[b] = sum;
                sum += here;
            }
        }
        struct row *swap = from;
        from = to;
        to = swap;
    }
    free(other); /* six rounds: the result lies in rows again */
    return true;
}

/* ---- memory ------------------------------------------------------------------------------------ */

static bool new_arrays(struct life_rows *r, bool has_entry)
{
    const size_t n = r->n > 0 ? r->n : 1;
    r->first = calloc(r->n_groups + 1, sizeof *r->first);
    r->end = malloc(n * sizeof *r->end);
    r->event = malloc(n * sizeof *r->event);
    r->all_end = malloc(n * sizeof *r->all_end);
    r->all_event = malloc(n * sizeof *r->all_event);
    r->all_group = malloc(n * sizeof *r->all_group);
    if (has_entry) {
        r->entry = malloc(n * sizeof *r->entry);
        r->all_entry = malloc(n * sizeof *r->all_entry);
        r->all_entry_group = malloc(n * sizeof *r->all_entry_group);
    }
    return r->first != NULL && r->end != NULL && r->event != NULL && r->all_end != NULL &&
           r->all_event != NULL && r->all_group != NULL &&
           (!has_entry || (r->entry != NULL && r->all_entry != NULL && r->all_entry_group != NULL));
}

void life_rows_done(struct life_rows *r)
{
    free(r->first);
    free(r->end);
    free(r->event);
    free(r->entry);
    free(r->all_end);
    free(r->all_event);
    free(r->all_group);
    free(r->all_entry);
    free(r->all_entry_group);
    *r = (struct life_rows){.n = 0};
}

/* ---- by group ---------------------------------------------------------------------------------- */

/* Sorted rows to the groups' places; next[g] is where the group's next row goes. */
static void deal(const struct row *rows, size_t n, const size_t *first, size_t n_groups,
                 size_t *next, double *t, uint8_t *event)
{
    memcpy(next, first, n_groups * sizeof *next);
    for (size_t i = 0; i < n; i++) {
        const size_t at = next[rows[i].group]++;
        t[at] = rows[i].t;
        if (event != NULL)
            event[at] = rows[i].event;
    }
}

static enum err order_ends(struct life_rows *r, struct row *rows, size_t *next)
{
    if (!sort_rows(rows, r->n))
        return ERR_MEMORY;
    for (size_t i = 0; i < r->n; i++) {
        r->all_end[i] = rows[i].t;
        r->all_event[i] = rows[i].event;
        r->all_group[i] = rows[i].group;
        r->first[rows[i].group + 1]++;
    }
    for (size_t g = 0; g < r->n_groups; g++)
        r->first[g + 1] += r->first[g];
    deal(rows, r->n, r->first, r->n_groups, next, r->end, r->event);
    return ERR_OK;
}

static enum err order_entries(struct life_rows *r, struct row *rows, size_t *next)
{
    if (!sort_rows(rows, r->n))
        return ERR_MEMORY;
    for (size_t i = 0; i < r->n; i++) {
        r->all_entry[i] = rows[i].t;
        r->all_entry_group[i] = rows[i].group;
    }
    deal(rows, r->n, r->first, r->n_groups, next, r->entry, NULL);
    return ERR_OK;
}

enum err life_rows_new(const double *end, const uint8_t *event, const double *entry,
                       const uint32_t *group, size_t n, size_t n_groups, struct life_rows *ret)
{
    struct life_rows r = {.n = n, .n_groups = n_groups};
    struct row *rows = malloc((n > 0 ? n : 1) * sizeof *rows);
    size_t *next = malloc(n_groups * sizeof *next);
    enum err e =
        rows != NULL && next != NULL && new_arrays(&r, entry != NULL) ? ERR_OK : ERR_MEMORY;
    for (size_t i = 0; e == ERR_OK && i < n; i++)
        rows[i] = (struct row){end[i], group != NULL ? group[i] : 0, event[i]};
    if (e == ERR_OK)
        e = order_ends(&r, rows, next);
    for (size_t i = 0; e == ERR_OK && entry != NULL && i < n; i++)
        rows[i] = (struct row){entry[i], group != NULL ? group[i] : 0, 0};
    if (e == ERR_OK && entry != NULL)
        e = order_entries(&r, rows, next);
    free(rows);
    free(next);
    if (e != ERR_OK) {
        life_rows_done(&r);
        return e;
    }
    *ret = r;
    return ERR_OK;
}

/* ---- as terms ---------------------------------------------------------------------------------- */

size_t life_terms(const struct life_rows *r, size_t group, struct weibull_term *terms)
{
    const size_t after = r->first[group + 1];
    size_t n = 0, enter = r->first[group];
    for (size_t i = r->first[group]; i < after;) {
        const double t = r->end[i];
        for (; r->entry != NULL && enter < after && r->entry[enter] < t;) {
            const double s = r->entry[enter];
            struct weibull_term term = {.log_t = s > 0 ? log(s) : 0};
            for (; enter < after && r->entry[enter] == s; enter++)
                term.entered++;
            if (s > 0)
                terms[n++] = term;
        }
        struct weibull_term term = {.log_t = t > 0 ? log(t) : 0};
        for (; i < after && r->end[i] == t; i++) {
            term.events += r->event[i];
            term.censored += !r->event[i];
        }
        if (t > 0)
            terms[n++] = term;
    }
    return n;
}

size_t life_terms_merge(struct weibull_term *terms, size_t n, size_t most)
{
    if (n <= most)
        return n;
    const size_t each = (n + most - 1) / most;
    size_t n_left = 0;
    for (size_t i = 0; i < n; i += each) {
        struct weibull_term sum = {.log_t = 0};
        double weight = 0;
        for (size_t k = i; k < n && k < i + each; k++) {
            const double here = terms[k].events + terms[k].censored + terms[k].entered;
            sum.log_t += here * terms[k].log_t;
            weight += here;
            sum.events += terms[k].events;
            sum.censored += terms[k].censored;
            sum.entered += terms[k].entered;
        }
        sum.log_t /= weight;
        terms[n_left++] = sum;
    }
    return n_left;
}

size_t life_open(const struct life_rows *r, size_t group, struct forecast_open *open, size_t most)
{
    size_t n_open = 0, n = 0, in_last = 0;
    for (size_t i = r->first[group]; i < r->first[group + 1]; i++)
        n_open += !r->event[i];
    const size_t each = (n_open + most - 1) / most;
    for (size_t i = r->first[group]; i < r->first[group + 1]; i++) {
        if (r->event[i])
            continue;
        if (n == 0 || in_last == each) {
            open[n++] = (struct forecast_open){0, 0};
            in_last = 0;
        }
        struct forecast_open *o = &open[n - 1];
        o->t = (o->t * o->n + r->end[i]) / (o->n + 1);
        o->n++;
        in_last++;
    }
    return n;
}

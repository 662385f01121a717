/* window_days: owns how rows become days: what a day is, and what is added up. Declared in study_window_inner.h. */
#include "core/date.h"
#include "desk/study_window_inner.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define KEY_MAX     1000000000000 /* a day as a number, to either side of 0 */
#define LEAST_SHARE 1e-10         /* of a day in the whole exposure */
#define SUM_MAX     9e15          /* whole numbers up to here are exact */

/* ---- one day ----------------------------------------------------------------------------------- */

static bool read_whole(const char *text, int64_t *ret)
{
    char *end = NULL;
    const char *digit = text + (*text == '-');
    if (*digit < '0' || *digit > '9')
        return false;
    errno = 0;
    const long long value = strtoll(text, &end, 10);
    if (errno != 0 || *end != '\0' || value > KEY_MAX || value < -KEY_MAX)
        return false;
    *ret = value;
    return true;
}

static bool read_date(const char *text, int64_t *ret)
{
    int32_t day = 0;
    if (date_parse(text, strlen(text), &day) != ERR_OK)
        return false;
    *ret = day;
    return true;
}

void window_day_show(const struct window_days *days, int64_t key, struct study_window_day *ret)
{
    *ret = (struct study_window_day){.is_number = !days->is_dates};
    if (days->is_dates) {
        date_show((int32_t)key, ret->text);
        return;
    }
    ret->number = key;
    (void)snprintf(ret->text, sizeof ret->text, "%" PRId64, key);
}

/* ---- added up ---------------------------------------------------------------------------------- */

/* Day number `text` of the column, first seen in `row`. */
static enum err read_day(const struct study_table *t, uint32_t text, size_t row,
                         struct window_days *days, struct fault *f)
{
    const char *s = study_text(t, WINDOW_DAY, text);
    int64_t key = 0;
    const bool is_date = read_date(s, &key);
    if (!is_date && !read_whole(s, &key))
        return study_row_fault(t, row, WINDOW_DAY, f, ERR_SYNTAX,
                               "found \"%.60s\"; expected a day as YYYY-MM-DD or a whole number",
                               s);
    if (text == 0)
        days->is_dates = is_date;
    if (is_date != days->is_dates)
        return study_row_fault(t, row, WINDOW_DAY, f, ERR_TYPE,
                               "found \"%.60s\" after \"%.60s\"; expected all days as dates or all "
                               "as numbers",
                               s, study_text(t, WINDOW_DAY, 0));
    days->at[text].key = key;
    days->at[text].row = row;
    return ERR_OK;
}

static enum err add_rows(const struct study_table *t, struct window_days *days, struct fault *f)
{
    const uint32_t *day = study_texts(t, WINDOW_DAY);
    const double *built = study_numbers(t, WINDOW_BUILT);
    const double *failed = study_numbers(t, WINDOW_FAILED);
    const double *exposure = study_numbers(t, WINDOW_EXPOSURE);
    uint32_t n_seen = 0;
    double all = 0, exposed = 0;
    for (size_t i = 0; i < study_rows(t); i++) {
        if (day[i] == n_seen) { /* texts are numbered as they appear */
            const enum err e = read_day(t, n_seen++, i, days, f);
            if (e != ERR_OK)
                return e;
        }
        struct window_day *d = &days->at[day[i]];
        const double n = built != NULL ? built[i] : 1;
        all += n + failed[i];
        exposed += exposure != NULL ? exposure[i] : n;
        if (all > SUM_MAX || exposed > SUM_MAX)
            return study_row_fault(t, i, built != NULL ? WINDOW_BUILT : WINDOW_FAILED, f, ERR_RANGE,
                                   "the sum up to here is too large to be exact");
        d->built += (int64_t)n;
        d->failed += (int64_t)failed[i];
        d->exposure += exposure != NULL ? exposure[i] : n;
    }
    return ERR_OK;
}

static int by_key(const void *a, const void *b)
{
    const struct window_day *x = a, *y = b;
    return (x->key > y->key) - (x->key < y->key);
}

static size_t column_of_exposure(const struct study_table *t)
{
    return study_numbers(t, WINDOW_EXPOSURE) != NULL ? WINDOW_EXPOSURE
           : study_numbers(t, WINDOW_BUILT) != NULL  ? WINDOW_BUILT
                                                     : WINDOW_DAY;
}

/* Texts may differ and mean one day (7, 007): added together. Days without exposure go, unless something failed on them. */
static enum err settle(const struct study_table *t, struct window_days *days, struct fault *f)
{
    size_t n = 0;
    double all = 0;
    qsort(days->at, days->n, sizeof *days->at, by_key);
    for (size_t i = 0; i < days->n; i++) {
        if (n > 0 && days->at[n - 1].key == days->at[i].key) {
            days->at[n - 1].built += days->at[i].built;
            days->at[n - 1].failed += days->at[i].failed;
            days->at[n - 1].exposure += days->at[i].exposure;
        } else
            days->at[n++] = days->at[i];
    }
    for (size_t i = 0; i < n; i++)
        all += days->at[i].exposure;
    days->n = 0;
    for (size_t i = 0; i < n; i++) {
        struct study_window_day shown;
        window_day_show(days, days->at[i].key, &shown);
        if (days->at[i].failed > 0 && !(days->at[i].exposure > 0))
            return study_row_fault(t, days->at[i].row, WINDOW_FAILED, f, ERR_DOMAIN,
                                   "%" PRId64 " failed of what was built on %s, but %s",
                                   days->at[i].failed, shown.text,
                                   days->at[i].built > 0 ? "its exposure is 0"
                                                         : "nothing was built on it");
        if (!(days->at[i].exposure > 0))
            continue;
        /* Sums are differences of running totals: what is too small beside the whole would be lost in them. */
        if (days->at[i].exposure < all * LEAST_SHARE)
            return study_row_fault(
                t, days->at[i].row, column_of_exposure(t), f, ERR_RANGE,
                "the sum for %s is %g of %g in all, too small to be told from 0: "
                "leave the day out",
                shown.text, days->at[i].exposure, all);
        days->at[days->n++] = days->at[i];
    }
    return ERR_OK;
}

enum err window_days_read(const struct study_table *t, struct window_days *ret,
                          struct fault *reterr)
{
    struct window_days days = {.n = study_n_texts(t, WINDOW_DAY)};
    if (study_rows(t) == 0)
        return study_table_fault(t, reterr, ERR_EMPTY, "found no row; expected days of building");
    days.at = calloc(days.n, sizeof *days.at);
    if (days.at == NULL)
        return fault_no_memory(reterr);
    enum err e = add_rows(t, &days, reterr);
    if (e == ERR_OK)
        e = settle(t, &days, reterr);
    if (e == ERR_OK && days.n == 0)
        e = study_table_fault(t, reterr, ERR_EMPTY,
                              "nothing was built (or exposed) on any day, so no day can stand out");
    if (e == ERR_OK && days.n > WINDOW_DAYS_MAX)
        e = study_table_fault(t, reterr, ERR_LIMIT, "found %zu days; expected at most %d", days.n,
                              (int)WINDOW_DAYS_MAX);
    if (e != ERR_OK) {
        free(days.at);
        return e;
    }
    *ret = days;
    return ERR_OK;
}

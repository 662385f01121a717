/* study_digits_sets: owns the search for jobs whose readings are all alike. */
#include "desk/study_digits_sets.h"

#include <stdlib.h>

struct line {
    uint32_t by, set;
    size_t row; /* keeps the file's order within a job */
};

struct job {
    uint32_t by, set;
    size_t n;
    const int64_t *values; /* into the readings in job order */
};

struct work {
    const struct study_table *t;
    struct line *lines;
    int64_t *values;
    struct job *jobs;
    size_t n_jobs;
    double *agree; /* by place: the chance that two jobs agree there */
    size_t n_places;
};

#define ORDER(x, y) (((x) > (y)) - ((x) < (y)))

static int compare_lines(const void *a, const void *b)
{
    const struct line *x = a, *y = b;
    if (x->by != y->by)
        return ORDER(x->by, y->by);
    return x->set != y->set ? ORDER(x->set, y->set) : ORDER(x->row, y->row);
}

/* Group, size, readings; then the one first named. */
static int compare_jobs(const void *a, const void *b)
{
    const struct job *x = a, *y = b;
    if (x->by != y->by || x->n != y->n)
        return x->by != y->by ? ORDER(x->by, y->by) : ORDER(x->n, y->n);
    for (size_t i = 0; i < x->n; i++)
        if (x->values[i] != y->values[i])
            return ORDER(x->values[i], y->values[i]);
    return ORDER(x->set, y->set);
}

static bool is_alike(const struct job *x, const struct job *y)
{
    if (x->by != y->by || x->n != y->n)
        return false;
    for (size_t i = 0; i < x->n; i++)
        if (x->values[i] != y->values[i])
            return false;
    return true;
}

struct reading {
    size_t place;
    int64_t value;
};

static int compare_readings(const void *a, const void *b)
{
    const struct reading *x = a, *y = b;
    return x->place != y->place ? ORDER(x->place, y->place) : ORDER(x->value, y->value);
}

static void find_jobs(struct work *w)
{
    const size_t n = study_rows(w->t);
    const int64_t *value = study_amounts(w->t, DIGITS_VALUE);
    for (size_t i = 0; i < n; i++)
        w->lines[i] =
            (struct line){study_texts(w->t, DIGITS_BY)[i], study_texts(w->t, DIGITS_SET)[i], i};
    qsort(w->lines, n, sizeof *w->lines, compare_lines);
    for (size_t i = 0; i < n; i++)
        w->values[i] = value[w->lines[i].row];
    for (size_t i = 0, end = 0; i < n; i = end) {
        const struct line *l = &w->lines[i];
        for (end = i; end < n && w->lines[end].by == l->by && w->lines[end].set == l->set;)
            end++;
        if (end - i < DIGITS_SET_FEWEST)
            continue;
        w->jobs[w->n_jobs++] = (struct job){l->by, l->set, end - i, &w->values[i]};
        w->n_places = end - i > w->n_places ? end - i : w->n_places;
    }
    qsort(w->jobs, w->n_jobs, sizeof *w->jobs, compare_jobs);
}

/* For each place the share of pairs of jobs, of all that have it, that hold the same value there. readings is sorted. */
static void find_agreement(struct work *w, const struct reading *readings, size_t n)
{
    for (size_t i = 0, end = 0; i < n; i = end) {
        const size_t place = readings[i].place;
        double pairs = 0, alike = 0;
        for (end = i; end < n && readings[end].place == place;) {
            const size_t from = end;
            while (end < n && readings[end].place == place &&
                   readings[end].value == readings[from].value)
                end++;
            alike += (double)(end - from) * ((double)(end - from) - 1);
        }
        pairs = (double)(end - i) * ((double)(end - i) - 1);
        w->agree[place] = pairs > 0 ? alike / pairs : 1;
    }
    for (size_t i = 1; i < w->n_places; i++) /* from here on: that all places up to i agree */
        w->agree[i] *= w->agree[i - 1];
}

static bool weigh_places(struct work *w)
{
    struct reading *readings = malloc((study_rows(w->t) + 1) * sizeof *readings);
    size_t n = 0;
    w->agree = calloc(w->n_places + 1, sizeof *w->agree);
    if (readings != NULL && w->agree != NULL) {
        for (size_t j = 0; j < w->n_jobs; j++)
            for (size_t i = 0; i < w->jobs[j].n; i++)
                readings[n++] = (struct reading){i, w->jobs[j].values[i]};
        qsort(readings, n, sizeof *readings, compare_readings);
        find_agreement(w, readings, n);
    }
    free(readings);
    return readings != NULL && w->agree != NULL;
}

/* Jobs are sorted, so those that are alike stand side by side, and so do those of one group and size. */
static void find_copies(const struct work *w, struct study_digits *d)
{
    size_t first = 0, run = 0;
    for (size_t j = 0; j < w->n_jobs; j++) {
        const struct job *job = &w->jobs[j];
        const bool is_new_run =
            j == 0 || w->jobs[j - 1].by != job->by || w->jobs[j - 1].n != job->n;
        run = is_new_run ? 0 : run + 1;
        d->expected_copies += (double)run * w->agree[job->n - 1];
        if (j == 0 || !is_alike(&w->jobs[first], job)) {
            first = j;
            continue;
        }
        d->copies[d->n_copies++] = (struct study_digits_copy){job->by, w->jobs[first].set, job->set,
                                                              job->n, w->agree[job->n - 1]};
    }
}

enum err study_digits_sets(const struct study_table *t, struct study_digits *d,
                           struct fault *reterr)
{
    const size_t n = study_rows(t);
    struct work w = {.t = t};
    w.lines = malloc(n * sizeof *w.lines);
    w.values = malloc(n * sizeof *w.values);
    w.jobs = malloc((n / DIGITS_SET_FEWEST + 1) * sizeof *w.jobs);
    d->copies = malloc((n / DIGITS_SET_FEWEST + 1) * sizeof *d->copies);
    bool is_good = w.lines != NULL && w.values != NULL && w.jobs != NULL && d->copies != NULL;
    if (is_good) {
        find_jobs(&w);
        d->n_sets = w.n_jobs;
        is_good = weigh_places(&w);
    }
    if (is_good)
        find_copies(&w, d);
    free(w.lines);
    free(w.values);
    free(w.jobs);
    free(w.agree);
    return is_good ? ERR_OK : fault_no_memory(reterr);
}

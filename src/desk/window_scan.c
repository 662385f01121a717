/* window_scan: owns the memory and the threads of a scan. Draws are handed out in blocks; what a draw is hangs on its number alone,
 * so threads change nothing. Declared in study_window_inner.h. */
#include "base/pool.h"
#include "desk/study_window_inner.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

enum { BLOCK = 32 };

/* ---- memory ------------------------------------------------------------------------------------ */

static bool new_work(struct window_work *work, size_t n)
{
    work->begin = malloc((n + 1) * sizeof *work->begin);
    work->end = malloc((n + 1) * sizeof *work->end);
    work->before = malloc((n + 1) * sizeof *work->before);
    work->drawn = calloc(n + 1, sizeof *work->drawn);
    return work->begin != NULL && work->end != NULL && work->before != NULL && work->drawn != NULL;
}

enum err window_scan_new(size_t n_days, int64_t n_failed, int n_threads, struct window_scan *ret)
{
    struct window_scan s = {.n_threads = n_threads == 0 ? pool_threads() : n_threads};
    s.w.sum = malloc((n_days + 1) * sizeof *s.w.sum);
    s.w.cases = malloc((n_days + 1) * sizeof *s.w.cases);
    s.day = malloc((n_days + 1) * sizeof *s.day);
    s.limit = malloc(((size_t)n_failed + 1) * sizeof *s.limit);
    s.weight = malloc((n_days + 1) * sizeof *s.weight);
    s.share = malloc((n_days + 1) * sizeof *s.share);
    s.drops = malloc(WINDOW_ENDS_DRAWS * sizeof *s.drops);
    s.works = calloc((size_t)s.n_threads, sizeof *s.works);
    bool is_good = s.w.sum != NULL && s.w.cases != NULL && s.day != NULL && s.limit != NULL &&
                   s.weight != NULL && s.share != NULL && s.drops != NULL && s.works != NULL;
    for (int i = 0; is_good && i < s.n_threads; i++)
        is_good = new_work(&s.works[i], n_days);
    if (!is_good) {
        window_scan_free(&s);
        return ERR_MEMORY;
    }
    *ret = s;
    return ERR_OK;
}

void window_scan_free(struct window_scan *s)
{
    for (int i = 0; s->works != NULL && i < s->n_threads; i++) {
        free(s->works[i].begin);
        free(s->works[i].end);
        free(s->works[i].before);
        free(s->works[i].drawn);
    }
    free(s->works);
    free(s->w.sum);
    free(s->w.cases);
    free(s->day);
    free(s->limit);
    free(s->weight);
    free(s->share);
    free(s->drops);
    *s = (struct window_scan){.n_threads = 0};
}

void window_scan_fill(struct window_scan *s, const struct window_days *days)
{
    s->w = (struct window){.sum = s->w.sum, .cases = s->w.cases};
    s->w.sum[0] = 0;
    bool is_cut = false;
    for (size_t i = 0; i < days->n; i++) {
        if (days->at[i].is_gone) {
            is_cut = true;
            continue;
        }
        if (is_cut && s->w.n > 0)
            window_part(&s->w);
        is_cut = false;
        s->day[s->w.n] = (uint32_t)i;
        window_take(&s->w, days->at[i].exposure, days->at[i].failed);
    }
}

/* ---- draws on all threads ---------------------------------------------------------------------- */

struct draws {
    struct window_scan *scan;
    struct window_dice dice;
    const struct window_run *run; /* NULL: by chance alone */
    uint64_t seed;
    int64_t n;
    const struct study_watch *watch;
    const char *what;
    _Atomic int64_t n_done, n_reach;
    atomic_bool is_stopped;
};

static void watch_draws(void *me, uint64_t done, uint64_t all)
{
    struct draws *d = me;
    (void)done;
    (void)all;
    const uint64_t n_done = (uint64_t)atomic_load(&d->n_done);
    if (!study_go_on(d->watch, d->what, n_done, (uint64_t)d->n))
        atomic_store(&d->is_stopped, true);
}

static enum err draw_block(void *me, size_t i, int thread)
{
    struct draws *d = me;
    struct window_scan *s = d->scan;
    const int64_t from = (int64_t)i * BLOCK;
    const int64_t to = from + BLOCK < d->n ? from + BLOCK : d->n;
    if (atomic_load(&d->is_stopped))
        return ERR_BUSY;
    if (d->run == NULL) {
        const size_t n = window_reach(&s->w, &d->dice, s->limit, d->seed, (uint64_t)from,
                                      (uint64_t)to, &s->works[thread]);
        (void)atomic_fetch_add(&d->n_reach, (int64_t)n);
    } else
        window_drops(&s->w, &d->dice, d->run, d->seed, (uint64_t)from, (uint64_t)to,
                     &s->works[thread], s->drops + from);
    (void)atomic_fetch_add(&d->n_done, to - from);
    return ERR_OK;
}

/* ERR_BUSY: stopped. */
static enum err draw_all(struct draws *d)
{
    const struct pool_order order = {.n = (size_t)((d->n + BLOCK - 1) / BLOCK),
                                     .n_threads = d->scan->n_threads,
                                     .run = draw_block,
                                     .me = d,
                                     .step = watch_draws,
                                     .step_me = d};
    return pool_run(&order);
}

enum err window_scan_p(struct window_scan *s, double llr, uint64_t seed, int64_t n_draws,
                       const struct study_watch *watch, double *ret_p, int64_t *ret_n)
{
    struct draws d = {
        .scan = s, .seed = seed, .n = n_draws, .watch = watch, .what = "draws by chance alone"};
    window_limits(&s->w, llr, s->limit);
    window_dice(&d.dice, s->w.sum, s->w.n);
    const enum err e = draw_all(&d);
    if (e != ERR_OK && e != ERR_BUSY)
        return e;
    *ret_n = atomic_load(&d.n_done);
    *ret_p = (1 + (double)atomic_load(&d.n_reach)) / (1 + (double)*ret_n);
    return ERR_OK;
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum err window_scan_drop(struct window_scan *s, const struct window_run *run, uint64_t seed,
                          double level, const struct study_watch *watch, bool *ret_has,
                          double *ret_drop)
{
    struct draws d = {.scan = s,
                      .run = run,
                      .seed = seed,
                      .n = WINDOW_ENDS_DRAWS,
                      .watch = watch,
                      .what = "draws for the ends"};
    window_weigh(&s->w, run, s->weight);
    window_dice(&d.dice, s->weight, s->w.n);
    const enum err e = draw_all(&d);
    *ret_has = e == ERR_OK;
    if (e == ERR_BUSY)
        return ERR_OK;
    if (e != ERR_OK)
        return e;
    qsort(s->drops, WINDOW_ENDS_DRAWS, sizeof *s->drops, by_size);
    *ret_drop = s->drops[(size_t)ceil(level * (WINDOW_ENDS_DRAWS + 1)) - 1];
    return ERR_OK;
}

/* pool: owns threads: who does which item, when to stop, and who is told how far it is.
 *
 * Items are handed out in order under one lock, so when item k fails, everything below k has been handed out already and ends by
 * itself: the lowest error there is in the whole order is always found, whatever the threads do. */
#include "base/pool.h"

#include <assert.h>
#include <pthread.h>
#include <stdbool.h>
#include <time.h>
#include <unistd.h>

enum { POOL_MAX = 16, STEP_MS = 200 };

struct pool {
    const struct pool_order *order;
    pthread_mutex_t lock; /* over everything below */
    pthread_cond_t end;   /* the last thread has ended */
    size_t next, n_done;
    int n_at_work;
    size_t failed; /* the lowest item that failed; order->n: none */
    enum err err;
};

struct worker {
    struct pool *pool;
    int thread;
    pthread_t id;
};

int pool_threads(void)
{
    const long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > POOL_MAX ? POOL_MAX : (int)n;
}

/* ---- in the calling thread ----------------------------------------------------------------- */

static int64_t now_ms(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static enum err run_alone(const struct pool_order *order)
{
    int64_t told_ms = now_ms();
    for (size_t i = 0; i < order->n; i++) {
        const enum err e = order->run(order->me, i, 0);
        if (e != ERR_OK)
            return e;
        if (order->step == NULL || now_ms() - told_ms < STEP_MS)
            continue;
        order->step(order->step_me, i + 1, order->n);
        told_ms = now_ms();
    }
    return ERR_OK;
}

/* ---- in several ---------------------------------------------------------------------------- */

/* The next item, after telling what became of the last; false when there is no more for this thread. */
static bool take_next(struct pool *pool, bool is_first, enum err err, size_t *i)
{
    (void)pthread_mutex_lock(&pool->lock);
    if (!is_first)
        pool->n_done++;
    if (err != ERR_OK && *i < pool->failed) {
        pool->failed = *i;
        pool->err = err;
    }
    const bool is_more = pool->failed == pool->order->n && pool->next < pool->order->n;
    if (is_more)
        *i = pool->next++;
    else if (--pool->n_at_work == 0)
        (void)pthread_cond_signal(&pool->end);
    (void)pthread_mutex_unlock(&pool->lock);
    return is_more;
}

static void *work(void *me)
{
    const struct worker *worker = me;
    const struct pool_order *order = worker->pool->order;
    size_t i = 0;
    enum err err = ERR_OK;
    for (bool is_first = true; take_next(worker->pool, is_first, err, &i); is_first = false)
        err = order->run(order->me, i, worker->thread);
    return NULL;
}

/* A moment STEP_MS from now on the clock that wait_end waits by. */
static struct timespec next_step(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    t.tv_nsec += STEP_MS * 1000000L;
    t.tv_sec += t.tv_nsec / 1000000000L;
    t.tv_nsec %= 1000000000L;
    return t;
}

/* Waits until every thread has ended, telling how far it is now and then; step is called without the lock. */
static void wait_end(struct pool *pool)
{
    const struct pool_order *order = pool->order;
    struct timespec until = next_step();
    (void)pthread_mutex_lock(&pool->lock);
    while (pool->n_at_work > 0) {
        if (pthread_cond_timedwait(&pool->end, &pool->lock, &until) == 0)
            continue;
        const size_t n_done = pool->n_done;
        (void)pthread_mutex_unlock(&pool->lock);
        if (order->step != NULL)
            order->step(order->step_me, n_done, order->n);
        until = next_step();
        (void)pthread_mutex_lock(&pool->lock);
    }
    (void)pthread_mutex_unlock(&pool->lock);
}

/* How many of workers[0..n) could be started. They are counted as at work before they are, so that no early one ends it all. */
static int start(struct pool *pool, struct worker *workers, int n)
{
    int n_started = 0;
    pool->n_at_work = n;
    for (int i = 0; i < n; i++) {
        workers[n_started] = (struct worker){.pool = pool, .thread = n_started};
        if (pthread_create(&workers[n_started].id, NULL, work, &workers[n_started]) == 0)
            n_started++;
    }
    (void)pthread_mutex_lock(&pool->lock);
    pool->n_at_work -= n - n_started;
    (void)pthread_mutex_unlock(&pool->lock);
    return n_started;
}

static bool init_end(pthread_cond_t *end)
{
    pthread_condattr_t attr;
    if (pthread_condattr_init(&attr) != 0)
        return false;
    const bool is_good = pthread_condattr_setclock(&attr, CLOCK_MONOTONIC) == 0 &&
                         pthread_cond_init(end, &attr) == 0;
    (void)pthread_condattr_destroy(&attr);
    return is_good;
}

static enum err run_together(const struct pool_order *order, int n_threads)
{
    struct worker workers[POOL_MAX];
    struct pool pool = {.order = order, .failed = order->n, .err = ERR_OK};
    if (pthread_mutex_init(&pool.lock, NULL) != 0)
        return ERR_MEMORY;
    if (!init_end(&pool.end)) {
        (void)pthread_mutex_destroy(&pool.lock);
        return ERR_MEMORY;
    }
    const int n_started = start(&pool, workers, n_threads);
    if (n_started > 0)
        wait_end(&pool);
    for (int i = 0; i < n_started; i++)
        (void)pthread_join(workers[i].id, NULL);
    (void)pthread_cond_destroy(&pool.end);
    (void)pthread_mutex_destroy(&pool.lock);
    return n_started > 0 ? pool.err : ERR_MEMORY;
}

/* ---- the whole ----------------------------------------------------------------------------- */

enum err pool_run(const struct pool_order *order)
{
    assert(order->n_threads >= 0);
    int n_threads = order->n_threads == 0 ? pool_threads() : order->n_threads;
    if (n_threads > POOL_MAX)
        n_threads = POOL_MAX;
    if ((size_t)n_threads > order->n)
        n_threads = (int)order->n;
    const enum err e = n_threads <= 1 ? run_alone(order) : run_together(order, n_threads);
    if (e == ERR_OK && order->n > 0 && order->step != NULL)
        order->step(order->step_me, order->n, order->n);
    return e;
}

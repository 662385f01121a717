/* test_pool: every item once, the lowest error, the workspace of each thread its own, progress on the calling thread alone.
 * What is expected follows from pool.h's own words; there is nothing outside to hold it to but counting. */
#include "base/pool.h"

#include "tap.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { N = 5000, THREADS = 16 };

struct work {
    unsigned char
        *seen; /* seen[i]: how often item i was done; each item is touched by one thread only */
    size_t n_by[THREADS]; /* a thread's own count, without a lock: what -fsanitize=thread watches */
    bool is_bad_thread;
    const size_t *fails; /* items that fail, closed by SIZE_MAX */
    pthread_t caller;
    bool is_other_caller; /* step was called elsewhere */
    uint64_t last_done, n_steps;
    bool is_backwards;
    long sleep_ms;
};

static void nap(long ms)
{
    const struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

static enum err run(void *me, size_t i, int thread)
{
    struct work *w = me;
    w->seen[i]++;
    if (thread < 0 || thread >= THREADS)
        abort();
    w->n_by[thread]++;
    if (w->sleep_ms > 0)
        nap(w->sleep_ms);
    for (const size_t *f = w->fails; f != NULL && *f != SIZE_MAX; f++)
        if (*f == i)
            return i % 2 == 0 ? ERR_DOMAIN : ERR_SYNTAX;
    return ERR_OK;
}

static void step(void *me, uint64_t done, uint64_t all)
{
    struct work *w = me;
    w->is_other_caller |= pthread_equal(w->caller, pthread_self()) == 0;
    w->is_backwards |= done < w->last_done || done > all;
    w->last_done = done;
    w->n_steps++;
}

static struct pool_order order_of(struct work *w, size_t n, int n_threads)
{
    return (struct pool_order){
        .n = n, .n_threads = n_threads, .run = run, .me = w, .step = step, .step_me = w};
}

static size_t count(const unsigned char *seen, size_t n, unsigned times)
{
    size_t sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += seen[i] == times;
    return sum;
}

static void all_once(int n_threads, size_t n)
{
    struct work w = {.seen = calloc(N + 1, 1), .caller = pthread_self()};
    const struct pool_order order = order_of(&w, n, n_threads);
    const enum err e = pool_run(&order);
    size_t in_all = 0, others = 0;
    const int most = n_threads == 0 ? pool_threads() : n_threads;
    for (int t = 0; t < THREADS; t++) {
        in_all += w.n_by[t];
        others += t >= most ? w.n_by[t] : 0;
    }
    tap_ok(e == ERR_OK && count(w.seen, n, 1) == n && in_all == n,
           "n_threads %d: each of %zu items is done once", n_threads, n);
    tap_ok(others == 0, "n_threads %d, %zu items: no thread beyond the last asked for", n_threads,
           n);
    tap_ok(!w.is_other_caller && !w.is_backwards && (n == 0) == (w.n_steps == 0) &&
               w.last_done == n,
           "n_threads %d, %zu items: progress is told here, forwards, to its end", n_threads, n);
    free(w.seen);
}

static void lowest_error(int n_threads, const size_t *fails, enum err expected, size_t lowest)
{
    struct work w = {.seen = calloc(N, 1), .fails = fails, .caller = pthread_self()};
    const struct pool_order order = order_of(&w, N, n_threads);
    const enum err e = pool_run(&order);
    tap_ok(e == expected, "n_threads %d: of several errors that of item %zu (%s) is told",
           n_threads, lowest, err_symbol(expected));
    tap_ok(count(w.seen, lowest + 1, 1) == lowest + 1 && count(w.seen, N, 0) > 0,
           "n_threads %d: everything up to item %zu was done, and the rest was stopped", n_threads,
           lowest);
    free(w.seen);
}

int main(void)
{
    static const int threads[] = {0, 1, 4, 16, 1000};
    static const size_t sizes[] = {0, 1, 3, N};
    for (size_t t = 0; t < sizeof threads / sizeof *threads; t++)
        for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++)
            all_once(threads[t], sizes[s]);

    /* The order in which they are listed says nothing; even items fail as ERR_DOMAIN, odd ones as ERR_SYNTAX. */
    static const size_t even_first[] = {103, 100, 101, SIZE_MAX},
                        odd_first[] = {44, 41, 42, SIZE_MAX};
    for (size_t t = 0; t < sizeof threads / sizeof *threads; t++) {
        lowest_error(threads[t], even_first, ERR_DOMAIN, 100);
        lowest_error(threads[t], odd_first, ERR_SYNTAX, 41);
    }

    /* Slow items: 2 x 8 x 100 ms; step is due every 200 ms, once more at the end. At least two says that it came before it. */
    struct work w = {.seen = calloc(16, 1), .caller = pthread_self(), .sleep_ms = 100};
    struct pool_order order = order_of(&w, 16, 2);
    tap_ok(pool_run(&order) == ERR_OK && w.n_steps >= 2 && !w.is_other_caller && !w.is_backwards,
           "slow items: progress is told on the way too (%d times)", (int)w.n_steps);
    memset(w.seen, 0, 16);
    w.n_steps = w.last_done = 0;
    order.n_threads = 1;
    tap_ok(pool_run(&order) == ERR_OK && w.n_steps >= 2 && !w.is_backwards,
           "slow items in the calling thread: likewise (%d times)", (int)w.n_steps);
    order.step = NULL;
    order.n = 3;
    memset(w.seen, 0, 16);
    tap_ok(pool_run(&order) == ERR_OK && count(w.seen, 3, 1) == 3, "nobody need be told");
    tap_ok(pool_threads() >= 1 && pool_threads() <= 16, "0 stands for 1..16 threads (%d)",
           pool_threads());
    free(w.seen);
    return tap_done();
}

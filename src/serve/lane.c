/* lane: owns the threads and queues of what takes long. */
#include "serve/lane.h"

#include <stdlib.h>
#include <threads.h>

enum { THREADS_MAX = 64 };

struct lane {
    lane_do *run;
    mtx_t lock;
    cnd_t has_job;
    bool is_over;
    int n_max, n_reserved; /* reserved: waiting or under way */
    int first, n_waiting;  /* in the ring of jobs */
    int n_threads;
    thrd_t threads[THREADS_MAX];
    void *jobs[];
};

static int work(void *me)
{
    struct lane *l = me;
    mtx_lock(&l->lock);
    for (;;) {
        /* A place that is reserved will yet be filled. */
        while (l->n_waiting == 0 && !(l->is_over && l->n_reserved == 0))
            cnd_wait(&l->has_job, &l->lock);
        if (l->n_waiting == 0)
            break;
        void *job = l->jobs[l->first];
        l->first = (l->first + 1) % l->n_max;
        l->n_waiting--;
        mtx_unlock(&l->lock);
        l->run(job);
        mtx_lock(&l->lock);
        l->n_reserved--;
        if (l->is_over && l->n_reserved == 0)
            cnd_broadcast(&l->has_job); /* the others wait for that */
    }
    mtx_unlock(&l->lock);
    return 0;
}

struct lane *lane_new(int n_threads, int n_jobs, lane_do *run)
{
    struct lane *l = calloc(1, sizeof *l + (size_t)n_jobs * sizeof l->jobs[0]);
    if (l == NULL)
        return NULL;
    l->run = run;
    l->n_max = n_jobs;
    if (mtx_init(&l->lock, mtx_plain) != thrd_success) {
        free(l);
        return NULL;
    }
    if (cnd_init(&l->has_job) != thrd_success) {
        mtx_destroy(&l->lock);
        free(l);
        return NULL;
    }
    while (l->n_threads < n_threads && l->n_threads < THREADS_MAX) {
        if (thrd_create(&l->threads[l->n_threads], work, l) != thrd_success)
            break;
        l->n_threads++;
    }
    if (l->n_threads > 0)
        return l;
    lane_free(l);
    return NULL;
}

void lane_end(struct lane *lane)
{
    if (lane == NULL)
        return;
    mtx_lock(&lane->lock);
    lane->is_over = true;
    cnd_broadcast(&lane->has_job);
    mtx_unlock(&lane->lock);
    for (int i = 0; i < lane->n_threads; i++)
        thrd_join(lane->threads[i], NULL);
    lane->n_threads = 0;
}

void lane_free(struct lane *lane)
{
    if (lane == NULL)
        return;
    lane_end(lane);
    cnd_destroy(&lane->has_job);
    mtx_destroy(&lane->lock);
    free(lane);
}

bool lane_reserve(struct lane *lane)
{
    mtx_lock(&lane->lock);
    const bool has_room = !lane->is_over && lane->n_reserved < lane->n_max;
    lane->n_reserved += has_room ? 1 : 0;
    mtx_unlock(&lane->lock);
    return has_room;
}

void lane_put(struct lane *lane, void *job)
{
    mtx_lock(&lane->lock);
    lane->jobs[(lane->first + lane->n_waiting) % lane->n_max] = job;
    lane->n_waiting++;
    cnd_signal(&lane->has_job);
    mtx_unlock(&lane->lock);
}

/* watch: owns the list of connections and their ends. */
#include "serve/watch.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <threads.h>
#include <time.h>

struct watch_wire {
    struct watch_wire *next, *before;
    int fd;
    atomic_llong ends_ms; /* by the monotonic clock */
};

struct watch {
    mtx_t lock;
    struct watch_wire *first;
};

static int64_t steady_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

struct watch *watch_new(void)
{
    struct watch *w = calloc(1, sizeof *w);
    if (w != NULL && mtx_init(&w->lock, mtx_plain) != thrd_success) {
        free(w);
        return NULL;
    }
    return w;
}

void watch_free(struct watch *watch)
{
    if (watch == NULL)
        return;
    mtx_destroy(&watch->lock);
    free(watch);
}

struct watch_wire *watch_add(struct watch *watch, int fd, int64_t for_ms)
{
    struct watch_wire *wire = calloc(1, sizeof *wire);
    if (wire == NULL)
        return NULL;
    wire->fd = fd;
    watch_until(wire, for_ms);
    mtx_lock(&watch->lock);
    wire->next = watch->first;
    if (wire->next != NULL)
        wire->next->before = wire;
    watch->first = wire;
    mtx_unlock(&watch->lock);
    return wire;
}

void watch_remove(struct watch *watch, struct watch_wire *wire)
{
    if (wire == NULL)
        return;
    mtx_lock(&watch->lock);
    if (wire->before != NULL)
        wire->before->next = wire->next;
    else
        watch->first = wire->next;
    if (wire->next != NULL)
        wire->next->before = wire->before;
    mtx_unlock(&watch->lock);
    free(wire);
}

void watch_until(struct watch_wire *wire, int64_t for_ms)
{
    if (wire != NULL)
        atomic_store(&wire->ends_ms, for_ms < 0 ? INT64_MAX : steady_ms() + for_ms);
}

int64_t watch_stage_ms(int timeout_s, uint64_t n)
{
    const uint64_t most = UINT64_C(1) << 48; /* what is told of a size may be anything */
    return (2 * (int64_t)timeout_s + (int64_t)((n < most ? n : most) / 1024)) * 1000;
}

int watch_reap(struct watch *watch)
{
    const int64_t now_ms = steady_ms();
    int n = 0;
    /* Under the lock no socket of the list can be closed and its number given to another. */
    mtx_lock(&watch->lock);
    for (struct watch_wire *w = watch->first; w != NULL; w = w->next)
        if (atomic_load(&w->ends_ms) < now_ms) {
            shutdown(w->fd, SHUT_RDWR);
            atomic_store(&w->ends_ms, INT64_MAX);
            n++;
        }
    mtx_unlock(&watch->lock);
    return n;
}

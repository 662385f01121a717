/* doors: owns the connections to the store that nobody holds now. */
#include "serve/doors.h"

#include <stdlib.h>
#include <threads.h>

struct doors {
    const char *store;
    struct signin_guard *guard;
    mtx_t lock;
    cnd_t is_free;
    int n_max, n_made, n_here;
    struct door *here[];
};

struct doors *doors_new(const char *store, struct signin_guard *guard, int n_max)
{
    struct doors *d = calloc(1, sizeof *d + (size_t)n_max * sizeof d->here[0]);
    if (d == NULL)
        return NULL;
    d->store = store;
    d->guard = guard;
    d->n_max = n_max;
    if (mtx_init(&d->lock, mtx_plain) != thrd_success) {
        free(d);
        return NULL;
    }
    if (cnd_init(&d->is_free) != thrd_success) {
        mtx_destroy(&d->lock);
        free(d);
        return NULL;
    }
    return d;
}

void doors_free(struct doors *doors)
{
    if (doors == NULL)
        return;
    for (int i = 0; i < doors->n_here; i++)
        door_close(doors->here[i]);
    cnd_destroy(&doors->is_free);
    mtx_destroy(&doors->lock);
    free(doors);
}

struct door *doors_take(struct doors *doors, struct fault *reterr)
{
    struct door *door = NULL;
    mtx_lock(&doors->lock);
    while (doors->n_here == 0 && doors->n_made >= doors->n_max)
        cnd_wait(&doors->is_free, &doors->lock);
    const bool is_new = doors->n_here == 0;
    if (is_new)
        doors->n_made++;
    else
        door = doors->here[--doors->n_here];
    mtx_unlock(&doors->lock);
    if (!is_new || door_open(doors->store, doors->guard, &door, reterr) == ERR_OK)
        return door;
    mtx_lock(&doors->lock);
    doors->n_made--;
    cnd_signal(&doors->is_free);
    mtx_unlock(&doors->lock);
    return NULL;
}

void doors_give(struct doors *doors, struct door *door)
{
    if (door == NULL)
        return;
    mtx_lock(&doors->lock);
    doors->here[doors->n_here++] = door;
    cnd_signal(&doors->is_free);
    mtx_unlock(&doors->lock);
}

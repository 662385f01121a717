/* door: owns the opening and closing of what a thread needs. */
#include "desk/door.h"

#include "desk/draft.h"
#include "desk/tell.h"
#include "desk/units.h"
#include "store/classroom.h"
#include "store/jobs.h"
#include "store/store.h"

#include <stdio.h>
#include <stdlib.h>

enum err door_open(const char *path, struct signin_guard *guard, struct door **ret,
                   struct fault *reterr)
{
    struct door *d = calloc(1, sizeof *d);
    *ret = NULL;
    if (d == NULL)
        return fault_no_memory(reterr);
    enum err err = store_open(path, STORE_WRITE, &d->store, reterr);
    if (err == ERR_OK &&
        (size_t)snprintf(d->path, sizeof d->path, "%s", store_folder(d->store)) >= sizeof d->path)
        err = fault_set(reterr, ERR_LIMIT, "the store's path is longer than %zu bytes",
                        sizeof d->path - 1);
    if (err == ERR_OK)
        err = signin_open(path, guard, &d->signin, reterr);
    if (err == ERR_OK)
        err = jobs_open(path, &d->jobs, reterr);
    if (err == ERR_OK)
        err = classroom_open(path, &d->classroom, reterr);
    if (err == ERR_OK && ((d->limits = tell_limits_new()) == NULL ||
                          (d->by = units_by_new()) == NULL || (d->held = draft_held_new()) == NULL))
        err = fault_no_memory(reterr);
    if (err != ERR_OK) {
        door_close(d);
        return err;
    }
    *ret = d;
    return ERR_OK;
}

void door_close(struct door *door)
{
    if (door == NULL)
        return;
    tell_limits_free(door->limits);
    units_by_free(door->by);
    draft_held_free(door->held);
    classroom_close(door->classroom);
    jobs_close(door->jobs);
    signin_close(door->signin);
    store_close(door->store);
    free(door);
}

/* warm: owns the thread that reads ahead. */
#include "serve/warm.h"

#include "base/heap.h"
#include "desk/campaign.h"
#include "serve/doors.h"

#include <stdlib.h>
#include <threads.h>

struct warm {
    struct doors *doors;
    struct campaign_boards *boards;
    int64_t now_ms;
    thrd_t thread;
};

static int read_ahead(void *me)
{
    const struct warm *w = me;
    struct fault ignored = {0};
    struct door *door = doors_take(w->doors, &ignored);
    if (door == NULL)
        return 0;
    if (campaign_warm(door->store, w->boards, w->now_ms, &ignored) != ERR_OK)
        ignored.message[0] = '\0';
    doors_give(w->doors, door);
    heap_give_back();
    return 0;
}

struct warm *warm_start(struct doors *doors, struct campaign_boards *boards, int64_t now_ms)
{
    struct warm *w = calloc(1, sizeof *w);
    if (w == NULL)
        return NULL;
    *w = (struct warm){.doors = doors, .boards = boards, .now_ms = now_ms};
    if (thrd_create(&w->thread, read_ahead, w) == thrd_success)
        return w;
    free(w);
    return NULL;
}

void warm_stop(struct warm *warm)
{
    if (warm == NULL)
        return;
    campaign_boards_stop(warm->boards);
    thrd_join(warm->thread, NULL);
    free(warm);
}

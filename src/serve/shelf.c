/* shelf: owns the few answers that are kept. */
#include "serve/shelf.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>

enum { HEX = 64 };

struct shelf {
    mtx_t lock;
    uint64_t n_asked;
    struct {
        char sha256[HEX + 1]; /* "": free */
        uint64_t asked;       /* the number of the call that asked for it last */
        struct text what;
    } places[SHELF_PLACES];
};

struct shelf *shelf_new(void)
{
    struct shelf *s = calloc(1, sizeof *s);
    if (s != NULL && mtx_init(&s->lock, mtx_plain) != thrd_success) {
        free(s);
        return NULL;
    }
    return s;
}

void shelf_free(struct shelf *shelf)
{
    if (shelf == NULL)
        return;
    for (size_t i = 0; i < SHELF_PLACES; i++)
        text_done(&shelf->places[i].what);
    mtx_destroy(&shelf->lock);
    free(shelf);
}

bool shelf_get(struct shelf *shelf, const char *sha256, struct text *ret)
{
    bool is_there = false;
    mtx_lock(&shelf->lock);
    for (size_t i = 0; i < SHELF_PLACES && !is_there; i++)
        if (strcmp(shelf->places[i].sha256, sha256) == 0) {
            text_add(ret, shelf->places[i].what.data, shelf->places[i].what.size);
            shelf->places[i].asked = ++shelf->n_asked;
            is_there = true;
        }
    mtx_unlock(&shelf->lock);
    return is_there;
}

void shelf_put(struct shelf *shelf, const char *sha256, const struct text *what)
{
    size_t to = 0;
    if (what->is_broken || what->size == 0 || what->size > SHELF_ONE_MAX || strlen(sha256) != HEX)
        return;
    mtx_lock(&shelf->lock);
    for (size_t i = 0; i < SHELF_PLACES; i++) {
        if (strcmp(shelf->places[i].sha256, sha256) == 0) { /* somebody was quicker */
            mtx_unlock(&shelf->lock);
            return;
        }
        if (shelf->places[i].asked < shelf->places[to].asked)
            to = i;
    }
    text_clear(&shelf->places[to].what);
    text_add(&shelf->places[to].what, what->data, what->size);
    memcpy(shelf->places[to].sha256, sha256, HEX + 1);
    shelf->places[to].asked = ++shelf->n_asked;
    if (shelf->places[to].what.is_broken) { /* no memory: not kept */
        text_done(&shelf->places[to].what);
        shelf->places[to].sha256[0] = '\0';
        shelf->places[to].asked = 0;
    }
    mtx_unlock(&shelf->lock);
}

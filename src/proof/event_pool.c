/* event_pool: owns blocks of memory in a chain; the newest one is filled from its start. */
#include "proof/event_pool.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK_ROOM = 16 * 1024 };

struct block {
    struct block *next;
    size_t used, room;
    alignas(max_align_t) unsigned char bytes[];
};

struct event_pool {
    struct block *blocks;
};

struct event_pool *event_pool_new(void)
{
    return calloc(1, sizeof(struct event_pool));
}

void event_pool_free(struct event_pool *pool)
{
    if (pool == NULL)
        return;
    for (struct block *block = pool->blocks; block != NULL;) {
        struct block *next = block->next;
        free(block);
        block = next;
    }
    free(pool);
}

/* align: a power of two that blocks begin on. */
static void *take(struct event_pool *pool, size_t size, size_t align)
{
    if (size > SIZE_MAX / 2)
        return NULL;
    struct block *block = pool->blocks;
    size_t at = block != NULL ? (block->used + align - 1) / align * align : 0;
    if (block == NULL || at > block->room || block->room - at < size) {
        const size_t room = size > BLOCK_ROOM ? size : BLOCK_ROOM;
        block = malloc(sizeof *block + room);
        if (block == NULL)
            return NULL;
        *block = (struct block){.next = pool->blocks, .room = room};
        pool->blocks = block;
        at = 0;
    }
    block->used = at + size;
    return block->bytes + at;
}

void *event_pool_get(struct event_pool *pool, size_t size)
{
    return take(pool, size, alignof(max_align_t));
}

const char *event_pool_text(struct event_pool *pool, const char *s, size_t n)
{
    char *copy = n < SIZE_MAX ? take(pool, n + 1, 1) : NULL;
    if (copy == NULL)
        return NULL;
    if (n > 0)
        memcpy(copy, s, n);
    copy[n] = '\0';
    return copy;
}

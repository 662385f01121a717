/* arena: owns blocks of memory in a chain; the newest block is filled from its start. */
#include "bulletin/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

struct arena_block {
    struct arena_block *next;
    size_t used, room;
    alignas(max_align_t) unsigned char bytes[];
};

enum { BLOCK_ROOM = 64 * 1024 };

static struct arena_block *block_new(struct arena *a, size_t room)
{
    if (room > SIZE_MAX - sizeof(struct arena_block))
        return NULL;
    struct arena_block *block = calloc(1, sizeof *block + room);
    if (block == NULL)
        return NULL;
    block->room = room;
    block->next = a->blocks;
    a->blocks = block;
    return block;
}

void *arena_get(struct arena *a, size_t size)
{
    const size_t align = alignof(max_align_t);
    if (a->is_broken || size > SIZE_MAX - align) {
        a->is_broken = true;
        return NULL;
    }
    size = (size + align - 1) / align * align;
    struct arena_block *block = a->blocks;
    if (block == NULL || block->room - block->used < size)
        block = block_new(a, size > BLOCK_ROOM ? size : BLOCK_ROOM);
    if (block == NULL) {
        a->is_broken = true;
        return NULL;
    }
    void *p = block->bytes + block->used;
    block->used += size;
    return p;
}

char *arena_text(struct arena *a, const char *s, size_t n)
{
    char *copy = n < SIZE_MAX ? arena_get(a, n + 1) : NULL;
    if (copy != NULL && n > 0)
        memcpy(copy, s, n);
    return copy;
}

void arena_done(struct arena *a)
{
    for (struct arena_block *block = a->blocks; block != NULL;) {
        struct arena_block *next = block->next;
        free(block);
        block = next;
    }
    *a = (struct arena){0};
}

/* pool: owns blocks of memory that are given out piece by piece and taken back all at once. */
#include "store/pool.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK_SIZE = 32 * 1024, ALIGN = 16 };

struct pool_block {
    struct pool_block *next;
    size_t room, used;
    _Alignas(ALIGN) unsigned char bytes[];
};

static struct pool_block *add_block(struct pool *p, size_t n)
{
    const size_t room = n > BLOCK_SIZE ? n : BLOCK_SIZE;
    struct pool_block *b = room < SIZE_MAX / 2 ? malloc(sizeof *b + room) : NULL;
    if (b == NULL) {
        p->is_broken = true;
        return NULL;
    }
    b->next = p->first;
    b->room = room;
    b->used = 0;
    p->first = b;
    return b;
}

/* n bytes of which nothing is known. */
static void *take(struct pool *p, size_t n)
{
    struct pool_block *b = p->first;
    if (n > SIZE_MAX / 4) {
        p->is_broken = true;
        return NULL;
    }
    n = (n + ALIGN - 1) / ALIGN * ALIGN;
    if (b == NULL || b->room - b->used < n)
        b = add_block(p, n);
    if (b == NULL)
        return NULL;
    void *piece = b->bytes + b->used;
    b->used += n;
    return piece;
}

void *pool_take(struct pool *p, size_t n)
{
    void *piece = take(p, n);
    return piece != NULL ? memset(piece, 0, n) : NULL;
}

char *pool_copy(struct pool *p, const char *s, size_t n)
{
    char *copy = take(p, n + 1);
    if (copy == NULL)
        return NULL;
    if (n > 0)
        memcpy(copy, s, n);
    copy[n] = '\0';
    return copy;
}

/* The largest block is kept: what needed it once will need it again. */
void pool_clear(struct pool *p)
{
    struct pool_block *keep = p->first, *next;
    for (struct pool_block *b = p->first; b != NULL; b = b->next)
        if (b->room > keep->room)
            keep = b;
    for (struct pool_block *b = p->first; b != NULL; b = next) {
        next = b->next;
        if (b != keep)
            free(b);
    }
    if (keep != NULL) {
        keep->next = NULL;
        keep->used = 0;
    }
    p->first = keep;
}

void pool_done(struct pool *p)
{
    pool_clear(p);
    free(p->first);
    *p = (struct pool){0};
}

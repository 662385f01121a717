/* scratch: owns blocks of memory that are given out piece by piece and taken back all at once. */
#include "store/scratch.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK_SIZE = 32 * 1024, ALIGN = 16 };

struct scratch_block {
    struct scratch_block *next;
    size_t room, used;
    _Alignas(ALIGN) unsigned char bytes[];
};

static struct scratch_block *add_block(struct scratch *p, size_t n)
{
    const size_t room = n > BLOCK_SIZE ? n : BLOCK_SIZE;
    struct scratch_block *b = room < SIZE_MAX / 2 ? malloc(sizeof *b + room) : NULL;
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
static void *take(struct scratch *p, size_t n)
{
    struct scratch_block *b = p->first;
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

void *scratch_take(struct scratch *p, size_t n)
{
    void *piece = take(p, n);
    return piece != NULL ? memset(piece, 0, n) : NULL;
}

char *scratch_copy(struct scratch *p, const char *s, size_t n)
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
void scratch_clear(struct scratch *p)
{
    struct scratch_block *keep = p->first, *next;
    for (struct scratch_block *b = p->first; b != NULL; b = b->next)
        if (b->room > keep->room)
            keep = b;
    for (struct scratch_block *b = p->first; b != NULL; b = next) {
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

void scratch_done(struct scratch *p)
{
    scratch_clear(p);
    free(p->first);
    *p = (struct scratch){0};
}

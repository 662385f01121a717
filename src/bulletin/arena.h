/* arena: memory that is given back all at once; a bulletin and its tree live in one. */
#ifndef BULLETIN_ARENA_H
#define BULLETIN_ARENA_H

#include <stdbool.h>
#include <stddef.h>

struct arena_block;

/* Zero-initialised is empty and fine. */
struct arena {
    struct arena_block *blocks;
    bool is_broken; /* memory ran out; every later call returns NULL */
};

/* arena_get: size bytes of zeros, aligned for any type; NULL when memory ran out. size 0 gives a
 * pointer that must not be read through. */
void *arena_get(struct arena *a, size_t size);

/* arena_text: a NUL-terminated copy of s[0..n). */
char *arena_text(struct arena *a, const char *s, size_t n);

void arena_done(struct arena *a); /* frees everything; leaves it zero-initialised */

#endif

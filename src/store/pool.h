/* pool: memory for what is read back as one piece and goes away as one piece. Inside src/store/.
 * Zero-initialised is empty and fine. */
#ifndef STORE_POOL_H
#define STORE_POOL_H

#include <stdbool.h>
#include <stddef.h>

struct pool_block;

struct pool {
    struct pool_block *first; /* the newest */
    bool is_broken;           /* memory ran out at some time */
};

void *pool_take(struct pool *p, size_t n);                /* zeroed; NULL: memory ran out */
char *pool_copy(struct pool *p, const char *s, size_t n); /* with a NUL; NULL as above */
void pool_clear(struct pool *p);                          /* empty again, one block kept */
void pool_done(struct pool *p);

#endif

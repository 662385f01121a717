/* event_pool: the texts of an event list; given back all at once. */
#ifndef PROOF_EVENT_POOL_H
#define PROOF_EVENT_POOL_H

#include <stddef.h>

struct event_pool;

struct event_pool *event_pool_new(void); /* NULL: no memory */
void event_pool_free(struct event_pool *pool);

/* event_pool_get: size bytes, aligned for any type; NULL when memory ran out. */
void *event_pool_get(struct event_pool *pool, size_t size);

/* event_pool_text: a NUL-terminated copy of s[0..n), one beside the other; NULL when memory ran out. */
const char *event_pool_text(struct event_pool *pool, const char *s, size_t n);

#endif

/* newest: where the end of a store's log is, for who only wants to know that something came. A connection of its own, for reading. */
#ifndef DESK_NEWEST_H
#define DESK_NEWEST_H

#include "base/fault.h"

#include <stdint.h>

struct newest;

MUST_USE enum err newest_open(const char *store, struct newest **ret, struct fault *reterr);
void newest_close(struct newest *n); /* NULL is fine */

/* newest_seq: the place of the last entry, whoever put it there; 0: none. Errors: the store's. */
MUST_USE enum err newest_seq(struct newest *n, int64_t *ret, struct fault *reterr);

#endif

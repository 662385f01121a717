/* pool: the same function over the items 0..n-1 on several threads, with progress on the calling one. The only place that sees
 * threads. What an item does must not depend on which thread does it or on the order. */
#ifndef BASE_POOL_H
#define BASE_POOL_H

#include "core/err.h"

#include <stddef.h>
#include <stdint.h>

/* Does item i; `thread` (0..n_threads-1) picks the thread's own workspace. Anything but ERR_OK stops the rest (items under way
 * end). */
typedef enum err pool_do(void *me, size_t i, int thread);

struct pool_order {
    size_t n;
    int n_threads; /* 1: in the calling thread; 0: as many as there are processors, at most 16 */
    pool_do *run;
    void *me;
    void (*step)(
        void *me, uint64_t done,
        uint64_t all); /* may be NULL; called on the calling thread only, a few times a second */
    void *step_me;
};

/* pool_run: the error of the lowest item that failed, ERR_MEMORY when no thread can be made. */
MUST_USE enum err pool_run(const struct pool_order *order);

/* pool_threads: how many threads 0 stands for. */
int pool_threads(void);

#endif

/* align: how the core lays several arrays into one piece of the caller's memory. */
#ifndef CORE_ALIGN_H
#define CORE_ALIGN_H

#include <stddef.h>

/* align8: n rounded up to a multiple of 8, which is enough for int64_t and double. */
static inline size_t align8(size_t n)
{
    return (n + 7u) & ~(size_t)7u;
}

#endif

/* heap: how the C library's heap behaves in a process that runs for months and now and then does something large. Elsewhere than in
 * glibc both do nothing. */
#ifndef BASE_HEAP_H
#define BASE_HEAP_H

/* heap_settle: from now on a large piece (HEAP_LARGE bytes or more) is memory of its own, which goes back to the system when it is freed,
 * and the end of each thread's heap goes back as well. glibc by itself raises both bounds, to 32 and 64 MiB, at the first large piece that
 * is freed; then what a long task used stays with its thread. Once, while there is one thread. */
enum { HEAP_LARGE = 256 * 1024 };
void heap_settle(void);

/* heap_give_back: what is free between pieces in use goes back to the system, of all threads. Takes some milliseconds, and each thread
 * waits for its own part of it: after long work, not after each call. */
void heap_give_back(void);

#endif

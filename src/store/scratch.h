/* scratch: memory for what is read back as one piece and goes away as one piece. Inside src/store/.
 * Zero-initialised is empty and fine. */
#ifndef STORE_SCRATCH_H
#define STORE_SCRATCH_H

#include <stdbool.h>
#include <stddef.h>

struct scratch_block;

struct scratch {
    struct scratch_block *first; /* the newest */
    bool is_broken;              /* memory ran out at some time */
};

void *scratch_take(struct scratch *p, size_t n);                /* zeroed; NULL: memory ran out */
char *scratch_copy(struct scratch *p, const char *s, size_t n); /* with a NUL; NULL as above */
void scratch_clear(struct scratch *p);                          /* empty again, one block kept */
void scratch_done(struct scratch *p);

#endif

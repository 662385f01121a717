/* doors: connections to the store that wait for whoever needs one next. Inside src/serve/. */
#ifndef SERVE_DOORS_H
#define SERVE_DOORS_H

#include "desk/door.h"

struct doors;

/* doors_new: at most n_max at once, opened when they are first needed. guard is borrowed. NULL: no memory. doors_free: all must have
 * been given back; NULL is fine. */
struct doors *doors_new(const char *store, struct signin_guard *guard, int n_max);
void doors_free(struct doors *doors);

/* doors_take: one that nobody holds; waits while n_max are out. NULL: it could not be opened, *reterr says why. doors_give: NULL is fine. */
struct door *doors_take(struct doors *doors, struct fault *reterr);
void doors_give(struct doors *doors, struct door *door);

#endif

/* shelf: answers that are long in the making and never change, kept by the digest of what they are made of, so that they are made
 * once. Inside src/serve/. */
#ifndef SERVE_SHELF_H
#define SERVE_SHELF_H

#include "base/text.h"

#include <stdbool.h>

enum { SHELF_PLACES = 16, SHELF_ONE_MAX = 4 * 1024 * 1024 /* bytes; what is larger is not kept */ };

struct shelf;

struct shelf *shelf_new(void);        /* NULL: no memory */
void shelf_free(struct shelf *shelf); /* NULL is fine */

/* shelf_get: what is kept under sha256 (64 hexadecimal digits), appended to ret (the caller's); false: nothing is. shelf_put: keeps a copy; the one
 * asked for longest ago makes room. */
bool shelf_get(struct shelf *shelf, const char *sha256, struct text *ret);
void shelf_put(struct shelf *shelf, const char *sha256, const struct text *what);

#endif

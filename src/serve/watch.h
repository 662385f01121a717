/* watch: until when each connection may go on as it does. A sender that gives a byte now and then is never silent long enough for a
 * limit on silence; so each stage of a call has an end. Inside src/serve/. */
#ifndef SERVE_WATCH_H
#define SERVE_WATCH_H

#include <stdint.h>

struct watch;
struct watch_wire; /* a connection */

struct watch *watch_new(void);        /* NULL: no memory */
void watch_free(struct watch *watch); /* no connection is left; NULL is fine */

/* watch_add: a connection by its socket, to be shut down for_ms from now unless watch_until says otherwise before; NULL: no memory.
 * watch_remove: before its socket is closed; NULL is fine. */
struct watch_wire *watch_add(struct watch *watch, int fd, int64_t for_ms);
void watch_remove(struct watch *watch, struct watch_wire *wire);

/* watch_until: from now on it has for_ms; below zero: as long as it takes. NULL is fine. */
void watch_until(struct watch_wire *wire, int64_t for_ms);

/* watch_stage_ms: how long n bytes may take to come or to go: twice the limit on silence, and a second for each KiB. */
int64_t watch_stage_ms(int timeout_s, uint64_t n);

/* watch_reap: shuts down every connection whose time is over; its owner then sees it end. Returns how many. */
int watch_reap(struct watch *watch);

#endif

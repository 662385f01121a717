/* lanes: which calls are done by threads of their own, and which of them by which. Inside src/serve/. */
#ifndef SERVE_LANES_H
#define SERVE_LANES_H

#include "serve/lane.h"
#include "serve/route.h"

struct lanes;

/* lanes_new: n_threads are those that hold the connections: half as many do what changes something; as many what brings a file (a bag's
 * photos are looked at one by one) or takes long, so that a clerk's word does not wait behind bags; a quarter as many (1 to 4: each takes
 * 64 MiB) hash passwords; and one adds up the campaign, which is done for one call at a time anyway and keeps the others waiting while the
 * store is read for the first. NULL: no memory or no threads. lanes_end, lanes_free: as for a lane, each of them. lanes_threads: how
 * many threads they are in all. */
struct lanes *lanes_new(int n_threads, lane_do *run);
void lanes_end(struct lanes *lanes);
void lanes_free(struct lanes *lanes);
int lanes_threads(int n_threads);

struct lane *lanes_of(const struct lanes *lanes, const struct route *route);

#endif

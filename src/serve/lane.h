/* lane: a few threads for what takes long, with a queue of a fixed length, so that it keeps nobody waiting who only looks, and so that
 * more of it than can be done is turned away at once. Inside src/serve/. */
#ifndef SERVE_LANE_H
#define SERVE_LANE_H

#include <stdbool.h>

struct lane;
typedef void lane_do(void *job);

enum { LANE_JOBS_MAX = 1024 };

/* lane_new: n_threads threads (1..64); at most n_jobs (1..LANE_JOBS_MAX) waiting and under way together; run does one job. NULL: no
 * memory or no threads. lane_end: no place is reserved from now on; returns when every place that was is filled and its job done; others
 * may still call lane_reserve. lane_free: ends it first; nobody may call it any more. NULL is fine for both. */
struct lane *lane_new(int n_threads, int n_jobs, lane_do *run);
void lane_end(struct lane *lane);
void lane_free(struct lane *lane);

/* lane_reserve: a place in the queue; false: there is none, or the lane is ended. lane_put: a job, into a place that was reserved, which
 * must be filled. */
bool lane_reserve(struct lane *lane);
void lane_put(struct lane *lane, void *job);

#endif

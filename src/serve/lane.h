/* lane: a few threads for what takes long, with a queue of a fixed length, so that it keeps nobody waiting who only looks, and so that
 * more of it than can be done is turned away at once. Inside src/serve/. */
#ifndef SERVE_LANE_H
#define SERVE_LANE_H

#include <stdbool.h>

struct lane;
typedef void lane_do(void *job);

enum { LANE_JOBS_MAX = 1024 };

/* lane_new: n_threads threads (1..64); at most n_jobs (1..LANE_JOBS_MAX) waiting and under way together; run does one job. NULL: no
 * memory or no threads. lane_free: every job that was put is done first; NULL is fine. */
struct lane *lane_new(int n_threads, int n_jobs, lane_do *run);
void lane_free(struct lane *lane);

/* lane_reserve: a place in the queue; false: there is none. lane_put: a job, into a place that was reserved. */
bool lane_reserve(struct lane *lane);
void lane_put(struct lane *lane, void *job);

#endif

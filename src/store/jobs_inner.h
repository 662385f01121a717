/* jobs_inner: what jobs.c and jobs_photo.c share. */
#ifndef STORE_JOBS_INNER_H
#define STORE_JOBS_INNER_H

#include "store/beside.h"
#include "store/jobs.h"

struct jobs {
    struct db *db;
    char path[FILES_PATH_MAX];
};

/* jobs.db, or what stands for it. */
extern const struct beside jobs_beside;

/* Room for n bytes more in a job and in its shop; ERR_LIMIT in words. Inside a transaction. */
MUST_USE enum err jobs_room(struct jobs *j, const char *shop, const struct jobs_row *row, int64_t n,
                            struct fault *f);

/* Notes that so many bytes came, now. */
MUST_USE enum err jobs_grew(struct jobs *j, int64_t key, int64_t n_bytes, int64_t now_ms,
                            struct fault *f);

#endif

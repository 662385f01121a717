/* pack: a made-up job becomes a bag: its photos and events.json in a folder of their own, packed and signed by proof/bag_make; and,
 * for one kind of fault, changed afterwards. */
#ifndef DEMO_PACK_H
#define DEMO_PACK_H

#include "demo/work.h"

struct pack_made {
    struct ulid job; /* of its first event */
    uint64_t photos, bytes;
};

/* pack_job: job is written into the folder `temp`, which is made and removed again, and packed as the zip `out`. Errors: those of
 * bag_make and shot_make, ERR_OPEN, ERR_IO, ERR_MEMORY, ERR_RANGE. */
MUST_USE enum err pack_job(struct work *job, const char *temp, const char *out,
                           struct pack_made *ret, struct fault *reterr);

/* pack_tamper: changes one digit of a time in the zip's events.json, where it lies unpacked, and puts the zip's own sums right, so
 * that only the bag's sums tell. Errors: ERR_OPEN, ERR_IO, ERR_LIMIT, ERR_SYNTAX (no such zip), ERR_MEMORY. */
MUST_USE enum err pack_tamper(const char *path, struct fault *reterr);

#endif

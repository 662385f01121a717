/* known: what the store knows beside a claim, gathered for ruling (desk/rule.h): the shop and its rate, the unit's labels, other
 * claims for the unit and what was paid, photos and readings seen before, jobs of the same technician in the same hours.
 *
 * One pass over the store makes an index in memory (known_open); each claim is then looked up in it. A claim is only ever held
 * against claims taken in before it, so the first of two copies is not blamed for the second. Photos: those whose hashes are alike
 * (photohash_alike) are candidates; where both files can be read their pictures are compared (photo/likeness) and only those that
 * are truly alike are told.
 *
 * Read by several threads at once once it is open (known_of takes each thread's own workspace). */
#ifndef DESK_KNOWN_H
#define DESK_KNOWN_H

#include "desk/rule.h"
#include "desk/shops.h"

struct known;
struct known_work; /* one thread's workspace */

struct known_progress {
    void (*step)(void *me, const char *what, uint64_t done, uint64_t all);
    void *me;
};

/* known_open: shops NULL: no list. claim NULL: for ruling all; else only what that claim needs is kept. The shops must outlive it. Errors: those of the store,
 * ERR_MEMORY. */
MUST_USE enum err known_open(struct store *store, const struct shops *shops, const char *claim, const struct known_progress *progress,
                             struct known **ret, struct fault *reterr);
void known_close(struct known *known);

struct known_work *known_work_new(void); /* NULL: no memory */
void known_work_free(struct known_work *work);

/* known_of: fills *ret for a claim; what it points at lives in work until the next call. Reads photo files of candidates, never the
 * database. Errors: ERR_MEMORY. */
MUST_USE enum err known_of(const struct known *known, const struct store_claim *claim, const char *claim_id, struct known_work *work,
                           struct rule_known *ret, struct fault *reterr);

#endif

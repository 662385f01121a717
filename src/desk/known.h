/* known: what the store knows beside a claim, gathered for ruling (desk/rule.h): the shop and its rate, the unit's labels, other
 * claims for the unit and what was paid, photos and readings seen before, jobs of the same technician in the same hours.
 *
 * One pass over the store makes an index in memory (known_open); each claim is then looked up in it. A claim is only ever held
 * against claims taken in before it, so the first of two copies is not blamed for the second; but what a later claim of the unit
 * was paid counts, and a later claim of the same job is told. A job is one of a unit: the same ULID under two VINs is two jobs, so
 * that nobody hides a copy by keeping the ULID. Technicians are told apart by shop and id.
 *
 * Photos. The same bytes are the same photo. Else those whose hashes are within reach (photohash_perhaps) are candidates, the
 * KNOWN_CANDIDATES nearest of them; where both files can be read their pictures are compared and are the same from LIKENESS_SAME
 * on; where one cannot, the narrower photohash_alike decides and likeness is NaN. Flat pictures are like none.
 *
 * Read by several threads at once once it is open (known_of takes each thread's own workspace). known_set_refused alone writes,
 * and wants no reader meanwhile. */
#ifndef DESK_KNOWN_H
#define DESK_KNOWN_H

#include "desk/rule.h"
#include "desk/shops.h"

enum { KNOWN_CANDIDATES = 8 };

struct known;
struct known_work; /* one thread's workspace */

struct known_progress {
    void (*step)(void *me, const char *what, uint64_t done, uint64_t all);
    void *me;
};

/* known_open: shops NULL: no list. claim NULL: for ruling all; else known_of may be asked of that claim alone, and less is kept. The shops and the store
 * must outlive it. Keyrings kept in the store tell which shops have keys. Errors: those of the store, ERR_UNKNOWN (no such claim),
 * ERR_MEMORY. */
MUST_USE enum err known_open(struct store *store, const struct shops *shops, const char *claim,
                             const struct known_progress *progress, struct known **ret,
                             struct fault *reterr);
void known_close(struct known *known); /* NULL is fine */

struct known_work *known_work_new(void); /* NULL: no memory */
void known_work_free(struct known_work *work);

/* known_of: fills *ret for a claim of the store; what it points at lives in work until the next call, or in known. Reads photo
 * files of candidates, never the database. paid_here_minor is 0: the caller has the claim's rulings at hand. Errors: ERR_MEMORY,
 * ERR_UNKNOWN (a claim that was not there when known was opened). */
MUST_USE enum err known_of(const struct known *known, const struct store_claim *claim,
                           const char *claim_id, struct known_work *work, struct rule_known *ret,
                           struct fault *reterr);

/* known_set_refused: what stands for a claim from now on, known to the claims of its unit that come after it. */
void known_set_refused(struct known *known, const char *claim_id, bool is_refused);

/* ---- how money by kind is kept ------------------------------------------------------------------ */

/* The store keeps an award a station; here its name is "STATION/KIND", or "STATION" where the kind is not known, and "*" stands
 * for what is once a unit: "fore/labour", "*" "/travel". Ids hold neither '/' nor '*'. known_award_name: into buf; station NULL:
 * once a unit; kind BULLETIN_PAYS_N: not known. known_award_split: *ret_n bytes of the name are the station ("" for once a unit:
 * *ret_n 0); returns the kind, BULLETIN_PAYS_N when it is not known. */
enum { KNOWN_AWARD_ROOM = 128 };
void known_award_name(const char *station, enum bulletin_pays kind, char buf[KNOWN_AWARD_ROOM]);
enum bulletin_pays known_award_split(const char *name, size_t *ret_n);

#endif

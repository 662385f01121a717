/* take: a bag becomes a claim: opened and verified, its events read and replayed, its photos looked at, and put into the store in
 * one transaction. A folder, a zip, and what a phone sends are the same path.
 *
 * Which claim. A claim's digest is the SHA-256 of its payload: one line "<sha256>  <path>\n" for each payload file, sorted by the
 * bytes of the path. So a folder, its zip, and the same bag signed once more are one claim, and taking in again changes nothing.
 * Its job is the ULID of the first "opened" event; a bag that is sent again with more proof is a new claim of the same job and
 * replaces the earlier one (desk/rule.h).
 *
 * Refused: a bag that is not valid or whose signature is bad, one without data/events.json, or events that cannot be read. A photo that the events name
 * and the bag does not hold, one whose bytes are not those of the event's sum, and photos that no event names are findings (rule
 * "bag") that are kept with the claim. */
#ifndef DESK_TAKE_H
#define DESK_TAKE_H

#include "base/fault.h"
#include "base/text.h"
#include "proof/bag.h"
#include "proof/event.h"
#include "store/store.h"

enum take_result { TAKE_TAKEN, TAKE_ALREADY, TAKE_REFUSED };

struct take_order {
    const char *path;
    const struct keyring *ring;      /* NULL: no key is known */
    const struct bag_limits *limits; /* NULL: the usual */
    const char *shop;                /* NULL: any; else a job of another shop is refused ("shop") */
    int64_t now_ms;                  /* the desk's clock */
    int n_threads;                   /* for photos, 1..16 */
};

struct take_answer {
    enum take_result result;
    char claim[STORE_CLAIM_SIZE + 1]; /* "" when refused */
    char job[ULID_TEXT_SIZE + 1];     /* "" when not known */
    char vin[EVENT_VIN_SIZE + 1];     /* "" when not known */
    struct bag_result bag;            /* take_answer_done it */
    /* Why it was refused, when the bag itself is sound: "no-job", "events" (they cannot be read or hold too much), "changed" (while
     * it was read), "claim" (the store does not take such a one), "shop" (not the one that may); NULL: not so. */
    const char *kind;
    struct fault fault;
    size_t n_photos, n_findings;
    char signature
        [16]; /* as noted with the claim, which may be an earlier bag of it: see bag.signature for this one's */
};

/* take_bag: the whole way. Refusal is an answer (ERR_OK). Errors: those of bag_open for what is no bag at all (ERR_OPEN), ERR_IO,
 * ERR_MEMORY, those of store_take. */
MUST_USE enum err take_bag(struct store *store, const struct take_order *order,
                           struct take_answer *ret, struct fault *reterr);
void take_answer_done(struct take_answer *answer);

const char *take_result_name(enum take_result r); /* "taken", "already", "refused" */

#endif

/* relay: several phones of one shop on one open job: what one has done, told to the others, before the job is finished. The same reader as
 * a bag's judges every event; nothing of it is a claim until a bag is taken in (desk/take.h).
 *
 * Every call is for one shop, and sees, makes and changes that shop's jobs alone; another shop's is answered like one that is not there
 * (ERR_UNKNOWN). A job is named by the ULID of an `opened` event, which the first events that come must hold. Bounds and for how long a
 * job is kept: store/jobs.h. */
#ifndef DESK_RELAY_H
#define DESK_RELAY_H

#include "base/fault.h"
#include "base/jsonw.h"

#include <stdbool.h>
#include <stdint.h>

struct jobs;
struct store;

enum {
    RELAY_PAGE = 500,              /* events of one answer */
    RELAY_PAGE_BYTES = 512 * 1024, /* about */
    RELAY_TAG_ROOM = 76
};

struct relay_order {
    struct jobs *jobs;
    const char *shop, *person; /* who asks */
    const char *job;           /* a ULID, as it was asked */
    int64_t after;             /* events that the phone has seen */
    int64_t now_ms;
};

/* relay_list: "jobs": [{job, vin, bulletin {id, revision, sha256}, invented, opened_ms, touched_ms, events, claim, people [names]}], the last
 * touched first, into an open object. */
MUST_USE enum err relay_list(struct jobs *jobs, const char *shop, struct jsonw *w,
                             struct fault *reterr);

/* relay_tell: one job: its head as in relay_list, claim with claim_by, claim_ms and unclaimed (events here that the claim does not hold),
 * "phones": [{phone, person, seen_ms}], "photos": [digests that are here], "events" after order->after, in the order in which they came,
 * each as it stands in events.json; "next": the after of the next call; "more": whether further ones wait. Writes nothing.
 * tag: changes whenever the answer does. Errors: ERR_UNKNOWN (also where order->after is beyond what is here: a backup was put up again, and
 * the phone begins anew, as with a job that is not there), the database's. */
MUST_USE enum err relay_tell(const struct relay_order *order, struct jsonw *w,
                             char tag[RELAY_TAG_ROOM], struct fault *reterr);

/* relay_phone: a phone, by a ULID of its own choice, works on the job; to be told again every minute or so. ERR_SYNTAX, ERR_UNKNOWN. */
MUST_USE enum err relay_phone(const struct relay_order *order, const char *text,
                              struct fault *reterr);

/* relay_add: text[0..n) is an events.json (proof/event.h), of which the job need not hold all: "job", "added" (new ones) and "events" (in
 * all). All of them or none. Errors: ERR_SYNTAX (whatever events_read refuses; with line, column, path), ERR_DOMAIN (an event of another shop; a new job without its
 * `opened`), those of jobs_add. *ret_made: the job was not there before. */
MUST_USE enum err relay_add(const struct relay_order *order, const char *text, size_t n,
                            struct jsonw *w, bool *ret_made, struct fault *reterr);

/* relay_photo_put: the file at fd, of a photo that an event names by its SHA-256, hex. ERR_DOMAIN: it has another; ERR_LIMIT; those of jobs_photo_put.
 * relay_photo: its bytes (free *ret) and kind ("jpg", "png", "heic"). */
MUST_USE enum err relay_photo_put(const struct relay_order *order, const char *hex, int fd,
                                  bool *ret_new, struct fault *reterr);
MUST_USE enum err relay_photo(const struct relay_order *order, const char *hex, char **ret,
                              size_t *ret_n, const char **ret_kind, struct fault *reterr);

/* relay_claimed: a bag was taken in as this claim: the phones that share its job are told, and which events are in it. Nothing when none
 * shared it. by: who sent it. */
MUST_USE enum err relay_claimed(struct store *store, struct jobs *jobs, const char *claim,
                                const char *by, int64_t now_ms, struct fault *reterr);

#endif

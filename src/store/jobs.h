/* jobs: the relay box for open jobs: what several phones of one shop pass to one another before a job is finished. A database of its own
 * (jobs.db beside store.db): an unfinished job is no proof, so nothing of it stands in the log, and it is forgotten again.
 *
 * A job is named by its shop and the ULID of the `opened` event that it began with; the same ULID at another shop is another job, so no
 * shop can see, disturb or even tell the presence of another's. Events are kept in the order in which they came (seq, from 1 on), as the
 * caller's canonical bytes. What was acknowledged survives a crash. Forgotten: an open job JOBS_OPEN_MS, one whose claim was taken in
 * JOBS_SENT_MS after the last event or photo came.
 *
 * A struct jobs is used by one thread at a time; several processes may use the file at once. Times are milliseconds UTC, the caller's. */
#ifndef STORE_JOBS_H
#define STORE_JOBS_H

#include "base/digest.h"
#include "base/fault.h"
#include "core/ulid.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    JOBS_NAME_MAX = 64, /* of a shop, a person; characters */
    JOBS_VIN_SIZE = 17,
    JOBS_CODE_MAX = 40,   /* of a bulletin's id */
    JOBS_CLAIM_SIZE = 13, /* as STORE_CLAIM_SIZE */
    JOBS_EVENTS_MAX = 4000,
    JOBS_PHOTO_MAX = 8 * 1024 * 1024,
    JOBS_BYTES_MAX = 96 * 1024 * 1024, /* of a job's events and photos */
    JOBS_SHOP_MAX = 200,               /* jobs of a shop */
    JOBS_SHOP_BYTES_MAX = 1024 * 1024 * 1024,
    JOBS_PHONES_MAX = 16, /* of a job; the one not heard of for longest makes room */
    JOBS_SEEN_MS = 60000  /* a phone that looks again within is not written down anew */
};
#define JOBS_OPEN_MS ((int64_t)60 * 86400000)
#define JOBS_SENT_MS ((int64_t)14 * 86400000)

struct jobs;

/* jobs_open: the file in the store's folder, made when it is not there yet. Errors: those of people_open. jobs_close: NULL is fine. */
MUST_USE enum err jobs_open(const char *store, struct jobs **ret, struct fault *reterr);
void jobs_close(struct jobs *jobs);

/* jobs_copy: the whole box of the store in folder `from`, as it is at one moment while others go on writing, into the folder `to`, where only
 * its owner may read it; nothing where `from` has none. jobs_count: how many jobs the box in a folder holds, 0 where there is none; nothing is
 * made or changed. Errors: those of people_open. */
MUST_USE enum err jobs_copy(const char *from, const char *to, struct fault *reterr);
MUST_USE enum err jobs_count(const char *store, int64_t *ret_n, struct fault *reterr);

struct jobs_head {
    char job[ULID_TEXT_SIZE + 1];
    char vin[JOBS_VIN_SIZE + 1], bulletin[JOBS_CODE_MAX + 1];
    char bulletin_sha256[2 * DIGEST_SHA256_SIZE + 1];
    int64_t revision;
    bool is_invented;
};
struct jobs_row {
    struct jobs_head head;
    int64_t opened_ms, touched_ms; /* by the server's clock */
    int64_t n_events, n_photos, n_bytes;
    /* the last claim that was made of it; "" while there is none; who sent it; how many events here are not in it */
    char claim[JOBS_CLAIM_SIZE + 1], claim_by[JOBS_NAME_MAX + 1];
    int64_t claim_ms, n_unclaimed;
    int64_t n_phones,
        seen_ms; /* of the phones, the newest sign of each added up: changes when one is heard of */
    int64_t key; /* of the row, for the calls below */
};

/* jobs_find: *ret_found false when the shop has no such job. jobs_list: a shop's, the last touched first. */
MUST_USE enum err jobs_find(struct jobs *jobs, const char *shop, const char *job,
                            struct jobs_row *ret, bool *ret_found, struct fault *reterr);
typedef bool jobs_see(void *me, const struct jobs_row *row);
MUST_USE enum err jobs_list(struct jobs *jobs, const char *shop, jobs_see *see, void *me,
                            struct fault *reterr);

struct jobs_event {
    int64_t seq;
    char ulid[ULID_TEXT_SIZE + 1];
    const char *json; /* borrowed */
    size_t n;
    bool has_photo; /* it names a photo */
    uint8_t photo[DIGEST_SHA256_SIZE];
};

/* jobs_add: events of a job, which is made when it is not there and may_make; all of them or none. One that is there already, byte for
 * byte, is left as it is. *ret_added: how many were new. Errors: ERR_UNKNOWN (no such job), ERR_ORDER (another unit or bulletin),
 * ERR_DUPLICATE (another event under a known ULID; path "events[i].id"), ERR_LIMIT, the database's. */
MUST_USE enum err jobs_add(struct jobs *jobs, const char *shop, const struct jobs_head *head,
                           bool may_make, const struct jobs_event *events, size_t n, int64_t now_ms,
                           size_t *ret_added, struct fault *reterr);

/* jobs_events: those after seq, in order, until see returns false. */
typedef bool jobs_see_event(void *me, const struct jobs_event *event);
MUST_USE enum err jobs_events(struct jobs *jobs, int64_t key, int64_t after, jobs_see_event *see,
                              void *me, struct fault *reterr);

/* jobs_phone: a phone (a ULID of its own choice) of a person looked at a job. jobs_phones: which, the newest sign first. */
struct jobs_phone {
    char phone[ULID_TEXT_SIZE + 1], person[JOBS_NAME_MAX + 1];
    int64_t seen_ms;
};
MUST_USE enum err jobs_phone(struct jobs *jobs, int64_t key, const char *phone, const char *person,
                             int64_t now_ms, struct fault *reterr);
typedef bool jobs_see_phone(void *me, const struct jobs_phone *phone);
MUST_USE enum err jobs_phones(struct jobs *jobs, int64_t key, jobs_see_phone *see, void *me,
                              struct fault *reterr);

/* jobs_photo_put: bytes[0..n) of a photo that an event of the job names; again is fine. Errors: ERR_UNKNOWN (no such job, or none of its
 * events names it), ERR_TYPE (no JPEG, PNG or HEIC), ERR_LIMIT, the database's; whether the digest is theirs is the caller's business.
 * jobs_photo_get: its bytes and kind ("jpg", "png", "heic"; static); free *ret. ERR_UNKNOWN: not there. jobs_photos: which are there. */
MUST_USE enum err jobs_photo_put(struct jobs *jobs, const char *shop, const char *job,
                                 const uint8_t sha256[DIGEST_SHA256_SIZE], const uint8_t *bytes,
                                 size_t n, int64_t now_ms, bool *ret_new, struct fault *reterr);
MUST_USE enum err jobs_photo_get(struct jobs *jobs, const char *shop, const char *job,
                                 const uint8_t sha256[DIGEST_SHA256_SIZE], char **ret,
                                 size_t *ret_n, const char **ret_kind, struct fault *reterr);
typedef bool jobs_see_photo(void *me, const uint8_t sha256[DIGEST_SHA256_SIZE]);
MUST_USE enum err jobs_photos(struct jobs *jobs, int64_t key, jobs_see_photo *see, void *me,
                              struct fault *reterr);

/* jobs_claimed: a claim with these events (ulids) was taken in for the job that holds the event `opened`; nothing when the shop has none
 * such. Marked again with nothing new, an earlier claim does not take a later one's place. */
MUST_USE enum err jobs_claimed(struct jobs *jobs, const char *shop, const char *opened,
                               const char *claim, const char *by,
                               const char (*ulids)[ULID_TEXT_SIZE + 1], size_t n, int64_t now_ms,
                               struct fault *reterr);

#endif

/* known_inner: what the files of known share. Inside src/desk/known*. */
#ifndef DESK_KNOWN_INNER_H
#define DESK_KNOWN_INNER_H

#include "core/near.h"
#include "core/photohash.h"
#include "desk/known.h"
#include "desk/words.h"
#include "proof/event_pool.h"
#include "proof/keyring.h"

/* A claim as far as others are held against it. Texts are in known's pool; those of shops and technicians once each. */
struct known_claim {
    char id[STORE_CLAIM_SIZE + 1];
    bool has_readings, is_refused;
    int64_t seq;
    const char *job, *vin, *shop, *technician; /* NULL: not told */
    int64_t first_ms, last_ms;
    uint8_t readings[STORE_DIGEST];
    const struct known_detail *detail; /* NULL: it is the only claim of its unit */
};

/* What is kept of claims whose unit has several. */
struct known_detail {
    const struct rule_label *labels;
    const char *const *stations; /* worked on */
    const struct store_award *paid;
    size_t n_labels, n_stations, n_paid;
    int64_t paid_minor[BULLETIN_PAYS_N], paid_unit_minor;
    bool is_once_paid;
};

/* Claims in some order. */
struct known_list {
    const struct known_claim **at;
    size_t n;
};

struct known_photo {
    const struct known_claim *claim;
    const char *name, *ext;
    uint8_t sha256[STORE_DIGEST];
    struct photohash hash;
    bool has_hash; /* and is not flat */
};

struct known_photos {
    struct known_photo *at;
    size_t n, room;
    const struct known_photo **by_sha256; /* then by place */
    uint64_t *hashes;                     /* of those that have one, and which they are */
    uint32_t *ids;
    uint32_t n_hashes;
    void *near_room;
    struct near near;
};

/* The build list's word on a unit, in the order of VINs; a list of many units has few different words. */
struct known_build {
    uint32_t unit;           /* a claim of it: its place in by_unit */
    uint32_t station, label; /* of words; label WORDS_NONE: not told */
};

struct known {
    struct store *store;
    const struct shops *shops;
    struct event_pool *pool;
    struct keyring ring;
    struct known_claim *claims; /* in the order of taking in */
    size_t n_claims, room;
    struct known_list by_id, by_unit, by_readings, by_technician;
    int64_t *last_ms; /* [by_technician.n]: the latest end of the same technician's up to here */
    struct known_build *builds;
    size_t n_builds, builds_room;
    struct words words; /* of the build list */
    struct words names; /* of shops and technicians, and where each lies in the pool */
    const char **name_at;
    size_t names_room;
    bool has_builds, has_ring;
    struct known_photos photos;
};

/* The claims a and b are of one job. */
bool known_same_job(const struct known_claim *a, const struct known_claim *b);

/* Which of known's claims has this id; NULL. */
const struct known_claim *known_find(const struct known *known, const char *id);

/* known_photos_open: every photo of the store into known, where claim is not NULL only those that are near its own.
 * known_photos_of: what was seen before, into *ret[claim->n_photos at most], in pool. */
MUST_USE enum err known_photos_open(struct known *known, const struct known_claim *claim,
                                    struct fault *reterr);
void known_photos_close(struct known_photos *photos);

struct known_eyes; /* a thread's room for looking at pictures */
struct known_eyes *known_eyes_new(void);
void known_eyes_free(struct known_eyes *eyes);
MUST_USE enum err known_photos_of(const struct known *known, const struct known_claim *mine,
                                  const struct store_claim *claim, struct known_eyes *eyes,
                                  struct event_pool *pool, const struct rule_seen **ret,
                                  size_t *ret_n, struct fault *reterr);

#endif

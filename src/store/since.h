/* since: what came into a store after a place in its log, narrowly and one bulletin at a time, for those who keep sums in memory and
 * read on. Every pass goes along a primary key from that place on, so its cost is that of what came, not of what is there. */
#ifndef STORE_SINCE_H
#define STORE_SINCE_H

#include "store/store.h"

/* Where the log stands. */
struct store_heads {
    int64_t seq;      /* of the last entry; 0: none */
    int64_t paper;    /* of the last paper; 0: none */
    bool has_builds;  /* there is a build list */
    bool came_builds; /* rows of it came after the place asked about */
};

/* store_heads: after: a place in the log; looks through the types of what came since. */
MUST_USE enum err store_heads(struct store *store, int64_t after, struct store_heads *ret,
                              struct fault *reterr);

/* All of these: claims (or rulings on claims) of the bulletin whose place is after `after`, in that order; see as in store.h. */

struct since_claim {
    int64_t seq, taken_ms, finished_ms;
    const char *job, *vin, *shop; /* job and shop may be NULL */
    bool has_set;                 /* of final readings: store_brief */
    uint8_t set[STORE_DIGEST];
};
typedef bool since_see_claim(void *me, const struct since_claim *claim);
MUST_USE enum err since_claims(struct store *store, const char *bulletin, int64_t after,
                               since_see_claim *see, void *me, struct fault *reterr);

typedef bool since_see_station(void *me, int64_t claim_seq, const char *station, const char *scope,
                               const char *kit);
MUST_USE enum err since_stations(struct store *store, const char *bulletin, int64_t after,
                                 since_see_station *see, void *me, struct fault *reterr);

struct since_reading {
    int64_t claim_seq, value_nano, taken_ms;
    const char *point;
    bool is_after; /* phase "after" */
};
typedef bool since_see_reading(void *me, const struct since_reading *reading);
MUST_USE enum err since_readings(struct store *store, const char *bulletin, int64_t after,
                                 since_see_reading *see, void *me, struct fault *reterr);

/* Once for each award of a ruling, and once with station NULL for one without. */
struct since_award {
    int64_t seq, claim_seq, amount_minor, at_ms;
    enum store_ruling_kind kind;
    const char *verdict, *currency;
    bool has_findings; /* other than notes */
    const char *station, *station_verdict;
    int64_t station_minor;
};
typedef bool since_see_award(void *me, const struct since_award *award);
MUST_USE enum err since_rulings(struct store *store, const char *bulletin, int64_t after,
                                since_see_award *see, void *me, struct fault *reterr);

#endif

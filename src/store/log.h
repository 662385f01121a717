/* log: the append-only, hash-chained log: the bytes that are hashed, appending, walking and
 * checking the chain. Inside src/store/.
 *
 *   hash = SHA-256( "mendwright-log-1"  16 bytes ASCII
 *                   seq                 8 bytes, most significant first, from 1 without gaps
 *                   prev                32 bytes: the hash of entry seq - 1, or zeros for seq 1
 *                   bag                 32 bytes
 *                   ulid                26 bytes ASCII
 *                   size of type        4 bytes, most significant first
 *                   type                that many bytes
 *                   size of json        8 bytes, most significant first
 *                   json                that many bytes ) */
#ifndef STORE_LOG_H
#define STORE_LOG_H

#include "core/ulid.h"
#include "store/db.h"
#include "store/store.h"

#define LOG_CLAIM    "store.claim"
#define LOG_RULING   "store.ruling"
#define LOG_OVERRULE "store.overrule"
#define LOG_PAYMENT  "store.payment"
#define LOG_LIFT     "store.lift"
#define LOG_NOTE     "store.note"
#define LOG_PAPER    "store.paper"
#define LOG_BUILDS   "store.builds"
#define LOG_OURS     "store."

struct log_entry {
    int64_t seq;
    char ulid[ULID_TEXT_SIZE + 1];
    uint8_t bag[STORE_DIGEST];
    const char *type; /* borrowed */
    size_t n_type;
    const char *json; /* borrowed */
    size_t n_json;
    uint8_t prev[STORE_DIGEST], hash[STORE_DIGEST];
};

/* The end of the log, to append to. */
struct log_end {
    int64_t seq;
    uint8_t hash[STORE_DIGEST];
};

/* log_hash: the hash of an entry by the layout above; d is a SHA-256 at its start. */
MUST_USE enum err log_hash(struct digest *d, const struct log_entry *e, uint8_t ret[STORE_DIGEST]);

MUST_USE enum err log_find_end(struct db *db, struct log_end *ret, struct fault *reterr);

/* log_append: writes e after `end` and moves end on; e's seq, prev and hash are set here. */
MUST_USE enum err log_append(struct db *db, struct digest *d, struct log_end *end,
                             struct log_entry *e, struct fault *reterr);

/* log_name: the ULID of an entry of our own: the time, and the first 80 bits of the hash before it,
 * which no other entry has. ERR_DOMAIN: the time is before 1970 or after the year 10889. */
MUST_USE enum err log_name(const struct log_end *end, int64_t at_ms, char ret[ULID_TEXT_SIZE + 1]);

/* log_walk: every entry in order. see gets what is wrong with its place in the chain in words, or
 * NULL; it returns ERR_OK to go on. */
typedef enum err log_see(void *me, const struct log_entry *e, const char *wrong,
                         struct fault *reterr);
MUST_USE enum err log_walk(struct db *db, struct digest *d, log_see *see, void *me,
                           struct fault *reterr);

#endif

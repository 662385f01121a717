/* store: where claims live: an append-only, hash-chained log, tables derived from it, and photos as
 * files named by their content. One small interface; the database behind it is db.h's business.
 *
 * A store is a folder: store.db and photos/. Everything that can not be computed again stands in
 * the log; every other table is a function of the log (store_rebuild computes it, store_verify
 * compares). One bag is one transaction: a claim is there whole or not at all, and a bag taken in
 * twice changes nothing. Several processes may use a store at once: readers are never held up, and
 * writers wait for each other. doc/store.md has the tables, the byte layout of the chain, and what
 * happens at a crash.
 *
 * Unknown values: NULL for texts, STORE_UNKNOWN for integers, NaN for reals. Times are milliseconds
 * since 1970-01-01 UTC. Texts are UTF-8. A struct store is used by one thread at a time. */
#ifndef STORE_STORE_H
#define STORE_STORE_H

#include "base/digest.h"
#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define STORE_UNKNOWN INT64_MIN

enum {
    STORE_DIGEST = DIGEST_SHA256_SIZE,
    STORE_CLAIM_SIZE = 13,   /* "K" and 12 characters of Crockford's base32 */
    STORE_ID_MAX = 128,      /* bytes of an id, a name, a currency, a unit */
    STORE_TEXT_MAX = 2000,   /* bytes of a sentence */
    STORE_CURRENCY_ROOM = 8, /* of a currency that is paid in, with its NUL */
    STORE_STATIONS_MAX = 64,
    STORE_READINGS_MAX = 4096,
    STORE_SET_LEAST = 6, /* measured readings below which two equal sets mean nothing */
    STORE_PHOTOS_MAX = 1024,
    STORE_FINDINGS_MAX = 1024,
    STORE_EVENTS_MAX = 65536,
    STORE_EVENT_MAX = 1024 * 1024,      /* bytes of one event's JSON */
    STORE_PHOTO_MAX = 128 * 1024 * 1024 /* bytes of one photo */
};

struct store;

enum store_mode { STORE_READ, STORE_WRITE };

/* store_init: makes the folder (its parent must be there) and an empty store in it; *ret_made false
 * when there was a store already. Errors: ERR_DUPLICATE (a folder with something else in it),
 * ERR_OPEN, ERR_IO, ERR_MEMORY. */
MUST_USE enum err store_init(const char *path, bool *ret_made, struct fault *reterr);

/* store_open: STORE_WRITE brings an older store up to this program's version first (one
 * transaction); STORE_READ refuses it with a word on what to do. Errors: ERR_OPEN (no store there),
 * ERR_TYPE (something else), ERR_DOMAIN (older or newer than this program can use), ERR_IO (disk;
 * may not be written), ERR_MEMORY. Free with store_close (NULL is fine). */
MUST_USE enum err store_open(const char *path, enum store_mode mode, struct store **ret,
                             struct fault *reterr);
void store_close(struct store *store);

/* ---- what a claim consists of --------------------------------------------------------------- */

struct store_station {
    const char *station;                  /* required */
    const char *variant, *label;          /* as read off the label */
    const char *built_first, *built_last; /* "YYYY-MM-DD" */
    const char *scope;                    /* "in", "out", "unknown" */
    const char *kit;
};

struct store_reading {
    const char *station;
    const char *point; /* required */
    const char *phase; /* "before", "after"; the caller's words */
    const char *unit;  /* required: the unit it was written in */
    int64_t value_nano;
    int64_t u_nano; /* standard uncertainty, or STORE_UNKNOWN */
    int64_t taken_ms;
    const char *ulid; /* of the event */
};

struct store_hash {
    bool is_known;
    uint64_t bits;
};

/* Bytes of a photo, from `at` on: at most n into buf, returns how many, 0 at the end, -1 when they
 * cannot be read. Called from the start to the end, perhaps more than once. */
typedef long store_bytes(void *me, uint64_t at, void *buf, size_t n);

struct store_photo {
    const char *name; /* required: as the bag calls it */
    const char *station, *point, *ulid;
    uint8_t sha256[STORE_DIGEST];
    const char *ext; /* "jpg", "png", "heic" or "bin": set by the store from the first bytes */
    int64_t bytes;   /* set by the store */
    int64_t width, height, taken_ms;
    struct store_hash dhash, dhash_mirror, phash, phash_mirror;
    int64_t is_flat; /* 1: its hashes say nothing; 0; STORE_UNKNOWN */
    double sharpness, exposure;
    const char *codes; /* what the codes in the picture say, one a line */
    const char *fault; /* what is wrong with the picture, if anything */
    /* Where its bytes come from when it is taken in: a file, or calls of read(me, ...). */
    const char *path;
    store_bytes *read;
    void *me;
};

struct store_finding {
    const char *rule;  /* required */
    const char *level; /* required; the caller's words */
    const char *station;
    const char *message; /* required */
    const char *cure;
    /* What it points at; NULL where it does not: a photo's or proof's name or a point of this claim; another claim, and a photo of it. */
    const char *what, *other, *other_what;
};

struct store_event {
    const char *ulid; /* required, 26 characters, in the order of the job */
    const char *type; /* required; does not begin with "store." */
    const char *json; /* required: the event in the caller's canonical bytes, an object */
    size_t n;
};

struct store_claim {
    uint8_t bag[STORE_DIGEST]; /* the bag's digest: the same bag is the same claim */
    const char *job;           /* ULID of the job, if it has one */
    const char *bulletin;      /* required */
    int64_t revision;
    const char *bulletin_sha256; /* of the file the technician worked by, 64 hexadecimal digits */
    int64_t is_invented;         /* 1: demo data; 0; STORE_UNKNOWN */
    const char *vin;             /* required */
    const char *shop, *technician;
    const char *signature;          /* the contract's word: "good", "none", ... */
    const char *signed_by;          /* the shop that the signature names */
    int64_t opened_ms, finished_ms; /* by the device */
    int64_t taken_ms;               /* required: when it was taken in, by the desk's clock */
    int64_t labour_s;
    const struct store_station *stations;
    const struct store_reading *readings;
    struct store_photo *photos; /* ext and bytes are filled in by store_take */
    const struct store_finding *findings;
    const struct store_event *events; /* for taking in only; store_events reads them back */
    size_t n_stations, n_readings, n_photos, n_findings, n_events;
};

/* store_claim_id: the claim's name, from its bag's digest alone: "K" and the first 60 bits. */
void store_claim_id(const uint8_t bag[STORE_DIGEST], char ret[STORE_CLAIM_SIZE + 1]);

enum store_taken { STORE_TAKEN, STORE_ALREADY };

/* store_take: takes a bag in, in one transaction, after its photos are safely on the disk. When it
 * returns ERR_OK the claim survives a crash. ret_claim may be NULL. Errors: ERR_EMPTY, ERR_LIMIT,
 * ERR_ENCODING, ERR_SYNTAX, ERR_UNKNOWN (path says where: "readings[3].unit"), ERR_DUPLICATE (an
 * event twice), ERR_DOMAIN (a photo's bytes are not those of its digest; a station that is not in
 * the list), ERR_IO (disk full, may not be written, photo cannot be read), ERR_MEMORY. After an
 * error nothing was taken. */
MUST_USE enum err store_take(struct store *store, struct store_claim *claim,
                             enum store_taken *ret_taken, char ret_claim[STORE_CLAIM_SIZE + 1],
                             struct fault *reterr);

/* ---- rulings ------------------------------------------------------------------------------- */

enum store_ruling_kind {
    STORE_RULED,     /* by the rules */
    STORE_OVERRULED, /* by a person, with a reason */
    STORE_PAID,      /* money went out */
    STORE_LIFTED, /* a person took their word back: the rules' ruling, which it repeats, stands again */
    STORE_NOTED /* a person wrote something down; nothing else changes. Its verdict is "note", its reason the text */
};

/* store_takes_over: whether a ruling of this kind takes the place of what stands, a person's word or not: a payment or a note never
 * does, and a person's word holds over later rulings by the rules until it is taken back. store_is_word: whether what then stands is a
 * person's word. */
static inline bool store_takes_over(enum store_ruling_kind kind, bool is_word)
{
    return kind == STORE_OVERRULED || kind == STORE_LIFTED || (kind == STORE_RULED && !is_word);
}
static inline bool store_is_word(enum store_ruling_kind kind)
{
    return kind == STORE_OVERRULED;
}

struct store_award {
    const char *station; /* required */
    const char *verdict; /* required */
    int64_t amount_minor;
    /* What the amount was worked out from: "200 min at 68.00 EUR/h"; NULL: not told. */
    const char *what;
};

struct store_ruling {
    enum store_ruling_kind kind;
    const char *claim;   /* required: a claim of this store */
    const char *verdict; /* required: "pay", "ask", "hold", "refuse" */
    int64_t amount_minor;
    const char *currency;
    int64_t revision;                 /* of the bulletin it was ruled by */
    const char *person;               /* required to overrule, to take back, to note */
    const char *reason;               /* required to overrule, to note */
    int64_t at_ms;                    /* required */
    const struct store_award *awards; /* one a station */
    const struct store_finding *findings;
    size_t n_awards, n_findings;
    int64_t seq; /* place in the log; set when read back and by store_rule */
    /* For store_rule: the last entry of the claim that was seen when this one was made (-1: there was none, 0: no matter). Where
     * another has come since, this one is not written and its seq is 0. */
    int64_t since_seq;
};

/* store_rule: puts a ruling, an overrule or a payment on the log. Nothing earlier is changed: the
 * last entry holds. Errors as store_take; ERR_UNKNOWN (no such claim). */
MUST_USE enum err store_rule(struct store *store, struct store_ruling *ruling,
                             struct fault *reterr);

/* store_rule_all: the same for n rulings (at most STORE_RULINGS_AT_ONCE; 0 is fine) in one transaction:
 * all of them or none, and one wait for the disk for all. reterr->path begins with "rulings[3]" when
 * there are several. After an error their seq mean nothing. */
enum { STORE_RULINGS_AT_ONCE = 4096 };
MUST_USE enum err store_rule_all(struct store *store, struct store_ruling *rulings, size_t n,
                                 struct fault *reterr);

/* store_settle: in one transaction: what stands for the claim less what was paid; where that is more
 * than 0 a STORE_PAID entry is written. What stands is the last STORE_OVERRULED, else the last
 * STORE_RULED (a person's word holds over what the rules say later); it is worth its amount when its
 * verdict is "pay", else nothing. The entry's awards are, for each station, what stands for it (0
 * when its verdict is not "pay") less what was paid for it, so that a station which no longer pays
 * is below 0 and the awards of all payments together are those of the last ruling; a ruling without
 * awards is paid without them. *ret_amount: what was paid now, 0 for nothing due; ret_currency: that
 * of what stands, "" for none. Errors: as store_rule; ERR_DOMAIN (paid in another currency before),
 * ERR_RANGE, ERR_LIMIT (more stations than STORE_STATIONS_MAX). */
MUST_USE enum err store_settle(struct store *store, const char *claim, const char *person,
                               int64_t at_ms, int64_t *ret_amount,
                               char ret_currency[STORE_CURRENCY_ROOM], struct fault *reterr);

/* store_settle_since: the same, unless the claim has got another entry than since_seq, the last that was seen (0: no matter, -1:
 * there was none): then nothing is paid and *ret_is_late is true. */
MUST_USE enum err store_settle_since(struct store *store, const char *claim, int64_t since_seq,
                                     const char *person, int64_t at_ms, int64_t *ret_amount,
                                     char ret_currency[STORE_CURRENCY_ROOM], bool *ret_is_late,
                                     struct fault *reterr);

/* ---- reading back -------------------------------------------------------------------------- */

/* Each calls see(me, ...) once an item and stops early, without an error, when it returns false.
 * What is handed over lives until see returns. see may call the other functions here, and these for
 * one claim inside that for all; all of them see the store at one moment. It may not write, verify
 * or copy: those are refused with ERR_IO. */

/* store_hold: everything that is read until store_release is of one moment, and each call costs less. */
MUST_USE enum err store_hold(struct store *store, struct fault *reterr);
void store_release(struct store *store);

/* claim: one claim's id, or NULL for all, in the order in which they were taken in. events and the
 * photos' sources are not filled in. */
typedef bool store_see_claim(void *me, const char *id, const struct store_claim *claim);
MUST_USE enum err store_claims(struct store *store, const char *claim, store_see_claim *see,
                               void *me, struct fault *reterr);

/* The technician's events of a claim, in the order of the log. */
typedef bool store_see_event(void *me, const struct store_event *event);
MUST_USE enum err store_events(struct store *store, const char *claim, store_see_event *see,
                               void *me, struct fault *reterr);

/* Rulings, overrules and payments of a claim (NULL: of all), in the order of the log. */
typedef bool store_see_ruling(void *me, const struct store_ruling *ruling);
MUST_USE enum err store_rulings(struct store *store, const char *claim, store_see_ruling *see,
                                void *me, struct fault *reterr);

/* ---- lists --------------------------------------------------------------------------------- */

/* What a claim needs next: a person (held, or paid more than stands), a payment, something from the shop (asked), a ruling by the
 * rules, or nothing. */
#define STORE_NEEDS_PERSON  "person"
#define STORE_NEEDS_PAYMENT "payment"
#define STORE_NEEDS_SHOP    "shop"
#define STORE_NEEDS_RULING  "ruling"
#define STORE_NEEDS_NOTHING "nothing"

/* Which claims: all that are given must fit. Each is found by an index; with several the first in this order leads. */
struct store_filter {
    const char *claim; /* its id: that one alone */
    const char *vin;   /* whole */
    const char *tail;  /* the last characters of the VIN */
    const char
        *rule; /* a finding of the last ruling by the rules, or of taking in, is of this rule */
    const char *needs;   /* as above */
    const char *verdict; /* that stands: "pay" ...; "unruled" */
    const char *shop;
    const char *bulletin;
    bool is_clean;     /* no finding at all, not even a note */
    const char *after; /* a claim's id: those taken in before it */
    size_t n_max;      /* 0: all */
};

/* One claim of a list: its head, and what stands. Borrowed until the next. */
struct store_listed {
    int64_t seq;
    const char *claim, *vin, *shop, *technician, *bulletin, *job, *signature;
    int64_t revision, opened_ms, finished_ms, taken_ms, is_invented;
    const char *verdict; /* NULL: not ruled */
    const char *currency, *needs;
    const char *finding; /* the rule of its gravest finding; NULL: none */
    int64_t amount_minor, paid_minor;
    int64_t last_seq;   /* its last ruling, payment or note; 0: none */
    int64_t n_findings; /* of the last ruling by the rules, and of taking in */
    bool is_word;       /* a person's word stands */
};

/* store_list: the newest first. Errors: ERR_UNKNOWN (no such `after`), the store's. */
typedef bool store_see_listed(void *me, const struct store_listed *listed);
MUST_USE enum err store_list(struct store *store, const struct store_filter *filter,
                             store_see_listed *see, void *me, struct fault *reterr);

/* store_tally: how many claims there are of each verdict, need, and with or without findings; shop NULL: of all. */
struct store_count_of {
    const char *verdict; /* "unruled" for none */
    const char *needs;
    bool is_clean;
    int64_t n;
};
typedef bool store_see_count(void *me, const struct store_count_of *count);
MUST_USE enum err store_tally(struct store *store, const char *shop, store_see_count *see, void *me,
                              struct fault *reterr);

/* Claims whose final readings (phase "after", and at a point without one the last there is; not counts) are the same, value for
 * value at every point, as those of `claim`, itself left out. Claims with fewer than STORE_SET_LEAST after the work are like none. */
typedef bool store_see_id(void *me, const char *id);
MUST_USE enum err store_same_readings(struct store *store, const char *claim, store_see_id *see,
                                      void *me, struct fault *reterr);

/* Claims for a unit. */
MUST_USE enum err store_claims_of_unit(struct store *store, const char *vin, store_see_id *see,
                                       void *me, struct fault *reterr);

/* What a first pass over all claims needs, one narrow row each, in the order of taking in. */
struct store_brief {
    int64_t seq;
    const char *claim, *job, *bulletin, *vin, *shop, *technician;
    int64_t opened_ms, finished_ms, taken_ms, revision;
    bool has_readings; /* final ones, at least STORE_SET_LEAST of them */
    uint8_t
        readings[STORE_DIGEST]; /* digest of the final readings that are measured; zero without */
};
typedef bool store_see_brief(void *me, const struct store_brief *brief);
MUST_USE enum err store_briefs(struct store *store, store_see_brief *see, void *me,
                               struct fault *reterr);

/* Every photo of every claim, in the order of taking in; width, height and so on are not filled in but name, station, point,
 * sha256, ext, hashes and is_flat are. */
typedef bool store_see_photo(void *me, int64_t claim_seq, const char *claim,
                             const struct store_photo *photo);
MUST_USE enum err store_photos(struct store *store, store_see_photo *see, void *me,
                               struct fault *reterr);

/* ---- papers and builds: what claims are ruled by -------------------------------------------- */

/* A paper is a file that the desk keeps on the log: a revision of a bulletin, a list of shops, a keyring. It is never changed: the
 * last one of its kind and name (and revision) holds. */
enum { STORE_PAPER_MAX = 8 * 1024 * 1024 };
struct store_paper {
    const char
        *kind; /* required: "bulletin", "shops", "keys", "failures", "reserve", "stock", "study" */
    const char *name; /* required: the bulletin's id; else the caller's word */
    int64_t revision; /* STORE_UNKNOWN for kinds that have none */
    int64_t at_ms;    /* required: when it was put there */
    const char *text; /* UTF-8 */
    size_t n;
    uint8_t sha256[STORE_DIGEST]; /* of text; set by the store */
    int64_t seq;                  /* set by the store */
    /* For store_keep: the digest of the one that it is to replace, all zero: there must be none yet; NULL: no matter. Where another holds
     * by then it is not kept (ERR_ORDER). */
    const uint8_t *replaces;
};

/* store_keep: puts a paper on the log, unless the one that holds is the same, byte for byte (*ret_new false). Errors: as
 * store_rule. */
MUST_USE enum err store_keep(struct store *store, struct store_paper *paper, bool *ret_new,
                             struct fault *reterr);

/* store_papers: the papers that hold, without their texts when has_text is false; kind and name NULL: any. By kind, name,
 * revision. */
typedef bool store_see_paper(void *me, const struct store_paper *paper);
MUST_USE enum err store_papers(struct store *store, const char *kind, const char *name,
                               bool has_text, store_see_paper *see, void *me, struct fault *reterr);

/* What the maker's build list says of a unit: one row a station. */
struct store_build {
    const char *vin;     /* required */
    const char *station; /* required */
    const char *label;   /* as it was printed; NULL: not known */
};
enum { STORE_BUILDS_AT_ONCE = 10000 };

/* store_build_put: rows of one call are one entry of the log; a row replaces an earlier one of the same unit and station. n at
 * most STORE_BUILDS_AT_ONCE. */
MUST_USE enum err store_build_put(struct store *store, const struct store_build *builds, size_t n,
                                  int64_t at_ms, struct fault *reterr);
/* store_builds_begin, store_builds_end: around many calls of store_build_put one behind the other: they take more memory and less time.
 * *ret_is_whole: the store has no build list yet and may_be_whole: all of it is one transaction, which others who would write wait for
 * and which is there, durably, when store_builds_end has been called with is_kept, or not at all; without is_kept, or where a call of
 * store_build_put failed, nothing was changed. Otherwise each call of store_build_put is one, and is_kept is not looked at. Nothing else
 * is to be asked of this store meanwhile. store_builds_end is to be called after an error of store_builds_begin, too. */
MUST_USE enum err store_builds_begin(struct store *store, bool may_be_whole, bool *ret_is_whole,
                                     struct fault *reterr);
MUST_USE enum err store_builds_end(struct store *store, bool is_kept, struct fault *reterr);
/* vin NULL: all, by VIN and station. */
typedef bool store_see_build(void *me, const struct store_build *build);
MUST_USE enum err store_builds(struct store *store, const char *vin, store_see_build *see, void *me,
                               struct fault *reterr);

struct store_counts {
    int64_t papers, builds; /* papers that hold; rows of the build list */
    int64_t entries, events, claims, units, stations, readings, photos, rulings;
};
MUST_USE enum err store_count(struct store *store, struct store_counts *ret, struct fault *reterr);

/* The folder of the store's files: photos/, and whatever else a server keeps as files. Borrowed. */
const char *store_folder(const struct store *store);

/* store_copy: everything at `from` as of one moment, at `to`, which must be new: a folder or a server's address each. The log is written entry by
 * entry, each hash worked out anew and held against the one it had; read back; and its last hash compared. The other tables follow from
 * it. A copy that is broken off leaves no store: at a server nothing that others see, beside a folder one named .part, which the next
 * call goes on with. Errors: ERR_DUPLICATE (there is something), ERR_DOMAIN (the source's log is broken), ERR_IO (a photo is missing,
 * the copy came out wrong, the disk), those of store_open. */
struct store_copy_order {
    bool with_people;
    const struct store_progress *progress; /* may be NULL */
};
struct store_copied {
    struct store_counts counts;
    int64_t n_people;
    uint8_t head[STORE_DIGEST]; /* the last hash of both logs */
};
MUST_USE enum err store_copy(const char *from, const char *to, const struct store_copy_order *order,
                             struct store_copied *ret, struct fault *reterr);

/* store_photo_read: a photo's bytes, at most max, into ret (the caller's; cleared first), compared with its digest. Unlike everything else
 * here it may be called by several threads at once. Errors: ERR_OPEN (it is missing), ERR_DOMAIN (other bytes), ERR_LIMIT, ERR_IO (it
 * cannot be told now), ERR_MEMORY. */
MUST_USE enum err store_photo_read(const struct store *store, const uint8_t sha256[STORE_DIGEST],
                                   const char *ext, size_t max, struct text *ret,
                                   struct fault *reterr);

/* store_photos_look: whether the place where photos lie can be used, and in `told` where that is, for people; changes nothing. Errors: ERR_IO. */
MUST_USE enum err store_photos_look(const struct store *store, char *told, size_t room,
                                    struct fault *reterr);

/* store_photo_path: where a photo's file lies when photos lie in the store's folder; for tests that damage it. */
void store_photo_path(const struct store *store, const uint8_t sha256[STORE_DIGEST],
                      const char *ext, char *buf, size_t room);

/* ---- keeping it right ---------------------------------------------------------------------- */

/* Told now and then during long work: what is being done, how far, of how much. */
struct store_progress {
    void (*step)(void *me, const char *what, uint64_t done, uint64_t all);
    void *me;
};

enum { STORE_FAULTS_MAX = 100 }; /* told; the rest is counted */

struct store_fault_seen {
    const char *kind; /* "file", "schema", "chain", "derived", "photo", "head" */
    char where[FAULT_PATH_MAX];
    char message[FAULT_MESSAGE_MAX];
};

struct store_health {
    struct store_counts counts;
    int64_t n_faults; /* 0: all is well */
    struct store_fault_seen faults[STORE_FAULTS_MAX];
    int64_t n_orphans; /* files in photos/ that no claim names: leftovers, not faults */
    int64_t orphan_bytes;
    uint8_t head[STORE_DIGEST]; /* the last entry's hash; zero for an empty log */
};

/* store_verify: reads everything back: the database file, the schema, the chain, foreign keys, the
 * derived tables against tables made anew from the log, every photo file against its digest. `head`
 * (may be NULL): a hash noted earlier that must still be in the log, which tells whether its end
 * was cut off. Sees one moment while others go on writing. Faults found are no error. ret is the
 * caller's (about 57 kB). Errors: ERR_IO, ERR_MEMORY. */
MUST_USE enum err store_verify(struct store *store, const uint8_t head[STORE_DIGEST],
                               const struct store_progress *progress, struct store_health *ret,
                               struct fault *reterr);

/* store_rebuild: makes the derived tables anew from the log, in one transaction. Refuses a log
 * whose chain is broken (ERR_DOMAIN) and then changes nothing. *ret_entries: entries read. */
MUST_USE enum err store_rebuild(struct store *store, const struct store_progress *progress,
                                int64_t *ret_entries, struct fault *reterr);

/* store_tidy: removes the files in photos/ that no claim names. */
MUST_USE enum err store_tidy(struct store *store, int64_t *ret_files, int64_t *ret_bytes,
                             struct fault *reterr);

/* store_backup: a consistent copy at dest, which must not exist yet; others may go on writing. It
 * is built as dest.part and renamed when it is whole and on the disk; a broken-off one is gone on
 * with. The open jobs (jobs_copy) come along, as they are a moment later. store_backup_with_people: with the people who may come in as well (people_copy). *ret_people: how many. Errors:
 * ERR_DUPLICATE (dest is there), ERR_IO, ERR_MEMORY. */
MUST_USE enum err store_backup(struct store *store, const char *dest,
                               const struct store_progress *progress, struct store_counts *ret,
                               struct fault *reterr);
MUST_USE enum err store_backup_with_people(struct store *store, const char *dest,
                                           const struct store_progress *progress,
                                           struct store_counts *ret, int64_t *ret_people,
                                           struct fault *reterr);

#endif

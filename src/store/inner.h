/* inner: what the files of the store share behind its interface. Inside src/store/. */
#ifndef STORE_INNER_H
#define STORE_INNER_H

#include "store/album.h"
#include "store/derive.h"
#include "store/files.h"
#include "store/place.h"
#include "store/scratch.h"
#include "store/store.h"

struct store_shops; /* acts.c */

struct store {
    struct db *db;
    enum store_mode mode;
    struct digest *digest;  /* a SHA-256 at its start */
    struct scratch scratch; /* for one claim or ruling at a time */
    struct text json;
    struct store_shops
        *shops;    /* how many claims each has, as far as counted; NULL: not asked for */
    int n_looking; /* reading calls that stand inside one another; one snapshot for all */
    struct {
        char id[STORE_CLAIM_SIZE + 1];
        int64_t seq, n_events;
    } last;                     /* the claim read last within this snapshot; seq 0: none */
    struct album *album;        /* where photos lie */
    char path[FILES_PATH_MAX];  /* the folder that all other files lie in */
    char db_path[PLACE_ROOM];   /* for db_open */
    char shown[FAULT_FILE_MAX]; /* what messages call the store */
    char word[PLACE_ROOM];      /* as it was named */
    bool is_server;
    /* Whether store_builds_begin holds a transaction that all rows of a build list go into; BROKEN: it may only be rolled back. */
    enum { FILLING_NOT, FILLING, FILLING_BROKEN } filling;
};

static const char store_file[] = "store.db";

/* NULL is fine. */
void store_shops_free(struct store_shops *shops);

/* store_idle, and ERR_IO when the store was opened for reading. */
MUST_USE enum err store_writable(const struct store *store, struct fault *reterr);

/* ERR_IO when the store is being read from just now: a callback that begins what needs a moment of
 * the store to itself. Our own bug, but one that may not do harm. */
MUST_USE enum err store_idle(const struct store *store, struct fault *reterr);

/* Writes the file's name into a fault and hands its code on. */
enum err store_named(const struct store *store, enum err err, struct fault *reterr);

/* store_append: an entry of our own after `end`, and what follows from it; its JSON is in
 * store->json, e->bag is set. In the caller's transaction. */
MUST_USE enum err store_append(struct store *store, struct log_end *end, struct log_entry *e,
                               const char *type, int64_t at_ms, struct fault *reterr);

/* store_append_log: the same, but what follows from it is the caller's to derive. */
MUST_USE enum err store_append_log(struct store *store, struct log_end *end, struct log_entry *e,
                                   const char *type, int64_t at_ms, struct fault *reterr);

/* store_append_last: the same at the log's end, then the transaction's end: commits, or rolls back
 * after an error. err: what went wrong before, ERR_OK: nothing yet. */
MUST_USE enum err store_append_last(struct store *store, enum err err, struct log_entry *e,
                                    const char *type, int64_t at_ms, struct fault *reterr);

/* Fills the derived tables from the log, in the caller's transaction. */
MUST_USE enum err store_refill(struct store *store, const struct store_progress *progress,
                               int64_t *ret_entries, struct fault *reterr);

/* The number that a query gives. sql has static life. */
MUST_USE enum err store_number(struct db *db, const char *sql, int64_t *ret, struct fault *reterr);

MUST_USE enum err store_count_db(struct db *db, struct store_counts *ret, struct fault *reterr);

/* Begins and ends looking at one moment of the store. */
MUST_USE enum err store_look(struct store *store, struct fault *reterr);
void store_look_end(struct store *store);

void store_step(const struct store_progress *progress, const char *what, uint64_t done,
                uint64_t all);

#endif

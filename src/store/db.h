/* db: what the store needs of a database: one connection, prepared statements, transactions, a
 * consistent copy. Inside src/store/ only. Behind it stands SQLite (store_sqlite.c, the one file that
 * sees its header), or another database: a file that fills in the table of db_ops.h; db.c hands each
 * call on.
 *
 * Errors of a connection are sticky within a statement's use: db_int, db_text ... never fail to the
 * caller, db_next and db_end tell. Every message is for people: "there is no room left on the
 * disk", never "database is locked". */
#ifndef STORE_DB_H
#define STORE_DB_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum db_mode {
    DB_READ,   /* must exist; nothing is ever written */
    DB_WRITE,  /* must exist */
    DB_CREATE, /* must not exist yet, or be empty */
    DB_SCRATCH /* a private file that goes away with the connection; path is not looked at */
};

enum {
    DB_BUSY_MS = 60 * 1000, /* how long another writer is waited for before giving up */
    DB_SQL_MAX = 96         /* different statements on one connection */
};

struct db;

/* For the few texts of SQL that cannot be the same for all: tables of them are indexed by it. */
enum db_dialect { DB_SQLITE, DB_POSTGRESQL, DB_DIALECTS };
enum db_dialect db_dialect(const struct db *db);

/* db_open: the file at path. A file that SQLite cannot read as a database is ERR_TYPE, one that it
 * finds damaged, here or later, ERR_SYNTAX; one that may not be written is ERR_IO with DB_WRITE. Sets WAL, synchronous FULL, foreign keys on, no trusted
 * schema, defensive. Other errors: ERR_OPEN (missing), ERR_IO, ERR_MEMORY. */
MUST_USE enum err db_open(const char *path, enum db_mode mode, struct db **ret,
                          struct fault *reterr);
void db_close(struct db *db); /* NULL is fine; an open transaction is rolled back */

/* db_counted: rows of the table were written with the keys they had elsewhere: keys that the database gives from now on come behind the
 * largest of them. In the same transaction. Names are the program's own. */
MUST_USE enum err db_counted(struct db *db, const char *table, const char *key,
                             struct fault *reterr);

/* db_script: statements without parameters, from the program itself and never from an input. */
MUST_USE enum err db_script(struct db *db, const char *sql, struct fault *reterr);

/* The two numbers in the file's head (SQLite's application_id and user_version). */
MUST_USE enum err db_marks(struct db *db, int64_t *ret_application, int64_t *ret_version,
                           struct fault *reterr);
MUST_USE enum err db_mark(struct db *db, int64_t application, int64_t version,
                          struct fault *reterr);
/* How many tables, indexes and triggers there are. */
MUST_USE enum err db_count_objects(struct db *db, int64_t *ret, struct fault *reterr);

/* db_bulk: what is going to be written in a row. DB_BULK_ROWS, not within a transaction: many rows: more pages are held in memory
 * (DB_BULK_KIB) and the write-ahead log is carried over into the file less often, and that a row names one that is there is the caller's
 * to see to. DB_BULK_INDEXES, after it, within one, too: indexes of many rows: few pages are held (DB_SORT_KIB), since as much is sorted
 * at a time, and what fits into the processor's own memory is sorted in half the time. DB_BULK_NONE: as usual again. What is committed is
 * on the disk either way. */
enum db_bulk { DB_BULK_NONE, DB_BULK_ROWS, DB_BULK_INDEXES };
enum { DB_BULK_KIB = 32 * 1024, DB_SORT_KIB = 1024 };
MUST_USE enum err db_bulk(struct db *db, enum db_bulk bulk, struct fault *reterr);

/* ---- statements ---------------------------------------------------------------------------- */

/* A prepared statement. sql is a text with static life: the statement is prepared once for a
 * connection and found again by the text's address; one that is in the middle of its rows is left
 * alone and a second one made, so that readings may stand inside one another. Values are bound in the order of the calls and
 * must live until the statement is stepped. */
struct db_use {
    struct db *db;
    void *statement; /* NULL when it could not be prepared: db_next tells */
    int n_bound;
    int code; /* the first thing that went wrong; 0 */
};

struct db_use db_use(struct db *db, const char *sql);
/* For rows that nobody can count beforehand: they never stand in memory all at once. Where that is a difference, it wants a snapshot or
 * transaction, and is dearer than db_use for a row or two. */
struct db_use db_use_many(struct db *db, const char *sql);
void db_int(struct db_use *u, int64_t value);
void db_real(struct db_use *u, double value);
void db_null(struct db_use *u);
void db_text(struct db_use *u, const char *value); /* NULL: null */
void db_text_n(struct db_use *u, const char *value, size_t n);
void db_blob(struct db_use *u, const void *bytes, size_t n);

/* db_next: the next row, if any; *ret_row false at the end. After an error or the end the statement
 * is at rest again. db_end: runs to the end, rows not looked at. db_rest: leaves off in the middle. */
MUST_USE enum err db_next(struct db_use *u, bool *ret_row, struct fault *reterr);
MUST_USE enum err db_end(struct db_use *u, struct fault *reterr);
void db_rest(struct db_use *u);

/* Columns of the present row, from 0. Texts and blobs are borrowed until the next call of db_next,
 * db_end or db_rest; a null text is "" with n 0. */
int64_t db_col_int(const struct db_use *u, int i);
double db_col_real(const struct db_use *u, int i);
const char *db_col_text(const struct db_use *u, int i, size_t *ret_n); /* ret_n may be NULL */
/* The text into ret, cut to room and closed. */
void db_col_copy(const struct db_use *u, int i, char *ret, size_t room);
const uint8_t *db_col_blob(const struct db_use *u, int i, size_t *ret_n);
bool db_col_is_null(const struct db_use *u, int i);
bool db_col_is_int(const struct db_use *u, int i);
int db_cols(const struct db_use *u);
const char *db_col_name(const struct db_use *u, int i);
/* The same kind and the same value in column i of both. */
bool db_col_same(const struct db_use *a, const struct db_use *b, int i);

/* ---- transactions and copies --------------------------------------------------------------- */

/* db_begin: takes the right to write at once (no other writer until the end), waiting DB_BUSY_MS
 * for others. db_snapshot: reading only; everything read until db_rollback is of one moment, while
 * others go on writing. db_commit: after an error nothing was changed; where the disk failed, the next db_begin first makes sure of that,
 * and fails when it cannot. */
MUST_USE enum err db_begin(struct db *db, struct fault *reterr);
MUST_USE enum err db_snapshot(struct db *db, struct fault *reterr);
MUST_USE enum err db_commit(struct db *db, struct fault *reterr);
void db_rollback(struct db *db); /* nothing when there is none */

/* db_confirm: outside a transaction: what is there to be read is as safe as a commit makes it. A server that waits for standbys may hold
 * what the standbys have not got, when whoever wrote it was cut off while it waited: before anyone is told that something stands already,
 * it is waited for again. db_commit does the same, also when nothing was written. */
MUST_USE enum err db_confirm(struct db *db, struct fault *reterr);

/* db_log_room: called before entry seq of the log is written, in the same transaction: PostgreSQL's log is cut into partitions by seq. */
MUST_USE enum err db_log_room(struct db *db, int64_t seq, struct fault *reterr);

/* db_copy: everything as of the present snapshot into a new file at path, complete on the disk when
 * it returns. step (may be NULL) is told pages done and in all. */
MUST_USE enum err db_copy(struct db *db, const char *path,
                          void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                          struct fault *reterr);

/* db_check_file: whether the file itself is sound (SQLite's integrity_check) and every row that a
 * row names is there (foreign_key_check; is_key); tell is called with a sentence for each thing
 * found, at most max of either kind. */
typedef void db_tell(void *me, bool is_key, const char *text);
MUST_USE enum err db_check_file(struct db *db, int max, db_tell *tell, void *me,
                                struct fault *reterr);

#endif

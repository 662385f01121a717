/* store_pg: what the files of the PostgreSQL connection share. Inside src/store/store_pg*.c; they alone see libpq.
 *
 * Everything goes through libpq's pipeline mode. What writes within a transaction is sent and not waited for; its result is looked at when
 * something is asked for, or at the commit: a claim of a hundred rows costs a handful of turns, not a hundred. */
#ifndef STORE_STORE_PG_H
#define STORE_STORE_PG_H

#include "store/db_ops.h"

#include <libpq-fe.h>

enum {
    PG_PARAMS_MAX = 32, /* values of one statement */
    PG_QUEUE_MAX = 512, /* statements on their way before their results are looked at */
    PG_INT_ROOM = 24,
    PG_SCHEMA_ROOM = 64, /* PostgreSQL's names have at most 63 bytes */
    PG_FETCH_FIRST = 64, /* rows of a cursor at a time, at first, and at most */
    PG_FETCH_MAX = 2048,
    PG_FETCH_BYTES = 4 * 1024 * 1024
};

/* A statement of this connection. */
struct pg_slot {
    const char *sql; /* found by address */
    char *text;      /* as PostgreSQL wants it */
    int number;      /* of its name there */
    bool writes, is_many;
    bool is_prepared, is_asked; /* asked: the request to prepare it is on its way */
    int n_bound;
    Oid types[PG_PARAMS_MAX];
    const char *values[PG_PARAMS_MAX];
    int sizes[PG_PARAMS_MAX], formats[PG_PARAMS_MAX];
    char ints[PG_PARAMS_MAX][PG_INT_ROOM];
    bool has_run, is_cursor, is_over; /* over: the cursor has no more */
    int n_fetch, row;
    PGresult *result, *shape; /* shape: its columns, when they were asked for before the rows */
    char cell[PG_INT_ROOM];   /* a number as text */
};

struct pg {
    struct db db;
    PGconn *conn;
    char *uri;
    char schema[PG_SCHEMA_ROOM];
    int64_t log_part; /* of a new store: entries of the log in one partition */
    enum db_mode mode;
    bool is_in, is_snapshot; /* in a transaction; one that reads only */
    bool is_alone;           /* the server told that it left off waiting for its standbys */
    bool waits;              /* for its standbys: after DB_BUSY_MS it is told to leave off */
    int64_t room_end;        /* the first entry of the log that has no partition; 0: not known */
    struct {
        struct pg_slot *slot;
        bool is_prepare;
    } queue[PG_QUEUE_MAX + 8];
    int n_queue;
    bool is_synced; /* all of the queue is sent and its end marked; only to be read */
    struct pg_slot *slots[DB_SQL_MAX];
    int n_slots;
};

struct pg *pg_of(struct db *db);

/* ---- store_pg.c: the connection -------------------------------------------------------------- */

/* Connects anew when the connection broke off and nothing is lost by it. */
MUST_USE enum err pg_ready(struct pg *pg, struct fault *f);

/* ---- store_pg_run.c: statements and their way there -------------------------------------------- */

/* A plain statement onto the queue. */
bool pg_send(struct pg *pg, const char *text);
/* Sends all there is, reads every result, keeps the last one with rows for *ret_last (may be NULL). */
enum err pg_settle(struct pg *pg, PGresult **ret_last, struct fault *f);
/* Sends all there is and leaves the results for later. */
void pg_part(struct pg *pg);
/* Statements one after the other without values, outside the queue. */
MUST_USE enum err pg_exec(struct pg *pg, const char *text, struct fault *f);
/* Nothing is prepared any longer, nothing on its way. */
void pg_forget(struct pg *pg);
void pg_rest_all(struct pg *pg);

enum err pg_say(struct pg *pg, const PGresult *result, struct fault *f);

struct db_use pg_use(struct db *db, const char *sql, bool is_many);
void pg_bind_int(struct db_use *u, int64_t value);
void pg_bind_real(struct db_use *u, double value);
void pg_bind_null(struct db_use *u);
void pg_bind_text(struct db_use *u, const char *value, size_t n);
void pg_bind_blob(struct db_use *u, const void *bytes, size_t n);
enum err pg_next(struct db_use *u, bool *ret_row, struct fault *f);
enum err pg_end(struct db_use *u, struct fault *f);
void pg_rest(struct db_use *u);
/* Asks for its columns before it is run. */
void pg_describe(struct db_use *u);

/* ---- store_pg_col.c: columns --------------------------------------------------------------------- */

enum db_kind pg_kind(const struct db_use *u, int i);
int64_t pg_col_int(const struct db_use *u, int i);
double pg_col_real(const struct db_use *u, int i);
const char *pg_col_text(const struct db_use *u, int i, size_t *ret_n);
const uint8_t *pg_col_blob(const struct db_use *u, int i, size_t *ret_n);
int pg_cols(const struct db_use *u);
const char *pg_col_name(const struct db_use *u, int i);

#endif

/* store_pg: owns the connection to PostgreSQL: where it goes, what it is set to, transactions and who may write. Statements are
 * store_pg_run.c's. */
#include "store/store_pg.h"

#include "base/text.h"
#include "store/pg_sql.h"
#include "store/place.h"

#include <inttypes.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_VERSION = 130000, LOCK_KIND = 0x4d575254 /* "MWRT" */ };

struct pg *pg_of(struct db *db)
{
    return (struct pg *)db;
}

/* ---- connecting ---------------------------------------------------------------------------- */

/* Warnings are not for people here, but one: the server left off waiting for its standbys (someone told it to), and says COMMIT all the
 * same. The function's name is PostgreSQL's (src/backend/replication/syncrep.c); the sentence would be in the server's language. */
static void see_notice(void *me, const PGresult *result)
{
    struct pg *pg = me;
    const char *from = PQresultErrorField(result, PG_DIAG_SOURCE_FUNCTION);
    if (from != NULL && strcmp(from, "SyncRepWaitForLSN") == 0)
        pg->is_alone = true;
}

static enum err check_server(struct pg *pg, struct fault *f)
{
    const char *encoding = PQparameterStatus(pg->conn, "server_encoding");
    const int version = PQserverVersion(pg->conn);
    if (version < LEAST_VERSION)
        return fault_set(f, ERR_TYPE, "the server is PostgreSQL %d; expected 13 or later",
                         version / 10000);
    if (encoding == NULL || strcmp(encoding, "UTF8") != 0)
        return fault_set(f, ERR_TYPE, "the database is in %s; expected one made with UTF8",
                         encoding != NULL ? encoding : "an unknown encoding");
    return ERR_OK;
}

/* What the connection is set to, whatever the server's own settings are. Acknowledged is what is on the disk: a server that is set to
 * say so earlier is not taken at its word. */
static enum err set_up(struct pg *pg, struct fault *f)
{
    char sql[640];
    PQsetNoticeReceiver(pg->conn, see_notice, pg);
    enum err err = check_server(pg, f);
    if (err != ERR_OK)
        return err;
    snprintf(sql, sizeof sql,
             "SET search_path TO \"%s\"; SET lock_timeout TO %d; SET jit TO off;"
             "SET default_transaction_isolation TO 'read committed';"
             "SET default_transaction_read_only TO %s; SET statement_timeout TO 0;"
             "SET standard_conforming_strings TO on; SET client_min_messages TO warning;"
             "SELECT set_config('synchronous_commit', 'on', false) "
             "WHERE current_setting('synchronous_commit') = 'off'",
             pg->schema, (int)DB_BUSY_MS, pg->mode == DB_READ ? "on" : "off");
    return pg_exec(pg, sql, f);
}

static bool is_list(const PQconninfoOption *o)
{
    return (strcmp(o->keyword, "host") == 0 || strcmp(o->keyword, "hostaddr") == 0) &&
           o->val != NULL && strchr(o->val, ',') != NULL;
}

/* Whether the address names more than one host. */
static bool has_hosts(const char *uri)
{
    bool ret = false;
    PQconninfoOption *all =
        PQconninfoParse(uri, NULL); /* what is wrong with it, connecting tells */
    for (const PQconninfoOption *o = all; o != NULL && o->keyword != NULL; o++)
        ret |= is_list(o);
    PQconninfoFree(all);
    return ret;
}

/* What stands before the address is used where it says nothing else. Of several hosts the one is meant that takes what is written; a host
 * that is gone without a word (its power, a cable) is noticed within a minute. */
static enum err connect_to(struct pg *pg, struct fault *f)
{
    static const char *const keys[] = {"connect_timeout",
                                       "keepalives_idle",
                                       "keepalives_interval",
                                       "keepalives_count",
                                       "tcp_user_timeout",
                                       "target_session_attrs",
                                       "dbname",
                                       "fallback_application_name",
                                       "client_encoding",
                                       NULL};
    const char *const values[] = {
        "10",    "20",         "10",   "3", "30000", has_hosts(pg->uri) ? "primary" : "any",
        pg->uri, "mendwright", "UTF8", NULL};
    pg->conn = PQconnectdbParams(keys, values, 1);
    if (pg->conn == NULL)
        return fault_no_memory(f);
    if (PQstatus(pg->conn) == CONNECTION_OK)
        return set_up(pg, f);
    const char *why = PQerrorMessage(pg->conn);
    return fault_set(f, ERR_IO, "the database cannot be reached: %.*s", (int)strcspn(why, "\n"),
                     why);
}

/* Whether the connection still stands. A server that ended it said why first: that is read, and then the end that stands behind it. */
static bool still_stands(struct pg *pg)
{
    enum { MESSAGES_MAX = 16 };
    for (int i = 0; i < MESSAGES_MAX && PQstatus(pg->conn) == CONNECTION_OK; i++) {
        struct pollfd now = {.fd = PQsocket(pg->conn), .events = POLLIN};
        if (PQconsumeInput(pg->conn) != 1 || PQstatus(pg->conn) != CONNECTION_OK)
            return false;
        if (poll(&now, 1, 0) <= 0)
            return true;
    }
    return false;
}

enum err pg_ready(struct pg *pg, struct fault *f)
{
    if (still_stands(pg))
        return ERR_OK;
    pg_forget(pg);
    pg_rest_all(pg);
    PQreset(pg->conn);
    if (PQstatus(pg->conn) == CONNECTION_OK)
        return set_up(pg, f);
    const char *why = PQerrorMessage(pg->conn);
    return fault_set(f, ERR_IO,
                     "the database server cannot be reached just now (%.*s); try again in a moment",
                     (int)strcspn(why, "\n"), why);
}

/* The one number of a query without values, by the plain way. */
static enum err ask_int(struct pg *pg, const char *sql, int64_t *ret, struct fault *f)
{
    PGresult *r = NULL;
    *ret = 0;
    enum err err = pg->is_in ? ERR_OK : pg_ready(pg, f);
    if (err == ERR_OK && !pg_send(pg, sql))
        err = pg_say(pg, NULL, f);
    if (err == ERR_OK)
        err = pg_settle(pg, &r, f);
    if (err == ERR_OK && r != NULL && PQntuples(r) > 0) {
        struct pg_slot slot = {.result = r};
        const struct db_use u = {.db = &pg->db, .statement = &slot};
        *ret = pg_col_int(&u, 0);
    }
    PQclear(r);
    return err;
}

static enum err has_meta(struct pg *pg, bool *ret, struct fault *f)
{
    int64_t n = 0;
    const enum err err = ask_int(
        pg,
        "SELECT count(*) FROM pg_class AS c JOIN pg_namespace AS n ON n.oid = c.relnamespace "
        "WHERE n.nspname = current_schema() AND c.relname = 'meta'",
        &n, f);
    *ret = n > 0;
    return err;
}

static enum err find(struct pg *pg, const char *path, struct fault *f)
{
    bool is_there = false;
    enum err err = place_server(path, &pg->uri, pg->schema, &pg->log_part, f);
    if (err == ERR_OK)
        err = connect_to(pg, f);
    if (err != ERR_OK || pg->mode == DB_CREATE)
        return err;
    err = has_meta(pg, &is_there, f);
    return err != ERR_OK || is_there
               ? err
               : fault_set(f, ERR_OPEN,
                           "there is no store here; `mendwright store init` makes one");
}

static void pg_rollback(struct db *db);

static void pg_close(struct db *db)
{
    struct pg *pg = pg_of(db);
    struct fault unused = {0};
    pg_rollback(db);
    (void)pg_settle(pg, NULL,
                    &unused); /* or the server would speak to nobody, and complain of it */
    pg_rest_all(pg);
    for (int i = 0; i < pg->n_slots; i++) {
        free(pg->slots[i]->text);
        free(pg->slots[i]);
    }
    if (pg->conn != NULL)
        PQfinish(pg->conn);
    free(pg->uri);
    free(pg);
}

static enum err pg_open(const char *path, enum db_mode mode, struct db **ret, struct fault *f)
{
    struct pg *pg = calloc(1, sizeof *pg);
    if (pg == NULL)
        return fault_no_memory(f);
    pg->db.ops = &db_pg;
    pg->mode = mode;
    const enum err err = find(pg, path, f);
    if (err == ERR_OK)
        *ret = &pg->db;
    else
        pg_close(&pg->db);
    return err;
}

/* ---- scripts and marks --------------------------------------------------------------------- */

static enum err pg_script(struct db *db, const char *sql, struct fault *f)
{
    struct pg *pg = pg_of(db);
    struct text text = {0};
    enum err err = pg->is_in ? ERR_OK : pg_ready(pg, f);
    pg_sql(sql, &text);
    if (err == ERR_OK && text.is_broken)
        err = fault_no_memory(f);
    if (err == ERR_OK && text.size > 0)
        err = pg_exec(pg, text.data, f);
    text_done(&text);
    return err;
}

static enum err pg_count_objects(struct db *db, int64_t *ret, struct fault *f)
{
    return ask_int(pg_of(db),
                   "SELECT count(*) FROM pg_class AS c JOIN pg_namespace AS n ON n.oid = "
                   "c.relnamespace WHERE n.nspname = current_schema()",
                   ret, f);
}

static enum err pg_marks(struct db *db, int64_t *ret_application, int64_t *ret_version,
                         struct fault *f)
{
    struct pg *pg = pg_of(db);
    bool is_there = false;
    *ret_application = *ret_version = 0;
    enum err err = has_meta(pg, &is_there, f);
    if (err == ERR_OK && is_there)
        err = ask_int(pg, "SELECT application FROM meta", ret_application, f);
    if (err == ERR_OK && is_there)
        err = ask_int(pg, "SELECT version FROM meta", ret_version, f);
    return err;
}

static enum err pg_mark(struct db *db, int64_t application, int64_t version, struct fault *f)
{
    struct pg *pg = pg_of(db);
    char sql[640];
    snprintf(sql, sizeof sql,
             "CREATE TABLE IF NOT EXISTS meta (is_one BOOLEAN PRIMARY KEY CHECK (is_one), "
             "application BIGINT NOT NULL, version BIGINT NOT NULL, log_part BIGINT NOT NULL);"
             "INSERT INTO meta VALUES (true, %" PRId64 ", %" PRId64 ", %" PRId64
             ") ON CONFLICT (is_one) DO UPDATE SET application = excluded.application, "
             "version = excluded.version",
             application, version, pg->log_part);
    return pg_exec(pg, sql, f);
}

/* ---- transactions -------------------------------------------------------------------------- */

/* FNV-1a, 32 bits. */
static int32_t hash_of(const char *s)
{
    uint32_t hash = 2166136261U;
    for (; *s != '\0'; s++)
        hash = (hash ^ (unsigned char)*s) * 16777619U;
    return (int32_t)hash;
}

static void pg_rollback(struct db *db)
{
    struct pg *pg = pg_of(db);
    struct fault unused = {0};
    if (!pg->is_in)
        return;
    pg->is_in = false;
    pg->room_end = 0;
    pg_rest_all(pg);
    if (pg->is_snapshot && PQtransactionStatus(pg->conn) != PQTRANS_INERROR &&
        pg_send(pg, "ROLLBACK")) {
        pg_part(pg); /* nothing hangs on it: its result is looked at before the next statement */
        return;
    }
    /* A statement that failed on the queue takes the first one with it. */
    for (int i = 0; i < 2; i++)
        if (pg_send(pg, "ROLLBACK") && pg_settle(pg, NULL, &unused) == ERR_OK)
            return;
}

/* The schema, which a first writer makes, and the one writer's right, until the transaction's end. */
static enum err pg_begin(struct db *db, struct fault *f)
{
    struct pg *pg = pg_of(db);
    char lock[128], make[PG_SCHEMA_ROOM + 64];
    enum err err = pg_ready(pg, f);
    if (err != ERR_OK)
        return err;
    snprintf(lock, sizeof lock, "SELECT pg_advisory_xact_lock(%d, %d)", (int)LOCK_KIND,
             (int)hash_of(pg->schema));
    snprintf(make, sizeof make, "CREATE SCHEMA IF NOT EXISTS \"%s\"", pg->schema);
    pg->is_in = true;
    pg->is_snapshot = false;
    bool was_sent = pg_send(pg, "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE") &&
                    pg_send(pg, lock) && (pg->mode != DB_CREATE || pg_send(pg, make));
    err = was_sent ? pg_settle(pg, NULL, f) : pg_say(pg, NULL, f);
    if (err != ERR_OK)
        pg_rollback(db);
    return err;
}

static enum err pg_snapshot(struct db *db, struct fault *f)
{
    struct pg *pg = pg_of(db);
    const enum err err = pg_ready(pg, f);
    if (err != ERR_OK)
        return err;
    /* Goes along with the first query, whose moment is then the snapshot's. */
    if (!pg_send(pg, "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"))
        return pg_say(pg, NULL, f);
    pg->is_in = pg->is_snapshot = true;
    return ERR_OK;
}

/* A commit waits for standbys only when it wrote, and then for all that was written before it. So that it waits in any case, something
 * is: some bytes for the standbys that stand in no table. Nothing where nobody is waited for. */
static const char to_standbys[] =
    "SELECT CASE WHEN current_setting('synchronous_standby_names') <> '' AND NOT "
    "pg_is_in_recovery() THEN pg_logical_emit_message(true, 'mendwright', '') END";

static enum err say_alone(struct fault *f)
{
    return fault_set(f, ERR_IO,
                     "the database server's standby does not answer: what was sent may stand or "
                     "not; send it again, which changes nothing when it stands");
}

static enum err pg_confirm(struct db *db, struct fault *f)
{
    struct pg *pg = pg_of(db);
    if (pg->is_in) /* its commit confirms */
        return ERR_OK;
    enum err err = pg_ready(pg, f);
    pg->is_alone = false;
    pg->waits = true;
    if (err == ERR_OK)
        err = pg_send(pg, to_standbys) ? pg_settle(pg, NULL, f) : pg_say(pg, NULL, f);
    pg->waits = false;
    return err == ERR_OK && pg->is_alone ? say_alone(f) : err;
}

static enum err pg_commit(struct db *db, struct fault *f)
{
    struct pg *pg = pg_of(db);
    PGresult *r = NULL;
    pg_rest_all(pg);
    pg->is_alone = false;
    pg->waits = true;
    enum err err = pg_send(pg, to_standbys) && pg_send(pg, "COMMIT") ? pg_settle(pg, &r, f)
                                                                     : pg_say(pg, NULL, f);
    pg->waits = false;
    /* After an error that nobody asked about it says ROLLBACK, and means it. */
    if (err == ERR_OK && strcmp(PQcmdStatus(r), "COMMIT") != 0)
        err = fault_set(f, ERR_IO, "the database took the whole change back; nothing was changed");
    PQclear(r);
    if (err == ERR_OK)
        pg->is_in = false;
    if (err == ERR_OK && pg->is_alone)
        return say_alone(f);
    else if (PQstatus(pg->conn) != CONNECTION_OK)
        err = fault_set(f, ERR_IO,
                        "the database server broke off while it was writing: what was sent may "
                        "stand or not; send it again, which changes nothing when it stands");
    if (err != ERR_OK)
        pg_rollback(db);
    return err;
}

/* ---- the log's partitions ------------------------------------------------------------------ */

static enum err make_part(struct pg *pg, int64_t number, int64_t width, struct fault *f)
{
    char sql[512];
    const int64_t first = number * width + 1;
    snprintf(sql, sizeof sql,
             "CREATE TABLE log_p%" PRId64 " (LIKE log INCLUDING DEFAULTS INCLUDING CONSTRAINTS);"
             "ALTER TABLE log ATTACH PARTITION log_p%" PRId64 " FOR VALUES FROM (%" PRId64
             ") TO (%" PRId64 ")",
             number, number, first, first + width);
    return pg_exec(pg, sql, f);
}

static enum err pg_log_room(struct db *db, int64_t seq, struct fault *f)
{
    struct pg *pg = pg_of(db);
    char sql[256];
    int64_t width = 0, n = 0;
    if (seq < pg->room_end)
        return ERR_OK;
    enum err err = ask_int(pg, "SELECT log_part FROM meta", &width, f);
    if (err != ERR_OK)
        return err;
    if (width < 1)
        return fault_set(f, ERR_SYNTAX, "the width of the log's partitions is not known");
    const int64_t number = (seq - 1) / width;
    snprintf(sql, sizeof sql,
             "SELECT count(*) FROM pg_inherits WHERE inhparent = 'log'::regclass AND inhrelid = "
             "to_regclass('log_p%" PRId64 "')",
             number);
    err = ask_int(pg, sql, &n, f);
    if (err == ERR_OK && n == 0)
        err = make_part(pg, number, width, f);
    if (err == ERR_OK)
        pg->room_end = (number + 1) * width + 1;
    return err;
}

/* ---- looking after it ---------------------------------------------------------------------- */

static enum err pg_copy(struct db *db, const char *path,
                        void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                        struct fault *f)
{
    (void)db;
    (void)path;
    (void)step;
    (void)me;
    return fault_set(f, ERR_DOMAIN,
                     "lies in PostgreSQL; `mendwright store copy` makes a folder of it");
}

/* What PostgreSQL itself says is not in force. Its pages are the server's business (data checksums, pg_amcheck). */
static enum err pg_check_file(struct db *db, int max, db_tell *tell, void *me, struct fault *f)
{
    static const char sql[] =
        "SELECT 'the constraint ' || conname || ' is not in force' FROM pg_constraint WHERE "
        "connamespace = to_regnamespace(current_schema()::text) AND NOT convalidated UNION ALL "
        "SELECT 'the index ' || c.relname || ' is not whole' FROM pg_index AS i JOIN pg_class AS "
        "c ON c.oid = i.indexrelid WHERE c.relnamespace = "
        "to_regnamespace(current_schema()::text) AND NOT i.indisvalid UNION ALL SELECT 'the "
        "trigger ' || t.tgname || ' is switched off' FROM pg_trigger AS t JOIN pg_class AS c ON "
        "c.oid = t.tgrelid WHERE c.relnamespace = to_regnamespace(current_schema()::text) AND "
        "t.tgenabled = 'D'";
    struct db_use u = pg_use(db, sql, false);
    bool has_row = true;
    enum err err = ERR_OK;
    for (int n = 0; n < max; n++) {
        err = pg_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        tell(me, false, pg_col_text(&u, 0, NULL));
    }
    db_rest(&u);
    return err;
}

const struct db_ops db_pg = {
    .dialect = DB_POSTGRESQL,
    .open = pg_open,
    .close = pg_close,
    .script = pg_script,
    .marks = pg_marks,
    .mark = pg_mark,
    .count_objects = pg_count_objects,
    .use = pg_use,
    .bind_int = pg_bind_int,
    .bind_real = pg_bind_real,
    .bind_null = pg_bind_null,
    .bind_text = pg_bind_text,
    .bind_blob = pg_bind_blob,
    .next = pg_next,
    .end = pg_end,
    .rest = pg_rest,
    .kind = pg_kind,
    .col_int = pg_col_int,
    .col_real = pg_col_real,
    .col_text = pg_col_text,
    .col_blob = pg_col_blob,
    .cols = pg_cols,
    .col_name = pg_col_name,
    .begin = pg_begin,
    .snapshot = pg_snapshot,
    .commit = pg_commit,
    .rollback = pg_rollback,
    .confirm = pg_confirm,
    .log_room = pg_log_room,
    .copy = pg_copy,
    .check_file = pg_check_file,
};

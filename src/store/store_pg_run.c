/* store_pg_run: owns statements on a PostgreSQL connection: their way there, their results' way back, and the words for what went wrong. */
#include "store/pg_sql.h"
#include "store/store_pg.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CODE_MEMORY = 1, CODE_VALUES };

static struct pg_slot *slot_of(const struct db_use *u)
{
    return u->statement;
}

/* ---- what went wrong, in words ------------------------------------------------------------- */

static bool is_class(const char *state, const char *class)
{
    return strncmp(state, class, strlen(class)) == 0;
}

static enum err say_gone(struct fault *f, const char *why)
{
    return fault_set(f, ERR_IO,
                     "the database server broke off (%.*s); what was acknowledged is kept; try "
                     "again in a moment",
                     (int)strcspn(why, "\n"), why);
}

/* SQLSTATEs: PostgreSQL 15, appendix A. */
enum err pg_say(struct pg *pg, const PGresult *result, struct fault *f)
{
    const char *state = result != NULL ? PQresultErrorField(result, PG_DIAG_SQLSTATE) : NULL;
    const char *text = result != NULL ? PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY) : NULL;
    if (state == NULL || text == NULL)
        return say_gone(f, pg->conn != NULL ? PQerrorMessage(pg->conn) : "no connection");
    if (is_class(state, "57P") || is_class(state, "08") || is_class(state, "53300"))
        return say_gone(f, text);
    if (is_class(state, "57014"))
        return fault_set(f, ERR_IO,
                         "the database server was told to leave off; nothing was changed; try "
                         "again in a moment");
    if (is_class(state, "53100"))
        return fault_set(f, ERR_IO,
                         "there is no room left on the server's disk; nothing was changed");
    if (is_class(state, "53200"))
        return fault_set(f, ERR_MEMORY, "the database server's memory ran out");
    if (is_class(state, "40001") && pg->is_snapshot)
        return fault_set(f, ERR_IO,
                         "the standby ended the reading to keep up with its primary; try again "
                         "(hot_standby_feedback, max_standby_streaming_delay)");
    if (is_class(state, "55P03") || is_class(state, "40"))
        return fault_set(f, ERR_IO,
                         "another program has been writing to the store for %d s; try again later",
                         DB_BUSY_MS / 1000);
    if (is_class(state, "25006"))
        return fault_set(f, ERR_IO, "the store may only be read, not written");
    if (is_class(state, "42501"))
        return fault_set(f, ERR_IO, "the database does not let this role do it: %s", text);
    if (is_class(state, "23505"))
        return fault_set(f, ERR_DUPLICATE, "the store refuses it: %s", text);
    if (is_class(state, "23") || is_class(state, "P0001"))
        return fault_set(f, ERR_DOMAIN, "the store refuses it: %s", text);
    if (is_class(state, "XX001") || is_class(state, "XX002"))
        return fault_set(f, ERR_SYNTAX, "the database is damaged (%s); restore a backup", text);
    return fault_set(f, ERR_IO, "the database cannot be used: %s (%s)", text, state);
}

static enum err say_code(int code, struct fault *f)
{
    return code == CODE_VALUES
               ? fault_set(f, ERR_LIMIT, "a statement has more than %d values", (int)PG_PARAMS_MAX)
               : fault_no_memory(f);
}

/* ---- the queue ----------------------------------------------------------------------------- */

static bool is_broken(const struct pg *pg)
{
    return pg->conn == NULL || PQstatus(pg->conn) != CONNECTION_OK;
}

static bool is_good(const PGresult *r)
{
    const ExecStatusType status = PQresultStatus(r);
    return status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK;
}

/* While the server waits for its standbys: no longer than for another writer. Then it is told to leave off, and says so. */
static void hold(struct pg *pg)
{
    char unused[256];
    while (pg->waits && PQisBusy(pg->conn) == 1) {
        struct pollfd wait = {.fd = PQsocket(pg->conn), .events = POLLIN};
        const int n = poll(&wait, 1, DB_BUSY_MS);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            PGcancel *cancel = PQgetCancel(pg->conn);
            (void)PQcancel(cancel, unused, sizeof unused); /* NULL is fine; then it is waited for */
            PQfreeCancel(cancel);
            pg->waits = false;
        } else if (PQconsumeInput(pg->conn) != 1) {
            return; /* broken off, which the next call tells */
        }
    }
}

static PGresult *next_result(struct pg *pg)
{
    hold(pg);
    return PQgetResult(pg->conn);
}

/* Every result of the one statement that stands first. */
static PGresult *take_result(struct pg *pg)
{
    PGresult *last = NULL, *r;
    while ((r = next_result(pg)) != NULL) {
        PQclear(last);
        last = r;
        if (is_broken(pg))
            break;
    }
    return last;
}

/* Reads the results of all that was sent. */
static enum err drain(struct pg *pg, PGresult **ret_last, struct fault *f)
{
    enum err err = ERR_OK;
    const int n = pg->n_queue;
    pg->n_queue = 0;
    pg->is_synced = false;
    for (int i = 0; i < n && !is_broken(pg); i++) {
        PGresult *r = take_result(pg);
        const bool was_good = is_good(r);
        if (pg->queue[i].is_prepare) {
            pg->queue[i].slot->is_asked = false;
            pg->queue[i].slot->is_prepared = was_good;
        }
        if (!was_good && err == ERR_OK && PQresultStatus(r) != PGRES_PIPELINE_ABORTED)
            err = pg_say(pg, r, f);
        if (was_good && ret_last != NULL && i == n - 1)
            *ret_last = r;
        else
            PQclear(r);
    }
    if (!is_broken(pg))
        PQclear(PQgetResult(pg->conn)); /* the mark of the queue's end */
    if (!is_broken(pg))
        return err;
    if (err == ERR_OK)
        err = pg_say(pg, NULL, f);
    if (ret_last != NULL) {
        PQclear(*ret_last);
        *ret_last = NULL;
    }
    pg_forget(pg);
    return err;
}

void pg_part(struct pg *pg)
{
    if (!pg->is_synced && pg->n_queue > 0 && !is_broken(pg))
        pg->is_synced = PQpipelineSync(pg->conn) == 1;
}

enum err pg_settle(struct pg *pg, PGresult **ret_last, struct fault *f)
{
    if (ret_last != NULL)
        *ret_last = NULL;
    if (pg->n_queue == 0)
        return is_broken(pg) ? pg_say(pg, NULL, f) : ERR_OK;
    pg_part(pg);
    return drain(pg, ret_last, f);
}

/* Ready for one more statement. */
static bool enter(struct pg *pg)
{
    struct fault unused = {0};
    if (pg->is_synced) /* what was left for later: the end of a reading, which nobody asks about */
        (void)drain(pg, NULL, &unused);
    if (is_broken(pg))
        return false;
    return PQpipelineStatus(pg->conn) != PQ_PIPELINE_OFF || PQenterPipelineMode(pg->conn) == 1;
}

static bool push(struct pg *pg, struct pg_slot *slot, bool is_prepare, int was_sent)
{
    if (was_sent != 1 || pg->n_queue >= PG_QUEUE_MAX + 8)
        return false;
    pg->queue[pg->n_queue].slot = slot;
    pg->queue[pg->n_queue++].is_prepare = is_prepare;
    return true;
}

bool pg_send(struct pg *pg, const char *text)
{
    return enter(pg) &&
           push(pg, NULL, false, PQsendQueryParams(pg->conn, text, 0, NULL, NULL, NULL, NULL, 1));
}

enum err pg_exec(struct pg *pg, const char *text, struct fault *f)
{
    enum err err = ERR_OK;
    if (pg->n_queue > 0)
        err = pg_settle(pg, NULL, f);
    if (err != ERR_OK)
        return err;
    if (!is_broken(pg) && PQpipelineStatus(pg->conn) != PQ_PIPELINE_OFF)
        (void)PQexitPipelineMode(pg->conn);
    PGresult *r = PQexec(pg->conn, text);
    if (!is_good(r))
        err = pg_say(pg, r, f);
    PQclear(r);
    return err;
}

void pg_forget(struct pg *pg)
{
    pg->n_queue = 0;
    pg->is_synced = false;
    pg->room_end = 0;
    for (int i = 0; i < pg->n_slots; i++)
        pg->slots[i]->is_prepared = pg->slots[i]->is_asked = false;
}

/* ---- statements ---------------------------------------------------------------------------- */

static bool writes(const char *text)
{
    return strncmp(text, "SELECT", 6) != 0;
}

static struct pg_slot *new_slot(struct pg *pg, const char *sql)
{
    struct text text = {0};
    struct pg_slot *s = calloc(1, sizeof *s);
    if (s == NULL || pg->n_slots == DB_SQL_MAX) {
        free(s);
        return NULL;
    }
    pg_sql(sql, &text);
    if (text.is_broken || text.data == NULL) {
        text_done(&text);
        free(s);
        return NULL;
    }
    s->sql = sql;
    s->text = text.data; /* the slot's own from here on */
    s->number = pg->n_slots;
    s->writes = writes(s->text);
    pg->slots[pg->n_slots++] = s;
    return s;
}

struct db_use pg_use(struct db *db, const char *sql, bool is_many)
{
    struct pg *pg = pg_of(db);
    struct db_use u = {.db = db};
    struct pg_slot *s = NULL;
    for (int i = 0; i < pg->n_slots && s == NULL; i++)
        if (pg->slots[i]->sql == sql && !pg->slots[i]->has_run)
            s = pg->slots[i];
    if (s == NULL)
        s = new_slot(pg, sql);
    if (s == NULL) {
        u.code = CODE_MEMORY;
        return u;
    }
    s->is_many = is_many;
    s->n_bound = 0;
    u.statement = s;
    return u;
}

static void bind(struct db_use *u, Oid type, const char *value, size_t n, bool is_binary)
{
    struct pg_slot *s = slot_of(u);
    if (u->code != 0)
        return;
    if (s->n_bound == PG_PARAMS_MAX || n > INT32_MAX) {
        u->code = CODE_VALUES;
        return;
    }
    s->types[s->n_bound] = type;
    s->values[s->n_bound] = value;
    s->sizes[s->n_bound] = (int)n;
    s->formats[s->n_bound++] = is_binary;
}

/* Numbers of types as in store_pg_col.c; 0: PostgreSQL finds out. */
void pg_bind_int(struct db_use *u, int64_t value)
{
    struct pg_slot *s = slot_of(u);
    if (u->code != 0 || s->n_bound == PG_PARAMS_MAX) {
        bind(u, 0, NULL, 0, false);
        return;
    }
    char *text = s->ints[s->n_bound];
    snprintf(text, PG_INT_ROOM, "%lld", (long long)value);
    bind(u, 20, text, 0, false);
}

void pg_bind_real(struct db_use *u, double value)
{
    struct pg_slot *s = slot_of(u);
    if (u->code != 0 || s->n_bound == PG_PARAMS_MAX) {
        bind(u, 0, NULL, 0, false);
        return;
    }
    char *text = s->ints[s->n_bound];
    snprintf(text, PG_INT_ROOM, "%.17g", value);
    bind(u, 701, text, 0, false);
}

void pg_bind_null(struct db_use *u)
{
    bind(u, 0, NULL, 0, false);
}

void pg_bind_text(struct db_use *u, const char *value, size_t n)
{
    bind(u, 25, value, n, true);
}

void pg_bind_blob(struct db_use *u, const void *bytes, size_t n)
{
    bind(u, 17, bytes, n, true);
}

static bool send_prepare(struct pg *pg, struct pg_slot *s, const char *name)
{
    if (s->is_prepared || s->is_asked)
        return true;
    s->is_asked = true;
    return push(pg, s, true, PQsendPrepare(pg->conn, name, s->text, s->n_bound, s->types));
}

static bool send_fetch(struct pg *pg, const struct pg_slot *s)
{
    char text[64];
    snprintf(text, sizeof text, "FETCH %d FROM m%d", s->n_fetch, s->number);
    return pg_send(pg, text);
}

static bool send_cursor(struct pg *pg, struct pg_slot *s)
{
    struct text text = {0};
    text_printf(&text, "DECLARE m%d NO SCROLL CURSOR FOR %s", s->number, s->text);
    const bool was_sent = !text.is_broken && enter(pg) &&
                          push(pg, NULL, false,
                               PQsendQueryParams(pg->conn, text.data, s->n_bound, s->types,
                                                 s->values, s->sizes, s->formats, 1));
    text_done(&text);
    s->n_fetch = PG_FETCH_FIRST;
    s->is_over = false;
    return was_sent && send_fetch(pg, s);
}

static bool send_slot(struct pg *pg, struct pg_slot *s)
{
    char name[24];
    snprintf(name, sizeof name, "s%d", s->number);
    s->is_cursor = s->is_many && pg->is_in && !s->writes;
    if (s->is_cursor)
        return send_cursor(pg, s);
    return enter(pg) && send_prepare(pg, s, name) &&
           push(
               pg, NULL, false,
               PQsendQueryPrepared(pg->conn, name, s->n_bound, s->values, s->sizes, s->formats, 1));
}

/* Sends it, and waits for its first rows when they are asked for. */
static enum err run(struct db_use *u, bool waits, struct fault *f)
{
    struct pg *pg = pg_of(u->db);
    struct pg_slot *s = slot_of(u);
    if (u->code != 0)
        return say_code(u->code, f);
    const enum err err = pg->is_in ? ERR_OK : pg_ready(pg, f);
    if (err != ERR_OK)
        return err;
    if (!send_slot(pg, s))
        return pg_say(pg, NULL, f);
    if (!waits && pg->n_queue < PG_QUEUE_MAX)
        return ERR_OK;
    PQclear(s->result);
    return pg_settle(pg, &s->result, f);
}

/* The cursor's next rows: as many as went into the room that is meant for them. */
static enum err fetch(struct db_use *u, struct fault *f)
{
    struct pg *pg = pg_of(u->db);
    struct pg_slot *s = slot_of(u);
    const size_t bytes = PQresultMemorySize(s->result);
    s->is_over = PQntuples(s->result) < s->n_fetch;
    if (s->is_over)
        return ERR_OK;
    if (bytes > PG_FETCH_BYTES && s->n_fetch > 1)
        s->n_fetch /= 2;
    else if (bytes < PG_FETCH_BYTES / 2 && s->n_fetch < PG_FETCH_MAX)
        s->n_fetch *= 2;
    if (!send_fetch(pg, s))
        return pg_say(pg, NULL, f);
    PQclear(s->result);
    s->result = NULL;
    s->row = 0;
    return pg_settle(pg, &s->result, f);
}

enum err pg_next(struct db_use *u, bool *ret_row, struct fault *f)
{
    struct pg_slot *s = slot_of(u);
    enum err err = ERR_OK;
    *ret_row = false;
    if (s == NULL)
        return say_code(u->code, f);
    if (!s->has_run) {
        err = run(u, true, f);
        if (err == ERR_OK) {
            s->has_run = true;
            s->row = -1;
        }
    }
    if (err == ERR_OK && ++s->row == PQntuples(s->result) && s->is_cursor && !s->is_over)
        err = fetch(u, f);
    *ret_row = err == ERR_OK && s->row < PQntuples(s->result);
    if (!*ret_row)
        db_rest(u);
    return err;
}

enum err pg_end(struct db_use *u, struct fault *f)
{
    const struct pg_slot *s = slot_of(u);
    const struct pg *pg = pg_of(u->db);
    if (s == NULL)
        return say_code(u->code, f);
    const enum err err = s->has_run ? ERR_OK : run(u, !(s->writes && pg->is_in), f);
    db_rest(u);
    return err;
}

void pg_rest(struct db_use *u)
{
    struct pg *pg = pg_of(u->db);
    struct pg_slot *s = slot_of(u);
    char text[32];
    PQclear(s->result);
    PQclear(s->shape);
    s->result = s->shape = NULL;
    if (s->has_run && s->is_cursor && pg->is_in) {
        snprintf(text, sizeof text, "CLOSE m%d", s->number);
        (void)pg_send(pg, text); /* when it cannot be sent, the next statement tells */
    }
    s->has_run = s->is_cursor = false;
}

void pg_rest_all(struct pg *pg)
{
    for (int i = 0; i < pg->n_slots; i++) {
        struct pg_slot *s = pg->slots[i];
        PQclear(s->result);
        PQclear(s->shape);
        s->result = s->shape = NULL;
        s->has_run = s->is_cursor = false;
    }
}

void pg_describe(struct db_use *u)
{
    struct pg *pg = pg_of(u->db);
    struct pg_slot *s = slot_of(u);
    struct fault unused = {0};
    char name[24];
    snprintf(name, sizeof name, "s%d", s->number);
    if (enter(pg) && send_prepare(pg, s, name) &&
        push(pg, NULL, false, PQsendDescribePrepared(pg->conn, name)))
        (void)pg_settle(pg, &s->shape, &unused); /* running it tells what is wrong */
}

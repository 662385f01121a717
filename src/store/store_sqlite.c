/* store_sqlite: owns the connection to SQLite and the words for what can go wrong with it. What the
 * tables are is schema.c's, what stands in them derive.c's. Nothing else sees sqlite3.h. */
#include "store/db.h"

#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum {
    TRY_MS = 2,       /* between tries at what SQLite's own waiting does not cover */
    COPY_PAGES = 512, /* at a time, between two calls of step */
    VALUE_MAX = 64 * 1024 * 1024
};

struct db {
    sqlite3 *sqlite;
    struct {
        const char *sql; /* found by address */
        sqlite3_stmt *statement;
    } cache[DB_SQL_MAX];
    size_t n_cache;
};

/* ---- what went wrong, in words ------------------------------------------------------------- */

static enum err say_full(struct fault *f)
{
    return fault_set(f, ERR_IO, "there is no room left on the disk; nothing was changed");
}

static enum err say(struct db *db, int code, struct fault *f)
{
    const int number = db->sqlite != NULL ? sqlite3_system_errno(db->sqlite) : 0;
    switch (code & 0xff) {
    case SQLITE_FULL:
        return say_full(f);
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return fault_set(f, ERR_IO, "the store may only be read, not written");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return fault_set(f, ERR_IO,
                         "another program has been writing to the store for %d s; try again later",
                         DB_BUSY_MS / 1000);
    case SQLITE_IOERR:
        if (number == ENOSPC || number == EDQUOT)
            return say_full(f);
        return fault_set(f, ERR_IO, "the disk failed: %s",
                         number != 0 ? strerror(number) : sqlite3_errstr(code));
    case SQLITE_CANTOPEN:
        if (number == ENOSPC || number == EDQUOT)
            return say_full(f);
        return fault_set(f, ERR_IO, "the store's file cannot be opened: %s",
                         number != 0 ? strerror(number)
                                     : "it may lie in a folder that may not be written");
    case SQLITE_NOTADB:
        return fault_set(f, ERR_TYPE, "is not a store: the file is no SQLite database");
    case SQLITE_CORRUPT:
        return fault_set(f, ERR_SYNTAX, "the store's file is damaged (%s); restore a backup",
                         sqlite3_errmsg(db->sqlite));
    case SQLITE_NOMEM:
        return fault_set(f, ERR_MEMORY, "memory ran out");
    case SQLITE_CONSTRAINT:
        return fault_set(f,
                         (code == SQLITE_CONSTRAINT_UNIQUE || code == SQLITE_CONSTRAINT_PRIMARYKEY)
                             ? ERR_DUPLICATE
                             : ERR_DOMAIN,
                         "the store refuses it: %s", sqlite3_errmsg(db->sqlite));
    case SQLITE_TOOBIG:
        return fault_set(f, ERR_LIMIT, "a value is larger than %d MiB", VALUE_MAX / 1048576);
    default:
        return fault_set(f, ERR_IO, "the store's file cannot be used: %s",
                         db->sqlite != NULL ? sqlite3_errmsg(db->sqlite) : sqlite3_errstr(code));
    }
}

/* ---- time ---------------------------------------------------------------------------------- */

static int64_t now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static bool is_busy(int code)
{
    return (code & 0xff) == SQLITE_BUSY || (code & 0xff) == SQLITE_LOCKED;
}

/* Waits a little; false when the time is over. */
static bool wait_on(int64_t start_ms)
{
    const struct timespec pause = {.tv_nsec = TRY_MS * 1000000L};
    if (now_ms() - start_ms > DB_BUSY_MS)
        return false;
    nanosleep(&pause, NULL);
    return true;
}

/* SQLite waits by itself in most places; recovery after a crash and the change to WAL are not all
 * among them. */
static int run_patiently(sqlite3 *sqlite, const char *sql)
{
    const int64_t start_ms = now_ms();
    int code;
    do
        code = sqlite3_exec(sqlite, sql, NULL, NULL, NULL);
    while (is_busy(code) && wait_on(start_ms));
    return code;
}

/* ---- opening ------------------------------------------------------------------------------- */

/* On a disk that can only be read, SQLite can make no file for the readers' marks. When no
 * write-ahead log is left over there is also nobody to mark anything for. */
static bool is_still(const char *path)
{
    struct stat st;
    char *name = sqlite3_mprintf("%s-wal", path);
    const bool is_there = name == NULL || (stat(name, &st) == 0 && st.st_size > 0);
    sqlite3_free(name);
    return !is_there;
}

/* path as a URI: what stands for something else there is written as %XX. */
static char *uri_of(const char *path, const char *query)
{
    char *uri = sqlite3_malloc64(3 * strlen(path) + strlen(query) + sizeof "file:");
    if (uri == NULL)
        return NULL;
    char *at = uri + sprintf(uri, "file:");
    for (const char *s = path; *s != '\0'; s++) {
        const bool is_plain = (*s >= 'a' && *s <= 'z') || (*s >= 'A' && *s <= 'Z') ||
                              (*s >= '0' && *s <= '9') || strchr("/._-", *s) != NULL;
        at += sprintf(at, is_plain ? "%c" : "%%%02X", (unsigned char)*s);
    }
    memcpy(at, query, strlen(query) + 1);
    return uri;
}

static int open_file(struct db *db, const char *path, const char *query, int flags)
{
    char *uri = uri_of(path, query);
    if (uri == NULL)
        return SQLITE_NOMEM;
    const int code = sqlite3_open_v2(
        uri, &db->sqlite, flags | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE,
        NULL);
    sqlite3_free(uri);
    if (code != SQLITE_OK)
        return code;
    sqlite3_busy_timeout(db->sqlite, DB_BUSY_MS);
    sqlite3_db_config(db->sqlite, SQLITE_DBCONFIG_DEFENSIVE, 1, (int *)NULL);
    sqlite3_db_config(db->sqlite, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, (int *)NULL);
    sqlite3_limit(db->sqlite, SQLITE_LIMIT_LENGTH, VALUE_MAX);
    return run_patiently(db->sqlite, "PRAGMA foreign_keys = ON; PRAGMA cell_size_check = ON;");
}

/* A look at the file, so that what cannot be read is found here and not by the first statement. */
static int look(struct db *db)
{
    return run_patiently(db->sqlite, "SELECT count(*) FROM sqlite_schema");
}

static int open_to_read(struct db *db, const char *path)
{
    int code = open_file(db, path, "?mode=ro", SQLITE_OPEN_READONLY);
    if (code == SQLITE_OK)
        code = look(db);
    const int kind = code & 0xff;
    if ((kind != SQLITE_CANTOPEN && kind != SQLITE_READONLY) || !is_still(path))
        return code;
    sqlite3_close(db->sqlite);
    db->sqlite = NULL;
    code = open_file(db, path, "?mode=ro&immutable=1", SQLITE_OPEN_READONLY);
    return code == SQLITE_OK ? look(db) : code;
}

/* SQLite says of a file that may not be written, or whose folder may not, only that it cannot be
 * opened. */
static bool may_be_written(const char *path)
{
    const char *slash = strrchr(path, '/');
    char folder[4096];
    snprintf(folder, sizeof folder, "%.*s", slash != NULL ? (int)(slash - path) + 1 : 1,
             slash != NULL ? path : ".");
    return (access(path, W_OK) == 0 || errno == ENOENT) && access(folder, W_OK) == 0;
}

static int open_to_write(struct db *db, const char *path, bool is_new)
{
    int code = open_file(db, path, is_new ? "?mode=rwc" : "?mode=rw",
                         SQLITE_OPEN_READWRITE | (is_new ? SQLITE_OPEN_CREATE : 0));
    if (code == SQLITE_OK)
        code = look(db);
    if (code == SQLITE_OK && sqlite3_db_readonly(db->sqlite, "main") == 1)
        code = SQLITE_READONLY;
    if (code == SQLITE_OK)
        code = run_patiently(db->sqlite, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
    return (code & 0xff) == SQLITE_CANTOPEN && !may_be_written(path) ? SQLITE_READONLY : code;
}

enum err db_open(const char *path, enum db_mode mode, struct db **ret, struct fault *reterr)
{
    struct stat st;
    struct db *db = calloc(1, sizeof *db);
    int code;
    if (db == NULL)
        return fault_set(reterr, ERR_MEMORY, "memory ran out");
    if (mode != DB_SCRATCH && mode != DB_CREATE && stat(path, &st) != 0) {
        free(db);
        return fault_set(reterr, errno == ENOENT || errno == ENOTDIR ? ERR_OPEN : ERR_IO,
                         "there is no store here: %s", strerror(errno));
    }
    if (mode == DB_READ)
        code = open_to_read(db, path);
    else if (mode ==
             DB_SCRATCH) { /* an empty name: a file of its own that SQLite takes away again */
        code = open_file(db, "", "", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
        if (code == SQLITE_OK)
            code =
                run_patiently(db->sqlite, "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;");
    } else
        code = open_to_write(db, path, mode == DB_CREATE);
    if (code == SQLITE_OK) {
        *ret = db;
        return ERR_OK;
    }
    const enum err err = say(db, code, reterr);
    db_close(db);
    return err;
}

void db_close(struct db *db)
{
    if (db == NULL)
        return;
    for (size_t i = 0; i < db->n_cache; i++)
        sqlite3_finalize(db->cache[i].statement);
    sqlite3_close(db->sqlite);
    free(db);
}

enum err db_script(struct db *db, const char *sql, struct fault *reterr)
{
    const int code = run_patiently(db->sqlite, sql);
    return code == SQLITE_OK ? ERR_OK : say(db, code, reterr);
}

static enum err ask_int(struct db *db, const char *sql, int64_t *ret, struct fault *reterr)
{
    bool has_row = false;
    struct db_use u = db_use(db, sql);
    const enum err err = db_next(&u, &has_row, reterr);
    *ret = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    return err;
}

enum err db_marks(struct db *db, int64_t *ret_application, int64_t *ret_version,
                  struct fault *reterr)
{
    const enum err err = ask_int(db, "PRAGMA application_id", ret_application, reterr);
    return err != ERR_OK ? err : ask_int(db, "PRAGMA user_version", ret_version, reterr);
}

enum err db_mark(struct db *db, int64_t application, int64_t version, struct fault *reterr)
{
    char sql[128]; /* a pragma takes no parameters; both are numbers */
    snprintf(sql, sizeof sql, "PRAGMA application_id = %lld; PRAGMA user_version = %lld;",
             (long long)application, (long long)version);
    return db_script(db, sql, reterr);
}

/* ---- statements ---------------------------------------------------------------------------- */

struct db_use db_use(struct db *db, const char *sql)
{
    struct db_use u = {.db = db};
    for (size_t i = 0; i < db->n_cache; i++)
        if (db->cache[i].sql == sql && sqlite3_stmt_busy(db->cache[i].statement) == 0) {
            u.statement = db->cache[i].statement;
            return u;
        }
    sqlite3_stmt *statement = NULL;
    if (db->n_cache == DB_SQL_MAX)
        u.code = SQLITE_NOMEM;
    else
        u.code =
            sqlite3_prepare_v3(db->sqlite, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, NULL);
    if (u.code != SQLITE_OK)
        return u;
    db->cache[db->n_cache].sql = sql;
    db->cache[db->n_cache++].statement = statement;
    u.statement = statement;
    return u;
}

static void keep(struct db_use *u, int code)
{
    if (u->code == SQLITE_OK)
        u->code = code;
}

void db_int(struct db_use *u, int64_t value)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_int64(u->statement, u->n_bound, value));
}

void db_real(struct db_use *u, double value)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_double(u->statement, u->n_bound, value));
}

void db_null(struct db_use *u)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_null(u->statement, u->n_bound));
}

void db_text_n(struct db_use *u, const char *value, size_t n)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u,
             sqlite3_bind_text64(u->statement, u->n_bound, value, n, SQLITE_STATIC, SQLITE_UTF8));
}

void db_text(struct db_use *u, const char *value)
{
    if (value == NULL)
        db_null(u);
    else
        db_text_n(u, value, strlen(value));
}

void db_blob(struct db_use *u, const void *bytes, size_t n)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_blob64(u->statement, u->n_bound, bytes, n, SQLITE_STATIC));
}

void db_rest(struct db_use *u)
{
    if (u->statement != NULL)
        sqlite3_reset(u->statement);
}

enum err db_next(struct db_use *u, bool *ret_row, struct fault *reterr)
{
    int code = u->code;
    if (code == SQLITE_OK)
        code = sqlite3_step(u->statement);
    *ret_row = code == SQLITE_ROW;
    if (code == SQLITE_ROW)
        return ERR_OK;
    /* The words are taken before the reset, which may replace them. */
    const enum err err = code == SQLITE_DONE ? ERR_OK : say(u->db, code, reterr);
    db_rest(u);
    return err;
}

enum err db_end(struct db_use *u, struct fault *reterr)
{
    bool has_row = true;
    enum err err = ERR_OK;
    while (has_row && err == ERR_OK)
        err = db_next(u, &has_row, reterr);
    return err;
}

int64_t db_col_int(const struct db_use *u, int i)
{
    return sqlite3_column_int64(u->statement, i);
}

double db_col_real(const struct db_use *u, int i)
{
    return sqlite3_column_double(u->statement, i);
}

const char *db_col_text(const struct db_use *u, int i, size_t *ret_n)
{
    const char *text = (const char *)sqlite3_column_text(u->statement, i);
    if (ret_n != NULL)
        *ret_n = text != NULL ? (size_t)sqlite3_column_bytes(u->statement, i) : 0;
    return text != NULL ? text : "";
}

const uint8_t *db_col_blob(const struct db_use *u, int i, size_t *ret_n)
{
    const uint8_t *bytes = sqlite3_column_blob(u->statement, i);
    *ret_n = bytes != NULL ? (size_t)sqlite3_column_bytes(u->statement, i) : 0;
    return bytes;
}

bool db_col_is_null(const struct db_use *u, int i)
{
    return sqlite3_column_type(u->statement, i) == SQLITE_NULL;
}

bool db_col_is_int(const struct db_use *u, int i)
{
    return sqlite3_column_type(u->statement, i) == SQLITE_INTEGER;
}

int db_cols(const struct db_use *u)
{
    return u->statement != NULL ? sqlite3_column_count(u->statement) : 0;
}

const char *db_col_name(const struct db_use *u, int i)
{
    const char *name = sqlite3_column_name(u->statement, i);
    return name != NULL ? name : "?";
}

bool db_col_same(const struct db_use *a, const struct db_use *b, int i)
{
    const int kind = sqlite3_column_type(a->statement, i);
    if (kind != sqlite3_column_type(b->statement, i))
        return false;
    if (kind == SQLITE_INTEGER)
        return db_col_int(a, i) == db_col_int(b, i);
    if (kind == SQLITE_NULL)
        return true;
    if (kind == SQLITE_FLOAT) { /* bit for bit: one came from the same text as the other */
        const double x = db_col_real(a, i), y = db_col_real(b, i);
        uint64_t bits_x, bits_y;
        memcpy(&bits_x, &x, sizeof bits_x);
        memcpy(&bits_y, &y, sizeof bits_y);
        return bits_x == bits_y;
    }
    size_t n_a = 0, n_b = 0;
    const uint8_t *bytes_a = db_col_blob(a, i, &n_a);
    const uint8_t *bytes_b = db_col_blob(b, i, &n_b);
    return n_a == n_b && (n_a == 0 || memcmp(bytes_a, bytes_b, n_a) == 0);
}

/* ---- transactions and copies --------------------------------------------------------------- */

enum err db_begin(struct db *db, struct fault *reterr)
{
    return db_script(db, "BEGIN IMMEDIATE", reterr);
}

enum err db_snapshot(struct db *db, struct fault *reterr)
{
    int64_t unused;
    struct db_use u = db_use(db, "BEGIN");
    const enum err err = db_end(&u, reterr);
    /* The moment is fixed by the first look. */
    return err != ERR_OK ? err : ask_int(db, "SELECT count(*) FROM sqlite_schema", &unused, reterr);
}

enum err db_commit(struct db *db, struct fault *reterr)
{
    const enum err err = db_script(db, "COMMIT", reterr);
    if (err != ERR_OK)
        db_rollback(db);
    return err;
}

void db_rollback(struct db *db)
{
    for (size_t i = 0; i < db->n_cache; i++)
        sqlite3_reset(db->cache[i].statement);
    if (sqlite3_get_autocommit(db->sqlite) != 0)
        return;
    struct db_use u = db_use(db, "ROLLBACK");
    if (u.code != SQLITE_OK || sqlite3_step(u.statement) != SQLITE_DONE)
        sqlite3_exec(db->sqlite, "ROLLBACK", NULL, NULL, NULL);
    db_rest(&u);
}

enum err db_copy(struct db *db, const char *path,
                 void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                 struct fault *reterr)
{
    struct db *copy = NULL;
    enum err err = db_open(path, DB_CREATE, &copy, reterr);
    if (err != ERR_OK || copy == NULL)
        return err;
    sqlite3_backup *backup = sqlite3_backup_init(copy->sqlite, "main", db->sqlite, "main");
    int code = backup != NULL ? SQLITE_OK : sqlite3_extended_errcode(copy->sqlite);
    const int64_t start_ms = now_ms();
    while (code == SQLITE_OK || (is_busy(code) && wait_on(start_ms))) {
        code = sqlite3_backup_step(backup, COPY_PAGES);
        if (step != NULL) {
            const int left = sqlite3_backup_remaining(backup);
            const int all = sqlite3_backup_pagecount(backup);
            step(me, (uint64_t)(all - left), (uint64_t)all);
        }
    }
    sqlite3_backup_finish(backup);
    /* Out of the write-ahead log into the file itself, and onto the disk. */
    if (code == SQLITE_DONE)
        code = run_patiently(copy->sqlite, "PRAGMA wal_checkpoint(TRUNCATE)");
    if (code != SQLITE_OK)
        err = say(copy, code, reterr);
    db_close(copy);
    return err;
}

/* ---- the file itself ----------------------------------------------------------------------- */

/* Calls tell for each row of a check. */
static enum err tell_rows(struct db *db, const char *sql, int max, bool is_key, db_tell *tell,
                          void *me, struct fault *reterr)
{
    struct db_use u = db_use(db, sql);
    char text[FAULT_MESSAGE_MAX];
    bool has_row = true;
    enum err err = ERR_OK;
    for (int n = 0; n < max; n++) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        const char *first = db_col_text(&u, 0, NULL);
        if (is_key)
            snprintf(text, sizeof text, "a row of %s names a row of %s that is not there", first,
                     db_col_text(&u, 2, NULL));
        else
            snprintf(text, sizeof text, "%s", first);
        if (is_key || strcmp(text, "ok") != 0)
            tell(me, is_key, text);
    }
    db_rest(&u);
    return err;
}

enum err db_check_file(struct db *db, int max, db_tell *tell, void *me, struct fault *reterr)
{
    const enum err err = tell_rows(db, "PRAGMA integrity_check(20)", max, false, tell, me, reterr);
    return err != ERR_OK ? err
                         : tell_rows(db, "PRAGMA foreign_key_check", max, true, tell, me, reterr);
}

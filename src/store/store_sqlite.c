/* store_sqlite: owns the connection to SQLite and the words for what can go wrong with it. What the
 * tables are is schema.c's, what stands in them derive.c's. Nothing else sees sqlite3.h. */
#include "store/db_ops.h"

#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <threads.h>
#include <time.h>
#include <unistd.h>

enum {
    TRY_MS = 2,       /* between tries at what SQLite's own waiting does not cover */
    COPY_PAGES = 512, /* at a time, between two calls of step */
    VALUE_MAX = 64 * 1024 * 1024,
    SURE_TRIES = 8 /* to know how a commit ended, before the connection is closed */
};

struct sq {
    struct db db;
    sqlite3 *sqlite;
    bool is_unsure; /* a commit failed that the disk may have all the same */
    struct {
        const char *sql; /* found by address */
        sqlite3_stmt *statement;
    } cache[DB_SQL_MAX];
    size_t n_cache;
};

static struct sq *of(struct db *db)
{
    return (struct sq *)db;
}

static void sq_close(struct db *db);
static struct db_use sq_use(struct db *db, const char *sql, bool is_many);
static enum err sq_next(struct db_use *u, bool *ret_row, struct fault *reterr);
static enum err sq_end(struct db_use *u, struct fault *reterr);
static void sq_rest(struct db_use *u);
static void sq_rollback(struct db *db);
static int64_t sq_col_int(const struct db_use *u, int i);
static int make_sure(struct sq *s);

/* ---- what went wrong, in words ------------------------------------------------------------- */

static enum err say_full(struct fault *f)
{
    return fault_set(f, ERR_IO, "there is no room left on the disk; nothing was changed");
}

static enum err say(struct sq *s, int code, struct fault *f)
{
    const int number = s->sqlite != NULL ? sqlite3_system_errno(s->sqlite) : 0;
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
                         sqlite3_errmsg(s->sqlite));
    case SQLITE_NOMEM:
        return fault_no_memory(f);
    case SQLITE_CONSTRAINT:
        return fault_set(f,
                         (code == SQLITE_CONSTRAINT_UNIQUE || code == SQLITE_CONSTRAINT_PRIMARYKEY)
                             ? ERR_DUPLICATE
                             : ERR_DOMAIN,
                         "the store refuses it: %s", sqlite3_errmsg(s->sqlite));
    case SQLITE_TOOBIG:
        return fault_set(f, ERR_LIMIT, "a value is larger than %d MiB", VALUE_MAX / 1048576);
    default:
        return fault_set(f, ERR_IO, "the store's file cannot be used: %s",
                         s->sqlite != NULL ? sqlite3_errmsg(s->sqlite) : sqlite3_errstr(code));
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

static int open_file(struct sq *s, const char *path, const char *query, int flags)
{
    char *uri = uri_of(path, query);
    if (uri == NULL)
        return SQLITE_NOMEM;
    const int code = sqlite3_open_v2(
        uri, &s->sqlite, flags | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE,
        NULL);
    sqlite3_free(uri);
    if (code != SQLITE_OK)
        return code;
    sqlite3_busy_timeout(s->sqlite, DB_BUSY_MS);
    sqlite3_db_config(s->sqlite, SQLITE_DBCONFIG_DEFENSIVE, 1, (int *)NULL);
    sqlite3_db_config(s->sqlite, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, (int *)NULL);
    sqlite3_limit(s->sqlite, SQLITE_LIMIT_LENGTH, VALUE_MAX);
    return run_patiently(s->sqlite, "PRAGMA foreign_keys = ON; PRAGMA cell_size_check = ON;");
}

/* A look at the file, so that what cannot be read is found here and not by the first statement. */
static int look(struct sq *s)
{
    return run_patiently(s->sqlite, "SELECT count(*) FROM sqlite_schema");
}

static int open_to_read(struct sq *s, const char *path)
{
    int code = open_file(s, path, "?mode=ro", SQLITE_OPEN_READONLY);
    if (code == SQLITE_OK)
        code = look(s);
    const int kind = code & 0xff;
    if ((kind != SQLITE_CANTOPEN && kind != SQLITE_READONLY) || !is_still(path))
        return code;
    sqlite3_close(s->sqlite);
    s->sqlite = NULL;
    code = open_file(s, path, "?mode=ro&immutable=1", SQLITE_OPEN_READONLY);
    return code == SQLITE_OK ? look(s) : code;
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

/* Bytes that the write-ahead log keeps of the disk when it is begun anew: as long as it grows in a row (BULK_LOG). A build list that came
 * in as a whole left it larger. */
#define LOG_KEPT "33554432"

static int open_to_write(struct sq *s, const char *path, bool is_new)
{
    int code = open_file(s, path, is_new ? "?mode=rwc" : "?mode=rw",
                         SQLITE_OPEN_READWRITE | (is_new ? SQLITE_OPEN_CREATE : 0));
    if (code == SQLITE_OK)
        code = look(s);
    if (code == SQLITE_OK && sqlite3_db_readonly(s->sqlite, "main") == 1)
        code = SQLITE_READONLY;
    if (code == SQLITE_OK)
        code = run_patiently(s->sqlite, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; "
                                        "PRAGMA journal_size_limit = " LOG_KEPT);
    return (code & 0xff) == SQLITE_CANTOPEN && !may_be_written(path) ? SQLITE_READONLY : code;
}

/* SQLite keeps count of its memory under a lock that all its threads share; nobody asks for the count. */
static void set_up(void)
{
    (void)sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
}

static enum err sq_open(const char *path, enum db_mode mode, struct db **ret, struct fault *reterr)
{
    static once_flag is_set_up = ONCE_FLAG_INIT;
    struct stat st;
    int code;
    call_once(&is_set_up, set_up);
    struct sq *s = calloc(1, sizeof *s);
    if (s == NULL)
        return fault_no_memory(reterr);
    s->db.ops = &db_sqlite;
    if (mode != DB_SCRATCH && mode != DB_CREATE && stat(path, &st) != 0) {
        free(s);
        return fault_set(reterr, errno == ENOENT || errno == ENOTDIR ? ERR_OPEN : ERR_IO,
                         "there is no store here: %s", strerror(errno));
    }
    if (mode == DB_READ)
        code = open_to_read(s, path);
    else if (mode ==
             DB_SCRATCH) { /* an empty name: a file of its own that SQLite takes away again */
        code = open_file(s, "", "", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
        if (code == SQLITE_OK)
            code = run_patiently(s->sqlite, "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;");
    } else
        code = open_to_write(s, path, mode == DB_CREATE);
    if (code == SQLITE_OK) {
        *ret = &s->db;
        return ERR_OK;
    }
    const enum err err = say(s, code, reterr);
    sq_close(&s->db);
    return err;
}

static void sq_close(struct db *db)
{
    struct sq *s = of(db);
    for (int i = 0; i < SURE_TRIES && s->is_unsure; i++)
        (void)make_sure(s);
    for (size_t i = 0; i < s->n_cache; i++)
        sqlite3_finalize(s->cache[i].statement);
    sqlite3_close(s->sqlite);
    free(s);
}

static enum err sq_script(struct db *db, const char *sql, struct fault *reterr)
{
    struct sq *s = of(db);
    const int code = run_patiently(s->sqlite, sql);
    return code == SQLITE_OK ? ERR_OK : say(s, code, reterr);
}

static enum err ask_int(struct db *db, const char *sql, int64_t *ret, struct fault *reterr)
{
    bool has_row = false;
    struct db_use u = sq_use(db, sql, false);
    const enum err err = sq_next(&u, &has_row, reterr);
    *ret = err == ERR_OK && has_row ? sq_col_int(&u, 0) : 0;
    sq_rest(&u);
    return err;
}

static enum err sq_marks(struct db *db, int64_t *ret_application, int64_t *ret_version,
                         struct fault *reterr)
{
    const enum err err = ask_int(db, "PRAGMA application_id", ret_application, reterr);
    return err != ERR_OK ? err : ask_int(db, "PRAGMA user_version", ret_version, reterr);
}

static enum err sq_mark(struct db *db, int64_t application, int64_t version, struct fault *reterr)
{
    char sql[128]; /* a pragma takes no parameters; both are numbers */
    snprintf(sql, sizeof sql, "PRAGMA application_id = %lld; PRAGMA user_version = %lld;",
             (long long)application, (long long)version);
    return sq_script(db, sql, reterr);
}

static enum err sq_count_objects(struct db *db, int64_t *ret, struct fault *reterr)
{
    return ask_int(db, "SELECT count(*) FROM sqlite_schema", ret, reterr);
}

enum { USUAL_KIB = 2000, USUAL_LOG = 1000 /* pages; both SQLite's own */, BULK_LOG = 8000 };

static enum err sq_bulk(struct db *db, enum db_bulk bulk, struct fault *reterr)
{
    static const int kib[] = {USUAL_KIB, DB_BULK_KIB, DB_SORT_KIB};
    char sql[128]; /* within a transaction the last of them does nothing: it is off by then */
    snprintf(sql, sizeof sql,
             "PRAGMA cache_size = -%d; PRAGMA wal_autocheckpoint = %d; PRAGMA foreign_keys = %s;",
             kib[bulk], bulk != DB_BULK_NONE ? (int)BULK_LOG : (int)USUAL_LOG,
             bulk != DB_BULK_NONE ? "OFF" : "ON");
    return sq_script(db, sql, reterr);
}

/* ---- statements ---------------------------------------------------------------------------- */

static struct db_use sq_use(struct db *db, const char *sql, bool is_many)
{
    struct sq *s = of(db);
    (void)is_many; /* rows come one at a time anyway */
    struct db_use u = {.db = db};
    for (size_t i = 0; i < s->n_cache; i++)
        if (s->cache[i].sql == sql && sqlite3_stmt_busy(s->cache[i].statement) == 0) {
            u.statement = s->cache[i].statement;
            return u;
        }
    sqlite3_stmt *statement = NULL;
    if (s->n_cache == DB_SQL_MAX)
        u.code = SQLITE_NOMEM;
    else
        u.code =
            sqlite3_prepare_v3(s->sqlite, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, NULL);
    if (u.code != SQLITE_OK)
        return u;
    s->cache[s->n_cache].sql = sql;
    s->cache[s->n_cache++].statement = statement;
    u.statement = statement;
    return u;
}

static void keep(struct db_use *u, int code)
{
    if (u->code == SQLITE_OK)
        u->code = code;
}

static void sq_int(struct db_use *u, int64_t value)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_int64(u->statement, u->n_bound, value));
}

static void sq_real(struct db_use *u, double value)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_double(u->statement, u->n_bound, value));
}

static void sq_null(struct db_use *u)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_null(u->statement, u->n_bound));
}

static void sq_text_n(struct db_use *u, const char *value, size_t n)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u,
             sqlite3_bind_text64(u->statement, u->n_bound, value, n, SQLITE_STATIC, SQLITE_UTF8));
}

static void sq_blob(struct db_use *u, const void *bytes, size_t n)
{
    u->n_bound++;
    if (u->code == SQLITE_OK)
        keep(u, sqlite3_bind_blob64(u->statement, u->n_bound, bytes, n, SQLITE_STATIC));
}

static void sq_rest(struct db_use *u)
{
    if (u->statement != NULL)
        sqlite3_reset(u->statement);
}

static enum err sq_next(struct db_use *u, bool *ret_row, struct fault *reterr)
{
    int code = u->code;
    if (code == SQLITE_OK)
        code = sqlite3_step(u->statement);
    *ret_row = code == SQLITE_ROW;
    if (code == SQLITE_ROW)
        return ERR_OK;
    /* The words are taken before the reset, which may replace them. */
    const enum err err = code == SQLITE_DONE ? ERR_OK : say(of(u->db), code, reterr);
    sq_rest(u);
    return err;
}

static enum err sq_end(struct db_use *u, struct fault *reterr)
{
    bool has_row = true;
    enum err err = ERR_OK;
    while (has_row && err == ERR_OK)
        err = sq_next(u, &has_row, reterr);
    return err;
}

static int64_t sq_col_int(const struct db_use *u, int i)
{
    return sqlite3_column_int64(u->statement, i);
}

static double sq_col_real(const struct db_use *u, int i)
{
    return sqlite3_column_double(u->statement, i);
}

static const char *sq_col_text(const struct db_use *u, int i, size_t *ret_n)
{
    const char *text = (const char *)sqlite3_column_text(u->statement, i);
    if (ret_n != NULL)
        *ret_n = text != NULL ? (size_t)sqlite3_column_bytes(u->statement, i) : 0;
    return text != NULL ? text : "";
}

static const uint8_t *sq_col_blob(const struct db_use *u, int i, size_t *ret_n)
{
    const uint8_t *bytes = sqlite3_column_blob(u->statement, i);
    *ret_n = bytes != NULL ? (size_t)sqlite3_column_bytes(u->statement, i) : 0;
    return bytes;
}

static enum db_kind sq_kind(const struct db_use *u, int i)
{
    switch (sqlite3_column_type(u->statement, i)) {
    case SQLITE_INTEGER:
        return DB_INT;
    case SQLITE_FLOAT:
        return DB_REAL;
    case SQLITE_TEXT:
        return DB_TEXT;
    case SQLITE_BLOB:
        return DB_BLOB;
    default:
        return DB_NULL;
    }
}

static int sq_cols(const struct db_use *u)
{
    return sqlite3_column_count(u->statement);
}

static const char *sq_col_name(const struct db_use *u, int i)
{
    const char *name = sqlite3_column_name(u->statement, i);
    return name != NULL ? name : "?";
}

/* ---- transactions and copies --------------------------------------------------------------- */

/* When the disk fails in the middle of COMMIT, above all in its sync, the entry is taken back, but may stand in the write-ahead log: a
 * process that dies now would leave it to be found by the next. And the system does not write again what a failed sync was to write, so what
 * came behind it could be lost. The next commit that is on the disk takes its place. This is one, and changes nothing. */
static int make_sure(struct sq *s)
{
    struct fault unused = {0};
    int64_t version = 0;
    char sql[96];
    int code = run_patiently(s->sqlite, "BEGIN IMMEDIATE");
    if (code == SQLITE_OK && ask_int(&s->db, "PRAGMA user_version", &version, &unused) != ERR_OK)
        code = SQLITE_IOERR;
    snprintf(sql, sizeof sql, "PRAGMA user_version = %lld; COMMIT;", (long long)version);
    if (code == SQLITE_OK)
        code = run_patiently(s->sqlite, sql);
    if (code != SQLITE_OK)
        sq_rollback(&s->db);
    s->is_unsure = code != SQLITE_OK;
    return code;
}

static enum err sq_begin(struct db *db, struct fault *reterr)
{
    struct sq *s = of(db);
    const int code = s->is_unsure ? make_sure(s) : SQLITE_OK;
    return code == SQLITE_OK ? sq_script(db, "BEGIN IMMEDIATE", reterr) : say(s, code, reterr);
}

static enum err sq_snapshot(struct db *db, struct fault *reterr)
{
    int64_t unused;
    struct db_use u = sq_use(db, "BEGIN", false);
    const enum err err = sq_end(&u, reterr);
    /* The moment is fixed by the first look. */
    return err != ERR_OK ? err : ask_int(db, "SELECT count(*) FROM sqlite_schema", &unused, reterr);
}

static enum err sq_commit(struct db *db, struct fault *reterr)
{
    struct sq *s = of(db);
    const int code = run_patiently(s->sqlite, "COMMIT");
    if (code == SQLITE_OK)
        return ERR_OK;
    const enum err err = say(s, code, reterr);
    s->is_unsure = (code & 0xff) == SQLITE_IOERR;
    sq_rollback(db);
    return err;
}

static void sq_rollback(struct db *db)
{
    struct sq *s = of(db);
    for (size_t i = 0; i < s->n_cache; i++)
        sqlite3_reset(s->cache[i].statement);
    if (sqlite3_get_autocommit(s->sqlite) != 0)
        return;
    struct db_use u = sq_use(db, "ROLLBACK", false);
    if (u.code != SQLITE_OK || sqlite3_step(u.statement) != SQLITE_DONE)
        sqlite3_exec(s->sqlite, "ROLLBACK", NULL, NULL, NULL);
    sq_rest(&u);
}

static enum err sq_copy(struct db *db, const char *path,
                        void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                        struct fault *reterr)
{
    struct sq *s = of(db);
    struct db *copy = NULL;
    enum err err = sq_open(path, DB_CREATE, &copy, reterr);
    if (err != ERR_OK || copy == NULL)
        return err;
    sqlite3_backup *backup = sqlite3_backup_init(of(copy)->sqlite, "main", s->sqlite, "main");
    int code = backup != NULL ? SQLITE_OK : sqlite3_extended_errcode(of(copy)->sqlite);
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
        code = run_patiently(of(copy)->sqlite, "PRAGMA wal_checkpoint(TRUNCATE)");
    if (code != SQLITE_OK)
        err = say(of(copy), code, reterr);
    sq_close(copy);
    return err;
}

/* ---- the file itself ----------------------------------------------------------------------- */

/* Calls tell for each row of a check. */
static enum err tell_rows(struct db *db, const char *sql, int max, bool is_key, db_tell *tell,
                          void *me, struct fault *reterr)
{
    struct db_use u = sq_use(db, sql, false);
    char text[FAULT_MESSAGE_MAX];
    bool has_row = true;
    enum err err = ERR_OK;
    for (int n = 0; n < max; n++) {
        err = sq_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        const char *first = sq_col_text(&u, 0, NULL);
        if (is_key)
            snprintf(text, sizeof text, "a row of %s names a row of %s that is not there", first,
                     sq_col_text(&u, 2, NULL));
        else
            snprintf(text, sizeof text, "%s", first);
        if (is_key || strcmp(text, "ok") != 0)
            tell(me, is_key, text);
    }
    sq_rest(&u);
    return err;
}

static enum err sq_check_file(struct db *db, int max, db_tell *tell, void *me, struct fault *reterr)
{
    const enum err err = tell_rows(db, "PRAGMA integrity_check(20)", max, false, tell, me, reterr);
    return err != ERR_OK ? err
                         : tell_rows(db, "PRAGMA foreign_key_check", max, true, tell, me, reterr);
}

static enum err sq_log_room(struct db *db, int64_t seq, struct fault *reterr)
{
    (void)db;
    (void)seq;
    (void)reterr;
    return ERR_OK; /* one table */
}

const struct db_ops db_sqlite = {
    .dialect = DB_SQLITE,
    .open = sq_open,
    .close = sq_close,
    .script = sq_script,
    .marks = sq_marks,
    .mark = sq_mark,
    .count_objects = sq_count_objects,
    .bulk = sq_bulk,
    .use = sq_use,
    .bind_int = sq_int,
    .bind_real = sq_real,
    .bind_null = sq_null,
    .bind_text = sq_text_n,
    .bind_blob = sq_blob,
    .next = sq_next,
    .end = sq_end,
    .rest = sq_rest,
    .kind = sq_kind,
    .col_int = sq_col_int,
    .col_real = sq_col_real,
    .col_text = sq_col_text,
    .col_blob = sq_col_blob,
    .cols = sq_cols,
    .col_name = sq_col_name,
    .begin = sq_begin,
    .snapshot = sq_snapshot,
    .commit = sq_commit,
    .rollback = sq_rollback,
    .log_room = sq_log_room,
    .copy = sq_copy,
    .check_file = sq_check_file,
};

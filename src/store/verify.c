/* verify: owns reading everything back: the chain, the derived tables made anew and compared, the
 * photo files; and making the derived tables anew for good. */
#include "store/inner.h"

#include "store/schema.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { STEP_ENTRIES = 1024, STEP_PHOTOS = 16, FILE_FAULTS = 20 };

/* Errors that mean: the store is wrong, and not: it could not be looked at. */
static bool is_about_content(enum err err)
{
    return err != ERR_OK && err != ERR_IO && err != ERR_MEMORY;
}

struct look {
    struct store *store;
    struct db *fresh; /* the derived tables as the log has them */
    struct scratch scratch;
    const struct store_progress *progress;
    struct store_health *health;
    const uint8_t *head; /* wanted, or NULL */
    bool has_head;
    uint64_t n_all;
    int64_t n_owed; /* events of the last claim that have not come yet */
    uint8_t bag[STORE_DIGEST];
};

PRINTF_LIKE(4, 5)
static void found(struct look *l, const char *kind, const char *where, const char *fmt, ...)
{
    struct store_health *h = l->health;
    if (h->n_faults < STORE_FAULTS_MAX) {
        struct store_fault_seen *seen = &h->faults[h->n_faults];
        va_list ap;
        seen->kind = kind;
        snprintf(seen->where, sizeof seen->where, "%.*s", FAULT_PATH_MAX - 1, where);
        va_start(ap, fmt);
        vsnprintf(seen->message, sizeof seen->message, fmt, ap);
        va_end(ap);
    }
    h->n_faults++;
}

static void tell_file(void *me, bool is_key, const char *text)
{
    found(me, is_key ? "key" : "file", is_key ? "" : store_file, "%s", text);
}

/* ---- the schema ---------------------------------------------------------------------------- */

/* Below 0: the first row comes earlier; by type and name, as both are sorted. */
static int compare_names(const struct db_use *a, const struct db_use *b)
{
    const int order = strcmp(db_col_text(a, 0, NULL), db_col_text(b, 0, NULL));
    return order != 0 ? order : strcmp(db_col_text(a, 1, NULL), db_col_text(b, 1, NULL));
}

static enum err compare_schema(struct look *l, struct fault *f)
{
    const enum db_dialect kind = db_dialect(l->store->db);
    const bool is_like = kind == DB_SQLITE; /* as the fresh one: the texts can be compared, too */
    struct db_use mine = db_use(l->store->db, is_like ? schema_list : schema_names[kind]);
    struct db_use fresh = db_use(l->fresh, is_like ? schema_list : schema_names[DB_SQLITE]);
    bool has_mine = false, has_fresh = false;
    enum err err = db_next(&mine, &has_mine, f);
    if (err == ERR_OK)
        err = db_next(&fresh, &has_fresh, f);
    while (err == ERR_OK && (has_mine || has_fresh)) {
        const int order = !has_fresh ? -1 : !has_mine ? 1 : compare_names(&mine, &fresh);
        const struct db_use *u = order <= 0 ? &mine : &fresh;
        const char *type = db_col_text(u, 0, NULL), *name = db_col_text(u, 1, NULL);
        if (order < 0)
            found(l, "schema", name, "this %s is not the program's", type);
        else if (order > 0)
            found(l, "schema", name, "this %s is missing", type);
        else if (is_like && !db_col_same(&mine, &fresh, 2))
            found(l, "schema", name, "this %s is not as the program makes it", type);
        if (order <= 0)
            err = db_next(&mine, &has_mine, f);
        if (err == ERR_OK && order >= 0)
            err = db_next(&fresh, &has_fresh, f);
    }
    db_rest(&mine);
    db_rest(&fresh);
    return err;
}

/* ---- the log ------------------------------------------------------------------------------- */

/* A claim's events follow it without a gap, and there are no others. */
static enum err check_events(struct look *l, const struct log_entry *e, const char *where,
                             struct fault *f)
{
    const size_t n_ours = sizeof LOG_OURS - 1;
    const bool is_ours = e->n_type >= n_ours && memcmp(e->type, LOG_OURS, n_ours) == 0;
    bool has_row = false;
    if (!is_ours) {
        if (l->n_owed == 0 || memcmp(l->bag, e->bag, STORE_DIGEST) != 0)
            found(l, "derived", where, "this event belongs to no claim");
        l->n_owed -= l->n_owed > 0;
        return ERR_OK;
    }
    if (l->n_owed > 0)
        found(l, "derived", where, "events of the claim before it are missing: %" PRId64,
              l->n_owed);
    struct db_use u = db_use(l->fresh, "SELECT n_events FROM claims WHERE seq = ?");
    db_int(&u, e->seq);
    const enum err err = db_next(&u, &has_row, f);
    l->n_owed = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    memcpy(l->bag, e->bag, STORE_DIGEST);
    return err;
}

static enum err see_entry(void *me, const struct log_entry *e, const char *wrong, struct fault *f)
{
    struct look *l = me;
    struct fault why = {0};
    char where[64];
    snprintf(where, sizeof where, "entry %" PRId64, e->seq);
    if (wrong != NULL)
        found(l, "chain", where, "%s", wrong);
    memcpy(l->health->head, e->hash, STORE_DIGEST);
    if (l->head != NULL && memcmp(l->head, e->hash, STORE_DIGEST) == 0)
        l->has_head = true;
    enum err err = derive_entry(l->fresh, &l->scratch, l->store->digest, e, &why);
    if (is_about_content(err)) {
        found(l, "derived", where, "nothing can be derived from it: %s", why.message);
        err = ERR_OK;
    } else if (err != ERR_OK)
        *f = why;
    if (err == ERR_OK)
        err = check_events(l, e, where, f);
    if (e->seq % STEP_ENTRIES == 0)
        store_step(l->progress, "log", (uint64_t)e->seq, l->n_all);
    return err;
}

static enum err read_log(struct look *l, struct fault *f)
{
    int64_t n = 0;
    enum err err = store_number(l->store->db, "SELECT coalesce(max(seq), 0) FROM log", &n, f);
    l->n_all = (uint64_t)n;
    if (err == ERR_OK)
        err = db_script(l->fresh, "BEGIN", f);
    if (err == ERR_OK)
        err = log_walk(l->store->db, l->store->digest, see_entry, l, f);
    if (err == ERR_OK)
        err = db_commit(l->fresh, f);
    if (err == ERR_OK && l->n_owed > 0)
        found(l, "derived", "log", "events of the last claim are missing: %" PRId64, l->n_owed);
    if (err == ERR_OK && l->head != NULL && !l->has_head)
        found(l, "head", "log",
              "the hash that was noted is no longer in the log: its end was cut off or rewritten");
    return err;
}

/* ---- the derived tables -------------------------------------------------------------------- */

/* The first two columns of a row, in words: they place it. */
static void say_row(const struct db_use *u, char *buf, size_t room)
{
    size_t used = 0;
    for (int i = 0; i < 2 && i < db_cols(u) && used < room; i++) {
        size_t n = 0;
        const uint8_t *bytes = db_col_blob(u, i, &n);
        char hex[DIGEST_HEX_ROOM] = "";
        if (n == STORE_DIGEST && bytes != NULL && !text_is_utf8((const char *)bytes, n, NULL))
            digest_hex(bytes, n, hex);
        const int put = snprintf(buf + used, room - used, "%s%s %s", i > 0 ? ", " : "",
                                 db_col_name(u, i), hex[0] != '\0' ? hex : db_col_text(u, i, NULL));
        used += put > 0 ? (size_t)put : 0;
    }
}

/* The column in which two rows differ first, or -1. */
static int differs_in(const struct db_use *a, const struct db_use *b)
{
    if (db_cols(a) != db_cols(b))
        return 0;
    for (int i = 0; i < db_cols(a); i++)
        if (!db_col_same(a, b, i))
            return i;
    return -1;
}

/* The first difference of a table; after it the rows no longer lie side by side. */
static enum err compare_table(struct look *l, const struct schema_table *t, struct fault *f)
{
    struct db_use mine = db_use_many(l->store->db, t->list);
    struct db_use fresh = db_use(l->fresh, t->list);
    bool has_mine = true, has_fresh = true;
    char row[FAULT_PATH_MAX] = "", where[FAULT_PATH_MAX + 32];
    enum err err = ERR_OK;
    while (err == ERR_OK) {
        err = db_next(&mine, &has_mine, f);
        if (err == ERR_OK)
            err = db_next(&fresh, &has_fresh, f);
        if (err != ERR_OK || (!has_mine && !has_fresh))
            break;
        const int i = has_mine && has_fresh ? differs_in(&mine, &fresh) : 0;
        if (i < 0)
            continue;
        say_row(has_mine ? &mine : &fresh, row, sizeof row);
        snprintf(where, sizeof where, "%s: %s", t->table, row);
        if (!has_mine)
            found(l, "derived", where, "is in the log, but not in the table");
        else if (!has_fresh)
            found(l, "derived", where, "is in the table, but does not follow from the log");
        else
            found(l, "derived", where, "%s is not what follows from the log",
                  db_col_name(&mine, i));
        break;
    }
    db_rest(&mine);
    db_rest(&fresh);
    return err;
}

/* ---- photos -------------------------------------------------------------------------------- */

static enum err check_photos(struct look *l, struct fault *f)
{
    struct db_use u =
        db_use_many(l->store->db, "SELECT sha256, ext, bytes FROM photo_files ORDER BY sha256");
    int64_t n_all = 0;
    enum err err = store_number(l->store->db, "SELECT count(*) FROM photo_files", &n_all, f);
    for (uint64_t n = 0; err == ERR_OK; n++) {
        uint8_t sha256[STORE_DIGEST] = {0};
        char name[FILES_PATH_MAX];
        struct fault why = {0};
        size_t size = 0;
        bool has_row = false;
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const uint8_t *bytes = db_col_blob(&u, 0, &size);
        if (size == STORE_DIGEST)
            memcpy(sha256, bytes, size);
        const char *ext = db_col_text(&u, 1, NULL);
        err = album_check(l->store->album, sha256, ext, db_col_int(&u, 2), &why);
        if (is_about_content(err)) {
            files_name(sha256, ext, name, sizeof name);
            found(l, "photo", name, "%s", why.message);
            err = ERR_OK;
        } else if (err != ERR_OK)
            *f = why;
        if (n % STEP_PHOTOS == 0)
            store_step(l->progress, "photos", n, (uint64_t)n_all);
    }
    db_rest(&u);
    return err;
}

static enum err see_file(void *me, const char *name, const uint8_t *sha256, const char *ext,
                         int64_t bytes, bool is_part, struct fault *f)
{
    struct look *l = me;
    bool is_named = false;
    enum err err = ERR_OK;
    (void)name;
    if (sha256 != NULL) {
        struct db_use u =
            db_use(l->store->db, "SELECT 1 FROM photo_files WHERE sha256 = ? AND ext = ?");
        db_blob(&u, sha256, STORE_DIGEST);
        db_text(&u, ext);
        err = db_next(&u, &is_named, f);
        db_rest(&u);
    }
    if (err == ERR_OK && !is_named && !is_part) {
        l->health->n_orphans++;
        l->health->orphan_bytes += bytes;
    }
    return err;
}

/* ---- all of it ----------------------------------------------------------------------------- */

static enum err make_fresh(struct look *l, struct fault *f)
{
    enum err err = db_open("", DB_SCRATCH, &l->fresh, f);
    /* Its log stays empty, so that nothing there can be named. */
    if (err == ERR_OK)
        err = db_script(l->fresh, "PRAGMA foreign_keys = OFF", f);
    return err != ERR_OK ? err : schema_make(l->fresh, f);
}

static enum err look_at_all(struct look *l, struct fault *f)
{
    enum err err = make_fresh(l, f);
    if (err == ERR_OK)
        err = db_snapshot(l->store->db, f);
    store_step(l->progress, "file", 0, 1);
    if (err == ERR_OK)
        err = db_check_file(l->store->db, FILE_FAULTS, tell_file, l, f);
    if (err == ERR_OK)
        err = store_count_db(l->store->db, &l->health->counts, f);
    if (err == ERR_OK)
        err = compare_schema(l, f);
    if (err == ERR_OK)
        err = read_log(l, f);
    for (const struct schema_table *t = schema_derived; t->table != NULL && err == ERR_OK; t++) {
        store_step(l->progress, "tables", (uint64_t)(t - schema_derived), SCHEMA_DERIVED);
        err = compare_table(l, t, f);
    }
    if (err == ERR_OK)
        err = check_photos(l, f);
    return err != ERR_OK ? err : album_walk(l->store->album, see_file, l, f);
}

enum err store_verify(struct store *store, const uint8_t head[STORE_DIGEST],
                      const struct store_progress *progress, struct store_health *ret,
                      struct fault *reterr)
{
    struct look l = {.store = store, .progress = progress, .health = ret, .head = head};
    enum err err = store_idle(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    memset(ret, 0, sizeof *ret);
    err = look_at_all(&l, reterr);
    /* A file so damaged that reading it ends is an answer, too. */
    if (is_about_content(err)) {
        found(&l, "file", store_file, "%s; what follows could not be looked at", reterr->message);
        err = ERR_OK;
    }
    db_rollback(store->db);
    scratch_done(&l.scratch);
    db_close(l.fresh);
    return store_named(store, err, reterr);
}

/* ---- making anew --------------------------------------------------------------------------- */

struct refill {
    struct store *store;
    const struct store_progress *progress;
    int64_t n;
    uint64_t n_all;
};

static enum err refill_entry(void *me, const struct log_entry *e, const char *wrong,
                             struct fault *f)
{
    struct refill *r = me;
    if (wrong != NULL)
        return fault_set(f, ERR_DOMAIN,
                         "the log is broken, so nothing was changed: entry %" PRId64 " %s", e->seq,
                         wrong);
    if (++r->n % STEP_ENTRIES == 0)
        store_step(r->progress, "log", (uint64_t)r->n, r->n_all);
    return derive_entry(r->store->db, &r->store->scratch, r->store->digest, e, f);
}

enum err store_refill(struct store *store, const struct store_progress *progress,
                      int64_t *ret_entries, struct fault *reterr)
{
    struct refill r = {.store = store, .progress = progress};
    int64_t n = 0;
    enum err err = store_number(store->db, "SELECT coalesce(max(seq), 0) FROM log", &n, reterr);
    r.n_all = (uint64_t)n;
    if (err == ERR_OK)
        err = schema_bulk(store->db, false, reterr);
    if (err == ERR_OK)
        err = log_walk(store->db, store->digest, refill_entry, &r, reterr);
    if (err == ERR_OK)
        err = schema_bulk(store->db, true, reterr);
    if (err == ERR_OK)
        *ret_entries = r.n;
    return err;
}

enum err store_rebuild(struct store *store, const struct store_progress *progress,
                       int64_t *ret_entries, struct fault *reterr)
{
    enum err err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err == ERR_OK)
        err = schema_bulk(store->db, false, reterr);
    if (err == ERR_OK)
        err = derive_empty(store->db, reterr);
    if (err == ERR_OK)
        err = store_refill(store, progress, ret_entries, reterr);
    if (err == ERR_OK)
        err = db_commit(store->db, reterr);
    else
        db_rollback(store->db);
    return store_named(store, err, reterr);
}

/* store: owns opening and closing, and what is small. Taking in is take.c, reading back read.c,
 * verifying and rebuilding verify.c, copying and tidying keep.c. */
#include "store/inner.h"

#include "store/schema.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

void store_claim_id(const uint8_t bag[STORE_DIGEST], char ret[STORE_CLAIM_SIZE + 1])
{
    static const char digits[] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"; /* Crockford's base32 */
    uint64_t bits = 0;
    for (int i = 0; i < 8; i++)
        bits = bits << 8 | bag[i];
    ret[0] = 'K';
    for (int i = 1; i < STORE_CLAIM_SIZE; i++, bits <<= 5)
        ret[i] = digits[bits >> 59];
    ret[STORE_CLAIM_SIZE] = '\0';
}

enum err store_named(const struct store *store, enum err err, struct fault *reterr)
{
    if (err != ERR_OK)
        snprintf(reterr->file, sizeof reterr->file, "%s", store->shown);
    return err;
}

enum err store_idle(const struct store *store, struct fault *reterr)
{
    return store->n_looking == 0
               ? ERR_OK
               : fault_set(reterr, ERR_IO, "the store is in the middle of being read");
}

enum err store_writable(const struct store *store, struct fault *reterr)
{
    const enum err err = store_idle(store, reterr);
    if (err != ERR_OK || store->mode == STORE_WRITE)
        return err;
    return fault_set(reterr, ERR_IO, "the store may only be read, not written");
}

void store_step(const struct store_progress *progress, const char *what, uint64_t done,
                uint64_t all)
{
    if (progress != NULL && progress->step != NULL)
        progress->step(progress->me, what, done, all);
}

enum err store_number(struct db *db, const char *sql, int64_t *ret, struct fault *reterr)
{
    struct db_use u = db_use(db, sql);
    bool has_row = false;
    const enum err err = db_next(&u, &has_row, reterr);
    if (err == ERR_OK)
        *ret = has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    return err;
}

enum err store_count_db(struct db *db, struct store_counts *ret, struct fault *reterr)
{
    struct store_counts c = {0};
    const struct {
        const char *sql;
        int64_t *ret;
    } rows[] = {
        {"SELECT count(*) FROM log", &c.entries},
        {"SELECT coalesce(sum(n_events), 0) FROM claims", &c.events},
        {"SELECT count(*) FROM claims", &c.claims},
        {"SELECT count(*) FROM units", &c.units},
        {"SELECT count(*) FROM stations", &c.stations},
        {"SELECT count(*) FROM readings", &c.readings},
        {"SELECT count(*) FROM photo_files", &c.photos},
        {"SELECT count(*) FROM rulings", &c.rulings},
        {"SELECT count(*) FROM (SELECT DISTINCT kind, name, revision FROM papers) AS p", &c.papers},
        {"SELECT count(*) FROM builds", &c.builds},
    };
    enum err err = ERR_OK;
    for (size_t i = 0; i < sizeof rows / sizeof *rows && err == ERR_OK; i++)
        err = store_number(db, rows[i].sql, rows[i].ret, reterr);
    if (err == ERR_OK)
        *ret = c;
    return err;
}

enum err store_look(struct store *store, struct fault *reterr)
{
    const enum err err = store->n_looking == 0 ? db_snapshot(store->db, reterr) : ERR_OK;
    store->n_looking += err == ERR_OK;
    return err;
}

void store_look_end(struct store *store)
{
    if (--store->n_looking > 0)
        return;
    store->last.seq = 0;
    db_rollback(store->db);
}

enum err store_hold(struct store *store, struct fault *reterr)
{
    return store_named(store, store_look(store, reterr), reterr);
}

void store_release(struct store *store)
{
    store_look_end(store);
}

enum err store_count(struct store *store, struct store_counts *ret, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err == ERR_OK) {
        err = store_count_db(store->db, ret, reterr);
        store_look_end(store);
    }
    return store_named(store, err, reterr);
}

const char *store_folder(const struct store *store)
{
    return store->path;
}

enum err store_photo_read(const struct store *store, const uint8_t sha256[STORE_DIGEST],
                          const char *ext, size_t max, struct text *ret, struct fault *reterr)
{
    return store_named(store, album_read(store->album, sha256, ext, max, ret, reterr), reterr);
}

enum err store_photos_look(const struct store *store, char *told, size_t room, struct fault *reterr)
{
    return store_named(store, album_look(store->album, told, room, reterr), reterr);
}

void store_photo_path(const struct store *store, const uint8_t sha256[STORE_DIGEST],
                      const char *ext, char *buf, size_t room)
{
    files_path(store->path, sha256, ext, buf, room);
}

/* ---- opening ------------------------------------------------------------------------------- */

static enum err new_store(const char *path, enum store_mode mode, struct store **ret,
                          struct fault *f)
{
    struct store *s = calloc(1, sizeof *s);
    if (s == NULL) {
        (void)fault_no_memory(f);
        return ERR_MEMORY;
    }
    s->mode = mode;
    *ret = s;
    struct place place;
    const enum err err = place_find(path, store_file, &place, f);
    memcpy(s->path, place.files, sizeof s->path);
    memcpy(s->db_path, place.db, sizeof s->db_path);
    memcpy(s->shown, place.shown, sizeof s->shown);
    s->is_server = place.is_server;
    snprintf(s->word, sizeof s->word, "%s", path);
    if (err != ERR_OK)
        return err;
    if (digest_new(DIGEST_SHA256, &s->digest) != ERR_OK)
        return fault_no_memory(f);
    return album_open(&place, &s->album, f);
}

/* Brings an older store up to date. Another process may have done so in the meantime. */
static enum err upgrade(struct store *s, struct fault *f)
{
    int64_t version = 0, entries = 0;
    bool is_empty = false;
    enum err err = db_begin(s->db, f);
    if (err == ERR_OK)
        err = schema_check(s->db, &version, f);
    if (err == ERR_OK)
        err = schema_upgrade(s->db, version, &is_empty, f);
    if (err == ERR_OK && is_empty)
        err = store_refill(s, NULL, &entries, f);
    if (err == ERR_OK)
        return db_commit(s->db, f);
    db_rollback(s->db);
    return err;
}

/* Whether there is a file to be read. A path that leads nowhere is the caller's to mend. */
static enum err check_there(const char *path, struct fault *f)
{
    struct stat st;
    if (stat(path, &st) == 0 && !S_ISREG(st.st_mode))
        return fault_set(f, ERR_TYPE, "is not a store: its %s is no file", store_file);
    if (access(path, R_OK) == 0)
        return ERR_OK;
    switch (errno) {
    case ENOENT:
    case ENOTDIR:
        return fault_set(f, ERR_OPEN, "there is no store here; `mendwright store init` makes one");
    case ELOOP:
        return fault_set(f, ERR_OPEN, "there is no store here: its links go round in a circle");
    case ENAMETOOLONG:
        return fault_set(f, ERR_OPEN, "there is no store here: its name is too long");
    case EACCES:
        return fault_set(f, ERR_OPEN, "may not be read: permission denied");
    default:
        return fault_set(f, ERR_IO, "cannot be read: %s", strerror(errno));
    }
}

static enum err open_db(struct store *s, struct fault *f)
{
    int64_t version = 0;
    enum err err = s->is_server ? ERR_OK : check_there(s->db_path, f);
    if (err == ERR_OK)
        err = db_open(s->db_path, s->mode == STORE_WRITE ? DB_WRITE : DB_READ, &s->db, f);
    if (err == ERR_OK)
        err = schema_check(s->db, &version, f);
    if (err != ERR_OK || version == SCHEMA_VERSION)
        return err;
    if (s->mode == STORE_WRITE)
        return upgrade(s, f);
    return fault_set(f, ERR_DOMAIN,
                     "was written by an earlier program (version %lld); `mendwright store init` "
                     "brings it to version %d, its log unchanged",
                     (long long)version, (int)SCHEMA_VERSION);
}

enum err store_open(const char *path, enum store_mode mode, struct store **ret,
                    struct fault *reterr)
{
    struct store *s = NULL;
    enum err err = new_store(path, mode, &s, reterr);
    if (err == ERR_OK)
        err = open_db(s, reterr);
    if (err == ERR_OK) {
        *ret = s;
        return ERR_OK;
    }
    if (s != NULL)
        (void)store_named(s, err, reterr);
    store_close(s);
    return err;
}

void store_close(struct store *store)
{
    if (store == NULL)
        return;
    db_close(store->db);
    digest_free(store->digest);
    album_close(store->album);
    scratch_done(&store->scratch);
    store_shops_free(store->shops);
    text_done(&store->json);
    free(store);
}

/* ---- making -------------------------------------------------------------------------------- */

/* A folder in which nothing of anybody else lies. */
static enum err check_folder(const char *path, struct fault *f)
{
    DIR *dir = opendir(path);
    if (dir == NULL)
        return fault_set(f, errno == ENOTDIR ? ERR_DUPLICATE : ERR_IO,
                         "cannot be used as a folder: %s", strerror(errno));
    const struct dirent *entry;
    bool has_other = false, has_store = false;
    while ((entry = readdir(dir)) != NULL) {
        const char *name = entry->d_name;
        has_store |= strcmp(name, store_file) == 0;
        has_other |= name[0] != '.' && strncmp(name, store_file, sizeof store_file - 1) != 0 &&
                     strcmp(name, "photos") != 0;
    }
    closedir(dir);
    if (has_other && !has_store)
        return fault_set(f, ERR_DUPLICATE,
                         "is a folder with something else in it; expected a new or empty one");
    return ERR_OK;
}

static enum err make_tables(struct store *s, bool *ret_made, struct fault *f)
{
    int64_t application = 0, version = 0, n = 0;
    enum err err = db_begin(s->db, f);
    if (err == ERR_OK)
        err = db_marks(s->db, &application, &version, f);
    if (err == ERR_OK)
        err = db_count_objects(s->db, &n, f);
    *ret_made = n == 0 && application == 0;
    if (err == ERR_OK)
        err = *ret_made ? schema_make(s->db, f) : schema_check(s->db, &version, f);
    if (err == ERR_OK)
        return db_commit(s->db, f);
    db_rollback(s->db);
    return err;
}

/* The parent's name of the folder has to be on the disk too. */
static enum err sync_all(const struct store *s, struct fault *f)
{
    char parent[FILES_PATH_MAX];
    snprintf(parent, sizeof parent, "%s", s->path);
    char *slash = strrchr(parent, '/');
    if (slash == NULL)
        snprintf(parent, sizeof parent, ".");
    else
        slash[slash == parent] = '\0';
    const enum err err = files_sync(s->path, f);
    return err != ERR_OK ? err : files_sync(parent, f);
}

static enum err make(struct store *s, bool *ret_made, struct fault *f)
{
    struct stat st;
    enum err err = ERR_OK;
    if (stat(s->path, &st) != 0) {
        err = files_folder(s->path, f);
        if (err != ERR_OK)
            return err;
    }
    if (!s->is_server)
        err = check_folder(s->path, f);
    if (err == ERR_OK)
        err = db_open(s->db_path, DB_CREATE, &s->db, f);
    if (err == ERR_OK)
        err = make_tables(s, ret_made, f);
    if (err == ERR_OK)
        err = album_make(s->album, f);
    return err != ERR_OK ? err : sync_all(s, f);
}

enum err store_init(const char *path, bool *ret_made, struct fault *reterr)
{
    struct store *s = NULL;
    enum err err = new_store(path, STORE_WRITE, &s, reterr);
    if (err == ERR_OK)
        err = make(s, ret_made, reterr);
    if (err == ERR_OK && !*ret_made)
        err = upgrade(s, reterr);
    if (s != NULL)
        (void)store_named(s, err, reterr);
    store_close(s);
    return err;
}

/* keep: owns the copy of a store and the sweeping of its photos. */
#include "store/classroom.h"
#include "store/copy.h"
#include "store/inner.h"
#include "store/jobs.h"
#include "store/people.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* ---- tidying ------------------------------------------------------------------------------- */

enum { SWEPT_AT_ONCE = 64 };

/* A file that no claim named when it was met. */
struct leftover {
    char name[FILES_LISTED_MAX];
    char ext[FILES_EXT_MAX];
    uint8_t sha256[STORE_DIGEST];
    bool is_photo;
    int64_t bytes;
};

struct sweep {
    struct store *store;
    int64_t n_files, n_bytes;
    size_t n;
    struct leftover found[SWEPT_AT_ONCE];
};

static enum err is_named(struct store *s, const uint8_t *sha256, const char *ext, bool *ret,
                         struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT 1 FROM photo_files WHERE sha256 = ? AND ext = ?");
    db_blob(&u, sha256, STORE_DIGEST);
    db_text(&u, ext);
    const enum err err = db_next(&u, ret, f);
    db_rest(&u);
    return err;
}

static enum err sweep_one(struct sweep *s, const struct leftover *l, struct fault *f)
{
    bool has_name = false, is_gone = false;
    enum err err = l->is_photo ? is_named(s->store, l->sha256, l->ext, &has_name, f) : ERR_OK;
    if (err == ERR_OK && !has_name)
        err = album_remove(s->store->album, l->name, &is_gone, f);
    s->n_files += is_gone;
    s->n_bytes += is_gone ? l->bytes : 0;
    return err;
}

/* Removes what was met and still has no claim. Under the right to write: nobody can be between looking for a photo and naming it. Only
 * for so long: a list of a million photos is not read under it. */
static enum err sweep_found(struct sweep *s, struct fault *f)
{
    if (s->n == 0)
        return ERR_OK;
    enum err err = db_begin(s->store->db, f);
    for (size_t i = 0; i < s->n && err == ERR_OK; i++)
        err = sweep_one(s, &s->found[i], f);
    db_rollback(s->store->db);
    s->n = 0;
    return err;
}

static enum err sweep_file(void *me, const char *name, const uint8_t *sha256, const char *ext,
                           int64_t bytes, bool is_part, struct fault *f)
{
    struct sweep *s = me;
    bool has_name = false;
    enum err err = ERR_OK;
    if (is_part)
        return ERR_OK;
    if (sha256 != NULL)
        err = is_named(s->store, sha256, ext, &has_name, f);
    if (err != ERR_OK || has_name)
        return err;
    struct leftover *l = &s->found[s->n++];
    *l = (struct leftover){.is_photo = sha256 != NULL, .bytes = bytes};
    snprintf(l->name, sizeof l->name, "%s", name);
    snprintf(l->ext, sizeof l->ext, "%s", ext);
    if (sha256 != NULL)
        memcpy(l->sha256, sha256, STORE_DIGEST);
    return s->n < SWEPT_AT_ONCE ? ERR_OK : sweep_found(s, f);
}

enum err store_tidy(struct store *store, int64_t *ret_files, int64_t *ret_bytes,
                    struct fault *reterr)
{
    enum err err = store_writable(store, reterr);
    struct sweep *s = err == ERR_OK ? calloc(1, sizeof *s) : NULL;
    if (err == ERR_OK && s == NULL)
        err = fault_no_memory(reterr);
    if (s != NULL) {
        s->store = store;
        err = album_walk(store->album, sweep_file, s, reterr);
    }
    if (s != NULL && err == ERR_OK)
        err = sweep_found(s, reterr);
    if (s != NULL && err == ERR_OK) {
        *ret_files = s->n_files;
        *ret_bytes = s->n_bytes;
    }
    free(s);
    return store_named(store, err, reterr);
}

/* ---- copying ------------------------------------------------------------------------------- */

static void step_pages(void *me, uint64_t done, uint64_t all)
{
    store_step(me, "database", done, all);
}

static enum err copy_db(struct store *s, const char *part, const struct store_progress *progress,
                        struct fault *f)
{
    char path[FILES_PATH_MAX];
    struct store_progress own = progress != NULL ? *progress : (struct store_progress){0};
    enum err err = files_join(part, store_file, path, f);
    if (err == ERR_OK)
        err = db_snapshot(s->db, f);
    if (err == ERR_OK && s->is_server) /* not page by page: by the log, from which all follows */
        err = copy_log_file(s, path, progress, f);
    else if (err == ERR_OK)
        err = db_copy(s->db, path, step_pages, &own, f);
    db_rollback(s->db);
    return err;
}

/* A photo in memory as a source. */
static long give(void *me, uint64_t at, void *buf, size_t n)
{
    const struct text *t = me;
    const size_t left = at < t->size ? t->size - (size_t)at : 0, now = left < n ? left : n;
    if (now > 0)
        memcpy(buf, t->data + at, now);
    return (long)now;
}

/* One photo from the store to the copy; one that is there already and right stays. */
static enum err copy_photo(struct store *s, const struct album *to, const uint8_t *sha256,
                           const char *ext, int64_t bytes, struct text *room, struct fault *f)
{
    char name[FAULT_PATH_MAX];
    bool is_new = false, is_there = false;
    struct fault unused = {0};
    struct store_photo photo = {.name = name, .read = give, .me = room};
    files_name(sha256, ext, name, sizeof name);
    memcpy(photo.sha256, sha256, STORE_DIGEST);
    enum err err = album_has(to, sha256, ext, bytes, &is_there, f);
    if (err != ERR_OK)
        return err;
    if (is_there && album_check(to, sha256, ext, bytes, &unused) == ERR_OK)
        return ERR_OK;
    err = album_read(s->album, sha256, ext, STORE_PHOTO_MAX, room, f);
    if (err == ERR_OK)
        err = album_put(to, &photo, &is_new, f);
    else
        snprintf(f->path, sizeof f->path, "%s", name);
    /* A photo that is missing or damaged must not be copied quietly: it is the disk's fault. */
    return err == ERR_OK || err == ERR_MEMORY ? err : (f->code = ERR_IO);
}

enum err copy_photos(struct store *s, struct db *list, const struct album *to,
                     const struct store_progress *progress, int64_t n_all, struct fault *f)
{
    struct db_use u =
        db_use_many(list, "SELECT sha256, ext, bytes FROM photo_files ORDER BY sha256");
    struct text room = {0};
    enum err err = ERR_OK;
    for (uint64_t n = 0; err == ERR_OK; n++) {
        bool has_row = false;
        size_t size = 0;
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const uint8_t *sha256 = db_col_blob(&u, 0, &size);
        if (size != STORE_DIGEST)
            err = fault_set(f, ERR_SYNTAX, "a photo has no digest; see `store verify`");
        else
            err = copy_photo(s, to, sha256, db_col_text(&u, 1, NULL), db_col_int(&u, 2), &room, f);
        store_step(progress, "photos", n + 1, (uint64_t)n_all);
    }
    db_rest(&u);
    text_done(&room);
    return err;
}

/* Everything into the folder `part`. */
static enum err fill(struct store *s, const char *part, const struct store_progress *progress,
                     struct store_counts *ret, struct fault *f)
{
    char path[FILES_PATH_MAX];
    struct db *copy = NULL;
    struct album *to = NULL;
    enum err err = files_folder(part, f);
    if (err == ERR_OK)
        err = album_folder(part, &to, f);
    if (err == ERR_OK)
        err = album_make(to, f);
    if (err == ERR_OK)
        err = copy_db(s, part, progress, f);
    if (err == ERR_OK)
        err = files_join(part, store_file, path, f);
    /* The copy's own list, so that it is of the same moment as its tables. */
    if (err == ERR_OK)
        err = db_open(path, DB_WRITE, &copy, f);
    if (err == ERR_OK)
        err = store_count_db(copy, ret, f);
    if (err == ERR_OK)
        err = copy_photos(s, copy, to, progress, ret->photos, f);
    db_close(copy);
    album_close(to);
    return err != ERR_OK ? err : files_sync(part, f);
}

enum err copy_give_name(const char *part, const char *dest, struct fault *f)
{
    char parent[FILES_PATH_MAX];
    if (rename(part, dest) != 0)
        return files_say(f, "the copy cannot be given its name", errno);
    snprintf(parent, sizeof parent, "%s", dest);
    char *slash = strrchr(parent, '/');
    if (slash == NULL)
        snprintf(parent, sizeof parent, ".");
    else
        slash[slash == parent] = '\0';
    return files_sync(parent, f);
}

/* n_people: NULL: without them. */
static enum err backup(struct store *store, const char *dest, const struct store_progress *progress,
                       struct store_counts *ret, int64_t *n_people, struct fault *reterr)
{
    char name[FILES_PATH_MAX], part[FILES_PATH_MAX];
    struct stat st;
    size_t n = strlen(dest);
    while (n > 1 && dest[n - 1] == '/')
        n--;
    enum err err = store_idle(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    if (n == 0 || n >= FILES_PATH_MAX - 128)
        err = fault_set(reterr, ERR_LIMIT, "the copy's name is empty or too long");
    if (err == ERR_OK) {
        snprintf(name, sizeof name, "%.*s", (int)n, dest);
        snprintf(part, sizeof part, "%.*s.part", (int)n, dest);
        if (lstat(name, &st) == 0)
            err = fault_set(reterr, ERR_DUPLICATE,
                            "is there already; expected a new name for the copy");
    }
    if (err == ERR_OK)
        err = fill(store, part, progress, ret, reterr);
    if (err == ERR_OK)
        err = jobs_copy(store->word, part, reterr);
    if (err == ERR_OK && n_people != NULL)
        err = people_copy(store->word, part, n_people, reterr);
    if (err == ERR_OK && n_people != NULL)
        err = classroom_copy(store->word, part, reterr);
    if (err == ERR_OK)
        err = files_sync(part, reterr);
    if (err == ERR_OK)
        err = copy_give_name(part, name, reterr);
    if (err != ERR_OK)
        snprintf(reterr->file, sizeof reterr->file, "%.*s", FAULT_FILE_MAX - 1, dest);
    return err;
}

enum err store_backup(struct store *store, const char *dest, const struct store_progress *progress,
                      struct store_counts *ret, struct fault *reterr)
{
    return backup(store, dest, progress, ret, NULL, reterr);
}

enum err store_backup_with_people(struct store *store, const char *dest,
                                  const struct store_progress *progress, struct store_counts *ret,
                                  int64_t *ret_people, struct fault *reterr)
{
    return backup(store, dest, progress, ret, ret_people, reterr);
}

/* keep: owns the copy of a store and the sweeping of its photos. */
#include "store/classroom.h"
#include "store/copy.h"
#include "store/inner.h"
#include "store/jobs.h"
#include "store/people.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- tidying ------------------------------------------------------------------------------- */

struct sweep {
    struct store *store;
    int64_t n_files, n_bytes;
};

static enum err sweep_file(void *me, const char *path, const uint8_t *sha256, const char *ext,
                           int64_t bytes, bool is_part, struct fault *f)
{
    struct sweep *s = me;
    bool is_named = false;
    enum err err = ERR_OK;
    if (is_part)
        return ERR_OK;
    if (sha256 != NULL) {
        struct db_use u =
            db_use(s->store->db, "SELECT 1 FROM photo_files WHERE sha256 = ? AND ext = ?");
        db_blob(&u, sha256, STORE_DIGEST);
        db_text(&u, ext);
        err = db_next(&u, &is_named, f);
        db_rest(&u);
    }
    if (err != ERR_OK || is_named)
        return err;
    if (unlink(path) != 0)
        return errno == ENOENT ? ERR_OK : files_say(f, "a leftover cannot be removed", errno);
    s->n_files++;
    s->n_bytes += bytes;
    return ERR_OK;
}

enum err store_tidy(struct store *store, int64_t *ret_files, int64_t *ret_bytes,
                    struct fault *reterr)
{
    struct sweep s = {.store = store};
    /* Under the right to write: nobody can be between looking for a photo and naming it. */
    enum err err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err == ERR_OK)
        err = files_walk(store->path, sweep_file, &s, reterr);
    db_rollback(store->db);
    if (err == ERR_OK) {
        *ret_files = s.n_files;
        *ret_bytes = s.n_bytes;
    }
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

/* One photo from the store to the copy; one that is there already and right stays. */
static enum err copy_photo(struct store *s, const char *part, const uint8_t *sha256,
                           const char *ext, int64_t bytes, struct fault *f)
{
    char from[FILES_PATH_MAX];
    bool is_new;
    struct fault unused = {0};
    struct store_photo photo = {.name = from, .path = from};
    if (files_is_there(part, sha256, ext, bytes) &&
        files_check(part, sha256, ext, bytes, &unused) == ERR_OK)
        return ERR_OK;
    memcpy(photo.sha256, sha256, STORE_DIGEST);
    files_path(s->path, sha256, ext, from, sizeof from);
    const enum err err = files_put(part, &photo, &is_new, f);
    /* A photo that is missing or damaged must not be copied quietly: it is the disk's fault. */
    return err == ERR_OK || err == ERR_MEMORY ? err : (f->code = ERR_IO);
}

enum err copy_photos(struct store *s, struct db *list, const char *part,
                     const struct store_progress *progress, int64_t n_all, struct fault *f)
{
    struct db_use u =
        db_use_many(list, "SELECT sha256, ext, bytes FROM photo_files ORDER BY sha256");
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
            err = copy_photo(s, part, sha256, db_col_text(&u, 1, NULL), db_col_int(&u, 2), f);
        store_step(progress, "photos", n + 1, (uint64_t)n_all);
    }
    db_rest(&u);
    return err;
}

/* Everything into the folder `part`. */
static enum err fill(struct store *s, const char *part, const struct store_progress *progress,
                     struct store_counts *ret, struct fault *f)
{
    char path[FILES_PATH_MAX];
    struct db *copy = NULL;
    enum err err = files_folder(part, f);
    if (err == ERR_OK)
        err = files_join(part, "photos", path, f);
    if (err == ERR_OK)
        err = files_folder(path, f);
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
        err = copy_photos(s, copy, part, progress, ret->photos, f);
    db_close(copy);
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

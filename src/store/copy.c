/* copy: owns the way of a whole store to another place. */
#include "store/copy.h"

#include "store/classroom.h"
#include "store/inner.h"
#include "store/people.h"
#include "store/schema.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { STEP_ENTRIES = 1024 };

/* ---- the log ------------------------------------------------------------------------------- */

struct copying {
    struct db *to;
    struct scratch scratch;
    struct digest *digest;
    struct log_end end; /* of what was written */
    const struct store_progress *progress;
    uint64_t n_all;
};

static enum err copy_entry(void *me, const struct log_entry *e, const char *wrong, struct fault *f)
{
    struct copying *c = me;
    struct log_entry copy = *e;
    if (wrong != NULL)
        return fault_set(f, ERR_DOMAIN,
                         "the log is broken, so nothing was copied: entry %" PRId64 " %s", e->seq,
                         wrong);
    /* Its hash is worked out anew from what is written, and must come out the same. */
    enum err err = log_append(c->to, c->digest, &c->end, &copy, f);
    if (err == ERR_OK && memcmp(copy.hash, e->hash, STORE_DIGEST) != 0)
        err = fault_set(f, ERR_DOMAIN, "entry %" PRId64 " did not come out the same", e->seq);
    if (err == ERR_OK)
        err = derive_entry(c->to, &c->scratch, c->digest, e, f);
    if (e->seq % STEP_ENTRIES == 0)
        store_step(c->progress, "log", (uint64_t)e->seq, c->n_all);
    return err;
}

/* Tables and all that stands in them, in the caller's transaction on an empty database. */
static enum err fill(struct store *s, struct db *to, const struct store_progress *progress,
                     struct log_end *ret_end, struct fault *f)
{
    struct copying c = {.to = to, .progress = progress};
    int64_t n = 0;
    enum err err = digest_new(DIGEST_SHA256, &c.digest) == ERR_OK ? ERR_OK : fault_no_memory(f);
    if (err == ERR_OK)
        err = store_number(s->db, "SELECT coalesce(max(seq), 0) FROM log", &n, f);
    c.n_all = (uint64_t)n;
    if (err == ERR_OK)
        err = schema_make(to, f);
    if (err == ERR_OK)
        err = schema_bulk(to, false, f);
    if (err == ERR_OK)
        err = log_walk(s->db, s->digest, copy_entry, &c, f);
    if (err == ERR_OK)
        err = schema_bulk(to, true, f);
    *ret_end = c.end;
    digest_free(c.digest);
    scratch_done(&c.scratch);
    return err;
}

/* The new database must have nothing in it. */
static enum err check_empty(struct db *db, struct fault *f)
{
    int64_t n = 0;
    const enum err err = db_count_objects(db, &n, f);
    return err != ERR_OK || n == 0
               ? err
               : fault_set(f, ERR_DUPLICATE, "is there already; expected a new place for the copy");
}

static enum err keep_entry(void *me, const struct log_entry *e, const char *wrong, struct fault *f)
{
    struct log_end *end = me;
    (void)f;
    if (wrong == NULL) {
        end->seq = e->seq;
        memcpy(end->hash, e->hash, STORE_DIGEST);
    }
    return wrong == NULL ? ERR_OK : fault_set(f, ERR_IO, "the copy came out wrong: %s", wrong);
}

/* Reads the copy's log back: as long as what was written, each hash that of its entry, the last one the same. */
static enum err prove(struct db *db, struct digest *d, const struct log_end *end, struct fault *f)
{
    struct log_end found = {0};
    enum err err = db_snapshot(db, f);
    if (err == ERR_OK)
        err = log_walk(db, d, keep_entry, &found, f);
    db_rollback(db);
    if (err == ERR_OK &&
        (found.seq != end->seq || memcmp(found.hash, end->hash, STORE_DIGEST) != 0))
        err = fault_set(f, ERR_IO, "the copy came out wrong: its log ends otherwise");
    return err;
}

/* Writes, commits and proves. before: what else has to be there before the store is. */
static enum err write_db(struct store *s, struct db *to, const struct store_progress *progress,
                         struct log_end *ret_end, struct fault *f)
{
    enum err err = db_begin(to, f);
    if (err != ERR_OK)
        return err;
    err = check_empty(to, f);
    if (err == ERR_OK)
        err = fill(s, to, progress, ret_end, f);
    if (err == ERR_OK)
        err = db_commit(to, f);
    else
        db_rollback(to);
    return err != ERR_OK ? err : prove(to, s->digest, ret_end, f);
}

/* A copy that was broken off leaves a file of no use: half of it was never committed, or its name was never given. */
static void remove_file(const char *path)
{
    static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
    char name[FILES_PATH_MAX + 16];
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

enum err copy_log_file(struct store *s, const char *path, const struct store_progress *progress,
                       struct fault *f)
{
    struct db *db = NULL;
    struct log_end end = {0};
    remove_file(path);
    enum err err = db_open(path, DB_CREATE, &db, f);
    if (err == ERR_OK)
        err = write_db(s, db, progress, &end, f);
    db_close(db);
    return err;
}

/* ---- the whole store ----------------------------------------------------------------------- */

struct moving {
    struct store *from;
    const struct store_copy_order *order;
    struct store_copied *ret;
    struct log_end end;
};

/* Photos first, and people: what the store's own tables name is there before they are. */
static enum err move_rest(struct moving *m, const char *files, const struct album *album,
                          const char *to, struct fault *f)
{
    enum err err = files_folder(files, f);
    if (err == ERR_OK)
        err = album_make(album, f);
    if (err == ERR_OK)
        err =
            copy_photos(m->from, m->from->db, album, m->order->progress, m->ret->counts.photos, f);
    if (err == ERR_OK && m->order->with_people)
        err = people_copy(m->from->word, to, &m->ret->n_people, f);
    if (err == ERR_OK && m->order->with_people)
        err = classroom_copy(m->from->word, to, f);
    return err != ERR_OK ? err : files_sync(files, f);
}

static enum err to_folder(struct moving *m, const struct place *to, struct fault *f)
{
    char part[FILES_PATH_MAX], path[FILES_PATH_MAX];
    struct stat st;
    struct db *db = NULL;
    struct album *album = NULL;
    if (lstat(to->files, &st) == 0)
        return fault_set(f, ERR_DUPLICATE, "is there already; expected a new name for the copy");
    snprintf(part, sizeof part, "%.*s.part", FILES_PATH_MAX - 128, to->files);
    enum err err = album_folder(part, &album, f);
    if (err == ERR_OK)
        err = move_rest(m, part, album, part, f);
    album_close(album);
    if (err == ERR_OK)
        err = files_join(part, store_file, path, f);
    if (err == ERR_OK) {
        remove_file(path);
        err = db_open(path, DB_CREATE, &db, f);
    }
    if (err == ERR_OK)
        err = write_db(m->from, db, m->order->progress, &m->end, f);
    db_close(db);
    if (err == ERR_OK)
        err = files_sync(part, f);
    return err != ERR_OK ? err : copy_give_name(part, to->files, f);
}

static enum err to_server(struct moving *m, const struct place *to, const char *word,
                          struct fault *f)
{
    struct db *db = NULL;
    struct album *album = NULL;
    enum err err = db_open(to->db, DB_CREATE, &db, f);
    if (err == ERR_OK)
        err = check_empty(db, f);
    if (err == ERR_OK)
        err = album_open(to, &album, f);
    if (err == ERR_OK)
        err = move_rest(m, to->files, album, word, f);
    album_close(album);
    if (err == ERR_OK)
        err = write_db(m->from, db, m->order->progress, &m->end, f);
    db_close(db);
    return err;
}

/* At one moment of the source. */
static enum err move(struct moving *m, const char *to, struct fault *f)
{
    struct place place;
    enum err err = place_find(to, store_file, &place, f);
    if (err == ERR_OK)
        err = store_look(m->from, f);
    if (err != ERR_OK)
        return err;
    err = store_count_db(m->from->db, &m->ret->counts, f);
    if (err == ERR_OK)
        err = place.is_server ? to_server(m, &place, to, f) : to_folder(m, &place, f);
    store_look_end(m->from);
    if (err != ERR_OK && f->file[0] == '\0')
        snprintf(f->file, sizeof f->file, "%s", place.shown);
    return err;
}

enum err store_copy(const char *from, const char *to, const struct store_copy_order *order,
                    struct store_copied *ret, struct fault *reterr)
{
    struct moving m = {.order = order, .ret = ret};
    *ret = (struct store_copied){0};
    enum err err = store_open(from, STORE_READ, &m.from, reterr);
    if (err == ERR_OK)
        err = move(&m, to, reterr);
    memcpy(ret->head, m.end.hash, STORE_DIGEST);
    store_close(m.from);
    return err;
}

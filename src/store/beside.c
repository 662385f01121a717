/* beside: owns how a database beside the log is opened and made. */
#include "store/beside.h"

#include "store/place.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

bool beside_is_there(const struct beside *b, const char *store)
{
    struct stat st;
    struct place place;
    struct db *db = NULL;
    struct fault unused = {0};
    if (place_find(store, b->name, &place, &unused) != ERR_OK)
        return false;
    if (!place.is_server)
        return stat(place.db, &st) == 0;
    /* Unreachable is not absent: whoever opens it then is told. */
    const enum err err = db_open(place.db, DB_READ, &db, &unused);
    db_close(db);
    return err != ERR_OPEN;
}

enum err beside_open_read(const struct beside *b, const char *store, char path[FILES_PATH_MAX],
                          struct db **ret, struct fault *reterr)
{
    struct place place;
    *ret = NULL;
    enum err err = place_find(store, b->name, &place, reterr);
    snprintf(path, FILES_PATH_MAX, "%.*s", FILES_PATH_MAX - 1,
             place.is_server ? place.shown : place.db);
    if (err == ERR_OK)
        err = db_open(place.db, DB_READ, ret, reterr);
    return beside_named(path, err, reterr);
}

enum err beside_named(const char *path, enum err err, struct fault *f)
{
    if (err != ERR_OK && f->file[0] == '\0')
        snprintf(f->file, sizeof f->file, "%.*s", FAULT_FILE_MAX - 1, path);
    return err;
}

enum err beside_finish(struct db *db, const char *path, enum err err, struct fault *f)
{
    if (err == ERR_OK)
        err = db_commit(db, f);
    else
        db_rollback(db);
    return beside_named(path, err, f);
}

/* A new file gets its tables, one that is there is looked at; under the right to write, so that two who open it first agree. */
static enum err prepare(const struct beside *b, struct db *db, struct fault *f)
{
    int64_t application = 0, version = 0;
    enum err err = db_begin(db, f);
    if (err == ERR_OK)
        err = db_marks(db, &application, &version, f);
    if (err == ERR_OK && application == 0 && version == 0) {
        err = db_script(db, b->schema, f);
        if (err == ERR_OK)
            err = db_mark(db, b->application, b->version, f);
        if (err == ERR_OK)
            return db_commit(db, f);
    } else if (err == ERR_OK && application != b->application) {
        err = fault_set(f, ERR_TYPE, "is a database, but not %s of this program", b->what);
    } else if (err == ERR_OK && version > b->version) {
        err = fault_set(f, ERR_DOMAIN,
                        "was written by a later program (version %lld; this one knows up to %lld)",
                        (long long)version, (long long)b->version);
    } else if (err == ERR_OK && version < b->version) {
        for (; err == ERR_OK && version < b->version; version++)
            err = version < 1 ? fault_set(f, ERR_TYPE, "is no %s of a known version", b->what)
                              : db_script(db, b->steps[version - 1], f);
        if (err == ERR_OK)
            err = db_mark(db, b->application, b->version, f);
        if (err == ERR_OK)
            return db_commit(db, f);
    }
    db_rollback(db);
    return err;
}

/* The file is its owner's alone from the start; SQLite gives its companions the same rights. */
static enum err make(const char *path, struct db **ret, struct fault *f)
{
    const int fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (fd < 0)
        return fault_set(f, ERR_OPEN, "cannot be made: %s", strerror(errno));
    close(fd);
    return db_open(path, DB_CREATE, ret, f);
}

enum err beside_open(const struct beside *b, const char *store, char path[FILES_PATH_MAX],
                     struct db **ret, struct fault *reterr)
{
    struct stat st;
    struct place place;
    struct db *db = NULL;
    *ret = NULL;
    enum err err = place_find(store, b->name, &place, reterr);
    snprintf(path, FILES_PATH_MAX, "%.*s", FILES_PATH_MAX - 1,
             place.is_server ? place.shown : place.db);
    if (err == ERR_OK && place.is_server)
        err = db_open(place.db, DB_CREATE, &db, reterr);
    else if (err == ERR_OK)
        err = stat(path, &st) == 0 ? db_open(path, DB_WRITE, &db, reterr) : make(path, &db, reterr);
    if (err == ERR_OK)
        err = prepare(b, db, reterr);
    if (err != ERR_OK) {
        db_close(db);
        return beside_named(path, err, reterr);
    }
    *ret = db;
    return ERR_OK;
}

/* jobs_copy: owns the copy of a box of open jobs: row by row, so that a box in PostgreSQL becomes a file as well. */
#include "store/jobs_inner.h"

/* A table, in the order in which one names another; kinds: of its columns, i whole numbers, t texts, b bytes or none. */
static const struct {
    const char *select, *insert, *kinds;
} tables[] = {
    {"SELECT key, shop, job, vin, bulletin, bulletin_sha256, revision, is_invented, opened_ms, "
     "touched_ms, n_bytes, claim, claim_by, claim_ms FROM jobs ORDER BY key",
     "INSERT INTO jobs (key, shop, job, vin, bulletin, bulletin_sha256, revision, is_invented, "
     "opened_ms, touched_ms, n_bytes, claim, claim_by, claim_ms) "
     "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
     "itttttiiiiitti"},
    {"SELECT job, seq, ulid, json, photo, is_claimed FROM events ORDER BY job, seq",
     "INSERT INTO events (job, seq, ulid, json, photo, is_claimed) VALUES (?, ?, ?, ?, ?, ?)",
     "iittbi"},
    {"SELECT key, job, sha256, bytes FROM photos ORDER BY key",
     "INSERT INTO photos (key, job, sha256, bytes) VALUES (?, ?, ?, ?)", "iibb"},
    {"SELECT job, phone, person, seen_ms FROM phones ORDER BY job, phone",
     "INSERT INTO phones (job, phone, person, seen_ms) VALUES (?, ?, ?, ?)", "itti"},
};

static void give(struct db_use *to, const struct db_use *from, char kind, int i)
{
    size_t n = 0;
    if (kind == 'i') {
        db_int(to, db_col_int(from, i));
    } else if (kind == 't') {
        const char *text = db_col_text(from, i, &n);
        db_text_n(to, text, n);
    } else if (db_col_is_null(from, i)) {
        db_null(to);
    } else {
        const uint8_t *bytes = db_col_blob(from, i, &n);
        db_blob(to, bytes, n);
    }
}

static enum err copy_table(struct db *from, struct db *to, size_t table, struct fault *f)
{
    struct db_use u = db_use_many(from, tables[table].select);
    const char *kinds = tables[table].kinds;
    bool has_row = false;
    enum err err = ERR_OK;
    while ((err = db_next(&u, &has_row, f)) == ERR_OK && has_row) {
        struct db_use put = db_use(to, tables[table].insert);
        for (int i = 0; kinds[i] != '\0'; i++)
            give(&put, &u, kinds[i], i);
        err = db_end(&put, f);
        if (err != ERR_OK)
            break;
    }
    db_rest(&u);
    return err;
}

enum err jobs_copy(const char *from, const char *to, struct fault *reterr)
{
    char path[FILES_PATH_MAX], dest[FILES_PATH_MAX];
    struct db *db = NULL, *copy = NULL;
    if (!beside_is_there(&jobs_beside, from))
        return ERR_OK;
    enum err err = beside_open_read(&jobs_beside, from, path, &db, reterr);
    if (err == ERR_OK)
        err = beside_open(&jobs_beside, to, dest, &copy, reterr);
    if (err == ERR_OK)
        err = beside_named(path, db_snapshot(db, reterr), reterr);
    if (err == ERR_OK && (err = beside_named(dest, db_begin(copy, reterr), reterr)) == ERR_OK) {
        err = db_script(copy, "DELETE FROM jobs", reterr); /* of a copy that was broken off */
        for (size_t i = 0; err == ERR_OK && i < sizeof tables / sizeof *tables; i++)
            err = copy_table(db, copy, i, reterr);
        err = beside_finish(copy, dest, err, reterr);
    }
    if (db != NULL)
        db_rollback(db);
    db_close(copy);
    db_close(db);
    return err;
}

enum err jobs_count(const char *store, int64_t *ret_n, struct fault *reterr)
{
    char path[FILES_PATH_MAX];
    struct db *db = NULL;
    bool has_row = false;
    *ret_n = 0;
    if (!beside_is_there(&jobs_beside, store))
        return ERR_OK;
    enum err err = beside_open_read(&jobs_beside, store, path, &db, reterr);
    if (err != ERR_OK)
        return err;
    struct db_use u = db_use(db, "SELECT count(*) FROM jobs");
    err = db_next(&u, &has_row, reterr);
    if (err == ERR_OK && has_row)
        *ret_n = db_col_int(&u, 0);
    db_rest(&u);
    db_close(db);
    return beside_named(path, err, reterr);
}

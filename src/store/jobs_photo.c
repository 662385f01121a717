/* jobs_photo: owns the photos of open jobs: rows of jobs.db, so that they come and go with their job in one transaction. */
#include "store/jobs_inner.h"

#include <stdlib.h>
#include <string.h>

/* *ret: whether sql, of a job and a digest, finds a row. */
static enum err finds(struct jobs *j, const char *sql, int64_t key, const uint8_t *sha256,
                      bool *ret, struct fault *f)
{
    struct db_use u = db_use(j->db, sql);
    db_int(&u, key);
    db_blob(&u, sha256, DIGEST_SHA256_SIZE);
    const enum err err = db_next(&u, ret, f);
    db_rest(&u);
    return err;
}

/* *ret: an event of the job names the photo. */
static enum err is_named(struct jobs *j, int64_t key, const uint8_t *sha256, bool *ret,
                         struct fault *f)
{
    static const char sql[] = "SELECT 1 FROM events WHERE job = ? AND photo = ?";
    return finds(j, sql, key, sha256, ret, f);
}

static enum err is_there(struct jobs *j, int64_t key, const uint8_t *sha256, bool *ret,
                         struct fault *f)
{
    static const char sql[] = "SELECT 1 FROM photos WHERE job = ? AND sha256 = ?";
    return finds(j, sql, key, sha256, ret, f);
}

static enum err insert(struct jobs *j, int64_t key, const uint8_t *sha256, const uint8_t *bytes,
                       size_t n, struct fault *f)
{
    static const char sql[] = "INSERT INTO photos (job, sha256, bytes) VALUES (?, ?, ?)";
    struct db_use u = db_use(j->db, sql);
    db_int(&u, key);
    db_blob(&u, sha256, DIGEST_SHA256_SIZE);
    db_blob(&u, bytes, n);
    return db_end(&u, f);
}

static enum err put(struct jobs *j, const char *shop, const char *job, const uint8_t *sha256,
                    const uint8_t *bytes, size_t n, int64_t now_ms, bool *ret_new, struct fault *f)
{
    struct jobs_row row = {0};
    bool is_found = false, is_wanted = false, has = false;
    enum err err = jobs_find(j, shop, job, &row, &is_found, f);
    if (err == ERR_OK && !is_found)
        return fault_set(f, ERR_UNKNOWN, "there is no such job");
    if (err == ERR_OK)
        err = is_named(j, row.key, sha256, &is_wanted, f);
    if (err == ERR_OK && !is_wanted)
        return fault_set(f, ERR_UNKNOWN, "no event of this job names such a photo");
    if (err == ERR_OK)
        err = is_there(j, row.key, sha256, &has, f);
    if (err != ERR_OK || has)
        return err;
    err = jobs_room(j, shop, &row, (int64_t)n, f);
    if (err == ERR_OK)
        err = insert(j, row.key, sha256, bytes, n, f);
    if (err == ERR_OK)
        err = jobs_grew(j, row.key, (int64_t)n, now_ms, f);
    *ret_new = err == ERR_OK;
    return err;
}

enum err jobs_photo_put(struct jobs *jobs, const char *shop, const char *job,
                        const uint8_t sha256[DIGEST_SHA256_SIZE], const uint8_t *bytes, size_t n,
                        int64_t now_ms, bool *ret_new, struct fault *reterr)
{
    *ret_new = false;
    if (n > JOBS_PHOTO_MAX)
        return fault_set(reterr, ERR_LIMIT, "the photo is larger than %d MiB",
                         (int)(JOBS_PHOTO_MAX / 1048576));
    if (strcmp(files_kind(bytes, n), "bin") == 0)
        return fault_set(reterr, ERR_TYPE, "it is no picture: neither JPEG nor PNG nor HEIC");
    enum err err = db_begin(jobs->db, reterr);
    if (err != ERR_OK)
        return beside_named(jobs->path, err, reterr);
    err = put(jobs, shop, job, sha256, bytes, n, now_ms, ret_new, reterr);
    return beside_finish(jobs->db, jobs->path, err, reterr);
}

enum err jobs_photo_get(struct jobs *jobs, const char *shop, const char *job,
                        const uint8_t sha256[DIGEST_SHA256_SIZE], char **ret, size_t *ret_n,
                        const char **ret_kind, struct fault *reterr)
{
    static const char sql[] = "SELECT bytes FROM photos JOIN jobs ON jobs.key = photos.job "
                              "WHERE shop = ? AND jobs.job = ? AND sha256 = ?";
    struct db_use u = db_use(jobs->db, sql);
    bool is_found = false;
    *ret = NULL;
    *ret_n = 0;
    db_text(&u, shop);
    db_text(&u, job);
    db_blob(&u, sha256, DIGEST_SHA256_SIZE);
    enum err err = db_next(&u, &is_found, reterr);
    if (err == ERR_OK && !is_found)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no such photo");
    if (err == ERR_OK) {
        const uint8_t *bytes = db_col_blob(&u, 0, ret_n);
        *ret_kind = files_kind(bytes, *ret_n);
        *ret = malloc(*ret_n + 1);
        if (*ret != NULL)
            memcpy(*ret, bytes, *ret_n);
        else
            err = fault_no_memory(reterr);
    }
    db_rest(&u);
    return beside_named(jobs->path, err, reterr);
}

enum err jobs_photos(struct jobs *jobs, int64_t key, jobs_see_photo *see, void *me,
                     struct fault *reterr)
{
    static const char sql[] = "SELECT sha256 FROM photos WHERE job = ? ORDER BY key";
    struct db_use u = db_use(jobs->db, sql);
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    size_t n = 0;
    db_int(&u, key);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, db_col_blob(&u, 0, &n));
    }
    db_rest(&u);
    return beside_named(jobs->path, err, reterr);
}

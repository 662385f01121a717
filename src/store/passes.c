/* passes: owns the narrow ways out of the store: one row a claim or a photo over all of them, and ids
 * that a question gives. What is handed over is SQLite's own copy of the row. */
#include "store/inner.h"

#include <math.h>
#include <string.h>

/* ---- passes over all ----------------------------------------------------------------------- */

static const char *text_or_null(const struct db_use *u, int i)
{
    size_t n = 0;
    const char *text = db_col_text(u, i, &n);
    return n == 0 && db_col_is_null(u, i) ? NULL : text;
}

static int64_t int_or_unknown(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? STORE_UNKNOWN : db_col_int(u, i);
}

static struct store_hash hash_or_unknown(const struct db_use *u, int i)
{
    const bool is_known = !db_col_is_null(u, i);
    return (struct store_hash){is_known, is_known ? (uint64_t)db_col_int(u, i) : 0};
}

static void take_digest(const struct db_use *u, int i, uint8_t ret[STORE_DIGEST])
{
    size_t n = 0;
    const uint8_t *bytes = db_col_blob(u, i, &n);
    if (n == STORE_DIGEST)
        memcpy(ret, bytes, n);
}

enum err store_briefs(struct store *store, store_see_brief *see, void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u =
        db_use(store->db,
               "SELECT seq, claim, job, bulletin, vin, shop, technician, opened_ms, finished_ms, "
               "taken_ms, revision, digest FROM claims LEFT JOIN reading_sets ON claim_seq = seq "
               "ORDER BY seq");
    bool has_row = true, goes_on = true;
    while (goes_on) {
        struct store_brief b = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        b.seq = db_col_int(&u, 0);
        b.claim = db_col_text(&u, 1, NULL);
        b.job = text_or_null(&u, 2);
        b.bulletin = db_col_text(&u, 3, NULL);
        b.vin = db_col_text(&u, 4, NULL);
        b.shop = text_or_null(&u, 5);
        b.technician = text_or_null(&u, 6);
        b.opened_ms = int_or_unknown(&u, 7);
        b.finished_ms = int_or_unknown(&u, 8);
        b.taken_ms = int_or_unknown(&u, 9);
        b.revision = int_or_unknown(&u, 10);
        b.has_readings = !db_col_is_null(&u, 11);
        take_digest(&u, 11, b.readings);
        goes_on = see(me, &b);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_photos(struct store *store, store_see_photo *see, void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    /* CROSS: claims outside, so that nothing has to be sorted. */
    struct db_use u = db_use(
        store->db,
        "SELECT c.seq, c.claim, p.name, p.station, p.point, p.sha256, p.ext, p.dhash, "
        "p.dhash_mirror, p.phash, p.phash_mirror, p.is_flat FROM claims AS c CROSS JOIN photos "
        "AS p ON p.claim_seq = c.seq ORDER BY c.seq, p.n");
    bool has_row = true, goes_on = true;
    while (goes_on) {
        struct store_photo p = {.bytes = STORE_UNKNOWN,
                                .width = STORE_UNKNOWN,
                                .height = STORE_UNKNOWN,
                                .taken_ms = STORE_UNKNOWN,
                                .sharpness = NAN,
                                .exposure = NAN};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        p.name = db_col_text(&u, 2, NULL);
        p.station = text_or_null(&u, 3);
        p.point = text_or_null(&u, 4);
        take_digest(&u, 5, p.sha256);
        p.ext = db_col_text(&u, 6, NULL);
        p.dhash = hash_or_unknown(&u, 7);
        p.dhash_mirror = hash_or_unknown(&u, 8);
        p.phash = hash_or_unknown(&u, 9);
        p.phash_mirror = hash_or_unknown(&u, 10);
        p.is_flat = int_or_unknown(&u, 11);
        goes_on = see(me, db_col_int(&u, 0), db_col_text(&u, 1, NULL), &p);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

/* ---- ids ----------------------------------------------------------------------------------- */

/* Every id that a query with one text gives. */
static enum err see_ids(struct store *store, const char *sql, const char *text, store_see_id *see,
                        void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = db_use(store->db, sql);
    bool has_row = true, goes_on = true;
    db_text(&u, text);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, db_col_text(&u, 0, NULL));
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_same_readings(struct store *store, const char *claim, store_see_id *see, void *me,
                             struct fault *reterr)
{
    return see_ids(store,
                   "SELECT other.claim FROM claims AS one "
                   "JOIN reading_sets AS mine ON mine.claim_seq = one.seq "
                   "JOIN reading_sets AS theirs ON theirs.digest = mine.digest "
                   "JOIN claims AS other ON other.seq = theirs.claim_seq AND other.seq <> one.seq "
                   "WHERE one.claim = ? ORDER BY other.seq",
                   claim, see, me, reterr);
}

enum err store_claims_of_unit(struct store *store, const char *vin, store_see_id *see, void *me,
                              struct fault *reterr)
{
    return see_ids(store, "SELECT claim FROM claims WHERE vin = ? ORDER BY seq", vin, see, me,
                   reterr);
}

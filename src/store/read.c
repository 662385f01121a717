/* read: owns the way of claims, events and rulings out of the store. */
#include "store/inner.h"

#include <math.h>
#include <string.h>

static enum err no_memory(struct fault *f)
{
    return fault_set(f, ERR_MEMORY, "memory ran out");
}

/* A call of its own has a pool of its own, so that calls may stand inside one another. */
struct reader {
    struct db *db;
    struct pool pool;
};

/* The rows of a query with one parameter as an array of a shape in the pool. */
struct rows {
    const char *sql;
    const struct shape *shape;
    int first; /* column of the shape's first field */
};

static enum err read_rows(struct reader *s, const struct rows *rows, int64_t seq, void *ret_items,
                          size_t *ret_n, struct fault *f)
{
    const size_t size = rows->shape->size;
    struct db_use u = db_use(s->db, rows->sql);
    char *items = NULL;
    size_t n = 0, room = 0;
    enum err err = ERR_OK;
    db_int(&u, seq);
    for (;;) {
        bool has_row = false;
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        if (n ==
            room) { /* the old array stays in the pool until it is cleared: at most as much again */
            room = room > 0 ? 2 * room : 16;
            char *more = pool_take(&s->pool, room * size);
            if (more == NULL) {
                err = no_memory(f);
                break;
            }
            if (n > 0)
                memcpy(more, items, n * size);
            items = more;
        }
        shape_row(rows->shape, &u, rows->first, &s->pool, items + n++ * size);
    }
    db_rest(&u);
    if (err == ERR_OK && s->pool.is_broken)
        err = no_memory(f);
    memcpy(ret_items, &items, sizeof items);
    *ret_n = n;
    return err;
}

static const struct rows station_rows = {
    "SELECT station, variant, label, built_first, built_last, scope, kit FROM stations "
    "WHERE claim_seq = ? ORDER BY n",
    &shape_station, 0};
static const struct rows reading_rows = {
    "SELECT station, point, phase, unit, value_nano, u_nano, taken_ms, ulid FROM readings "
    "WHERE claim_seq = ? ORDER BY n",
    &shape_reading, 0};
static const struct rows photo_rows = {
    "SELECT name, station, point, ulid, sha256, ext, bytes, width, height, taken_ms, dhash, "
    "dhash_mirror, phash, phash_mirror, is_flat, sharpness, exposure, codes, fault FROM photos "
    "WHERE claim_seq = ? ORDER BY n",
    &shape_photo, 0};
static const struct rows finding_rows = {
    "SELECT rule, level, station, message, cure FROM findings WHERE seq = ? ORDER BY n",
    &shape_finding, 0};
static const struct rows award_rows = {
    "SELECT station, verdict, amount_minor FROM awards WHERE ruling_seq = ? ORDER BY n",
    &shape_award, 0};

static enum err read_parts(struct reader *s, int64_t seq, struct store_claim *c, struct fault *f)
{
    enum err err = read_rows(s, &station_rows, seq, &c->stations, &c->n_stations, f);
    if (err == ERR_OK)
        err = read_rows(s, &reading_rows, seq, &c->readings, &c->n_readings, f);
    if (err == ERR_OK)
        err = read_rows(s, &photo_rows, seq, &c->photos, &c->n_photos, f);
    return err != ERR_OK ? err : read_rows(s, &finding_rows, seq, &c->findings, &c->n_findings, f);
}

#define CLAIMS                                                                                     \
    "SELECT seq, bag, n_events, job, bulletin, revision, bulletin_sha256, is_invented, vin, "      \
    "shop, technician, signature, signed_by, opened_ms, finished_ms, taken_ms, labour_s "          \
    "FROM claims"

enum err store_claims(struct store *store, const char *claim, store_see_claim *see, void *me,
                      struct fault *reterr)
{
    static const char all[] = CLAIMS " ORDER BY seq";
    static const char one[] = CLAIMS " WHERE claim = ?";
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct reader reader = {.db = store->db};
    struct db_use u = db_use(store->db, claim != NULL ? one : all);
    bool has_row = true, goes_on = true;
    if (claim != NULL)
        db_text(&u, claim);
    while (goes_on) {
        struct store_claim c = {0};
        char id[STORE_CLAIM_SIZE + 1];
        size_t n = 0;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        pool_clear(&reader.pool);
        const uint8_t *bag = db_col_blob(&u, 1, &n);
        if (n == STORE_DIGEST)
            memcpy(c.bag, bag, n);
        c.n_events = (size_t)db_col_int(&u, 2);
        store_claim_id(c.bag, id);
        shape_row(&shape_claim, &u, 3, &reader.pool, &c);
        err = read_parts(&reader, db_col_int(&u, 0), &c, reterr);
        if (err != ERR_OK)
            break;
        goes_on = see(me, id, &c) && claim == NULL;
    }
    db_rest(&u);
    pool_done(&reader.pool);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_events(struct store *store, const char *claim, store_see_event *see, void *me,
                      struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    /* A claim's events follow its entry without a gap. */
    struct db_use u =
        db_use(store->db, "SELECT log.ulid, log.type, log.json FROM claims JOIN log ON log.seq "
                          "BETWEEN claims.seq + 1 AND claims.seq + claims.n_events "
                          "WHERE claims.claim = ? ORDER BY log.seq");
    bool has_row = true, goes_on = true;
    db_text(&u, claim);
    while (goes_on) {
        struct store_event e = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        e.ulid = db_col_text(&u, 0, NULL);
        e.type = db_col_text(&u, 1, NULL);
        e.json = db_col_text(&u, 2, &e.n);
        goes_on = see(me, &e);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_rulings(struct store *store, const char *claim, store_see_ruling *see, void *me,
                       struct fault *reterr)
{
    static const char all[] = "SELECT seq, kind, claim, verdict, amount_minor, currency, revision, "
                              "person, reason, at_ms FROM rulings ORDER BY seq";
    static const char one[] = "SELECT seq, kind, claim, verdict, amount_minor, currency, revision, "
                              "person, reason, at_ms FROM rulings WHERE claim_seq = "
                              "(SELECT seq FROM claims WHERE claim = ?) ORDER BY seq";
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct reader reader = {.db = store->db};
    struct db_use u = db_use(store->db, claim != NULL ? one : all);
    bool has_row = true, goes_on = true;
    if (claim != NULL)
        db_text(&u, claim);
    while (goes_on) {
        struct store_ruling r = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        pool_clear(&reader.pool);
        r.seq = db_col_int(&u, 0);
        r.kind = (enum store_ruling_kind)db_col_int(&u, 1);
        shape_row(&shape_ruling, &u, 2, &reader.pool, &r);
        err = read_rows(&reader, &award_rows, r.seq, &r.awards, &r.n_awards, reterr);
        if (err == ERR_OK)
            err = read_rows(&reader, &finding_rows, r.seq, &r.findings, &r.n_findings, reterr);
        if (err != ERR_OK)
            break;
        goes_on = see(me, &r);
    }
    db_rest(&u);
    pool_done(&reader.pool);
    store_look_end(store);
    return store_named(store, err, reterr);
}

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

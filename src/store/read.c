/* read: owns the way of claims, events and rulings out of the store. */
#include "store/inner.h"

#include <string.h>

/* A call of its own has a scratch of its own, so that calls may stand inside one another. */
struct reader {
    struct db *db;
    struct scratch scratch;
};

/* ---- lists --------------------------------------------------------------------------------- */

/* The rows of a claim or ruling. Both queries have its place in the log as their first column and
 * the shape's fields after it; `one` has it as its parameter, `all` is in the order of the places. */
struct rows {
    const char *one, *all;
    const struct shape *shape;
};

#define STATION_ROWS                                                                               \
    "SELECT claim_seq, station, variant, label, built_first, built_last, scope, kit FROM stations"
#define READING_ROWS                                                                               \
    "SELECT claim_seq, station, point, phase, unit, value_nano, u_nano, taken_ms, ulid FROM "      \
    "readings"
#define PHOTO_ROWS                                                                                 \
    "SELECT claim_seq, name, station, point, ulid, sha256, ext, bytes, width, height, taken_ms, "  \
    "dhash, dhash_mirror, phash, phash_mirror, is_flat, sharpness, exposure, codes, fault FROM "   \
    "photos"
#define FINDING_ROWS                                                                               \
    "SELECT f.seq, f.rule, f.level, f.station, f.message, f.cure, f.what, f.other, f.other_what "  \
    "FROM "
#define OF_CLAIM  " WHERE claim_seq = ? ORDER BY n"
#define OF_CLAIMS " ORDER BY claim_seq, n"

static const struct rows station_rows = {STATION_ROWS OF_CLAIM, STATION_ROWS OF_CLAIMS,
                                         &shape_station};
static const struct rows reading_rows = {READING_ROWS OF_CLAIM, READING_ROWS OF_CLAIMS,
                                         &shape_reading};
static const struct rows photo_rows = {PHOTO_ROWS OF_CLAIM, PHOTO_ROWS OF_CLAIMS, &shape_photo};
/* Rulings have findings too: CROSS, so that those of claims are looked for and the rest not read. */
static const struct rows finding_rows = {
    FINDING_ROWS "findings AS f WHERE f.seq = ? ORDER BY f.n",
    FINDING_ROWS "claims AS c CROSS JOIN findings AS f ON f.seq = c.seq ORDER BY c.seq, f.n",
    &shape_finding};
static const struct rows award_rows = {"SELECT ruling_seq, station, verdict, amount_minor, what "
                                       "FROM awards WHERE ruling_seq = ? ORDER BY n",
                                       NULL, &shape_award};

/* A query on its way, standing at a row or at its end. */
struct stream {
    const struct rows *rows;
    struct db_use u;
    bool has_row;
};

/* An array in the scratch. */
struct list {
    char *items;
    size_t n, room;
};

/* The present row at the list's end. */
static enum err add_row(struct reader *s, const struct stream *t, struct list *l, struct fault *f)
{
    const size_t size = t->rows->shape->size;
    if (l->n ==
        l->room) { /* the old array stays in the scratch until it is cleared: at most as much */
        l->room = l->room > 0 ? 2 * l->room : 16;
        char *more = scratch_take(&s->scratch, l->room * size);
        if (more == NULL)
            return fault_no_memory(f);
        if (l->n > 0)
            memcpy(more, l->items, l->n * size);
        l->items = more;
    }
    shape_row(t->rows->shape, &t->u, 1, &s->scratch, l->items + l->n++ * size);
    return s->scratch.is_broken ? fault_no_memory(f) : ERR_OK;
}

/* The rows of `seq` from a stream that stands at them or before; it then stands behind them. */
static enum err read_stream(struct reader *s, struct stream *t, int64_t seq, void *ret_items,
                            size_t *ret_n, struct fault *f)
{
    struct list l = {0};
    enum err err = ERR_OK;
    while (err == ERR_OK && t->has_row) {
        const int64_t at = db_col_int(&t->u, 0);
        if (at > seq)
            break;
        if (at == seq)
            err = add_row(s, t, &l, f);
        if (err == ERR_OK)
            err = db_next(&t->u, &t->has_row, f);
    }
    memcpy(ret_items, &l.items, sizeof l.items);
    *ret_n = l.n;
    return err;
}

/* The rows of `seq` by a query of their own. */
static enum err read_rows(struct reader *s, const struct rows *rows, int64_t seq, void *ret_items,
                          size_t *ret_n, struct fault *f)
{
    struct stream t = {rows, db_use(s->db, rows->one), false};
    db_int(&t.u, seq);
    enum err err = db_next(&t.u, &t.has_row, f);
    if (err == ERR_OK)
        err = read_stream(s, &t, seq, ret_items, ret_n, f);
    db_rest(&t.u);
    return err;
}

/* ---- claims -------------------------------------------------------------------------------- */

enum { PARTS = 4 };

static const struct rows *const part_rows[PARTS] = {&station_rows, &reading_rows, &photo_rows,
                                                    &finding_rows};

/* What a claim consists of, one claim's or, side by side with the claims, all claims'. */
static enum err open_parts(struct reader *s, struct stream parts[PARTS], int n, struct fault *f)
{
    enum err err = ERR_OK;
    for (int i = 0; i < n && err == ERR_OK; i++) {
        parts[i] = (struct stream){part_rows[i], db_use(s->db, part_rows[i]->all), false};
        err = db_next(&parts[i].u, &parts[i].has_row, f);
    }
    return err;
}

/* parts NULL: by queries of their own. */
static enum err read_parts(struct reader *s, struct stream *parts, int64_t seq,
                           struct store_claim *c, struct fault *f)
{
    void *const items[PARTS] = {&c->stations, &c->readings, &c->photos, &c->findings};
    size_t *const n[PARTS] = {&c->n_stations, &c->n_readings, &c->n_photos, &c->n_findings};
    enum err err = ERR_OK;
    for (int i = 0; i < PARTS && err == ERR_OK; i++)
        err = parts != NULL ? read_stream(s, &parts[i], seq, items[i], n[i], f)
                            : read_rows(s, part_rows[i], seq, items[i], n[i], f);
    return err;
}

#define CLAIMS                                                                                     \
    "SELECT seq, bag, n_events, job, bulletin, revision, bulletin_sha256, is_invented, vin, "      \
    "shop, technician, signature, signed_by, opened_ms, finished_ms, taken_ms, labour_s "          \
    "FROM claims"

/* The claim of the present row; its place is remembered for store_events. */
static enum err read_claim(struct store *store, struct reader *s, const struct db_use *u,
                           struct stream *parts, struct store_claim *c, struct fault *f)
{
    size_t n = 0;
    const uint8_t *bag = db_col_blob(u, 1, &n);
    if (n == STORE_DIGEST)
        memcpy(c->bag, bag, n);
    const int64_t n_events = db_col_int(u, 2);
    c->n_events = n_events > 0 ? (size_t)n_events : 0;
    shape_row(&shape_claim, u, 3, &s->scratch, c);
    store->last.seq = db_col_int(u, 0);
    store->last.n_events = n_events;
    store_claim_id(c->bag, store->last.id);
    return read_parts(s, parts, store->last.seq, c, f);
}

enum err store_claims(struct store *store, const char *claim, store_see_claim *see, void *me,
                      struct fault *reterr)
{
    static const char all[] = CLAIMS " ORDER BY seq";
    static const char one[] = CLAIMS " WHERE claim = ?";
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct reader reader = {.db = store->db};
    struct stream parts[PARTS] = {0};
    struct db_use u = db_use(store->db, claim != NULL ? one : all);
    bool has_row = true, goes_on = true;
    if (claim != NULL)
        db_text(&u, claim);
    else
        err = open_parts(&reader, parts, PARTS, reterr);
    while (goes_on && err == ERR_OK) {
        struct store_claim c = {0};
        char id[STORE_CLAIM_SIZE + 1];
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        scratch_clear(&reader.scratch);
        err = read_claim(store, &reader, &u, claim == NULL ? parts : NULL, &c, reterr);
        if (err != ERR_OK)
            break;
        memcpy(id, store->last.id, sizeof id);
        goes_on = see(me, id, &c) && claim == NULL;
    }
    for (int i = 0; i < PARTS; i++)
        db_rest(&parts[i].u);
    db_rest(&u);
    scratch_done(&reader.scratch);
    store_look_end(store);
    return store_named(store, err, reterr);
}

/* ---- events -------------------------------------------------------------------------------- */

/* Where a claim stands in the log. Whoever reads a claim mostly wants its events next. */
static enum err find_place(struct store *store, const char *claim, int64_t *ret_seq,
                           int64_t *ret_events, struct fault *f)
{
    bool has_row = false;
    *ret_seq = store->last.seq;
    *ret_events = store->last.n_events;
    if (claim != NULL && store->last.seq != 0 && strcmp(store->last.id, claim) == 0)
        return ERR_OK;
    struct db_use u = db_use(store->db, "SELECT seq, n_events FROM claims WHERE claim = ?");
    db_text(&u, claim);
    const enum err err = db_next(&u, &has_row, f);
    *ret_seq = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    *ret_events = err == ERR_OK && has_row ? db_col_int(&u, 1) : 0;
    db_rest(&u);
    return err;
}

enum err store_events(struct store *store, const char *claim, store_see_event *see, void *me,
                      struct fault *reterr)
{
    int64_t seq = 0, n = 0;
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = find_place(store, claim, &seq, &n, reterr);
    /* A claim's events follow its entry without a gap. */
    struct db_use u = db_use(
        store->db, "SELECT ulid, type, json FROM log WHERE seq BETWEEN ? AND ? ORDER BY seq");
    bool has_row = true, goes_on = true;
    db_int(&u, seq + 1);
    db_int(&u, seq + n);
    while (goes_on && err == ERR_OK) {
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

/* ---- rulings ------------------------------------------------------------------------------- */

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
        scratch_clear(&reader.scratch);
        r.seq = db_col_int(&u, 0);
        r.kind = (enum store_ruling_kind)db_col_int(&u, 1);
        shape_row(&shape_ruling, &u, 2, &reader.scratch, &r);
        err = read_rows(&reader, &award_rows, r.seq, &r.awards, &r.n_awards, reterr);
        if (err == ERR_OK)
            err = read_rows(&reader, &finding_rows, r.seq, &r.findings, &r.n_findings, reterr);
        if (err != ERR_OK)
            break;
        goes_on = see(me, &r);
    }
    db_rest(&u);
    scratch_done(&reader.scratch);
    store_look_end(store);
    return store_named(store, err, reterr);
}

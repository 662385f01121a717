/* since: owns the passes over what came after a place in the log. */
#include "store/since.h"

#include "store/inner.h"

#include <string.h>

static const char *text_or_null(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? NULL : db_col_text(u, i, NULL);
}

static int64_t int_or_unknown(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? STORE_UNKNOWN : db_col_int(u, i);
}

/* ---- where the log stands ------------------------------------------------------------------ */

static enum err number(struct store *s, const char *sql, int64_t after, int64_t *ret,
                       struct fault *f)
{
    struct db_use u = db_use(s->db, sql);
    bool has_row = false;
    db_int(&u, after);
    const enum err err = db_next(&u, &has_row, f);
    *ret = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    return err;
}

enum err store_heads(struct store *store, int64_t after, struct store_heads *ret,
                     struct fault *reterr)
{
    int64_t seq = 0, paper = 0, any = 0, came = 0;
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = number(store, "SELECT max(seq) FROM log WHERE seq >= ?", 0, &seq, reterr);
    if (err == ERR_OK)
        err = number(store, "SELECT max(seq) FROM papers WHERE seq >= ?", 0, &paper, reterr);
    if (err == ERR_OK)
        err = number(store, "SELECT 1 FROM builds WHERE seq >= ? LIMIT 1", 0, &any, reterr);
    if (err == ERR_OK && after > 0 && after < seq)
        err = number(store, "SELECT 1 FROM log WHERE seq > ? AND type = '" LOG_BUILDS "' LIMIT 1",
                     after, &came, reterr);
    store_look_end(store);
    if (err == ERR_OK)
        *ret = (struct store_heads){seq, paper, any != 0, came != 0};
    return store_named(store, err, reterr);
}

/* ---- passes -------------------------------------------------------------------------------- */

/* Hands one row on; false: no more. */
typedef bool see_row(void *me, const struct db_use *u);

static enum err pass(struct store *store, const char *sql, const char *bulletin, int64_t after,
                     see_row *see, void *me, struct fault *f)
{
    enum err err = store_look(store, f);
    if (err != ERR_OK)
        return store_named(store, err, f);
    struct db_use u = db_use_many(store->db, sql);
    db_int(&u, after);
    db_text(&u, bulletin);
    for (bool goes_on = true; goes_on;) {
        bool has_row = false;
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, &u);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, f);
}

struct to_claim {
    since_see_claim *see;
    void *me;
};

static bool hand_claim(void *me, const struct db_use *u)
{
    const struct to_claim *t = me;
    size_t n = 0;
    struct since_claim c = {.seq = db_col_int(u, 0),
                            .taken_ms = db_col_int(u, 1),
                            .finished_ms = int_or_unknown(u, 2),
                            .job = text_or_null(u, 3),
                            .vin = db_col_text(u, 4, NULL),
                            .shop = text_or_null(u, 5)};
    const uint8_t *sum = db_col_blob(u, 6, &n);
    c.has_set = n == STORE_DIGEST;
    if (c.has_set)
        memcpy(c.set, sum, n);
    return t->see(t->me, &c);
}

enum err since_claims(struct store *store, const char *bulletin, int64_t after,
                      since_see_claim *see, void *me, struct fault *reterr)
{
    struct to_claim t = {see, me};
    return pass(store,
                "SELECT c.seq, c.taken_ms, c.finished_ms, c.job, c.vin, c.shop, r.digest FROM "
                "claims AS c LEFT JOIN "
                "reading_sets AS r ON r.claim_seq = c.seq WHERE c.seq > ? AND c.bulletin = ? ORDER "
                "BY c.seq",
                bulletin, after, hand_claim, &t, reterr);
}

struct to_station {
    since_see_station *see;
    void *me;
};

static bool hand_station(void *me, const struct db_use *u)
{
    const struct to_station *t = me;
    return t->see(t->me, db_col_int(u, 0), db_col_text(u, 1, NULL), text_or_null(u, 2),
                  text_or_null(u, 3));
}

enum err since_stations(struct store *store, const char *bulletin, int64_t after,
                        since_see_station *see, void *me, struct fault *reterr)
{
    struct to_station t = {see, me};
    /* CROSS: claims outside, so that nothing has to be sorted; here and below. */
    return pass(store,
                "SELECT c.seq, s.station, s.scope, s.kit FROM claims AS c CROSS JOIN stations AS s "
                "ON s.claim_seq = "
                "c.seq WHERE c.seq > ? AND c.bulletin = ? ORDER BY c.seq, s.n",
                bulletin, after, hand_station, &t, reterr);
}

struct to_reading {
    since_see_reading *see;
    void *me;
};

static bool hand_reading(void *me, const struct db_use *u)
{
    const struct to_reading *t = me;
    const struct since_reading r = {.claim_seq = db_col_int(u, 0),
                                    .point = db_col_text(u, 1, NULL),
                                    .is_after = db_col_int(u, 2) != 0,
                                    .value_nano = db_col_int(u, 3),
                                    .taken_ms = int_or_unknown(u, 4)};
    return t->see(t->me, &r);
}

enum err since_readings(struct store *store, const char *bulletin, int64_t after,
                        since_see_reading *see, void *me, struct fault *reterr)
{
    struct to_reading t = {see, me};
    return pass(store,
                "SELECT c.seq, r.point, CASE WHEN r.phase = 'after' THEN 1 ELSE 0 END, "
                "r.value_nano, r.taken_ms "
                "FROM claims AS c CROSS "
                "JOIN readings AS r ON r.claim_seq = c.seq WHERE c.seq > ? AND c.bulletin = ? "
                "ORDER BY c.seq, r.n",
                bulletin, after, hand_reading, &t, reterr);
}

struct to_award {
    since_see_award *see;
    void *me;
};

static bool hand_award(void *me, const struct db_use *u)
{
    const struct to_award *t = me;
    const struct since_award a = {.seq = db_col_int(u, 0),
                                  .claim_seq = db_col_int(u, 1),
                                  .kind = (enum store_ruling_kind)db_col_int(u, 2),
                                  .verdict = db_col_text(u, 3, NULL),
                                  .amount_minor = db_col_int(u, 4),
                                  .currency = text_or_null(u, 5),
                                  .at_ms = db_col_int(u, 6),
                                  .has_findings = db_col_int(u, 7) != 0,
                                  .station = text_or_null(u, 8),
                                  .station_verdict = text_or_null(u, 9),
                                  .station_minor = db_col_is_null(u, 10) ? 0 : db_col_int(u, 10)};
    return t->see(t->me, &a);
}

enum err since_rulings(struct store *store, const char *bulletin, int64_t after,
                       since_see_award *see, void *me, struct fault *reterr)
{
    struct to_award t = {see, me};
    return pass(
        store,
        "SELECT r.seq, r.claim_seq, r.kind, r.verdict, r.amount_minor, r.currency, r.at_ms, EXISTS "
        "(SELECT 1 "
        "FROM findings AS f WHERE f.seq = r.seq AND f.level <> 'note'), a.station, a.verdict, "
        "a.amount_minor "
        "FROM rulings AS r CROSS JOIN claims AS c ON c.seq = r.claim_seq LEFT JOIN awards AS a ON "
        "a.ruling_seq = r.seq WHERE r.seq > ? AND c.bulletin = ? ORDER BY r.seq, a.n",
        bulletin, after, hand_award, &t, reterr);
}

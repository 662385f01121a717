/* units: owns the searches for units. */
#include "store/units.h"

#include "store/inner.h"

#include <stdio.h>
#include <string.h>

enum { VIN_ROOM = 18 };

/* ---- by the VIN's end ---------------------------------------------------------------------- */

/* The same words as in the indexes (schema.c), or they are not used. */
#define KEY "substr(vin, 12)"
/* UNION: of both tables, each once, in the order of the first term's columns. */
static const char exact_sql[] =
    "SELECT " KEY " AS k, vin FROM builds WHERE " KEY " = ?1 UNION SELECT " KEY
    " AS k, vin FROM units WHERE " KEY " = ?1 ORDER BY k, vin";
/* The next key from one on that is in a table. */
static const char next_sql[] = "SELECT min(k) FROM (SELECT (SELECT " KEY " FROM builds WHERE " KEY
                               " >= ?1 ORDER BY " KEY " LIMIT 1) AS k UNION ALL SELECT (SELECT " KEY
                               " FROM units WHERE " KEY " >= ?1 ORDER BY " KEY " LIMIT 1)) AS keys";

struct tail_search {
    struct store *store;
    const char *tail;
    size_t n_tail;
    const char *after; /* VIN */
    store_see_unit *see;
    void *me;
    bool is_over;
};

static bool ends_in(const char *vin, const char *tail, size_t n)
{
    const size_t size = strlen(vin);
    return size >= n && strcmp(vin + size - n, tail) == 0;
}

static enum err see_key(struct tail_search *s, const char *key, struct fault *f)
{
    struct db_use u = db_use(s->store->db, exact_sql);
    enum err err = ERR_OK;
    db_text(&u, key);
    while (err == ERR_OK && !s->is_over) {
        bool has_row = false;
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const char *vin = db_col_text(&u, 1, NULL);
        if (!ends_in(vin, s->tail, s->n_tail))
            continue;
        if (s->after != NULL && strcmp(key, s->after + strlen(s->after) - strlen(key)) == 0 &&
            strcmp(vin, s->after) <= 0)
            continue;
        s->is_over = !s->see(s->me, &(struct unit_place){.vin = vin});
    }
    db_rest(&u);
    return err;
}

static enum err next_key(struct store *store, const char *from, char ret[VIN_ROOM], bool *ret_found,
                         struct fault *f)
{
    struct db_use u = db_use(store->db, next_sql);
    bool has_row = false;
    db_text(&u, from);
    const enum err err = db_next(&u, &has_row, f);
    *ret_found = err == ERR_OK && has_row && !db_col_is_null(&u, 0);
    if (*ret_found)
        snprintf(ret, VIN_ROOM, "%.17s", db_col_text(&u, 0, NULL));
    db_rest(&u);
    return err;
}

/* Keys of six that end in the tail: from key to key, each time on to the first that may. Below one beginning there is one such key, so
 * a tail of four goes through what there is of two characters. */
static enum err see_keys(struct tail_search *s, struct fault *f)
{
    const size_t lead = UNITS_TAIL_KEY - s->n_tail;
    char from[VIN_ROOM] = "", key[VIN_ROOM], wanted[VIN_ROOM];
    bool is_found = true;
    enum err err = ERR_OK;
    if (s->after != NULL)
        snprintf(from, sizeof from, "%s", s->after + strlen(s->after) - UNITS_TAIL_KEY);
    while (err == ERR_OK && !s->is_over) {
        err = next_key(s->store, from, key, &is_found, f);
        if (err != ERR_OK || !is_found)
            break;
        if (strlen(key) != UNITS_TAIL_KEY) { /* of a VIN that is none: on behind it */
            snprintf(from, sizeof from, "%.15s\x01", key);
            continue;
        }
        snprintf(wanted, sizeof wanted, "%.*s%s", (int)lead, key, s->tail);
        if (strcmp(key, wanted) > 0) { /* behind the one of its beginning: on to the next one */
            snprintf(from, sizeof from, "%.*s\x7f", (int)lead, key);
            continue;
        }
        if (strcmp(key, wanted) == 0)
            err = see_key(s, key, f);
        snprintf(from, sizeof from, strcmp(key, wanted) == 0 ? "%s\x01" : "%s", wanted);
    }
    return err;
}

static bool is_tail(const char *tail)
{
    const size_t n = strlen(tail);
    return n >= UNITS_TAIL_LEAST && n < VIN_ROOM &&
           strspn(tail, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ") == n;
}

enum err store_units_by_tail(struct store *store, const char *tail, const char *after,
                             store_see_unit *see, void *me, struct fault *reterr)
{
    struct tail_search s = {store, tail, strlen(tail), after, see, me, false};
    if (!is_tail(tail))
        return fault_set(reterr, ERR_SYNTAX,
                         "found \"%.40s\"; expected the last %d to 17 letters and digits of a VIN",
                         tail, (int)UNITS_TAIL_LEAST);
    if (after != NULL && strlen(after) != VIN_ROOM - 1)
        return fault_set(reterr, ERR_UNKNOWN, "there is no such unit to go on behind");
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = s.n_tail >= UNITS_TAIL_KEY ? see_key(&s, tail + s.n_tail - UNITS_TAIL_KEY, reterr)
                                     : see_keys(&s, reterr);
    store_look_end(store);
    return store_named(store, err, reterr);
}

/* ---- by the label's beginning -------------------------------------------------------------- */

static enum err label_at(struct store *store, const char *vin, const char *station, char *ret,
                         size_t room, struct fault *f)
{
    struct db_use u = db_use(store->db, "SELECT label FROM builds WHERE vin = ? AND station = ?");
    bool has_row = false;
    db_text(&u, vin);
    db_text(&u, station);
    enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && has_row)
        snprintf(ret, room, "%s", db_col_text(&u, 0, NULL));
    db_rest(&u);
    if (err == ERR_OK && !has_row)
        err = fault_set(f, ERR_UNKNOWN, "there is no such unit to go on behind");
    return err;
}

enum err store_units_by_label(struct store *store, const char *label, const char *after_vin,
                              const char *after_station, store_see_unit *see, void *me,
                              struct fault *reterr)
{
    /* Texts are compared byte by byte: what begins with the label lies between it and it with the largest character behind it. */
    char first[4 * STORE_ID_MAX] = "", last[4 * STORE_ID_MAX + 8];
    const char *vin = after_vin != NULL ? after_vin : "",
               *station = after_station != NULL ? after_station : "";
    if (strlen(label) > STORE_ID_MAX)
        return fault_set(reterr, ERR_LIMIT, "a label has at most %d bytes", (int)STORE_ID_MAX);
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    snprintf(first, sizeof first, "%s", label);
    snprintf(last, sizeof last, "%s\xF4\x8F\xBF\xBF", label);
    if (after_vin != NULL)
        err = label_at(store, vin, station, first, sizeof first, reterr);
    struct db_use u = db_use(store->db, "SELECT label, vin, station FROM builds WHERE (label, vin, "
                                        "station) > (?, ?, ?) AND label <= ? "
                                        "ORDER BY label, vin, station");
    db_text(&u, first);
    db_text(&u, vin);
    db_text(&u, station);
    db_text(&u, last);
    for (bool goes_on = true; err == ERR_OK && goes_on;) {
        bool has_row = false;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, &(struct unit_place){.label = db_col_text(&u, 0, NULL),
                                               .vin = db_col_text(&u, 1, NULL),
                                               .station = db_col_text(&u, 2, NULL)});
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

/* ---- by shop ------------------------------------------------------------------------------- */

static enum err seq_of(struct store *store, const char *claim, int64_t *ret, struct fault *f)
{
    struct db_use u = db_use(store->db, "SELECT seq FROM claims WHERE claim = ?");
    bool has_row = false;
    db_text(&u, claim);
    enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && has_row)
        *ret = db_col_int(&u, 0);
    db_rest(&u);
    if (err == ERR_OK && !has_row)
        err = fault_set(f, ERR_UNKNOWN, "there is no such claim to go on behind");
    return err;
}

enum err store_units_by_shop(struct store *store, const char *shop, const char *after,
                             store_see_unit *see, void *me, struct fault *reterr)
{
    int64_t before = INT64_MAX;
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    if (after != NULL)
        err = seq_of(store, after, &before, reterr);
    struct db_use u = db_use(
        store->db, "SELECT vin, claim FROM claims WHERE shop = ? AND seq < ? ORDER BY seq DESC");
    db_text(&u, shop);
    db_int(&u, before);
    for (bool goes_on = true; err == ERR_OK && goes_on;) {
        bool has_row = false;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, &(struct unit_place){.vin = db_col_text(&u, 0, NULL),
                                               .claim = db_col_text(&u, 1, NULL)});
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_unit_is_of(struct store *store, const char *vin, const char *shop, bool *ret,
                          struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    /* By the VIN: a unit has a few claims, a shop may have most of them all; an expression has no index. */
    struct db_use u =
        db_use(store->db, "SELECT 1 FROM claims WHERE vin = ? AND shop || '' = ? LIMIT 1");
    db_text(&u, vin);
    db_text(&u, shop);
    err = db_next(&u, ret, reterr);
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

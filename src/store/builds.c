/* builds: owns the way of the build list onto the log and back. */
#include "store/inner.h"

#include "store/schema.h"

#include <string.h>

/* Whether every row stands in the list as it is. */
static enum err are_known(struct store *s, const struct store_build *builds, size_t n, bool *ret,
                          struct fault *f)
{
    enum err err = ERR_OK;
    *ret = true;
    for (size_t i = 0; i < n && *ret && err == ERR_OK; i++) {
        const char *label = builds[i].label != NULL ? builds[i].label : "";
        struct db_use u = db_use(s->db, "SELECT label FROM builds WHERE vin = ? AND station = ?");
        db_text(&u, builds[i].vin);
        db_text(&u, builds[i].station);
        err = db_next(&u, ret, f);
        *ret = err == ERR_OK && *ret && strcmp(db_col_text(&u, 0, NULL), label) == 0;
        db_rest(&u);
    }
    return err;
}

/* One entry of the log and its rows, in a transaction. */
static enum err put_rows(struct store *store, const struct store_build *builds, size_t n,
                         int64_t at_ms, struct fault *f)
{
    struct log_entry e = {0}; /* of no bag */
    struct log_end end;
    bool is_known = false;
    enum err err = are_known(store, builds, n, &is_known, f);
    if (err != ERR_OK || is_known)
        return err;
    text_clear(&store->json);
    derive_builds_json(builds, n, at_ms, &store->json);
    err = log_find_end(store->db, &end, f);
    if (err == ERR_OK)
        err = store_append_log(store, &end, &e, LOG_BUILDS, at_ms, f);
    return err != ERR_OK ? err : derive_builds_rows(store->db, e.seq, builds, n, f);
}

static enum err fill(struct store *store, const struct store_build *builds, size_t n, int64_t at_ms,
                     struct fault *f)
{
    enum err err = ERR_OK;
    if (store->filling == FILLING_BROKEN)
        return fault_set(f, ERR_ORDER, "a part of the build list before it could not be put");
    err = put_rows(store, builds, n, at_ms, f);
    if (err != ERR_OK)
        store->filling = FILLING_BROKEN;
    return store_named(store, err, f);
}

enum err store_build_put(struct store *store, const struct store_build *builds, size_t n,
                         int64_t at_ms, struct fault *reterr)
{
    enum err err =
        shape_check_list("builds", &shape_build, builds, n, STORE_BUILDS_AT_ONCE, reterr);
    if (err != ERR_OK && store->filling != FILLING_NOT)
        store->filling = FILLING_BROKEN;
    if (err != ERR_OK || n == 0)
        return err;
    if (store->filling != FILLING_NOT)
        return fill(store, builds, n, at_ms, reterr);
    err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = put_rows(store, builds, n, at_ms, reterr);
    if (err == ERR_OK)
        err = db_commit(store->db, reterr);
    else
        db_rollback(store->db);
    return store_named(store, err, reterr);
}

/* ---- many at once -------------------------------------------------------------------------- */

static enum err begin_filling(struct store *store, struct fault *f)
{
    bool has_row = true;
    enum err err = db_begin(store->db, f);
    if (err != ERR_OK)
        return err;
    struct db_use u = db_use(store->db, "SELECT 1 FROM builds LIMIT 1");
    err = db_next(&u, &has_row, f);
    db_rest(&u);
    if (err == ERR_OK && !has_row)
        err = schema_builds(store->db, false, f);
    if (err == ERR_OK && !has_row)
        store->filling = FILLING;
    else
        db_rollback(store->db);
    return err;
}

enum err store_builds_begin(struct store *store, bool may_be_whole, bool *ret_is_whole,
                            struct fault *reterr)
{
    enum err err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_bulk(store->db, DB_BULK_ROWS, reterr);
    if (err == ERR_OK && may_be_whole && db_dialect(store->db) == DB_SQLITE)
        err = begin_filling(store, reterr);
    *ret_is_whole = store->filling == FILLING;
    return store_named(store, err, reterr);
}

static enum err end_filling(struct store *store, bool is_kept, struct fault *f)
{
    enum err err = ERR_OK;
    if (is_kept)
        err = db_bulk(store->db, DB_BULK_INDEXES, f);
    if (is_kept && err == ERR_OK)
        err = schema_builds(store->db, true, f);
    if (is_kept && err == ERR_OK)
        return db_commit(store->db, f);
    db_rollback(store->db);
    return err;
}

enum err store_builds_end(struct store *store, bool is_kept, struct fault *reterr)
{
    struct fault ignored = {0};
    enum err err = ERR_OK;
    if (store->filling == FILLING_BROKEN && is_kept)
        err = fault_set(reterr, ERR_ORDER, "a part of the build list could not be put");
    if (store->filling != FILLING_NOT) {
        const enum err end =
            end_filling(store, is_kept && err == ERR_OK, err == ERR_OK ? reterr : &ignored);
        err = err != ERR_OK ? err : end;
    }
    store->filling = FILLING_NOT;
    const enum err after = store->mode == STORE_WRITE
                               ? db_bulk(store->db, DB_BULK_NONE, err == ERR_OK ? reterr : &ignored)
                               : ERR_OK;
    return store_named(store, err != ERR_OK ? err : after, reterr);
}

enum err store_builds(struct store *store, const char *vin, store_see_build *see, void *me,
                      struct fault *reterr)
{
    static const char all[] = "SELECT vin, station, label FROM builds ORDER BY vin, station";
    static const char one[] =
        "SELECT vin, station, label FROM builds WHERE vin = ? ORDER BY station";
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = vin != NULL ? db_use(store->db, one) : db_use_many(store->db, all);
    bool has_row = true, goes_on = true;
    if (vin != NULL)
        db_text(&u, vin);
    while (goes_on) {
        struct store_build b = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        b.vin = db_col_text(&u, 0, NULL);
        b.station = db_col_text(&u, 1, NULL);
        b.label = db_col_is_null(&u, 2) ? NULL : db_col_text(&u, 2, NULL);
        goes_on = see(me, &b);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

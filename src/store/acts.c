/* acts: owns the passes over what people did, from the log's end backwards. */
#include "store/acts.h"

#include "store/inner.h"

static const char *text_or_null(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? NULL : db_col_text(u, i, NULL);
}

/* Hands one row on; false: no more. */
typedef bool hand_row(store_see_act *see, void *me, const struct db_use *u);

static enum err pass(struct store *store, struct db_use *u, hand_row *hand, store_see_act *see,
                     void *me, struct fault *f)
{
    enum err err = ERR_OK;
    for (bool goes_on = true; goes_on;) {
        bool has_row = false;
        err = db_next(u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = hand(see, me, u);
    }
    db_rest(u);
    store_look_end(store);
    return store_named(store, err, f);
}

static bool hand_ruling(store_see_act *see, void *me, const struct db_use *u)
{
    const struct store_act a = {.seq = db_col_int(u, 0),
                                .at_ms = db_col_int(u, 1),
                                .ruling = (enum store_ruling_kind)db_col_int(u, 2),
                                .claim = db_col_text(u, 3, NULL),
                                .verdict = db_col_text(u, 4, NULL),
                                .amount_minor = db_col_int(u, 5),
                                .currency = text_or_null(u, 6),
                                .person = text_or_null(u, 7),
                                .reason = text_or_null(u, 8),
                                .revision = STORE_UNKNOWN};
    return see(me, &a);
}

enum err store_ruling_acts(struct store *store, int64_t before, enum store_ruling_kind ruling,
                           const char *person, store_see_act *see, void *me, struct fault *reterr)
{
    const enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u =
        db_use(store->db, "SELECT seq, at_ms, kind, claim, verdict, amount_minor, currency, "
                          "person, reason FROM rulings WHERE seq < ?1 AND kind <> 0 AND (?2 = 0 OR "
                          "kind = ?2) AND (?3 IS NULL OR person = ?3) ORDER BY seq DESC");
    db_int(&u, before);
    db_int(&u, (int64_t)ruling);
    db_text(&u, person);
    return pass(store, &u, hand_ruling, see, me, reterr);
}

static bool hand_paper(store_see_act *see, void *me, const struct db_use *u)
{
    const struct store_act a = {.seq = db_col_int(u, 0),
                                .at_ms = db_col_int(u, 1),
                                .kind = db_col_text(u, 2, NULL),
                                .name = db_col_text(u, 3, NULL),
                                .revision =
                                    db_col_is_null(u, 4) ? STORE_UNKNOWN : db_col_int(u, 4)};
    return see(me, &a);
}

enum err store_paper_acts(struct store *store, int64_t before, store_see_act *see, void *me,
                          struct fault *reterr)
{
    const enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = db_use(store->db, "SELECT seq, at_ms, kind, name, revision FROM papers WHERE "
                                        "seq < ? ORDER BY seq DESC");
    db_int(&u, before);
    return pass(store, &u, hand_paper, see, me, reterr);
}

enum err store_shop_counts(struct store *store, store_see_shop *see, void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = db_use(
        store->db, "SELECT shop, count(*) FROM claims WHERE shop IS NOT NULL GROUP BY shop ORDER "
                   "BY shop");
    for (bool goes_on = true; goes_on;) {
        bool has_row = false;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        goes_on = see(me, db_col_text(&u, 0, NULL), db_col_int(&u, 1));
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

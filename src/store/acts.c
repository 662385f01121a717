/* acts: owns the passes over what people did, from the log's end backwards. */
#include "store/acts.h"

#include "store/inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

/* By the index of what is asked for: SQLite would rather go through all rulings in their order. */
#define ACTS                                                                                       \
    "SELECT seq, at_ms, kind, claim, verdict, amount_minor, currency, person, reason FROM "        \
    "rulings "
#define ACTS_LAST " ORDER BY seq DESC"

static struct db_use use_acts(struct store *store, int64_t before, enum store_ruling_kind ruling,
                              const char *person)
{
    static const char any[] =
        ACTS "INDEXED BY rulings_of_people WHERE kind <> 0 AND seq < ?" ACTS_LAST;
    static const char of_kind[] =
        ACTS "INDEXED BY rulings_of_kind WHERE kind <> 0 AND seq < ? AND kind = ?" ACTS_LAST;
    static const char of_person[] =
        ACTS "INDEXED BY rulings_of_person WHERE kind <> 0 AND seq < ?1 AND (?2 = 0 OR kind = ?2) "
             "AND person = ?3" ACTS_LAST;
    const bool has_kind = ruling != STORE_RULED;
    struct db_use u = db_use(store->db, person != NULL ? of_person : has_kind ? of_kind : any);
    db_int(&u, before);
    if (has_kind || person != NULL)
        db_int(&u, (int64_t)ruling);
    if (person != NULL)
        db_text(&u, person);
    return u;
}

enum err store_ruling_acts(struct store *store, int64_t before, enum store_ruling_kind ruling,
                           const char *person, store_see_act *see, void *me, struct fault *reterr)
{
    const enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = use_acts(store, before, ruling, person);
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

/* ---- claims of each shop ------------------------------------------------------------------- */

struct shop_count {
    char shop[STORE_ID_MAX + 1];
    int64_t n;
};

/* Claims are only ever added: what was counted stays, and what came since is added to it. Counting 200,000 takes 12 ms. */
struct store_shops {
    int64_t seq; /* of the last claim that is counted */
    struct shop_count *at;
    size_t n, room; /* at: by shop */
};

void store_shops_free(struct store_shops *shops)
{
    if (shops != NULL)
        free(shops->at);
    free(shops);
}

static int by_shop(const void *a, const void *b)
{
    return strcmp(((const struct shop_count *)a)->shop, ((const struct shop_count *)b)->shop);
}

static bool add_claims(struct store_shops *s, size_t n_known, const char *shop, int64_t n)
{
    struct shop_count key = {.n = n};
    snprintf(key.shop, sizeof key.shop, "%s", shop);
    struct shop_count *found =
        n_known > 0 ? bsearch(&key, s->at, n_known, sizeof *s->at, by_shop) : NULL;
    if (found != NULL) {
        found->n += n;
        return true;
    }
    if (s->n == s->room) {
        const size_t room = s->room > 0 ? 2 * s->room : 64;
        struct shop_count *more = realloc(s->at, room * sizeof *more);
        if (more == NULL)
            return false;
        s->at = more;
        s->room = room;
    }
    s->at[s->n++] = key;
    return true;
}

/* One row a shop of the claims behind s->seq; each shop comes once, so that new ones need not be found among themselves. */
static enum err count_on(struct store *store, struct store_shops *s, struct fault *f)
{
    /* All by the index of shops; what came since by the place, which SQLite would not take where an index groups for it. */
    static const char all[] = "SELECT shop, count(*), max(seq) FROM claims WHERE seq > ? AND shop "
                              "IS NOT NULL GROUP BY shop ORDER BY shop";
    static const char since[] = "SELECT shop || '', count(*), max(seq) FROM claims WHERE seq > ? "
                                "AND shop || '' IS NOT NULL GROUP BY shop || ''";
    struct db_use u = db_use(store->db, s->seq == 0 ? all : since);
    const size_t n_known = s->n;
    int64_t last = s->seq;
    enum err err = ERR_OK;
    db_int(&u, s->seq);
    for (bool has_row = true; err == ERR_OK && has_row;) {
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        if (!add_claims(s, n_known, db_col_text(&u, 0, NULL), db_col_int(&u, 1)))
            err = fault_no_memory(f);
        last = db_col_int(&u, 2) > last ? db_col_int(&u, 2) : last;
    }
    db_rest(&u);
    s->seq = last;
    if (s->n > n_known)
        qsort(s->at, s->n, sizeof *s->at, by_shop);
    return err;
}

enum err store_shop_counts(struct store *store, store_see_shop *see, void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    if (store->shops == NULL && (store->shops = calloc(1, sizeof *store->shops)) == NULL)
        err = fault_no_memory(reterr);
    if (err == ERR_OK)
        err = count_on(store, store->shops, reterr);
    store_look_end(store);
    if (err != ERR_OK) { /* half counted */
        store_shops_free(store->shops);
        store->shops = NULL;
        return store_named(store, err, reterr);
    }
    for (size_t i = 0; i < store->shops->n; i++)
        if (!see(me, store->shops->at[i].shop, store->shops->at[i].n))
            break;
    return ERR_OK;
}

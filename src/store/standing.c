/* standing: owns the row of what stands for a claim, and the lists that are found by it. */
#include "store/standing.h"

#include "store/inner.h"

#include <string.h>

static const char unruled[] = "unruled";

/* A VIN from its end to its beginning, so that its last characters are a prefix, which an index finds. Cut at the room. */
static void turn(const char *vin, char *ret, size_t room)
{
    const size_t n = strlen(vin) < room ? strlen(vin) : room - 1;
    for (size_t i = 0; i < n; i++)
        ret[i] = vin[strlen(vin) - 1 - i];
    ret[n] = '\0';
}

/* ---- the row ------------------------------------------------------------------------------- */

enum err standing_begin(struct db *db, int64_t claim_seq, const char *vin, int64_t n_intake,
                        struct fault *reterr)
{
    char tail[STORE_ID_MAX + 1];
    turn(vin, tail, sizeof tail);
    struct db_use u = db_use(
        db,
        "INSERT INTO standings (claim_seq, verdict, is_word, amount_minor, paid_minor, currency, "
        "needs, ruled_seq, last_seq, n_ruled, n_intake, tail) VALUES (?, ?, 0, 0, 0, NULL, ?, "
        "NULL, 0, 0, ?, ?)");
    db_int(&u, claim_seq);
    db_text(&u, unruled);
    db_text(&u, STORE_NEEDS_RULING);
    db_int(&u, n_intake);
    db_text(&u, tail);
    return db_end(&u, reterr);
}

struct row {
    char verdict[STORE_ID_MAX + 1], currency[STORE_ID_MAX + 1];
    bool is_word, has_currency, is_ruled;
    int64_t amount_minor, paid_minor, ruled_seq, n_ruled;
};

static void keep(char to[STORE_ID_MAX + 1], const char *text)
{
    const size_t n = strlen(text) < STORE_ID_MAX ? strlen(text) : STORE_ID_MAX;
    memcpy(to, text, n);
    to[n] = '\0';
}

static enum err read_row(struct db *db, int64_t claim_seq, struct row *ret, struct fault *f)
{
    struct db_use u = db_use(db, "SELECT verdict, currency, is_word, amount_minor, paid_minor, "
                                 "ruled_seq, n_ruled FROM standings WHERE claim_seq = ?");
    bool has_row = false;
    db_int(&u, claim_seq);
    enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && !has_row)
        err = fault_set(f, ERR_UNKNOWN, "the claim at place %lld has no standing",
                        (long long)claim_seq);
    if (err == ERR_OK) {
        keep(ret->verdict, db_col_text(&u, 0, NULL));
        keep(ret->currency, db_col_text(&u, 1, NULL));
        ret->has_currency = !db_col_is_null(&u, 1);
        ret->is_word = db_col_int(&u, 2) != 0;
        ret->amount_minor = db_col_int(&u, 3);
        ret->paid_minor = db_col_int(&u, 4);
        ret->ruled_seq = db_col_int(&u, 5);
        ret->is_ruled = !db_col_is_null(&u, 5);
        ret->n_ruled = db_col_int(&u, 6);
    }
    db_rest(&u);
    return err;
}

static const char *needs_of(const struct row *r)
{
    const bool is_pay = strcmp(r->verdict, "pay") == 0;
    const int64_t worth = is_pay ? r->amount_minor : 0;
    if (r->paid_minor > worth || strcmp(r->verdict, "hold") == 0)
        return STORE_NEEDS_PERSON;
    if (worth > r->paid_minor)
        return STORE_NEEDS_PAYMENT;
    if (strcmp(r->verdict, unruled) == 0)
        return STORE_NEEDS_RULING;
    return strcmp(r->verdict, "ask") == 0 ? STORE_NEEDS_SHOP : STORE_NEEDS_NOTHING;
}

static void apply(struct row *row, const struct store_ruling *r)
{
    if (r->kind == STORE_PAID &&
        __builtin_add_overflow(row->paid_minor, r->amount_minor, &row->paid_minor))
        row->paid_minor = INT64_MAX;
    if (r->kind == STORE_RULED) {
        row->ruled_seq = r->seq;
        row->is_ruled = true;
        row->n_ruled = (int64_t)r->n_findings;
    }
    if (!store_takes_over(r->kind, row->is_word))
        return;
    keep(row->verdict, r->verdict);
    row->is_word = store_is_word(r->kind);
    row->amount_minor = r->amount_minor;
    row->has_currency = r->currency != NULL && r->currency[0] != '\0';
    keep(row->currency, row->has_currency ? r->currency : "");
}

enum err standing_move(struct db *db, int64_t claim_seq, const struct store_ruling *r,
                       struct fault *reterr)
{
    struct row row = {0};
    const enum err err = read_row(db, claim_seq, &row, reterr);
    if (err != ERR_OK)
        return err;
    apply(&row, r);
    struct db_use u = db_use(db, "UPDATE standings SET verdict = ?, is_word = ?, amount_minor = ?, "
                                 "paid_minor = ?, currency = ?, needs = ?, ruled_seq = ?, last_seq "
                                 "= ?, n_ruled = ? WHERE claim_seq = ?");
    db_text(&u, row.verdict);
    db_int(&u, row.is_word);
    db_int(&u, row.amount_minor);
    db_int(&u, row.paid_minor);
    db_text(&u, row.has_currency ? row.currency : NULL);
    db_text(&u, needs_of(&row));
    if (row.is_ruled)
        db_int(&u, row.ruled_seq);
    else
        db_null(&u);
    db_int(&u, r->seq);
    db_int(&u, row.n_ruled);
    db_int(&u, claim_seq);
    return db_end(&u, reterr);
}

/* ---- lists --------------------------------------------------------------------------------- */

#define LISTED                                                                                     \
    "SELECT c.seq, c.claim, c.vin, c.shop, c.technician, c.bulletin, c.job, c.signature, "         \
    "c.revision, c.opened_ms, c.finished_ms, c.taken_ms, c.is_invented, s.verdict, s.currency, "   \
    "s.needs, (SELECT f.rule FROM findings AS f WHERE f.seq IN (s.ruled_seq, c.seq) ORDER BY "     \
    "CASE "                                                                                        \
    "f.level WHEN 'refuse' THEN 0 WHEN 'hold' THEN 1 WHEN 'ask' THEN 2 ELSE 3 END, f.seq, f.n "    \
    "LIMIT 1), s.amount_minor, s.paid_minor, s.last_seq, s.n_ruled + s.n_intake, s.is_word FROM "
/* CROSS: the table that the leading filter's index belongs to stands outside. */
#define BY_CLAIM    LISTED "claims AS c CROSS JOIN standings AS s ON s.claim_seq = c.seq WHERE "
#define BY_STANDING LISTED "standings AS s CROSS JOIN claims AS c ON c.seq = s.claim_seq WHERE "
/* Of those without findings there may be few among very many; the planner would not know. */
#define BY_CLEAN                                                                                   \
    LISTED "standings AS s INDEXED BY standings_clean CROSS JOIN claims AS c ON c.seq = "          \
           "s.claim_seq WHERE s.n_ruled + s.n_intake = 0 AND "
/* Every filter again, as a condition on what the leading one found: 1 place, 2 vin, 3 and 4 tail, 5 rule, 6 needs, 7 verdict, 8 shop,
 * 9 bulletin, 10 clean, 11 how many, 12 claim. */
#define FITS                                                                                       \
    "c.seq < ?1 AND (?2 IS NULL OR c.vin = ?2) AND (?3 IS NULL OR (s.tail >= ?3 AND s.tail < "     \
    "?4)) AND (?5 IS NULL OR EXISTS (SELECT 1 FROM findings AS g WHERE g.seq IN (s.ruled_seq, "    \
    "c.seq) AND g.rule = ?5)) AND (?6 IS NULL OR s.needs = ?6) AND (?7 IS NULL OR s.verdict = "    \
    "?7) AND (?8 IS NULL OR c.shop = ?8) AND (?9 IS NULL OR c.bulletin = ?9) AND (?10 = 0 OR "     \
    "s.n_ruled + s.n_intake = 0) AND (?12 IS NULL OR c.claim = ?12) "
/* The newest first, by the place in the table that stands outside: then an index that has it last gives the rows in this order, and as
 * many as are asked for are read instead of all. By the other table's, which is the same number, all are read and sorted. */
#define CLAIMS_LAST    "ORDER BY c.seq DESC LIMIT ?11"
#define STANDINGS_LAST "ORDER BY s.claim_seq DESC LIMIT ?11"

/* A rule with more findings than this is looked for among the newest claims instead of by its index. */
enum { RULE_MANY = 10000 };

static enum err is_frequent(struct store *s, const char *rule, bool *ret, struct fault *f)
{
    bool has_row = false;
    struct db_use u = db_use(
        s->db, "SELECT count(*) FROM (SELECT 1 AS n FROM findings WHERE rule = ? LIMIT ?) AS t");
    db_text(&u, rule);
    db_int(&u, RULE_MANY + 1);
    const enum err err = db_next(&u, &has_row, f);
    *ret = err == ERR_OK && has_row && db_col_int(&u, 0) > RULE_MANY;
    db_rest(&u);
    return err;
}

static const char *list_sql(const struct store_filter *o, bool is_rule_frequent)
{
    if (o->claim != NULL)
        return BY_CLAIM "c.claim = ?12 AND " FITS CLAIMS_LAST;
    if (o->vin != NULL)
        return BY_CLAIM "c.vin = ?2 AND " FITS CLAIMS_LAST;
    if (o->tail != NULL)
        return BY_STANDING "s.tail >= ?3 AND s.tail < ?4 AND " FITS STANDINGS_LAST;
    if (o->rule != NULL && !is_rule_frequent)
        return BY_STANDING
            "s.claim_seq IN (SELECT x.claim_seq FROM standings AS x WHERE x.ruled_seq IN (SELECT "
            "h.seq FROM findings AS h WHERE h.rule = ?5) UNION SELECT h.seq FROM findings AS h "
            "WHERE h.rule = ?5) AND " FITS STANDINGS_LAST;
    if (o->needs != NULL && o->is_clean)
        return BY_CLEAN "s.needs = ?6 AND s.claim_seq < ?1 AND " FITS STANDINGS_LAST;
    if (o->needs != NULL)
        return BY_STANDING "s.needs = ?6 AND s.claim_seq < ?1 AND " FITS STANDINGS_LAST;
    if (o->verdict != NULL)
        return BY_STANDING "s.verdict = ?7 AND s.claim_seq < ?1 AND " FITS STANDINGS_LAST;
    if (o->shop != NULL)
        return BY_CLAIM "c.shop = ?8 AND " FITS CLAIMS_LAST;
    if (o->bulletin != NULL)
        return BY_CLAIM "c.bulletin = ?9 AND " FITS CLAIMS_LAST;
    return BY_CLAIM FITS CLAIMS_LAST;
}

/* The place before which the list begins. */
static enum err find_after(struct store *s, const char *claim, int64_t *ret, struct fault *f)
{
    bool has_row = false;
    *ret = INT64_MAX;
    if (claim == NULL)
        return ERR_OK;
    struct db_use u = db_use(s->db, "SELECT seq FROM claims WHERE claim = ?");
    db_text(&u, claim);
    enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && !has_row)
        err = fault_set(f, ERR_UNKNOWN, "there is no claim %.20s", claim);
    if (err == ERR_OK)
        *ret = db_col_int(&u, 0);
    db_rest(&u);
    return err;
}

static const char *text_or_null(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? NULL : db_col_text(u, i, NULL);
}

static int64_t int_or_unknown(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? STORE_UNKNOWN : db_col_int(u, i);
}

static struct store_listed listed_of(const struct db_use *u)
{
    const char *verdict = db_col_text(u, 13, NULL);
    return (struct store_listed){.seq = db_col_int(u, 0),
                                 .claim = db_col_text(u, 1, NULL),
                                 .vin = db_col_text(u, 2, NULL),
                                 .shop = text_or_null(u, 3),
                                 .technician = text_or_null(u, 4),
                                 .bulletin = db_col_text(u, 5, NULL),
                                 .job = text_or_null(u, 6),
                                 .signature = text_or_null(u, 7),
                                 .revision = int_or_unknown(u, 8),
                                 .opened_ms = int_or_unknown(u, 9),
                                 .finished_ms = int_or_unknown(u, 10),
                                 .taken_ms = int_or_unknown(u, 11),
                                 .is_invented = int_or_unknown(u, 12),
                                 .verdict = strcmp(verdict, unruled) == 0 ? NULL : verdict,
                                 .currency = text_or_null(u, 14),
                                 .needs = db_col_text(u, 15, NULL),
                                 .finding = text_or_null(u, 16),
                                 .amount_minor = db_col_int(u, 17),
                                 .paid_minor = db_col_int(u, 18),
                                 .last_seq = db_col_int(u, 19),
                                 .n_findings = db_col_int(u, 20),
                                 .is_word = db_col_int(u, 21) != 0};
}

static enum err list(struct store *store, const struct store_filter *o, store_see_listed *see,
                     void *me, struct fault *f)
{
    char tail[STORE_ID_MAX + 1] = "", end[STORE_ID_MAX + 8] = "";
    int64_t before = 0;
    bool has_row = true, goes_on = true;
    bool is_rule_frequent = false;
    enum err err = find_after(store, o->after, &before, f);
    if (err == ERR_OK && o->rule != NULL)
        err = is_frequent(store, o->rule, &is_rule_frequent, f);
    if (err != ERR_OK)
        return err;
    if (o->tail != NULL) { /* up to the prefix followed by the last character there is */
        turn(o->tail, tail, sizeof tail);
        memcpy(end, tail, sizeof tail);
        memcpy(end + strlen(end), "\xf4\x8f\xbf\xbf", 5);
    }
    struct db_use u = db_use(store->db, list_sql(o, is_rule_frequent));
    db_int(&u, before);
    db_text(&u, o->vin);
    db_text(&u, o->tail != NULL ? tail : NULL);
    db_text(&u, o->tail != NULL ? end : NULL);
    db_text(&u, o->rule);
    db_text(&u, o->needs);
    db_text(&u, o->verdict);
    db_text(&u, o->shop);
    db_text(&u, o->bulletin);
    db_int(&u, o->is_clean);
    db_int(&u, o->n_max > 0 && o->n_max < INT32_MAX ? (int64_t)o->n_max : INT64_MAX);
    db_text(&u, o->claim);
    while (goes_on) {
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const struct store_listed l = listed_of(&u);
        goes_on = see(me, &l);
    }
    db_rest(&u);
    return err;
}

enum err store_list(struct store *store, const struct store_filter *filter, store_see_listed *see,
                    void *me, struct fault *reterr)
{
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = list(store, filter, see, me, reterr);
    store_look_end(store);
    return store_named(store, err, reterr);
}

enum err store_tally(struct store *store, const char *shop, store_see_count *see, void *me,
                     struct fault *reterr)
{
    static const char all[] =
        "SELECT verdict, needs, is_clean, n FROM tallies ORDER BY verdict, needs, is_clean";
    static const char one[] =
        "SELECT s.verdict, s.needs, s.n_ruled + s.n_intake = 0, count(*) FROM claims AS c CROSS "
        "JOIN standings AS s ON s.claim_seq = c.seq WHERE c.shop = ? GROUP BY 1, 2, 3 ORDER BY 1, "
        "2, 3";
    bool has_row = true, goes_on = true;
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = db_use(store->db, shop != NULL ? one : all);
    if (shop != NULL)
        db_text(&u, shop);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        const struct store_count_of c = {db_col_text(&u, 0, NULL), db_col_text(&u, 1, NULL),
                                         db_col_int(&u, 2) != 0, db_col_int(&u, 3)};
        goes_on = see(me, &c);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}

/* ruling: owns the way of rulings, overrules and payments onto the log, and what is due. */
#include "store/inner.h"

#include <stdio.h>
#include <string.h>

static enum err check_ruling(const struct store_ruling *r, struct fault *f)
{
    enum err err = shape_check(&shape_ruling, r, "", f);
    if (err == ERR_OK)
        err =
            shape_check_list("awards", &shape_award, r->awards, r->n_awards, STORE_STATIONS_MAX, f);
    if (err == ERR_OK)
        err = shape_check_list("findings", &shape_finding, r->findings, r->n_findings,
                               STORE_FINDINGS_MAX, f);
    const bool is_note = r->kind == STORE_NOTED;
    if (err != ERR_OK || (r->kind != STORE_OVERRULED && r->kind != STORE_LIFTED && !is_note))
        return err;
    if (r->person == NULL || r->person[0] == '\0')
        return fault_set(f, ERR_EMPTY, "nobody is named who %s",
                         is_note                   ? "notes it"
                         : r->kind == STORE_LIFTED ? "takes a word back"
                                                   : "overrules");
    if (r->kind != STORE_LIFTED && (r->reason == NULL || r->reason[0] == '\0'))
        return fault_set(f, ERR_EMPTY,
                         is_note ? "the note is empty" : "no reason is given to overrule");
    return ERR_OK;
}

/* The bag of a ruling's claim, which places its entry. */
static enum err find_bag(struct store *s, const char *claim, uint8_t ret[STORE_DIGEST],
                         struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT bag FROM claims WHERE claim = ?");
    bool has_row = false;
    size_t n = 0;
    db_text(&u, claim);
    enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && !has_row)
        err = fault_set(f, ERR_UNKNOWN, "there is no claim %.40s in the store",
                        claim != NULL ? claim : "");
    if (err == ERR_OK) {
        const uint8_t *bag = db_col_blob(&u, 0, &n);
        if (n == STORE_DIGEST)
            memcpy(ret, bag, n);
    }
    db_rest(&u);
    return err;
}

/* "awards[2].station" of ruling i as "rulings[i].awards[2].station", where there are several. */
static void place(struct fault *f, size_t i, size_t n)
{
    char path[FAULT_PATH_MAX];
    if (n < 2)
        return;
    snprintf(path, sizeof path, "rulings[%zu]%s%.120s", i, f->path[0] != '\0' ? "." : "", f->path);
    memcpy(f->path, path, sizeof path);
}

/* Whether the claim has got another entry since the one that was last seen. */
static enum err is_overtaken(struct store *s, const struct store_ruling *r, bool *ret,
                             struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT max(seq) FROM rulings WHERE claim_seq = "
                                    "(SELECT seq FROM claims WHERE claim = ?)");
    bool has_row = false;
    db_text(&u, r->claim);
    const enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK)
        *ret = has_row && !db_col_is_null(&u, 0) && db_col_int(&u, 0) > r->since_seq;
    db_rest(&u);
    return err;
}

static enum err append_ruling(struct store *s, struct store_ruling *r, struct log_end *end,
                              struct fault *f)
{
    struct log_entry e = {0};
    bool is_late = false;
    r->seq = 0;
    enum err err = find_bag(s, r->claim, e.bag, f);
    if (err == ERR_OK && r->since_seq != 0)
        err = is_overtaken(s, r, &is_late, f);
    if (err != ERR_OK || is_late)
        return err;
    text_clear(&s->json);
    derive_ruling_json(r, &s->json);
    err = store_append(s, end, &e, derive_ruling_type(r->kind), r->at_ms, f);
    if (err == ERR_OK)
        r->seq = e.seq;
    return err;
}

enum err store_rule_all(struct store *store, struct store_ruling *rulings, size_t n,
                        struct fault *reterr)
{
    struct log_end end;
    enum err err = n <= STORE_RULINGS_AT_ONCE
                       ? ERR_OK
                       : shape_too_many("rulings", n, STORE_RULINGS_AT_ONCE, reterr);
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        err = check_ruling(&rulings[i], reterr);
        if (err != ERR_OK)
            place(reterr, i, n);
    }
    if (err != ERR_OK || n == 0)
        return err;
    err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = log_find_end(store->db, &end, reterr);
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        err = append_ruling(store, &rulings[i], &end, reterr);
        if (err != ERR_OK)
            place(reterr, i, n);
    }
    if (err == ERR_OK)
        err = db_commit(store->db, reterr);
    else
        db_rollback(store->db);
    return store_named(store, err, reterr);
}

enum err store_rule(struct store *store, struct store_ruling *ruling, struct fault *reterr)
{
    return store_rule_all(store, ruling, 1, reterr);
}

/* ---- settling ------------------------------------------------------------------------------ */

/* A claim's account: what stands, less what was paid, in all and a station each. */
struct account {
    struct scratch *scratch; /* of texts and of the awards that stand */
    bool has_stands;
    struct store_ruling stands;
    int64_t paid_minor;
    const char *paid_currency;
    struct store_award due[STORE_STATIONS_MAX]; /* verdict unused until it is written */
    size_t n_due;
    enum err err;
    const char *why;
};

static const char *copy_text(struct scratch *scratch, const char *s)
{
    return s != NULL ? scratch_copy(scratch, s, strlen(s)) : NULL;
}

static bool stop(struct account *a, enum err err, const char *why)
{
    a->err = err;
    a->why = why;
    return false;
}

/* Adds to what is due to a station. */
static bool add_due(struct account *a, const char *station, int64_t amount_minor)
{
    size_t i = 0;
    while (i < a->n_due && strcmp(a->due[i].station, station) != 0)
        i++;
    if (i == a->n_due) {
        if (i == STORE_STATIONS_MAX)
            return stop(a, ERR_LIMIT, "its awards name too many stations");
        a->due[a->n_due++] = (struct store_award){copy_text(a->scratch, station), "pay", 0, NULL};
    }
    return __builtin_add_overflow(a->due[i].amount_minor, amount_minor, &a->due[i].amount_minor)
               ? stop(a, ERR_RANGE, "its amounts are too large to be added")
               : a->due[i].station != NULL || stop(a, ERR_MEMORY, "memory ran out");
}

static bool add_payment(struct account *a, const struct store_ruling *r)
{
    const char *currency = r->currency != NULL ? r->currency : "";
    if (a->paid_currency != NULL && strcmp(a->paid_currency, currency) != 0)
        return stop(a, ERR_DOMAIN, "it was paid in two currencies; a person has to look");
    if (a->paid_currency == NULL)
        a->paid_currency = copy_text(a->scratch, currency);
    if (a->paid_currency == NULL)
        return stop(a, ERR_MEMORY, "memory ran out");
    if (__builtin_add_overflow(a->paid_minor, r->amount_minor, &a->paid_minor))
        return stop(a, ERR_RANGE, "its amounts are too large to be added");
    for (size_t i = 0; i < r->n_awards; i++) {
        if (r->awards[i].amount_minor == INT64_MIN)
            return stop(a, ERR_RANGE, "its amounts are too large to be added");
        if (!add_due(a, r->awards[i].station, -r->awards[i].amount_minor))
            return false;
    }
    return true;
}

static bool set_stands(struct account *a, const struct store_ruling *r)
{
    struct store_award *awards = scratch_take(a->scratch, r->n_awards * sizeof *awards + 1);
    bool is_whole = awards != NULL;
    for (size_t i = 0; i < r->n_awards && is_whole; i++) {
        awards[i].station = copy_text(a->scratch, r->awards[i].station);
        awards[i].verdict = copy_text(a->scratch, r->awards[i].verdict);
        awards[i].amount_minor = r->awards[i].amount_minor;
        awards[i].what = NULL;
        is_whole = awards[i].station != NULL && awards[i].verdict != NULL;
    }
    a->stands = *r;
    a->stands.awards = awards;
    a->stands.findings = NULL;
    a->stands.n_findings = 0;
    a->stands.person = a->stands.reason = a->stands.claim = NULL;
    a->stands.verdict = copy_text(a->scratch, r->verdict);
    a->stands.currency = copy_text(a->scratch, r->currency != NULL ? r->currency : "");
    a->has_stands = true;
    is_whole = is_whole && a->stands.verdict != NULL && a->stands.currency != NULL;
    return is_whole || stop(a, ERR_MEMORY, "memory ran out");
}

static bool see_entry(void *me, const struct store_ruling *r)
{
    struct account *a = me;
    if (r->kind == STORE_PAID)
        return add_payment(a, r);
    const bool is_word = a->has_stands && store_is_word(a->stands.kind);
    return !store_takes_over(r->kind, is_word) || set_stands(a, r);
}

/* What is to be paid now; 0 for nothing. */
static bool draw_up(struct account *a, int64_t *ret_amount)
{
    const struct store_ruling *r = &a->stands;
    *ret_amount = 0;
    if (!a->has_stands || strcmp(r->verdict, "pay") != 0)
        return true;
    if (__builtin_sub_overflow(r->amount_minor, a->paid_minor, ret_amount))
        return stop(a, ERR_RANGE, "its amounts are too large to be added");
    if (*ret_amount <= 0) {
        *ret_amount = 0;
        return true;
    }
    if (a->paid_currency != NULL && strcmp(a->paid_currency, r->currency) != 0)
        return stop(a, ERR_DOMAIN,
                    "what stands is in another currency than what was paid; a person has to look");
    for (size_t i = 0; i < r->n_awards; i++)
        if (strcmp(r->awards[i].verdict, "pay") == 0 &&
            !add_due(a, r->awards[i].station, r->awards[i].amount_minor))
            return false;
    return true;
}

/* The payment, with the stations whose sum it changes. A person's word without awards pays the
 * whole claim and no station. */
static void write_payment(struct store *s, struct account *a, const char *claim, const char *person,
                          int64_t at_ms, int64_t amount)
{
    size_t n = 0;
    for (size_t i = 0; i < a->n_due; i++)
        if (a->due[i].amount_minor != 0)
            a->due[n++] = a->due[i];
    const struct store_ruling payment = {.kind = STORE_PAID,
                                         .claim = claim,
                                         .verdict = "pay",
                                         .amount_minor = amount,
                                         .currency = a->stands.currency,
                                         .revision = a->stands.revision,
                                         .person = person,
                                         .at_ms = at_ms,
                                         .awards = a->due,
                                         .n_awards = a->stands.n_awards > 0 ? n : 0};
    text_clear(&s->json);
    derive_ruling_json(&payment, &s->json);
}

/* Under the right to write: nobody else can pay between the look and the entry. */
static enum err settle(struct store *s, const char *claim, const char *person, int64_t at_ms,
                       int64_t since_seq, struct account *a, int64_t *ret_amount, bool *ret_is_late,
                       struct fault *f)
{
    struct log_entry e = {0};
    const struct store_ruling since = {.claim = claim, .since_seq = since_seq};
    enum err err = find_bag(s, claim, e.bag, f);
    if (err == ERR_OK && since_seq != 0)
        err = is_overtaken(s, &since, ret_is_late, f);
    if (err == ERR_OK && *ret_is_late)
        return db_commit(s->db, f);
    s->n_looking = 1; /* in this transaction and not in one of its own */
    if (err == ERR_OK)
        err = store_rulings(s, claim, see_entry, a, f);
    s->n_looking = 0;
    if (err == ERR_OK && (a->err != ERR_OK || !draw_up(a, ret_amount)))
        err = fault_set(f, a->err, "the claim %.40s cannot be settled: %s", claim, a->why);
    if (err == ERR_OK && strlen(a->has_stands ? a->stands.currency : "") >= STORE_CURRENCY_ROOM)
        err = fault_set(f, ERR_LIMIT, "the currency %.40s is longer than %d bytes",
                        a->stands.currency, STORE_CURRENCY_ROOM - 1);
    if (err == ERR_OK && *ret_amount == 0)
        return db_commit(s->db,
                         f); /* so that what was paid already is no less sure than a payment */
    if (err != ERR_OK) {
        db_rollback(s->db);
        return err;
    }
    write_payment(s, a, claim, person, at_ms, *ret_amount);
    return store_append_last(s, ERR_OK, &e, derive_ruling_type(STORE_PAID), at_ms, f);
}

enum err store_settle(struct store *store, const char *claim, const char *person, int64_t at_ms,
                      int64_t *ret_amount, char ret_currency[STORE_CURRENCY_ROOM],
                      struct fault *reterr)
{
    bool is_late = false;
    return store_settle_since(store, claim, 0, person, at_ms, ret_amount, ret_currency, &is_late,
                              reterr);
}

enum err store_settle_since(struct store *store, const char *claim, int64_t since_seq,
                            const char *person, int64_t at_ms, int64_t *ret_amount,
                            char ret_currency[STORE_CURRENCY_ROOM], bool *ret_is_late,
                            struct fault *reterr)
{
    struct scratch scratch = {0};
    struct account a = {.scratch = &scratch};
    int64_t amount = 0;
    *ret_is_late = false;
    const struct store_ruling head = {
        .claim = claim, .verdict = "pay", .person = person, .at_ms = at_ms};
    enum err err = shape_check(&shape_ruling, &head, "", reterr);
    if (err != ERR_OK)
        return err;
    err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err == ERR_OK)
        err = settle(store, claim, person, at_ms, since_seq, &a, &amount, ret_is_late, reterr);
    if (err == ERR_OK) {
        *ret_amount = amount;
        snprintf(ret_currency, STORE_CURRENCY_ROOM, "%s", a.has_stands ? a.stands.currency : "");
    }
    scratch_done(&scratch);
    return store_named(store, err, reterr);
}

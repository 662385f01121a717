/* ruling_word: owns a person's word over the rules, and paying what stands. */
#include "desk/ruling_inner.h"

#include "base/fnv.h"

#include <stdlib.h>
#include <string.h>

/* ---- overruling --------------------------------------------------------------------------------- */

static bool is_verdict(const char *verdict)
{
    for (int i = RULE_PAY; i <= RULE_VERDICT_REFUSE; i++)
        if (strcmp(verdict, rule_verdict_name((enum rule_verdict)i)) == 0)
            return true;
    return false;
}

static bool is_blank(const char *s)
{
    return s == NULL || s[strspn(s, " \t\r\n")] == '\0';
}

/* What the rules award, in the person's word: for "pay" all that they do not refuse. Room for one more. */
struct word_awards {
    struct store_award *at;
    size_t n;
    int64_t minor; /* their sum */
};

static bool draw_up(const struct store_ruling *by_rule, const char *verdict,
                    struct event_pool *pool, struct word_awards *ret)
{
    const bool is_pay = strcmp(verdict, rule_verdict_name(RULE_PAY)) == 0;
    const size_t n = by_rule != NULL ? by_rule->n_awards : 0;
    *ret = (struct word_awards){event_pool_get(pool, (n + 1) * sizeof *ret->at), 0, 0};
    for (size_t i = 0; i < n && ret->at != NULL; i++) {
        const struct store_award *a = &by_rule->awards[i];
        if (is_pay && strcmp(a->verdict, rule_verdict_name(RULE_VERDICT_REFUSE)) == 0)
            continue;
        ret->at[ret->n++] = (struct store_award){a->station, verdict, is_pay ? a->amount_minor : 0,
                                                 is_pay ? a->what : NULL};
        ret->minor += is_pay ? a->amount_minor : 0;
    }
    return ret->at != NULL;
}

/* An amount of a person's own is shared out among the stations as the rules' is, so that each is known to be paid; what rounding
 * leaves goes to the first. With nothing to share by it is the unit's. */
static void share_out(struct word_awards *a, int64_t amount_minor)
{
    int64_t left_minor = amount_minor;
    if (a->minor <= 0) {
        a->at[0] = (struct store_award){"*", rule_verdict_name(RULE_PAY), amount_minor, NULL};
        a->n = 1;
        return;
    }
    for (size_t i = 0; i < a->n; i++) {
        const __int128 share = (__int128)amount_minor * a->at[i].amount_minor / a->minor;
        a->at[i].amount_minor = (int64_t)share;
        a->at[i].what = NULL; /* no longer what it was worked out from */
        left_minor -= (int64_t)share;
    }
    a->at[0].amount_minor += left_minor;
}

static enum err set_amount(struct store_ruling *word, int64_t amount_minor, int64_t by_rule_minor,
                           struct fault *f)
{
    const bool is_pay = strcmp(word->verdict, rule_verdict_name(RULE_PAY)) == 0;
    if (amount_minor == BULLETIN_NO_AMOUNT) {
        word->amount_minor = is_pay ? by_rule_minor : 0;
        return !is_pay || by_rule_minor > 0
                   ? ERR_OK
                   : fault_set(
                         f, ERR_DOMAIN,
                         "the rules award nothing for this claim; say how much is to be paid");
    }
    if (!is_pay && amount_minor != 0)
        return fault_set(f, ERR_DOMAIN, "an amount goes with \"pay\" alone");
    if (amount_minor < 0 || (is_pay && amount_minor == 0))
        return fault_set(f, ERR_DOMAIN, "the amount to be paid must be more than 0");
    word->amount_minor = amount_minor;
    return ERR_OK;
}

static enum err put_word(struct store *store, struct store_ruling *word,
                         const struct ruling_standing *standing, int64_t amount_minor,
                         struct event_pool *pool, struct fault *f)
{
    struct word_awards awards;
    word->currency = standing->stands->currency;
    word->revision = standing->stands->revision;
    if (!draw_up(standing->by_rule, word->verdict, pool, &awards))
        return fault_no_memory(f);
    const enum err err = set_amount(word, amount_minor, awards.minor, f);
    if (err != ERR_OK)
        return err;
    if (word->amount_minor != awards.minor)
        share_out(&awards, word->amount_minor);
    word->awards = awards.at;
    word->n_awards = awards.n;
    return store_rule(store, word, f);
}

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    bool *is_there = me;
    (void)id;
    (void)claim;
    *is_there = true;
    return false;
}

/* The claim is there; with what stands for it, and whether that is later than what was seen. */
static enum err look(struct store *store, const struct ruling_word *word, struct event_pool *pool,
                     struct ruling_standing *ret, bool *ret_is_late, struct fault *f)
{
    bool is_there = false;
    enum err err = store_claims(store, word->claim, see_claim, &is_there, f);
    if (err == ERR_OK && !is_there)
        err = fault_set(f, ERR_UNKNOWN, "there is no claim %.40s in the store", word->claim);
    if (err == ERR_OK)
        err = ruling_standing(store, word->claim, pool, ret, f);
    const int64_t seen = word->since_seq == -1 ? 0 : word->since_seq;
    *ret_is_late = err == ERR_OK && word->since_seq != 0 && ret->last_seq != seen;
    return err;
}

enum err ruling_say(struct store *store, const struct ruling_word *word, const char *verdict,
                    int64_t amount_minor, bool *ret_is_late, struct fault *reterr)
{
    struct ruling_standing standing = {0};
    *ret_is_late = false;
    if (is_blank(word->person))
        return fault_set(reterr, ERR_EMPTY, "nobody is named who overrules");
    if (is_blank(word->text))
        return fault_set(reterr, ERR_EMPTY, "no reason is given to overrule");
    if (!is_verdict(verdict))
        return fault_set(reterr, ERR_UNKNOWN,
                         "found the verdict \"%.40s\"; expected pay, ask, hold or refuse", verdict);
    struct event_pool *pool = event_pool_new();
    if (pool == NULL)
        return fault_no_memory(reterr);
    struct store_ruling said = {.kind = STORE_OVERRULED,
                                .claim = word->claim,
                                .verdict = verdict,
                                .person = word->person,
                                .reason = word->text,
                                .at_ms = word->now_ms,
                                .since_seq = word->since_seq};
    enum err err = look(store, word, pool, &standing, ret_is_late, reterr);
    if (err == ERR_OK && !*ret_is_late && standing.stands == NULL)
        err = fault_set(reterr, ERR_ORDER, "the claim %.40s was never ruled on; rule first",
                        word->claim);
    if (err == ERR_OK && !*ret_is_late && standing.stands != NULL) {
        err = put_word(store, &said, &standing, amount_minor, pool, reterr);
        *ret_is_late = err == ERR_OK && said.seq == 0; /* between the look and the entry */
    }
    event_pool_free(pool);
    return err;
}

enum err ruling_overrule(struct store *store, const char *claim, const char *verdict,
                         int64_t amount_minor, const char *person, const char *reason,
                         int64_t now_ms, struct fault *reterr)
{
    bool is_late = false;
    const struct ruling_word word = {claim, person, reason, now_ms, 0};
    return ruling_say(store, &word, verdict, amount_minor, &is_late, reterr);
}

/* ---- taking a word back, notes -------------------------------------------------------------------- */

/* The word that stands, and what stood before it. Names are copied: the store's go away. */
struct last_word {
    bool is_there, is_paid; /* since it was said */
    char person[STORE_ID_MAX + 1], before[STORE_ID_MAX + 1];
};

static void keep_name(char to[STORE_ID_MAX + 1], const char *name)
{
    const size_t n = name != NULL ? strnlen(name, STORE_ID_MAX) : 0;
    memcpy(to, name != NULL ? name : "", n);
    to[n] = '\0';
}

static bool see_word(void *me, const struct store_ruling *r)
{
    struct last_word *w = me;
    if (r->kind == STORE_PAID)
        w->is_paid = true;
    if (!store_takes_over(r->kind, w->is_there))
        return true;
    /* Several words of one person are one; the other person's word below them is still the one they replaced. */
    if (store_is_word(r->kind) && w->is_there && strcmp(w->person, r->person) != 0)
        keep_name(w->before, w->person);
    if (!store_is_word(r->kind))
        w->before[0] = '\0';
    w->is_there = store_is_word(r->kind);
    w->is_paid = false;
    keep_name(w->person, w->is_there ? r->person : "");
    return true;
}

static enum err may_take_back(const struct last_word *w, const struct ruling_word *word,
                              struct fault *f)
{
    if (!w->is_there)
        return fault_set(f, ERR_ORDER, "nobody's word stands for the claim %.40s", word->claim);
    if (strcmp(w->person, word->person) != 0)
        return fault_set(f, ERR_ORDER,
                         "the word that stands is that of %.60s, who alone can take it back; "
                         "overrule it with a reason",
                         w->person);
    if (w->before[0] != '\0')
        return fault_set(f, ERR_ORDER,
                         "before it stood the word of %.60s; say what is to hold, with a reason",
                         w->before);
    if (w->is_paid)
        return fault_set(f, ERR_ORDER, "money was paid on it; overrule it with a reason");
    return ERR_OK;
}

enum err ruling_take_back(struct store *store, const struct ruling_word *word, bool *ret_is_late,
                          struct fault *reterr)
{
    struct ruling_standing standing = {0};
    struct last_word last = {0};
    *ret_is_late = false;
    if (is_blank(word->person))
        return fault_set(reterr, ERR_EMPTY, "nobody is named who takes a word back");
    struct event_pool *pool = event_pool_new();
    if (pool == NULL)
        return fault_no_memory(reterr);
    enum err err = look(store, word, pool, &standing, ret_is_late, reterr);
    if (err == ERR_OK && !*ret_is_late)
        err = store_rulings(store, word->claim, see_word, &last, reterr);
    if (err == ERR_OK && !*ret_is_late)
        err = may_take_back(&last, word, reterr);
    if (err == ERR_OK && !*ret_is_late &&
        standing.by_rule == NULL) /* only what was ruled is overruled */
        err = fault_set(reterr, ERR_ORDER, "the rules never ruled on it");
    if (err == ERR_OK && !*ret_is_late && standing.by_rule != NULL) {
        struct store_ruling again = *standing.by_rule;
        again.kind = STORE_LIFTED;
        again.claim = word->claim;
        again.person = word->person;
        again.reason = NULL;
        again.at_ms = word->now_ms;
        /* What was looked at must still be the last, whoever asks. */
        again.since_seq = word->since_seq != 0 ? word->since_seq : standing.last_seq;
        err = store_rule(store, &again, reterr);
        *ret_is_late = err == ERR_OK && again.seq == 0;
    }
    event_pool_free(pool);
    return err;
}

enum err ruling_note(struct store *store, const struct ruling_word *word, bool *ret_is_late,
                     struct fault *reterr)
{
    struct store_ruling note = {.kind = STORE_NOTED,
                                .claim = word->claim,
                                .verdict = "note",
                                .revision = STORE_UNKNOWN,
                                .person = word->person,
                                .reason = word->text,
                                .at_ms = word->now_ms,
                                .since_seq = word->since_seq};
    *ret_is_late = false;
    if (is_blank(word->person))
        return fault_set(reterr, ERR_EMPTY, "nobody is named who notes it");
    if (is_blank(word->text))
        return fault_set(reterr, ERR_EMPTY, "the note is empty");
    const enum err err = store_rule(store, &note, reterr);
    *ret_is_late = err == ERR_OK && note.seq == 0;
    return err;
}

/* ---- settling ------------------------------------------------------------------------------------ */

struct due {
    char claim[STORE_CLAIM_SIZE + 1];
    bool has_word, is_pay;
    int64_t amount_minor, paid_minor;
};

/* What is due of each claim that was ever ruled on, in the order in which they were. */
struct dues {
    struct due *at;
    size_t n, room;
    size_t *slots; /* open addressing by claim: index + 1; n_slots is a power of two */
    size_t n_slots;
    bool is_out_of_memory;
};

static size_t slot_of(const struct dues *d, const char *claim)
{
    size_t i = (size_t)fnv_text(claim) & (d->n_slots - 1);
    while (d->slots[i] != 0 && strcmp(d->at[d->slots[i] - 1].claim, claim) != 0)
        i = (i + 1) & (d->n_slots - 1);
    return i;
}

static bool grow(struct dues *d)
{
    const size_t room = d->room > 0 ? 2 * d->room : 64;
    struct due *more = realloc(d->at, room * sizeof *more);
    if (more == NULL)
        return false;
    d->at = more;
    d->room = room;
    free(d->slots);
    d->n_slots = 2 * room;
    d->slots = calloc(d->n_slots, sizeof *d->slots);
    for (size_t i = 0; i < d->n && d->slots != NULL; i++)
        d->slots[slot_of(d, d->at[i].claim)] = i + 1;
    return d->slots != NULL;
}

static struct due *due_of(struct dues *d, const char *claim)
{
    if (d->n == d->room && !grow(d))
        return NULL;
    const size_t slot = slot_of(d, claim);
    if (d->slots[slot] == 0) {
        struct due *made = &d->at[d->n++];
        *made = (struct due){0};
        strncpy(made->claim, claim, STORE_CLAIM_SIZE);
        d->slots[slot] = d->n;
    }
    return &d->at[d->slots[slot] - 1];
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct dues *d = me;
    struct due *due = due_of(d, r->claim);
    if (due == NULL) {
        d->is_out_of_memory = true;
        return false;
    }
    if (r->kind == STORE_PAID)
        due->paid_minor += r->amount_minor;
    else if (store_takes_over(r->kind, due->has_word)) {
        due->has_word = store_is_word(r->kind);
        due->is_pay = strcmp(r->verdict, rule_verdict_name(RULE_PAY)) == 0;
        due->amount_minor = r->amount_minor;
    }
    return true;
}

/* One claim alone: whether anything is due is the store's to say. */
static enum err list_one(struct dues *d, const char *claim, struct fault *f)
{
    if (strlen(claim) != STORE_CLAIM_SIZE)
        return fault_set(f, ERR_UNKNOWN, "there is no claim %.40s in the store", claim);
    struct due *due = due_of(d, claim);
    if (due == NULL)
        return fault_no_memory(f);
    due->is_pay = true;
    due->amount_minor = INT64_MAX;
    return ERR_OK;
}

static enum err list_all(struct store *store, struct dues *d, struct fault *f)
{
    const enum err err = store_rulings(store, NULL, see_ruling, d, f);
    return err == ERR_OK && d->is_out_of_memory ? fault_no_memory(f) : err;
}

enum err ruling_settle(struct store *store, const char *claim, const char *person, int64_t now_ms,
                       ruling_see_payment *see, void *me, struct fault *reterr)
{
    struct dues dues = {0};
    bool goes_on = true;
    if (is_blank(person))
        return fault_set(reterr, ERR_EMPTY, "nobody is named who settles");
    enum err err = claim != NULL ? list_one(&dues, claim, reterr) : list_all(store, &dues, reterr);
    for (size_t i = 0; i < dues.n && err == ERR_OK && goes_on; i++) {
        const struct due *d = &dues.at[i];
        char currency[STORE_CURRENCY_ROOM] = "";
        int64_t amount_minor = 0;
        if (!d->is_pay || d->amount_minor <= d->paid_minor)
            continue;
        err = store_settle(store, d->claim, person, now_ms, &amount_minor, currency, reterr);
        if (err == ERR_OK && amount_minor > 0 && see != NULL)
            goes_on = see(me, d->claim, amount_minor, currency);
    }
    free(dues.at);
    free(dues.slots);
    return err;
}

enum err ruling_pay(struct store *store, const struct ruling_word *word, int64_t *ret_amount,
                    bool *ret_is_late, struct fault *reterr)
{
    char currency[STORE_CURRENCY_ROOM] = "";
    *ret_is_late = false;
    if (is_blank(word->person))
        return fault_set(reterr, ERR_EMPTY, "nobody is named who settles");
    return store_settle_since(store, word->claim, word->since_seq, word->person, word->now_ms,
                              ret_amount, currency, ret_is_late, reterr);
}

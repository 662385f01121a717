/* Lists of claims by what stands: every filter and many pairs of them against a plain search through the same claims, whose standing
 * this test keeps by the words of doc/store.md; pages; counts; a person's word taken back, notes; after a rebuild the same. */
#include "store/acts.h"
#include "synth.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { CLAIMS = 150, MOVES = 500 };
static const char *const verdicts[] = {"pay", "ask", "hold", "refuse"};
static const char *const rules[] = {"photo-seen", "late", "capped"};

static char folder[256], path[600];
static struct store *store;

/* What this test knows of a claim. */
struct known {
    char id[STORE_CLAIM_SIZE + 1], vin[32], shop[32], bulletin[32];
    bool is_ruled, is_word, has_intake;
    int verdict, rule_verdict; /* index into verdicts */
    int rule;                  /* of the last ruling's finding; -1: none */
    int64_t amount, rule_amount, paid;
};
static struct known known[CLAIMS]; /* in the order of taking in */
static unsigned seed = 5;

static unsigned draw(unsigned n)
{
    seed = seed * 1103515245u + 12345u; /* the example of C17, 7.22.2.2 */
    return (seed / 65536u) % 32768u % n;
}

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, f);
}

struct shops {
    int n_claims; /* taken in so far */
    int64_t n;
    char last[32];
    bool is_odd;
};

static bool see_shop(void *me, const char *shop, int64_t n)
{
    struct shops *v = me;
    int64_t expected = 0;
    for (int i = 0; i < v->n_claims; i++)
        expected += strcmp(known[i].shop, shop) == 0;
    v->is_odd = v->is_odd || n != expected || strcmp(v->last, shop) >= 0;
    snprintf(v->last, sizeof v->last, "%s", shop);
    v->n += n;
    return true;
}

/* Counted on from where it was counted last. */
static void check_shops(int n_claims, const char *when)
{
    struct fault f = {0};
    struct shops v = {.n_claims = n_claims};
    must(store_shop_counts(store, see_shop, &v, &f), &f, "shops");
    tap_ok(!v.is_odd && v.n == n_claims, "%s: claims of each shop, by name", when);
}

static void take_all(void)
{
    static struct synth one;
    struct fault f = {0};
    enum store_taken taken;
    for (unsigned i = 0; i < CLAIMS; i++) {
        struct known *k = &known[i];
        synth_make(&one, 11, i, false);
        snprintf(k->vin, sizeof k->vin, "1FHMC00X%09u", i * 37 % 100);
        snprintf(k->shop, sizeof k->shop, "shop-%u", i % 7);
        snprintf(k->bulletin, sizeof k->bulletin, "%s", i % 5 == 0 ? "B-2" : "B-1");
        one.claim.vin = k->vin;
        one.claim.shop = k->shop;
        one.claim.bulletin = k->bulletin;
        k->has_intake = i % 3 == 0;
        k->rule = -1;
        one.claim.n_findings = k->has_intake; /* synth's: of the rule "signature" */
        must(store_take(store, &one.claim, &taken, k->id, &f), &f, "take");
        if (i == 2 || i == 4 || i == CLAIMS / 2)
            check_shops((int)i + 1, "while they come in");
    }
}

/* ---- moves ------------------------------------------------------------------------------------ */

static void write(const struct known *k, enum store_ruling_kind kind, const char *verdict,
                  int64_t amount, int rule)
{
    struct fault f = {0};
    const struct store_finding finding = {
        .rule = rule >= 0 ? rules[rule] : "", .level = "hold", .message = "seen"};
    struct store_ruling r = {.kind = kind,
                             .claim = k->id,
                             .verdict = verdict,
                             .amount_minor = amount,
                             .currency = "EUR",
                             .revision = 3,
                             .person = "C. Example",
                             .reason = "because",
                             .at_ms = 1770000000000,
                             .findings = &finding,
                             .n_findings = rule >= 0};
    must(store_rule(store, &r, &f), &f, "rule");
}

static void rule_on(struct known *k)
{
    k->rule_verdict = (int)draw(4);
    k->rule_amount = k->rule_verdict == 0 ? 100 + (int64_t)draw(3) * 50 : 0;
    k->rule = (int)draw(4) - 1;
    k->is_ruled = true;
    write(k, STORE_RULED, verdicts[k->rule_verdict], k->rule_amount, k->rule);
    if (!k->is_word) {
        k->verdict = k->rule_verdict;
        k->amount = k->rule_amount;
    }
}

static void move(struct known *k)
{
    int64_t paid = 0;
    char currency[STORE_CURRENCY_ROOM];
    struct fault f = {0};
    switch (k->is_ruled ? draw(6) : 0) {
    case 0:
    case 1:
        rule_on(k);
        break;
    case 2:
        k->is_word = true;
        k->verdict = (int)draw(4);
        k->amount = k->verdict == 0 ? 100 + (int64_t)draw(3) * 50 : 0;
        write(k, STORE_OVERRULED, verdicts[k->verdict], k->amount, -1);
        break;
    case 3:
        must(store_settle(store, k->id, "C. Example", 1770000000000, &paid, currency, &f), &f,
             "settle");
        k->paid += paid;
        break;
    case 4:
        if (!k->is_word)
            break;
        k->is_word = false;
        k->verdict = k->rule_verdict;
        k->amount = k->rule_amount;
        write(k, STORE_LIFTED, verdicts[k->verdict], k->amount, k->rule);
        break;
    default:
        write(k, STORE_NOTED, "note", 0, -1);
    }
}

/* ---- a plain search --------------------------------------------------------------------------- */

static const char *verdict_of(const struct known *k)
{
    return k->is_ruled ? verdicts[k->verdict] : "unruled";
}

static const char *needs_of(const struct known *k)
{
    const int64_t worth = k->is_ruled && k->verdict == 0 ? k->amount : 0;
    if (!k->is_ruled)
        return "ruling";
    if (k->paid > worth || k->verdict == 2)
        return "person";
    if (worth > k->paid)
        return "payment";
    return k->verdict == 1 ? "shop" : "nothing";
}

static bool is_same(const char *wanted, const char *found)
{
    return wanted == NULL || strcmp(wanted, found) == 0;
}

static bool has_rule(const struct known *k, const char *rule)
{
    return rule == NULL || (k->rule >= 0 && strcmp(rules[k->rule], rule) == 0) ||
           (k->has_intake && strcmp(rule, "signature") == 0);
}

static bool fits(const struct known *k, const struct store_filter *o)
{
    const size_t n = strlen(k->vin), t = o->tail != NULL ? strlen(o->tail) : 0;
    return is_same(o->claim, k->id) && is_same(o->vin, k->vin) &&
           (o->tail == NULL || (t <= n && strcmp(k->vin + n - t, o->tail) == 0)) &&
           has_rule(k, o->rule) && is_same(o->needs, needs_of(k)) &&
           is_same(o->verdict, verdict_of(k)) && is_same(o->shop, k->shop) &&
           is_same(o->bulletin, k->bulletin) && (!o->is_clean || (k->rule < 0 && !k->has_intake));
}

/* ---- the comparison --------------------------------------------------------------------------- */

struct look {
    const struct store_filter *filter;
    int at; /* of the claim that was seen last */
    size_t n;
    int n_bad;
};

static bool see(void *me, const struct store_listed *l)
{
    struct look *v = me;
    int i = v->at - 1;
    while (i >= 0 && !fits(&known[i], v->filter))
        i--;
    v->at = i;
    v->n++;
    const struct known *k = i >= 0 ? &known[i] : NULL;
    const bool is_right =
        k != NULL && strcmp(l->claim, k->id) == 0 && strcmp(l->vin, k->vin) == 0 &&
        strcmp(l->shop, k->shop) == 0 && strcmp(l->needs, needs_of(k)) == 0 &&
        strcmp(l->verdict != NULL ? l->verdict : "unruled", verdict_of(k)) == 0 &&
        l->amount_minor == (k->is_ruled ? k->amount : 0) && l->paid_minor == k->paid &&
        l->is_word == k->is_word && l->n_findings == (k->rule >= 0) + k->has_intake &&
        is_same(l->finding, k->rule >= 0    ? rules[k->rule]
                            : k->has_intake ? "signature"
                                            : "");
    v->n_bad += !is_right;
    return true;
}

static size_t count(const struct store_filter *o)
{
    size_t n = 0;
    for (int i = 0; i < CLAIMS; i++)
        n += fits(&known[i], o);
    return n;
}

/* Every claim that fits and no other, the newest first. Returns how many; -1 when not. */
static int listed(const struct store_filter *o)
{
    struct fault f = {0};
    struct look v = {o, CLAIMS, 0, 0};
    must(store_list(store, o, see, &v, &f), &f, "list");
    return v.n_bad == 0 && v.n == count(o) ? (int)v.n : -1;
}

static void check_filters(const char *when)
{
    static const char *const needs[] = {"person", "payment", "shop", "ruling", "nothing"};
    static const char *const of[] = {"pay", "ask", "hold", "refuse", "unruled"};
    const char *const found[] = {"photo-seen", "late", "capped", "signature", "none-such"};
    bool is_right = true;
    int n_some = 0, n = 0;
    /* Three draws of eight filters each set or not: 400 of them, most with several at once. */
    for (int i = 0; i < 400; i++) {
        const struct known *k = &known[draw(CLAIMS)];
        const struct store_filter o = {.claim = draw(12) == 0 ? k->id : NULL,
                                       .vin = draw(6) == 0 ? k->vin : NULL,
                                       .tail = draw(4) == 0 ? k->vin + 17 - 1 - draw(3) : NULL,
                                       .rule = draw(3) == 0 ? found[draw(5)] : NULL,
                                       .needs = draw(3) == 0 ? needs[draw(5)] : NULL,
                                       .verdict = draw(3) == 0 ? of[draw(5)] : NULL,
                                       .shop = draw(4) == 0 ? k->shop : NULL,
                                       .bulletin = draw(4) == 0 ? k->bulletin : NULL,
                                       .is_clean = draw(5) == 0};
        const int got = listed(&o);
        is_right = is_right && got >= 0;
        n += got > 0 ? got : 0;
        n_some += got > 0;
    }
    tap_ok(is_right && n_some > 100, "%s: 400 drawn filters, %d of them with claims (%d in all)",
           when, n_some, n);
    for (size_t i = 0; i < 5; i++) {
        const struct store_filter by_needs = {.needs = needs[i]}, by_verdict = {.verdict = of[i]};
        const struct store_filter by_rule = {.rule = found[i]};
        tap_ok(listed(&by_needs) >= 0 && listed(&by_verdict) >= 0 && listed(&by_rule) >= 0,
               "%s: needs %s, verdict %s, rule %s", when, needs[i], of[i], found[i]);
    }
}

/* A rule found so often that lists go another way about it: in rulings that hold no more, all but one of them. */
static void check_frequent(void)
{
    enum { OFTEN = 10500 };
    static struct store_finding many[STORE_FINDINGS_MAX];
    struct fault f = {0};
    struct known *k = &known[CLAIMS / 2];
    for (size_t i = 0; i < STORE_FINDINGS_MAX; i++)
        many[i] = (struct store_finding){.rule = rules[1], .level = "hold", .message = "seen"};
    for (int n = 0; n < OFTEN; n += STORE_FINDINGS_MAX) {
        struct store_ruling r = {.kind = STORE_RULED,
                                 .claim = k->id,
                                 .verdict = "hold",
                                 .currency = "EUR",
                                 .revision = 3,
                                 .at_ms = 1770000000000,
                                 .findings = many,
                                 .n_findings = STORE_FINDINGS_MAX};
        must(store_rule(store, &r, &f), &f, "rule");
    }
    rule_on(k);
    check_filters("a rule found very often");
}

struct page {
    size_t n;
    char last[STORE_CLAIM_SIZE + 1];
};

static bool see_page(void *me, const struct store_listed *l)
{
    struct page *p = me;
    p->n++;
    snprintf(p->last, sizeof p->last, "%s", l->claim);
    return true;
}

static void check_pages(void)
{
    struct fault f = {0};
    struct page p = {0};
    size_t n = 0, n_pages = 0;
    const struct store_filter all = {.verdict = "pay"};
    do {
        const struct store_filter o = {
            .verdict = "pay", .after = n > 0 ? p.last : NULL, .n_max = 4};
        p.n = 0;
        must(store_list(store, &o, see_page, &p, &f), &f, "page");
        n += p.n;
        n_pages++;
    } while (p.n == 4);
    tap_ok(n == count(&all) && n_pages > 2, "four at a time, every one once");
    const struct store_filter lost = {.after = "K000000000000"};
    tap_ok(store_list(store, &lost, see_page, &p, &f) == ERR_UNKNOWN,
           "after a claim that is not there: %s", f.message);
    const struct store_filter odd = {.tail = "%_'; DROP"}, none = {.tail = ""};
    p.n = 0;
    tap_ok(store_list(store, &odd, see_page, &p, &f) == ERR_OK && p.n == 0,
           "signs of a query in a tail are only characters");
    tap_ok(listed(&none) == CLAIMS, "an empty tail fits all");
}

struct tally {
    const char *shop;
    int64_t n, n_right;
};

static bool see_count(void *me, const struct store_count_of *c)
{
    struct tally *t = me;
    int64_t n = 0;
    for (int i = 0; i < CLAIMS; i++)
        n += is_same(t->shop, known[i].shop) && strcmp(verdict_of(&known[i]), c->verdict) == 0 &&
             strcmp(needs_of(&known[i]), c->needs) == 0 &&
             (known[i].rule < 0 && !known[i].has_intake) == c->is_clean;
    t->n += c->n;
    t->n_right += n == c->n ? c->n : 0;
    return true;
}

static void check_tally(void)
{
    struct fault f = {0};
    struct tally all = {0}, one = {.shop = "shop-3"};
    must(store_tally(store, NULL, see_count, &all, &f), &f, "tally");
    must(store_tally(store, one.shop, see_count, &one, &f), &f, "tally");
    tap_ok(all.n == CLAIMS && all.n_right == CLAIMS, "counts of all claims");
    tap_ok(one.n == one.n_right && one.n == (CLAIMS + 3) / 7, "counts of a shop's");
}

static void check_words(void)
{
    struct fault f = {0};
    struct store_ruling r = {.kind = STORE_NOTED,
                             .claim = known[0].id,
                             .verdict = "note",
                             .person = "C. Example",
                             .at_ms = 1770000000000};
    tap_ok(store_rule(store, &r, &f) == ERR_EMPTY, "a note of nothing: %s", f.message);
    r.kind = STORE_LIFTED;
    r.person = NULL;
    tap_ok(store_rule(store, &r, &f) == ERR_EMPTY, "a word taken back by nobody: %s", f.message);
}

/* Two who have seen the same: the first pays, the second is told that something came. */
static void check_since(void)
{
    struct fault f = {0};
    int64_t paid = -1;
    bool is_late = false;
    char currency[STORE_CURRENCY_ROOM] = "";
    struct known *k = &known[0];
    write(k, STORE_OVERRULED, "pay", k->paid + 70, -1);
    struct store_ruling r = {.kind = STORE_OVERRULED,
                             .claim = k->id,
                             .verdict = "pay",
                             .amount_minor = k->paid + 90,
                             .currency = "EUR",
                             .person = "C. Example",
                             .reason = "because",
                             .at_ms = 1770000000000};
    must(store_rule(store, &r, &f), &f, "rule");
    const int64_t seen = r.seq;
    must(store_settle_since(store, k->id, seen - 1, "D. Example", 1770000000000, &paid, currency,
                            &is_late, &f),
         &f, "settle");
    tap_ok(is_late && paid == 0, "who has not seen the last word pays nothing");
    must(store_settle_since(store, k->id, seen, "D. Example", 1770000000000, &paid, currency,
                            &is_late, &f),
         &f, "settle");
    tap_ok(!is_late && paid == 90 && strcmp(currency, "EUR") == 0, "who has seen it does");
    must(store_settle_since(store, k->id, seen, "D. Example", 1770000000000, &paid, currency,
                            &is_late, &f),
         &f, "settle");
    tap_ok(is_late && paid == 0, "the payment is an entry too");
    must(store_settle_since(store, known[0].id, -1, "D. Example", 1770000000000, &paid, currency,
                            &is_late, &f),
         &f, "settle");
    tap_ok(is_late, "who saw no entry at all");
}

int main(void)
{
    struct fault f = {0};
    bool is_made = false;
    int64_t n = 0;
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    must(store_init(path, &is_made, &f), &f, "init");
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    take_all();
    check_filters("nothing ruled");
    for (int i = 0; i < MOVES; i++)
        move(&known[draw(CLAIMS - 10)]);
    printf("# seed 5, %d moves\n", (int)MOVES);
    check_filters("after moves");
    check_pages();
    check_tally();
    must(store_rebuild(store, NULL, &n, &f), &f, "rebuild");
    check_filters("made anew from the log");
    check_shops(CLAIMS, "made anew from the log");
    check_frequent();
    check_words();
    check_since();
    store_close(store);
    synth_remove(folder);
    return tap_done();
}

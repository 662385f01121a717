/* ask_all: asks a store everything that its interface can be asked, for plans.py: of one claim, one unit, one shop, after a place in the
 * log; each list of claims by each of its filters, the first ten. No test by itself.
 *
 * usage: ask_all STORE */
#include "store/acts.h"
#include "store/since.h"
#include "store/units.h"
#include "synth.h"

#include <stdio.h>
#include <string.h>

static struct store *store;
static struct fault f;
static char claim[STORE_CLAIM_SIZE + 1], vin[32], shop[64];

static void must(enum err err, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, &f);
}

static bool keep_first(void *me, const struct store_listed *l)
{
    int *left = me;
    snprintf(claim, sizeof claim, "%s", l->claim);
    snprintf(vin, sizeof vin, "%s", l->vin);
    snprintf(shop, sizeof shop, "%s", l->shop != NULL ? l->shop : "");
    return --*left > 0;
}

static bool see_listed(void *me, const struct store_listed *l)
{
    (void)l;
    ++*(int *)me;
    return true;
}

static bool see_count(void *me, const struct store_count_of *c)
{
    (void)c;
    ++*(int *)me;
    return true;
}

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    (void)id;
    (void)c;
    ++*(int *)me;
    return true;
}

static bool see_event(void *me, const struct store_event *e)
{
    (void)e;
    ++*(int *)me;
    return true;
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    (void)r;
    ++*(int *)me;
    return true;
}

static bool see_id(void *me, const char *id)
{
    (void)id;
    ++*(int *)me;
    return true;
}

static bool see_paper(void *me, const struct store_paper *p)
{
    (void)p;
    ++*(int *)me;
    return true;
}

static bool see_build(void *me, const struct store_build *b)
{
    (void)b;
    ++*(int *)me;
    return true;
}

static bool see_unit(void *me, const struct unit_place *p)
{
    (void)p;
    return ++*(int *)me < 10;
}

static bool see_act(void *me, const struct store_act *a)
{
    (void)a;
    return ++*(int *)me < 10;
}

static bool see_since_claim(void *me, const struct since_claim *c)
{
    (void)c;
    return ++*(int *)me < 10;
}

static bool see_since_reading(void *me, const struct since_reading *r)
{
    (void)r;
    return ++*(int *)me < 10;
}

static bool see_since_award(void *me, const struct since_award *a)
{
    (void)a;
    return ++*(int *)me < 10;
}

static bool see_since_station(void *me, int64_t seq, const char *station, const char *scope,
                              const char *kit)
{
    (void)seq;
    (void)station;
    (void)scope;
    (void)kit;
    return ++*(int *)me < 10;
}

static void ask_lists(int *n)
{
    const struct store_filter filters[] = {
        {.n_max = 10},
        {.n_max = 10, .claim = claim},
        {.n_max = 10, .vin = vin},
        {.n_max = 10, .tail = vin + strlen(vin) - 4},
        {.n_max = 10, .rule = "late"},
        {.n_max = 10, .needs = STORE_NEEDS_RULING},
        {.n_max = 10, .needs = STORE_NEEDS_RULING, .is_clean = true},
        {.n_max = 10, .verdict = "pay"},
        {.n_max = 10, .shop = shop},
        {.n_max = 10, .bulletin = "OV-26-03"},
        {.n_max = 10, .shop = shop, .after = claim},
    };
    for (size_t i = 0; i < sizeof filters / sizeof *filters; i++)
        must(store_list(store, &filters[i], see_listed, n, &f), "list");
    must(store_tally(store, shop, see_count, n, &f), "tally of a shop");
    must(store_tally(store, NULL, see_count, n, &f), "tally");
}

static void ask_one(int *n, int64_t last)
{
    bool is_of = false;
    struct store_heads heads;
    must(store_claims(store, claim, see_claim, n, &f), "claim");
    must(store_events(store, claim, see_event, n, &f), "events");
    must(store_rulings(store, claim, see_ruling, n, &f), "rulings");
    must(store_same_readings(store, claim, see_id, n, &f), "same readings");
    must(store_claims_of_unit(store, vin, see_id, n, &f), "claims of a unit");
    must(store_builds(store, vin, see_build, n, &f), "builds");
    must(store_papers(store, "bulletin", NULL, true, see_paper, n, &f), "papers");
    must(store_units_by_tail(store, vin + strlen(vin) - 6, NULL, see_unit, n, &f), "tail of six");
    must(store_units_by_tail(store, vin + strlen(vin) - 4, NULL, see_unit, n, &f), "tail of four");
    must(store_units_by_label(store, "C2-2024", NULL, NULL, see_unit, n, &f), "label");
    must(store_units_by_shop(store, shop, claim, see_unit, n, &f), "units of a shop");
    must(store_unit_is_of(store, vin, shop, &is_of, &f), "unit of a shop");
    must(store_heads(store, last, &heads, &f), "heads");
}

static void ask_since(int *n, int64_t after)
{
    must(store_ruling_acts(store, after, STORE_PAID, NULL, see_act, n, &f), "acts");
    must(store_paper_acts(store, after, see_act, n, &f), "acts on papers");
    must(since_claims(store, "OV-26-03", after, see_since_claim, n, &f), "claims since");
    must(since_stations(store, "OV-26-03", after, see_since_station, n, &f), "stations since");
    must(since_readings(store, "OV-26-03", after, see_since_reading, n, &f), "readings since");
    must(since_rulings(store, "OV-26-03", after, see_since_award, n, &f), "rulings since");
}

/* A ruling each for some claims, by statements of their own kind; and one claim settled. */
static void write_some(int *n)
{
    static struct synth one;
    struct store_finding finding = {.rule = "late", .level = "ask", .message = "came late"};
    int64_t amount = 0;
    char currency[STORE_CURRENCY_ROOM];
    enum store_taken taken;
    for (unsigned i = 900000; i < 900005; i++) {
        char id[STORE_CLAIM_SIZE + 1];
        synth_make(&one, 9, i, true);
        must(store_take(store, &one.claim, &taken, id, &f), "take");
        struct store_award award = {"fore", "pay", 100, NULL};
        struct store_ruling r = {.kind = STORE_RULED,
                                 .claim = id,
                                 .verdict = "pay",
                                 .amount_minor = 100,
                                 .currency = "EUR",
                                 .revision = 2,
                                 .at_ms = 1780000000000,
                                 .awards = &award,
                                 .n_awards = 1,
                                 .findings = &finding,
                                 .n_findings = 1};
        must(store_rule(store, &r, &f), "rule");
        must(store_settle(store, id, "A. Clerk", 1780000000001, &amount, currency, &f), "settle");
        *n += amount == 100;
    }
}

int main(int argc, char **argv)
{
    struct store_counts c = {0};
    int n = 0, left = 5;
    if (argc != 2)
        return 2;
    must(store_open(argv[1], STORE_WRITE, &store, &f), "open");
    const struct store_filter some = {.n_max = 5};
    must(store_list(store, &some, keep_first, &left, &f), "list");
    must(store_count(store, &c, &f), "count");
    write_some(&n);
    for (int i = 0; i < 8; i++) { /* often enough that PostgreSQL plans once for all values */
        ask_lists(&n);
        ask_one(&n, c.entries - 20);
        ask_since(&n, c.entries - 2000);
    }
    store_close(store);
    printf("%d\n", n);
    return 0;
}

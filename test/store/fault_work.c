/* fault_work: owns the work that is interrupted, and the account of what was acknowledged. */
#include "fault_work.h"

#include "synth.h"
#include "table.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { TRIES = 3, FAILURES_MAX = 6, COPY_ONE_IN = 24 };

static const int64_t hour_ms = 3600 * 1000;

static unsigned dice(unsigned long long *state, unsigned sides)
{
    return (unsigned)(table_random(state) % sides);
}

static void tick(struct work_ledger *l)
{
    l->clock_ms += 1000;
}

/* Set wrong by a person, by a network, by an empty battery. */
static void jump(struct work_ledger *l, unsigned i)
{
    const int64_t year_ms = 8766 * hour_ms;
    const int64_t jumps[] = {-1,      -hour_ms,    -24 * hour_ms, -10 * year_ms,
                             hour_ms, 2 * year_ms, 80 * year_ms};
    if (i < sizeof jumps / sizeof *jumps)
        l->clock_ms += jumps[i];
    else
        l->clock_ms = 1; /* 1970 */
    if (l->clock_ms < 1)
        l->clock_ms = 1;
}

enum err work_take(struct store *s, unsigned synth_seed, struct work_ledger *l, struct fault *f)
{
    static struct synth one;
    enum store_taken taken = STORE_TAKEN;
    struct work_claim *c = &l->claims[l->n_taken];
    synth_make(&one, synth_seed, l->n_taken - l->n_old, true);
    one.claim.taken_ms = l->clock_ms;
    *c = (struct work_claim){0};
    store_claim_id(one.claim.bag, c->id);
    const bool may_be_there = l->may_be_taken;
    l->may_be_taken = true;
    const enum err err = store_take(s, &one.claim, &taken, NULL, f);
    if (err != ERR_OK)
        return err;
    l->n_wrong += taken == STORE_ALREADY && !may_be_there;
    l->n_taken++; /* first: should the child end here, the claim counts as acknowledged */
    l->may_be_taken = false;
    return ERR_OK;
}

enum err work_rule(struct store *s, unsigned i, struct work_ledger *l, struct fault *f)
{
    struct work_claim *c = &l->claims[i];
    const int64_t amount = c->high_minor > 0 ? c->high_minor + WORK_STEP_MINOR : 1000 + (int64_t)i;
    const struct store_award award = {"fore", "pay", amount, NULL};
    struct store_ruling r = {.claim = c->id,
                             .verdict = "pay",
                             .amount_minor = amount,
                             .currency = "EUR",
                             .revision = 2,
                             .at_ms = l->clock_ms,
                             .awards = &award,
                             .n_awards = 1};
    c->high_minor = amount;
    const enum err err = store_rule(s, &r, f);
    if (err == ERR_OK)
        c->low_minor = amount;
    return err;
}

enum err work_pay(struct store *s, unsigned i, struct work_ledger *l, struct fault *f)
{
    struct work_claim *c = &l->claims[i];
    int64_t amount = 0;
    char currency[STORE_CURRENCY_ROOM];
    const bool is_certain = c->low_minor == c->high_minor;
    const bool is_known = is_certain && !c->may_be_paid;
    c->may_be_paid = true;
    const enum err err = store_settle(s, c->id, "C. Example", l->clock_ms, &amount, currency, f);
    if (err != ERR_OK)
        return err;
    l->n_wrong += is_known ? amount != c->low_minor - c->paid_minor
                           : amount < 0 || c->paid_minor + amount > c->high_minor;
    c->paid_minor = c->low_minor > c->paid_minor ? c->low_minor : c->paid_minor;
    c->may_be_paid = !is_certain;
    return ERR_OK;
}

void work_paper(unsigned i, char *buf, size_t room)
{
    snprintf(buf, room, "shop,kind\nshop-%u,mobile\n", i);
}

static enum err keep(struct store *s, struct work_ledger *l, struct fault *f)
{
    char text[64];
    bool is_new = false;
    work_paper(l->n_kept, text, sizeof text);
    struct store_paper paper = {.kind = "shops",
                                .name = "list",
                                .revision = STORE_UNKNOWN,
                                .at_ms = l->clock_ms,
                                .text = text,
                                .n = strlen(text)};
    l->may_be_kept = true;
    const enum err err = store_keep(s, &paper, &is_new, f);
    if (err == ERR_OK) {
        l->n_kept++;
        l->may_be_kept = false;
    }
    return err;
}

static enum err copy(const struct work_order *o, struct store *s, struct work_ledger *l,
                     struct fault *f)
{
    char dest[WORK_PATH];
    struct store_counts counts;
    if (l->n_copies == WORK_COPIES_MAX)
        return ERR_OK;
    const unsigned i = l->n_copies++;
    snprintf(dest, sizeof dest, "%s/copy-%u", o->root, i);
    l->copies[i].n_claims = l->n_taken;
    const enum err err = store_backup(s, dest, NULL, &counts, f);
    l->copies[i].is_whole = err == ERR_OK;
    return err;
}

static void note_strike(struct work_ledger *l)
{
    if (l->disk.is_struck && l->struck_in == NULL)
        l->struck_in = l->act;
}

static enum err open_store(const struct work_order *o, struct work_ledger *l, struct store **s,
                           struct fault *f)
{
    char path[WORK_PATH];
    bool is_made;
    enum err err = ERR_OK;
    snprintf(path, sizeof path, "%s/store", o->root);
    for (int i = 0; i < TRIES && !l->is_made && !l->disk.is_off; i++) {
        l->act = "making";
        err = store_init(path, &is_made, f);
        l->is_made = err == ERR_OK;
        note_strike(l);
    }
    for (int i = 0; i < TRIES && l->is_made && *s == NULL && !l->disk.is_off; i++) {
        if (l->n_first == 0 && l->n_old > 0 && l->n_taken == l->n_old)
            l->act = "bringing up an old store";
        else
            l->act = "opening";
        err = store_open(path, STORE_WRITE, s, f);
    }
    return err != ERR_OK || *s == NULL ? ERR_IO : ERR_OK;
}

static enum err one_act(const struct work_order *o, struct store **s, struct work_ledger *l,
                        unsigned long long *state, struct fault *f)
{
    int64_t n_files, n_bytes;
    const unsigned kind = dice(state, COPY_ONE_IN), any = dice(state, WORK_CLAIMS_MAX);
    const unsigned i = l->n_taken > 0 ? any % l->n_taken : 0;
    if (kind == 21 ||
        (l->n_failed > 0 && any % 4 == 0)) { /* as a person does who sees that it failed */
        l->act = "tidying";
        return store_tidy(*s, &n_files, &n_bytes, f);
    }
    if ((kind < 8 || l->n_taken == 0) && l->n_taken + 8 < WORK_CLAIMS_MAX) {
        l->act = "taking in";
        return work_take(*s, o->synth_seed, l, f);
    }
    if (kind < 13) {
        l->act = "ruling";
        return work_rule(*s, i, l, f);
    }
    if (kind < 19) {
        l->act = "paying";
        return work_pay(*s, i, l, f);
    }
    if (kind < 21) {
        l->act = "keeping a paper";
        return keep(*s, l, f);
    }
    if (kind < 23) {
        l->act = "copying";
        return copy(o, *s, l, f);
    }
    l->act = "closing";
    store_close(*s);
    *s = NULL;
    note_strike(l);
    return open_store(o, l, s, f);
}

__attribute__((noreturn)) static void end(const struct work_order *o, struct work_ledger *l,
                                          struct store *s)
{
    if (o->end == WORK_KILLED && !l->disk.is_off)
        raise(SIGKILL);
    if (o->end == WORK_CUT)
        l->disk.is_off = true;
    l->act = "closing";
    store_close(s);
    note_strike(l);
    if (l->disk.is_off)
        disk_cut();
    _exit(0);
}

void work_run(const struct work_order *o, struct work_ledger *l)
{
    unsigned long long state = o->seed;
    struct store *s = NULL;
    struct fault f = {0};
    l->n_acts = l->n_failed = 0;
    l->struck_in = NULL;
    l->n_first = 0;
    disk_start(o->root, &o->plan, &l->disk);
    const enum err err = open_store(o, l, &s, &f);
    l->n_first = l->disk.n;
    note_strike(l);
    for (int i = 0; i < o->n_acts && err == ERR_OK && s != NULL; i++) {
        f = (struct fault){0};
        tick(l);
        if (i == o->jump_at)
            jump(l, dice(&state, 8));
        l->n_failed += one_act(o, &s, l, &state, &f) != ERR_OK;
        l->n_acts++;
        note_strike(l);
        if (l->disk.is_off || l->n_failed > FAILURES_MAX)
            break;
    }
    end(o, l, s);
}

/* campaign_sum: owns the counts and the money: exact integers, added up over every claim. */
#include "desk/campaign_board.h"

#include "desk/rule.h"

#include <stdlib.h>
#include <string.h>

/* ---- units and stations -------------------------------------------------------------------- */

static int64_t bits(unsigned x)
{
    int64_t n = 0;
    for (; x != 0; x &= x - 1)
        n++;
    return n;
}

/* Where there is no build list, what technicians found. */
static void find_scope(struct board *b)
{
    for (size_t i = 0; i < b->vins.n && !b->has_builds; i++)
        b->units[i].in = 0;
    for (size_t i = 0; i < b->n_claims && !b->has_builds; i++)
        board_mark(&b->units[b->claims[i].unit].in, b->claims[i].sees_in);
}

static void count_claim(struct board *b, const struct board_claim *c)
{
    struct board_unit *u = &b->units[c->unit];
    if (c->finished_ms != STORE_UNKNOWN && c->verdict != RULE_VERDICT_REFUSE)
        board_mark(&u->done, c->worked);
    if (c->verdict == RULE_PAY) /* a person's word may pay without saying for what */
        board_mark(&u->proved, c->pays != 0 ? c->pays : c->worked);
}

static void count_unit(const struct board_unit *u, struct campaign_count *units,
                       struct campaign_count *stations)
{
    const bool is_in = u->in != 0, is_reached = u->day != INT32_MAX;
    units->in_scope += is_in;
    units->unknown += !is_in && u->unknown != 0;
    units->reached += is_in && is_reached;
    units->done += is_in && (u->in & ~u->done) == 0;
    units->proved += is_in && (u->in & ~u->proved) == 0;
    units->beyond += !is_in && is_reached;
    stations->in_scope += bits(u->in);
    stations->unknown += bits(u->unknown);
    stations->reached += bits(u->in & u->told);
    stations->done += bits(u->in & u->done);
    stations->proved += bits(u->in & u->proved);
    stations->beyond += bits((unsigned)u->done & ~(unsigned)u->in);
}

/* ---- money --------------------------------------------------------------------------------- */

/* A claim's money by kind. */
struct kinds {
    struct board_sums stands, paid, ruled;
    int64_t ruled_minor; /* of all */
};

static struct kinds kinds_of(const struct board *b, const struct board_claim *c)
{
    struct kinds kinds = {board_sums(b, c->stands_kind), board_sums(b, c->paid_kind),
                          board_sums(b, c->ruled_kind), 0};
    for (int k = 0; k < CAMPAIGN_KINDS; k++)
        kinds.ruled_minor += kinds.ruled.minor[k];
    return kinds;
}

static void add_money(const struct board_claim *c, const struct kinds *kinds,
                      struct campaign_money *m)
{
    const int64_t open = c->stands_minor - c->paid_minor;
    m->stands_minor += c->stands_minor;
    m->paid_minor += c->paid_minor;
    m->promised_minor += open > 0 ? open : 0;
    m->owed_back_minor += open < 0 ? -open : 0;
    m->asked_minor += c->verdict == RULE_VERDICT_ASK ? kinds->ruled_minor : 0;
    m->held_minor += c->verdict == RULE_VERDICT_HOLD ? kinds->ruled_minor : 0;
    m->refused_minor += c->verdict == RULE_VERDICT_REFUSE ? kinds->ruled_minor : 0;
}

/* What awards tell by kind; the rest of the sum, if any, is the last kind's, so that the kinds add up to the whole. */
static void add_kinds(const struct board_claim *c, const struct kinds *kinds,
                      struct campaign_money by_kind[CAMPAIGN_KINDS])
{
    int64_t stands_rest = c->stands_minor, paid_rest = c->paid_minor;
    for (int k = 0; k < CAMPAIGN_KINDS; k++) {
        stands_rest -= kinds->stands.minor[k];
        paid_rest -= kinds->paid.minor[k];
    }
    for (int k = 0; k < CAMPAIGN_KINDS; k++) {
        const bool is_last = k == CAMPAIGN_KINDS - 1;
        const int64_t stands = kinds->stands.minor[k] + (is_last ? stands_rest : 0),
                      paid = kinds->paid.minor[k] + (is_last ? paid_rest : 0), open = stands - paid,
                      ruled = kinds->ruled.minor[k];
        struct campaign_money *m = &by_kind[k];
        m->stands_minor += stands;
        m->paid_minor += paid;
        m->promised_minor += open > 0 ? open : 0;
        m->owed_back_minor += open < 0 ? -open : 0;
        m->asked_minor += c->verdict == RULE_VERDICT_ASK ? ruled : 0;
        m->held_minor += c->verdict == RULE_VERDICT_HOLD ? ruled : 0;
        m->refused_minor += c->verdict == RULE_VERDICT_REFUSE ? ruled : 0;
    }
}

/* ---- shops --------------------------------------------------------------------------------- */

static int by_id(const void *a, const void *b)
{
    return strcmp(((const struct campaign_shop *)a)->id, ((const struct campaign_shop *)b)->id);
}

static struct campaign_shop *make_shops(const struct board *b, struct board_answer *made)
{
    struct campaign_shop *shops = arena_get(&made->arena, (b->shops.n + 1) * sizeof *shops);
    for (size_t i = 0; shops != NULL && i < b->shops.n; i++) {
        const char *id = words_text(&b->shops, (uint32_t)i);
        shops[i].id = arena_text(&made->arena, id, strlen(id));
    }
    return made->arena.is_broken ? NULL : shops;
}

void campaign_sum(struct board *b, struct board_answer *made)
{
    struct campaign *c = &made->c;
    struct campaign_shop *shops = make_shops(b, made);
    if (shops == NULL)
        return;
    find_scope(b);
    for (size_t i = 0; i < b->vins.n; i++)
        b->units[i].done = b->units[i].proved = 0;
    for (size_t i = 0; i < b->n_claims; i++) {
        const struct board_claim *claim = &b->claims[i];
        struct campaign_shop *shop = &shops[claim->shop];
        count_claim(b, claim);
        c->n_claims[claim->verdict]++;
        shop->n_claims[claim->verdict]++;
        c->n_other_currency += (claim->flags & BOARD_IS_FOREIGN) != 0;
        if ((claim->flags & BOARD_IS_FOREIGN) != 0)
            continue;
        const struct kinds kinds = kinds_of(b, claim);
        add_money(claim, &kinds, &c->money);
        add_money(claim, &kinds, &shop->money);
        add_kinds(claim, &kinds, c->by_kind);
    }
    for (size_t i = 0; i < b->vins.n; i++)
        count_unit(&b->units[i], &c->units, &c->stations);
    qsort(shops, b->shops.n, sizeof *shops, by_id);
    c->shops = shops;
    c->n_shops = b->shops.n;
}

/* ---- news ---------------------------------------------------------------------------------- */

static void count_event(const struct board_event *e, struct campaign_news *n)
{
    n->n_taken += e->kind == BOARD_CAME;
    n->n_ruled[e->verdict] += e->kind == STORE_RULED;
    n->n_words += e->kind == STORE_OVERRULED;
    n->n_changed += e->is_change;
    n->n_paid += e->kind == STORE_PAID;
    n->paid_minor += e->paid_minor;
}

static void count_run(const struct campaign_news *run, struct campaign_news *n)
{
    n->n_taken += run->n_taken;
    for (int i = 0; i < CAMPAIGN_VERDICTS; i++)
        n->n_ruled[i] += run->n_ruled[i];
    n->n_words += run->n_words;
    n->n_changed += run->n_changed;
    n->n_paid += run->n_paid;
    n->paid_minor += run->paid_minor;
}

bool board_sum_runs(struct board *b)
{
    const size_t n = b->n_events / BOARD_RUN;
    if (!board_grow(&b->runs, &b->runs_room, n, sizeof *b->runs))
        return false;
    for (; b->n_runs < n; b->n_runs++) {
        struct board_run run = {.first_ms = INT64_MAX, .last_ms = INT64_MIN};
        for (size_t i = b->n_runs * BOARD_RUN; i < (b->n_runs + 1) * BOARD_RUN; i++) {
            const struct board_event *e = &b->events[i];
            run.first_ms = e->at_ms < run.first_ms ? e->at_ms : run.first_ms;
            run.last_ms = e->at_ms > run.last_ms ? e->at_ms : run.last_ms;
            count_event(e, &run.news);
        }
        b->runs[b->n_runs] = run;
    }
    return true;
}

static void count_events(const struct board *b, size_t first, size_t end, int64_t since_ms,
                         struct campaign_news *n)
{
    for (size_t i = first; i < end; i++)
        if (b->events[i].at_ms > since_ms)
            count_event(&b->events[i], n);
}

void campaign_sum_news(const struct board *b, int64_t since_ms, struct campaign_news *ret)
{
    struct campaign_news n = {.is_asked = true, .since_ms = since_ms};
    for (size_t i = 0; i < b->n_runs; i++) {
        const struct board_run *run = &b->runs[i];
        if (run->first_ms > since_ms)
            count_run(&run->news, &n);
        else if (run->last_ms > since_ms)
            count_events(b, i * BOARD_RUN, (i + 1) * BOARD_RUN, since_ms, &n);
    }
    count_events(b, b->n_runs * BOARD_RUN, b->n_events, since_ms, &n);
    for (size_t i = 0; i < b->n_papers; i++)
        n.n_papers += b->papers_ms[i] > since_ms;
    *ret = n;
}

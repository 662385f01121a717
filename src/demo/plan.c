/* plan: owns who repairs which unit on which day, when the claim arrives, and which claims get a planted fault from where. */
#include "demo/world.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    FIRST_DAY = 20514, /* 2026-03-02, a Monday */
    LAST_DAY = 20721,  /* 2026-09-25 */
    TRIES = 4000,
    START_MIN = 7 * 60 + 15,
    LATE_DAYS = 16 /* beyond those allowed after the repair, at least */
};
#define DAY_MS         ((int64_t)86400000)
#define SHARE_CLAIMED  0.70
#define SHARE_EARLIEST 0.15 /* claims that arrive first stay clean, for others to copy from */

static bool is_weekend(int32_t day)
{
    return (day + 3) % 7 >= 5;
}

static bool is_busy(const struct world_person *p, int32_t day)
{
    return (p->busy[(day - FIRST_DAY) / 8] >> ((day - FIRST_DAY) % 8) & 1) != 0;
}

static void set_busy(struct world_person *p, int32_t day)
{
    p->busy[(day - FIRST_DAY) / 8] |= (uint8_t)(1 << ((day - FIRST_DAY) % 8));
}

/* A technician who is free on a working day; one unit fills a day. */
static bool find_day(struct world *world, struct world_claim *c, struct random *r)
{
    for (int i = 0; i < TRIES; i++) {
        c->shop = random_below(r, world->n_shops);
        const struct world_shop *shop = &world->shops[c->shop];
        c->person = shop->first_person + random_below(r, shop->n_persons);
        c->day = (int32_t)random_within(r, FIRST_DAY, LAST_DAY);
        if (is_weekend(c->day) || is_busy(&world->persons[c->person], c->day))
            continue;
        set_busy(&world->persons[c->person], c->day);
        c->start_min = START_MIN + (int)random_below(r, 60);
        return true;
    }
    return false;
}

/* From the evening of the repair on: mostly within days. */
static int64_t arrival_ms(const struct world *world, const struct world_claim *c, struct random *r)
{
    const double share = random_share(r);
    int64_t after = (int64_t)(share * share * 12.0 * (double)DAY_MS);
    if (c->kind == KIND_LATE)
        after += (world->bulletin->claim.days_after_repair + LATE_DAYS) * DAY_MS;
    return (c->day + 1) * DAY_MS + after;
}

static int by_arrival(const void *a, const void *b)
{
    const struct world_claim *x = a, *y = b;
    if (x->arrived_ms != y->arrived_ms)
        return x->arrived_ms < y->arrived_ms ? -1 : 1;
    return x->number < y->number ? -1 : x->number > y->number;
}

static size_t n_done(const struct world_claim *c)
{
    return (size_t)c->is_done[0] + (size_t)c->is_done[1];
}

static void do_what_is_in(const struct world *world, struct world_claim *c)
{
    for (int s = 0; s < WORLD_STATIONS; s++)
        c->is_done[s] = world->units[c->unit].station[s].is_in;
}

static void pick_station(struct world_claim *c, struct random *r)
{
    c->station = (int)random_below(r, WORLD_STATIONS);
    if (!c->is_done[c->station])
        c->station = 1 - c->station;
}

/* ---- claims ------------------------------------------------------------------------------------ */

static bool is_any_in(const struct world_unit *u)
{
    return u->station[0].is_in || u->station[1].is_in;
}

static enum err make_claims(struct world *world, struct fault *reterr)
{
    world->claims = calloc(world->n_units, sizeof *world->claims);
    if (world->claims == NULL)
        return fault_no_memory(reterr);
    for (size_t i = 0; i < world->n_units; i++) {
        struct random r;
        random_start(&r, world->seed, RANDOM_CLAIM, i);
        if (!is_any_in(&world->units[i]) || !random_chance(&r, SHARE_CLAIMED))
            continue;
        struct world_claim *c = &world->claims[world->n_claims++];
        *c = (struct world_claim){.number = i, .unit = i, .source = WORLD_NONE};
        if (!find_day(world, c, &r))
            return fault_set(reterr, ERR_LIMIT, "the technicians have no day left");
        do_what_is_in(world, c);
        pick_station(c, &r);
        c->arrived_ms = arrival_ms(world, c, &r);
    }
    qsort(world->claims, world->n_claims, sizeof *world->claims, by_arrival);
    return ERR_OK;
}

/* ---- which are faulty -------------------------------------------------------------------------- */

/* The kinds that are planted, one after the other in a fixed mixed order, begun at a place that hangs on the seed: each comes up about
 * as often, and few seeds in a row have them all. The stride has no divisor in common with their number, a prime. */
static enum kind kind_at(uint64_t seed, size_t given)
{
    enum { FIRST = KIND_CLEAN + 1, N = KIND_NOT_TRUED - FIRST, STRIDE = 17, BEGIN = 14 };
    const size_t place = seed % N * BEGIN + given;
    return (enum kind)(FIRST + (int)(place * STRIDE % N));
}

/* A random sample of the later claims (selection sampling; Knuth, TAOCP 2, 3.4.2, algorithm S). */
static void choose_kinds(struct world *world, double faulty, struct random *r)
{
    size_t given = 0;
    const size_t first = (size_t)((double)world->n_claims * SHARE_EARLIEST);
    size_t left = (size_t)((double)world->n_claims * faulty + 0.5);
    for (size_t i = first; i < world->n_claims && left > 0; i++)
        if (random_below(r, world->n_claims - i) < left) {
            world->claims[i].kind = kind_at(world->seed, given++);
            left--;
        }
}

/* ---- where faults take their matter from ------------------------------------------------------- */

static bool is_usable(const struct world *world, const struct world_claim *c,
                      const struct world_claim *source)
{
    const struct world_unit *u = &world->units[source->unit];
    if (source->kind != KIND_CLEAN || source->arrived_ms >= c->arrived_ms)
        return false;
    switch (c->kind) {
    case KIND_READINGS_COPIED:
        return source->is_done[0] == c->is_done[0] && source->is_done[1] == c->is_done[1];
    case KIND_TWO_AT_ONCE: /* the claim must still come in time, and after its own job */
        return c->arrived_ms - source->day * DAY_MS <
                   (world->bulletin->claim.days_after_repair - 5) * DAY_MS &&
               c->arrived_ms > (source->day + 1) * DAY_MS;
    case KIND_CLAIMED_TWICE:
        return source->shop != c->shop && !source->is_source && is_any_in(u);
    default:
        return true;
    }
}

static bool find_source(const struct world *world, size_t at, struct random *r, size_t *ret)
{
    for (int i = 0; i < 400 && at > 0; i++) {
        *ret = random_below(r, at);
        if (is_usable(world, &world->claims[at], &world->claims[*ret]))
            return true;
    }
    return false;
}

static void take_from(struct world *world, struct world_claim *c, size_t source, struct random *r)
{
    struct world_claim *from = &world->claims[source];
    c->source = source;
    from->is_source = true;
    if (c->kind == KIND_TWO_AT_ONCE) {
        c->shop = from->shop;
        c->person = from->person;
        c->day = from->day;
        c->start_min = from->start_min + (int)random_within(r, 45, 110);
    } else if (c->kind == KIND_CLAIMED_TWICE) {
        c->unit = from->unit;
        do_what_is_in(world, c);
        pick_station(c, r);
    }
}

/* Where a claim finds no source, the fault goes to the last clean claim that does. */
static void give_source(struct world *world, size_t at, struct random *r)
{
    size_t source = 0;
    const enum kind kind = world->claims[at].kind;
    if (find_source(world, at, r, &source)) {
        take_from(world, &world->claims[at], source, r);
        return;
    }
    world->claims[at].kind = KIND_CLEAN;
    for (size_t i = world->n_claims; i-- > 0;) {
        struct world_claim *c = &world->claims[i];
        if (c->kind != KIND_CLEAN || c->is_source)
            continue;
        c->kind = kind;
        if (find_source(world, i, r, &source)) {
            take_from(world, c, source, r);
            return;
        }
        c->kind = KIND_CLEAN;
    }
}

static void give_sources(struct world *world)
{
    for (size_t i = 0; i < world->n_claims; i++) {
        struct random r;
        if (kind_rows[world->claims[i].kind].source == KIND_ALONE)
            continue;
        random_start(&r, world->seed, RANDOM_SOURCES, world->claims[i].number);
        give_source(world, i, &r);
    }
}

/* ---- faults that change what is planned -------------------------------------------------------- */

/* Units that are wholly out and whose columns are done all the same: the next one that nobody has taken. */
static void take_out_of_scope(struct world *world, struct world_claim *c, size_t *next)
{
    while (*next < world->n_units && is_any_in(&world->units[*next]))
        (*next)++;
    if (*next == world->n_units) {
        c->kind = KIND_CLEAN;
        return;
    }
    c->unit = (*next)++;
    c->is_done[c->station] = true;
    c->is_done[1 - c->station] = false;
}

static void change_plans(struct world *world)
{
    size_t next_out = 0;
    for (size_t i = 0; i < world->n_claims; i++) {
        struct world_claim *c = &world->claims[i];
        struct random r;
        random_start(&r, world->seed, RANDOM_FAULTS, c->number);
        if (c->kind == KIND_OUT_OF_SCOPE)
            take_out_of_scope(world, c, &next_out);
        /* Expenses beyond the cap are told of a whole unit; a station's fault needs that station. */
        if (n_done(c) > 0 && !c->is_done[c->station])
            pick_station(c, &r);
        if (c->kind == KIND_LATE)
            c->arrived_ms = arrival_ms(world, c, &r);
    }
}

enum err world_plan(struct world *world, double faulty, struct fault *reterr)
{
    struct random r;
    random_start(&r, world->seed, RANDOM_FAULTS, UINT64_MAX);
    const enum err e = make_claims(world, reterr);
    if (e != ERR_OK)
        return e;
    choose_kinds(world, faulty, &r);
    change_plans(world);
    /* Late claims come in later now; sources are places in the final order. */
    qsort(world->claims, world->n_claims, sizeof *world->claims, by_arrival);
    give_sources(world);
    return ERR_OK;
}

/* near: owns the four tables over the parts of the hashes and the walk through them. An answer that
 * several tables meet is told by the first of them only, which each can see from the hash itself; so
 * nothing has to be remembered from table to table. */
#include "core/near.h"

#include "core/photohash.h"

#include <string.h>

enum { PART_BITS = 16, STARTS = NEAR_VALUES + 1 };

static uint32_t part_of(uint64_t hash, int table)
{
    return (uint32_t)(hash >> (PART_BITS * table)) & (NEAR_VALUES - 1);
}

/* ---- building ------------------------------------------------------------------------------ */

size_t near_room(uint32_t n)
{
    return NEAR_TABLES *
           ((size_t)n * (sizeof(uint64_t) + sizeof(uint32_t)) + STARTS * sizeof(uint32_t));
}

/* Sorts by one part: counts, then places. starts ends up one place on, so it is filled one early. */
static void build_table(const uint64_t *hashes, uint32_t n, int table, uint32_t *starts,
                        uint64_t *sorted, uint32_t *ids)
{
    memset(starts, 0, STARTS * sizeof *starts);
    for (uint32_t i = 0; i < n; i++)
        starts[part_of(hashes[i], table) + 1]++;
    for (uint32_t v = 0; v < NEAR_VALUES; v++)
        starts[v + 1] += starts[v];
    for (uint32_t i = n; i-- > 0;) {
        /* starts[v + 1] is the end of v's hashes; filled from the back it becomes their beginning. */
        const uint32_t at = --starts[part_of(hashes[i], table) + 1];
        sorted[at] = hashes[i];
        ids[at] = i;
    }
    memmove(starts, starts + 1, NEAR_VALUES * sizeof *starts);
    starts[NEAR_VALUES] = n;
}

enum err near_build(const uint64_t *hashes, uint32_t n, void *room, size_t size, struct near *ret)
{
    if (size < near_room(n))
        return ERR_SPACE;
    uint64_t *sorted = room;
    uint32_t *ids = (uint32_t *)(sorted + NEAR_TABLES * (size_t)n);
    uint32_t *starts = ids + NEAR_TABLES * (size_t)n;
    ret->hashes = hashes;
    ret->n = n;
    for (int t = 0; t < NEAR_TABLES; t++) {
        build_table(hashes, n, t, starts, sorted, ids);
        ret->starts[t] = starts;
        ret->sorted[t] = sorted;
        ret->ids[t] = ids;
        starts += STARTS;
        sorted += n;
        ids += n;
    }
    return ERR_OK;
}

/* ---- searching ----------------------------------------------------------------------------- */

struct search {
    const struct near *near;
    uint64_t query;
    uint32_t from; /* ids below it are passed over */
    int radius;
    int radii[NEAR_TABLES]; /* a table's own; -1: not looked at */
    near_take *take;
    void *context;
};

/* How many 16-bit values lie within a radius. */
static uint32_t n_values(int radius)
{
    uint32_t n = 0, choose = 1;
    for (int k = 0; k <= radius && k <= PART_BITS; k++) {
        n += choose;
        choose = choose * (uint32_t)(PART_BITS - k) / (uint32_t)(k + 1);
    }
    return n;
}

/* Whether one of the tables before this one meets the hash too. */
static bool is_met_before(const struct search *s, uint64_t hash, int table)
{
    for (int t = 0; t < table; t++)
        if (photohash_distance(part_of(hash, t), part_of(s->query, t)) <= s->radii[t])
            return true;
    return false;
}

/* The hashes of one value of one table. */
static bool search_value(const struct search *s, int table, uint32_t value)
{
    const struct near *near = s->near;
    const uint32_t end = near->starts[table][value + 1];
    for (uint32_t i = near->starts[table][value]; i < end; i++) {
        const uint64_t hash = near->sorted[table][i];
        const int distance = photohash_distance(hash, s->query);
        if (distance > s->radius || near->ids[table][i] < s->from || is_met_before(s, hash, table))
            continue;
        if (!s->take(s->context, near->ids[table][i], distance))
            return false;
    }
    return true;
}

/* All values of a table that differ from the query's part in exactly n_bits. */
static bool search_bits(const struct search *s, int table, int n_bits)
{
    const uint32_t part = part_of(s->query, table);
    if (n_bits == 0)
        return search_value(s, table, part);
    for (uint32_t mask = (1u << n_bits) - 1; mask < NEAR_VALUES;) {
        if (!search_value(s, table, part ^ mask))
            return false;
        /* The next larger number with as many bits set (Gosper's hack, HAKMEM item 175, 1972). */
        const uint32_t lowest = mask & (~mask + 1), up = mask + lowest;
        mask = (((up ^ mask) >> 2) / lowest) | up;
    }
    return true;
}

static void search_all(const struct search *s)
{
    for (uint32_t i = s->from; i < s->near->n; i++) {
        const int distance = photohash_distance(s->near->hashes[i], s->query);
        if (distance <= s->radius && !s->take(s->context, i, distance))
            return;
    }
}

static void search(struct search *s)
{
    uint64_t n_looked = 0;
    for (int t = 0; t < NEAR_TABLES; t++) {
        s->radii[t] = s->radius / NEAR_TABLES - (t > s->radius % NEAR_TABLES);
        n_looked += n_values(s->radii[t]);
    }
    if (n_looked >= s->near->n) {
        search_all(s);
        return;
    }
    for (int t = 0; t < NEAR_TABLES; t++)
        for (int n_bits = 0; n_bits <= s->radii[t]; n_bits++)
            if (!search_bits(s, t, n_bits))
                return;
}

enum err near_query(const struct near *near, uint64_t query, int radius, near_take *take,
                    void *context)
{
    if (radius < 0 || radius > NEAR_RADIUS_MAX)
        return ERR_DOMAIN;
    struct search s = {
        .near = near, .query = query, .radius = radius, .take = take, .context = context};
    search(&s);
    return ERR_OK;
}

struct pairing {
    near_take_pair *take;
    void *context;
    uint32_t a;
    bool is_over;
};

static bool take_second(void *context, uint32_t id, int distance)
{
    struct pairing *p = context;
    p->is_over = !p->take(p->context, p->a, id, distance);
    return !p->is_over;
}

enum err near_pairs(const struct near *near, int radius, near_take_pair *take, void *context)
{
    if (radius < 0 || radius > NEAR_RADIUS_MAX)
        return ERR_DOMAIN;
    struct pairing p = {.take = take, .context = context};
    struct search s = {.near = near, .radius = radius, .take = take_second, .context = &p};
    for (uint32_t a = 0; a + 1 < near->n && !p.is_over; a++) {
        p.a = a;
        s.query = near->hashes[a];
        s.from = a + 1;
        search(&s);
    }
    return ERR_OK;
}

/* Properties of core/near: its answers are those of a linear scan with the compiler's own popcount,
 * on random and on clustered hashes, for every radius from 0 to 12 and some beyond. */
#include "core/near.h"
#include "table.h"
#include "tap.h"

#include <stdint.h>

typedef unsigned long long random_state;

enum { HITS_MAX = 70000 };

struct hits {
    uint32_t ids[HITS_MAX];
    int distances[HITS_MAX];
    size_t n, most;
};

static bool take(void *context, uint32_t id, int distance)
{
    struct hits *h = context;
    if (h->n < HITS_MAX) {
        h->ids[h->n] = id;
        h->distances[h->n] = distance;
    }
    h->n++;
    return h->n < h->most;
}

/* Random hashes, or hashes around a few centres with a few bits changed: what photos of one scene
 * look like. kind 2: parts that repeat, so that some values hold very many. */
static void fill(uint64_t *hashes, uint32_t n, int kind, random_state *state)
{
    uint64_t centre = 0;
    for (uint32_t i = 0; i < n; i++) {
        if (kind == 0) {
            hashes[i] = table_random(state);
            continue;
        }
        if (i % 200 == 0)
            centre = table_random(state);
        hashes[i] = centre;
        for (unsigned long long k = table_random(state) % 9; k > 0; k--)
            hashes[i] ^= 1ull << table_random(state) % 64;
        if (kind == 2)
            hashes[i] = (hashes[i] & 0xFFFF000000000000u) | (hashes[i] & 0x3u);
    }
}

/* Every hash that the scan finds must come once, with its distance, and nothing else. */
static bool is_same(const struct hits *h, const uint64_t *hashes, uint32_t n, uint64_t query,
                    int radius, uint8_t *seen)
{
    size_t want = 0;
    memset(seen, 0, n);
    for (uint32_t i = 0; i < n; i++)
        want += __builtin_popcountll(hashes[i] ^ query) <= radius;
    if (h->n != want || want > HITS_MAX)
        return false;
    for (size_t i = 0; i < h->n; i++) {
        const int distance = __builtin_popcountll(hashes[h->ids[i]] ^ query);
        if (h->ids[i] >= n || seen[h->ids[i]]++ || distance != h->distances[i] || distance > radius)
            return false;
    }
    return true;
}

static void *room_for(uint32_t n)
{
    void *room = malloc(near_room(n));
    if (room == NULL) {
        puts("Bail out! no memory");
        exit(2);
    }
    return room;
}

static void query_rows(uint32_t n, int kind, int n_queries)
{
    static const char *const kinds[] = {"random", "clustered", "crowded"};
    static struct hits h;
    random_state state = 1000 + (unsigned)kind + n;
    uint64_t *hashes = malloc((n + 1) * sizeof *hashes);
    uint8_t *seen = malloc(n + 1);
    void *room = room_for(n);
    struct near near;
    fill(hashes, n, kind, &state);
    if (!tap_ok(near_build(hashes, n, room, near_room(n), &near) == ERR_OK, "%u %s: built", n,
                kinds[kind])) {
        free(hashes);
        free(seen);
        free(room);
        return;
    }
    for (int radius = 0; radius <= 16; radius++) {
        size_t n_hits = 0;
        bool holds = true;
        for (int q = 0; q < n_queries && holds; q++) {
            uint64_t query =
                q % 2 || n == 0 ? table_random(&state) : hashes[table_random(&state) % n];
            for (unsigned long long k = q % 4 == 2 ? table_random(&state) % 12 : 0; k > 0; k--)
                query ^= 1ull << table_random(&state) % 64;
            h.n = 0;
            h.most = SIZE_MAX;
            holds = near_query(&near, query, radius, take, &h) == ERR_OK &&
                    is_same(&h, hashes, n, query, radius, seen);
            n_hits += h.n;
        }
        tap_ok(holds, "%u %s, radius %d: as a popcount scan, %d queries, %zu answers (seed %u)", n,
               kinds[kind], radius, n_queries, n_hits, 1000 + (unsigned)kind + n);
    }
    free(hashes);
    free(seen);
    free(room);
}

struct pairs {
    size_t n;
    uint64_t key; /* order does not matter to a sum of mixed pairs */
    uint32_t last_a;
    bool is_ordered;
};

static uint64_t mix(uint32_t a, uint32_t b, int distance)
{
    random_state state = ((uint64_t)a << 32 | b) * 67 + (unsigned)distance;
    return table_random(&state);
}

static bool take_pair(void *context, uint32_t a, uint32_t b, int distance)
{
    struct pairs *p = context;
    p->is_ordered &= a < b && a >= p->last_a;
    p->last_a = a;
    p->n++;
    p->key += mix(a, b, distance);
    return true;
}

static void pair_rows(int kind)
{
    enum { N = 3000 };
    static uint64_t hashes[N];
    random_state state = 77;
    void *room = room_for(N);
    struct near near;
    fill(hashes, N, kind, &state);
    const bool is_built = near_build(hashes, N, room, near_room(N), &near) == ERR_OK;
    for (int radius = 0; radius <= 12 && is_built; radius += 3) {
        struct pairs got = {.is_ordered = true}, want = {0};
        for (uint32_t a = 0; a < N; a++)
            for (uint32_t b = a + 1; b < N; b++) {
                const int distance = __builtin_popcountll(hashes[a] ^ hashes[b]);
                if (distance > radius)
                    continue;
                want.n++;
                want.key += mix(a, b, distance);
            }
        const bool is_ok = near_pairs(&near, radius, take_pair, &got) == ERR_OK;
        tap_ok(is_ok && got.is_ordered && got.n == want.n && got.key == want.key,
               "all pairs, kind %d, radius %d: as every pair compared, %zu pairs", kind, radius,
               want.n);
    }
    free(room);
}

static void edges(void)
{
    static struct hits h;
    uint64_t same[4] = {5, 5, 5, 5};
    void *room = room_for(4);
    struct near near;
    tap_ok(near_room(10) == 48 * 10 + 1048576 + 16, "near_room(10) is as the header says");
    tap_ok(near_build(same, 4, room, near_room(4) - 1, &near) == ERR_SPACE,
           "a byte too little: ERR_SPACE");
    tap_ok(near_build(same, 4, room, near_room(4), &near) == ERR_OK, "four equal hashes: built");
    h.n = 0;
    h.most = 2;
    tap_ok(near_query(&near, 5, 0, take, &h) == ERR_OK && h.n == 2,
           "take says stop after two: no third answer");
    tap_ok(near_query(&near, 5, -1, take, &h) == ERR_DOMAIN, "radius -1: ERR_DOMAIN");
    tap_ok(near_query(&near, 5, 65, take, &h) == ERR_DOMAIN, "radius 65: ERR_DOMAIN");
    h.n = 0;
    h.most = SIZE_MAX;
    tap_ok(near_query(&near, ~5ull, 64, take, &h) == ERR_OK && h.n == 4,
           "radius 64: all of them (definition)");
    free(room);
}

int main(void)
{
    edges();
    query_rows(0, 0, 4);
    query_rows(1, 0, 8);
    query_rows(50, 1, 40);
    for (int kind = 0; kind < 3; kind++)
        query_rows(40000, kind, 60);
    for (int kind = 0; kind < 3; kind++)
        pair_rows(kind);
    return tap_done();
}

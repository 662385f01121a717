/* Measures near_query against a linear scan with the processor's own popcount, on the same hashes
 * and queries, and compares every answer. Prints a table for people, or JSON for test/bench/run.
 * usage: bench_near [N [QUERIES [RADIUS]]]    10 000 000, 200, 6 when left out */
#include "core/near.h"
#include "table.h"

#include <time.h>

/* The processor's time of this thread: all of it is computing, and what else the machine does is not measured. */
static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* The answers as a number and a sum of mixed ids: the same for the same set in any order. */
struct answers {
    uint64_t n, key;
};

static uint64_t mix(uint64_t id)
{
    unsigned long long state = id;
    return table_random(&state);
}

static bool take(void *context, uint32_t id, int distance)
{
    struct answers *a = context;
    a->n++;
    a->key += mix((uint64_t)id * 65 + (unsigned)distance);
    return true;
}

/* The best plain scan: one instruction counts the bits where the processor has it. */
#if defined(__x86_64__)
__attribute__((target("popcnt")))
#endif
static void
scan(const uint64_t *hashes, uint32_t n, uint64_t query, int radius, struct answers *a)
{
    for (uint32_t i = 0; i < n; i++) {
        const int distance = __builtin_popcountll(hashes[i] ^ query);
        if (distance <= radius)
            take(a, i, distance);
    }
}

/* Nine in ten stand alone; the tenth is a variation of one before it, as copied photos are. */
static void fill(uint64_t *hashes, uint32_t n, unsigned long long *state)
{
    for (uint32_t i = 0; i < n; i++) {
        hashes[i] = table_random(state);
        if (i % 10 != 9)
            continue;
        hashes[i] = hashes[table_random(state) % i];
        for (unsigned long long k = table_random(state) % 8; k > 0; k--)
            hashes[i] ^= 1ull << table_random(state) % 64;
    }
}

struct bench {
    uint32_t n;
    int n_queries, radius;
    uint64_t *hashes, *queries;
    struct near near;
    double build_s, scan_s, near_s;
    struct answers scanned, found;
    bool is_same;
};

static void measure(struct bench *b)
{
    b->is_same = true;
    for (int q = 0; q < b->n_queries; q++) {
        struct answers scanned = {0}, found = {0};
        const double start_s = now_s();
        scan(b->hashes, b->n, b->queries[q], b->radius, &scanned);
        const double between_s = now_s();
        if (near_query(&b->near, b->queries[q], b->radius, take, &found) != ERR_OK)
            b->is_same = false;
        b->near_s += now_s() - between_s;
        b->scan_s += between_s - start_s;
        b->is_same &= scanned.n == found.n && scanned.key == found.key;
        b->scanned.n += scanned.n;
        b->found.n += found.n;
    }
}

static void print(const struct bench *b)
{
    const double each = 1e6 / b->n_queries;
    printf("{\"hashes\":%u,\"queries\":%d,\"radius\":%d,\"answers\":%llu,\"same\":%s,"
           "\"build_s\":%.6f,\"scan_us\":%.1f,\"near_us\":%.2f,\"ratio\":%.1f}\n",
           b->n, b->n_queries, b->radius, (unsigned long long)b->found.n,
           b->is_same ? "true" : "false", b->build_s, b->scan_s * each, b->near_s * each,
           b->scan_s / b->near_s);
}

int main(int argc, char **argv)
{
    struct bench b = {.n = argc > 1 ? (uint32_t)strtoul(argv[1], NULL, 10) : 10000000,
                      .n_queries = argc > 2 ? (int)strtol(argv[2], NULL, 10) : 200,
                      .radius = argc > 3 ? (int)strtol(argv[3], NULL, 10) : 6};
    if (b.n < 10 || b.n > 100000000 || b.n_queries < 1 || b.n_queries > 100000 || b.radius < 0 ||
        b.radius > 64) {
        fputs("usage: bench_near [N [QUERIES [RADIUS]]]\n", stderr);
        return 2;
    }
    unsigned long long state = 26;
    const size_t room_size = near_room(b.n);
    void *room = malloc(room_size);
    b.hashes = malloc(b.n * sizeof *b.hashes);
    b.queries = malloc((size_t)b.n_queries * sizeof *b.queries);
    int code = 1;
    if (room == NULL || b.hashes == NULL || b.queries == NULL) {
        fputs("bench_near: no memory\n", stderr);
        goto done;
    }
    fill(b.hashes, b.n, &state);
    for (int q = 0; q < b.n_queries; q++) /* every second one is known, the others are new */
        b.queries[q] = q % 2 ? table_random(&state) : b.hashes[table_random(&state) % b.n];
    const double start_s = now_s();
    if (near_build(b.hashes, b.n, room, room_size, &b.near) != ERR_OK)
        goto done;
    b.build_s = now_s() - start_s;
    measure(&b);
    print(&b);
    code = b.is_same ? 0 : 1;
done:
    free(room);
    free(b.hashes);
    free(b.queries);
    return code;
}

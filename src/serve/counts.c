/* counts: owns the ends of the classes of time, and how a call is counted. */
#include "serve/counts.h"

/* Microseconds. */
static const uint64_t ends[12] = {1000,   2000,   5000,   10000,   20000,   50000,
                                  100000, 200000, 500000, 1000000, 5000000, UINT64_MAX};

void counts_call(struct counts *counts, int status, uint64_t n_in, uint64_t n_out, uint64_t micros)
{
    int i = 0;
    atomic_fetch_add(&counts->n_calls, 1);
    atomic_fetch_add(&counts->by_class[status / 100 % 6], 1);
    atomic_fetch_add(&counts->bytes_in, n_in);
    atomic_fetch_add(&counts->bytes_out, n_out);
    atomic_fetch_add(&counts->micro_sum, micros);
    while (micros > ends[i])
        i++;
    atomic_fetch_add(&counts->micro_buckets[i], 1);
}

void counts_tell(struct counts *counts, struct http_counts *ret)
{
    *ret = (struct http_counts){.calls = atomic_load(&counts->n_calls),
                                .bytes_in = atomic_load(&counts->bytes_in),
                                .bytes_out = atomic_load(&counts->bytes_out),
                                .open = (uint64_t)atomic_load(&counts->n_open),
                                .refused = atomic_load(&counts->refused),
                                .turned_away = atomic_load(&counts->turned_away),
                                .too_slow = atomic_load(&counts->too_slow),
                                .micro_sum = atomic_load(&counts->micro_sum)};
    for (int i = 0; i < 6; i++)
        ret->by_class[i] = atomic_load(&counts->by_class[i]);
    for (int i = 0; i < 12; i++)
        ret->micro_buckets[i] = atomic_load(&counts->micro_buckets[i]);
}

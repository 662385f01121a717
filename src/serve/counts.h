/* counts: what the server counts of its calls, for a monitor. Any thread may count; nothing waits. Inside src/serve/. */
#ifndef SERVE_COUNTS_H
#define SERVE_COUNTS_H

#include "serve/http.h"

#include <stdatomic.h>

/* All zero: nothing has been counted. */
struct counts {
    atomic_llong n_open; /* calls that have begun and are not over */
    atomic_ullong n_calls, by_class[6], bytes_in, bytes_out, refused, turned_away, too_slow;
    atomic_ullong micro_sum, micro_buckets[12];
};

/* counts_call: one that was answered, with its status, its bytes and how long it took. */
void counts_call(struct counts *counts, int status, uint64_t n_in, uint64_t n_out, uint64_t micros);

/* counts_tell: as they stand; each by itself, not all at one moment. */
void counts_tell(struct counts *counts, struct http_counts *ret);

#endif

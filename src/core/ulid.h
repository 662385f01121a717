/* ulid: names for events that sort by time: 48 bits of milliseconds, 80 bits that the caller drew at random.
 *
 * Text: 26 characters of Crockford's base32 (0-9, A-Z without I L O U), most significant first; the first is at most '7', as
 * 26 x 5 bits are two more than 128. Within a millisecond the random part is counted up by one, so that names made by one
 * device keep their order. Source: the ULID specification, github.com/ulid/spec. The core draws nothing: random bytes come in
 * from outside. */
#ifndef CORE_ULID_H
#define CORE_ULID_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { ULID_SIZE = 16, ULID_RANDOM_SIZE = 10, ULID_TEXT_SIZE = 26 };

#define ULID_TIME_MAX_MS ((int64_t)281474976710655) /* 2^48 - 1: the year 10889 */

struct ulid {
    uint8_t byte[ULID_SIZE]; /* most significant first: 6 of time, 10 of chance */
};

/* ulid_make: time_ms is milliseconds since 1970-01-01 UTC. Errors: ERR_DOMAIN (time below 0 or above ULID_TIME_MAX_MS). */
MUST_USE enum err ulid_make(int64_t time_ms, const uint8_t random[ULID_RANDOM_SIZE],
                            struct ulid *ret);

/* ulid_next: the name after `last` on the same device: made from time and random when time_ms is later than last's time, else
 * last with its random part counted up by one (so also when the clock was set back). Errors: ERR_DOMAIN (time), ERR_RANGE (the
 * random part is all ones; wait a millisecond). */
MUST_USE enum err ulid_next(const struct ulid *last, int64_t time_ms,
                            const uint8_t random[ULID_RANDOM_SIZE], struct ulid *ret);

/* ulid_parse: text[0..n), upper or lower case, nothing before or after. I, L, O and U are refused, not mended.
 * Errors: ERR_EMPTY, ERR_LIMIT (not 26 characters), ERR_SYNTAX (a character), ERR_RANGE (above 128 bits).
 * *reterr_at: byte of the fault. Worked: "00000000010000000000000000" has time 1 ms and random part 0. */
MUST_USE enum err ulid_parse(const char *text, size_t n, struct ulid *ret, size_t *reterr_at);

/* ulid_show: upper case, with a closing NUL. */
void ulid_show(const struct ulid *ulid, char buf[ULID_TEXT_SIZE + 1]);

int64_t ulid_time_ms(const struct ulid *ulid);

/* ulid_compare: <0, 0, >0; the order of the texts is the same. */
int ulid_compare(const struct ulid *a, const struct ulid *b);

#endif

/* quota: how much each shop may send in a day, so that one shop, or whoever has its phone, does not fill the disk or the desk. A day is one of
 * UTC. Kept in memory: a server that is started again counts anew, and each of several servers counts for itself. Inside src/serve/. */
#ifndef SERVE_QUOTA_H
#define SERVE_QUOTA_H

#include <stdbool.h>
#include <stdint.h>

struct quota;

/* quota_new: bytes_max, claims_max: of a shop in a day; 0: no limit. NULL: no memory. quota_free: NULL is fine. */
struct quota *quota_new(uint64_t bytes_max, uint64_t claims_max);
void quota_free(struct quota *quota);

/* quota_bytes: n more bytes from a shop; false: they are above its day's limit and not counted, nor is anything once its claims are used up.
 * *ret_wait_s: seconds to the next day. quota_claim: a new claim of it was taken in. By several threads at once; quota NULL: no limits. */
bool quota_bytes(struct quota *quota, const char *shop, uint64_t n, int64_t now_ms,
                 int64_t *ret_wait_s);
void quota_claim(struct quota *quota, const char *shop, int64_t now_ms);

#endif

/* moment: the desk's clock, and times as people write them in calls. */
#ifndef CLI_MOMENT_H
#define CLI_MOMENT_H

#include <stdbool.h>
#include <stdint.h>

/* moment_now: milliseconds since 1970-01-01 UTC by this machine's clock. */
int64_t moment_now(void);

/* moment_read: "2026-03-05", "2026-03-05T09:14Z", "2026-03-05T09:14:00Z", "2026-03-05T09:14:00.250Z" (ISO 8601, UTC), or whole
 * milliseconds since 1970-01-01 UTC. False for anything else, and before 1970 or after 2199. */
bool moment_read(const char *text, int64_t *ret_ms);

/* What moment_read takes, for messages. */
#define MOMENT_WANTED "a time in UTC such as 2026-03-05T09:14:00Z, or milliseconds since 1970"

#endif

/* warm: reads the store's campaigns into memory when the server starts, so that who asks first does not wait for it. Inside src/serve/. */
#ifndef SERVE_WARM_H
#define SERVE_WARM_H

#include <stdint.h>

struct campaign_boards;
struct doors;
struct warm;

/* warm_start: a thread that does it, with a door of its own; what goes wrong is told to the first who asks. NULL: no memory or no thread.
 * warm_stop: breaks off what is under way, also in other calls; NULL is fine. Both are borrowed until then. */
struct warm *warm_start(struct doors *doors, struct campaign_boards *boards, int64_t now_ms);
void warm_stop(struct warm *warm);

#endif

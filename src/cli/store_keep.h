/* store_keep: the calls `store builds` and `store keep`: what claims are ruled by goes into the store. */
#ifndef CLI_STORE_KEEP_H
#define CLI_STORE_KEEP_H

#include "cli/cli.h"
#include "cli/progress.h"
#include "store/store.h"

/* Each answers into ctx->out and returns the exit code. kind: as typed; name, revision: NULL when not given. */
int store_keep_builds(struct cli *ctx, struct store *store, const char *path,
                      struct progress *progress);
int store_keep_paper(struct cli *ctx, struct store *store, const char *kind, const char *path,
                     const char *name, const char *revision);
/* The list of shops that holds (desk/shops_list.h). */
int store_keep_shops(struct cli *ctx, struct store *store);

#endif

/* store_give: `store export`: what the store holds, as CSV or JSON into a file. */
#ifndef CLI_STORE_GIVE_H
#define CLI_STORE_GIVE_H

#include "cli/cli.h"

struct store;

/* store_give: what: among export_names (desk/export.h); path: a file that ends in .csv or .json, or "-": standard output, CSV. */
int store_give(struct cli *ctx, struct store *store, const char *what, const char *path);

#endif

/* fault_show: the faults of a YAML file as people read them, each with its line and a caret under the place. */
#ifndef CLI_FAULT_SHOW_H
#define CLI_FAULT_SHOW_H

#include "cli/cli.h"

/* fault_show: faults[n] of the file whose bytes are in source; n_more were found and not kept. */
void fault_show(struct cli *ctx, const struct text *source, const struct fault *faults, size_t n,
                size_t n_more);

#endif

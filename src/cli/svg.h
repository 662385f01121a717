/* svg: drawings beside the answers of the verbs true and cut (--svg FILE). */
#ifndef CLI_SVG_H
#define CLI_SVG_H

#include "base/problem.h"
#include "bulletin/bulletin.h"
#include "cli/cli.h"
#include "cli/cut_job.h"

/* svg_true: the problem and its answer into the file. b: the bulletin that it is of, or NULL. CLI_GOOD, or an exit code after an
 * error line; on success one line is said after the answer unless it is JSON. */
int svg_true(struct cli *ctx, const char *path, const struct problem *problem,
             const struct truing_answer *answer, enum unit unit, const struct bulletin *b);

/* svg_cut: the same for the chosen kit's racks. No kit, or lengths that disagree: nothing is written. */
int svg_cut(struct cli *ctx, const char *path, const struct cut_job *job);

#endif

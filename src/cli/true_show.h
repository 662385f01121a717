/* true_show: the answer to a truing problem in words, tables and strips, for people. */
#ifndef CLI_TRUE_SHOW_H
#define CLI_TRUE_SHOW_H

#include "base/problem.h"
#include "cli/cli.h"

/* true_show: verdict first, then the readings, what they have in common, the plans, what to do
 * next. Amounts in `unit`, which is of the problem's dimension. */
void true_show(struct cli *ctx, const struct problem *problem, const struct truing_answer *answer,
               enum unit unit);

/* true_effect_name: "mean", "side", "side x height" for effect `set`; into buf[room], cut to fit.
 */
void true_effect_name(const struct problem *problem, unsigned set, char *buf, size_t room);

#endif

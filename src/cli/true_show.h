/* true_show: the answer to a truing problem in words, tables and strips, for people. */
#ifndef CLI_TRUE_SHOW_H
#define CLI_TRUE_SHOW_H

#include "base/problem.h"
#include "cli/cli.h"

/* true_show_verdict: the first line. Amounts in `unit`, which is of the problem's dimension.
 * inside: what is said when nothing is outside, without a full stop: "All readings are inside". */
void true_show_verdict(struct cli *ctx, const struct problem *problem,
                       const struct truing_answer *answer, enum unit unit, const char *inside);

/* true_show_readings: the readings, and what they have in common. */
void true_show_readings(struct cli *ctx, const struct problem *problem,
                        const struct truing_answer *answer, enum unit unit);

/* true_show_plans: the plans and what to do next; nothing when all is inside. Cautions go before it. */
void true_show_plans(struct cli *ctx, const struct problem *problem,
                     const struct truing_answer *answer, enum unit unit);

/* true_verdict_cell: a cell that says "inside", "outside, 1.4 high", "uncertain". */
void true_verdict_cell(struct cli_table *table, enum verdict verdict, int64_t reading,
                       struct conform_limits limits, enum unit unit);

/* true_sureness: a probability as " (97 % sure)", whole percents rounded down; buf needs
 * CLI_AMOUNT_SIZE (amount.h). */
const char *true_sureness(double p, char *buf);

/* true_effect_name: "mean", "side", "side x height" for effect `set`; into buf[room], cut to fit.
 */
void true_effect_name(const struct problem *problem, unsigned set, char *buf, size_t room);

#endif

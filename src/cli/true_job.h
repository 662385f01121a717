/* true_job: a call of the verb true that works by a bulletin and readings; and what it shares with
 * the call that works by a problem file. */
#ifndef CLI_TRUE_JOB_H
#define CLI_TRUE_JOB_H

#include "base/jsonw.h"
#include "bulletin/adapt_truing.h"
#include "cli/cli.h"

/* One call: what was read, what became of it, and the answers. Some 100 kB: from the heap. */
struct true_job {
    const struct bulletin *b;
    struct adapt_reading readings[BULLETIN_POINTS_MAX];
    struct adapt_truing truing;
    struct truing_answer answers[DIM_N]; /* of truing.problems */
    enum unit shown[DIM_N];              /* for each dimension that --unit names; else UNIT_N */
    enum verdict verdict;                /* worst of all; uncertain when readings are missing */
};

/* true_solve: answers one problem, aiming as core/advise does (plan_risk 0: not). CLI_GOOD, or an exit code after an error line. */
int true_solve(const struct cli *ctx, const struct problem *problem, double plan_risk,
               struct truing_answer *ret);

/* true_plans: --plans over *ret, when given. */
int true_plans(const struct cli *ctx, const struct cli_arg *args, int n, size_t *ret);

int true_exit(enum verdict verdict);

/* true_by_bulletin: the whole call. */
int true_by_bulletin(struct cli *ctx, const struct cli_arg *args, int n);

/* ---- true_rest.c: what stands beside the problems: readings judged one by one, missing, unread */

size_t true_count(const struct true_job *job, enum adapt_part part);
size_t true_count_judged(const struct true_job *job, enum verdict verdict);

/* true_unit: the unit in which a point's amounts are shown. */
enum unit true_unit(const struct true_job *job, const struct bulletin_point *point);

/* true_rest_verdict: first lines about the readings judged one by one and the missing ones. */
void true_rest_verdict(struct cli *ctx, const struct true_job *job);
void true_rest_show(struct cli *ctx, const struct true_job *job);
void true_rest_json(struct jsonw *w, const struct true_job *job);

#endif

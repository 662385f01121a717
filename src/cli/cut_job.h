/* cut_job: one call of the cut verb: what was asked and what came out, and how both are said (cut_say.c). */
#ifndef CLI_CUT_JOB_H
#define CLI_CUT_JOB_H

#include "bulletin/adapt.h"
#include "cli/cli.h"

struct cut_job {
    const struct bulletin *b;
    const struct bulletin_station *station;
    struct adapt_kits kits;
    struct kit_need need;
    struct kit_answer answer;
    enum unit bare, show; /* of a number without a unit: the bulletin's; of what is shown */
    bool asks_again;      /* racks disagree: measure again first */
    struct cut_pair pair;
};

/* cut_job_fill: takes --station, --with and the lengths under `option` ("--rack"), and has the kit chosen and the cut worked out.
 * job: zeroed. CLI_GOOD, or an exit code after an error line; whether a kit was found is in job->answer. */
int cut_job_fill(const struct cli *ctx, const struct bulletin *b, struct cut_job *job,
                 const struct cli_arg *args, int n, const char *option);

/* cut_job_piece: of the chosen kit, for the rack asked for as number `rack`: as the core and as the bulletin know it. */
const struct cut_piece *cut_job_piece(const struct cut_job *job, size_t rack);
const struct bulletin_rack *cut_job_source(const struct cut_job *job, size_t rack);

/* cut_json, cut_words: the whole answer into ctx->out. */
void cut_json(struct cli *ctx, const struct cut_job *job);
void cut_words(struct cli *ctx, const struct cut_job *job);

#endif

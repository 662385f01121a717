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

/* cut_json, cut_words: the whole answer into ctx->out. */
void cut_json(struct cli *ctx, const struct cut_job *job);
void cut_words(struct cli *ctx, const struct cut_job *job);

#endif

/* campaign_say: a campaign at one look, for people. */
#ifndef CLI_CAMPAIGN_SAY_H
#define CLI_CAMPAIGN_SAY_H

#include "cli/cli.h"
#include "desk/campaign.h"

void campaign_say(struct cli *ctx, const struct campaign *c);

#endif

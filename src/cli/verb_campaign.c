/* verb campaign: owns the call that shows a campaign at one look. */
#include "cli/campaign_say.h"
#include "cli/moment.h"
#include "cli/verbs.h"
#include "desk/campaign.h"
#include "store/near.h"

#include <stdio.h>
#include <string.h>

static int exit_of(enum campaign_verdict v)
{
    return v == CAMPAIGN_WITHIN ? CLI_GOOD : v == CAMPAIGN_OVER ? CLI_NO : CLI_PERSON;
}

/* The bytes of GET /api/v1/campaign. */
static void put_json(struct cli *ctx, const struct campaign *c)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    campaign_write(c, &w);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

static int show(struct cli *ctx, struct store *store, const struct campaign_order *order)
{
    struct fault f = {0};
    struct campaign *c = NULL;
    struct campaign_boards *boards = campaign_boards_new();
    const enum err err =
        boards != NULL ? campaign_read(store, boards, order, &c, &f) : fault_no_memory(&f);
    campaign_boards_free(boards);
    if (err != ERR_OK)
        return cli_fault(ctx, &f);
    if (ctx->is_json)
        put_json(ctx, c);
    else
        campaign_say(ctx, c);
    const int code = exit_of(campaign_verdict(c));
    campaign_free(c);
    return code;
}

static int run_verb(struct cli *ctx, int argc, char **argv);

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store's folder", false},
    {"--read-from", "ADDRESS",
     "of a store in PostgreSQL: read from this standby, and say how far it is behind", false},
    {"--bulletin", "ID", "the campaign of this bulletin; else of the one that is kept", false},
    {"--since", "TIME", "tell what came since, such as 2026-03-05T09:14:00Z", false},
    {"--at", "TIME", "the desk's clock; else now", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_campaign = {
    .name = "campaign",
    .line = "show a campaign at one look: how far, what it costs, what is to come",
    .call = "campaign --store FOLDER [--bulletin ID] [--since TIME]",
    .about = "Units and stations in scope, reached (a claim was taken in), done (a claim of a "
             "finished job that does not "
             "stand refused worked on every station in scope) and proved (every station in scope "
             "stands as pay). What was "
             "paid, is promised, asked or held, by kind and by shop, and whether all of it closes "
             "within the reserve once "
             "every unit that will come has come. Kits used and running out. Final readings "
             "against their limits. Shops "
             "that stand out: a reason to look, never a proof.\n"
             "\n"
             "A reserve is told by `mendwright store keep reserve FILE.csv` (bulletin, amount, "
             "currency, person), the "
             "stock of kits by `keep stock FILE.csv` (kit, on_hand, ordered, lead_days); both stay "
             "on the log with their "
             "date.\n"
             "\n"
             "Ends with 0 when the campaign surely closes within its reserve, 1 when it surely "
             "does not, 4 when that cannot "
             "be told.",
    .example = "  $ mendwright campaign --store no-such-folder 2>&1\n"
               "  mendwright campaign: ...\n",
    .options = options,
    .run = run_verb,
};

static int run_verb(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct fault f = {0};
    struct store *store = NULL;
    const int n = cli_options(ctx, &verb_campaign, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            return cli_error(ctx, "found one word too many, '%.80s'", args[i].value);
    struct campaign_order order = {.bulletin = cli_value(args, n, "--bulletin"),
                                   .since_ms = STORE_UNKNOWN,
                                   .now_ms = moment_now()};
    const char *path = cli_value(args, n, "--store"), *since = cli_value(args, n, "--since"),
               *at = cli_value(args, n, "--at");
    if (path == NULL)
        return cli_error(ctx, "found no --store; expected the store's folder");
    if (since != NULL && !moment_read(since, &order.since_ms))
        return cli_error(ctx, "--since '%.40s': expected " MOMENT_WANTED, since);
    if (at != NULL && !moment_read(at, &order.now_ms))
        return cli_error(ctx, "--at '%.40s': expected " MOMENT_WANTED, at);
    struct store_near near;
    char said[FAULT_MESSAGE_MAX + 100];
    if (store_open_near(path, cli_value(args, n, "--read-from"), &store, &near, &f) != ERR_OK)
        return cli_fault(ctx, &f);
    if (near.is_asked)
        fprintf(stderr, "note: %s\n", store_near_say(&near, said, sizeof said));
    const int code = show(ctx, store, &order);
    store_close(store);
    return code;
}

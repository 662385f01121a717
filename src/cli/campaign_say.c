/* campaign_say: owns the words in which a campaign is told. */
#include "cli/campaign_say.h"

#include "cli/rule_job.h"
#include "core/date.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { READINGS_TOLD = 40 };

static const char *money(const struct campaign *c, int64_t minor, char buf[RULE_SAY_MONEY])
{
    return rule_say_money(minor, c->currency, buf);
}

/* ---- the verdict --------------------------------------------------------------------------- */

static void say_open(struct cli *ctx, const struct campaign *c)
{
    char a[RULE_SAY_MONEY], b[RULE_SAY_MONEY], r[RULE_SAY_MONEY];
    const struct campaign_reserve *e = &c->reserve;
    if (!e->is_given && e->has_expected)
        cli_verdict(ctx, CLI_QUIET, "It will cost between %s and %s; no reserve is told.",
                    money(c, e->low_minor, a), money(c, e->high_minor, b));
    else if (!e->is_given)
        cli_verdict(ctx, CLI_QUIET,
                    "No reserve is told, and what it will cost cannot be foreseen yet.");
    else if (!e->has_expected)
        cli_verdict(ctx, CLI_QUIET,
                    "Whether it closes within its reserve of %s cannot be foreseen yet.",
                    money(c, e->minor, r));
    else
        cli_verdict(ctx, CLI_ACT,
                    "It may not close within its reserve of %s: it will cost between %s and %s.",
                    money(c, e->minor, r), money(c, e->low_minor, a), money(c, e->high_minor, b));
}

static void say_verdict(struct cli *ctx, const struct campaign *c)
{
    char a[RULE_SAY_MONEY], r[RULE_SAY_MONEY];
    const struct campaign_reserve *e = &c->reserve;
    switch (campaign_verdict(c)) {
    case CAMPAIGN_WITHIN:
        cli_verdict(ctx, CLI_STRONG, "It closes within its reserve of %s: at most %s.",
                    money(c, e->minor, r), money(c, e->high_minor, a));
        break;
    case CAMPAIGN_OVER:
        cli_verdict(ctx, CLI_STOP, "It does not close within its reserve of %s: at least %s.",
                    money(c, e->minor, r), money(c, e->low_minor, a));
        break;
    default:
        say_open(ctx, c);
    }
    if (e->is_given && e->has_expected)
        cli_say(ctx, 4,
                "Expected %s. 95 %% intervals; a further unit at %s, the mean of those that are "
                "paid. The reserve was "
                "told by %s.",
                money(c, e->expected_minor, a), money(c, e->mean_unit_minor, r), e->person);
}

/* ---- parts --------------------------------------------------------------------------------- */

static void count_row(struct cli_table *t, const char *what, const struct campaign_count *n)
{
    cli_table_cell(t, CLI_PLAIN, "%s", what);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, n->in_scope);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, n->reached);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, n->done);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, n->proved);
    cli_table_cell(t, CLI_QUIET, "%" PRId64, n->unknown);
    cli_table_cell(t, CLI_QUIET, "%" PRId64, n->beyond);
}

static void say_counts(struct cli *ctx, const struct campaign *c)
{
    static const char *const heads[] = {"",       "in scope", "reached", "done",
                                        "proved", "unknown",  "beyond"};
    const struct campaign_forecast *f = &c->forecast;
    struct cli_table *t = cli_table_new("lrrrrrr");
    cli_table_head(t, heads);
    count_row(t, "units", &c->units);
    count_row(t, "stations", &c->stations);
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    if (!c->has_builds)
        cli_say(ctx, 4, "There is no build list: in scope is what technicians found so.");
    if (f->is_known)
        cli_say(ctx, 4,
                "%" PRId64 " more units will come (95 %%: %" PRId64 " to %" PRId64
                "), %.0f %% of all (%.0f to %.0f).",
                f->further, f->low, f->high, 100 * f->share, 100 * f->share_low,
                100 * f->share_high);
    else
        cli_say(ctx, 4, "How many more will come cannot be foreseen: %s.", f->why);
}

static void money_row(struct cli_table *t, const struct campaign *c, const char *what,
                      const struct campaign_money *m)
{
    const int64_t cells[] = {m->paid_minor, m->promised_minor, m->owed_back_minor, m->asked_minor,
                             m->held_minor};
    char buf[RULE_SAY_MONEY];
    cli_table_cell(t, CLI_PLAIN, "%s", what);
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        money(c, cells[i], buf);
        buf[strcspn(buf, " ")] = '\0'; /* the currency stands in the title */
        cli_table_cell(t, cells[i] == 0 ? CLI_QUIET : CLI_PLAIN, "%s", buf);
    }
}

static void say_money(struct cli *ctx, const struct campaign *c)
{
    static const char *const heads[] = {"",          "paid",           "promised",
                                        "owed back", "asked, at most", "held, at most"};
    struct cli_table *t = cli_table_new("lrrrrr");
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0, "Money, %s", c->currency);
    cli_table_head(t, heads);
    money_row(t, c, "all", &c->money);
    for (int k = 0; k < CAMPAIGN_KINDS; k++) {
        const struct campaign_money *m = &c->by_kind[k];
        if (m->stands_minor != 0 || m->paid_minor != 0 || m->asked_minor != 0 || m->held_minor != 0)
            money_row(t, c,
                      k < BULLETIN_PAYS_N ? rule_pays_name((enum bulletin_pays)k) : "not told", m);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    cli_say(ctx, 4,
            "Claims: %" PRId64 " pay, %" PRId64 " ask, %" PRId64 " hold, %" PRId64
            " refused, %" PRId64 " not ruled yet, of %zu shops.",
            c->n_claims[0], c->n_claims[1], c->n_claims[2], c->n_claims[3], c->n_claims[4],
            c->n_shops);
    if (c->n_other_currency > 0)
        cli_say(ctx, 4, "%" PRId64 " claims were ruled in another currency and are in no sum.",
                c->n_other_currency);
}

static void say_kits(struct cli *ctx, const struct campaign *c)
{
    static const char *const heads[] = {"kit",  "used",     "to come", "enough at 95 %",
                                        "left", "days left"};
    struct cli_table *t = cli_table_new("lrrrrl");
    if (c->n_kits == 0) {
        cli_table_free(t);
        return;
    }
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0, "Kits");
    cli_table_head(t, heads);
    for (size_t i = 0; i < c->n_kits; i++) {
        const struct campaign_kit *k = &c->kits[i];
        cli_table_cell(t, CLI_PLAIN, "%s", k->id);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, k->used);
        cli_table_cell(t, CLI_PLAIN, k->has_to_come ? "%" PRId64 : "?", k->to_come);
        cli_table_cell(t, CLI_PLAIN, k->has_to_come ? "%" PRId64 : "?", k->to_come_high);
        cli_table_cell(t, CLI_PLAIN, k->has_stock ? "%" PRId64 : "?", k->left);
        if (k->has_days)
            cli_table_cell(t, k->is_short ? CLI_STOP : CLI_PLAIN, "%.0f (%.0f to %.0f)%s", k->days,
                           k->days_low, k->days_high, k->is_short ? ", order now" : "");
        else
            cli_table_cell(t, CLI_QUIET, "%s", k->is_short ? "none left" : "");
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_readings(struct cli *ctx, const struct campaign *c)
{
    static const char *const heads[] = {"point", "readings", "outside", "mean", "unit", "Ppk"};
    struct cli_table *t = cli_table_new("lrrrll");
    size_t n = 0;
    if (c->n_readings > 0) {
        text_putc(&ctx->out, '\n');
        cli_say(ctx, 0, "Final readings against their limits, all shops");
    }
    cli_table_head(t, heads);
    for (size_t i = 0; i < c->n_readings && n < READINGS_TOLD; i++) {
        const struct campaign_readings *r = &c->readings[i];
        if (r->shop != NULL)
            continue;
        n++;
        cli_table_cell(t, CLI_PLAIN, "%s", r->point);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, r->n);
        cli_table_cell(t, r->n_outside > 0 ? CLI_STOP : CLI_PLAIN, "%" PRId64, r->n_outside);
        cli_table_cell(t, CLI_PLAIN, "%.3f", r->mean);
        cli_table_cell(t, CLI_PLAIN, "%s", quantity_unit_name(r->unit));
        if (r->has_index)
            cli_table_cell(t, CLI_PLAIN, "%.2f (%.2f to %.2f)", r->ppk, r->ppk_low, r->ppk_high);
        else
            cli_table_cell(t, CLI_QUIET, "too few or all alike");
    }
    if (n > 0)
        cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_looks(struct cli *ctx, const struct campaign *c)
{
    text_putc(&ctx->out, '\n');
    if (c->n_looks == 0) {
        cli_say(ctx, 0, "No shop stands out in %zu test%s.", c->n_tests,
                c->n_tests == 1 ? "" : "s");
        return;
    }
    cli_say(ctx, 0,
            "Shops to look at (%zu tests; of what is named about one in twenty is chance; a reason "
            "to look, never a proof)",
            c->n_tests);
    for (size_t i = 0; i < c->n_looks; i++)
        for (size_t k = 0; k < c->looks[i].n; k++)
            cli_say(ctx, 4, "%s: %s", c->looks[i].shop, c->looks[i].at[k].words);
}

static void say_news(struct cli *ctx, const struct campaign *c)
{
    const struct campaign_news *n = &c->news;
    char buf[RULE_SAY_MONEY];
    if (!n->is_asked)
        return;
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0,
            "News: %" PRId64 " claims taken in; ruled %" PRId64 " pay, %" PRId64 " ask, %" PRId64
            " hold, %" PRId64 " refused; %" PRId64 " changed; %" PRId64 " overruled; %" PRId64
            " payments, %s; %" PRId64 " papers.",
            n->n_taken, n->n_ruled[0], n->n_ruled[1], n->n_ruled[2], n->n_ruled[3], n->n_changed,
            n->n_words, n->n_paid, money(c, n->paid_minor, buf), n->n_papers);
}

void campaign_say(struct cli *ctx, const struct campaign *c)
{
    say_verdict(ctx, c);
    cli_say(ctx, 4, "%s, revision %" PRId64 ": %s%s", c->id, c->revision, c->title,
            c->is_invented ? " (invented)" : "");
    text_putc(&ctx->out, '\n');
    say_counts(ctx, c);
    say_money(ctx, c);
    say_kits(ctx, c);
    say_readings(ctx, c);
    say_looks(ctx, c);
    say_news(ctx, c);
}

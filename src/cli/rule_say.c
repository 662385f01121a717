/* rule_say: owns how rulings are told to people: the day at the desk, and one claim in full. */
#include "cli/rule_job.h"

#include "bulletin/schema.h"
#include "core/date.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { HISTORY_MAX = 50 };

/* ---- money and times ---------------------------------------------------------------------------- */

int rule_say_digits(const char *currency)
{
    const int digits = currency != NULL ? schema_currency_digits(currency) : -1;
    return digits >= 0 ? digits : 2;
}

const char *rule_say_money(int64_t minor, const char *currency, char buf[RULE_SAY_MONEY])
{
    const int known = rule_say_digits(currency), digits = known < 0 ? 0 : known > 3 ? 3 : known;
    const uint64_t size = minor < 0 ? 0 - (uint64_t)minor : (uint64_t)minor;
    uint64_t scale = 1;
    for (int i = 0; i < digits; i++)
        scale *= 10;
    if (digits == 0)
        snprintf(buf, RULE_SAY_MONEY, "%s%" PRIu64 " %.7s", minor < 0 ? "-" : "", size,
                 currency != NULL ? currency : "");
    else
        snprintf(buf, RULE_SAY_MONEY, "%s%" PRIu64 ".%0*" PRIu64 " %.7s", minor < 0 ? "-" : "",
                 size / scale, digits, size % scale, currency != NULL ? currency : "");
    return buf;
}

static const char *say_day(int64_t ms, char buf[DATE_SHOW_SIZE])
{
    enum { DAY_MS = 86400000 };
    buf[0] = '\0';
    if (ms >= 0 && ms / DAY_MS <= 84005) /* the end of 2199 */
        date_show((int32_t)(ms / DAY_MS), buf);
    return buf[0] != '\0' ? buf : "an unknown day";
}

/* ---- the tally ---------------------------------------------------------------------------------- */

static enum rule_verdict verdict_named(const char *name)
{
    for (int i = RULE_PAY; i < RULE_VERDICT_REFUSE; i++)
        if (strcmp(name, rule_verdict_name((enum rule_verdict)i)) == 0)
            return (enum rule_verdict)i;
    return RULE_VERDICT_REFUSE;
}

struct rule_standing rule_standing_of(const struct ruling_seen *seen)
{
    if (seen->is_overruled)
        return (struct rule_standing){verdict_named(seen->before->verdict),
                                      seen->before->amount_minor};
    return (struct rule_standing){seen->ruling->verdict, seen->ruling->amount_minor};
}

static void count_rules(struct rule_tally *t, const struct rule_ruling *r)
{
    bool has_spoken[RULE_N] = {false};
    for (size_t i = 0; i < r->n_findings; i++) {
        const struct rule_finding *f = &r->findings[i];
        if (f->level == RULE_NOTE)
            continue;
        has_spoken[f->rule] = true;
        t->level[f->rule] = f->level > t->level[f->rule] ? f->level : t->level[f->rule];
    }
    for (int i = 0; i < RULE_N; i++)
        t->n_rule[i] += has_spoken[i];
}

static void note_change(struct rule_tally *t, const struct ruling_seen *seen)
{
    t->n_changed++;
    if (t->n_changes == RULE_SAY_CHANGES)
        return;
    struct rule_change *c = &t->changes[t->n_changes++];
    *c = (struct rule_change){.from_minor = seen->before->amount_minor,
                              .to_minor = seen->ruling->amount_minor};
    snprintf(c->claim, sizeof c->claim, "%s", seen->claim_id);
    snprintf(c->from, sizeof c->from, "%s", seen->before->verdict);
    snprintf(c->to, sizeof c->to, "%s", rule_verdict_name(seen->ruling->verdict));
    snprintf(c->vin, sizeof c->vin, "%s", seen->claim->vin);
}

void rule_tally_add(struct rule_tally *t, const struct ruling_seen *seen)
{
    const struct rule_standing s = rule_standing_of(seen);
    const int64_t owed_minor = (s.verdict == RULE_PAY ? s.amount_minor : 0) - seen->paid_minor;
    if (t->n > 0 && strcmp(t->currency, seen->currency) != 0)
        t->is_mixed = true;
    snprintf(t->currency, sizeof t->currency, "%s", seen->currency);
    t->n++;
    t->n_verdict[s.verdict]++;
    t->minor[s.verdict] += s.verdict == RULE_PAY ? s.amount_minor : seen->ruling->if_cured_minor;
    t->n_overruled += seen->is_overruled;
    t->n_new += seen->is_new;
    if (owed_minor > 0) {
        t->n_due++;
        t->due_minor += owed_minor;
    } else if (owed_minor < 0) {
        t->n_back++;
        t->back_minor -= owed_minor;
    }
    if (!seen->is_overruled)
        count_rules(t, seen->ruling);
    if (seen->is_changed && !seen->is_new)
        note_change(t, seen);
}

int rule_tally_exit(const struct rule_tally *t)
{
    if (t->n_unruled > 0 || t->n_verdict[RULE_VERDICT_ASK] + t->n_verdict[RULE_VERDICT_HOLD] > 0)
        return CLI_PERSON;
    return t->n_verdict[RULE_VERDICT_REFUSE] > 0 ? CLI_NO : CLI_GOOD;
}

/* ---- the day at the desk ------------------------------------------------------------------------ */

static const char *plural(size_t n)
{
    return n == 1 ? "" : "s";
}

static void say_verdicts(struct cli *ctx, const struct rule_tally *t)
{
    static const enum cli_tone tones[] = {CLI_STRONG, CLI_ACT, CLI_ACT, CLI_STOP};
    static const char *const heads[] = {"verdict", "claims", "money", ""};
    static const char *const what[] = {"to be paid", "once what is asked for is there",
                                       "if a person lets it pass", "not paid"};
    struct cli_table *table = cli_table_new("lrrl");
    char money[RULE_SAY_MONEY];
    cli_table_head(table, heads);
    for (int v = RULE_PAY; v <= RULE_VERDICT_REFUSE; v++) {
        const bool has_money = !t->is_mixed && v != RULE_VERDICT_REFUSE;
        cli_table_cell(table, tones[v], "%s", rule_verdict_name((enum rule_verdict)v));
        cli_table_cell(table, CLI_PLAIN, "%zu", t->n_verdict[v]);
        cli_table_cell(table, CLI_PLAIN, "%s",
                       has_money ? rule_say_money(t->minor[v], t->currency, money) : "");
        cli_table_cell(table, CLI_QUIET, "%s", what[v]);
    }
    cli_table_print(table, ctx, 4);
    cli_table_free(table);
}

static void say_reasons(struct cli *ctx, const struct rule_tally *t)
{
    static const char *const heads[] = {"claims", "reason", "at most", "what it is"};
    bool is_told[RULE_N] = {false};
    struct cli_table *table = cli_table_new("rlll");
    size_t n = 0;
    cli_table_head(table, heads);
    for (;; n++) { /* the most frequent that is left */
        int best = -1;
        for (int i = 0; i < RULE_N; i++)
            if (!is_told[i] && t->n_rule[i] > 0 && (best < 0 || t->n_rule[i] > t->n_rule[best]))
                best = i;
        if (best < 0)
            break;
        is_told[best] = true;
        cli_table_cell(table, CLI_PLAIN, "%zu", t->n_rule[best]);
        cli_table_cell(table, CLI_PLAIN, "%s", rule_rows[best].name);
        cli_table_cell(table, CLI_PLAIN, "%s", rule_level_name(t->level[best]));
        cli_table_cell(table, CLI_PLAIN, "%s", rule_rows[best].sees);
    }
    if (n > 0) {
        cli_say(ctx, 4, "\nWhy not:");
        cli_table_print(table, ctx, 4);
    }
    cli_table_free(table);
}

static void say_changes(struct cli *ctx, const struct rule_tally *t)
{
    char from[RULE_SAY_MONEY], to[RULE_SAY_MONEY];
    if (t->n_changed == 0)
        return;
    cli_say(ctx, 4,
            "\n%zu claim%s that %s ruled on before now come%s to something else:", t->n_changed,
            plural(t->n_changed), t->n_changed == 1 ? "was" : "were", t->n_changed == 1 ? "s" : "");
    for (size_t i = 0; i < t->n_changes; i++) {
        const struct rule_change *c = &t->changes[i];
        const char *was = rule_say_money(c->from_minor, t->currency, from);
        const char *is = rule_say_money(c->to_minor, t->currency, to);
        if (strcmp(c->from, c->to) == 0 && c->from_minor == c->to_minor)
            cli_say(ctx, 4, "%s (%s): still %s, for other reasons", c->claim, c->vin, c->to);
        else
            cli_say(ctx, 4, "%s (%s): %s %s, was %s %s", c->claim, c->vin, c->to, is, c->from, was);
    }
    if (t->n_changed > t->n_changes)
        cli_say(ctx, 4, "... and %zu more; --json tells all.", t->n_changed - t->n_changes);
}

static void say_owed(struct cli *ctx, const struct rule_tally *t)
{
    char money[RULE_SAY_MONEY];
    if (t->n_due + t->n_back > 0)
        text_putc(&ctx->out, '\n');
    if (t->n_due > 0)
        cli_verdict(ctx, CLI_ACT,
                    "%s on %zu claim%s still to be paid: `rule --settle --person NAME`.",
                    t->is_mixed ? "Money" : rule_say_money(t->due_minor, t->currency, money),
                    t->n_due, plural(t->n_due));
    if (t->n_back > 0)
        cli_verdict(ctx, CLI_ACT,
                    "%s on %zu claim%s was paid and is owed back; that is asked for by a person.",
                    t->is_mixed ? "Money" : rule_say_money(t->back_minor, t->currency, money),
                    t->n_back, plural(t->n_back));
}

void rule_say_summary(struct cli *ctx, const struct rule_tally *t)
{
    const size_t n_open = t->n_verdict[RULE_VERDICT_ASK] + t->n_verdict[RULE_VERDICT_HOLD];
    const char *would = t->is_trial ? "Trial, nothing was written: " : "";
    if (t->n == 0 && t->n_unruled == 0)
        cli_verdict(ctx, CLI_STRONG, "There is no claim to rule on.");
    else
        cli_verdict(ctx, n_open + t->n_unruled > 0 ? CLI_ACT : CLI_STRONG,
                    "%s%zu claim%s ruled on: %zu pay, %zu ask, %zu hold, %zu refuse.", would, t->n,
                    plural(t->n), t->n_verdict[RULE_PAY], t->n_verdict[RULE_VERDICT_ASK],
                    t->n_verdict[RULE_VERDICT_HOLD], t->n_verdict[RULE_VERDICT_REFUSE]);
    if (t->n_unruled > 0)
        cli_say(ctx, 4,
                "%zu claim%s could not be ruled on: no bulletin of that id is kept, or the events "
                "cannot be read.",
                t->n_unruled, plural(t->n_unruled));
    if (t->n == 0)
        return;
    say_verdicts(ctx, t);
    if (t->n_new > 0 && t->n_new < t->n)
        cli_say(ctx, 4, "%zu of them for the first time.", t->n_new);
    if (t->n_overruled > 0)
        cli_say(ctx, 4, "On %zu of them a person's word stands over the rules.", t->n_overruled);
    say_reasons(ctx, t);
    say_changes(ctx, t);
    say_owed(ctx, t);
}

/* ---- one claim ---------------------------------------------------------------------------------- */

static void say_head(struct cli *ctx, const struct ruling_seen *seen)
{
    static const enum cli_tone tones[] = {CLI_STRONG, CLI_ACT, CLI_ACT, CLI_STOP};
    static const char *const means[] = {"pay", "ask for what is missing", "hold for a person",
                                        "refuse"};
    const struct rule_standing s = rule_standing_of(seen);
    const struct store_claim *c = seen->claim;
    char money[RULE_SAY_MONEY], day[DATE_SHOW_SIZE], cured[RULE_SAY_MONEY];
    if (s.verdict == RULE_PAY)
        cli_verdict(ctx, tones[s.verdict], "Pay %s on claim %s.",
                    rule_say_money(s.amount_minor, seen->currency, money), seen->claim_id);
    else
        cli_verdict(ctx, tones[s.verdict], "Claim %s: %s.", seen->claim_id, means[s.verdict]);
    cli_say(ctx, 4, "VIN %s, %s revision %" PRId64 ", by %s of %s, taken in on %s.", c->vin,
            c->bulletin, c->revision, c->technician != NULL ? c->technician : "nobody named",
            c->shop != NULL ? c->shop : "no shop named", say_day(c->taken_ms, day));
    if (seen->is_overruled)
        cli_say(ctx, 4, "%s said so on %s: %s. By the rules it would now be \"%s\" (%s).",
                seen->before->person != NULL ? seen->before->person : "A person",
                say_day(seen->before->at_ms, day),
                seen->before->reason != NULL ? seen->before->reason : "",
                rule_verdict_name(seen->ruling->verdict),
                rule_say_money(seen->ruling->amount_minor, seen->currency, money));
    else if (s.verdict == RULE_VERDICT_ASK || s.verdict == RULE_VERDICT_HOLD)
        cli_say(ctx, 4, "Once all is put right: %s.",
                rule_say_money(seen->ruling->if_cured_minor, seen->currency, cured));
}

static void say_findings(struct cli *ctx, const struct rule_ruling *r)
{
    static const enum cli_tone tones[RULE_LEVEL_N] = {CLI_QUIET, CLI_ACT, CLI_ACT, CLI_STOP};
    if (r->n_findings == 0)
        cli_say(ctx, 4, "The rules find nothing.");
    for (int level = RULE_REFUSE; level >= RULE_NOTE; level--)
        for (size_t i = 0; i < r->n_findings; i++) {
            const struct rule_finding *f = &r->findings[i];
            if ((int)f->level != level)
                continue;
            text_putc(&ctx->out, '\n');
            cli_verdict(ctx, tones[level], "%s (%s)%s%s: %s", rule_level_name(f->level),
                        rule_rows[f->rule].name, f->station != NULL ? ", " : "",
                        f->station != NULL ? f->station : "", f->message);
            if (f->cure[0] != '\0')
                cli_say(ctx, 4, "%s", f->cure);
        }
    if (r->n_more_findings > 0)
        cli_say(ctx, 4, "... and %zu more.", r->n_more_findings);
}

static void say_lines(struct cli *ctx, const struct ruling_seen *seen)
{
    static const char *const heads[] = {"station", "for", "due", "to be paid", ""};
    const struct rule_ruling *r = seen->ruling;
    char due[RULE_SAY_MONEY], paid[RULE_SAY_MONEY];
    if (r->n_lines == 0)
        return;
    struct cli_table *table = cli_table_new("llrrl");
    cli_table_head(table, heads);
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct rule_line *l = &r->lines[i];
        cli_table_cell(table, CLI_PLAIN, "%s", l->station != NULL ? l->station : "once a unit");
        cli_table_cell(table, CLI_PLAIN, "%s", rule_pays_name(l->kind));
        cli_table_cell(table, CLI_PLAIN, "%s", rule_say_money(l->due_minor, seen->currency, due));
        cli_table_cell(table, CLI_PLAIN, "%s", rule_say_money(l->paid_minor, seen->currency, paid));
        cli_table_cell(table, CLI_QUIET, "%s", l->what);
    }
    cli_say(ctx, 4, "\nThe money%s:", r->verdict == RULE_PAY ? "" : ", once all is put right");
    cli_table_print(table, ctx, 4);
    cli_table_free(table);
}

static void say_account(struct cli *ctx, const struct ruling_seen *seen)
{
    const struct rule_standing s = rule_standing_of(seen);
    const int64_t worth_minor = s.verdict == RULE_PAY ? s.amount_minor : 0;
    char paid[RULE_SAY_MONEY], rest[RULE_SAY_MONEY];
    if (seen->paid_minor == 0)
        return;
    cli_say(ctx, 4, "\nPaid so far: %s.%s%s%s",
            rule_say_money(seen->paid_minor, seen->currency, paid),
            worth_minor == seen->paid_minor  ? ""
            : worth_minor > seen->paid_minor ? " Still due: "
                                             : " Owed back: ",
            worth_minor == seen->paid_minor
                ? ""
                : rule_say_money(worth_minor > seen->paid_minor ? worth_minor - seen->paid_minor
                                                                : seen->paid_minor - worth_minor,
                                 seen->currency, rest),
            worth_minor == seen->paid_minor ? "" : ".");
}

struct history {
    struct cli *ctx;
    size_t n;
};

static bool say_entry(void *me, const struct store_ruling *r)
{
    struct history *h = me;
    char money[RULE_SAY_MONEY], day[DATE_SHOW_SIZE];
    if (h->n++ == 0)
        cli_say(h->ctx, 4, "\nOn the log:");
    if (h->n > HISTORY_MAX)
        return false;
    const char *amount = rule_say_money(r->amount_minor, r->currency, money);
    if (r->kind == STORE_PAID)
        cli_say(h->ctx, 4, "%s  paid %s by %s", say_day(r->at_ms, day), amount,
                r->person != NULL ? r->person : "nobody named");
    else if (r->kind == STORE_NOTED)
        cli_say(h->ctx, 4, "%s  noted by %s: %s", say_day(r->at_ms, day),
                r->person != NULL ? r->person : "nobody named", r->reason != NULL ? r->reason : "");
    else if (r->kind == STORE_LIFTED)
        cli_say(h->ctx, 4,
                "%s  %s took that word back: %s %s by the rules of revision %" PRId64 " again",
                say_day(r->at_ms, day), r->person != NULL ? r->person : "nobody named", r->verdict,
                amount, r->revision);
    else if (r->kind == STORE_OVERRULED)
        cli_say(h->ctx, 4, "%s  %s %s by the word of %s: %s", say_day(r->at_ms, day), r->verdict,
                amount, r->person != NULL ? r->person : "nobody named",
                r->reason != NULL ? r->reason : "");
    else
        cli_say(h->ctx, 4, "%s  %s %s by the rules of revision %" PRId64 ", %zu finding%s",
                say_day(r->at_ms, day), r->verdict, amount, r->revision, r->n_findings,
                plural(r->n_findings));
    return true;
}

void rule_say_claim(struct cli *ctx, const struct ruling_seen *seen)
{
    say_head(ctx, seen);
    say_findings(ctx, seen->ruling);
    say_lines(ctx, seen);
    say_account(ctx, seen);
}

void rule_say_log(struct cli *ctx, struct store *store, const char *claim)
{
    struct history history = {.ctx = ctx};
    struct fault f = {0};
    if (store_rulings(store, claim, say_entry, &history, &f) != ERR_OK)
        cli_say(ctx, 4, "\nThe log could not be read back: %s.", f.message);
}

void rule_say_unruled(struct cli *ctx, const char *claim)
{
    cli_verdict(ctx, CLI_ACT,
                "Claim %.20s could not be ruled on: no bulletin of its id is kept, or its events "
                "cannot be read.",
                claim);
}

/* ---- a person's word, and payments --------------------------------------------------------------- */

void rule_say_word(struct cli *ctx, const struct store_ruling *word)
{
    char money[RULE_SAY_MONEY];
    if (ctx->is_json) {
        rule_json_word(ctx, word);
        return;
    }
    if (word->kind == STORE_NOTED) {
        cli_verdict(ctx, CLI_STRONG, "Claim %s: noted by %s.", word->claim, word->person);
        cli_say(ctx, 4, "%s", word->reason);
        return;
    }
    const bool is_lift = word->kind == STORE_LIFTED;
    cli_verdict(ctx, CLI_STRONG, "Claim %s: %s%s%s by the %s%s.", word->claim, word->verdict,
                word->amount_minor != 0 ? ", " : "",
                word->amount_minor != 0 ? rule_say_money(word->amount_minor, word->currency, money)
                                        : "",
                is_lift ? "rules again" : "word of ", is_lift ? "" : word->person);
    if (is_lift) {
        cli_say(ctx, 4, "%s took back the word that stood over them; both stay on the log.",
                word->person);
        return;
    }
    cli_say(ctx, 4, "Why: %s", word->reason);
    cli_say(ctx, 4, "It stands over the rules until a person says otherwise.");
}

void rule_say_payment(struct cli *ctx, struct rule_paid *sum, const char *claim,
                      int64_t amount_minor, const char *currency)
{
    char money[RULE_SAY_MONEY];
    if (sum->n > 0 && strcmp(sum->currency, currency) != 0)
        sum->is_mixed = true;
    snprintf(sum->currency, sizeof sum->currency, "%s", currency);
    sum->n++;
    sum->minor += amount_minor;
    if (ctx->is_json)
        rule_json_payment(ctx, claim, amount_minor, currency);
    else
        cli_say(ctx, 4, "%s  %s", claim, rule_say_money(amount_minor, currency, money));
}

void rule_say_payments(struct cli *ctx, const struct rule_paid *sum)
{
    char money[RULE_SAY_MONEY];
    if (sum->n == 0)
        cli_verdict(ctx, CLI_STRONG, "Nothing is to be paid.");
    else if (sum->is_mixed)
        cli_verdict(ctx, CLI_STRONG, "Paid on %zu claim%s.", sum->n, plural(sum->n));
    else
        cli_verdict(ctx, CLI_STRONG, "Paid %s on %zu claim%s.",
                    rule_say_money(sum->minor, sum->currency, money), sum->n, plural(sum->n));
}

void rule_say_rules(struct cli *ctx)
{
    for (int i = 0; i < RULE_N; i++) {
        const struct rule_row *row = &rule_rows[i];
        if (i > 0)
            text_putc(&ctx->out, '\n');
        cli_say(ctx, 0, "%s (%s)", row->name, rule_level_name(row->level));
        cli_say(ctx, 4, "%s", row->sees);
        cli_say(ctx, 4, "Why: %s", row->why);
        cli_say(ctx, 4, "Cure: %s", row->cure);
    }
}

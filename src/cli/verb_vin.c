/* verb_vin: judges one VIN or a file of them. Owns the options and the answer for one; vin_batch.c
 * has the batch. */
#include "cli/verbs.h"
#include "cli/vin_batch.h"
#include "cli/vin_words.h"

#include <inttypes.h>
#include <string.h>

/* A VIN in the groups in which it is read: maker, description, check digit, year, plant, number. */
static const int group_sizes[] = {3, 5, 1, 1, 1, 6};

static int grouped_column(int position)
{
    int column = position, end = 0;
    for (size_t i = 0; i < sizeof group_sizes / sizeof group_sizes[0]; i++) {
        end += group_sizes[i];
        if (position > end)
            column++;
    }
    return column;
}

static void say_groups(struct cli *ctx, const struct vin_case *c)
{
    const char *vin = c->verdict.vin;
    struct text t = {0};
    for (size_t i = 0; i < sizeof group_sizes / sizeof group_sizes[0]; i++) {
        text_puts(&t, i > 0 ? " " : "");
        text_add(&t, vin, (size_t)group_sizes[i]);
        vin += group_sizes[i];
    }
    text_putc(&t, '\n');
    /* Every character that no VIN may hold is marked; the check digit when that is what is wrong.
     */
    int column = 0;
    for (int i = 1; i <= VIN_SIZE; i++) {
        if (vin_is_character(c->verdict.vin[i - 1]) &&
            !(c->verdict.fault == VIN_FAULT_CHECK && i == 9))
            continue;
        for (; column < grouped_column(i) - 1; column++)
            text_putc(&t, ' ');
        text_putc(&t, '^');
        column++;
    }
    /* Not through cli_say: the marks must stay under their characters. */
    const char *line = t.data;
    while (line != NULL && *line != '\0') {
        const size_t n = strcspn(line, "\n");
        text_printf(&ctx->out, "    %.*s\n", (int)n, line);
        line += n + (line[n] == '\n');
    }
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static void say_years(struct cli *ctx, const struct vin_verdict *v)
{
    const char rule = v->vin[6];
    if (v->n_years == 0) {
        cli_say(ctx, 4, "Model year: none, position 10 holds %c, which stands for no year.",
                v->vin[9]);
        return;
    }
    cli_say(ctx, 4,
            "Model year %d: position 10 is %c, position 7 is a %s. For trailers, buses and heavy "
            "vehicles position 7 says nothing: there it may be %d.",
            v->years[0], v->vin[9], rule > '9' ? "letter" : "digit", v->years[1]);
}

static void say_repairs(struct cli *ctx, const struct vin_case *c, const struct vin_list *known)
{
    if (c->n_repairs == 0) {
        if (c->verdict.fault != VIN_FAULT_LENGTH && !c->verdict.is_filler)
            cli_say(ctx, 4,
                    known ? "No VIN in the list is one misreading away."
                          : "No single misreading or swap would put it right.");
        return;
    }
    cli_say(ctx, 4,
            c->n_repairs == 1
                ? "It may be, misread or mistyped:"
                : "It may be one of these, misread or mistyped, the likeliest first:");
    struct cli_table *table = cli_table_new("rll");
    struct text t = {0};
    for (size_t i = 0; i < c->n_repairs; i++) {
        text_clear(&t);
        vin_case_repair_why(c, &c->repairs[i], &t);
        cli_table_cell(table, CLI_PLAIN, "%d", c->repairs[i].rank);
        cli_table_cell(table, CLI_STRONG, "%s", c->repairs[i].vin);
        cli_table_cell(table, CLI_PLAIN, "%s", t.data ? t.data : "");
    }
    cli_table_print(table, ctx, 4);
    cli_table_free(table);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static void say_faulty(struct cli *ctx, const struct vin_case *c, const struct vin_list *known)
{
    struct text t = {0};
    vin_case_reason(c, &t);
    cli_say(ctx, 4, "%s.", t.data ? t.data : "");
    if (c->verdict.fault == VIN_FAULT_CHECK && !c->verdict.is_filler)
        cli_say(ctx, 4,
                "The check digit is required for vehicles made for North America and China (49 CFR "
                "565.15); elsewhere position 9 may hold anything.");
    say_repairs(ctx, c, known);
    text_putc(&ctx->out, '\n');
    cli_verdict(ctx, CLI_ACT,
                c->n_repairs > 0 ? "Read the VIN again at the vehicle; take none of these on trust."
                                 : "Read the VIN again at the vehicle, character by character.");
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static void say_one(struct cli *ctx, const struct vin_case *c, const struct vin_list *known)
{
    const struct vin_verdict *v = &c->verdict;
    struct text t = {0};
    vin_case_shown(c, &t);
    const char *shown = t.size > 0 ? t.data : "";
    if (v->fault == VIN_FAULT_NONE)
        cli_verdict(ctx, CLI_STRONG, "%s is valid.", shown);
    else
        cli_verdict(ctx, CLI_STOP, "%s%sis not a valid VIN.", shown[0] ? shown : "This", " ");
    if (v->fault != VIN_FAULT_LENGTH)
        say_groups(ctx, c);
    if (v->fault == VIN_FAULT_NONE)
        say_years(ctx, v);
    else
        say_faulty(ctx, c, known);
    if (known != NULL && v->fault != VIN_FAULT_LENGTH)
        cli_say(ctx, 4,
                vin_list_has(known, v->vin) ? "It is in the list of known VINs."
                                            : "It is not in the list of known VINs.");
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static int run_one(struct cli *ctx, const char *text, const struct vin_list *known)
{
    struct vin_case c;
    vin_case_judge(&c, text, strlen(text), known);
    if (ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &ctx->out);
        vin_case_json(&c, 0, known, &w);
    } else {
        say_one(ctx, &c, known);
    }
    return c.verdict.fault == VIN_FAULT_NONE ? CLI_GOOD : CLI_NO;
}

static int run_vin(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_vin, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    const char *batch = cli_value(args, n, "--batch"), *list = cli_value(args, n, "--known");
    const char *vin = NULL;
    int n_vins = 0;
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL) {
            vin = args[i].value;
            n_vins++;
        }
    if (n_vins + (batch != NULL) != 1)
        return cli_error(ctx, "found %d VINs%s; expected one VIN, or --batch FILE", n_vins,
                         batch != NULL ? " and --batch" : "");
    if (batch != NULL && list != NULL && strcmp(batch, "-") == 0 && strcmp(list, "-") == 0)
        return cli_error(ctx, "--batch and --known both ask for standard input; expected one file");

    struct vin_list known = {0};
    struct fault fault;
    if (list != NULL && vin_list_read(list, &known, &fault) != ERR_OK)
        return cli_fault(ctx, &fault);
    const struct vin_list *used = list != NULL ? &known : NULL;
    const int code = batch != NULL ? vin_batch(ctx, batch, used) : run_one(ctx, vin, used);
    vin_list_done(&known);
    return code;
}

static const struct cli_option options[] = {
    {"--batch", "FILE", "judge a file with one VIN a line, of any size; - is standard input",
     false},
    {"--known", "FILE",
     "a file of VINs that exist, one a line: repairs are taken from it alone, and any single wrong "
     "character is tried",
     false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_vin = {
    .name = "vin",
    .line = "is this VIN right, and if not, what was it?",
    .call = "vin VIN | vin --batch FILE [--known FILE]",
    .about =
        "Checks a vehicle identification number: seventeen digits and letters without I, O and Q, "
        "and "
        "the check digit in position 9 (49 CFR 565.15). Lower case is taken as upper case, blanks "
        "and "
        "dashes around it are dropped. A faulty one is compared with what people misread (0 and O, "
        "5 "
        "and S, 8 and B ...) and mistype (neighbours swapped); only what makes the check digit "
        "right is "
        "proposed, and it stays a proposal.\n"
        "\n"
        "A check digit finds every single wrong character but those of equal value (A and J and 1, "
        "for "
        "one), so a valid VIN may still be another vehicle's. Seventeen equal digits always pass "
        "the "
        "arithmetic and are refused as a check fault, but for the straight ones used in testing.\n"
        "\n"
        "With --batch the faulty lines are listed with the likeliest repair, then a summary; with "
        "--json "
        "there is one object a line, in order, with its line number; empty lines are passed over. "
        "Exit 1 "
        "when any VIN is faulty.",
    .example = "  $ mendwright vin 1G4AH59H45G113841\n"
               "  [x] 1G4AH59H45G113841 is not a valid VIN.\n"
               "      1G4 AH59H 4 5 G 113841\n"
               "                ^\n"
               "      Position 9, the check digit, holds 4; the other characters ask for X.\n"
               "  ...\n",
    .options = options,
    .run = run_vin,
};

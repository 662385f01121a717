/* verb_label: reads the date of manufacture off a station's label. */
#include "base/jsonw.h"
#include "cli/verbs.h"
#include "core/label.h"

#include <string.h>

/* The contract's word for what is wrong with a label. */
static const char *fault_name(enum err e)
{
    switch (e) {
    case ERR_OK:
        return NULL;
    case ERR_EMPTY:
        return "empty";
    case ERR_LIMIT:
        return "length";
    case ERR_ENCODING:
        return "character";
    case ERR_IMPOSSIBLE:
        return "impossible";
    case ERR_AMBIGUOUS:
        return "ambiguous";
    default:
        return "pattern";
    }
}

static int refuse_pattern(const struct cli *ctx, const char *pattern, enum err e, size_t at)
{
    static const char known[] = "expected text with %Y %y %m %d %j %b %G %g %V %u %% and {variant}";
    switch (e) {
    case ERR_EMPTY:
        return cli_error(ctx, "--pattern is empty; %s", known);
    case ERR_LIMIT:
        return cli_error(ctx, "--pattern is longer than %d bytes", (int)LABEL_PATTERN_MAX);
    case ERR_ENCODING:
        return cli_error(ctx, "--pattern '%.80s': a control character at byte %zu", pattern,
                         at + 1);
    case ERR_DUPLICATE:
        return cli_error(ctx, "--pattern '%.80s': byte %zu asks for the same thing twice", pattern,
                         at + 1);
    case ERR_AMBIGUOUS:
        return cli_error(
            ctx,
            "--pattern '%.80s' gives the date in more than one way, or a calendar year "
            "with an ISO week (that takes %%G or %%g)",
            pattern);
    case ERR_UNKNOWN:
        return cli_error(ctx,
                         "--pattern '%.80s' settles no date; expected year, month and day, or year "
                         "and day of year, or ISO week-year and week, or year and month",
                         pattern);
    default:
        return cli_error(ctx, "--pattern '%.80s': byte %zu is not known; %s", pattern, at + 1,
                         known);
    }
}

/* ---- the answer --------------------------------------------------------------------------------
 */

static void write_json(struct cli *ctx, enum err e, const struct label *label, size_t at)
{
    char first[DATE_SHOW_SIZE], last[DATE_SHOW_SIZE];
    const bool is_good = e == ERR_OK;
    if (is_good) {
        date_show(label->first_day, first);
        date_show(label->last_day, last);
    }
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "date", is_good && label->first_day == label->last_day ? first : NULL);
    jsonw_string(&w, "first", is_good ? first : NULL);
    jsonw_string(&w, "last", is_good ? last : NULL);
    jsonw_string(&w, "variant", is_good && label->variant[0] ? label->variant : NULL);
    if (is_good)
        jsonw_int(&w, "pattern", label->pattern + 1);
    else
        jsonw_null(&w, "pattern");
    jsonw_string(&w, "fault", fault_name(e));
    if (is_good)
        jsonw_null(&w, "position");
    else
        jsonw_int(&w, "position", (int64_t)at + 1);
    jsonw_object_end(&w);
}

static const char *weekday_name(int32_t day)
{
    static const char *const names[] = {"Monday", "Tuesday",  "Wednesday", "Thursday",
                                        "Friday", "Saturday", "Sunday"};
    int weekday;
    date_to_week(day, NULL, NULL, &weekday);
    return names[weekday - 1];
}

static void say_good(struct cli *ctx, const struct label *label, const char *pattern)
{
    char first[DATE_SHOW_SIZE], last[DATE_SHOW_SIZE];
    int year, week;
    date_show(label->first_day, first);
    date_show(label->last_day, last);
    date_to_week(label->first_day, &year, &week, NULL);
    if (label->first_day == label->last_day)
        cli_verdict(ctx, CLI_STRONG, "Made on %s.", first);
    else
        cli_verdict(ctx, CLI_STRONG, "Made from %s to %s.", first, last);
    if (label->variant[0])
        cli_say(ctx, 4, "Variant %s.", label->variant);
    if (label->first_day == label->last_day)
        cli_say(ctx, 4, "A %s, ISO week %d-W%02d.", weekday_name(label->first_day), year, week);
    else if (label->last_day - label->first_day == 6)
        cli_say(ctx, 4, "ISO week %d-W%02d, Monday to Sunday: the label does not tell the day.",
                year, week);
    else
        cli_say(ctx, 4, "A whole month: the label does not tell the day.");
    cli_say(ctx, 4, "Read by the pattern %s.", pattern);
}

/* The label with its offending byte marked under it. */
static void say_place(struct cli *ctx, const char *text, size_t n, size_t at)
{
    char shown[LABEL_TEXT_MAX + 1];
    size_t size = n < LABEL_TEXT_MAX ? n : LABEL_TEXT_MAX;
    if (at > size)
        at = size;
    const size_t column = text_columns(text, at);
    memcpy(shown, text, size);
    size = text_clean(shown, size, false);
    text_printf(&ctx->out, "    %.*s\n    %*s^\n", (int)size, shown, (int)column, "");
}

/* One call: a label and the patterns it may follow. */
struct call {
    const char *text;
    const char *patterns[LABEL_PATTERNS_MAX];
    size_t n_patterns;
};

/* What each pattern by itself makes of it. */
static void say_readings(struct cli *ctx, const struct call *c)
{
    struct cli_table *t = cli_table_new("ll");
    for (size_t i = 0; i < c->n_patterns; i++) {
        struct label label;
        size_t at = 0;
        char first[DATE_SHOW_SIZE], last[DATE_SHOW_SIZE];
        const enum err e = label_read(c->text, strlen(c->text), &c->patterns[i], 1, &label, &at);
        if (e != ERR_OK && e != ERR_AMBIGUOUS)
            continue;
        cli_table_cell(t, CLI_PLAIN, "%s", c->patterns[i]);
        if (e == ERR_AMBIGUOUS) {
            cli_table_cell(t, CLI_PLAIN, "in more than one way by itself");
            continue;
        }
        date_show(label.first_day, first);
        date_show(label.last_day, last);
        cli_table_cell(t, CLI_PLAIN, "%s%s%s%s%s", first,
                       label.first_day == label.last_day ? "" : " to ",
                       label.first_day == label.last_day ? "" : last,
                       label.variant[0] ? ", variant " : "", label.variant);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

/* A label by each pattern, for those who do not read patterns. */
static void say_examples(struct cli *ctx, const struct call *c)
{
    const int32_t day = 19818; /* 2024-04-05: month, day, week and weekday all differ */
    struct cli_table *t = cli_table_new("lll");
    for (size_t i = 0; i < c->n_patterns; i++) {
        char example[LABEL_PATTERN_MAX + LABEL_VARIANT_MAX + 1];
        (void)label_example(c->patterns[i], strlen(c->patterns[i]), day, "AB1", example,
                            sizeof example);
        cli_table_cell(t, CLI_PLAIN, "%s", c->patterns[i]);
        cli_table_cell(t, CLI_PLAIN, "reads like");
        cli_table_cell(t, CLI_PLAIN, "%s", example);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_bad(struct cli *ctx, enum err e, const struct call *c, size_t at)
{
    const char *text = c->text;
    const size_t n = strlen(text);
    cli_verdict(ctx, CLI_STOP, "The label gives no date.");
    if (n > 0)
        say_place(ctx, text, n, at);
    switch (e) {
    case ERR_EMPTY:
        cli_say(ctx, 4, "There is nothing on it.");
        break;
    case ERR_LIMIT:
        cli_say(ctx, 4, "It is longer than %d bytes.", (int)LABEL_TEXT_MAX);
        break;
    case ERR_ENCODING:
        cli_say(ctx, 4, "It holds a control character at byte %zu.", at + 1);
        break;
    case ERR_IMPOSSIBLE:
        cli_say(ctx, 4, "It fits, but there is no such day, week or month.");
        break;
    case ERR_AMBIGUOUS:
        cli_say(ctx, 4, "It can be read in more than one way, and the readings differ:");
        say_readings(ctx, c);
        break;
    default:
        cli_say(ctx, 4, "No pattern fits it beyond this place.");
        say_examples(ctx, c);
        break;
    }
    text_putc(&ctx->out, '\n');
    cli_verdict(ctx, CLI_ACT,
                e == ERR_AMBIGUOUS ? "Ask the maker which pattern holds; do not choose one."
                                   : "Read the label again at the station.");
}

/* ---- the call ----------------------------------------------------------------------------------
 */

static int run_label(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call c = {.text = NULL};
    size_t at = 0;
    const int n = cli_options(ctx, &verb_label, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++) {
        if (args[i].name == NULL) {
            if (c.text != NULL)
                return cli_error(ctx,
                                 "found a second label, '%.80s'; expected one (quote its blanks)",
                                 args[i].value);
            c.text = args[i].value;
            continue;
        }
        if (c.n_patterns == LABEL_PATTERNS_MAX)
            return cli_error(ctx, "more than %d patterns", (int)LABEL_PATTERNS_MAX);
        const char *pattern = args[i].value;
        const enum err e = label_pattern_check(pattern, strlen(pattern), &at);
        if (e != ERR_OK)
            return refuse_pattern(ctx, pattern, e, at);
        c.patterns[c.n_patterns++] = pattern;
    }
    if (c.text == NULL || c.n_patterns == 0)
        return cli_error(ctx, "found no %s; expected a label and at least one --pattern",
                         c.text == NULL ? "label" : "--pattern");

    struct label label;
    const enum err e = label_read(c.text, strlen(c.text), c.patterns, c.n_patterns, &label, &at);
    if (ctx->is_json)
        write_json(ctx, e, &label, at);
    else if (e == ERR_OK)
        say_good(ctx, &label, c.patterns[label.pattern]);
    else
        say_bad(ctx, e, &c, at);
    return e == ERR_OK ? CLI_GOOD : CLI_NO;
}

static const struct cli_option options[] = {
    {"--pattern", "PATTERN", "how the date stands on the label, for example {variant}-%G-W%V",
     true},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_label = {
    .name = "label",
    .line = "when was this part made, by its label?",
    .call = "label TEXT --pattern PATTERN [--pattern PATTERN ...]",
    .about =
        "Reads the date of manufacture, and the variant, off a station's label by the patterns of "
        "its "
        "maker. A pattern is text with %Y (year) %y (its last two digits; 69 to 99 are 19..) %m "
        "(month) %d "
        "(day) %j (day of the year) %b (English month name) %G (ISO week-year) %g (its last two "
        "digits) "
        "%V (ISO week) %u (ISO weekday, Monday 1) %% and {variant} (letters, digits, - . /). "
        "Numbers have "
        "all their digits. A blank stands for any run of blanks, also none. Case is ignored.\n"
        "\n"
        "A label that gives a week or a month gives its first and last day, and no date. When "
        "several "
        "patterns fit they must agree, or the label is ambiguous: nothing is guessed.\n"
        "\n"
        "Exit 0 when the label is read; 1 when it cannot be read, names a day that does not exist, "
        "or is "
        "ambiguous; 2 when a pattern is malformed, settles no date, or mixes a calendar year with "
        "an ISO "
        "week. With --json, \"fault\" is \"empty\", \"length\", \"character\", \"pattern\" (none "
        "fits), "
        "\"impossible\" or \"ambiguous\", and \"position\" is the byte at which reading ended.",
    .example = "  $ mendwright label C2-2024-W53 --pattern '{variant}-%G-W%V'\n"
               "  [x] The label gives no date.\n"
               "      C2-2024-W53\n"
               "         ^\n"
               "      It fits, but there is no such day, week or month.\n"
               "\n"
               "  [>] Read the label again at the station.\n",
    .options = options,
    .run = run_label,
};

/* help: owns the words by which mendwright introduces itself; what a verb does stands in its own
 * file. */
#include "cli/help.h"

#include "base/jsonw.h"

#include <string.h>

static const char job[] =
    "Works out how to put right a faulty run of powered slide-out rooms in the field: is this unit "
    "in "
    "scope, which kit does it take, where is the rack cut, are the racks in time, are the readings "
    "inside, and if not, what to move.";

static const char caution[] =
    "Mendwright computes; it does not see the unit. The maker's instructions, local codes and "
    "licensed "
    "practice come first. Nobody stands under or beside a room whose drive is loose until it is "
    "supported.";

struct exit_code {
    int code;
    const char *meaning;
};

static const struct exit_code exit_codes[] = {
    {CLI_GOOD, "done, and the answer is good"},
    {CLI_NO, "done, and the answer is no: outside, invalid, out of scope, faults found"},
    {CLI_WRONG, "the call or the input is wrong"},
    {CLI_FAILED, "could not finish: disk, network, memory"},
    {CLI_PERSON, "a person must decide: uncertain or unknown"},
};

enum { N_EXIT_CODES = sizeof exit_codes / sizeof *exit_codes };

static void heading(struct cli *ctx, const char *words)
{
    text_putc(&ctx->out, '\n');
    text_puts(&ctx->out, ctx->has_colour ? "\033[1m" : "");
    text_puts(&ctx->out, words);
    text_puts(&ctx->out, ctx->has_colour ? "\033[0m\n" : "\n");
}

static void print_exit_codes(struct cli *ctx)
{
    heading(ctx, "Exit codes");
    struct cli_table *t = cli_table_new("rl");
    for (size_t i = 0; i < N_EXIT_CODES; i++) {
        cli_table_cell(t, CLI_PLAIN, "%d", exit_codes[i].code);
        cli_table_cell(t, CLI_PLAIN, "%s", exit_codes[i].meaning);
    }
    cli_table_print(t, ctx, 2);
    cli_table_free(t);
}

void help_short(struct text *out)
{
    text_puts(out, "usage: mendwright VERB [options]\n"
                   "`mendwright help` lists the verbs, `mendwright help VERB` explains one.\n");
}

void help_all(struct cli *ctx, const struct cli_verb *const *verbs)
{
    cli_say(ctx, 0, "mendwright VERB [options]");
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0, "%s", job);
    heading(ctx, "Verbs");
    struct cli_table *t = cli_table_new("ll");
    for (; *verbs != NULL; verbs++) {
        cli_table_cell(t, CLI_STRONG, "%s", (*verbs)->name);
        cli_table_cell(t, CLI_PLAIN, "%s", (*verbs)->line);
    }
    cli_table_cell(t, CLI_STRONG, "help");
    cli_table_cell(t, CLI_PLAIN, "explain a verb: mendwright help VERB");
    cli_table_print(t, ctx, 2);
    cli_table_free(t);
    print_exit_codes(ctx);
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0,
            "Any input file may be - for standard input. --json gives every answer as JSON. "
            "--version tells the version.");
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0, "%s", caution);
}

static void print_options(struct cli *ctx, const struct cli_verb *verb)
{
    const struct cli_option *lists[] = {verb->options, cli_common_options};
    heading(ctx, "Options");
    struct cli_table *t = cli_table_new("ll");
    for (size_t i = 0; i < 2; i++)
        for (const struct cli_option *o = lists[i]; o != NULL && o->name != NULL; o++) {
            cli_table_cell(t, CLI_STRONG, "%s%s%s", o->name, o->value != NULL ? " " : "",
                           o->value != NULL ? o->value : "");
            cli_table_cell(t, CLI_PLAIN, "%s%s", o->help,
                           o->is_repeatable ? " (may be repeated)" : "");
        }
    cli_table_print(t, ctx, 2);
    cli_table_free(t);
}

static void print_kinds(struct cli *ctx, const struct cli_verb *verb)
{
    if (verb->kinds == NULL)
        return;
    heading(ctx, "Kinds");
    struct cli_table *t = cli_table_new("ll");
    for (const struct cli_verb *const *k = verb->kinds; *k != NULL; k++) {
        cli_table_cell(t, CLI_STRONG, "%s", (*k)->name + strlen(verb->name) + 1);
        cli_table_cell(t, CLI_PLAIN, "%s", (*k)->line);
    }
    cli_table_print(t, ctx, 2);
    cli_table_free(t);
}

void help_verb(struct cli *ctx, const struct cli_verb *verb)
{
    cli_say(ctx, 0, "mendwright %s", verb->call);
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 0, "%s", verb->about != NULL ? verb->about : verb->line);
    print_kinds(ctx, verb);
    print_options(ctx, verb);
    print_exit_codes(ctx);
    if (verb->example == NULL)
        return;
    heading(ctx, "Example");
    /* As it stands, so that it can be pasted and so that the test that runs it sees what people
     * see. */
    text_puts(&ctx->out, verb->example);
    const size_t n = strlen(verb->example);
    if (n > 0 && verb->example[n - 1] != '\n')
        text_putc(&ctx->out, '\n');
}

static void write_verb(struct jsonw *w, const struct cli_verb *verb)
{
    const struct cli_option *lists[] = {verb->options, cli_common_options};
    jsonw_object(w, NULL);
    jsonw_string(w, "name", verb->name);
    jsonw_string(w, "line", verb->line);
    jsonw_string(w, "call", verb->call);
    jsonw_string(w, "about", verb->about);
    jsonw_string(w, "example", verb->example);
    jsonw_array(w, "options");
    for (size_t i = 0; i < 2; i++)
        for (const struct cli_option *o = lists[i]; o != NULL && o->name != NULL; o++) {
            jsonw_object(w, NULL);
            jsonw_string(w, "name", o->name);
            jsonw_string(w, "value", o->value);
            jsonw_string(w, "help", o->help);
            jsonw_bool(w, "repeatable", o->is_repeatable);
            jsonw_object_end(w);
        }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

void help_json(struct cli *ctx, const struct cli_verb *const *verbs)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "program", "mendwright");
    jsonw_string(&w, "version", MENDWRIGHT_VERSION);
    jsonw_string(&w, "job", job);
    jsonw_string(&w, "caution", caution);
    jsonw_array(&w, "verbs");
    for (; *verbs != NULL; verbs++) {
        write_verb(&w, *verbs);
        for (const struct cli_verb *const *k = (*verbs)->kinds; k != NULL && *k != NULL; k++)
            write_verb(&w, *k);
    }
    jsonw_array_end(&w);
    jsonw_array(&w, "exit");
    for (size_t i = 0; i < N_EXIT_CODES; i++) {
        jsonw_object(&w, NULL);
        jsonw_int(&w, "code", exit_codes[i].code);
        jsonw_string(&w, "meaning", exit_codes[i].meaning);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_object_end(&w);
}

/* verb_doctor: whether an installation is fit for work, line by line, each with what to do. */
#include "base/jsonw.h"
#include "cli/doctor.h"
#include "cli/moment.h"
#include "cli/verbs.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

void doctor_say(struct doctor *d, const char *check, enum doctor_state state, const char *cure,
                const char *fmt, ...)
{
    if (d->n == DOCTOR_LINES_MAX)
        return;
    struct doctor_line *line = &d->lines[d->n++];
    va_list ap;
    line->check = check;
    line->state = state;
    snprintf(line->cure, sizeof line->cure, "%s", cure != NULL ? cure : "");
    va_start(ap, fmt);
    vsnprintf(line->found, sizeof line->found, fmt, ap);
    va_end(ap);
}

static const char *const state_words[] = {"good", "warn", "bad"};

static size_t count(const struct doctor *d, enum doctor_state state)
{
    size_t n = 0;
    for (size_t i = 0; i < d->n; i++)
        n += d->lines[i].state == state;
    return n;
}

static void tell_json(struct cli *ctx, const struct doctor *d)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_bool(&w, "ok", count(d, DOCTOR_BAD) == 0);
    jsonw_string(&w, "version", MENDWRIGHT_VERSION);
    jsonw_int(&w, "bad", (int64_t)count(d, DOCTOR_BAD));
    jsonw_int(&w, "warn", (int64_t)count(d, DOCTOR_WARN));
    jsonw_array(&w, "checks");
    for (size_t i = 0; i < d->n; i++) {
        const struct doctor_line *line = &d->lines[i];
        jsonw_object(&w, NULL);
        jsonw_string(&w, "check", line->check);
        jsonw_string(&w, "state", state_words[line->state]);
        jsonw_string(&w, "found", line->found);
        jsonw_string(&w, "cure", line->cure[0] != '\0' ? line->cure : NULL);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

static void tell(struct cli *ctx, const struct doctor *d)
{
    static const enum cli_tone tones[] = {CLI_PLAIN, CLI_ACT, CLI_STOP};
    const size_t bad = count(d, DOCTOR_BAD), warn = count(d, DOCTOR_WARN);
    if (bad > 0)
        cli_verdict(ctx, CLI_STOP, "Not fit for work: %zu bad, %zu to look at.", bad, warn);
    else if (warn > 0)
        cli_verdict(ctx, CLI_ACT, "Fit for work; %zu to look at.", warn);
    else
        cli_verdict(ctx, CLI_STRONG, "Fit for work.");
    struct cli_table *t = cli_table_new("lll");
    static const char *const head[] = {"check", "state", "found"};
    cli_table_head(t, head);
    for (size_t i = 0; i < d->n; i++) {
        cli_table_cell(t, CLI_PLAIN, "%s", d->lines[i].check);
        cli_table_cell(t, tones[d->lines[i].state], "%s", state_words[d->lines[i].state]);
        cli_table_cell(t, CLI_PLAIN, "%s", d->lines[i].found);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    for (size_t i = 0; i < d->n; i++)
        if (d->lines[i].cure[0] != '\0')
            cli_say(ctx, 4, "%s: %s", d->lines[i].check, d->lines[i].cure);
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_doctor, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            return cli_error(ctx, "one word too many: '%.40s'", args[i].value);
    struct doctor *d = calloc(1, sizeof *d);
    if (d == NULL)
        return cli_fault(ctx, &(struct fault){.code = ERR_MEMORY, .message = "memory ran out"});
    d->store = cli_value(args, n, "--store");
    d->certificate = cli_value(args, n, "--certificate");
    d->key = cli_value(args, n, "--key");
    d->is_whole = cli_has(args, n, "--whole");
    d->now_ms = moment_now();
    int code = CLI_GOOD;
    if ((d->certificate == NULL) != (d->key == NULL))
        code = cli_error(ctx, "--certificate and --key go together");
    else if (d->is_whole && d->store == NULL)
        code = cli_error(ctx, "--whole needs --store");
    else {
        doctor_program(d);
        doctor_machine(d);
        doctor_store(d);
        doctor_tls(d);
        if (ctx->is_json)
            tell_json(ctx, d);
        else
            tell(ctx, d);
        code = count(d, DOCTOR_BAD) > 0    ? CLI_NO
               : count(d, DOCTOR_WARN) > 0 ? CLI_PERSON
                                           : CLI_GOOD;
    }
    free(d);
    return code;
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "a store as well: room, rights, clock, what it holds", false},
    {"--whole", NULL, "with --store: verify it from end to end, which reads everything", false},
    {"--certificate", "FILE", "the TLS certificate as well, as for `serve`; with --key", false},
    {"--key", "FILE", "its private key", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_doctor = {
    .name = "doctor",
    .line = "check an installation",
    .call = "doctor [--store FOLDER [--whole]] [--certificate FILE --key FILE]",
    .about =
        "Looks whether the program computes what is published, carries what it was built with and "
        "can read a photo in a child that is shut in; whether the machine has fonts for paper, a "
        "plausible clock and enough open files; and, where asked, at a store and at the TLS files. "
        "Each line is good, warn or bad, with what to do. Run it as the user that the server runs "
        "as. It changes nothing.\n\n"
        "Exit code: 0 all good, 1 something is bad, 4 something is to be looked at, 2 the call is "
        "wrong.",
    .example = "  $ mendwright doctor\n"
               "  [=] Fit for work.\n"
               "  ...\n",
    .options = options,
    .run = run,
};

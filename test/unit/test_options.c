/* options: how a call is split, and what is said when it is wrong. The dash conventions are POSIX.1-2017's utility
 * syntax guidelines (XBD 12.2: "--" ends options, "-" is standard input) and, for long options, common practice. */
#include "cli/cli.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct cli_option options[] = {
    {"--reading", "R", "the reading", false},
    {"--label", "L", "a label", true},
    {"--batch", NULL, "many", false},
    {"-o", "OUT", "where to", false},
    {NULL, NULL, NULL, false},
};
static const struct cli_verb verb = {.name = "test", .options = options};

enum { WORDS = 8 };

struct row {
    const char *words[WORDS];
    const char *
        wanted; /* name=value, a flag as name, an operand as :value; blank between; NULL: refused */
    const char *message;
};

static const struct row rows[] = {
    {{NULL}, "", NULL},
    {{"--reading", "5.4"}, "--reading=5.4", NULL},
    {{"--reading=5.4"}, "--reading=5.4", NULL},
    {{"--reading="}, "--reading=", NULL},
    {{"--reading=a=b"}, "--reading=a=b", NULL},
    {{"--reading", "-5.4"}, "--reading=-5.4", NULL},
    {{"--reading", "-1/16"}, "--reading=-1/16", NULL},
    {{"--reading", "-.5"}, "--reading=-.5", NULL},
    {{"--reading", ""}, "--reading=", NULL},
    {{"--reading", "-"}, "--reading=-", NULL},
    {{"-5.4"}, ":-5.4", NULL},
    {{"-"}, ":-", NULL},
    {{""}, ":", NULL},
    {{"a", "--batch", "b"}, ":a --batch :b", NULL},
    {{"--label", "x", "--label=y"}, "--label=x --label=y", NULL},
    {{"-o", "x"}, "-o=x", NULL},
    {{"--", "--batch", "-o"}, ":--batch :-o", NULL},
    {{"--reading=--low"}, "--reading=--low", NULL},
    {{"--json", "a"}, ":a", NULL},
    {{"--raeding", "5"}, NULL, "unknown option --raeding; did you mean --reading?"},
    {{"--raeding=5"}, NULL, "unknown option --raeding; did you mean --reading?"},
    {{"--jsno"}, NULL, "unknown option --jsno; did you mean --json?"},
    {{"--xyzzy"}, NULL, "unknown option --xyzzy; `mendwright test --help` lists what there is"},
    {{"-q"}, NULL, "unknown option -q; `mendwright test --help` lists what there is"},
    {{"-o=x"}, NULL, "unknown option -o=x; `mendwright test --help` lists what there is"},
    {{"--reading"}, NULL, "--reading needs a value: --reading R"},
    {{"--reading", "--batch"},
     NULL,
     "--reading needs a value; found --batch (a value that begins with a dash is written "
     "--reading=...)"},
    {{"--reading", "--"},
     NULL,
     "--reading needs a value; found -- (a value that begins with a dash is written "
     "--reading=...)"},
    {{"--batch=1"}, NULL, "--batch takes no value"},
    {{"--reading", "1", "--reading", "2"}, NULL, "--reading is given twice; expected it once"},
    {{"--batch", "--batch"}, NULL, "--batch is given twice; expected it once"},
    {{"--a\x1B[2J\n"},
     NULL,
     "unknown option --a?[2J?; `mendwright test --help` lists what there is"},
};

static FILE *errors;

/* What was written to stderr since the last call, without the closing line feed. */
static void take_errors(char *buf, size_t room)
{
    fflush(stderr);
    rewind(errors);
    const size_t n = fread(buf, 1, room - 1, errors);
    buf[n] = '\0';
    if (n > 0 && buf[n - 1] == '\n')
        buf[n - 1] = '\0';
    rewind(errors);
    if (ftruncate(fileno(errors), 0) != 0)
        abort();
    lseek(STDERR_FILENO, 0, SEEK_SET);
}

static void join(const struct cli_arg *args, int n, struct text *ret)
{
    text_puts(ret, "");
    for (int i = 0; i < n; i++) {
        text_puts(ret, i > 0 ? " " : "");
        if (args[i].name == NULL)
            text_printf(ret, ":%s", args[i].value);
        else
            text_printf(ret, "%s%s%s", args[i].name, args[i].value != NULL ? "=" : "",
                        args[i].value != NULL ? args[i].value : "");
    }
}

static void check_row(const struct row *r)
{
    char *argv[WORDS + 1] = {"test"};
    char copies[WORDS][64];
    int argc = 1;
    struct text what = {0};
    text_puts(&what, "test");
    for (; argc <= WORDS && r->words[argc - 1] != NULL; argc++) {
        snprintf(copies[argc - 1], sizeof copies[0], "%s", r->words[argc - 1]);
        argv[argc] = copies[argc - 1];
        text_printf(&what, " '%s'", argv[argc]);
    }
    text_clear(&what);
    for (int i = 0; i < argc; i++)
        text_printf(&what, "%s ", argv[i]);
    what.size = text_clean(what.data, what.size, false);

    struct cli ctx = {.verb = "test"};
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(&ctx, &verb, argc, argv, args);
    char found[512];
    char wanted[512] = "";
    struct text joined = {0};
    take_errors(found, sizeof found);
    join(args, n, &joined);
    if (r->message != NULL)
        snprintf(wanted, sizeof wanted, "mendwright test: %s", r->message);
    const bool is_good =
        strcmp(found, wanted) == 0 &&
        (r->wanted == NULL ? n == -1 : n >= 0 && strcmp(joined.data, r->wanted) == 0);
    if (!tap_ok(is_good, "%s: %s", what.data, r->wanted != NULL ? r->wanted : "refused"))
        tap_note("found %d '%s' and '%s'", n, joined.data, found);
    text_done(&joined);
    text_done(&what);
}

static void check_rest(void)
{
    struct cli ctx = {.verb = "test"};
    static char *argv[CLI_ARGS_MAX + 2];
    struct cli_arg args[CLI_ARGS_MAX];
    char found[512];
    for (size_t i = 0; i < sizeof argv / sizeof *argv; i++)
        argv[i] = "x";
    tap_ok(cli_options(&ctx, &verb, CLI_ARGS_MAX + 1, argv, args) == CLI_ARGS_MAX,
           "%d words are taken", (int)CLI_ARGS_MAX);
    tap_ok(cli_options(&ctx, &verb, CLI_ARGS_MAX + 2, argv, args) == -1, "one more is refused");
    take_errors(found, sizeof found);
    tap_ok(strcmp(found, "mendwright test: the call has more than 4096 words") == 0, "and said so");

    char *json[] = {"test", "--json"};
    tap_ok(cli_options(&ctx, &verb, 2, json, args) == 0 && ctx.is_json, "--json is kept aside");
    const struct cli_arg given[] = {
        {"--label", "a"}, {NULL, "op"}, {"--label", "b"}, {"--batch", NULL}};
    tap_ok(strcmp(cli_value(given, 4, "--label"), "b") == 0 &&
               cli_value(given, 4, "--reading") == NULL,
           "the last value counts; none is NULL");
    tap_ok(cli_has(given, 4, "--batch") && !cli_has(given, 3, "--batch"), "flags");

    struct fault f = {.code = ERR_IO, .file = "x.json"};
    fault_set(&f, ERR_IO, "no such file");
    tap_ok(cli_fault(&ctx, &f) == CLI_FAILED,
           "a file that cannot be read is exit 3 (command contract)");
    take_errors(found, sizeof found);
    tap_ok(strcmp(found, "mendwright test: x.json: no such file") == 0, "and named");
    fault_set(&f, ERR_SYNTAX, "found x");
    tap_ok(cli_fault(&ctx, &f) == CLI_WRONG, "wrong input is exit 2 (command contract)");
    take_errors(found, sizeof found);
    static const char *const known[] = {"fore", "aft"};
    tap_ok(cli_error_near(&ctx, "the station", "froe", known, 2, "expected fore or aft") ==
               CLI_WRONG,
           "an unknown id is exit 2");
    take_errors(found, sizeof found);
    tap_ok(strcmp(found,
                  "mendwright test: the station 'froe' is not known; did you mean 'fore'?") == 0,
           "with the nearest");
    cli_error_near(&ctx, "the station", "middle", known, 2, "expected fore or aft");
    take_errors(found, sizeof found);
    tap_ok(strcmp(found,
                  "mendwright test: the station 'middle' is not known; expected fore or aft") == 0,
           "or the hint");
}

int main(void)
{
    errors = tmpfile();
    if (errors == NULL || dup2(fileno(errors), STDERR_FILENO) < 0) {
        puts("Bail out! no scratch file");
        return 2;
    }
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check_row(&rows[i]);
    check_rest();
    return tap_done();
}

/* verb true: owns the call that asks what to move: which kind of file it is given, and the answer to
 * a problem file. The call by a bulletin is true_job.c. */
#include "base/file.h"
#include "base/jsonw.h"
#include "base/problem.h"
#include "cli/amount.h"
#include "cli/svg.h"
#include "cli/true_job.h"
#include "cli/true_json.h"
#include "cli/true_show.h"
#include "cli/verbs.h"

#include <string.h>

static const struct cli_option options[] = {
    {"--reading", "POINT=VALUE",
     "with a bulletin: what was read at a point; a bare number takes the unit of the point", true},
    {"--readings", "FILE",
     "with a bulletin: a list of readings, POINT VALUE or POINT=VALUE on each line, # begins a "
     "comment; - for standard input",
     false},
    {"--u", "POINT=U",
     "with a bulletin: the standard uncertainty of that reading; else it is that of the "
     "bulletin's instrument",
     true},
    {"--plans", "N", "how many plans to show, 1..8; else what the file says, else 3", false},
    {"--unit", "UNIT", "show amounts of its kind in this unit instead of the file's", false},
    {"--svg", "FILE", "also draw the opening, its readings and the first plan", false},
    {0},
};

static void print_json(struct cli *ctx, const struct problem *p, const struct truing_answer *a)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    true_json(&w, p, a, a->verdict);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

/* By its content: a problem is a JSON object. A list, nothing at all or what is no text is left to
 * its reader too, which says what is wrong with it. */
static bool is_problem(const struct text *text)
{
    size_t at = text->size >= 3 && memcmp(text->data, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    while (at < text->size && strchr(" \t\r\n", text->data[at]) != NULL && text->data[at] != '\0')
        at++;
    return at == text->size || !text_is_utf8(text->data, text->size, NULL) ||
           text->data[at] == '{' || text->data[at] == '[';
}

static int read_problem(const struct cli *ctx, const char *path, struct problem **ret)
{
    struct text text = {0};
    struct fault fault = {0};
    int code = CLI_GOOD;
    enum err e = file_read(path, PROBLEM_SIZE_MAX, &text, &fault);
    if (e == ERR_OK && text.data != NULL && !is_problem(&text))
        code = cli_error(ctx,
                         "%.200s: found no problem in JSON, which begins with {; with a bulletin, "
                         "expected --reading POINT=VALUE or --readings FILE",
                         path);
    else if (e == ERR_OK)
        e = problem_read(text.data ? text.data : "", text.size, path, ret, &fault);
    text_done(&text);
    return e == ERR_OK ? code : cli_fault(ctx, &fault);
}

/* --plans and --unit over what the file says. */
static int overrule(const struct cli *ctx, const struct cli_arg *args, int n, struct problem *p,
                    enum unit *ret_shown)
{
    const char *unit = cli_value(args, n, "--unit");
    *ret_shown = p->unit;
    int code = true_plans(ctx, args, n, &p->truing.n_plans);
    if (code != CLI_GOOD || !unit)
        return code;
    code = cli_read_unit(ctx, "--unit", unit, ret_shown);
    if (code == CLI_GOOD && quantity_unit_dim(*ret_shown) != quantity_unit_dim(p->unit))
        return cli_error(ctx, "--unit: found %s; expected a unit of the same kind as the file's %s",
                         unit, quantity_unit_name(p->unit));
    return code;
}

static void print_words(struct cli *ctx, const struct problem *p, const struct truing_answer *a,
                        enum unit shown)
{
    true_show_verdict(ctx, p, a, shown, "All readings are inside");
    if (*p->title)
        cli_say(ctx, 0, "%s", p->title);
    true_show_readings(ctx, p, a, shown);
    true_show_plans(ctx, p, a, shown);
}

static int answer_problem(struct cli *ctx, const struct cli_arg *args, int n, struct problem *p)
{
    enum unit shown = p->unit;
    struct truing_answer answer = {0};
    int code = overrule(ctx, args, n, p, &shown);
    if (code == CLI_GOOD)
        code = true_solve(ctx, p, 0.0, &answer); /* a file says its rule whole */
    if (code != CLI_GOOD)
        return code;
    if (ctx->is_json)
        print_json(ctx, p, &answer);
    else
        print_words(ctx, p, &answer, shown);
    const char *svg = cli_value(args, n, "--svg");
    code = svg != NULL ? svg_true(ctx, svg, p, &answer, shown, NULL) : CLI_GOOD;
    return code == CLI_GOOD ? true_exit(answer.verdict) : code;
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_true, argc, argv, args);
    const char *path = NULL;
    if (n < 0)
        return CLI_WRONG;
    const char *list = cli_value(args, n, "--readings");
    for (int i = 0; i < n && list; i++)
        if (!args[i].name && strcmp(args[i].value, "-") == 0 && strcmp(list, "-") == 0)
            return cli_error(ctx, "found - for the bulletin and for --readings; expected standard "
                                  "input for one of them");
    if (cli_value(args, n, "--reading") || list || cli_value(args, n, "--u"))
        return true_by_bulletin(ctx, args, n);
    for (int i = 0; i < n; i++) {
        if (args[i].name)
            continue;
        if (path)
            return cli_error(ctx, "'%.80s' is a second file; expected one", args[i].value);
        path = args[i].value;
    }
    if (!path)
        return cli_error(ctx, "no file; expected a bulletin with readings, a problem file, or - "
                              "for standard input");

    struct problem *p = NULL;
    int code = read_problem(ctx, path, &p);
    if (code != CLI_GOOD || !p)
        return code;
    code = answer_problem(ctx, args, n, p);
    problem_free(p);
    return code;
}

const struct cli_verb verb_true = {
    .name = "true",
    .line = "are the readings inside, and if not, what is moved so that they are?",
    .call = "true BULLETIN --readings FILE | true BULLETIN --reading POINT=VALUE [...] | true "
            "PROBLEM.json",
    .about =
        "Judges every reading by the bulletin's limits, its instrument's uncertainty and its rule: "
        "gaps, volts, amperes, seconds, torques, counts. Where adjusters reach the points that are "
        "outside, it finds what to move, in steps: the plan with the least worst violation, then "
        "the least time, then the greatest margin; exactly, in whole nanometres and seconds. "
        "Further plans move other adjusters.\n"
        "\n"
        "A plan needs every reading of its kind that adjusters reach: none is guessed, the missing "
        "ones are named. A problem without a bulletin can be given as JSON: points with readings "
        "and limits, adjusters with effects. The two are told apart by their content: a problem "
        "begins with {, and has its readings in itself.\n"
        "\n"
        "The plan is as good as the effects in the file: they come from the maker or from a trial "
        "move that was measured. Support what you loosen as its maker says.\n"
        "\n"
        "Exit 0 when all that was read is inside; 1 when any is outside; 4 when a reading is too "
        "near a limit to tell, or missing; 2 when a file, a reading or the call cannot be read.",
    .example =
        "  $ mendwright true examples/OV-26-03.yaml --readings examples/demo/gaps-first.txt\n"
        "  [>] Two of eight readings are outside; 12 min of work brings all inside (>99.9 %\n"
        "      sure).\n"
        "      OV-26-03 revision 2: Wall drive WD - racks slip out of step\n"
        "  ...\n"
        "  Plan 1, 12 min: all inside the guarded limits, 0.336 mm to spare, >99.9 % sure\n"
        "    fore-upper-packing  add  4 x 0.5 mm  -> +2 mm  12 min\n"
        "  ...\n"
        "\n"
        "  $ mendwright true examples/OV-26-03.yaml --reading supply-load=11.2 --reading leaks=0\n"
        "  [x] One of two readings is outside: supply-load.\n"
        "  ...\n"
        "  [>] supply-load: Low: charge the battery, then look for a thin or loose lead to\n"
        "      the motor.\n"
        "  ...\n"
        "\n"
        "  $ mendwright true examples/problems/wall-gaps.json --plans 1\n"
        "  [>] Two of eight readings are outside; 12 min of work brings all inside (97 %\n"
        "      sure).\n"
        "  ...\n"
        "  Proved: no allowed combination of moves does better.\n"
        "  ...",
    .options = options,
    .run = run,
};

/* verb conform: owns the call that judges one reading against its limits. */
#include "base/jsonw.h"
#include "cli/amount.h"
#include "cli/verbs.h"
#include "core/conform.h"
#include "core/normal.h"

#include <string.h>

static const struct cli_option options[] = {
    {"--reading", "R", "the value that was read, with or without a unit", false},
    {"--low", "L", "lowest value allowed; leave out when there is none", false},
    {"--high", "U", "highest value allowed; leave out when there is none", false},
    {"--u", "S", "standard uncertainty of the reading (0: exact)", false},
    {"--resolution", "A", "instead of --u: smallest step of the instrument; u = A / (2 sqrt 3)",
     false},
    {"--unit", "UNIT", "unit of bare numbers and of the answer; else the reading's, else mm",
     false},
    {"--risk", "P", "accepted risk at each limit, above 0 and up to 0.5; else 0.05", false},
    {0},
};

struct call {
    enum unit unit;
    int64_t reading;
    double u;
    struct conform_limits limits;
    double risk;
};

/* The unit of the whole call: --unit, else the one written with the reading, else mm. */
static int find_unit(const struct cli *ctx, const struct cli_arg *args, int n, enum unit *ret)
{
    const char *name = cli_value(args, n, "--unit");
    if (name)
        return cli_read_unit(ctx, "--unit", name, ret);
    const char *text = cli_value(args, n, "--reading");
    struct quantity q;
    size_t at = 0;
    *ret = quantity_parse(text, strlen(text), UNIT_N, &q, &at) == ERR_OK ? q.unit : UNIT_MM;
    return CLI_GOOD;
}

static int read_u(const struct cli *ctx, const struct cli_arg *args, int n, struct call *call)
{
    const char *u = cli_value(args, n, "--u"), *resolution = cli_value(args, n, "--resolution");
    if (!u == !resolution)
        return cli_error(ctx, "%s; expected one of them",
                         u ? "--u and --resolution are both given"
                           : "--u or --resolution is missing");
    if (u)
        return cli_read_u(ctx, "--u", u, call->unit, &call->u);
    int64_t step = 0;
    const int code = cli_read_amount(ctx, "--resolution", resolution, call->unit, &step);
    if (code != CLI_GOOD)
        return code;
    if (step <= 0)
        return cli_error(ctx, "--resolution: '%.80s'; expected more than 0", resolution);
    call->u = conform_combine((struct conform_u){.resolution = step});
    return CLI_GOOD;
}

static int read_call(const struct cli *ctx, const struct cli_arg *args, int n, struct call *call)
{
    *call = (struct call){.limits = {INT64_MIN, INT64_MAX}, .risk = 0.05};
    const char *low = cli_value(args, n, "--low"), *high = cli_value(args, n, "--high");
    const char *reading = cli_value(args, n, "--reading"), *risk = cli_value(args, n, "--risk");
    for (int i = 0; i < n; i++)
        if (!args[i].name)
            return cli_error(ctx, "'%.80s' stands alone; expected options such as --reading",
                             args[i].value);
    if (!reading)
        return cli_error(ctx, "--reading is missing; expected the value that was read");
    if (!low && !high)
        return cli_error(ctx, "--low and --high are missing; expected at least one limit");
    int code = find_unit(ctx, args, n, &call->unit);
    if (code == CLI_GOOD)
        code = cli_read_amount(ctx, "--reading", reading, call->unit, &call->reading);
    if (code == CLI_GOOD && low)
        code = cli_read_amount(ctx, "--low", low, call->unit, &call->limits.low);
    if (code == CLI_GOOD && high)
        code = cli_read_amount(ctx, "--high", high, call->unit, &call->limits.high);
    if (code == CLI_GOOD)
        code = read_u(ctx, args, n, call);
    if (code == CLI_GOOD && risk)
        code = cli_read_number(ctx, "--risk", risk, 0.0, 0.5, &call->risk);
    if (code == CLI_GOOD && call->risk == 0.0)
        code = cli_error(ctx, "--risk: found %s; expected more than 0 and up to 0.5", risk);
    return code;
}

static void print_json(struct cli *ctx, const struct call *c, const struct conform_answer *a)
{
    const double per_unit = (double)quantity_unit_nano(c->unit);
    const bool is_length = quantity_unit_dim(c->unit) == DIM_LENGTH;
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_double(&w, "p_conform", a->p_conform);
    jsonw_string(&w, "simple", conform_verdict_name(a->simple));
    jsonw_string(&w, "guarded", conform_verdict_name(a->guarded));
    /* z(1-risk) u as it is; guard_band_nm is it rounded up, which is what the verdict goes by. */
    jsonw_double(&w, "guard_band", -normal_quantile(c->risk) * c->u / per_unit);
    jsonw_double(&w, "margin", quantity_to_double(a->margin, c->unit));
    if (is_length) {
        jsonw_int(&w, "guard_band_nm", a->guard);
        jsonw_int(&w, "margin_nm", a->margin);
    }
    jsonw_double(&w, "u", c->u / per_unit);
    jsonw_double(&w, "risk", c->risk);
    jsonw_string(&w, "unit", quantity_unit_name(c->unit));
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

static void print_strip(struct cli *ctx, const struct call *c, const struct conform_answer *a)
{
    if (c->limits.low == INT64_MIN || c->limits.high == INT64_MAX)
        return;
    const double low = quantity_to_double(c->limits.low, c->unit);
    const double high = quantity_to_double(c->limits.high, c->unit);
    const struct cli_strip_values v = {
        .low = low,
        .high = high,
        .guard_low = quantity_to_double(a->guarded_limits.low, c->unit),
        .guard_high = quantity_to_double(a->guarded_limits.high, c->unit),
        .nominal = low + (high - low) / 2,
        .reading = quantity_to_double(c->reading, c->unit),
        .expanded_u = 2.0 * c->u / (double)quantity_unit_nano(c->unit),
    };
    char strip[CLI_STRIP_MAX];
    cli_strip_draw(strip, sizeof strip, ctx->columns - 4, &v);
    if (*strip)
        cli_say(ctx, 0, "    %s", strip);
}

static void print_verdict(struct cli *ctx, const struct call *c, const struct conform_answer *a)
{
    char reading[CLI_AMOUNT_SIZE], by[CLI_AMOUNT_SIZE], limit[CLI_AMOUNT_SIZE];
    const bool is_low = c->limits.low != INT64_MIN &&
                        (c->limits.high == INT64_MAX || c->reading - c->limits.low == a->margin);
    const int64_t margin = a->margin < 0 ? -a->margin : a->margin;
    cli_amount(c->reading, c->unit, reading);
    cli_amount(margin, c->unit, by);
    cli_amount(is_low ? c->limits.low : c->limits.high, c->unit, limit);
    const char *where = (a->margin < 0) == is_low ? "below" : "above";
    const char *end = is_low ? "lowest" : "highest";
    char place[4 * CLI_AMOUNT_SIZE];
    if (margin == 0)
        snprintf(place, sizeof place, "%s is right on the %s allowed", reading, end);
    else
        snprintf(place, sizeof place, "%s is %s %s the %s allowed, %s", reading, by, where, end,
                 limit);
    if (a->guarded == VERDICT_INSIDE)
        cli_verdict(ctx, CLI_STRONG, "Inside: %s.", place);
    else if (a->guarded == VERDICT_OUTSIDE)
        cli_verdict(ctx, CLI_STOP, "Outside: %s.", place);
    else
        cli_verdict(ctx, CLI_QUIET, "Uncertain: %s, too near to tell.", place);
}

static void print_text(struct cli *ctx, const struct call *c, const struct conform_answer *a)
{
    char guard[CLI_AMOUNT_SIZE], percent[CLI_AMOUNT_SIZE];
    print_verdict(ctx, c, a);
    print_strip(ctx, c, a);
    if (c->u == 0.0) {
        cli_say(ctx, 4, "The reading is taken as exact (u = 0).");
        return;
    }
    cli_say(ctx, 4,
            "Chance that the true value is within the limits: %s (u = %.3g %s). Guard band for a "
            "risk of "
            "%g %%: %s at each limit.",
            cli_percent(a->p_conform, percent), c->u / (double)quantity_unit_nano(c->unit),
            quantity_unit_name(c->unit), 100.0 * c->risk, cli_amount(a->guard, c->unit, guard));
}

static void print_next(struct cli *ctx, const struct conform_answer *a)
{
    if (a->guarded == VERDICT_INSIDE)
        return;
    text_putc(&ctx->out, '\n');
    cli_verdict(
        ctx, CLI_ACT, "%s",
        a->guarded == VERDICT_OUTSIDE
            ? "Measure once more to rule out a misreading, then correct it."
            : "Measure again with a finer instrument, or several times and take the mean: a "
              "smaller uncertainty makes the guard band smaller.");
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_conform, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    struct call call;
    const int code = read_call(ctx, args, n, &call);
    if (code != CLI_GOOD)
        return code;
    struct conform_answer answer;
    const enum err e = conform_judge(call.reading, call.u, call.limits, call.risk, &answer);
    if (e == ERR_ORDER)
        return cli_error(ctx, "--low '%s' lies above --high '%s'; expected low <= high",
                         cli_value(args, n, "--low"), cli_value(args, n, "--high"));
    if (e != ERR_OK)
        return cli_error(ctx, "reading, limits and uncertainty together: %s", err_text(e));
    if (ctx->is_json) {
        print_json(ctx, &call, &answer);
    } else {
        print_text(ctx, &call, &answer);
        print_next(ctx, &answer);
    }
    return answer.guarded == VERDICT_INSIDE    ? CLI_GOOD
           : answer.guarded == VERDICT_OUTSIDE ? CLI_NO
                                               : CLI_PERSON;
}

const struct cli_verb verb_conform = {
    .name = "conform",
    .line = "judge one reading against its limits, given its uncertainty",
    .call =
        "conform --reading R --low L --high U (--u S | --resolution A) [--unit mm] [--risk 0.05]",
    .about =
        "Says whether a reading is inside its limits. Each limit is moved inwards by a guard band, "
        "as wide as the "
        "accepted risk and the uncertainty ask for; between the two the answer is "
        "\"uncertain\".\n\n"
        "Amounts are written as on the job: 62.4, 62.4mm, 2 1/2 in, 1/8 in, 12.1 V. Not for "
        "averages of several "
        "readings unless --u is that of the mean. Exit status: 0 inside, 1 outside, 4 uncertain.",
    .example =
        "  $ mendwright conform --reading \"2 9/16 in\" --low \"2 3/8 in\" --high \"2 5/8 in\" --u "
        "0.02\n"
        "  [=] Inside: 2 9/16 in is 1/16 in below the highest allowed, 2 5/8 in.\n"
        "                  |::::::-------------------+---========v========::::|\n"
        "      Chance that the true value is within the limits: 99.9 % (u = 0.02 in). Guard\n"
        "      band for a risk of 5 %: 0.033 in at each limit.",
    .options = options,
    .run = run,
};

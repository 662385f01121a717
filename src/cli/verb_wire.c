/* verb_wire: owns the call that asks what a run of wire loses on the way to a motor, and which conductor is
 * the least for a given loss. */
#include "cli/amount.h"
#include "cli/verbs.h"
#include "cli/wire_job.h"

#include <string.h>

static const struct cli_option options[] = {
    {"--supply", "V", "voltage at the supply, under load, such as '12 V'", false},
    {"--current", "A", "what the motor draws at its hardest, such as '20 A'", false},
    {"--length", "L", "one way, supply to motor, with its unit: '25 ft', '7.5 m'", false},
    {"--size", "SIZE", "the conductor: '10 AWG', '2/0 AWG', '4 mm2'", false},
    {"--most", "LOSS", "greatest loss allowed: '3 %' of the supply, or '0.36 V'", false},
    {"--list", "awg|metric",
     "where to look for the least conductor; else as --size, else AWG for a length in feet or "
     "inches",
     false},
    {"--temperature", "T", "of the conductor, degrees Celsius; else 75", false},
    {"--stranded", NULL,
     "AWG: stranded, 2 % more than solid; mm2: IEC 60228 class 2, else class 5 (flexible)", false},
    {0},
};

enum { TEMPERATURE_C = 75 };

/* ---- the call ---- */

/* An amount whose unit must be written, because without one it could be two things. */
static int read_written(const struct cli *ctx, const char *option, const char *text, enum dim dim,
                        const char *expected, struct quantity *ret)
{
    size_t at = 0;
    const enum err e = quantity_parse(text, strlen(text), UNIT_N, ret, &at);
    if (e != ERR_OK)
        return cli_error(ctx, "%s: '%.80s': %s; expected %s", option, text, err_text(e), expected);
    if (ret->dim != dim)
        return cli_error(ctx, "%s: '%.80s' is given in %s; expected %s", option, text,
                         quantity_unit_name(ret->unit), expected);
    return CLI_GOOD;
}

/* An amount above 0 and up to `most` of the unit; a bare number takes it. */
static int read_positive(const struct cli *ctx, const char *option, const char *text,
                         enum unit unit, int most, int64_t *ret)
{
    if (text == NULL)
        return cli_error(ctx, "found no %s; expected an amount such as 12 %s", option,
                         quantity_unit_name(unit));
    const int code = cli_read_amount(ctx, option, text, unit, ret);
    if (code == CLI_GOOD && (*ret <= 0 || *ret > most * quantity_unit_nano(unit)))
        return cli_error(ctx, "%s: found '%.80s'; expected more than 0 and at most %d %s", option,
                         text, most, quantity_unit_name(unit));
    return code;
}

static int read_length(const struct cli *ctx, const char *text, struct wire_call *call)
{
    static const char expected[] = "the run one way with its unit, such as 25 ft or 7.5 m";
    struct quantity q;
    if (text == NULL)
        return cli_error(ctx, "found no --length; expected %s", expected);
    const int code = read_written(ctx, "--length", text, DIM_LENGTH, expected, &q);
    if (code != CLI_GOOD)
        return code;
    if (q.nano <= 0 || q.nano > WIRE_LENGTH_MAX_NM)
        return cli_error(ctx, "--length: found '%.80s'; expected more than 0 and at most 1 km",
                         text);
    call->load.one_way_nm = q.nano;
    call->length_unit = q.unit;
    return CLI_GOOD;
}

static int read_size(const struct cli *ctx, const char *text, bool is_stranded,
                     struct wire_call *call)
{
    size_t at = 0;
    switch (wire_parse(text, strlen(text), is_stranded, &call->wire, &at)) {
    case ERR_OK:
        call->has_size = true;
        return CLI_GOOD;
    case ERR_DOMAIN:
        return cli_error(ctx, "--size: found '%.80s'; expected a size from 24 AWG to 4/0 AWG",
                         text);
    case ERR_UNKNOWN:
        return cli_error(ctx,
                         "--size: found '%.80s'; expected a nominal area: 0.5, 0.75, 1, 1.5, 2.5, "
                         "4, 6, 10, 16, 25 or 35 mm2",
                         text);
    default:
        return cli_error(ctx,
                         "--size: '%.80s' cannot be read at character %zu; expected a size with "
                         "its unit, such as 10 AWG or 4 mm2",
                         text, at + 1);
    }
}

static bool ends_in(const char *text, const char *ending)
{
    const size_t n = strlen(text), n_ending = strlen(ending);
    return n >= n_ending && strcmp(text + n - n_ending, ending) == 0;
}

/* A plain number before an ending such as "%", which may be missing. */
static int read_ending(const struct cli *ctx, const char *option, const char *text,
                       const char *ending, double low, double high, double *ret)
{
    char number[80];
    size_t n = strlen(text);
    if (ends_in(text, ending))
        n -= strlen(ending);
    while (n > 0 && text[n - 1] == ' ')
        n--;
    snprintf(number, sizeof number, "%.*s", n < sizeof number ? (int)n : 0, text);
    return cli_read_number(ctx, option, number, low, high, ret);
}

static int read_temperature(const struct cli *ctx, const char *text, struct wire_call *call)
{
    const char *ending = ends_in(text, "degC")           ? "degC"
                         : ends_in(text, "\xC2\xB0\x43") ? "\xC2\xB0\x43"
                                                         : "C";
    return read_ending(ctx, "--temperature", text, ending, WIRE_TEMP_MIN_C, WIRE_TEMP_MAX_C,
                       &call->load.temp_c);
}

static int read_most(const struct cli *ctx, const char *text, struct wire_call *call)
{
    static const char expected[] = "a share such as '3 %' or a voltage such as '0.36 V'";
    struct quantity q;
    call->has_most = true;
    call->is_most_percent = ends_in(text, "%");
    if (call->is_most_percent) {
        const int code = read_ending(ctx, "--most", text, "%", 0, 100, &call->most_percent);
        call->most_v = call->load.supply_v * call->most_percent / 100.0;
        if (code == CLI_GOOD && !(call->most_percent > 0.0))
            return cli_error(ctx, "--most: found '%.80s'; expected more than 0 %%", text);
        return code;
    }
    const int code = read_written(ctx, "--most", text, DIM_VOLTAGE, expected, &q);
    if (code != CLI_GOOD)
        return code;
    if (q.nano <= 0 || q.nano > call->supply_nano)
        return cli_error(ctx, "--most: found '%.80s'; expected more than 0 and at most the supply",
                         text);
    call->most_v = (double)q.nano / (double)quantity_unit_nano(UNIT_V);
    call->most_percent = 100.0 * call->most_v / call->load.supply_v;
    return CLI_GOOD;
}

static bool is_metric(enum wire_kind kind)
{
    return kind == WIRE_MM2_STRANDED || kind == WIRE_MM2_FLEXIBLE;
}

static int read_list(const struct cli *ctx, const char *text, bool is_stranded,
                     struct wire_call *call)
{
    static const char *const known[] = {"awg", "metric"};
    bool is_in_mm2 = call->has_size ? is_metric(call->wire.kind)
                                    : call->length_unit != UNIT_FT && call->length_unit != UNIT_IN;
    if (text != NULL) {
        if (strcmp(text, known[0]) != 0 && strcmp(text, known[1]) != 0)
            return cli_error_near(ctx, "--list", text, known, 2, "expected awg or metric");
        is_in_mm2 = strcmp(text, known[1]) == 0;
    }
    call->list = is_in_mm2     ? is_stranded ? WIRE_MM2_STRANDED : WIRE_MM2_FLEXIBLE
                 : is_stranded ? WIRE_AWG_STRANDED
                               : WIRE_AWG_SOLID;
    return CLI_GOOD;
}

static int read_call(const struct cli *ctx, const struct cli_arg *args, int n,
                     struct wire_call *call)
{
    const char *size = cli_value(args, n, "--size"), *most = cli_value(args, n, "--most");
    const char *temperature = cli_value(args, n, "--temperature");
    const bool is_stranded = cli_has(args, n, "--stranded");
    *call = (struct wire_call){.load = {.temp_c = TEMPERATURE_C}};
    for (int i = 0; i < n; i++)
        if (!args[i].name)
            return cli_error(ctx, "'%.80s' stands alone; expected options such as --supply",
                             args[i].value);
    if (!size && !most)
        return cli_error(ctx, "found neither --size nor --most; expected a conductor, or the "
                              "greatest loss to find one for");
    int code = read_positive(ctx, "--supply", cli_value(args, n, "--supply"), UNIT_V, 1000,
                             &call->supply_nano);
    if (code == CLI_GOOD)
        code = read_positive(ctx, "--current", cli_value(args, n, "--current"), UNIT_A, 10000,
                             &call->current_nano);
    call->load.supply_v = quantity_to_double(call->supply_nano, UNIT_V);
    call->load.current_a = quantity_to_double(call->current_nano, UNIT_A);
    if (code == CLI_GOOD)
        code = read_length(ctx, cli_value(args, n, "--length"), call);
    if (code == CLI_GOOD && size)
        code = read_size(ctx, size, is_stranded, call);
    if (code == CLI_GOOD && temperature)
        code = read_temperature(ctx, temperature, call);
    if (code == CLI_GOOD && most)
        code = read_most(ctx, most, call);
    return code == CLI_GOOD ? read_list(ctx, cli_value(args, n, "--list"), is_stranded, call)
                            : code;
}

static enum err work_out(const struct wire_call *c, struct wire_answer *ret)
{
    *ret = (struct wire_answer){.is_within = true};
    if (c->has_size) {
        const enum err e = wire_drop(c->wire, &c->load, &ret->drop);
        if (e != ERR_OK)
            return e;
        ret->is_within = c->has_most ? ret->drop.drop_v <= c->most_v * (1.0 + WIRE_ROUNDING)
                                     : ret->drop.drop_v < c->load.supply_v;
    }
    if (!c->has_most)
        return ERR_OK;
    const enum err e = wire_least(c->list, &c->load, c->most_v * (1.0 + WIRE_ROUNDING), &ret->least,
                                  &ret->least_drop);
    ret->has_least = e == ERR_OK;
    if (!c->has_size)
        ret->is_within = ret->has_least;
    if (e != ERR_IMPOSSIBLE)
        return e;
    size_t i = 0;
    while (wire_listed(c->list, i,
                       &ret->least)) /* up to the thickest, to say what even that one loses */
        i++;
    return wire_drop(ret->least, &c->load, &ret->least_drop);
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct wire_call call;
    struct wire_answer answer;
    const int n = cli_options(ctx, &verb_wire, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    const int code = read_call(ctx, args, n, &call);
    if (code != CLI_GOOD)
        return code;
    const enum err e = work_out(&call, &answer);
    if (e != ERR_OK)
        return cli_error(ctx, "supply, current, length and size together: %s", err_text(e));
    if (ctx->is_json)
        wire_json(ctx, &call, &answer);
    else
        wire_words(ctx, &call, &answer);
    return answer.is_within ? CLI_GOOD : CLI_NO;
}

const struct cli_verb verb_wire = {
    .name = "wire",
    .line = "what does this run of wire lose on the way to the motor?",
    .call = "wire --supply V --current A --length L (--size SIZE | --most LOSS | both)",
    .about =
        "Tells the resistance of a run of copper wire and the voltage that is lost in it, there "
        "and "
        "back, and the least conductor for a greatest loss. Direct current only.\n"
        "\n"
        "It says nothing of how warm a conductor gets or how it is fused: that follows the maker's "
        "instructions and the local code, and the thicker of the two answers holds. Joints and "
        "terminals are not counted, and are often the larger part of a drop.\n"
        "\n"
        "Exit 0 when the loss is within --most, or no --most was given; 1 when it is not, when no "
        "listed conductor is thick enough, or when more would be lost than there is; 2 when the "
        "call "
        "cannot be read.",
    .example = "  $ mendwright wire --supply \"12 V\" --current \"20 A\" --length \"25 ft\" --size "
               "\"10 AWG\" --most \"3 %\"\n"
               "  [x] 1.21 V lost of 12 V (10.1 %): 10 AWG is too thin for 3 %; least is 4 AWG.\n"
               "      Taken: solid copper of the nominal AWG size (ASTM B258); conductor at\n"
               "      75 degC; 25 ft one way, counted there and back: 50 ft of wire; direct\n"
               "      current; joints, terminals, fuse, switch and a return through the frame are\n"
               "      not counted.\n"
               "\n"
               "      size       ohm  V lost     %  V left\n"
               "      -----------------------------------------------------\n"
               "      12 AWG  0.0966    1.93  16.1   10.07  too thin\n"
               "      10 AWG  0.0607    1.21  10.1   10.79  asked: too thin\n"
               "      8 AWG   0.0382    0.76   6.4   11.24  too thin\n"
               "      6 AWG   0.0240    0.48   4.0   11.52  too thin\n"
               "      4 AWG   0.0151    0.30   2.5   11.70  least\n"
               "      3 AWG   0.0120    0.24   2.0   11.76\n"
               "\n"
               "  [>] Take 4 AWG or thicker, or shorten the run.\n"
               "  [>] Measure at the motor's terminals while it works its hardest: less than is\n"
               "      left here points to a joint, a terminal or a ground.\n"
               "  ...\n",
    .options = options,
    .run = run,
};

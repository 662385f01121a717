/* verb_wire: owns the call that tells what a run of wire loses on the way to a motor, and which conductor is
 * the least for a given loss. */
#include "base/jsonw.h"
#include "cli/amount.h"
#include "cli/verbs.h"
#include "core/wire.h"

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

enum { TEMPERATURE_C = 75, NAME_SIZE = 16, LISTED_MAX = 24, FIGURE_SIZE = 32 };

/* Far below anything a conductor's tables can tell; it only forgives the last bit of a double. */
#define ROUNDING 1e-12

struct call {
    struct wire_load load;
    int64_t supply_nano, current_nano;
    enum unit length_unit;
    bool has_size, has_most, is_most_percent;
    struct wire wire;
    enum wire_kind list;
    double most_v, most_percent;
};

struct answer {
    struct wire_drop drop; /* with a size only */
    bool is_within;        /* the greatest loss; without one, what there is to lose */
    bool has_least; /* else `least` is the thickest that is listed, and still loses too much */
    struct wire least;
    struct wire_drop least_drop;
};

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

static int read_length(const struct cli *ctx, const char *text, struct call *call)
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

static int read_size(const struct cli *ctx, const char *text, bool is_stranded, struct call *call)
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

static int read_temperature(const struct cli *ctx, const char *text, struct call *call)
{
    const char *ending = ends_in(text, "degC")           ? "degC"
                         : ends_in(text, "\xC2\xB0\x43") ? "\xC2\xB0\x43"
                                                         : "C";
    return read_ending(ctx, "--temperature", text, ending, WIRE_TEMP_MIN_C, WIRE_TEMP_MAX_C,
                       &call->load.temp_c);
}

static int read_most(const struct cli *ctx, const char *text, struct call *call)
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

static int read_list(const struct cli *ctx, const char *text, bool is_stranded, struct call *call)
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

static int read_call(const struct cli *ctx, const struct cli_arg *args, int n, struct call *call)
{
    const char *size = cli_value(args, n, "--size"), *most = cli_value(args, n, "--most");
    const char *temperature = cli_value(args, n, "--temperature");
    const bool is_stranded = cli_has(args, n, "--stranded");
    *call = (struct call){.load = {.temp_c = TEMPERATURE_C}};
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

static enum err work_out(const struct call *c, struct answer *ret)
{
    *ret = (struct answer){.is_within = true};
    if (c->has_size) {
        const enum err e = wire_drop(c->wire, &c->load, &ret->drop);
        if (e != ERR_OK)
            return e;
        ret->is_within = c->has_most ? ret->drop.drop_v <= c->most_v * (1.0 + ROUNDING)
                                     : ret->drop.drop_v < c->load.supply_v;
    }
    if (!c->has_most)
        return ERR_OK;
    const enum err e =
        wire_least(c->list, &c->load, c->most_v * (1.0 + ROUNDING), &ret->least, &ret->least_drop);
    ret->has_least = e == ERR_OK;
    if (!c->has_size)
        ret->is_within = ret->has_least;
    if (e != ERR_IMPOSSIBLE)
        return e;
    for (size_t i = 0; wire_listed(c->list, i, &ret->least); i++)
        continue; /* up to the thickest, to say what even that one loses */
    return wire_drop(ret->least, &c->load, &ret->least_drop);
}

/* ---- what it rests on ---- */

static const char *kind_text(enum wire_kind kind)
{
    static const char *const texts[] = {
        [WIRE_AWG_SOLID] = "solid copper of the nominal AWG size (ASTM B258)",
        [WIRE_AWG_STRANDED] = "stranded copper of the nominal AWG size (ASTM B258; ASTM B8: 2 % "
                              "more than solid)",
        [WIRE_MM2_STRANDED] = "the greatest resistance that IEC 60228 allows a stranded conductor "
                              "(class 2, plain copper)",
        [WIRE_MM2_FLEXIBLE] = "the greatest resistance that IEC 60228 allows a flexible conductor "
                              "(class 5, plain copper)"};
    return texts[kind];
}

enum { ASSUMPTIONS = 4, ASSUMPTION_SIZE = 300 };

/* Sentences without full stop. */
static void assumptions(const struct call *c, char buf[ASSUMPTIONS][ASSUMPTION_SIZE])
{
    char one_way[CLI_AMOUNT_SIZE], both[CLI_AMOUNT_SIZE];
    const enum wire_kind kind = c->has_size ? c->wire.kind : c->list;
    const bool has_other = c->has_size && c->has_most && c->list != kind;
    snprintf(buf[0], sizeof buf[0], "%s%s%s", kind_text(kind), has_other ? "; the list: " : "",
             has_other ? kind_text(c->list) : "");
    snprintf(buf[1], sizeof buf[1], "conductor at %g degC", c->load.temp_c);
    snprintf(buf[2], sizeof buf[2],
             "%s one way, counted there and back: %s of wire; direct current",
             cli_amount(c->load.one_way_nm, c->length_unit, one_way),
             cli_amount(2 * c->load.one_way_nm, c->length_unit, both));
    snprintf(buf[3], sizeof buf[3],
             "joints, terminals, fuse, switch and a return through the frame are not counted");
}

static const char not_ampacity[] =
    "This is a voltage drop, not an ampacity calculation: it does not say whether the conductor "
    "stays "
    "cool enough, nor which fuse protects it. The size for heat and the fuse follow from the "
    "maker's "
    "instructions and the local code; the thicker of the two answers holds.";

/* ---- JSON ---- */

static void json_drop(struct jsonw *w, struct wire wire, const struct wire_drop *drop)
{
    char name[NAME_SIZE];
    wire_name(wire, name, sizeof name);
    jsonw_string(w, "size", name);
    jsonw_double(w, "resistance_ohm", drop->loop_ohm);
    jsonw_double(w, "drop_v", drop->drop_v);
    jsonw_double(w, "drop_percent", drop->percent);
    jsonw_double(w, "at_motor_v", drop->at_motor_v);
}

static void print_json(struct cli *ctx, const struct call *c, const struct answer *a)
{
    struct jsonw w;
    char texts[ASSUMPTIONS][ASSUMPTION_SIZE];
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_double(&w, "supply_v", c->load.supply_v);
    jsonw_double(&w, "current_a", c->load.current_a);
    jsonw_int(&w, "length_nm", c->load.one_way_nm);
    jsonw_double(&w, "temperature_c", c->load.temp_c);
    if (c->has_size)
        json_drop(&w, c->wire, &a->drop);
    if (c->has_most) {
        jsonw_double(&w, "most_v", c->most_v);
        jsonw_bool(&w, "within", a->is_within);
        if (a->has_least) {
            jsonw_object(&w, "least");
            json_drop(&w, a->least, &a->least_drop);
            jsonw_object_end(&w);
        } else {
            jsonw_null(&w, "least");
        }
    }
    assumptions(c, texts);
    jsonw_array(&w, "assumptions");
    for (size_t i = 0; i < ASSUMPTIONS; i++)
        jsonw_string(&w, NULL, texts[i]);
    jsonw_array_end(&w);
    jsonw_string(&w, "caution", not_ampacity);
    jsonw_object_end(&w);
}

/* ---- words ---- */

/* Two or more decimals (one or more of a percentage), so that a loss above the limit never reads like the
 * limit itself. limit 0: none. */
static const char *figure(double value, double limit, int decimals, char *buf)
{
    char other[FIGURE_SIZE];
    for (int more = 0; more <= 4; more++) {
        snprintf(buf, FIGURE_SIZE, "%.*f", decimals + more, value);
        snprintf(other, sizeof other, "%.*f", decimals + more, limit);
        if (limit <= 0.0 || value <= limit || strcmp(buf, other) != 0)
            break;
    }
    return buf;
}

static const char *most_text(const struct call *c, char *buf)
{
    snprintf(buf, FIGURE_SIZE, "%.6g %s", c->is_most_percent ? c->most_percent : c->most_v,
             c->is_most_percent ? "%" : "V");
    return buf;
}

/* "1.21 V lost of 12 V (10.1 %)" */
static const char *loss(const struct call *c, const struct wire_drop *d, char *buf, size_t room)
{
    char volt[FIGURE_SIZE], percent[FIGURE_SIZE], supply[CLI_AMOUNT_SIZE];
    const double most_v = c->has_most ? c->most_v : 0.0;
    const double most_percent = c->has_most ? c->most_percent : 0.0;
    snprintf(buf, room, "%s V lost of %s (%s %%)", figure(d->drop_v, most_v, 2, volt),
             cli_amount(c->supply_nano, UNIT_V, supply),
             figure(d->percent, most_percent, 1, percent));
    return buf;
}

static void say_verdict(struct cli *ctx, const struct call *c, const struct answer *a)
{
    char size[NAME_SIZE], least[NAME_SIZE], most[FIGURE_SIZE], lost[200];
    wire_name(c->has_size ? c->wire : a->least, size, sizeof size);
    wire_name(a->least, least, sizeof least);
    most_text(c, most);
    loss(c, c->has_size ? &a->drop : &a->least_drop, lost, sizeof lost);
    if (!c->has_size && a->has_least)
        cli_verdict(ctx, CLI_STRONG, "%s is the least for %s: %s.", least, most, lost);
    else if (!c->has_size)
        cli_verdict(ctx, CLI_STOP,
                    "No listed conductor is thick enough for %s: even %s loses %.3g V.", most,
                    least, a->least_drop.drop_v);
    else if (!c->has_most)
        cli_verdict(ctx, a->is_within ? CLI_STRONG : CLI_STOP, "%s in %s.", lost, size);
    else if (!a->has_least)
        cli_verdict(
            ctx, CLI_STOP,
            "%s: %s is too thin for %s, and so is every listed conductor; even %s loses %.3g V.",
            lost, size, most, least, a->least_drop.drop_v);
    else
        cli_verdict(ctx, a->is_within ? CLI_STRONG : CLI_STOP, "%s: %s is %s %s; least is %s.",
                    lost, size, a->is_within ? "within" : "too thin for", most, least);
}

struct listed {
    struct wire wire;
    struct wire_drop drop;
    bool is_asked, is_least;
};

static bool is_same(struct wire a, struct wire b)
{
    return a.kind == b.kind && a.awg == b.awg && a.area_mm2 == b.area_mm2;
}

/* The list with the asked size in its place, from thin to thick; returns how many. */
static size_t fill_list(const struct call *c, const struct answer *a, struct listed *rows)
{
    struct wire wire;
    size_t n = 0;
    bool is_in = !c->has_size;
    for (size_t i = 0; wire_listed(c->list, i, &wire) && n + 2 < LISTED_MAX; i++) {
        struct listed row = {.wire = wire};
        if (wire_drop(wire, &c->load, &row.drop) != ERR_OK)
            break;
        if (!is_in && row.drop.loop_ohm <= a->drop.loop_ohm) {
            is_in = true;
            if (is_same(wire, c->wire))
                row.is_asked = true;
            else
                rows[n++] = (struct listed){c->wire, a->drop, true, false};
        }
        row.is_least = a->has_least && is_same(wire, a->least);
        rows[n++] = row;
    }
    if (!is_in)
        rows[n++] = (struct listed){c->wire, a->drop, true, false};
    return n;
}

static const char *row_note(const struct call *c, const struct listed *row)
{
    const bool is_thin = c->has_most && row->drop.drop_v > c->most_v * (1.0 + ROUNDING);
    if (row->is_asked)
        return is_thin ? "asked: too thin" : row->is_least ? "asked, and least" : "asked";
    return is_thin ? "too thin" : row->is_least ? "least" : "";
}

/* From one size before the asked and the least one to one after both. */
static void say_table(struct cli *ctx, const struct call *c, const struct answer *a)
{
    static const char *const head[] = {"size", "ohm", "V lost", "%", "V left", ""};
    struct listed rows[LISTED_MAX];
    const size_t n = fill_list(c, a, rows);
    size_t first = n - 1, last = 0;
    for (size_t i = 0; i < n; i++)
        if (rows[i].is_asked || rows[i].is_least) {
            first = i < first ? i : first;
            last = i;
        }
    if (last < first) /* nothing asked, nothing thick enough: the thickest ones */
        last = n - 1;
    struct cli_table *t = cli_table_new("l....l");
    cli_table_head(t, head);
    for (size_t i = first > 0 ? first - 1 : 0; i < n && i <= last + 1; i++) {
        const struct listed *row = &rows[i];
        char name[NAME_SIZE];
        wire_name(row->wire, name, sizeof name);
        cli_table_cell(t, row->is_asked ? CLI_STRONG : CLI_PLAIN, "%s", name);
        cli_table_cell(t, CLI_PLAIN, "%.4f", row->drop.loop_ohm);
        cli_table_cell(t, CLI_PLAIN, "%.2f", row->drop.drop_v);
        cli_table_cell(t, CLI_PLAIN, "%.1f", row->drop.percent);
        cli_table_cell(t, CLI_PLAIN, "%.2f", row->drop.at_motor_v);
        cli_table_cell(t, row->is_least ? CLI_ACT : CLI_PLAIN, "%s", row_note(c, row));
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_next(struct cli *ctx, const struct call *c, const struct answer *a)
{
    char least[NAME_SIZE];
    wire_name(a->least, least, sizeof least);
    text_putc(&ctx->out, '\n');
    if (c->has_size && a->drop.drop_v >= c->load.supply_v)
        cli_say(ctx, 4,
                "So much current cannot flow through this run: the supply is too low for it.");
    if (!a->is_within && a->has_least)
        cli_verdict(ctx, CLI_ACT, "Take %s or thicker, or shorten the run.", least);
    else if (!a->is_within)
        cli_verdict(ctx, CLI_ACT, "Shorten the run, or ask the maker what loss the motor bears.");
    cli_verdict(
        ctx, CLI_ACT,
        "Measure at the motor's terminals while it works its hardest: less than is left here "
        "points to a joint, a terminal or a ground.");
}

static void say_caution(struct cli *ctx)
{
    text_putc(&ctx->out, '\n');
    cli_rule(ctx, 2, ctx->columns - 4);
    cli_say(ctx, 2, "CAUTION");
    cli_say(ctx, 2, "%s", not_ampacity);
    cli_say(
        ctx, 2,
        "Before a conductor is touched: disconnect the supply (battery, charger and mains), make "
        "it safe against coming back, and measure that it is dead. Fuse by the maker's "
        "instructions. Mains is for licensed people.");
    cli_rule(ctx, 2, ctx->columns - 4);
}

static void print_words(struct cli *ctx, const struct call *c, const struct answer *a)
{
    char texts[ASSUMPTIONS][ASSUMPTION_SIZE];
    say_verdict(ctx, c, a);
    assumptions(c, texts);
    cli_say(ctx, 4, "Taken: %s; %s; %s; %s.", texts[0], texts[1], texts[2], texts[3]);
    say_table(ctx, c, a);
    say_next(ctx, c, a);
    say_caution(ctx);
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call call;
    struct answer answer;
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
        print_json(ctx, &call, &answer);
    else
        print_words(ctx, &call, &answer);
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

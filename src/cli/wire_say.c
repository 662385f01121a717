/* wire_say: owns how the answer of the wire verb is said: as JSON, and in words with the neighbouring sizes. */
#include "cli/wire_job.h"

#include "base/jsonw.h"
#include "cli/amount.h"

#include <string.h>

enum { NAME_SIZE = 16, LISTED_MAX = 24, FIGURE_SIZE = 32 };

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
static void assumptions(const struct wire_call *c, char buf[ASSUMPTIONS][ASSUMPTION_SIZE])
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

void wire_json(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a)
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

static const char *most_text(const struct wire_call *c, char *buf)
{
    snprintf(buf, FIGURE_SIZE, "%.6g %s", c->is_most_percent ? c->most_percent : c->most_v,
             c->is_most_percent ? "%" : "V");
    return buf;
}

/* "1.21 V lost of 12 V (10.1 %)" */
static const char *loss(const struct wire_call *c, const struct wire_drop *d, char *buf,
                        size_t room)
{
    char volt[FIGURE_SIZE], percent[FIGURE_SIZE], supply[CLI_AMOUNT_SIZE];
    const double most_v = c->has_most ? c->most_v : 0.0;
    const double most_percent = c->has_most ? c->most_percent : 0.0;
    snprintf(buf, room, "%s V lost of %s (%s %%)", figure(d->drop_v, most_v, 2, volt),
             cli_amount(c->supply_nano, UNIT_V, supply),
             figure(d->percent, most_percent, 1, percent));
    return buf;
}

static void say_verdict(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a)
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
static size_t fill_list(const struct wire_call *c, const struct wire_answer *a, struct listed *rows)
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

static const char *row_note(const struct wire_call *c, const struct listed *row)
{
    const bool is_thin = c->has_most && row->drop.drop_v > c->most_v * (1.0 + WIRE_ROUNDING);
    if (row->is_asked)
        return is_thin ? "asked: too thin" : row->is_least ? "asked, and least" : "asked";
    return is_thin ? "too thin" : row->is_least ? "least" : "";
}

/* From one size before the asked and the least one to one after both. */
static void say_table(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a)
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

static void say_next(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a)
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

void wire_words(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a)
{
    char texts[ASSUMPTIONS][ASSUMPTION_SIZE];
    say_verdict(ctx, c, a);
    assumptions(c, texts);
    cli_say(ctx, 4, "Taken: %s; %s; %s; %s.", texts[0], texts[1], texts[2], texts[3]);
    say_table(ctx, c, a);
    say_next(ctx, c, a);
    say_caution(ctx);
}

/* term, strip, options: what stands in which column. Expected pictures are drawn by hand from the rules in cli.h. */
#include "cli/cli.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct cli ctx;

static void expect(const char *wanted, const char *what)
{
    const char *found = ctx.out.data != NULL ? ctx.out.data : "";
    if (!tap_ok(strcmp(found, wanted) == 0 && !ctx.out.is_broken, "%s", what))
        tap_note("found\n%s# expected\n%s", found, wanted);
    text_done(&ctx.out);
}

static void start(int columns, bool has_colour)
{
    ctx = (struct cli){.verb = "test", .columns = columns, .has_colour = has_colour};
}

/* ---- text ---------------------------------------------------------------------------------- */

/* Sixty columns end inside every amount below. Counted by hand. */
static void check_glue(void)
{
    start(60, false);
    cli_say(&ctx, 0, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee ffff 61 mm.");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee ffff\n61 mm.\n",
           "a figure and its unit stay together");
    start(60, false);
    cli_say(&ctx, 0, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeee 46 33/64 in");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeee 46 33/64 in\n",
           "whole inches, fraction and unit, where they just fit");
    start(60, false);
    cli_say(&ctx, 0, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee 46 33/64 in");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee\n46 33/64 in\n",
           "and where they do not: never taken apart");
    start(60, false);
    cli_say(&ctx, 0, "%s", "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffff 10 % g");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffff 10 %\ng\n",
           "per cent counts as a unit");
    start(60, false);
    cli_say(&ctx, 0, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffff 12 teeth");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffff 12\nteeth\n",
           "other words may be parted from a figure");
}

static void check_say(void)
{
    start(60, false);
    cli_say(&ctx, 0, "%s", "");
    expect("\n", "an empty paragraph is an empty line");
    start(60, false);
    cli_say(&ctx, 2, "one\n\ntwo");
    expect("  one\n\n  two\n", "line feeds end lines; empty lines hold no blanks");
    start(60, false);
    cli_say(&ctx, 0, "ends\n");
    expect("ends\n", "a closing line feed is not doubled");
    start(60, false);
    cli_say(&ctx, 2, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffffffff ggggggggg");
    expect("  aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee\n  fffffffff ggggggggg\n",
           "wraps between words before column 60");
    start(60, false);
    cli_say(&ctx, 0, "%s", "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee ffffffffff g");
    expect("aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee ffffffffff\ng\n",
           "a line of exactly 60 columns is not broken earlier");
    start(60, false);
    cli_say(&ctx, 0, "%s",
            "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9 bbbbbbbbb "
            "ccccccccc "
            "ddddddddd eeeeeeeee ffffffffff g");
    expect("\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9 bbbbbbbbb "
           "ccccccccc ddddddddd "
           "eeeeeeeee ffffffffff\ng\n",
           "columns are counted, not bytes");
    start(60, false);
    cli_say(&ctx, 0,
            "x\n    kept as it stands, however long it may be, since it begins with a blank");
    expect("x\n    kept as it stands, however long it may be, since it begins with a blank\n",
           "a line that begins with a blank is kept");
    start(60, false);
    cli_say(&ctx, 0, "%0100d next", 0);
    tap_ok(strncmp(ctx.out.data + 100, "\nnext\n", 6) == 0,
           "a word wider than the line stands alone");
    text_done(&ctx.out);
    check_glue();
    start(60, false);
    cli_say(&ctx, 0, "a\x1B[31mb");
    expect("a?[31mb\n", "no escape sequence gets through");
}

static void check_verdict(void)
{
    static const struct {
        enum cli_tone tone;
        const char *wanted;
    } rows[] = {
        {CLI_STOP, "[x] Outside\n"},  {CLI_ACT, "[>] Outside\n"}, {CLI_STRONG, "[=] Outside\n"},
        {CLI_QUIET, "[?] Outside\n"}, {CLI_PLAIN, "Outside\n"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        start(60, false);
        cli_verdict(&ctx, rows[i].tone, "Outside");
        expect(rows[i].wanted, "the verdict's shape, without colour");
    }
    start(60, false);
    cli_verdict(&ctx, CLI_STOP, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee ffffffffff");
    expect("[x] aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee\n    ffffffffff\n",
           "a long verdict hangs under its first word");
    start(60, true);
    cli_verdict(&ctx, CLI_STOP, "No");
    tap_ok(strstr(ctx.out.data, "[x]") != NULL && strstr(ctx.out.data, "No") != NULL &&
               strchr(ctx.out.data, '\033') != NULL,
           "with colour, shape and words are still there");
    text_done(&ctx.out);
}

/* ---- tables -------------------------------------------------------------------------------- */

static void check_tables(void)
{
    static const char *const head[] = {"point", "reading", "verdict"};
    start(60, false);
    struct cli_table *t = cli_table_new("l.l");
    cli_table_head(t, head);
    static const char *const cells[][3] = {{"fore-upper", "62.4 mm", "outside"},
                                           {"aft", "8 mm", "inside"},
                                           {"x", "-10.25 mm", ""},
                                           {"", "none", "unknown"}};
    for (size_t i = 0; i < 4; i++)
        for (size_t k = 0; k < 3; k++)
            cli_table_cell(t, CLI_PLAIN, "%s", cells[i][k]);
    cli_table_print(t, &ctx, 2);
    cli_table_free(t);
    /* By hand: left of the point 3 columns (-10), right of it 6 (.25 mm), so 9; 10 + 2 + 9 + 2 + 7 = 30. */
    expect(
        "  point         reading  verdict\n"
        "  ------------------------------\n"
        "  fore-upper   62.4 mm   outside\n"
        "  aft           8 mm     inside\n"
        "  x           -10.25 mm\n"
        "                   none  unknown\n",
        "figures align at the point, words without figures at the right, no line ends in blanks");

    start(60, false);
    t = cli_table_new("rl");
    cli_table_cell(t, CLI_PLAIN, "7");
    cli_table_cell(t, CLI_PLAIN, "aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee fffffffff ggg");
    cli_table_cell(t, CLI_PLAIN, "12");
    cli_table_cell(t, CLI_PLAIN, "short");
    cli_table_print(t, &ctx, 0);
    cli_table_free(t);
    expect(" 7  aaaaaaaaa bbbbbbbbb ccccccccc ddddddddd eeeeeeeee\n"
           "    fffffffff ggg\n"
           "12  short\n",
           "the last column folds under itself");

    start(60, false);
    t = cli_table_new("lr");
    cli_table_cell(t, CLI_PLAIN, "\xE6\xBC\xA2");
    cli_table_cell(t, CLI_PLAIN, "1");
    cli_table_cell(t, CLI_PLAIN, "abc\n\x1B");
    cli_table_cell(t, CLI_PLAIN, "22");
    cli_table_print(t, &ctx, 0);
    cli_table_free(t);
    expect("\xE6\xBC\xA2      1\nabc??  22\n",
           "wide characters take two columns; controls become ?");

    start(60, true);
    t = cli_table_new("ll");
    cli_table_cell(t, CLI_STOP, "no");
    cli_table_cell(t, CLI_PLAIN, "b");
    cli_table_cell(t, CLI_PLAIN, "word");
    cli_table_cell(t, CLI_PLAIN, "b");
    cli_table_print(t, &ctx, 0);
    cli_table_free(t);
    expect("\033[1;38;5;166mno\033[0m    b\nword  b\n", "colour takes no columns");

    static const char *const wide[] = {"rack", "a heading of thirty-one columns", "stock", ""};
    start(60, false);
    t = cli_table_new("llrl");
    cli_table_head(t, wide);
    cli_table_cell(t, CLI_PLAIN, "inboard");
    cli_table_cell(t, CLI_PLAIN, "one");
    cli_table_cell(t, CLI_PLAIN, "1480 mm");
    cli_table_cell(t, CLI_PLAIN, "a remark of twenty-nine columns");
    cli_table_cell(t, CLI_PLAIN, "outboard");
    cli_table_cell(t, CLI_PLAIN, "%s", "");
    cli_table_cell(t, CLI_PLAIN, "1500 mm");
    cli_table_cell(t, CLI_PLAIN, "%s", "");
    cli_table_print(t, &ctx, 2);
    cli_table_free(t);
    expect("  inboard\n"
           "    a heading of thirty-one columns one; stock 1480 mm; a\n"
           "    remark of twenty-nine columns\n"
           "  outboard\n"
           "    stock 1500 mm\n",
           "a table too wide for the terminal is told row by row, under its headings");

    start(60, false);
    tap_ok(cli_table_new("") == NULL && cli_table_new("lllllllllllll") == NULL,
           "no columns or 13 are refused");
    cli_table_cell(NULL, CLI_PLAIN, "x");
    cli_table_head(NULL, head);
    cli_table_free(NULL);
    cli_table_print(NULL, &ctx, 0);
    tap_ok(ctx.out.is_broken,
           "a table that could not be made breaks the answer instead of leaving it out");
    text_done(&ctx.out);
}

/* ---- the strip ----------------------------------------------------------------------------- */

struct strip_row {
    const char *what;
    struct cli_strip_values v;
    const char *wanted;
};

/* 24 columns: limits at columns 4 and 19, so 0..15 is one a column and column = 4 + value. Counted by hand from that. */
static const struct strip_row strip_rows[] = {
    {"inside", {0, 15, 0, 15, 7, 3, 0}, "    |--v---+-------|"},
    {"guard bands hatched up to the guarded limits",
     {0, 15, 3, 12, 7, 5, 0},
     "    |::--v-+-----::|"},
    {"on the nominal the wedge wins", {0, 15, 0, 15, 7, 7, 0}, "    |------v-------|"},
    {"on a limit", {0, 15, 0, 15, 7, 0, 0}, "    v------+-------|"},
    {"outside to scale: 2 above", {0, 15, 0, 15, 7, 17, 0}, "    |------+-------| v"},
    {"outside to scale: 3 below", {0, 15, 0, 15, 7, -3, 0}, " v  |------+-------|"},
    {"just above: never on the limit's column",
     {0, 15, 0, 15, 7, 15.01, 0},
     "    |------+-------|v"},
    {"just below: never on the limit's column",
     {0, 15, 0, 15, 7, -0.01, 0},
     "   v|------+-------|"},
    {"just inside: never past the limit", {0, 15, 0, 15, 7, 14.99, 0}, "    |------+-------v"},
    {"too far above: arrow and distance", {0, 15, 0, 15, 7, 24, 0}, "    |------+-------|  9>"},
    {"too far below: arrow and distance", {0, 15, 0, 15, 7, -9, 0}, "<9  |------+-------|"},
    {"no room for the distance: arrow alone", {0, 15, 0, 15, 7, -12.5, 0}, "<   |------+-------|"},
    {"far beyond what can be said: arrow alone",
     {0, 15, 0, 15, 7, 123456, 0},
     "    |------+-------|   >"},
    {"uncertainty as a bar", {0, 15, 0, 15, 7, 3, 2}, "    |==v==-+-------|"},
    {"a bar over a limit leaves it visible", {0, 15, 0, 15, 7, 14, 3}, "    |------+---===v|=="},
    {"no nominal within the limits: no tick", {0, 15, 0, 15, 20, 3, 0}, "    |--v-----------|"},
    {"reading unknown: the frame alone", {0, 15, 0, 15, 7, NAN, 0}, "    |------+-------|"},
    {"limits in the wrong order: nothing", {15, 0, 15, 0, 7, 3, 0}, ""},
    {"limits that are one: nothing", {5, 5, 5, 5, 5, 5, 0}, ""},
    {"no upper limit: nothing", {0, INFINITY, 0, INFINITY, 7, 3, 0}, ""},
};

static void check_strips(void)
{
    char buf[CLI_STRIP_MAX];
    setenv("LC_ALL", "C", 1);
    for (size_t i = 0; i < sizeof strip_rows / sizeof *strip_rows; i++) {
        cli_strip_draw(buf, sizeof buf, 24, &strip_rows[i].v);
        if (!tap_ok(strcmp(buf, strip_rows[i].wanted) == 0, "strip: %s", strip_rows[i].what))
            tap_note("found '%s', expected '%s'", buf, strip_rows[i].wanted);
    }
    cli_strip(buf, sizeof buf, 24, 0, 15, 3, 12, 7, 5);
    tap_ok(strcmp(buf, "    |::--v-+-----::|") == 0, "strip: the short form draws the same");
    setenv("LC_ALL", "de_DE.UTF-8", 1);
    cli_strip(buf, sizeof buf, 24, 0, 15, 3, 12, 7, 5);
    tap_ok(text_is_utf8(buf, strlen(buf), NULL) && text_columns(buf, strlen(buf)) == 20 &&
               strlen(buf) > 40,
           "strip: in UTF-8 other shapes, the same columns");
    bool is_good = true;
    for (size_t room = 0; room < 70; room++) {
        memset(buf, '!', 80);
        cli_strip(buf, room, 24, 0, 15, 3, 12, 7, 5);
        is_good &= buf[room] == '!' && (room == 0 || text_is_utf8(buf, strlen(buf), NULL));
    }
    tap_ok(is_good, "strip: cut to any room, never within a character");
    setenv("LC_ALL", "C", 1);
    for (int width = -5; width < 200; width += 5) {
        cli_strip(buf, sizeof buf, width, 0, 1, 0.1, 0.9, 0.5, 1e9);
        is_good &= strlen(buf) >= 12 && strlen(buf) <= 120;
    }
    tap_ok(is_good, "strip: any width is held to 12..120");
}

static void check_locale(void)
{
    static const struct {
        const char *all, *ctype, *lang;
        bool is_utf8;
    } rows[] = {
        {"", "", "", false},
        {"", "", "C.UTF-8", true},
        {"", "", "en_GB.utf8", true},
        {"C", "", "C.UTF-8", false},
        {"", "C", "C.UTF-8", false},
        {"de_DE.UTF-8", "C", "C", true},
        {"", "", "de_DE.ISO-8859-1", false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        setenv("LC_ALL", rows[i].all, 1);
        setenv("LC_CTYPE", rows[i].ctype, 1);
        setenv("LANG", rows[i].lang, 1);
        tap_ok(cli_is_utf8() == rows[i].is_utf8,
               "LC_ALL '%s', LC_CTYPE '%s', LANG '%s' (POSIX.1-2017, XBD 8.2)", rows[i].all,
               rows[i].ctype, rows[i].lang);
    }
}

int main(void)
{
    setenv("LC_ALL", "C", 1);
    check_say();
    check_verdict();
    check_tables();
    check_strips();
    check_locale();
    return tap_done();
}

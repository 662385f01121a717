/* Rows for base/problem: what a good file gives, and for each fault the code, the path and a piece of the message. Amounts
 * are checked by hand from 1 in = 25.4 mm (international yard and pound agreement, 1959). */
#include "base/problem.h"
#include "base/text.h"
#include "tap.h"

#include <inttypes.h>
#include <string.h>

static enum err read_text(const char *text, struct problem **ret, struct fault *f)
{
    *ret = NULL;
    return problem_read(text, strlen(text), "test.json", ret, f);
}

static void full_file(void)
{
    static const char text[] =
        "\xEF\xBB\xBF{\"title\":\"T\",\"note\":\"invented\",\"unit\":\"mm\",\"points\":["
        "{\"id\":\"a\",\"nominal\":58,\"low\":56,\"high\":61,\"reading\":62.4,\"u\":0.3,"
        "\"factors\":{\"side\":1}},"
        "{\"id\":\"b\",\"low\":\"2 1/4 in\",\"high\":null,\"reading\":\"2 1/2 "
        "in\",\"factors\":{\"side\":-1},\"note\":\"n\"}],"
        "\"adjusters\":[{\"id\":\"p\",\"step\":0.5,\"min\":-6,\"max\":6.0,\"setup_s\":600,\"step_"
        "s\":30,"
        "\"effect\":{\"b\":\"-1/64 in\",\"a\":-0.5}}],"
        "\"rule\":{\"guard\":\"risk\",\"risk\":0.05},\"plans\":2}\r\n";
    struct problem *p = NULL;
    struct fault f = {0};
    const enum err e = read_text(text, &p, &f);
    if (!tap_ok(e == ERR_OK, "a full file with BOM and CRLF is read")) {
        tap_note("%s: %s", f.path, f.message);
        return;
    }
    tap_ok(p->unit == UNIT_MM && strcmp(p->title, "T") == 0, "unit and title");
    tap_ok(p->truing.n_points == 2 && p->truing.n_adjusters == 1, "two points, one adjuster");
    tap_ok(p->points[0].reading == 62400000 && p->points[0].nominal == 58000000,
           "62.4 mm is 62 400 000 nm, not a neighbour");
    tap_ok(p->points[0].low == 56000000 && p->points[0].high == 61000000 &&
               p->points[0].u == 300000.0,
           "limits and u in nm");
    tap_ok(p->points[1].reading == 63500000 && p->points[1].low == 57150000,
           "2 1/2 in is 63.5 mm, 2 1/4 in is 57.15 mm");
    tap_ok(p->points[1].high == INT64_MAX, "null is no limit");
    tap_ok(p->points[1].nominal == 57150000, "nominal of a one-sided point is its limit (header)");
    tap_ok(p->points[1].u == 0.0, "no u is exact (header)");
    tap_ok(p->effect[0] == -500000 && p->effect[1] == -396875,
           "effects by point: -0.5 mm, and -1/64 in is -396 875 nm");
    tap_ok(p->adjusters[0].min == -6 && p->adjusters[0].max == 6 &&
               p->adjusters[0].setup_s == 600 && p->adjusters[0].step_s == 30 &&
               p->step[0] == 500000,
           "steps and seconds; 6.0 is a whole number");
    tap_ok(p->truing.has_guard && p->truing.risk == 0.05 && p->truing.n_plans == 2,
           "rule and plans");
    tap_ok(p->n_effects == 2 && p->n_factors == 1 && strcmp(p->factor[0], "side") == 0 &&
               !p->effects_note,
           "one factor over two points: effects");
    tap_ok(p->effects[0].sum == 4400000 + 6350000 && p->effects[1].sum == 4400000 - 6350000,
           "sums of the deviations 4.4 and 6.35 mm (by hand)");
    problem_free(p);
}

/* The shortest file that is right; %s in `points` and so on are filled by rows below. */
#define POINT "{\"id\":\"a\",\"low\":1,\"high\":4,\"reading\":5}"
#define ADJUSTER                                                                                   \
    "{\"id\":\"p\",\"min\":-1,\"max\":1,\"setup_s\":1,\"step_s\":1,\"effect\":{\"a\":1}}"
#define FILE_OF(unit, points, adjusters, rest)                                                     \
    "{\"unit\":" unit ",\"points\":" points ",\"adjusters\":" adjusters rest "}"
#define WITH_POINT(members)    FILE_OF("\"mm\"", "[{" members "}]", "[]", "")
#define WITH_ADJUSTER(members) FILE_OF("\"mm\"", "[" POINT "]", "[{" members "}]", "")
#define WITH(rest)             FILE_OF("\"mm\"", "[" POINT "]", "[" ADJUSTER "]", rest)

static void defaults(void)
{
    struct problem *p = NULL;
    struct fault f = {0};
    tap_ok(read_text(WITH(""), &p, &f) == ERR_OK, "the shortest file is read");
    if (!p)
        return;
    tap_ok(p->points[0].nominal == 2500000, "nominal is the middle of the limits");
    tap_ok(!p->truing.has_guard && p->truing.n_plans == 3, "no guard, three plans");
    tap_ok(p->n_effects == 0 && p->effects_note && strstr(p->effects_note, "no point names"),
           "no effects, and why");
    problem_free(p);
    tap_ok(read_text(WITH(",\"rule\":{\"guard\":\"none\"}"), &p, &f) == ERR_OK &&
               !p->truing.has_guard,
           "guard \"none\"");
    problem_free(p);
    tap_ok(read_text(FILE_OF("\"V\"", "[{\"id\":\"supply\",\"low\":11.5,\"reading\":\"12100 mV\"}]",
                             "[]", ""),
                     &p, &f) == ERR_OK &&
               p->points[0].reading == 12100000000 && p->points[0].low == 11500000000,
           "volts work as lengths do, in nano");
    problem_free(p);
    tap_ok(
        read_text(FILE_OF("\"mm\"", "[{\"id\":\"a\",\"low\":-4,\"high\":-1.000001,\"reading\":0}]",
                          "[]", ""),
                  &p, &f) == ERR_OK &&
            p->points[0].nominal == -2500001,
        "a middle of -2 500 000.5 nm is rounded down");
    problem_free(p);
}

static void effects_notes(void)
{
    static const struct {
        const char *one, *two, *note;
    } rows[] = {
        {"{\"side\":1}", "{\"side\":1}", "every combination"},
        {"{\"side\":1}", "{\"height\":-1}", "same factors"},
        {"{\"side\":1}", "{}", "same factors"},
        {"{}", "{\"side\":1}", "same factors"},
        {"{\"side\":1,\"height\":1}", "{\"height\":-1,\"side\":-1}", "every combination"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct text t = {0};
        text_printf(&t,
                    "{\"unit\":\"mm\",\"adjusters\":[],\"points\":["
                    "{\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":%s},"
                    "{\"id\":\"b\",\"low\":1,\"reading\":1,\"factors\":%s}]}",
                    rows[i].one, rows[i].two);
        struct problem *p = NULL;
        struct fault f = {0};
        const bool is_read = read_text(t.data, &p, &f) == ERR_OK;
        tap_ok(is_read && p->n_effects == 0 && strstr(p->effects_note, rows[i].note),
               "factors %s and %s: no effects, \"...%s...\"", rows[i].one, rows[i].two,
               rows[i].note);
        problem_free(p);
        text_done(&t);
    }
}

static void refusals(void)
{
    static const struct {
        const char *text;
        enum err e;
        const char *path, *piece;
    } rows[] = {
        {"[]", ERR_TYPE, "", "expected an object"},
        {"{}", ERR_EMPTY, "unit", "missing"},
        {"{\"unit\":5}", ERR_TYPE, "unit", "expected text"},
        {"{\"unit\":\"\"}", ERR_EMPTY, "unit", "empty"},
        {"{\"unit\":\"furlong\"}", ERR_UNIT, "unit", "found \"furlong\"; expected one of nm"},
        {"{\"unit\":\"mm\"}", ERR_EMPTY, "points", "missing"},
        {"{\"unit\":\"mm\",\"point\":[]}", ERR_UNKNOWN, "point", "did you mean \"points\""},
        {"{\"unit\":\"mm\",\"zebra\":[]}", ERR_UNKNOWN, "zebra", "expected one of unit, title"},
        {"{\"unit\":\"mm\",\"title\":7}", ERR_TYPE, "title", "expected text"},
        {"{\"unit\":\"mm\",\"note\":\"a\\u0007b\"}", ERR_ENCODING, "note", "control character"},
        {FILE_OF("\"mm\"", "{}", "[]", ""), ERR_TYPE, "points", "expected a list"},
        {FILE_OF("\"mm\"", "[]", "[]", ""), ERR_EMPTY, "points", "no points"},
        {FILE_OF("\"mm\"", "[7]", "[]", ""), ERR_TYPE, "points[0]", "expected an object"},
        {WITH_POINT(""), ERR_EMPTY, "points[0].id", "missing"},
        {WITH_POINT("\"id\":\"\""), ERR_EMPTY, "points[0].id", "empty"},
        {WITH_POINT("\"id\":7"), ERR_TYPE, "points[0].id", "expected text"},
        {WITH_POINT("\"id\":\"a\\nb\""), ERR_ENCODING, "points[0].id", "control"},
        {WITH_POINT("\"id\":\"0123456789012345678901234567890123456789012345678901234567890123x\""),
         ERR_LIMIT, "points[0].id", "at most 64"},
        {WITH_POINT("\"id\":\"a\",\"reading\":1"), ERR_EMPTY, "points[0]", "has no limit"},
        {WITH_POINT("\"id\":\"a\",\"low\":null,\"high\":null,\"reading\":1"), ERR_EMPTY,
         "points[0]", "has no limit"},
        {WITH_POINT("\"id\":\"a\",\"low\":2,\"high\":1,\"reading\":1"), ERR_ORDER, "points[0]",
         "low 2 lies above high 1 mm"},
        {WITH_POINT("\"id\":\"a\",\"low\":1"), ERR_EMPTY, "points[0].reading", "missing"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":null"), ERR_TYPE, "points[0].reading",
         "found"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":[]"), ERR_TYPE, "points[0].reading",
         "found"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":\"5 V\""), ERR_UNIT, "points[0].reading",
         ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":\"5 1/0 in\""), ERR_SYNTAX,
         "points[0].reading", ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":\"5,4 mm\""), ERR_SYNTAX,
         "points[0].reading", ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":\"7/16\""), ERR_UNIT, "points[0].reading",
         "with a unit"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1e300"), ERR_RANGE, "points[0].reading",
         ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":4000000001"), ERR_RANGE,
         "points[0].reading", "at most 4e+09"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"u\":-0.1"), ERR_DOMAIN, "points[0].u",
         "negative"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"u\":1e300"), ERR_RANGE, "points[0].u",
         ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"u\":true"), ERR_TYPE, "points[0].u",
         ""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"nominal\":\"x\""), ERR_SYNTAX,
         "points[0].nominal", ""},
        {WITH_POINT("\"id\":\"a\",\"lo\":1,\"reading\":1"), ERR_UNKNOWN, "points[0].lo",
         "did you mean \"low\""},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":[]"), ERR_TYPE,
         "points[0].factors", "expected an object"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":{\"side\":0}"), ERR_DOMAIN,
         "points[0].factors.side", "expected -1 or 1"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":{\"side\":2}"), ERR_DOMAIN,
         "points[0].factors.side", "-1..1"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":{\"side\":0.5}"), ERR_DOMAIN,
         "points[0].factors.side", "whole"},
        {WITH_POINT("\"id\":\"a\",\"low\":1,\"reading\":1,\"factors\":{\"a\":1,\"b\":1,\"c\":1,"
                    "\"d\":1,\"e\":1}"),
         ERR_LIMIT, "points[0].factors", "at most 4"},
        {FILE_OF("\"mm\"", "[" POINT "," POINT "]", "[]", ""), ERR_DUPLICATE, "points[1].id",
         "twice"},
        {"{\"unit\":\"mm\",\"points\":[" POINT "]}", ERR_EMPTY, "adjusters", "missing"},
        {FILE_OF("\"mm\"", "[" POINT "]", "7", ""), ERR_TYPE, "adjusters", "expected a list"},
        {FILE_OF("\"mm\"", "[" POINT "]", "[" ADJUSTER "," ADJUSTER "]", ""), ERR_DUPLICATE,
         "adjusters[1].id", "twice"},
        {WITH_ADJUSTER("\"id\":\"p\""), ERR_EMPTY, "adjusters[0].min", "missing"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":1"), ERR_DOMAIN, "adjusters[0].min",
         "found 1; expected a whole number -10000..0"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":-1,\"max\":-1"), ERR_DOMAIN, "adjusters[0].max",
         "0..10000"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":-0.5"), ERR_DOMAIN, "adjusters[0].min", "whole"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":\"-1\""), ERR_TYPE, "adjusters[0].min", "found"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":-10001"), ERR_DOMAIN, "adjusters[0].min", "-10000"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":-1"), ERR_DOMAIN,
         "adjusters[0].setup_s", "expected"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0"), ERR_EMPTY,
         "adjusters[0].step_s", "missing"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1e18"),
         ERR_DOMAIN, "adjusters[0].step_s", "expected"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1"), ERR_EMPTY,
         "adjusters[0].effect", "missing"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1,\"effect\":[]"),
         ERR_TYPE, "adjusters[0].effect", "expected an object"},
        {WITH_ADJUSTER(
             "\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1,\"effect\":{\"A\":1}"),
         ERR_UNKNOWN, "adjusters[0].effect.A", "did you mean \"a\""},
        {WITH_ADJUSTER(
             "\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1,\"effect\":{\"fore\":1}"),
         ERR_UNKNOWN, "adjusters[0].effect.fore", "no such point"},
        {WITH_ADJUSTER(
             "\"id\":\"p\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1,\"effect\":{\"a\":null}"),
         ERR_TYPE, "adjusters[0].effect.a", "found"},
        {WITH_ADJUSTER("\"id\":\"p\",\"min\":0,\"max\":10000,\"setup_s\":0,\"step_s\":1,\"effect\":"
                       "{\"a\":1e9}"),
         ERR_RANGE, "points[0]", "could move"},
        {WITH_ADJUSTER("\"id\":\"p\",\"step\":0,\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":1,"
                       "\"effect\":{}"),
         ERR_DOMAIN, "adjusters[0].step", "0 or less"},
        {WITH_ADJUSTER("\"id\":\"p\",\"efect\":{}"), ERR_UNKNOWN, "adjusters[0].efect",
         "did you mean \"effect\""},
        {WITH(",\"rule\":[]"), ERR_TYPE, "rule", "expected an object"},
        {WITH(",\"rule\":{}"), ERR_EMPTY, "rule.guard", "missing"},
        {WITH(",\"rule\":{\"guard\":\"maybe\"}"), ERR_UNKNOWN, "rule.guard",
         "expected \"none\" or \"risk\""},
        {WITH(",\"rule\":{\"guard\":\"risk\"}"), ERR_EMPTY, "rule.risk", "missing"},
        {WITH(",\"rule\":{\"guard\":\"risk\",\"risk\":0}"), ERR_DOMAIN, "rule.risk", "found 0"},
        {WITH(",\"rule\":{\"guard\":\"risk\",\"risk\":0.51}"), ERR_DOMAIN, "rule.risk",
         "up to 0.5"},
        {WITH(",\"rule\":{\"guard\":\"risk\",\"risk\":\"5 %\"}"), ERR_TYPE, "rule.risk", "found"},
        {WITH(",\"rule\":{\"guard\":\"none\",\"risk\":0.1}"), ERR_UNKNOWN, "rule.risk",
         "without a guard"},
        {WITH(",\"plans\":0"), ERR_DOMAIN, "plans", "1..8"},
        {WITH(",\"plans\":9"), ERR_DOMAIN, "plans", "1..8"},
        {WITH(",\"plans\":\"3\""), ERR_TYPE, "plans", "found"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct problem *p = NULL;
        struct fault f = {0};
        const enum err e = read_text(rows[i].text, &p, &f);
        if (!tap_ok(e == rows[i].e && strcmp(f.path, rows[i].path) == 0 &&
                        strstr(f.message, rows[i].piece) && strcmp(f.file, "test.json") == 0,
                    "refused: %s at \"%s\", \"...%s...\"", err_symbol(rows[i].e), rows[i].path,
                    rows[i].piece))
            tap_note("got %s %s: %s: %s", err_symbol(e), f.file, f.path, f.message);
        problem_free(p);
    }
}

/* Faults that JSON itself has, with the place in the file. */
static void broken_json(void)
{
    static const char *const rows[] = {"",
                                       "   ",
                                       "{",
                                       "{\"unit\":\"mm\"} x",
                                       "{\"unit\":NaN}",
                                       "{\"unit\":1e999}",
                                       "{\"unit\":\"mm\",\"unit\":\"in\"}",
                                       "{\"unit\":\"\xC3\x28\"}",
                                       "\x7F\x45LF",
                                       "nul"};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct problem *p = NULL;
        struct fault f = {0};
        const enum err e = read_text(rows[i], &p, &f);
        tap_ok(e != ERR_OK && !p && *f.message, "not JSON, row %zu: refused with a sentence", i);
    }
}

static void limits(void)
{
    for (int n = TRUING_POINTS_MAX; n <= TRUING_POINTS_MAX + 1; n++) {
        struct text t = {0};
        text_puts(&t, "{\"unit\":\"mm\",\"adjusters\":[],\"points\":[");
        for (int i = 0; i < n; i++)
            text_printf(&t, "%s{\"id\":\"p%d\",\"low\":1,\"reading\":1}", i ? "," : "", i);
        text_puts(&t, "]}");
        struct problem *p = NULL;
        struct fault f = {0};
        const enum err e = read_text(t.data, &p, &f);
        tap_ok(e == (n <= TRUING_POINTS_MAX ? ERR_OK : ERR_LIMIT), "%d points: %s", n,
               n <= TRUING_POINTS_MAX ? "taken" : "refused");
        problem_free(p);
        text_done(&t);
    }
    for (int n = TRUING_ADJUSTERS_MAX; n <= TRUING_ADJUSTERS_MAX + 1; n++) {
        struct text t = {0};
        text_puts(&t, "{\"unit\":\"mm\",\"points\":[" POINT "],\"adjusters\":[");
        for (int i = 0; i < n; i++)
            text_printf(
                &t,
                "%s{\"id\":\"p%d\",\"min\":0,\"max\":1,\"setup_s\":0,\"step_s\":0,\"effect\":{}}",
                i ? "," : "", i);
        text_puts(&t, "]}");
        struct problem *p = NULL;
        struct fault f = {0};
        const enum err e = read_text(t.data, &p, &f);
        tap_ok(e == (n <= TRUING_ADJUSTERS_MAX ? ERR_OK : ERR_LIMIT), "%d adjusters: %s", n,
               n <= TRUING_ADJUSTERS_MAX ? "taken" : "refused");
        problem_free(p);
        text_done(&t);
    }
}

/* The same job in mm and in inches is the same problem to the nanometre. */
static void units_agree(void)
{
    struct problem *mm = NULL, *in = NULL;
    struct fault f = {0};
    const bool is_read =
        read_text(
            FILE_OF("\"mm\"",
                    "[{\"id\":\"a\",\"low\":3.175,\"high\":9.525,\"reading\":11.1125,\"u\":0.254}]",
                    "[]", ""),
            &mm, &f) == ERR_OK &&
        read_text(FILE_OF("\"in\"",
                          "[{\"id\":\"a\",\"low\":\"1/8 "
                          "in\",\"high\":0.375,\"reading\":\"7/16 in\",\"u\":0.01}]",
                          "[]", ""),
                  &in, &f) == ERR_OK;
    tap_ok(is_read && mm->points[0].low == in->points[0].low &&
               mm->points[0].high == in->points[0].high &&
               mm->points[0].reading == in->points[0].reading &&
               mm->points[0].nominal == in->points[0].nominal && mm->points[0].u == in->points[0].u,
           "1/8, 3/8, 7/16 in and 3.175, 9.525, 11.1125 mm are one problem (1 in = 25.4 mm)");
    problem_free(mm);
    problem_free(in);
}

int main(void)
{
    full_file();
    defaults();
    effects_notes();
    refusals();
    broken_json();
    limits();
    units_agree();
    problem_free(NULL);
    return tap_done();
}

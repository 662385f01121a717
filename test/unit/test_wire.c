/* Rows for core/wire: ASTM B258 diameters and areas, NEC Chapter 9 Table 8 resistances, IEC 60228,
 * drops, refusals. */
#include "core/wire.h"
#include "tap.h"

#include <math.h>
#include <string.h>

#define FT_NM ((int64_t)304800000)

static bool is_near(double got, double want, double relative)
{
    return fabs(got - want) <= relative * fabs(want);
}

static void size_rows(void)
{
    /* Diameters: 0.005 x 92^((36-n)/39) in, Python floats (1e-14: its pow and ours-by-17-digits
     * differ by some units). */
    static const struct {
        int awg;
        double in, mm2;
    } rows[] = {
        {16, 0.0508207049540268, 1.30869572775526},
        {14, 0.0640837257398230, 2.08090772},
        {12, 0.0808080861611790, 3.30877288},
        {10, 0.101897115276097, 5.26115495},
        {8, 0.128489889995418, 8.36556406},
        {6, 0.162022759783737, 0.0},
        {4, 0.204306927874827, 0.0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double mm = 0.0;
        tap_ok(wire_awg_diameter(rows[i].awg, &mm) == ERR_OK &&
                   is_near(mm, rows[i].in * 25.4, 2e-14),
               "%d AWG: %.15g in (ASTM B258 formula, Python)", rows[i].awg, rows[i].in);
        if (rows[i].mm2 > 0.0)
            tap_ok(is_near(0.25 * 3.14159265358979323846 * mm * mm, rows[i].mm2, 2e-9),
                   "%d AWG: %.9g mm2 (the same; 9 digits given)", rows[i].awg, rows[i].mm2);
    }
    bool is_geometric = true;
    for (int n = WIRE_AWG_MIN; n < WIRE_AWG_MAX; n++) {
        double thick = 0.0, thin = 0.0;
        is_geometric = is_geometric && wire_awg_diameter(n, &thick) == ERR_OK &&
                       wire_awg_diameter(n + 1, &thin) == ERR_OK &&
                       is_near(thick / thin, 1.1229322, 1e-7);
    }
    tap_ok(is_geometric, "every size is 1.1229322 times the next (ASTM B258-02; 8 digits given)");
    double mm = 0.0;
    tap_ok(wire_awg_diameter(-3, &mm) == ERR_OK && is_near(mm, 11.684, 1e-14),
           "4/0 AWG is 0.46 in (ASTM B258: one of the two sizes that define the series)");
    tap_ok(wire_awg_diameter(-4, &mm) == ERR_DOMAIN && wire_awg_diameter(25, &mm) == ERR_DOMAIN,
           "sizes past the table are refused");
}

/* NEC Chapter 9 Table 8, uncoated copper, 75 C, ohm per 1000 ft. Solid: within half a unit of the
 * last printed digit
 * + 0.15 % (the table's own areas are rounded to whole circular mils). Stranded: 0.5 %, because the
 * table takes its strands' printed diameters (7 strands), we the 2 % of ASTM B8 for all. */
static void nec_rows(void)
{
    static const struct {
        int awg;
        double solid, solid_digit, stranded;
    } rows[] = {{18, 7.77, 0.005, 7.95}, {16, 4.89, 0.005, 4.99}, {14, 3.07, 0.005, 3.14},
                {12, 1.93, 0.005, 1.98}, {10, 1.21, 0.005, 1.24}, {8, 0.764, 0.0005, 0.778},
                {6, 0.0, 0.0, 0.491},    {4, 0.0, 0.0, 0.308}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double per_m = 0.0;
        if (rows[i].solid > 0.0) {
            const enum err e = wire_ohm_per_m(
                (struct wire){.kind = WIRE_AWG_SOLID, .awg = rows[i].awg}, 75.0, &per_m);
            tap_ok(e == ERR_OK && fabs(per_m * 304.8 - rows[i].solid) <=
                                      rows[i].solid_digit + 0.0015 * rows[i].solid,
                   "%d AWG solid at 75 C: %g ohm/1000 ft, got %.4f (NEC Ch. 9 Table 8)",
                   rows[i].awg, rows[i].solid, per_m * 304.8);
        }
        const enum err e = wire_ohm_per_m(
            (struct wire){.kind = WIRE_AWG_STRANDED, .awg = rows[i].awg}, 75.0, &per_m);
        tap_ok(e == ERR_OK && is_near(per_m * 304.8, rows[i].stranded, 0.005),
               "%d AWG stranded at 75 C: %g ohm/1000 ft, got %.4f (NEC Ch. 9 Table 8)", rows[i].awg,
               rows[i].stranded, per_m * 304.8);
    }
    static const double at_20[][2] = {{16, 4.016}, {14, 2.525}, {12, 1.588}};
    for (size_t i = 0; i < 3; i++) {
        double per_m = 0.0;
        const enum err e = wire_ohm_per_m(
            (struct wire){.kind = WIRE_AWG_SOLID, .awg = (int)at_20[i][0]}, 20.0, &per_m);
        tap_ok(e == ERR_OK && is_near(per_m * 304.8, at_20[i][1], 3e-4),
               "%g AWG solid at 20 C: %g ohm/1000 ft (wire tables; 4 digits given)", at_20[i][0],
               at_20[i][1]);
    }
    double cold = 0.0, warm = 0.0;
    const struct wire w = {.kind = WIRE_AWG_SOLID, .awg = 10};
    tap_ok(wire_ohm_per_m(w, 20.0, &cold) == ERR_OK && wire_ohm_per_m(w, 75.0, &warm) == ERR_OK &&
               fabs(cold / warm - 0.82235) < 55 * 5e-6,
           "20 C against 75 C: 0.82235 (rule under NEC Table 8, from memory; its 0.00323 has 3 "
           "digits)");
}

static void metric_rows(void)
{
    static const struct {
        double area, class2, class5;
    } rows[] = {{0.5, 36.0, 39.0}, {0.75, 24.5, 26.0}, {1, 18.1, 19.5},   {1.5, 12.1, 13.3},
                {2.5, 7.41, 7.98}, {4, 4.61, 4.95},    {6, 3.08, 3.30},   {10, 1.83, 1.91},
                {16, 1.15, 1.21},  {25, 0.727, 0.780}, {35, 0.524, 0.554}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double two = 0.0, five = 0.0;
        const bool is_read =
            wire_ohm_per_m((struct wire){.kind = WIRE_MM2_STRANDED, .area_mm2 = rows[i].area}, 20.0,
                           &two) == ERR_OK &&
            wire_ohm_per_m((struct wire){.kind = WIRE_MM2_FLEXIBLE, .area_mm2 = rows[i].area}, 20.0,
                           &five) == ERR_OK;
        tap_ok(is_read && is_near(two * 1000, rows[i].class2, 1e-14) &&
                   is_near(five * 1000, rows[i].class5, 1e-14),
               "%g mm2 at 20 C: at most %g (class 2) and %g (class 5) ohm/km (IEC 60228 as "
               "reproduced by four public tables)",
               rows[i].area, rows[i].class2, rows[i].class5);
        /* An outside bound on the table itself: the standard's copper is never more than 8 %
         * thinner than its name... */
        const double ideal = 1000.0 / 58.0 / rows[i].area;
        tap_ok(five > two && two * 1000 > ideal && five * 1000 < 1.17 * ideal,
               "%g mm2: above 1/(58 A), class 5 above class 2, both within 17 %% (100 %% IACS, IEC "
               "60028)",
               rows[i].area);
    }
    double x = 0.0;
    tap_ok(wire_ohm_per_m((struct wire){.kind = WIRE_MM2_STRANDED, .area_mm2 = 3.0}, 20.0, &x) ==
               ERR_UNKNOWN,
           "3 mm2 is no nominal area: ERR_UNKNOWN");
}

static void drop_rows(void)
{
    /* 12 V, 20 A, 25 ft one way, Table 8 solid at 75 C: 2 x L x I x R/1000. Tolerance as for Table
     * 8 itself. */
    static const struct {
        int awg;
        double volt, percent;
    } rows[] = {{8, 0.764, 6.3667}, {10, 1.21, 10.0833}, {12, 1.93, 16.0833}, {14, 3.07, 25.5833}};
    const struct wire_load load = {25 * FT_NM, 20.0, 12.0, 75.0};
    struct wire_drop d = {0};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const enum err e =
            wire_drop((struct wire){.kind = WIRE_AWG_SOLID, .awg = rows[i].awg}, &load, &d);
        tap_ok(e == ERR_OK && is_near(d.drop_v, rows[i].volt, 0.0045) &&
                   is_near(d.percent, rows[i].percent, 0.0045) &&
                   is_near(d.at_motor_v, 12.0 - d.drop_v, 1e-15),
               "12 V, 20 A, 25 ft, %d AWG: %g V, %g %% (NEC Table 8 values, Ohm's law)",
               rows[i].awg, rows[i].volt, rows[i].percent);
    }
    /* 24 V, 15 A, 8 m one way, 4 mm2 flexible at 20 C: 16 m x 4.95 ohm/km = 0.0792 ohm; 1.188
     * V; 4.95 %. */
    const struct wire_load metric = {8000000000, 15.0, 24.0, 20.0};
    tap_ok(wire_drop((struct wire){.kind = WIRE_MM2_FLEXIBLE, .area_mm2 = 4}, &metric, &d) ==
                   ERR_OK &&
               is_near(d.loop_ohm, 0.0792, 1e-14) && is_near(d.drop_v, 1.188, 1e-14) &&
               is_near(d.percent, 4.95, 1e-14),
           "24 V, 15 A, 8 m, 4 mm2 flexible: 1.188 V, 4.95 %% (by hand)");
    const struct wire_load far = {WIRE_LENGTH_MAX_NM, 100.0, 12.0, 20.0};
    tap_ok(wire_drop((struct wire){.kind = WIRE_AWG_SOLID, .awg = 18}, &far, &d) == ERR_OK &&
               d.at_motor_v == 0.0 && d.percent > 100.0,
           "more loss than supply leaves 0 V, not less (definition)");
}

static void least_rows(void)
{
    /* From the same NEC figures: 10 % of 12 V = 1.2 V: 10 AWG loses 1.21, 8 AWG 0.764; 2 V: 12 AWG
     * loses 1.93. */
    const struct wire_load load = {25 * FT_NM, 20.0, 12.0, 75.0};
    struct wire w = {0};
    struct wire_drop d = {0};
    char name[16];
    tap_ok(wire_least(WIRE_AWG_SOLID, &load, 1.2, &w, &d) == ERR_OK && w.awg == 8,
           "at most 1.2 V: 8 AWG, as 10 AWG loses 1.21 V (NEC Table 8)");
    tap_ok(wire_least(WIRE_AWG_SOLID, &load, 2.0, &w, &d) == ERR_OK && w.awg == 12,
           "at most 2 V: 12 AWG, which loses 1.93 V (NEC Table 8)");
    tap_ok(wire_name(w, name, sizeof name) == 6 && strcmp(name, "12 AWG") == 0, "named 12 AWG");
    /* 24 V, 15 A, 8 m: 3 % = 0.72 V asks for 0.72/(15 x 16) = 3 mohm/m: 10 mm2 (1.91), as 6 mm2
     * has 3.30. */
    const struct wire_load metric = {8000000000, 15.0, 24.0, 20.0};
    tap_ok(wire_least(WIRE_MM2_FLEXIBLE, &metric, 0.72, &w, &d) == ERR_OK && w.area_mm2 == 10.0,
           "24 V, 15 A, 8 m, 3 %%: 10 mm2 flexible (IEC 60228, by hand)");
    tap_ok(wire_least(WIRE_MM2_STRANDED, &metric, 0.74, &w, &d) == ERR_OK && w.area_mm2 == 6.0,
           "class 2 and 0.74 V: 6 mm2 at 3.08 ohm/km loses 0.7392 V (IEC 60228, by hand)");
    tap_ok(wire_name(w, name, sizeof name) == 5 && strcmp(name, "6 mm2") == 0, "named 6 mm2");
    tap_ok(wire_least(WIRE_MM2_STRANDED, &metric, 1e-6, &w, &d) == ERR_IMPOSSIBLE,
           "no conductor of the list is thick enough: ERR_IMPOSSIBLE");
    wire_name((struct wire){.kind = WIRE_AWG_SOLID, .awg = -1}, name, sizeof name);
    tap_ok(strcmp(name, "2/0 AWG") == 0, "-1 is named 2/0 AWG");
    wire_name((struct wire){.kind = WIRE_AWG_SOLID, .awg = 4}, name, sizeof name);
    tap_ok(strcmp(name, "4 AWG") == 0, "4 is named 4 AWG");
}

static void parse_rows(void)
{
    static const struct {
        const char *text, *name;
        bool is_stranded;
        enum wire_kind kind;
    } rows[] = {{"10 AWG", "10 AWG", false, WIRE_AWG_SOLID},
                {"10AWG", "10 AWG", true, WIRE_AWG_STRANDED},
                {" awg 8 ", "8 AWG", false, WIRE_AWG_SOLID},
                {"2/0 AWG", "2/0 AWG", false, WIRE_AWG_SOLID},
                {"4/0awg", "4/0 AWG", false, WIRE_AWG_SOLID},
                {"0 AWG", "1/0 AWG", false, WIRE_AWG_SOLID},
                {"1/0 AWG", "1/0 AWG", false, WIRE_AWG_SOLID},
                {"2.5 mm2", "2.5 mm2", false, WIRE_MM2_FLEXIBLE},
                {"2.50mm2", "2.5 mm2", true, WIRE_MM2_STRANDED},
                {"0.75 mm^2", "0.75 mm2", false, WIRE_MM2_FLEXIBLE},
                {"35 mm\xC2\xB2", "35 mm2", false, WIRE_MM2_FLEXIBLE},
                {"1 MM2", "1 mm2", false, WIRE_MM2_FLEXIBLE}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct wire w = {.kind = WIRE_KIND_N};
        size_t at = 0;
        char name[16];
        const enum err e =
            wire_parse(rows[i].text, strlen(rows[i].text), rows[i].is_stranded, &w, &at);
        wire_name(w, name, sizeof name);
        tap_ok(e == ERR_OK && w.kind == rows[i].kind && strcmp(name, rows[i].name) == 0,
               "'%s' is %s (trade's spellings, from memory)", rows[i].text, rows[i].name);
    }
    static const struct {
        const char *text;
        enum err e;
        size_t at;
    } bad[] = {{"", ERR_EMPTY, 0},
               {"  ", ERR_EMPTY, 2},
               {"10", ERR_UNIT, 2},
               {"10 mm", ERR_UNIT, 3},
               {"AWG", ERR_SYNTAX, 3},
               {"x AWG", ERR_SYNTAX, 0},
               {"10 AWG x", ERR_SYNTAX, 7},
               {"2/1 AWG", ERR_SYNTAX, 2},
               {"2. mm2", ERR_SYNTAX, 2},
               {"1,5 mm2", ERR_UNIT, 1},
               {"-3 AWG", ERR_SYNTAX, 0},
               {"25 AWG", ERR_DOMAIN, 6},
               {"5/0 AWG", ERR_DOMAIN, 7},
               {"0/0 AWG", ERR_DOMAIN, 7},
               {"2.5 AWG", ERR_DOMAIN, 7},
               {"3 mm2", ERR_UNKNOWN, 5},
               {"1/0 mm2", ERR_UNKNOWN, 7},
               {"1234 AWG", ERR_UNIT, 3},
               {"AWG 10 mm2", ERR_SYNTAX, 7},
               {"2.505 mm2", ERR_UNIT, 4}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct wire w;
        size_t at = 99;
        tap_ok(wire_parse(bad[i].text, strlen(bad[i].text), false, &w, &at) == bad[i].e &&
                   at == bad[i].at,
               "'%s' is refused: %s at byte %zu", bad[i].text, err_symbol(bad[i].e), bad[i].at);
    }
}

static void list_rows(void)
{
    /* NEC Chapter 9 Table 8 and IEC 60228: first, last and how many. */
    struct wire first, last, none;
    char name[16];
    tap_ok(wire_listed(WIRE_AWG_SOLID, 0, &first) && first.awg == 18 &&
               wire_listed(WIRE_AWG_STRANDED, 14, &last) && last.awg == -3 &&
               last.kind == WIRE_AWG_STRANDED && !wire_listed(WIRE_AWG_SOLID, 15, &none),
           "15 AWG sizes are listed, 18 AWG to 4/0 (NEC Chapter 9 Table 8)");
    tap_ok(wire_listed(WIRE_MM2_FLEXIBLE, 0, &first) && first.area_mm2 == 0.5 &&
               wire_listed(WIRE_MM2_STRANDED, 10, &last) && wire_name(last, name, sizeof name) &&
               strcmp(name, "35 mm2") == 0 && !wire_listed(WIRE_MM2_STRANDED, 11, &none),
           "11 areas are listed, 0.5 to 35 mm2 (IEC 60228)");
}

static void refusals(void)
{
    const struct wire ten = {.kind = WIRE_AWG_SOLID, .awg = 10};
    static const struct {
        struct wire_load load;
        const char *why;
    } rows[] = {{{-1, 1, 12, 20}, "a negative length"},
                {{WIRE_LENGTH_MAX_NM + 1, 1, 12, 20}, "more than 1 km"},
                {{1, -1, 12, 20}, "a negative current"},
                {{1, (double)NAN, 12, 20}, "a current that is no number"},
                {{1, 10001, 12, 20}, "more than 10 000 A"},
                {{1, 1, 0, 20}, "no supply"},
                {{1, 1, (double)INFINITY, 20}, "an endless supply"},
                {{1, 1, 12, -51}, "colder than -50 C"},
                {{1, 1, 12, 151}, "hotter than 150 C"},
                {{1, 1, 12, (double)NAN}, "a temperature that is no number"}};
    struct wire_drop d;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tap_ok(wire_drop(ten, &rows[i].load, &d) == ERR_DOMAIN, "%s is refused", rows[i].why);
    struct wire w;
    const struct wire_load load = {1000, 1, 12, 20};
    tap_ok(wire_least(WIRE_AWG_SOLID, &load, 0.0, &w, &d) == ERR_DOMAIN,
           "no drop at all is refused");
    tap_ok(wire_drop((struct wire){.kind = WIRE_KIND_N}, &load, &d) == ERR_DOMAIN,
           "an unknown kind is refused");
}

int main(void)
{
    size_rows();
    nec_rows();
    metric_rows();
    drop_rows();
    least_rows();
    list_rows();
    parse_rows();
    refusals();
    return tap_done();
}

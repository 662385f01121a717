/* Rows and properties for core/cut: what goes where on a rack that is cut. Run with a seed as
 * argument to replay. */
#include "core/cut.h"
#include "tap.h"
#include "unit/random.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MM 1000000

static const struct cut_uncertainty exact = {0, 0, 0};

static void status_rows(void)
{
    static const struct {
        const char *what;
        struct cut_piece piece;
        int64_t needed;
        struct cut_uncertainty u;
        enum cut_status status;
        int64_t mark, offcut;
        const char *source;
    } rows[] = {
        {"1000 to 812.5, kerf 1.2",
         {.stock_nm = 1000 * MM, .kerf_nm = 1200000},
         812500000,
         {0, 0, 0},
         CUT_DO,
         812500000,
         186300000,
         "by hand: 1000 - 812.5 - 1.2 = 186.3"},
        {"blade centred: the mark stands half a kerf out",
         {.stock_nm = 1000 * MM, .kerf_nm = 1200000, .blade = CUT_BLADE_CENTRE},
         812500000,
         {0, 0, 0},
         CUT_DO,
         813100000,
         186300000,
         "by hand: 812.5 + 1.2/2"},
        {"48 in to 32 1/4 in, kerf 1/16 in",
         {.stock_nm = 48 * (int64_t)25400000, .kerf_nm = 1587500},
         819150000,
         {0, 0, 0},
         CUT_DO,
         819150000,
         398462500,
         "by hand: 48 - 32 1/4 - 1/16 = 15 11/16 in = 398.4625 mm at 25.4 mm (1959 agreement)"},
        {"spare is exactly the kerf",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         998 * MM,
         {0, 0, 0},
         CUT_DO,
         998 * MM,
         0,
         "by hand: the blade takes all of it"},
        {"spare one nm under the kerf",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         998 * MM + 1,
         {0, 0, 0},
         CUT_NO_WASTE_SIDE,
         0,
         0,
         "no material beyond the line for the blade to stand in"},
        {"stock equals need",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         1000 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "nothing to take off"},
        {"stock equals need within two tapes' u",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         999 * MM,
         {500000, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "|1.0| <= 2 x 0.5 mm"},
        {"and no longer beyond",
         {.stock_nm = 1000 * MM, .kerf_nm = 1 * MM},
         998900000,
         {500000, 0, 0},
         CUT_DO,
         998900000,
         100000,
         "1.1 > 2 x 0.5 mm; 1000 - 998.9 - 1 = 0.1"},
        {"stock u counts too",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         999 * MM,
         {300000, 0, 400000},
         CUT_NOT_NEEDED,
         0,
         0,
         "2 sqrt(0.3^2 + 0.4^2) = 1.0 (JCGM 100:2008, 5.1.2)"},
        {"a declared fit counts too",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM, .fit_nm = 1 * MM},
         999 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "|1.0| <= fit 1.0"},
        {"too short",
         {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM},
         1001 * MM,
         {0, 0, 0},
         CUT_TOO_SHORT,
         0,
         0,
         "a saw takes off"},
        {"ready-made, one mm too long",
         {.stock_nm = 1180 * MM, .is_ready = true},
         1179 * MM,
         {0, 0, 0},
         CUT_READY_DIFFERS,
         0,
         0,
         "common practice: a ready-made piece is never cut"},
        {"ready-made, right",
         {.stock_nm = 1180 * MM, .is_ready = true},
         1180 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "common practice"},
        {"ready-made for a range, within it",
         {.stock_nm = 1180 * MM, .is_ready = true, .least_nm = 1178 * MM, .greatest_nm = 1182 * MM},
         1178 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "limits belong to the inside"},
        {"ready-made for a range, past it",
         {.stock_nm = 1180 * MM, .is_ready = true, .least_nm = 1178 * MM, .greatest_nm = 1182 * MM},
         1178 * MM - 1,
         {0, 0, 0},
         CUT_READY_DIFFERS,
         0,
         0,
         "limits"},
        {"ready-made with a fit, past it",
         {.stock_nm = 1180 * MM, .is_ready = true, .fit_nm = MM},
         1181 * MM + 1,
         {0, 0, 0},
         CUT_READY_DIFFERS,
         0,
         0,
         "1180 + 1"},
        {"ready-made with a fit, at it",
         {.stock_nm = 1180 * MM, .is_ready = true, .fit_nm = MM},
         1181 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "1180 + 1"},
        {"relieved at both ends",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .relief = CUT_RELIEF_BOTH},
         900 * MM,
         {0, 0, 0},
         CUT_RELIEVED_BOTH,
         0,
         0,
         "common practice: a piece relieved at both ends is not cut"},
        {"relieved at both ends, right as it is",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .relief = CUT_RELIEF_BOTH},
         1000 * MM,
         {0, 0, 0},
         CUT_NOT_NEEDED,
         0,
         0,
         "common practice"},
        {"relieved at one end is cut at the other",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .relief = CUT_RELIEF_ONE},
         900 * MM,
         {0, 0, 0},
         CUT_DO,
         900 * MM,
         99 * MM,
         "common practice; 1000 - 900 - 1"},
        {"at the least length",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .least_nm = 900 * MM},
         900 * MM,
         {0, 0, 0},
         CUT_DO,
         900 * MM,
         99 * MM,
         "limits belong to the inside"},
        {"below the least length",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .least_nm = 900 * MM},
         900 * MM - 1,
         {0, 0, 0},
         CUT_BELOW_LEAST,
         0,
         0,
         "limits"},
        {"above the greatest length",
         {.stock_nm = 1000 * MM, .kerf_nm = MM, .greatest_nm = 950 * MM},
         950 * MM + 1,
         {0, 0, 0},
         CUT_ABOVE_GREATEST,
         0,
         0,
         "limits"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct cut_answer a;
        enum err e = cut_plan(&rows[i].piece, rows[i].needed, &rows[i].u, &a);
        if (!tap_ok(e == ERR_OK && a.status == rows[i].status && a.mark_nm == rows[i].mark &&
                        a.offcut_nm == rows[i].offcut,
                    "%s: %s (%s)", rows[i].what, cut_status_code(rows[i].status), rows[i].source))
            tap_note("got %s, %s, mark %" PRId64 ", offcut %" PRId64, err_symbol(e),
                     cut_status_code(a.status), a.mark_nm, a.offcut_nm);
    }
}

static void tooth_rows(void)
{
    static const struct {
        const char *what;
        int64_t length, first_tooth, module;
        double want, tolerance;
        const char *source;
    } rows[] = {
        {"middle of the first tooth", 14500000, 14500000, 2 * MM, 0.5, 0, "definition"},
        {"half a pitch on: a gap's middle", 14500000 + 3141593, 14500000, 2 * MM, 0.0, 1e-7,
         "p = 6.28318530717959 mm (pi x 2)"},
        {"ten pitches on: a tooth's middle", 14500000 + 62831853, 14500000, 2 * MM, 0.5, 1e-7,
         "10 p = 62.8318530717959 mm"},
        {"a quarter pitch before: a tooth's edge at the pitch line", 14500000 - 1570796, 14500000,
         2 * MM, 0.25, 1e-7, "half the pitch is tooth"},
        {"module 3, 4.7124 mm past the middle: the gap's middle", 4712400, 0, 3 * MM, 0.0, 1e-5,
         "SDP/SI, Elements of Metric Gear Technology, Table 10-2: pi m/2 = 4.7124 for m = 3"},
        {"diametral pitch 10, twelve teeth on", 95755739, 0, 2540000, 0.5, 1e-6,
         "12 p = 3.76991118430775 in = 95.7557 mm"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double f = -1;
        enum err e = cut_tooth_fraction(rows[i].length, rows[i].first_tooth, rows[i].module, &f);
        double off = fabs(f - rows[i].want);
        off = off > 0.5 ? 1 - off : off; /* 0 and 1 are the same place */
        if (!tap_ok(e == ERR_OK && off <= rows[i].tolerance, "tooth: %s: %g (%s)", rows[i].what,
                    rows[i].want, rows[i].source))
            tap_note("got %s, %.17g", err_symbol(e), f);
    }
}

static void sliver_rows(void)
{
    struct cut_piece p = {.stock_nm = 1000 * MM,
                          .kerf_nm = MM,
                          .module_nm = 2 * MM,
                          .has_first_tooth = true,
                          .first_tooth_nm = 3 * MM,
                          .sliver_nm = 1200000};
    static const struct {
        const char *what;
        int64_t past_edge; /* of the near edge at the pitch line, of the 101st tooth */
        double part;
        bool is_sliver;
    } rows[] = {
        {"1.19 mm of the tooth stay", 1190000, 1190000, true},
        {"1.21 mm of the tooth stay", 1210000, 1210000, false},
        {"0.05 mm of the tooth stay", 50000, 50000, true},
        {"the cut falls in the gap before", -300000, 0, false},
        {"the whole tooth stays", 3141593 + 100000, 0, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        /* 3 mm + 100 p - p/4: the 101st tooth's near edge; p = 6.28318530717959 mm. */
        int64_t needed = 3 * MM + 628318531 - 1570796 + rows[i].past_edge;
        struct cut_answer a = {.status = CUT_TOO_SHORT};
        enum err e = cut_plan(&p, needed, &exact, &a);
        bool is_sliver = (a.warnings >> CUT_WARN_SLIVER & 1U) != 0;
        if (!tap_ok(e == ERR_OK && fabs(a.part_tooth_nm - rows[i].part) < 2 &&
                        is_sliver == rows[i].is_sliver,
                    "sliver under 1.2 mm: %s (half of p = pi m is tooth at the pitch line)",
                    rows[i].what))
            tap_note("got %g nm, %d", a.part_tooth_nm, is_sliver);
    }
    p.has_first_tooth = false;
    struct cut_answer a = {.tooth_fraction = 0};
    tap_ok(cut_plan(&p, 600 * MM, &exact, &a) == ERR_OK && a.tooth_fraction < 0 &&
               a.part_tooth_nm < 0 && a.warnings == 0,
           "nothing is said of teeth whose place is not known");
}

static void warning_rows(void)
{
    static const struct {
        const char *what;
        int64_t needed;
        unsigned warnings;
    } rows[] = {
        {"largest offcut 100 mm, offcut 100.0", 899 * MM, 0},
        {"largest offcut 100 mm, offcut 100.1", 898900000, 1U << CUT_WARN_OFFCUT},
        {"3.0 mm above the least, 2 u = 6.0 mm", 853 * MM,
         1U << CUT_WARN_OFFCUT | 1U << CUT_WARN_NEAR_LEAST},
        {"6.1 mm above the least", 856100000, 1U << CUT_WARN_OFFCUT},
        {"6.0 mm below the greatest", 964 * MM, 1U << CUT_WARN_NEAR_GREATEST},
        {"6.1 mm below the greatest", 963900000, 0},
    };
    const struct cut_piece p = {.stock_nm = 1000 * MM,
                                .kerf_nm = MM,
                                .least_nm = 850 * MM,
                                .greatest_nm = 970 * MM,
                                .offcut_max_nm = 100 * MM};
    const struct cut_uncertainty u = {2 * MM, 1 * MM, 0}; /* sqrt(4 + 4 + 1) = 3 */
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct cut_answer a = {.warnings = 99};
        enum err e = cut_plan(&p, rows[i].needed, &u, &a);
        if (!tap_ok(e == ERR_OK && a.warnings == rows[i].warnings, "warning: %s (by hand)",
                    rows[i].what))
            tap_note("got %s, %x", err_symbol(e), a.warnings);
    }
}

static void uncertainty_rows(void)
{
    static const struct {
        struct cut_uncertainty u;
        double want;
        const char *source;
    } rows[] = {
        {{2, 1, 0}, 3.0, "sqrt(2 x 4 + 1), JCGM 100:2008, 5.1.2"},
        {{6, 7, 0}, 11.0, "sqrt(2 x 36 + 49)"},
        {{3, 4, 9}, 5.830951894845301, "sqrt(34); the stock's u has no part in the mark"},
        {{0, 5, 0}, 5.0, "blade alone"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tap_ok(fabs(cut_mark_u(&rows[i].u) - rows[i].want) < 1e-12,
               "mark u: tape %g, blade %g: %g (%s)", rows[i].u.tape_nm, rows[i].u.blade_nm,
               rows[i].want, rows[i].source);
}

static void remeasure_rows(void)
{
    static const struct {
        const char *what;
        int64_t lengths[3];
        int group[3];
        size_t n;
        bool asks;
        size_t a, b;
    } rows[] = {
        {"equal", {800 * MM, 800 * MM}, {0, 0}, 2, false, 0, 0},
        {"9.99 mm apart, allowed 2 sqrt(2) u = 10", {800 * MM, 809990000}, {0, 0}, 2, false, 0, 0},
        {"10.01 mm apart", {800 * MM, 810010000}, {0, 0}, 2, true, 0, 1},
        {"10.01 mm apart, in two groups", {800 * MM, 810010000}, {0, 1}, 2, false, 0, 0},
        {"in no group", {800 * MM, 900 * MM}, {-1, -1}, 2, false, 0, 0},
        {"the furthest pair is named", {800 * MM, 812 * MM, 815 * MM}, {0, 0, 0}, 3, true, 0, 2},
        {"only one", {800 * MM}, {0}, 1, false, 0, 0},
    };
    const double u = 5 * MM / 1.4142135623730951; /* so that 2 sqrt(u^2 + u^2) = 10 mm */
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct cut_pair pair = {0, 0, 0, 0};
        bool asks = cut_remeasure(rows[i].lengths, rows[i].group, rows[i].n, u, 2, &pair);
        tap_ok(asks == rows[i].asks && pair.a == rows[i].a && pair.b == rows[i].b,
               "second measurement: %s (k sqrt(u1^2 + u2^2), JCGM 100:2008, 5.1.2)", rows[i].what);
    }
}

static void refusal_rows(void)
{
    static const struct {
        const char *what;
        struct cut_piece piece;
        int64_t needed;
        struct cut_uncertainty u;
        enum err e;
    } rows[] = {
        {"no stock", {.kerf_nm = MM}, MM, {0, 0, 0}, ERR_DOMAIN},
        {"no need", {.stock_nm = MM, .kerf_nm = MM}, 0, {0, 0, 0}, ERR_DOMAIN},
        {"negative need", {.stock_nm = MM, .kerf_nm = MM}, -1, {0, 0, 0}, ERR_DOMAIN},
        {"no kerf", {.stock_nm = MM}, MM, {0, 0, 0}, ERR_DOMAIN},
        {"negative kerf", {.stock_nm = MM, .kerf_nm = -1}, MM, {0, 0, 0}, ERR_DOMAIN},
        {"a need of more than a kilometre",
         {.stock_nm = MM, .kerf_nm = MM},
         INT64_MAX,
         {0, 0, 0},
         ERR_RANGE},
        {"u not a number", {.stock_nm = MM, .kerf_nm = MM}, MM, {NAN, 0, 0}, ERR_DOMAIN},
        {"u infinite", {.stock_nm = MM, .kerf_nm = MM}, MM, {0, INFINITY, 0}, ERR_DOMAIN},
        {"u negative", {.stock_nm = MM, .kerf_nm = MM}, MM, {0, 0, -1}, ERR_DOMAIN},
        {"module negative",
         {.stock_nm = MM, .kerf_nm = MM, .module_nm = -1},
         MM,
         {0, 0, 0},
         ERR_DOMAIN},
        {"least above greatest",
         {.stock_nm = MM, .kerf_nm = MM, .least_nm = 3, .greatest_nm = 2},
         MM,
         {0, 0, 0},
         ERR_ORDER},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct cut_answer a = {.mark_nm = 77};
        enum err e = cut_plan(&rows[i].piece, rows[i].needed, &rows[i].u, &a);
        tap_ok(e == rows[i].e && a.mark_nm == 77, "refused, answer untouched: %s: %s (header)",
               rows[i].what, err_symbol(rows[i].e));
    }
}

static void text_rows(void)
{
    char buf[CUT_TEXT_MAX];
    const struct cut_piece p = {.stock_nm = 1000 * MM, .kerf_nm = 2 * MM};
    struct cut_answer a;
    tap_ok(cut_plan(&p, 999 * MM, &exact, &a) == ERR_OK &&
               cut_status_text(&p, &a, UNIT_MM, buf, sizeof buf) == strlen(buf) &&
               strstr(buf, "1.0 mm") != NULL && strstr(buf, "no waste side") != NULL,
           "the sentence names what would go and why not");
    char small[8];
    memset(small, 'x', sizeof small);
    tap_ok(cut_status_text(&p, &a, UNIT_MM, small, sizeof small) == 7 && small[7] == '\0',
           "a sentence that does not fit is cut and closed");
    tap_ok(cut_status_text(&p, &a, UNIT_MM, NULL, 0) == 0, "no room, nothing written");
}

/* needed + kerf + offcut = stock exactly, the kept piece is the need, whichever way the blade
 * stands; and mark, fraction and part tooth tell the same place. */
static void property_sum(uint64_t seed)
{
    rng = seed;
    int bad = 0, n_cut = 0;
    for (int i = 0; i < 20000; i++) {
        struct cut_piece p = {.stock_nm = within(1, 3000 * (int64_t)MM),
                              .kerf_nm = within(1, 5 * MM),
                              .blade = next() % 2 == 0 ? CUT_BLADE_WASTE : CUT_BLADE_CENTRE,
                              .relief = (enum cut_relief)(next() % 3),
                              .module_nm = within(0, 4 * MM),
                              .has_first_tooth = next() % 2 == 0,
                              .first_tooth_nm = within(0, 30 * MM),
                              .sliver_nm = within(0, 2 * MM)};
        int64_t needed = within(1, 3000 * (int64_t)MM);
        if (next() % 3 == 0 && p.stock_nm > 8 * MM)
            needed = p.stock_nm - within(0, 6 * MM); /* near the end: kerf cases */
        struct cut_answer a;
        if (cut_plan(&p, needed, &exact, &a) != ERR_OK) {
            bad++;
            continue;
        }
        n_cut += a.status == CUT_DO;
        int64_t spare = p.stock_nm - needed;
        bool is_right = true;
        if (a.status == CUT_DO) {
            int64_t kept = a.mark_nm - (p.blade == CUT_BLADE_CENTRE ? p.kerf_nm / 2 : 0);
            is_right = kept == needed && needed + a.kerf_nm + a.offcut_nm == p.stock_nm &&
                       a.offcut_nm >= 0;
        } else if (a.status == CUT_NO_WASTE_SIDE) {
            is_right = spare > 0 && spare < p.kerf_nm && a.kerf_nm == 0;
        } else if (a.status == CUT_TOO_SHORT) {
            is_right = spare < 0;
        } else if (a.status == CUT_NOT_NEEDED) {
            is_right = spare == 0;
        } else {
            is_right = a.status == CUT_RELIEVED_BOTH && p.relief == CUT_RELIEF_BOTH && spare > 0;
        }
        bad += !is_right;
    }
    tap_ok(bad == 0 && n_cut > 5000,
           "20000 random pieces: kept + kerf + offcut = stock to the nm (seed %" PRIu64 ")", seed);
    tap_note("%d cut, %d wrong", n_cut, bad);
}

/* The same lengths written in inches and in millimetres give the same plan. */
static void property_units(uint64_t seed)
{
    rng = seed + 1;
    int bad = 0;
    for (int i = 0; i < 2000; i++) {
        int64_t stock64 = within(64 * 20, 64 * 90), need64 = within(64, stock64);
        char in[40], mm[40];
        struct quantity q_in, q_mm;
        size_t at = 0;
        snprintf(in, sizeof in, "%d %d/64 in", (int)(need64 / 64), (int)(need64 % 64));
        /* 1/64 in = 0.396875 mm exactly */
        snprintf(mm, sizeof mm, "%" PRId64 ".%06" PRId64 " mm", need64 * 396875 / MM,
                 need64 * 396875 % MM);
        if (quantity_parse(in, strlen(in), UNIT_N, &q_in, &at) != ERR_OK ||
            quantity_parse(mm, strlen(mm), UNIT_N, &q_mm, &at) != ERR_OK) {
            bad++;
            continue;
        }
        struct cut_piece p = {.stock_nm = stock64 * 396875,
                              .kerf_nm = 1587500,
                              .module_nm = 2540000,
                              .has_first_tooth = true,
                              .first_tooth_nm = 12700000};
        struct cut_answer a, b;
        memset(&a, 0, sizeof a);
        memset(&b, 0, sizeof b);
        bool is_same = cut_plan(&p, q_in.nano, &exact, &a) == ERR_OK &&
                       cut_plan(&p, q_mm.nano, &exact, &b) == ERR_OK && a.status == b.status &&
                       a.mark_nm == b.mark_nm && a.offcut_nm == b.offcut_nm &&
                       a.warnings == b.warnings && !(a.tooth_fraction < b.tooth_fraction) &&
                       !(a.tooth_fraction > b.tooth_fraction);
        bad += !is_same;
    }
    tap_ok(bad == 0, "2000 lengths in 1/64 in and in mm: the same plan (seed %" PRIu64 ")", seed);
}

int main(int argc, char **argv)
{
    uint64_t seed = argc > 1 ? strtoull(argv[1], NULL, 10) : 20260216;
    status_rows();
    tooth_rows();
    sliver_rows();
    warning_rows();
    uncertainty_rows();
    remeasure_rows();
    refusal_rows();
    text_rows();
    property_sum(seed);
    property_units(seed);
    return tap_done();
}

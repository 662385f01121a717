/* Rows for core/gear: pitches by the definition p = pi m, a published rack example, spans, places
 * in a tooth. */
#include "core/gear.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>

static void pitch_rows(void)
{
    static const struct {
        int64_t module_nm;
        double pitch_mm;
        const char *source;
    } rows[] = {
        {1000000, 3.14159265358979, "p = pi m"},
        {1500000, 4.71238898038469, "p = pi m"},
        {2000000, 6.28318530717959, "p = pi m"},
        {2500000, 7.85398163397448, "p = pi m"},
        {3000000, 9.42477796076938,
         "p = pi m; SDP/SI Elements of Metric Gear Technology, Table 10-2: m = 3 rack, tooth "
         "thickness 4.7124 is half of it"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double mm = gear_pitch_mm((double)rows[i].module_nm / 1e6);
        tap_ok(fabs(mm - rows[i].pitch_mm) < 1e-14 * 10, "module %g mm: %.15g mm (%s)",
               (double)rows[i].module_nm / 1e6, rows[i].pitch_mm, rows[i].source);
        const int64_t want_nm = (int64_t)llround(rows[i].pitch_mm * 1e6);
        tap_ok(gear_pitch_nm(rows[i].module_nm) == want_nm, "the same to the nm: %" PRId64,
               want_nm);
    }
    tap_ok(fabs(gear_pitch_mm(3.0) / 2 - 4.7124) < 0.00005,
           "m = 3: half a pitch is 4.7124 mm (SDP/SI Table 10-2)");
}

static void diametral_rows(void)
{
    /* p = pi/P in; m = 25.4/P mm. */
    static const struct {
        double per_in, pitch_in, module_mm;
    } rows[] = {{8, 0.392699081698724, 3.175},
                {10, 0.314159265358979, 2.54},
                {12, 0.261799387799149, 2.11666666666667},
                {16, 0.196349540849362, 1.5875},
                {20, 0.157079632679490, 1.27},
                {24, 0.130899693899575, 1.05833333333333}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t module_nm = 0;
        const enum err e = gear_module_of_dp(rows[i].per_in, &module_nm);
        tap_ok(e == ERR_OK && fabs((double)module_nm - rows[i].module_mm * 1e6) <= 0.5,
               "P %g: module %.15g mm (definition, 1 in = 25.4 mm)", rows[i].per_in,
               rows[i].module_mm);
        /* the module's half nm of rounding is worth pi/2 nm of pitch, and the pitch has its own
         * half */
        tap_ok(fabs((double)gear_pitch_nm(module_nm) - rows[i].pitch_in * 25.4e6) <= 2.1,
               "P %g: pitch %.15g in (definition)", rows[i].per_in, rows[i].pitch_in);
    }
}

static void span_rows(void)
{
    int64_t nm = 0;
    tap_ok(gear_span_nm(2540000, 12, &nm) == ERR_OK &&
               fabs((double)nm - 3.76991118430775 * 25.4e6) <= 0.5,
           "pinion of 12 teeth, P 10: 3.76991118430775 in a turn (pi x 12/10)");
    tap_ok(gear_span_nm(2000000, -3, &nm) == ERR_OK && nm == -18849556,
           "three teeth back at module 2: -18.849556 mm (6 pi = 18.849555921...)");
    tap_ok(gear_span_nm(2000000, 0, &nm) == ERR_OK && nm == 0, "no teeth, no span");
    tap_ok(gear_span_nm(2000000, 100, &nm) == ERR_OK && nm == 628318531 &&
               gear_pitch_nm(2000000) * 100 != nm,
           "a hundred teeth are rounded once: 628 318 531 nm (200 pi = 628.318530718)");
    tap_ok(gear_span_nm(0, 1, &nm) == ERR_DOMAIN && gear_span_nm(-2000000, 1, &nm) == ERR_DOMAIN &&
               gear_span_nm(GEAR_MODULE_MAX_NM + 1, 1, &nm) == ERR_DOMAIN,
           "modules out of range are refused");
    tap_ok(gear_span_nm(2000000, GEAR_TEETH_MAX + 1, &nm) == ERR_RANGE &&
               gear_span_nm(2000000, INT64_MIN, &nm) == ERR_RANGE,
           "too many teeth are refused");
    tap_ok(gear_span_nm(GEAR_MODULE_MAX_NM, GEAR_TEETH_MAX, &nm) == ERR_OK && nm == 314159265358979,
           "the largest of all: pi x 10^14 nm (digits of pi)");
}

static void place_rows(void)
{
    double x = 0.0;
    tap_ok(gear_teeth_of_span(2000000, 15707963, &x) == ERR_OK && fabs(x - 2.5) < 1e-7,
           "15.707963 mm hold 2.5 teeth of module 2 (5 pi = 15.70796327)");
    tap_ok(gear_tooth_fraction(2000000, 15707963, &x) == ERR_OK && fabs(x - 0.5) < 1e-7,
           "so a cut there stands in the middle of a tooth's pitch");
    tap_ok(gear_tooth_fraction(2000000, -1570796, &x) == ERR_OK && fabs(x - 0.75) < 1e-7,
           "a quarter of a pitch before the start is 0.75 of the one before");
    tap_ok(gear_tooth_fraction(2000000, 0, &x) == ERR_OK && x == 0.0, "at the start: 0");
    tap_ok(gear_tooth_fraction(100, INT64_MIN, &x) == ERR_OK && x >= 0.0 && x < 1.0,
           "never 1, wherever it is");
    tap_ok(gear_tooth_fraction(0, 5, &x) == ERR_DOMAIN &&
               gear_teeth_of_span(0, 5, &x) == ERR_DOMAIN,
           "no module, no place");
    tap_ok(gear_pitch_nm(0) == 0 && gear_pitch_nm(-1) == 0 &&
               gear_pitch_nm(GEAR_MODULE_MAX_NM + 1) == 0,
           "a module out of range has pitch 0 (header)");
    const double bad = gear_pitch_mm(-1.0), worse = gear_pitch_mm((double)NAN);
    tap_ok(bad != bad && worse != worse, "and no pitch in mm");
    int64_t nm = 0;
    tap_ok(gear_module_of_dp(0.0, &nm) == ERR_DOMAIN &&
               gear_module_of_dp((double)INFINITY, &nm) == ERR_DOMAIN &&
               gear_module_of_dp((double)NAN, &nm) == ERR_DOMAIN &&
               gear_module_of_dp(0.1, &nm) == ERR_DOMAIN,
           "diametral pitches that are none are refused");
}

int main(void)
{
    pitch_rows();
    diametral_rows();
    span_rows();
    place_rows();
    return tap_done();
}

/* Decimals as doubles and what those leave of them, held against the long double of the C library where it has 64 bits of
 * mantissa, and against values worked by hand. */
#include "base/number.h"

#include "tap.h"

#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void worked(void)
{
    /* Doubles near 10^12 are whole multiples of 2^-13: 0.4 x 8192 = 3276.8, so the nearest is 3277 and 0.2/8192 too large. */
    static const struct {
        const char *text;
        double value, rest;
    } rows[] = {{"1000000000000.4", 1000000000000. + 3277. / 8192, -0.2 / 8192},
                {"-1000000000000.4", -1000000000000. - 3277. / 8192, 0.2 / 8192},
                {"+2.5", 2.5, 0},
                {"0", 0, 0},
                {"9007199254740993", 9007199254740992., 1},    /* 2^53 + 1, ties to even */
                {"18014398509481990", 18014398509481992., -2}, /* steps of 4 from 2^54 on */
                {"1e3", 1000, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double x = 1, rest = 1;
        const bool is_read = number_read(rows[i].text, strlen(rows[i].text), &x, &rest);
        if (!tap_ok(is_read && x == rows[i].value &&
                        fabs(rest - rows[i].rest) <= 1e-16 * fabs(rest),
                    "%s (by hand)", rows[i].text))
            tap_note("found %.17g and %.17g", x, rest);
    }
    double x = 0;
    tap_ok(!number_read("", 0, &x, NULL) && !number_read("1,5", 3, &x, &x), "no number: refused");
}

/* Value and rest together, against strtold, whose 64 bits keep 11 more than a double. */
static void against_strtold(void)
{
    uint64_t state = 1;
    size_t n_off = 0;
    for (int i = 0; i < 20000; i++) {
        char text[60];
        double x = 0, rest = 0;
        state = state * 6364136223846793005u + 1442695040888963407u;
        const uint64_t whole = (state >> 20) % 100000000000000u;
        (void)snprintf(text, sizeof text, "%s%llu.%0*u", i % 3 == 0 ? "-" : "",
                       (unsigned long long)(whole >> (state % 30)), (int)(state >> 62) + 1,
                       (unsigned)(state >> 40) % 10);
        const long double want = strtold(text, NULL);
        const bool is_read = number_read(text, strlen(text), &x, &rest);
        const long double got = (long double)x + (long double)rest;
        n_off += !is_read || x != strtod(text, NULL) ||
                 fabsl(got - want) > 0.5L * LDBL_EPSILON * fabsl(want);
    }
    tap_ok(n_off == 0, "20000 random decimals: value and rest add up to strtold's (%zu do not)",
           n_off);
}

int main(void)
{
    worked();
    if (LDBL_MANT_DIG >= 64)
        against_strtold();
    return tap_done();
}

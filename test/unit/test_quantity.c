/* test_quantity: amounts as they are written, shown and taken from doubles. Rows with sources are in
 * test/tables/length.tsv. */
#include "core/decimal.h"
#include "core/length.h"
#include "core/quantity.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>

static const unsigned long long SEED = 20260311;

/* ---- rows -------------------------------------------------------------------------------------- */

static void check_row(char **cell)
{
    const char *text = strcmp(cell[0], "(empty)") == 0 ? "" : cell[0];
    const enum unit bare =
        strcmp(cell[1], "-") == 0 ? UNIT_N : quantity_unit_find(cell[1], strlen(cell[1]));
    struct quantity q = {.nano = -12345};
    size_t at = 999;
    const enum err e = quantity_parse(text, strlen(text), bare, &q, &at);
    if (strncmp(cell[2], "ERR_", 4) == 0) {
        const bool is_good =
            strcmp(err_symbol(e), cell[2]) == 0 && at == strtoul(cell[3], NULL, 10);
        if (!tap_ok(is_good, "'%.60s' is refused: %s at %s (%s)", text, cell[2], cell[3], cell[5]))
            tap_note("found %s at %zu", err_symbol(e), at);
        return;
    }
    const bool is_good = e == ERR_OK && q.nano == strtoll(cell[2], NULL, 10) &&
                         q.dim == DIM_LENGTH && q.is_rounded == (strcmp(cell[4], "yes") == 0) &&
                         at == 999;
    if (!tap_ok(is_good, "'%s' is %s nm (%s)", text, cell[2], cell[5]))
        tap_note("found %s, %" PRId64 ", rounded %d", err_symbol(e), q.nano, q.is_rounded);
}

static void check_table(void)
{
    struct table t;
    table_open(&t, "length.tsv");
    while (table_next(&t, 6))
        check_row(t.cells);
}

/* ---- bytes that no table can hold -------------------------------------------------------------- */

static void check_bytes(void)
{
    static const struct {
        const char *text;
        size_t n;
        enum err e;
        size_t at;
        const char *what;
    } rows[] = {
        {"5\0mm", 4, ERR_SYNTAX, 1, "a NUL after the number"},
        {"5 mm\0", 5, ERR_SYNTAX, 4, "a NUL after the unit"},
        {"\0", 1, ERR_SYNTAX, 0, "a NUL alone"},
        {"5 \xff\xfe", 4, ERR_UNIT, 2, "bytes that are not UTF-8 as a unit"},
        {"\xc3(", 2, ERR_SYNTAX, 0, "a broken UTF-8 sequence as a number"},
        {"5\n", 2, ERR_SYNTAX, 1, "a line feed"},
        {"5 mm\r", 5, ERR_SYNTAX, 4, "a carriage return"},
        {"2 1/2\xe2\x80", 7, ERR_UNIT, 5, "a prime cut off"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct quantity q;
        size_t at = 999;
        char *copy = malloc(rows[i].n); /* exactly so large: reading on would be found */
        memcpy(copy, rows[i].text, rows[i].n);
        const enum err e = quantity_parse(copy, rows[i].n, UNIT_IN, &q, &at);
        if (!tap_ok(e == rows[i].e && at == rows[i].at, "%s is refused (grammar of quantity.h)",
                    rows[i].what))
            tap_note("found %s at %zu", err_symbol(e), at);
        free(copy);
    }
    enum { BIG = 100 * 1024 };
    char *big = malloc(BIG);
    memset(big, '1', BIG);
    struct quantity q;
    size_t at;
    tap_ok(quantity_parse(big, BIG, UNIT_MM, &q, &at) == ERR_LIMIT && at == QUANTITY_TEXT_MAX,
           "100 kB of digits are refused at the limit (quantity.h)");
    memset(big, ' ', BIG);
    tap_ok(quantity_parse(big, BIG, UNIT_MM, &q, &at) == ERR_LIMIT,
           "100 kB of blanks are refused at the limit (quantity.h)");
    free(big);
}

/* ---- other dimensions -------------------------------------------------------------------------- */

static void check_units(void)
{
    static const struct {
        const char *text;
        int64_t nano;
        enum dim dim;
        enum unit unit;
        const char *source;
    } rows[] = {
        {"12.6 V", 12600000000, DIM_VOLTAGE, UNIT_V, "SI"},
        {"350 mV", 350000000, DIM_VOLTAGE, UNIT_MV, "SI prefixes"},
        {"20 amps", 20000000000, DIM_CURRENT, UNIT_A, "SI"},
        {"1.5 min", 90000000000, DIM_TIME, UNIT_MIN, "SI brochure table 8: 1 min = 60 s"},
        {"0.5 h", 1800000000000, DIM_TIME, UNIT_H, "SI brochure table 8: 1 h = 3600 s"},
        {"9 Nm", 9000000000, DIM_TORQUE, UNIT_N_M, "SI"},
        {"9 N\xc2\xb7m", 9000000000, DIM_TORQUE, UNIT_N_M, "SI, middle dot"},
        {"1 in-lb", 112984829, DIM_TORQUE, UNIT_LBF_IN,
         "SP 811 appendix B.8: 1 lbf in = 1.129 848 E-01 N m; 0.45359237 x 9.80665 x 0.0254"},
        {"4.5\xc2\xb0", 4500000000, DIM_ANGLE, UNIT_DEG, "degree sign"},
        {"4 m\xce\xa9", 4000000, DIM_RESISTANCE, UNIT_MOHM, "SI prefixes, capital omega"},
        {"3 cycles", 3000000000, DIM_COUNT, UNIT_ONE, "a count"},
        {"3 INCHES", 76200000, DIM_LENGTH, UNIT_IN, "yard and pound agreement, 1959"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct quantity q = {0};
        size_t at;
        const enum err e = quantity_parse(rows[i].text, strlen(rows[i].text), UNIT_N, &q, &at);
        tap_ok(e == ERR_OK && q.nano == rows[i].nano && q.dim == rows[i].dim &&
                   q.unit == rows[i].unit,
               "%s is %" PRId64 " nano (%s)", rows[i].text, rows[i].nano, rows[i].source);
    }
    tap_ok(quantity_unit_find("MV", 2) == UNIT_N, "MV is not mV (SI prefixes: case matters)");
    tap_ok(quantity_unit_find("mm ", 3) == UNIT_N && quantity_unit_find("", 0) == UNIT_N,
           "a blank is no part of a unit, and nothing is none (quantity.h)");
    bool is_same = true;
    for (int u = 0; u < UNIT_N; u++) {
        const char *name = quantity_unit_name((enum unit)u);
        is_same = is_same && quantity_unit_find(name, strlen(name)) == (enum unit)u;
    }
    tap_ok(is_same, "every unit is found by its own name (property)");
}

/* ---- showing ----------------------------------------------------------------------------------- */

static void check_show(void)
{
    static const struct {
        int64_t nano;
        enum unit unit;
        int decimals;
        const char *text;
        bool is_rounded;
        const char *source;
    } rows[] = {
        {62400000, UNIT_MM, 1, "62.4 mm", false, "SI prefixes"},
        {62450000, UNIT_MM, 1, "62.4 mm", true, "half to even, SP 811 B.7.1"},
        {62550000, UNIT_MM, 1, "62.6 mm", true, "half to even, SP 811 B.7.1"},
        {62450001, UNIT_MM, 1, "62.5 mm", true, "SP 811 B.7.1: above the half goes up"},
        {-62450001, UNIT_MM, 1, "-62.5 mm", true, "the same, negative"},
        {99999999, UNIT_MM, 2, "100.00 mm", true, "carries through"},
        {1500000, UNIT_MM, 0, "2 mm", true, "half to even, SP 811 B.7.1"},
        {2500000, UNIT_MM, 0, "2 mm", true, "half to even, SP 811 B.7.1"},
        {-1, UNIT_MM, 3, "0.000 mm", true, "no minus before zero"},
        {914400000, UNIT_IN, 4, "36.0000 in", false, "yard and pound agreement, 1959"},
        {3000000000, UNIT_ONE, 0, "3", false, "a count has no unit"},
        {INT64_MAX, UNIT_NM, 0, "9223372036854775807 nm", false, "2^63 - 1"},
        {INT64_MIN, UNIT_NM, 9, "-9223372036854775808.000000000 nm", false, "-2^63"},
        {INT64_MIN, UNIT_H, 2, "-2562047.79 h", true, "2^63 / 3.6e12 = 2562047.788, by hand"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char buf[QUANTITY_SHOW_MAX];
        bool is_rounded = false;
        const size_t n =
            quantity_show(rows[i].nano, rows[i].unit, rows[i].decimals, buf, &is_rounded);
        if (!tap_ok(strcmp(buf, rows[i].text) == 0 && n == strlen(buf) &&
                        is_rounded == rows[i].is_rounded,
                    "%" PRId64 " nano is shown as %s (%s)", rows[i].nano, rows[i].text,
                    rows[i].source))
            tap_note("found %s", buf);
    }
}

static void check_fractions(void)
{
    static const struct {
        int64_t nm;
        int denominator;
        const char *text;
        bool is_rounded;
        const char *source;
    } rows[] = {
        {63500000, 16, "2 1/2 in", false, "2.5 x 25.4 mm"},
        {-1587500, 16, "-1/16 in", false, "handbook fraction table: 1/16 in is 1.5875 mm"},
        {25003125, 64, "63/64 in", false, "handbook fraction table: 25.003125 mm"},
        {25003125, 32, "1 in", true, "63/64 is a tie between 31/32 and 32/32: even numerator"},
        {1190625, 32, "1/16 in", true, "3/64 is a tie between 1/32 and 2/32: even numerator"},
        {396875, 32, "0 in", true, "1/64 is a tie between 0/32 and 1/32: even numerator"},
        {-396875, 32, "0 in", true, "no minus before zero"},
        {0, 64, "0 in", false, "zero"},
        {62400000, 16, "2 7/16 in", true, "62.4 / 25.4 x 16 = 39.3, by hand"},
        {62400000, 64, "2 29/64 in", true, "62.4 / 25.4 x 64 = 157.2, by hand"},
        {1000000, 1, "0 in", true, "1 mm to the whole inch"},
        {304800000, 1, "12 in", false, "1 ft = 12 in"},
        {INT64_MIN, 64, "-363124883340 47/64 in", true,
         "2^63 / 396875 = 23239992533807.3 sixty-fourths, Python 3 integers"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char buf[LENGTH_SHOW_MAX] = "";
        size_t n = 0;
        bool is_rounded = false;
        const enum err e =
            length_show_fraction(rows[i].nm, rows[i].denominator, buf, &n, &is_rounded);
        if (!tap_ok(e == ERR_OK && strcmp(buf, rows[i].text) == 0 && n == strlen(buf) &&
                        is_rounded == rows[i].is_rounded,
                    "%" PRId64 " nm to 1/%d is %s (%s)", rows[i].nm, rows[i].denominator,
                    rows[i].text, rows[i].source))
            tap_note("found %s %s", err_symbol(e), buf);
    }
    static const int bad[] = {0, -2, 3, 12, 65, 128};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char buf[LENGTH_SHOW_MAX];
        size_t n;
        tap_ok(length_show_fraction(1, bad[i], buf, &n, NULL) == ERR_DOMAIN,
               "a denominator of %d is refused (length.h)", bad[i]);
    }
}

/* ---- doubles ----------------------------------------------------------------------------------- */

static void check_double_rows(void)
{
    static const struct {
        double value;
        enum unit unit;
        int64_t nano;
        const char *source;
    } rows[] = {
        {62.4, UNIT_MM, 62400000, "62.4 mm exactly"},
        {0.1, UNIT_IN, 2540000, "0.1 x 25.4 mm"},
        {0.1 + 0.2, UNIT_MM, 300000, "0.30000000000000004 mm is 300 000.00000000004 nm"},
        {1e-9, UNIT_M, 1, "1 nm"},
        {5e-10, UNIT_M, 0, "0.5 nm: tie to even"},
        {1.5e-9, UNIT_M, 2, "1.5 nm: tie to even"},
        {2.5e-9, UNIT_M, 2, "2.5 nm: tie to even"},
        {-62.4, UNIT_MM, -62400000, "-62.4 mm exactly"},
        {0.0, UNIT_MM, 0, "zero"},
        {-0.0, UNIT_MM, 0, "minus zero"},
        {4.9406564584124654e-324, UNIT_H, 0, "the least subnormal double, IEEE 754"},
        {9007199254740993.0, UNIT_NM, 9007199254740992, "2^53 + 1 is not a double; 2^53 is"},
        {4611686018427387904.0, UNIT_NM, 4611686018427388000,
         "2^62: its shortest decimal is 4611686018427388000 (Python repr)"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t nano = -1;
        const enum err e = quantity_from_double(rows[i].value, rows[i].unit, &nano);
        if (!tap_ok(e == ERR_OK && nano == rows[i].nano, "%.17g %s is %" PRId64 " nano (%s)",
                    rows[i].value, quantity_unit_name(rows[i].unit), rows[i].nano, rows[i].source))
            tap_note("found %s %" PRId64, err_symbol(e), nano);
    }
    int64_t nano;
    tap_ok(quantity_from_double(NAN, UNIT_MM, &nano) == ERR_DOMAIN, "NaN is refused (quantity.h)");
    tap_ok(quantity_from_double(INFINITY, UNIT_MM, &nano) == ERR_DOMAIN,
           "infinity is refused (quantity.h)");
    tap_ok(quantity_from_double(-INFINITY, UNIT_MM, &nano) == ERR_DOMAIN,
           "minus infinity is refused (quantity.h)");
    tap_ok(quantity_from_double(1e300, UNIT_NM, &nano) == ERR_RANGE,
           "1e300 nm does not fit (int64)");
    tap_ok(quantity_from_double(9223372036854775808.0, UNIT_NM, &nano) == ERR_RANGE,
           "2^63 nm does not fit (int64)");
    tap_ok(quantity_from_double(9.3e12, UNIT_MM, &nano) == ERR_RANGE,
           "9.3e12 mm does not fit (int64)");
    tap_ok(quantity_to_double(62400000, UNIT_MM) == 62.4, "62 400 000 nm is the double 62.4");
    tap_ok(quantity_to_double(-25400000, UNIT_IN) == -1.0, "-25 400 000 nm is the double -1 in");
}

/* The C library as peer: fewest digits with which strtod gives the value back. */
static void peer_shortest(double value, char *digits, int *ret_point)
{
    char text[64];
    for (int n = 1; n <= 17; n++) {
        snprintf(text, sizeof text, "%.*e", n - 1, value);
        if (strtod(text, NULL) == value)
            break;
    }
    size_t k = 0;
    for (const char *p = text; *p != 'e'; p++)
        if (*p != '.')
            digits[k++] = *p;
    while (k > 1 && digits[k - 1] == '0')
        k--;
    digits[k] = '\0';
    *ret_point = (int)strtol(strchr(text, 'e') + 1, NULL, 10) + 1;
}

static void check_double_properties(void)
{
    enum { RUNS = 50000 };
    unsigned long long state = SEED;
    int n_bad = 0;
    tap_note("seed %llu", SEED);
    for (int i = 0; i < RUNS; i++) { /* k / 10^d mm is k x 10^(6-d) nm, by integers alone */
        const int d = (int)(table_random(&state) % 7);
        const int64_t k = (int64_t)(table_random(&state) % 1000000000000u) - 500000000000;
        int64_t per = 1, expected = k, nano = 0;
        for (int j = 0; j < d; j++)
            per *= 10;
        for (int j = d; j < 6; j++)
            expected *= 10;
        char text[64];
        snprintf(text, sizeof text, "%s%" PRId64 ".%0*" PRId64, k < 0 ? "-" : "",
                 (k < 0 ? -k : k) / per, d > 0 ? d : 1, (k < 0 ? -k : k) % per);
        n_bad +=
            quantity_from_double(strtod(text, NULL), UNIT_MM, &nano) != ERR_OK || nano != expected;
    }
    tap_ok(n_bad == 0, "%d decimals read as doubles give the exact amount, %d do not (integers)",
           RUNS, n_bad);

    n_bad = 0;
    for (int i = 0; i < RUNS; i++) { /* any bits within the range */
        const unsigned long long bits = table_random(&state);
        const double value = ldexp(1.0 + (double)(bits >> 12) * 0x1p-52, (int)(bits % 143) - 80);
        struct decimal ours;
        char digits[32];
        int point;
        peer_shortest(value, digits, &point);
        const bool is_same = decimal_shortest(value, &ours) == ERR_OK && ours.n == strlen(digits) &&
                             memcmp(ours.digits, digits, ours.n) == 0 && ours.point == point;
        n_bad += !is_same;
        if (!is_same && n_bad < 5)
            tap_note("%.17g: peer %s point %d, ours %.*s point %d", value, digits, point,
                     (int)ours.n, ours.digits, ours.point);
    }
    tap_ok(n_bad == 0,
           "the shortest digits of %d doubles agree with strtod and printf, %d do not "
           "(C library as peer)",
           RUNS, n_bad);

    /* At a power of two the gap below is half the gap above: the fewest digits need not be the value
     * rounded to that many, so the peer may need one more. Ours must still read back. */
    n_bad = 0;
    for (int e = -80; e < 63; e++) {
        struct decimal ours = {.n = 0};
        char digits[32], text[64];
        int point;
        peer_shortest(ldexp(1.0, e), digits, &point);
        const bool is_done = decimal_shortest(ldexp(1.0, e), &ours) == ERR_OK;
        snprintf(text, sizeof text, "0.%.*se%d", (int)ours.n, ours.digits, ours.point);
        const bool is_same = ours.n == strlen(digits) && memcmp(ours.digits, digits, ours.n) == 0;
        n_bad += !is_done || strtod(text, NULL) != ldexp(1.0, e) ||
                 !(ours.n < strlen(digits) || is_same);
    }
    tap_ok(n_bad == 0,
           "powers of two from 2^-80 to 2^62 read back and are no longer than the C "
           "library's, %d are not",
           n_bad);
    static const struct {
        int exponent;
        const char *digits;
    } rows[] = {{-77, "6617444900424222"}, {-44, "5684341886080802"}, {-24, "5960464477539063"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct decimal ours = {.n = 0};
        const enum err e = decimal_shortest(ldexp(1.0, rows[i].exponent), &ours);
        tap_ok(e == ERR_OK && ours.n == strlen(rows[i].digits) &&
                   memcmp(ours.digits, rows[i].digits, ours.n) == 0,
               "the digits of 2^%d are %s (Python 3 repr)", rows[i].exponent, rows[i].digits);
    }
    struct decimal ignored;
    tap_ok(decimal_shortest(0, &ignored) == ERR_DOMAIN &&
               decimal_shortest(-1, &ignored) == ERR_DOMAIN &&
               decimal_shortest(NAN, &ignored) == ERR_DOMAIN &&
               decimal_shortest(0x1p63, &ignored) == ERR_DOMAIN,
           "zero, negative, NaN and 2^63 are outside the domain (decimal.h)");
}

/* ---- round trips ------------------------------------------------------------------------------- */

static int64_t random_nano(unsigned long long *state)
{
    const unsigned long long r = table_random(state);
    return (int64_t)r >> (table_random(state) % 63); /* all sizes alike */
}

static void check_round_trips(void)
{
    enum { RUNS = 100000 };
    unsigned long long state = SEED + 1;
    int n_bad = 0;
    for (int i = 0; i < RUNS; i++) { /* with nine decimals every unit up to 10^9 nano says all */
        const int64_t nano = random_nano(&state);
        static const enum unit exact[] = {UNIT_NM, UNIT_UM, UNIT_MM, UNIT_CM,
                                          UNIT_M,  UNIT_V,  UNIT_A,  UNIT_S};
        const enum unit unit = exact[table_random(&state) % (sizeof exact / sizeof exact[0])];
        char buf[QUANTITY_SHOW_MAX], plain[QUANTITY_SHOW_MAX];
        struct quantity q, p;
        size_t at;
        bool is_rounded = true, is_plain_rounded = true;
        const size_t n = quantity_show(nano, unit, 9, buf, &is_rounded);
        const size_t m = quantity_show_number(nano, unit, plain, &is_plain_rounded);
        n_bad += is_rounded || is_plain_rounded ||
                 quantity_parse(buf, n, UNIT_N, &q, &at) != ERR_OK || q.nano != nano ||
                 q.unit != unit || quantity_parse(plain, m, unit, &p, &at) != ERR_OK ||
                 p.nano != nano;
    }
    tap_ok(n_bad == 0, "parse(show(x)) is x for %d amounts, %d are not (property)", RUNS, n_bad);

    n_bad = 0;
    for (int i = 0; i < RUNS; i++) { /* whole sixty-fourths come back exactly */
        const int64_t parts = random_nano(&state) / LENGTH_64TH_NM;
        char buf[LENGTH_SHOW_MAX];
        struct quantity q;
        size_t at, n = 0;
        bool is_rounded = true;
        n_bad += length_show_fraction(parts * LENGTH_64TH_NM, 64, buf, &n, &is_rounded) != ERR_OK ||
                 is_rounded || quantity_parse(buf, n, UNIT_N, &q, &at) != ERR_OK ||
                 q.nano != parts * LENGTH_64TH_NM;
    }
    tap_ok(n_bad == 0, "sixty-fourths survive showing and reading, %d of %d do not (property)",
           n_bad, RUNS);

    n_bad = 0;
    for (int i = 0; i < RUNS; i++) { /* never off by more than half a step */
        const int64_t nm = random_nano(&state) / 4;
        const int denominator = 1 << (table_random(&state) % 7);
        char buf[LENGTH_SHOW_MAX];
        struct quantity q = {0};
        size_t at, n = 0;
        bool is_rounded = false;
        const bool is_read =
            length_show_fraction(nm, denominator, buf, &n, &is_rounded) == ERR_OK &&
            quantity_parse(buf, n, UNIT_N, &q, &at) == ERR_OK;
        const int64_t off = q.nano > nm ? q.nano - nm : nm - q.nano;
        n_bad += !is_read || 2 * off > LENGTH_IN_NM / denominator || is_rounded != (off != 0);
    }
    tap_ok(n_bad == 0, "a shown fraction is within half a step, %d of %d are not (property)", n_bad,
           RUNS);
}

int main(void)
{
    check_table();
    check_bytes();
    check_units();
    check_show();
    check_fractions();
    check_double_rows();
    check_double_properties();
    check_round_trips();
    return tap_done();
}

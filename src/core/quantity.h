/* quantity: exact amounts with a unit.
 *
 * An amount is an int64_t in 10^-9 of its dimension's base unit ("nano"): for lengths that is the
 * nanometre, for voltage the nanovolt, for a count the billionth of one. So everything that holds
 * for lengths holds for the rest. One inch is 25 400 000 nm exactly (international yard and pound
 * agreement, 1959), 1/64 in is 396 875 nm.
 *
 * This module knows units and numbers, nothing of what they are used for. Text is (pointer, size),
 * never needs a closing NUL, and is hostile: bounded by QUANTITY_TEXT_MAX, every failure points at
 * the offending byte. */
#ifndef CORE_QUANTITY_H
#define CORE_QUANTITY_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { QUANTITY_TEXT_MAX = 128 };

/* symbol, name as written, dimension, nano per one unit (exact unless said). "N m" and its kin: 1
 * lbf in is 0.1129848290276167 N m exactly (0.45359237 x 9.80665 x 0.0254), so it is rounded to the
 * nano. */
#define QUANTITY_DIM_TABLE(X)                                                                      \
    X(DIM_LENGTH, "length", "mm")                                                                  \
    X(DIM_VOLTAGE, "voltage", "V")                                                                 \
    X(DIM_CURRENT, "current", "A")                                                                 \
    X(DIM_TIME, "time", "s")                                                                       \
    X(DIM_TORQUE, "torque", "N m")                                                                 \
    X(DIM_ANGLE, "angle", "deg")                                                                   \
    X(DIM_RESISTANCE, "resistance", "ohm")                                                         \
    X(DIM_COUNT, "count", "1")

enum dim {
#define X(symbol, name, shown) symbol,
    QUANTITY_DIM_TABLE(X)
#undef X
        DIM_N
};

#define QUANTITY_UNIT_TABLE(X)                                                                     \
    X(UNIT_NM, "nm", DIM_LENGTH, 1)                                                                \
    X(UNIT_UM, "um", DIM_LENGTH, 1000)                                                             \
    X(UNIT_MM, "mm", DIM_LENGTH, 1000000)                                                          \
    X(UNIT_CM, "cm", DIM_LENGTH, 10000000)                                                         \
    X(UNIT_M, "m", DIM_LENGTH, 1000000000)                                                         \
    X(UNIT_IN, "in", DIM_LENGTH, 25400000)                                                         \
    X(UNIT_FT, "ft", DIM_LENGTH, 304800000)                                                        \
    X(UNIT_MV, "mV", DIM_VOLTAGE, 1000000)                                                         \
    X(UNIT_V, "V", DIM_VOLTAGE, 1000000000)                                                        \
    X(UNIT_MA, "mA", DIM_CURRENT, 1000000)                                                         \
    X(UNIT_A, "A", DIM_CURRENT, 1000000000)                                                        \
    X(UNIT_S, "s", DIM_TIME, 1000000000)                                                           \
    X(UNIT_MIN, "min", DIM_TIME, 60000000000)                                                      \
    X(UNIT_H, "h", DIM_TIME, 3600000000000)                                                        \
    X(UNIT_N_M, "N m", DIM_TORQUE, 1000000000)                                                     \
    X(UNIT_LBF_IN, "lbf in", DIM_TORQUE, 112984829)                                                \
    X(UNIT_DEG, "deg", DIM_ANGLE, 1000000000)                                                      \
    X(UNIT_MOHM, "mohm", DIM_RESISTANCE, 1000000)                                                  \
    X(UNIT_OHM, "ohm", DIM_RESISTANCE, 1000000000)                                                 \
    X(UNIT_ONE, "1", DIM_COUNT, 1000000000)

enum unit {
#define X(symbol, name, dim, nano) symbol,
    QUANTITY_UNIT_TABLE(X)
#undef X
        UNIT_N
};

struct quantity {
    int64_t nano;    /* in 10^-9 of the base unit: nm, nV, nA, ns, ... */
    enum dim dim;    /* what it measures */
    enum unit unit;  /* the unit it was written in, for showing it back the same way */
    bool is_rounded; /* the text named an amount that is no whole nano; nano is the nearest, ties to
                        even */
};

/* quantity_unit_find: the unit written in text[0..n), or UNIT_N. Case matters (mV is not MV); also
 * takes the usual other spellings: " for in, ' for ft, inch, inches, feet, foot, Nm, ohms, degrees,
 * count, volts, amperes ... */
enum unit quantity_unit_find(const char *text, size_t n);

/* Name as written ("mm"), dimension and nano per one of a unit; unit < UNIT_N. */
const char *quantity_unit_name(enum unit unit);
enum dim quantity_unit_dim(enum unit unit);
int64_t quantity_unit_nano(enum unit unit);

/* quantity_parse: reads one amount.
 * Takes decimals ("63.5mm", "6.35 cm", "-0.25", ".5 in"; "1e-3 m" is refused: no exponents), and
 * for inches also fractions and feet ("2 1/2", "2-1/2\"", "1/8 in", "1' 2-3/8\"", "-1/16", the
 * ready-made fraction characters). A bare number takes the unit `bare`; UNIT_N there means that a
 * unit must be written. Decimal point only (a comma is refused: it is read in two ways in the
 * trade). Leading and closing blanks are fine. Never reads text[n]. Refused rather than guessed at:
 * a fraction of any unit but inches and feet ("2 1/2 mm", ERR_UNIT at the unit, or at the fraction
 * when the unit is bare); a mixed fraction whose part is one or more
 * ("2 5/4"); after whole feet, inches without their mark ("1' 2", ERR_UNIT) or twelve and more; two
 * numbers ("1 2 in"); a fraction with more than nine digits above or below (ERR_RANGE).
 * Errors: ERR_EMPTY, ERR_SYNTAX (also NaN, inf, a zero denominator), ERR_UNIT, ERR_RANGE (does not
 * fit int64), ERR_LIMIT (longer than QUANTITY_TEXT_MAX). *reterr_at: byte offset of the fault, may
 * be n. Worked: "2 1/2 in" is 63 500 000 nm; "1/64 in" is 396 875 nm; "1/3 in" is 8 466 667 nm with
 * is_rounded. Feet with inches come back with unit UNIT_IN. */
MUST_USE enum err quantity_parse(const char *text, size_t n, enum unit bare, struct quantity *ret,
                                 size_t *reterr_at);

/* quantity_from_double: the nano nearest to value x unit, by way of the shortest decimal text that
 * gives the same double, so that 62.4 mm read from JSON is 62 400 000 nm and not a neighbour.
 * Errors: ERR_DOMAIN (not finite), ERR_RANGE. */
MUST_USE enum err quantity_from_double(double value, enum unit unit, int64_t *ret_nano);

/* quantity_to_double: nano in `unit`, correctly rounded to the nearest double when |nano| < 2^53.
 */
double quantity_to_double(int64_t nano, enum unit unit);

enum { QUANTITY_SHOW_MAX = 64 };

/* quantity_show: decimal text with `decimals` (0..9) digits after the point, unit appended after a
 * blank unless it is a count; rounds half to even and says so. A minus sign is ASCII '-'. "62.4 mm"
 * from 62400000, UNIT_MM, 1. Writes a closing NUL. buf needs QUANTITY_SHOW_MAX bytes. Returns the
 * text's size. *ret_rounded may be NULL. */
size_t quantity_show(int64_t nano, enum unit unit, int decimals, char *buf, bool *ret_rounded);

/* quantity_show_number: the same without the unit, with as many digits as are needed (at most 9)
 * and no closing zeros: the exact value wherever nine decimals of the unit can say it; for JSON. */
size_t quantity_show_number(int64_t nano, enum unit unit, char *buf, bool *ret_rounded);

#endif

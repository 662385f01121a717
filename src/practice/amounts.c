/* amounts: owns the units of faults and their bounds; see amounts.h. Bounds are ours: what a practice unit may be off by and still be
 * a unit that somebody would bring to a shop. */
#include "practice/amounts.h"

#include "core/quantity.h"

#include <stdio.h>
#include <string.h>

#define MM INT64_C(1000000)

enum way {
    WAY_COUNT,  /* a whole number and a word */
    WAY_LENGTH, /* any length; model: nm */
    WAY_SLOPE,  /* a length and "/m"; model: nm per m */
    WAY_TWIST,  /* a length and "/m/m" */
    WAY_VOLT,   /* model: mV */
    WAY_OHM,    /* model: micro-ohm */
    WAY_FORCE   /* a whole number and N */
};

struct rule {
    enum way way;
    const char *unit, *one, *example; /* one: the same word for 1 */
    bool has_side, has_place;
    int64_t low, high; /* in the model's unit */
    const char *range; /* the same for people */
};

static const struct rule rules[PRACTICE_FAULT_N] = {
    [PRACTICE_TEETH] = {WAY_COUNT, "teeth", "tooth", "+1 teeth", true, true, -3, 3,
                        "-3 to 3 teeth"},
    [PRACTICE_CUT] = {WAY_LENGTH, "mm", "mm", "5 mm", true, true, -40 * MM, 40 * MM,
                      "-40 to 40 mm"},
    [PRACTICE_KEY] = {WAY_LENGTH, "mm", "mm", "-2 mm", true, true, -6 * MM, 6 * MM, "-6 to 6 mm"},
    [PRACTICE_PACKING] = {WAY_COUNT, "shims", "shim", "-2 shims", true, true, -12, 12,
                          "-12 to 12 shims"},
    [PRACTICE_TOE] = {WAY_COUNT, "notches", "notch", "+2 notches", true, false, -8, 8,
                      "-8 to 8 notches"},
    [PRACTICE_OFFSET] = {WAY_LENGTH, "mm", "mm", "3 mm", false, false, -30 * MM, 30 * MM,
                         "-30 to 30 mm"},
    [PRACTICE_YAW] = {WAY_SLOPE, "mm/m", "mm/m", "2 mm/m", false, false, -20 * MM, 20 * MM,
                      "-20 to 20 mm/m"},
    [PRACTICE_LEAN] = {WAY_SLOPE, "mm/m", "mm/m", "1.5 mm/m", false, false, -20 * MM, 20 * MM,
                       "-20 to 20 mm/m"},
    [PRACTICE_TWIST] = {WAY_TWIST, "mm/m/m", "mm/m/m", "1 mm/m/m", false, false, -20 * MM, 20 * MM,
                        "-20 to 20 mm/m/m"},
    [PRACTICE_WIDTH] = {WAY_LENGTH, "mm", "mm", "4 mm", false, false, -40 * MM, 40 * MM,
                        "-40 to 40 mm"},
    [PRACTICE_TAPER] = {WAY_LENGTH, "mm", "mm", "3 mm", false, false, -40 * MM, 40 * MM,
                        "-40 to 40 mm"},
    [PRACTICE_OPENING] = {WAY_LENGTH, "mm", "mm", "3 mm", false, false, -40 * MM, 40 * MM,
                          "-40 to 40 mm"},
    [PRACTICE_WEAR] = {WAY_LENGTH, "mm", "mm", "2.5 mm", true, true, 0, 5 * MM, "0 to 5 mm"},
    [PRACTICE_SUPPLY] = {WAY_VOLT, "V", "V", "1.5 V", false, false, 0, 5000, "0 to 5 V"},
    [PRACTICE_LEAD] = {WAY_OHM, "mohm", "mohm", "60 mohm", true, false, 0, 500000, "0 to 500 mohm"},
    [PRACTICE_DRAG] = {WAY_FORCE, "N", "N", "300 N", true, true, 0, 2000, "0 to 2000 N"},
    [PRACTICE_HOOK] = {WAY_LENGTH, "mm", "mm", "2 mm", false, false, -10 * MM, 10 * MM,
                       "-10 to 10 mm"},
    [PRACTICE_SCALE] = {WAY_COUNT, "ppm", "ppm", "20000 ppm", false, false, -100000, 100000,
                        "-100000 to 100000 ppm"},
    [PRACTICE_HABIT] = {WAY_COUNT, "percent", "percent", "80 percent", false, false, 0, 100,
                        "0 to 100 percent"},
    [PRACTICE_PARALLAX] = {WAY_LENGTH, "mm", "mm", "120 mm", false, false, -300 * MM, 300 * MM,
                           "-300 to 300 mm"},
};

static bool is_kind(int kind)
{
    return kind >= 0 && kind < PRACTICE_FAULT_N;
}

bool amount_has_side(int kind)
{
    return is_kind(kind) && rules[kind].has_side;
}

bool amount_has_place(int kind)
{
    return is_kind(kind) && rules[kind].has_place;
}

const char *amount_unit(int kind)
{
    return is_kind(kind) ? rules[kind].unit : "?";
}

const char *amount_example(int kind)
{
    return is_kind(kind) ? rules[kind].example : "?";
}

/* Cuts the closing word off s[0..*n) when it is there, with the blanks before it. */
static bool drop_word(const char *s, size_t *n, const char *word)
{
    const size_t size = strlen(word);
    if (*n <= size || memcmp(s + *n - size, word, size) != 0)
        return false;
    *n -= size;
    while (*n > 0 && s[*n - 1] == ' ')
        (*n)--;
    return *n > 0;
}

/* A whole number with an optional sign; false for anything else or more than 9 digits. */
static bool read_whole(const char *s, size_t n, int64_t *ret)
{
    size_t i = n > 0 && (s[0] == '+' || s[0] == '-') ? 1 : 0;
    int64_t value = 0;
    if (i == n || n - i > 9)
        return false;
    for (; i < n; i++) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        value = value * 10 + (s[i] - '0');
    }
    *ret = s[0] == '-' ? -value : value;
    return true;
}

/* An amount of this dimension in nano. */
static bool read_quantity(const char *s, size_t n, enum dim dim, int64_t *ret)
{
    struct quantity q;
    size_t at = 0;
    if (n > 0 && s[0] == '+') {
        s++;
        n--;
    }
    if (quantity_parse(s, n, UNIT_N, &q, &at) != ERR_OK || q.dim != dim)
        return false;
    *ret = q.nano;
    return true;
}

static bool read_by(const struct rule *r, const char *s, size_t n, int64_t *ret)
{
    switch (r->way) {
    case WAY_COUNT:
    case WAY_FORCE:
        return (drop_word(s, &n, r->unit) || drop_word(s, &n, r->one)) && read_whole(s, n, ret);
    case WAY_LENGTH:
        return read_quantity(s, n, DIM_LENGTH, ret);
    case WAY_SLOPE:
        return drop_word(s, &n, "/m") && read_quantity(s, n, DIM_LENGTH, ret);
    case WAY_TWIST:
        return drop_word(s, &n, "/m/m") && read_quantity(s, n, DIM_LENGTH, ret);
    case WAY_VOLT:
        if (!read_quantity(s, n, DIM_VOLTAGE, ret))
            return false;
        *ret /= MM;
        return true;
    case WAY_OHM:
        if (!read_quantity(s, n, DIM_RESISTANCE, ret))
            return false;
        *ret /= 1000;
        return true;
    }
    return false;
}

enum err amount_read(int kind, const char *s, size_t n, int64_t *ret, char *why)
{
    int64_t value = 0;
    why[0] = '\0';
    if (!is_kind(kind))
        return ERR_DOMAIN;
    const struct rule *r = &rules[kind];
    const char *id = practice_fault_id(kind);
    if (!read_by(r, s, n, &value)) {
        snprintf(why, FAULT_MESSAGE_MAX,
                 "expected %s and %s for the fault '%s', such as %s; found '%.60s'",
                 r->way == WAY_COUNT || r->way == WAY_FORCE ? "a whole number" : "a number",
                 r->unit, id, r->example, s);
        return ERR_UNIT;
    }
    if (value == 0) {
        snprintf(why, FAULT_MESSAGE_MAX, "'%.60s' is no fault at all: expected anything but 0", s);
        return ERR_DOMAIN;
    }
    if (value < r->low || value > r->high) {
        snprintf(why, FAULT_MESSAGE_MAX,
                 "'%.60s' is outside what the fault '%s' may be: expected %s", s, id, r->range);
        return ERR_RANGE;
    }
    *ret = value;
    return ERR_OK;
}

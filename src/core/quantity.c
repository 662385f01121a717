/* quantity: owns the units, and showing and converting amounts. Reading them is in
 * quantity_parse.c. */
#include "core/quantity.h"

#include "core/decimal.h"

/* ---- units
 * -----------------------------------------------------------------------------------------------------
 */

static const struct {
    char name[8];
    enum dim dim;
    int64_t nano;
} units[UNIT_N] = {
#define X(symbol, name, dim, nano) {name, dim, nano},
    QUANTITY_UNIT_TABLE(X)
#undef X
};

/* Other spellings that people use. Words in lower case match in any case; the rest match as they
 * stand. */
static const struct {
    char text[16];
    enum unit unit;
} spellings[] = {
    {"\"", UNIT_IN},
    {"''", UNIT_IN},
    {"\xe2\x80\xb3", UNIT_IN}, /* U+2033 double prime */
    {"\xe2\x80\x9d", UNIT_IN}, /* U+201D: phones make it of a plain quote */
    {"in.", UNIT_IN},
    {"inch", UNIT_IN},
    {"inches", UNIT_IN},
    {"'", UNIT_FT},
    {"\xe2\x80\xb2", UNIT_FT}, /* U+2032 prime */
    {"\xe2\x80\x99", UNIT_FT}, /* U+2019 */
    {"ft.", UNIT_FT},
    {"foot", UNIT_FT},
    {"feet", UNIT_FT},
    {"\xc2\xb5m", UNIT_UM}, /* U+00B5 micro sign */
    {"\xce\xbcm", UNIT_UM}, /* U+03BC Greek mu */
    {"micron", UNIT_UM},
    {"microns", UNIT_UM},
    {"millimetre", UNIT_MM},
    {"millimetres", UNIT_MM},
    {"millimeter", UNIT_MM},
    {"millimeters", UNIT_MM},
    {"metre", UNIT_M},
    {"metres", UNIT_M},
    {"meter", UNIT_M},
    {"meters", UNIT_M},
    {"millivolts", UNIT_MV},
    {"volt", UNIT_V},
    {"volts", UNIT_V},
    {"amp", UNIT_A},
    {"amps", UNIT_A},
    {"ampere", UNIT_A},
    {"amperes", UNIT_A},
    {"sec", UNIT_S},
    {"second", UNIT_S},
    {"seconds", UNIT_S},
    {"minute", UNIT_MIN},
    {"minutes", UNIT_MIN},
    {"hr", UNIT_H},
    {"hour", UNIT_H},
    {"hours", UNIT_H},
    {"Nm", UNIT_N_M},
    {"N.m", UNIT_N_M},
    {"N-m", UNIT_N_M},
    {"N\xc2\xb7m", UNIT_N_M}, /* U+00B7 middle dot */
    {"newton metres", UNIT_N_M},
    {"in lb", UNIT_LBF_IN},
    {"in-lb", UNIT_LBF_IN},
    {"in-lbs", UNIT_LBF_IN},
    {"in lbf", UNIT_LBF_IN},
    {"in-lbf", UNIT_LBF_IN},
    {"lb in", UNIT_LBF_IN},
    {"lb-in", UNIT_LBF_IN},
    {"lbf-in", UNIT_LBF_IN},
    {"inch-pounds", UNIT_LBF_IN},
    {"\xc2\xb0", UNIT_DEG}, /* U+00B0 */
    {"degree", UNIT_DEG},
    {"degrees", UNIT_DEG},
    {"m\xce\xa9", UNIT_MOHM}, /* U+03A9 capital omega */
    {"m\xe2\x84\xa6", UNIT_MOHM},
    {"milliohm", UNIT_MOHM},
    {"milliohms", UNIT_MOHM},
    {"\xce\xa9", UNIT_OHM},
    {"\xe2\x84\xa6", UNIT_OHM}, /* U+2126 ohm sign */
    {"ohms", UNIT_OHM},
    {"count", UNIT_ONE},
    {"counts", UNIT_ONE},
    {"times", UNIT_ONE},
    {"cycles", UNIT_ONE},
    {"pieces", UNIT_ONE},
};

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool is_same(const char *name, const char *text, size_t n, bool any_case)
{
    size_t i = 0;
    for (; i < n && name[i] != '\0'; i++)
        if (name[i] != (any_case ? lower(text[i]) : text[i]))
            return false;
    return i == n && name[i] == '\0';
}

static bool is_word(const char *name)
{
    size_t n = 0;
    for (; name[n] != '\0'; n++)
        if (!((name[n] >= 'a' && name[n] <= 'z') || name[n] == ' ' || name[n] == '-'))
            return false;
    return n >= 3;
}

enum unit quantity_unit_find(const char *text, size_t n)
{
    for (int u = 0; u < UNIT_N; u++)
        if (is_same(units[u].name, text, n, false))
            return (enum unit)u;
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0]; i++)
        if (is_same(spellings[i].text, text, n, is_word(spellings[i].text)))
            return spellings[i].unit;
    return UNIT_N;
}

const char *quantity_unit_name(enum unit unit)
{
    return units[unit].name;
}

enum dim quantity_unit_dim(enum unit unit)
{
    return units[unit].dim;
}

int64_t quantity_unit_nano(enum unit unit)
{
    return units[unit].nano;
}

/* ---- doubles
 * ---------------------------------------------------------------------------------------------------
 */

/* Splits 0.d1d2... x 10^point into the digits before and after the point, zeros filled in, and
 * scales them. */
static enum err scale_digits(const struct decimal *d, enum unit unit, uint64_t *ret)
{
    enum {
        WHOLE_MAX = 20,
        FRAC_MAX = 48
    }; /* value < 2^63: 19 digits; >= 2^-80: 24 zeros and 17 digits */
    char whole[WHOLE_MAX], frac[FRAC_MAX];
    size_t n_whole = 0, n_frac = 0;
    for (int place = d->point; place < 0; place++)
        frac[n_frac++] = '0';
    for (size_t i = 0; i < d->n; i++) {
        if ((int)i < d->point)
            whole[n_whole++] = d->digits[i];
        else
            frac[n_frac++] = d->digits[i];
    }
    while ((int)n_whole < d->point)
        whole[n_whole++] = '0';
    bool is_rounded;
    return decimal_scale(whole, n_whole, frac, n_frac, (uint64_t)units[unit].nano, ret,
                         &is_rounded);
}

enum err quantity_from_double(double value, enum unit unit, int64_t *ret_nano)
{
    if (!(value - value == 0)) /* NaN and the infinities */
        return ERR_DOMAIN;
    bool is_negative = value < 0;
    double magnitude = is_negative ? -value : value;
    if (magnitude < 0x1p-80) { /* below 10^-11 nano in every unit */
        *ret_nano = 0;
        return ERR_OK;
    }
    struct decimal d;
    if (decimal_shortest(magnitude, &d) != ERR_OK)
        return ERR_RANGE;
    uint64_t nano;
    enum err e = scale_digits(&d, unit, &nano);
    if (e != ERR_OK)
        return e;
    if (nano > (uint64_t)INT64_MAX)
        return ERR_RANGE;
    *ret_nano = is_negative ? -(int64_t)nano : (int64_t)nano;
    return ERR_OK;
}

double quantity_to_double(int64_t nano, enum unit unit)
{
    return (double)nano / (double)units[unit].nano;
}

/* ---- showing
 * ---------------------------------------------------------------------------------------------------
 */

static size_t put_number(uint64_t value, int least_digits, char *buf)
{
    char reversed[20];
    int n = 0;
    do {
        reversed[n++] = (char)('0' + value % 10);
        value /= 10;
    } while (value != 0 || n < least_digits);
    for (int i = 0; i < n; i++)
        buf[i] = reversed[n - 1 - i];
    return (size_t)n;
}

/* Sign, digits, point, `decimals` digits; no closing NUL. */
static size_t put_decimal(int64_t nano, enum unit unit, int decimals, char *buf, bool *ret_rounded)
{
    uint64_t per = (uint64_t)units[unit].nano;
    uint64_t magnitude = nano < 0 ? -(uint64_t)nano : (uint64_t)nano;
    uint64_t whole = magnitude / per, rest = magnitude % per, part = 0, one = 1;
    for (int i = 0; i < decimals; i++) {
        rest *= 10;
        part = part * 10 + rest / per;
        rest %= per;
        one *= 10;
    }
    bool is_odd = (decimals == 0 ? whole : part) & 1;
    if (2 * rest > per || (2 * rest == per && is_odd))
        part++;
    if (part == one) {
        whole++;
        part = 0;
    }
    if (ret_rounded)
        *ret_rounded = rest != 0;

    size_t size = 0;
    if (nano < 0 && (whole != 0 || part != 0))
        buf[size++] = '-';
    size += put_number(whole, 1, buf + size);
    if (decimals > 0) {
        buf[size++] = '.';
        size += put_number(part, decimals, buf + size);
    }
    return size;
}

static int clamp_decimals(int decimals)
{
    if (decimals < 0)
        return 0;
    return decimals > 9 ? 9 : decimals;
}

size_t quantity_show(int64_t nano, enum unit unit, int decimals, char *buf, bool *ret_rounded)
{
    size_t size = put_decimal(nano, unit, clamp_decimals(decimals), buf, ret_rounded);
    if (unit != UNIT_ONE) {
        buf[size++] = ' ';
        for (const char *name = units[unit].name; *name != '\0'; name++)
            buf[size++] = *name;
    }
    buf[size] = '\0';
    return size;
}

size_t quantity_show_number(int64_t nano, enum unit unit, char *buf, bool *ret_rounded)
{
    size_t size = put_decimal(nano, unit, 9, buf, ret_rounded);
    while (buf[size - 1] == '0')
        size--;
    if (buf[size - 1] == '.')
        size--;
    buf[size] = '\0';
    return size;
}

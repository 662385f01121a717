/* number: owns how decimal text becomes the nearest double, and what that double leaves of it. */
#include "base/number.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* The digits from s[*i] on into *whole while they are exact in 64 bits; how many there were. */
static int take_digits(const char *s, size_t n, size_t *i, uint64_t *whole, bool *is_exact)
{
    int count = 0;
    for (; *i < n && is_digit(s[*i]); (*i)++, count++) {
        if (*whole > (UINT64_MAX - 9) / 10)
            *is_exact = false;
        else
            *whole = *whole * 10 + (uint64_t)(s[*i] - '0');
    }
    return count;
}

enum { TENS_MAX = 22 };
static const double tens[TENS_MAX + 1] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                          1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                          1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* A whole number below 2^53 times or over a power of ten up to 10^22: one rounding, so the nearest double (Clinger, PLDI
 * 1990). */
static bool scale_exact(uint64_t whole, int exponent, double *ret)
{
    if (whole >= (uint64_t)1 << 53 || exponent < -TENS_MAX || exponent > TENS_MAX)
        return false;
    *ret = exponent < 0 ? (double)whole / tens[-exponent] : (double)whole * tens[exponent];
    return true;
}

/* What the grammar has passed, by the C library. A process that never sets a locale reads a point; it is checked that all was
 * read. */
static bool read_slowly(const char *text, size_t n, double *ret)
{
    char copy[400];
    char *end = NULL;
    if (n >= sizeof copy)
        return false;
    memcpy(copy, text, n);
    copy[n] = '\0';
    *ret = strtod(copy, &end);
    return *end == '\0' && isfinite(*ret);
}

/* x y = *ret_high + *ret_low exactly (Dekker, Numerische Mathematik 18, 224-242, 1971; no product here is near the ends of the range). */
static double times(double x, double y, double *ret_low)
{
    const double halve = 134217729; /* 2^27 + 1 */
    const double a = halve * x, b = halve * y;
    const double xh = a - (a - x), yh = b - (b - y);
    const double xl = x - xh, yl = y - yh, high = x * y;
    *ret_low = ((xh * yh - high) + xh * yl + xl * yh) + xl * yl;
    return high;
}

/* What a double near whole/ten leaves of it. */
static double left_over(uint64_t whole, double ten, double value)
{
    const uint64_t low = whole & 0x7ff; /* the rest has 53 bits, so both are exact doubles */
    double small = 0;
    const double back = times(value, ten, &small);
    return (((double)(whole - low) - back) + (double)low - small) / ten;
}

bool number_read(const char *text, size_t n, double *ret, double *ret_rest)
{
    size_t i = n > 0 && (text[0] == '-' || text[0] == '+') ? 1 : 0;
    uint64_t whole = 0;
    bool is_exact = true;
    int exponent = 0;
    int n_digits = take_digits(text, n, &i, &whole, &is_exact);
    if (i < n && text[i] == '.') {
        i++;
        exponent = -take_digits(text, n, &i, &whole, &is_exact);
        n_digits -= exponent;
    }
    if (n_digits == 0)
        return false;
    if (i < n && (text[i] == 'e' || text[i] == 'E')) {
        uint64_t power = 0;
        i++;
        const bool is_down = i < n && text[i] == '-';
        i += i < n && (text[i] == '-' || text[i] == '+');
        if (take_digits(text, n, &i, &power, &is_exact) == 0)
            return false;
        is_exact = is_exact && power < 1000;
        exponent += is_exact ? (is_down ? -(int)power : (int)power) : 0;
    }
    if (i != n)
        return false;
    const bool is_minus = text[0] == '-';
    if (is_exact && scale_exact(whole, exponent, ret))
        *ret = is_minus ? -*ret : *ret;
    else if (!read_slowly(text, n, ret))
        return false;
    if (ret_rest == NULL)
        return true;
    const bool is_plain = is_exact && exponent <= 0 && exponent >= -TENS_MAX;
    const double rest = is_plain ? left_over(whole, tens[-exponent], fabs(*ret)) : 0;
    *ret_rest = is_minus ? -rest : rest;
    return true;
}

/* decimal: exact arithmetic on decimal digits, for amounts that are written by people or come from
 * JSON. Digits are ASCII '0'..'9', never checked again here: the caller has read them as digits. */
#ifndef CORE_DECIMAL_H
#define CORE_DECIMAL_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* decimal_scale: whole.frac x per, rounded to the nearest whole number, ties to even; exact for any
 * count of digits. whole[0..n_whole), frac[0..n_frac): digits, either may be empty. per: 1 ..
 * 10^17. *ret_rounded: the product was no whole number. Errors: ERR_RANGE when the answer is above
 * 2^63. Worked: 6.35 x 10 000 000 is 63 500 000; 0.5 x 1 is 0, rounded; 1.5 x 1 is 2, rounded. */
MUST_USE enum err decimal_scale(const char *whole, size_t n_whole, const char *frac, size_t n_frac,
                                uint64_t per, uint64_t *ret, bool *ret_rounded);

enum { DECIMAL_DIGITS_MAX = 17 };

struct decimal {
    char digits[DECIMAL_DIGITS_MAX + 1]; /* no closing NUL is promised; the first is not '0' */
    size_t n;                            /* 0 for the value zero */
    int point;                           /* the value is 0.d1d2d3... x 10^point */
};

/* decimal_shortest: the fewest digits that read back as the same double, and of those the nearest
 * to it. value: positive, 2^-80 <= value < 2^63, else ERR_DOMAIN. Method: free-format printing with
 * exact integers, Burger & Dybvig, PLDI 1996 ("Printing Floating-Point Numbers Quickly and
 * Accurately"), after Steele & White, PLDI 1990. Worked: 0.1 gives "1", point 0; 62.4 gives "624",
 * point 2. */
MUST_USE enum err decimal_shortest(double value, struct decimal *ret);

#endif

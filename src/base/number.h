/* number: decimal text as a double, with what the double leaves of it. */
#ifndef BASE_NUMBER_H
#define BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* number_read: text[0..n) as a decimal, exponent allowed (12, -0.5, 1e-3), no spaces, no locale; false when it is none or too large.
 * *ret: the nearest double. *ret_rest, unless NULL: the decimal less *ret, as a double: together they hold some thirty digits. A double
 * near 10^12 steps by 1.2e-4; where differences of such numbers matter, they are found from both parts without that loss. 0 for
 * more than 19 digits or a positive exponent. Worked: 1000000000000.4 is 1000000000000.4000244140625 and -2.44140625e-5. */
bool number_read(const char *text, size_t n, double *ret, double *ret_rest);

#endif

/* tap: prints test results in the Test Anything Protocol, one line a fact, so that every row of a table counts.
 * Usage: tap_ok(cond, "what holds (source)"); ... return tap_done(); */
#ifndef TEST_TAP_H
#define TEST_TAP_H

#include "core/err.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>

static int tap_n, tap_n_bad;

PRINTF_LIKE(2, 3) static inline bool tap_ok(bool is_good, const char *fmt, ...)
{
    va_list ap;
    tap_n++;
    tap_n_bad += !is_good;
    printf("%sok %d - ", is_good ? "" : "not ", tap_n);
    va_start(ap, fmt);
    vprintf(fmt, ap);
    va_end(ap);
    putchar('\n');
    return is_good;
}

/* A line of explanation, shown with a failure or for a measured figure. */
PRINTF_LIKE(1, 2) static inline void tap_note(const char *fmt, ...)
{
    va_list ap;
    fputs("# ", stdout);
    va_start(ap, fmt);
    vprintf(fmt, ap);
    va_end(ap);
    putchar('\n');
}

static inline int tap_done(void)
{
    printf("1..%d\n", tap_n);
    return tap_n_bad ? 1 : 0;
}

#endif

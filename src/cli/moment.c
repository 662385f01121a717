/* moment: owns the desk's clock and how times are written in calls. */
#include "cli/moment.h"

#include "core/date.h"

#include <stddef.h>
#include <string.h>
#include <time.h>

enum { DATE_SIZE = DATE_SHOW_SIZE - 1, DIGITS_MAX = 13 };
static const int64_t last_ms = 7258118399999; /* the end of 2199, as far as core/date goes */

int64_t moment_now(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_REALTIME, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* Exactly n digits at *at, which moves on; -1 when one of them is none. */
static int64_t digits(const char **at, size_t n)
{
    int64_t value = 0;
    for (size_t i = 0; i < n; i++, ++*at) {
        if (**at < '0' || **at > '9')
            return -1;
        value = 10 * value + (**at - '0');
    }
    return value;
}

static bool read_milliseconds(const char *text, int64_t *ret_ms)
{
    const size_t n = strlen(text);
    const char *at = text;
    const int64_t value = n > 0 && n <= DIGITS_MAX ? digits(&at, n) : -1;
    *ret_ms = value;
    return value >= 0 && value <= last_ms;
}

/* "T09:14:00.250Z" and its shorter forms, as milliseconds of the day. */
static bool read_clock(const char *at, int64_t *ret_ms)
{
    int64_t second = 0, ms = 0;
    if (*at++ != 'T')
        return false;
    const int64_t hour = digits(&at, 2);
    if (hour < 0 || hour > 23 || *at++ != ':')
        return false;
    const int64_t minute = digits(&at, 2);
    if (minute < 0 || minute > 59)
        return false;
    if (*at == ':') {
        at++;
        second = digits(&at, 2);
        if (second < 0 || second > 59)
            return false;
        if (*at == '.') {
            at++;
            ms = digits(&at, 3);
        }
    }
    *ret_ms = ((hour * 60 + minute) * 60 + second) * 1000 + ms;
    return ms >= 0 && strcmp(at, "Z") == 0;
}

bool moment_read(const char *text, int64_t *ret_ms)
{
    int32_t day = 0;
    int64_t ms = 0;
    if (strchr(text, '-') == NULL)
        return read_milliseconds(text, ret_ms);
    if (strlen(text) < DATE_SIZE || date_parse(text, DATE_SIZE, &day) != ERR_OK || day < 0)
        return false;
    if (text[DATE_SIZE] != '\0' && !read_clock(text + DATE_SIZE, &ms))
        return false;
    *ret_ms = (int64_t)day * 86400000 + ms;
    return true;
}

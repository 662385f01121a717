/* date: days of the proleptic Gregorian calendar as a count from 1970-01-01 (day 0, a Thursday).
 * ISO 8601 weeks: Monday first, week 01 holds the year's first Thursday. Years 1900..2199, else
 * ERR_DOMAIN. */
#ifndef CORE_DATE_H
#define CORE_DATE_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { DATE_SHOW_SIZE = 11 }; /* "YYYY-MM-DD" and NUL */

/* date_from_civil: year, month 1..12, day 1..31. ERR_IMPOSSIBLE for 30 February and the like. */
MUST_USE enum err date_from_civil(int year, int month, int day, int32_t *ret_day);

/* date_from_ordinal: day of year 1..366. ERR_IMPOSSIBLE for 366 in a common year. */
MUST_USE enum err date_from_ordinal(int year, int day_of_year, int32_t *ret_day);

/* date_from_week: ISO week-year, week 1..53, weekday 1 (Monday)..7. ERR_IMPOSSIBLE for week 53 in a
 * 52-week year. Worked: 2004-W53-6 is 2005-01-01. */
MUST_USE enum err date_from_week(int week_year, int week, int weekday, int32_t *ret_day);

/* The other way; every day that date_from_* can give. Outputs may be NULL. */
void date_to_civil(int32_t day, int *ret_year, int *ret_month, int *ret_day);
void date_to_week(int32_t day, int *ret_week_year, int *ret_week, int *ret_weekday);

/* date_parse: "YYYY-MM-DD" only, nothing before or after. */
MUST_USE enum err date_parse(const char *text, size_t n, int32_t *ret_day);

/* date_digits: text[0..n) as a number, n 1..9, as the parts of dates and times are written; -1 when one of them is no digit (what comes
 * after that one is not looked at). */
int date_digits(const char *text, int n);

/* date_show: "YYYY-MM-DD" into buf[DATE_SHOW_SIZE]. */
void date_show(int32_t day, char *buf);

#endif

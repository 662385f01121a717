/* label: the date of manufacture (and the variant) off a station's label, by patterns the bulletin
 * declares.
 *
 * A pattern is literal text and conversions in the manner of POSIX strptime: %Y %y %m %d %j (day of
 * year) %b (English month name, whole or its first three letters) %G (ISO week-year) %g (its last
 * two digits) %V (ISO week) %u (ISO weekday 1..7) %% ; and one of ours, {variant}: letters, digits,
 * '-',
 * '.', '/', at most LABEL_VARIANT_MAX of them, upper-cased. Numbers have exactly the digits of
 * their kind (%Y %G 4, %j 3, %u 1, others 2). A blank in a pattern matches any run of blanks, also
 * none; blanks around the label are dropped; case is ignored in literals. Two-digit years: 69..99
 * are 1969..1999, 00..68 are 2000..2068 (POSIX strptime).
 *
 * A pattern must settle a day (year and month and day; year and day of year; week-year, week and
 * weekday), a week (week-year and week) or a month (year and month), and by one of these ways only.
 * A calendar year with an ISO week is refused: the days around New Year would be a year off. */
#ifndef CORE_LABEL_H
#define CORE_LABEL_H

#include "core/date.h"

enum {
    LABEL_TEXT_MAX = 128,
    LABEL_PATTERN_MAX = 64,
    LABEL_PATTERNS_MAX = 16,
    LABEL_VARIANT_MAX = 24
};

struct label {
    int32_t first_day,
        last_day; /* equal when the label gives a day; else the week's or month's ends */
    char variant[LABEL_VARIANT_MAX + 1]; /* "" when the pattern has none */
    int pattern;                         /* which pattern matched, counted from 0 */
};

/* label_pattern_check: ERR_OK when the pattern is well formed and settles a date. Errors:
 * ERR_EMPTY; ERR_LIMIT (longer than LABEL_PATTERN_MAX); ERR_ENCODING (a control byte); ERR_SYNTAX
 * (a conversion or a brace that is not known); ERR_DUPLICATE (the same thing twice); ERR_AMBIGUOUS
 * (a calendar year with an ISO week, or the date in two ways); ERR_UNKNOWN (it settles neither day,
 * week nor month). *reterr_at: byte in the pattern; its size for the last two. */
MUST_USE enum err label_pattern_check(const char *pattern, size_t n, size_t *reterr_at);

/* label_read: tries every pattern, and every length of the variant; all that match must agree on
 * the dates, and on the variant where they have one. A reading that gives no existing date is
 * dropped as long as another one holds. text[0..n) is hostile; patterns[n_patterns]:
 * NUL-terminated, 1..LABEL_PATTERNS_MAX. Errors: ERR_EMPTY; ERR_LIMIT (text longer than
 * LABEL_TEXT_MAX, or the number of patterns); ERR_ENCODING (a control byte); ERR_SYNTAX (no pattern
 * fits; *reterr_at = the furthest byte reached by any); ERR_IMPOSSIBLE (fits, but no such day, as
 * 2023-W53, or no year of 1900..2199; *reterr_at = where the date starts); ERR_AMBIGUOUS (two
 * readings fit and differ); ERR_DOMAIN (a pattern that label_pattern_check refuses; *reterr_at =
 * its index). */
MUST_USE enum err label_read(const char *text, size_t n, const char *const *patterns,
                             size_t n_patterns, struct label *ret, size_t *reterr_at);

/* label_example: how a label by this pattern reads for a day (of 1900..2199) and a variant: "{variant} %G-W%V", 2024-04-05
 * and "WD40" give "WD40 2024-W14". For people who do not read patterns; whatever label_pattern_check takes, label_read reads
 * back as that day, its week or its month. buf gets a NUL, cut to room; returns the size written, 0 for a pattern that is
 * refused. */
size_t label_example(const char *pattern, size_t n, int32_t day, const char *variant, char *buf,
                     size_t room);

#endif

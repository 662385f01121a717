/* test_date: the calendar. Rows with sources are in test/tables/week.tsv; every day of the range
 * is checked against counting. */
#include "core/date.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>

static bool reads(const char *civil, int32_t *ret_day)
{
    return date_parse(civil, strlen(civil), ret_day) == ERR_OK;
}

static void check_table(void)
{
    struct table t;
    table_open(&t, "week.tsv");
    while (table_next(&t, 4)) {
        char **cell = t.cells;
        int32_t day = 0, of_week = 0, of_year = 0;
        int year = 0, week = 0, weekday = 0;
        char shown[DATE_SHOW_SIZE] = "", week_shown[40];
        tap_ok(reads(cell[0], &day), "%s is read (%s)", cell[0], cell[3]);
        date_show(day, shown);
        tap_ok(strcmp(shown, cell[0]) == 0, "%s is shown back", cell[0]);
        date_to_week(day, &year, &week, &weekday);
        snprintf(week_shown, sizeof week_shown, "%d-W%02d-%d", year, week, weekday);
        if (!tap_ok(strcmp(week_shown, cell[1]) == 0, "%s is %s (%s)", cell[0], cell[1], cell[3]))
            tap_note("found %s", week_shown);
        year = (int)strtol(cell[1], NULL, 10); /* as the table has it: YYYY-Www-D */
        week = (int)strtol(cell[1] + 6, NULL, 10);
        weekday = (int)strtol(cell[1] + 9, NULL, 10);
        /* The last days of 2199 belong to week-year 2200, which is outside the range. */
        const enum err e = date_from_week(year, week, weekday, &of_week);
        tap_ok(year > 2199 ? e == ERR_DOMAIN : e == ERR_OK && of_week == day, "%s is %s (%s)",
               cell[1], cell[0], cell[3]);
        const int ordinal_year = (int)strtol(cell[2], NULL, 10);
        const int ordinal = (int)strtol(cell[2] + 5, NULL, 10);
        tap_ok(date_from_ordinal(ordinal_year, ordinal, &of_year) == ERR_OK && of_year == day,
               "%s is %s (%s)", cell[2], cell[0], cell[3]);
    }
}

static void check_origin(void)
{
    int32_t day;
    int weekday;
    tap_ok(reads("1970-01-01", &day) && day == 0,
           "1970-01-01 is day 0 (POSIX seconds since the Epoch)");
    date_to_week(0, NULL, NULL, &weekday);
    tap_ok(weekday == 4, "1970-01-01 was a Thursday (ISO 8601 weekday 4)");
    tap_ok(reads("2000-03-01", &day) && day == 11017,
           "2000-03-01 is day 11017 (30 x 365 + 7 leap days + 31 + 29, by hand)");
}

static void check_refusals(void)
{
    static const struct {
        const char *text;
        size_t n;
        enum err e;
        const char *why;
    } rows[] = {
        {"", 0, ERR_EMPTY, "nothing"},
        {"2023-02-29", 10, ERR_IMPOSSIBLE, "2023 is no leap year"},
        {"1900-02-29", 10, ERR_IMPOSSIBLE, "1900 is no leap year: Gregorian rule of 100"},
        {"2100-02-29", 10, ERR_IMPOSSIBLE, "2100 is no leap year: Gregorian rule of 100"},
        {"2024-04-31", 10, ERR_IMPOSSIBLE, "April has 30 days"},
        {"2024-13-01", 10, ERR_IMPOSSIBLE, "there are 12 months"},
        {"2024-00-01", 10, ERR_IMPOSSIBLE, "no month 0"},
        {"2024-01-00", 10, ERR_IMPOSSIBLE, "no day 0"},
        {"1899-12-31", 10, ERR_DOMAIN, "before the range"},
        {"2200-01-01", 10, ERR_DOMAIN, "after the range"},
        {"2024-1-01", 9, ERR_SYNTAX, "one digit"},
        {"24-01-01", 8, ERR_SYNTAX, "two-digit year"},
        {"2024/01/01", 10, ERR_SYNTAX, "slashes"},
        {"2024-01-01 ", 11, ERR_SYNTAX, "something after"},
        {" 2024-01-01", 11, ERR_SYNTAX, "something before"},
        {"2024-01-0x", 10, ERR_SYNTAX, "a letter"},
        {"2024-01-\0001", 10, ERR_SYNTAX, "a NUL inside"},
        {"-024-01-01", 10, ERR_SYNTAX, "a sign"},
        {"\xff\xfe\xfd\xfc-\xff\xff-\xff\xff", 10, ERR_SYNTAX, "no UTF-8"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int32_t day;
        const enum err e = date_parse(rows[i].text, rows[i].n, &day);
        if (!tap_ok(e == rows[i].e, "'%s' is refused: %s (date.h)", rows[i].text, rows[i].why))
            tap_note("found %s", err_symbol(e));
    }
    static char big[100 * 1024];
    memset(big, '2', sizeof big);
    int32_t day;
    tap_ok(date_parse(big, sizeof big, &day) == ERR_SYNTAX, "100 kB are refused (date.h)");
    tap_ok(date_from_ordinal(2023, 366, &day) == ERR_IMPOSSIBLE, "2023 has no day 366");
    tap_ok(date_from_ordinal(2024, 367, &day) == ERR_IMPOSSIBLE, "2024 has no day 367");
    tap_ok(date_from_ordinal(2024, 0, &day) == ERR_IMPOSSIBLE, "no day 0 of a year");
    tap_ok(date_from_week(2023, 53, 1, &day) == ERR_IMPOSSIBLE, "2023 has 52 weeks");
    tap_ok(date_from_week(2024, 53, 1, &day) == ERR_IMPOSSIBLE, "2024 has 52 weeks");
    tap_ok(date_from_week(2026, 54, 1, &day) == ERR_IMPOSSIBLE, "no year has 54 weeks");
    tap_ok(date_from_week(2026, 0, 1, &day) == ERR_IMPOSSIBLE, "no week 0 (ISO 8601)");
    tap_ok(date_from_week(2026, 1, 0, &day) == ERR_IMPOSSIBLE, "no weekday 0 (ISO 8601)");
    tap_ok(date_from_week(2026, 1, 8, &day) == ERR_IMPOSSIBLE, "no weekday 8 (ISO 8601)");
    tap_ok(date_from_week(1899, 1, 1, &day) == ERR_DOMAIN, "week-year 1899 is outside (date.h)");
    tap_ok(date_from_civil(INT32_MAX, 1, 1, &day) == ERR_DOMAIN, "a huge year is outside (date.h)");
    tap_ok(date_from_civil(2024, INT32_MIN, INT32_MAX, &day) == ERR_IMPOSSIBLE,
           "huge months and days do not exist (date.h)");
}

/* Counts every day of 1900-01-01 .. 2199-12-31 by month lengths and by weeks of seven, which is the
 * definition, and compares. */
static void check_every_day(void)
{
    static const int lengths[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int32_t expected = -25567; /* 1900-01-01: 70 x 365 + 17 leap days before 1970, by hand */
    int weekday = 1;           /* 1900-01-01 was a Monday (Python 3 isoweekday) */
    int n_bad = 0, n_long = 0;
    for (int year = 1900; year <= 2199; year++) {
        const bool is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        int ordinal = 0;
        for (int month = 1; month <= 12; month++)
            for (int d = 1; d <= lengths[month - 1] + (month == 2 && is_leap); d++) {
                int32_t day = 0, by_ordinal = 0, by_week = 0;
                int y, m, dd, wy, w, wd;
                ordinal++;
                n_bad += date_from_civil(year, month, d, &day) != ERR_OK || day != expected;
                n_bad +=
                    date_from_ordinal(year, ordinal, &by_ordinal) != ERR_OK || by_ordinal != day;
                date_to_civil(day, &y, &m, &dd);
                n_bad += y != year || m != month || dd != d;
                date_to_week(day, &wy, &w, &wd);
                n_bad += wd != weekday;
                n_bad +=
                    wy < 2200 && (date_from_week(wy, w, wd, &by_week) != ERR_OK || by_week != day);
                n_long += w == 53 && wd == 4;
                expected++;
                weekday = weekday % 7 + 1;
            }
    }
    tap_ok(n_bad == 0, "every day from 1900 to 2199 agrees with counting, %d do not (definition)",
           n_bad);
    tap_ok(n_long == 53, "%d of the years 1900 to 2199 have 53 weeks (Python 3 isocalendar)",
           n_long);
    for (int32_t day = INT32_MAX - 3; day < INT32_MAX; day++) {
        char buf[DATE_SHOW_SIZE];
        date_show(day, buf);
        date_show(-day, buf);
        date_to_week(day, NULL, NULL, NULL);
        date_to_week(-day, NULL, NULL, NULL);
    }
    tap_ok(true, "days of any size are harmless (sanitizers)");
}

int main(void)
{
    check_table();
    check_origin();
    check_refusals();
    check_every_day();
    return tap_done();
}

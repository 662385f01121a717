/* date: owns the calendar: civil dates, days of the year, ISO weeks, as one count of days. */
#include "core/date.h"

enum {
    YEAR_MIN = 1900,
    YEAR_MAX = 2199,
    DAYS_BEFORE_1970 = 719468, /* from 0000-03-01, where the reckoning below starts */
    DAYS_OF_ERA = 146097,      /* 400 years */
};

static bool is_leap(int year)
{
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int days_of_month(int year, int month)
{
    static const signed char days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return days[month - 1] + (month == 2 && is_leap(year));
}

/* Years are counted from March here, so that a leap day comes last and month lengths follow one
 * line: (153 m + 2) / 5 is the day of the year on which month m (March = 0) starts. */
static int32_t count_days(int year, int month, int day)
{
    int y = year - (month <= 2), m = (month + 9) % 12;
    return (int32_t)(y * 365 + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1) -
           DAYS_BEFORE_1970;
}

/* Monday = 1 .. Sunday = 7; day 0 is a Thursday. */
static int weekday_of(int32_t day)
{
    int since_monday = (int)(((int64_t)day + 3) % 7);
    return (since_monday < 0 ? since_monday + 7 : since_monday) + 1;
}

/* The Monday of week 01: the week that holds 4 January. */
static int32_t first_monday(int week_year)
{
    int32_t fourth = count_days(week_year, 1, 4);
    return fourth - (weekday_of(fourth) - 1);
}

enum err date_from_civil(int year, int month, int day, int32_t *ret_day)
{
    if (year < YEAR_MIN || year > YEAR_MAX)
        return ERR_DOMAIN;
    if (month < 1 || month > 12 || day < 1 || day > days_of_month(year, month))
        return ERR_IMPOSSIBLE;
    *ret_day = count_days(year, month, day);
    return ERR_OK;
}

enum err date_from_ordinal(int year, int day_of_year, int32_t *ret_day)
{
    if (year < YEAR_MIN || year > YEAR_MAX)
        return ERR_DOMAIN;
    if (day_of_year < 1 || day_of_year > 365 + is_leap(year))
        return ERR_IMPOSSIBLE;
    *ret_day = count_days(year, 1, 1) + day_of_year - 1;
    return ERR_OK;
}

enum err date_from_week(int week_year, int week, int weekday, int32_t *ret_day)
{
    if (week_year < YEAR_MIN || week_year > YEAR_MAX)
        return ERR_DOMAIN;
    int weeks = (int)(first_monday(week_year + 1) - first_monday(week_year)) / 7;
    if (week < 1 || week > weeks || weekday < 1 || weekday > 7)
        return ERR_IMPOSSIBLE;
    *ret_day = first_monday(week_year) + 7 * (week - 1) + weekday - 1;
    return ERR_OK;
}

void date_to_civil(int32_t day, int *ret_year, int *ret_month, int *ret_day)
{
    int64_t since = (int64_t)day + DAYS_BEFORE_1970;
    int64_t era = since / DAYS_OF_ERA - (since % DAYS_OF_ERA < 0);
    int64_t d = since - era * DAYS_OF_ERA; /* 0 .. 146096 */
    /* The year within the era: takes away the leap days that lie before d. */
    int64_t y = (d - d / 1460 + d / 36524 - d / 146096) / 365;
    int64_t of_year = d - (365 * y + y / 4 - y / 100);
    int64_t m = (5 * of_year + 2) / 153;
    int month = (int)(m < 10 ? m + 3 : m - 9);
    if (ret_year)
        *ret_year = (int)(era * 400 + y + (month <= 2));
    if (ret_month)
        *ret_month = month;
    if (ret_day)
        *ret_day = (int)(of_year - (153 * m + 2) / 5 + 1);
}

void date_to_week(int32_t day, int *ret_week_year, int *ret_week, int *ret_weekday)
{
    int weekday = weekday_of(day), year;
    /* The week belongs to the year that its Thursday lies in. */
    int64_t thursday = (int64_t)day - (weekday - 4);
    if (thursday > INT32_MAX)
        thursday = INT32_MAX;
    if (thursday < INT32_MIN)
        thursday = INT32_MIN;
    date_to_civil((int32_t)thursday, &year, NULL, NULL);
    if (ret_week_year)
        *ret_week_year = year;
    if (ret_week) {
        int month, of_month;
        date_to_civil((int32_t)thursday, NULL, &month, &of_month);
        static const short before[12] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
        int of_year = before[month - 1] + (month > 2 && is_leap(year)) + of_month;
        *ret_week = (of_year - 1) / 7 + 1;
    }
    if (ret_weekday)
        *ret_weekday = weekday;
}

/* ---- text
 * ------------------------------------------------------------------------------------------------------
 */

int date_digits(const char *text, int n)
{
    int value = 0;
    for (int i = 0; i < n; i++) {
        if (text[i] < '0' || text[i] > '9')
            return -1;
        value = value * 10 + (text[i] - '0');
    }
    return value;
}

enum err date_parse(const char *text, size_t n, int32_t *ret_day)
{
    if (n == 0)
        return ERR_EMPTY;
    if (n != DATE_SHOW_SIZE - 1 || text[4] != '-' || text[7] != '-')
        return ERR_SYNTAX;
    const int year = date_digits(text, 4), month = date_digits(text + 5, 2),
              day = date_digits(text + 8, 2);
    if (year < 0 || month < 0 || day < 0)
        return ERR_SYNTAX;
    return date_from_civil(year, month, day, ret_day);
}

static void put_digits(int value, int n_digits, char *buf)
{
    for (int i = n_digits; i-- > 0; value /= 10)
        buf[i] = (char)('0' + value % 10);
}

void date_show(int32_t day, char *buf)
{
    int year, month, of_month;
    date_to_civil(day, &year, &month, &of_month);
    if (year < 0 || year > 9999)
        year = 0; /* no day that date_from_* gives; the buffer is kept whole all the same */
    put_digits(year, 4, buf);
    buf[4] = '-';
    put_digits(month, 2, buf + 5);
    buf[7] = '-';
    put_digits(of_month, 2, buf + 8);
    buf[10] = '\0';
}

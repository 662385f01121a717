/* test_label: dates and variants off labels. The meaning of %Y %y %m %d %j %b is POSIX.1-2017 strptime,
 * of %G %g %V %u ISO 8601 as in POSIX strftime; dates of weeks are in test/tables/week.tsv. */
#include "core/label.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>

static const unsigned long long SEED = 20260312;

/* ---- patterns ---------------------------------------------------------------------------------- */

static void check_patterns(void)
{
    static const struct {
        const char *pattern;
        enum err e;
        size_t at;
        const char *why;
    } rows[] = {
        {"%Y-%m-%d", ERR_OK, 0, "year, month, day"},
        {"%y%j", ERR_OK, 0, "year and day of year"},
        {"{variant}-%G-W%V", ERR_OK, 0, "ISO week"},
        {"%g%V%u", ERR_OK, 0, "ISO week and weekday"},
        {"%b %Y", ERR_OK, 0, "month"},
        {"100%% %Y%m", ERR_OK, 0, "a literal per cent sign"},
        {"", ERR_EMPTY, 0, "nothing"},
        {"%Y-%m-%", ERR_SYNTAX, 6, "a per cent sign at the end"},
        {"%Y-%q", ERR_SYNTAX, 3, "an unknown conversion"},
        {"%Y-%m{variant", ERR_SYNTAX, 5, "an open brace"},
        {"%Y-%m{colour}", ERR_SYNTAX, 5, "an unknown name in braces"},
        {"%Y\n%m", ERR_ENCODING, 2, "a control character"},
        {"%Y-%m-%Y", ERR_DUPLICATE, 6, "the year twice"},
        {"%Y-%y-%m", ERR_DUPLICATE, 3, "the year twice, in two forms"},
        {"%m %b %Y", ERR_DUPLICATE, 3, "the month twice, in two forms"},
        {"{variant}{variant}%Y%m", ERR_DUPLICATE, 9, "the variant twice"},
        {"%Y-W%V", ERR_AMBIGUOUS, 6,
         "a calendar year with an ISO week (ISO 8601: 2024-12-30 is in 2025-W01)"},
        {"%Y-%m-%d %j", ERR_AMBIGUOUS, 11, "the day in two ways"},
        {"%Y", ERR_UNKNOWN, 2, "a year alone"},
        {"%m-%d", ERR_UNKNOWN, 5, "no year"},
        {"%V", ERR_UNKNOWN, 2, "a week without year"},
        {"{variant}", ERR_UNKNOWN, 9, "no date at all"},
        {"made in", ERR_UNKNOWN, 7, "no date at all"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        size_t at = 0;
        const enum err e = label_pattern_check(rows[i].pattern, strlen(rows[i].pattern), &at);
        if (!tap_ok(e == rows[i].e && at == rows[i].at, "pattern '%s': %s, %s (label.h)",
                    rows[i].e == ERR_ENCODING ? "..." : rows[i].pattern, err_symbol(rows[i].e),
                    rows[i].why))
            tap_note("found %s at %zu", err_symbol(e), at);
    }
    char longest[LABEL_PATTERN_MAX + 2];
    snprintf(longest, sizeof longest, "%%Y%%m%0*d", LABEL_PATTERN_MAX - 3, 0);
    size_t at = 0;
    tap_ok(label_pattern_check(longest, LABEL_PATTERN_MAX, &at) == ERR_OK,
           "64 bytes are a pattern (label.h)");
    tap_ok(label_pattern_check(longest, LABEL_PATTERN_MAX + 1, &at) == ERR_LIMIT &&
               at == LABEL_PATTERN_MAX,
           "65 bytes are none (label.h)");
}

/* ---- labels that are read ---------------------------------------------------------------------- */

struct good {
    const char *text;
    const char *patterns[3];
    const char *first, *last, *variant;
    int pattern;
    const char *source;
};

static size_t count(const char *const *patterns)
{
    size_t n = 0;
    while (n < 3 && patterns[n] != NULL)
        n++;
    return n;
}

static void check_good(void)
{
    static const struct good rows[] = {
        {"2024-06-14", {"%Y-%m-%d"}, "2024-06-14", "2024-06-14", "", 0, "ISO 8601 calendar date"},
        {"24166",
         {"%y%j"},
         "2024-06-14",
         "2024-06-14",
         "",
         0,
         "day 166 of a leap year: 31+29+31+30+31+14"},
        {"2020-366", {"%Y-%j"}, "2020-12-31", "2020-12-31", "", 0, "Python 3 strftime %j"},
        {"2004W536", {"%GW%V%u"}, "2005-01-01", "2005-01-01", "", 0, "ISO 8601: 2004-W53-6"},
        {"C2-2020-W53",
         {"{variant}-%G-W%V"},
         "2020-12-28",
         "2021-01-03",
         "C2",
         0,
         "Python 3 isocalendar"},
        {"c2-2020-w53",
         {"{variant}-%G-W%V"},
         "2020-12-28",
         "2021-01-03",
         "C2",
         0,
         "case is ignored (label.h)"},
        {"2501 A/3.1",
         {"%g%V {variant}"},
         "2024-12-30",
         "2025-01-05",
         "A/3.1",
         0,
         "Python 3 isocalendar: 2024-12-30 is 2025-W01-1"},
        {"A-B-2024-05",
         {"{variant}-%Y-%m"},
         "2024-05-01",
         "2024-05-31",
         "A-B",
         0,
         "the variant may hold the literal that follows it"},
        {"February 2024", {"%b %Y"}, "2024-02-01", "2024-02-29", "", 0, "leap year 2024"},
        {"FEB2023",
         {"%b%Y"},
         "2023-02-01",
         "2023-02-28",
         "",
         0,
         "strptime %b: short names; a blank is in neither"},
        {"14 may 24",
         {"%d %b %y"},
         "2024-05-14",
         "2024-05-14",
         "",
         0,
         "strptime %b: case is ignored"},
        {"01/01/69",
         {"%d/%m/%y"},
         "1969-01-01",
         "1969-01-01",
         "",
         0,
         "POSIX strptime %y: 69..99 are 1969..1999"},
        {"01/01/99", {"%d/%m/%y"}, "1999-01-01", "1999-01-01", "", 0, "POSIX strptime %y"},
        {"01/01/00",
         {"%d/%m/%y"},
         "2000-01-01",
         "2000-01-01",
         "",
         0,
         "POSIX strptime %y: 00..68 are 2000..2068"},
        {"01/01/68", {"%d/%m/%y"}, "2068-01-01", "2068-01-01", "", 0, "POSIX strptime %y"},
        {"  MFD:2024  06 ",
         {"MFD: %Y %m"},
         "2024-06-01",
         "2024-06-30",
         "",
         0,
         "a blank is any run of blanks, also none"},
        {"100% 2024-06-14", {"100%% %Y-%m-%d"}, "2024-06-14", "2024-06-14", "", 0, "strptime %%"},
        {"13/02/2024",
         {"%d/%m/%Y", "%m/%d/%Y"},
         "2024-02-13",
         "2024-02-13",
         "",
         0,
         "month 13 does not exist, so one reading is left"},
        {"02/13/2024",
         {"%d/%m/%Y", "%m/%d/%Y"},
         "2024-02-13",
         "2024-02-13",
         "",
         1,
         "the same the other way"},
        {"05/05/2024",
         {"%d/%m/%Y", "%m/%d/%Y"},
         "2024-05-05",
         "2024-05-05",
         "",
         0,
         "both readings agree"},
        {"gr\xc3\xb6\xc3\x9f"
         "e 2024-05-05",
         {"gr\xc3\xb6\xc3\x9f"
          "e %Y-%m-%d"},
         "2024-05-05",
         "2024-05-05",
         "",
         0,
         "literals may be UTF-8"},
        {"ABCDEFGHIJKLMNOPQRSTUVWX 2024-05",
         {"{variant} %Y-%m"},
         "2024-05-01",
         "2024-05-31",
         "ABCDEFGHIJKLMNOPQRSTUVWX",
         0,
         "24 characters of variant (label.h)"},
        {"A12405",
         {"{variant}%y%m"},
         "2024-05-01",
         "2024-05-31",
         "A1",
         0,
         "fixed digits settle where the variant ends"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct good *r = &rows[i];
        struct label l = {0};
        size_t at = 0;
        char first[DATE_SHOW_SIZE] = "", last[DATE_SHOW_SIZE] = "";
        const enum err e =
            label_read(r->text, strlen(r->text), r->patterns, count(r->patterns), &l, &at);
        if (e == ERR_OK) {
            date_show(l.first_day, first);
            date_show(l.last_day, last);
        }
        if (!tap_ok(e == ERR_OK && strcmp(first, r->first) == 0 && strcmp(last, r->last) == 0 &&
                        strcmp(l.variant, r->variant) == 0 && l.pattern == r->pattern,
                    "'%s' is %s to %s, variant '%s' (%s)", r->text, r->first, r->last, r->variant,
                    r->source))
            tap_note("found %s at %zu, %s to %s, '%s', pattern %d", err_symbol(e), at, first, last,
                     l.variant, l.pattern);
    }
}

/* ---- labels that are refused ------------------------------------------------------------------- */

struct bad {
    const char *text;
    size_t n; /* 0: strlen */
    const char *patterns[3];
    enum err e;
    size_t at;
    const char *source;
};

static void check_bad(void)
{
    static const struct bad rows[] = {
        {"", 0, {"%Y-%m"}, ERR_EMPTY, 0, "nothing"},
        {"   ", 0, {"%Y-%m"}, ERR_EMPTY, 3, "blanks alone"},
        {"2024-05x", 0, {"%Y-%m"}, ERR_SYNTAX, 7, "something after"},
        {"x2024-05", 0, {"%Y-%m"}, ERR_SYNTAX, 0, "something before"},
        {"2024-5", 0, {"%Y-%m"}, ERR_SYNTAX, 6, "one digit for the month"},
        {"2024-O5", 0, {"%Y-%m"}, ERR_SYNTAX, 5, "a letter O"},
        {"-024-05", 0, {"%Y-%m"}, ERR_SYNTAX, 0, "a sign"},
        {"2024-W05",
         0,
         {"%Y-%m", "%G-W%V-%u"},
         ERR_SYNTAX,
         8,
         "the pattern that reaches furthest tells where"},
        {"2023-W53", 0, {"%G-W%V"}, ERR_IMPOSSIBLE, 0, "2023 has 52 ISO weeks"},
        {"2024-W00", 0, {"%G-W%V"}, ERR_IMPOSSIBLE, 0, "ISO 8601 weeks start at 01"},
        {"2024-W01-8", 0, {"%G-W%V-%u"}, ERR_IMPOSSIBLE, 0, "ISO 8601 weekdays are 1 to 7"},
        {"C2 30/02/2024", 0, {"{variant} %d/%m/%Y"}, ERR_IMPOSSIBLE, 3, "30 February"},
        {"2023-366", 0, {"%Y-%j"}, ERR_IMPOSSIBLE, 0, "2023 has 365 days"},
        {"2024-13", 0, {"%Y-%m"}, ERR_IMPOSSIBLE, 0, "month 13"},
        {"2024-00", 0, {"%Y-%m"}, ERR_IMPOSSIBLE, 0, "month 0"},
        {"0024-05", 0, {"%Y-%m"}, ERR_IMPOSSIBLE, 0, "year 24 is outside 1900 to 2199"},
        {"05/06/2024", 0, {"%d/%m/%Y", "%m/%d/%Y"}, ERR_AMBIGUOUS, 0, "5 June or 6 May"},
        {"240506", 0, {"%y%m%d", "%d%m%y"}, ERR_AMBIGUOUS, 0, "2024-05-06 or 2006-05-24"},
        {"2024-05-05", 0, {"%Y-%m-%d", "%Y-%m-{variant}"}, ERR_AMBIGUOUS, 0, "a day or a month"},
        {"X1 2024-05-05",
         0,
         {"%Y", "{variant} %Y-%m-%d"},
         ERR_DOMAIN,
         0,
         "the first pattern settles no date"},
        {"2024-05-01",
         0,
         {"%Y-%m-%d", "%Y-%m-{variant}"},
         ERR_AMBIGUOUS,
         0,
         "a day or the month that starts on it"},
        {"AB.202405",
         0,
         {"{variant}.%Y%m", "A{variant}.%Y%m"},
         ERR_AMBIGUOUS,
         3,
         "one date, two variants"},
        {"2024-05", 0, {"%Y-%m", "%q"}, ERR_DOMAIN, 1, "the second pattern is malformed"},
        {"2024\0-05", 8, {"%Y-%m"}, ERR_ENCODING, 4, "a NUL"},
        {"2024-05\n", 8, {"%Y-%m"}, ERR_ENCODING, 7, "a line feed"},
        {"\xff\xfe", 2, {"%Y-%m"}, ERR_SYNTAX, 0, "bytes that are not UTF-8"},
        {"ABCDEFGHIJKLMNOPQRSTUVWXY 2024-05",
         0,
         {"{variant} %Y-%m"},
         ERR_SYNTAX,
         24,
         "25 characters of variant (label.h)"},
        {"Febru 2024", 0, {"%b %Y"}, ERR_SYNTAX, 3, "half a month name"},
        {" 2024-05", 0, {"-%Y-%m"}, ERR_SYNTAX, 1, "a literal missing"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct bad *r = &rows[i];
        struct label l;
        size_t at = 999;
        const size_t n = r->n ? r->n : strlen(r->text);
        char *copy = malloc(n ? n : 1); /* exactly so large: reading on would be found */
        memcpy(copy, r->text, n);
        const enum err e = label_read(copy, n, r->patterns, count(r->patterns), &l, &at);
        if (!tap_ok(e == r->e && at == r->at, "'%s' is refused: %s at %zu, %s",
                    r->e == ERR_ENCODING || (unsigned char)r->text[0] > 0x7f ? "..." : r->text,
                    err_symbol(r->e), r->at, r->source))
            tap_note("found %s at %zu", err_symbol(e), at);
        free(copy);
    }
    static char big[100 * 1024];
    memset(big, '2', sizeof big);
    static const char *const one[] = {"%Y-%m"};
    struct label l;
    size_t at = 0;
    tap_ok(label_read(big, sizeof big, one, 1, &l, &at) == ERR_LIMIT && at == LABEL_TEXT_MAX,
           "100 kB are refused at the limit (label.h)");
    tap_ok(label_read("2024-05", 7, one, 0, &l, &at) == ERR_LIMIT,
           "no pattern is refused (label.h)");
    tap_ok(label_read("2024-05", 7, one, LABEL_PATTERNS_MAX + 1, &l, &at) == ERR_LIMIT,
           "17 patterns are refused (label.h)");
    static const char *const endless[] = {
        "%Y-%m xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx"};
    tap_ok(label_read("2024-05", 7, endless, 1, &l, &at) == ERR_DOMAIN && at == 0,
           "an over-long pattern is refused (label.h)");
}

/* ---- properties -------------------------------------------------------------------------------- */

static void check_weeks(void)
{
    struct table t;
    table_open(&t, "week.tsv");
    static const char *const week[] = {"%G-W%V-%u"}, *const ordinal[] = {"%Y-%j"},
                             *const civil[] = {"%Y-%m-%d"};
    while (table_next(&t, 4)) {
        struct label a = {0}, b = {0}, c = {0};
        size_t at;
        const bool is_outside = strncmp(t.cells[1], "2200", 4) == 0;
        const enum err e = label_read(t.cells[1], strlen(t.cells[1]), week, 1, &a, &at);
        const bool is_read =
            label_read(t.cells[2], strlen(t.cells[2]), ordinal, 1, &b, &at) == ERR_OK &&
            label_read(t.cells[0], strlen(t.cells[0]), civil, 1, &c, &at) == ERR_OK &&
            b.first_day == c.first_day;
        tap_ok(is_read &&
                   (is_outside ? e == ERR_IMPOSSIBLE : e == ERR_OK && a.first_day == c.first_day),
               "labels %s, %s and %s are the same day (%s)", t.cells[0], t.cells[1], t.cells[2],
               t.cells[3]);
    }
}

static void check_round_trips(void)
{
    enum { RUNS = 50000 };
    static const char *const patterns[] = {"{variant} %G-W%V-%u", "{variant} %Y%j",
                                           "{variant} %d.%m.%Y"};
    unsigned long long state = SEED;
    int n_bad = 0, n_week = 0;
    tap_note("seed %llu", SEED);
    for (int i = 0; i < RUNS; i++) {
        const int32_t day = (int32_t)(table_random(&state) % 109000) - 25567;
        int y, m, d, wy, w, wd;
        int32_t new_year = 0;
        char text[3][64];
        date_to_civil(day, &y, &m, &d);
        date_to_week(day, &wy, &w, &wd);
        if (date_from_civil(y, 1, 1, &new_year) != ERR_OK)
            n_bad++;
        snprintf(text[0], 64, "K%d %04d-W%02d-%d", i % 100, wy, w, wd);
        snprintf(text[1], 64, "K%d %04d%03d", i % 100, y, day - new_year + 1);
        snprintf(text[2], 64, "K%d %02d.%02d.%04d", i % 100, d, m, y);
        for (int k = 0; k < 3; k++) {
            struct label l = {0};
            size_t at;
            char variant[16];
            snprintf(variant, sizeof variant, "K%d", i % 100);
            const enum err e = label_read(text[k], strlen(text[k]), patterns, 3, &l, &at);
            n_bad += e != ERR_OK || l.first_day != day || l.last_day != day || l.pattern != k ||
                     strcmp(l.variant, variant) != 0;
        }
        n_week += w == 53;
    }
    tap_ok(n_bad == 0, "%d dates in three forms come back, %d do not; %d in a week 53 (property)",
           RUNS, n_bad, n_week);
}

/* By hand: 2024-04-05 is a Friday, day 96 of the year, in 2024-W14 (ISO 8601; Python datetime). */
static void check_examples(void)
{
    static const struct {
        const char *pattern, *reads;
    } rows[] = {{"{variant} %G-W%V", "WD40 2024-W14"},
                {"%Y-%m-%d", "2024-04-05"},
                {"%y%j", "24096"},
                {"%g.%V.%u {variant}", "24.14.5 WD40"},
                {"%b %Y", "Apr 2024"},
                {"100%% %Y%m", "100% 202404"},
                {"%Y", ""},
                {"%q", ""}};
    int32_t day = 0;
    char buf[64], small[5];
    tap_ok(date_from_civil(2024, 4, 5, &day) == ERR_OK, "5 April 2024");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *p = rows[i].pattern;
        const size_t n = label_example(p, strlen(p), day, "WD40", buf, sizeof buf);
        tap_ok(n == strlen(rows[i].reads) && strcmp(buf, rows[i].reads) == 0,
               "'%s' reads like '%s' (POSIX strftime, ISO 8601)", p, rows[i].reads);
    }
    tap_ok(label_example("%Y-%m-%d", 8, day, "", small, sizeof small) == 4 &&
               strcmp(small, "2024") == 0,
           "cut to the room given");
    unsigned long long state = SEED;
    int n_bad = 0;
    for (int i = 0; i < 20000; i++) {
        const char *p = rows[i % 5].pattern;
        struct label l = {0};
        size_t at;
        const bool is_short = p[1] == 'y' || p[1] == 'g';
        /* Two-digit years are 1969..2068. */
        const int32_t some = is_short ? (int32_t)(table_random(&state) % 36000) - 300
                                      : (int32_t)(table_random(&state) % 109000) - 25560;
        const size_t n = label_example(p, strlen(p), some, "K7", buf, sizeof buf);
        n_bad += label_read(buf, n, &p, 1, &l, &at) != ERR_OK || some < l.first_day ||
                 some > l.last_day || l.last_day - l.first_day > 30;
    }
    tap_ok(n_bad == 0, "20000 examples in five forms are read back with their day (property)");
}

int main(void)
{
    check_patterns();
    check_good();
    check_bad();
    check_weeks();
    check_round_trips();
    check_examples();
    return tap_done();
}

/* Rows and properties for core/scope: in, out or unknown, and why. Windows and labels are those of
 * the invented bulletin OV-26-03; days of ISO weeks are checked against ISO 8601 (week 01 holds the
 * year's first Thursday). Run with a seed as argument to replay. */
#include "core/scope.h"
#include "tap.h"
#include "unit/random.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* 49 CFR 565.15 Table VI's example, and the same with its 9th character wrong (check digit 4). */
#define VIN_GOOD "1G4AH59H45G118341"
#define VIN_BAD  "1G4AH59H55G118341"

static int32_t day(const char *text)
{
    int32_t ret = 0;
    return date_parse(text, strlen(text), &ret) == ERR_OK ? ret : INT32_MIN;
}

static const char *const variants[] = {"wd40", "wd55", "wd70"};
static const struct scope_code codes[] = {{"WD40", 0}, {"WD40B", 0}, {"WD55-*", 1}, {"WD70", 2}};

struct world {
    struct scope_window windows[5];
    struct scope_rule rule;
};

/* wd40: 2024-W11..W15 and W31..W33; wd55: W12..W16 and W38..W40; wd70: 2024-W38 .. 29 September. */
static void world_set(struct world *w, size_t n_stations)
{
    w->windows[0] = (struct scope_window){0, -1, day("2024-03-11"), day("2024-04-14")};
    w->windows[1] = (struct scope_window){0, -1, day("2024-07-29"), day("2024-08-18")};
    w->windows[2] = (struct scope_window){1, -1, day("2024-03-18"), day("2024-04-21")};
    w->windows[3] = (struct scope_window){1, -1, day("2024-09-16"), day("2024-10-06")};
    w->windows[4] = (struct scope_window){2, -1, day("2024-09-16"), day("2024-09-29")};
    w->rule = (struct scope_rule){.n_stations = n_stations,
                                  .n_variants = 3,
                                  .n_codes = 4,
                                  .n_windows = 5,
                                  .variants = variants,
                                  .codes = codes,
                                  .windows = w->windows};
}

static struct scope_sight seen(const char *variant, const char *first, const char *last)
{
    struct scope_sight s = {.state = SCOPE_LABEL_READ};
    s.label.first_day = day(first);
    s.label.last_day = day(last);
    snprintf(s.label.variant, sizeof s.label.variant, "%s", variant);
    return s;
}

static void station_rows(void)
{
    static const struct {
        const char *what, *variant, *given, *first, *last;
        enum scope_verdict verdict;
        enum scope_reason reason;
        int window;
    } rows[] = {
        {"week 13 of 2024, wd40", "WD40", NULL, "2024-03-25", "2024-03-31", SCOPE_IN,
         SCOPE_BUILT_INSIDE, 0},
        {"its first day", "WD40", NULL, "2024-03-11", "2024-03-11", SCOPE_IN, SCOPE_BUILT_INSIDE,
         0},
        {"the day before", "WD40", NULL, "2024-03-10", "2024-03-10", SCOPE_OUT, SCOPE_BUILT_BEFORE,
         0},
        {"its last day", "WD40", NULL, "2024-04-14", "2024-04-14", SCOPE_IN, SCOPE_BUILT_INSIDE, 0},
        {"the day after, a later window comes", "WD40", NULL, "2024-04-15", "2024-04-15", SCOPE_OUT,
         SCOPE_BUILT_BETWEEN, 0},
        {"nearer to the later window", "WD40", NULL, "2024-07-22", "2024-07-28", SCOPE_OUT,
         SCOPE_BUILT_BETWEEN, 1},
        {"the second window", "WD40", NULL, "2024-08-05", "2024-08-11", SCOPE_IN,
         SCOPE_BUILT_INSIDE, 1},
        {"after all windows", "WD40", NULL, "2024-08-19", "2024-08-25", SCOPE_OUT,
         SCOPE_BUILT_AFTER, 1},
        {"the same week, the other variant", "WD55-R", NULL, "2024-08-05", "2024-08-11", SCOPE_OUT,
         SCOPE_BUILT_BETWEEN, 3},
        {"a closing * takes any rest", "WD55-", NULL, "2024-03-18", "2024-03-24", SCOPE_IN,
         SCOPE_BUILT_INSIDE, 2},
        {"a month that hangs over the end", "WD40", NULL, "2024-04-01", "2024-04-30", SCOPE_UNKNOWN,
         SCOPE_LABEL_STRADDLES, 0},
        {"a week that hangs over the start", "WD40", NULL, "2024-03-10", "2024-03-16",
         SCOPE_UNKNOWN, SCOPE_LABEL_STRADDLES, 0},
        {"a year around two windows", "WD40", NULL, "2024-01-01", "2024-12-31", SCOPE_UNKNOWN,
         SCOPE_LABEL_STRADDLES, 0},
        {"a variant not listed", "WD90", NULL, "2024-03-25", "2024-03-31", SCOPE_OUT,
         SCOPE_VARIANT_CLEAR, -1},
        {"a variant that may be misread, 0 for O", "WD4O", NULL, "2024-03-25", "2024-03-31",
         SCOPE_UNKNOWN, SCOPE_VARIANT_MISREAD, -1},
        {"a variant that may be misread, S for 5", "WD5S-X", NULL, "2024-03-25", "2024-03-31",
         SCOPE_UNKNOWN, SCOPE_VARIANT_MISREAD, -1},
        {"no variant, and it decides", "", NULL, "2024-03-11", "2024-03-17", SCOPE_UNKNOWN,
         SCOPE_VARIANT_MISSING, 0},
        {"no variant, and no window is near", "", NULL, "2024-06-03", "2024-06-09", SCOPE_OUT,
         SCOPE_BUILT_BETWEEN, 2},
        {"no variant, before all", "", NULL, "2023-06-03", "2023-06-09", SCOPE_OUT,
         SCOPE_BUILT_BEFORE, 0},
        {"no variant, after all", "", NULL, "2025-06-03", "2025-06-09", SCOPE_OUT,
         SCOPE_BUILT_AFTER, 3},
        {"given by hand", "", "WD40", "2024-03-11", "2024-03-17", SCOPE_IN, SCOPE_BUILT_INSIDE, 0},
        {"given by hand and on the label, the same", "WD40", "WD40", "2024-03-11", "2024-03-17",
         SCOPE_IN, SCOPE_BUILT_INSIDE, 0},
        {"given by hand against the label", "WD40", "WD70", "2024-03-25", "2024-03-31",
         SCOPE_UNKNOWN, SCOPE_VARIANT_DIFFERS, -1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct world w;
        struct scope_answer a;
        size_t at = 0;
        world_set(&w, 1);
        struct scope_sight s = seen(rows[i].variant, rows[i].first, rows[i].last);
        s.given_variant = rows[i].given;
        enum err e = scope_judge(&w.rule, NULL, 0, &s, &a, &at);
        const struct scope_finding *f = &a.stations[0];
        if (!tap_ok(e == ERR_OK && f->verdict == rows[i].verdict && f->reason == rows[i].reason &&
                        f->window == rows[i].window && a.unit == f->verdict,
                    "%s: %s, %s (ISO 8601 weeks; by hand)", rows[i].what,
                    scope_verdict_name(rows[i].verdict), scope_reason_code(rows[i].reason)))
            tap_note("got %s, %s, %s, window %d", err_symbol(e), scope_verdict_name(f->verdict),
                     scope_reason_code(f->reason), f->window);
    }
}

static void label_rows(void)
{
    struct world w;
    struct scope_answer a;
    size_t at = 0;
    world_set(&w, 1);
    struct scope_sight s = {.state = SCOPE_LABEL_UNREAD};
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_UNKNOWN &&
               a.stations[0].reason == SCOPE_LABEL_MISSING && !a.stations[0].has_days,
           "label not read: unknown, no days");
    s.given_variant = "WD90";
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_OUT &&
               a.stations[0].reason == SCOPE_VARIANT_CLEAR,
           "label not read, but the variant is not listed: out whatever its date");
    s = (struct scope_sight){.state = SCOPE_LABEL_AMBIGUOUS};
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK &&
               a.stations[0].reason == SCOPE_LABEL_TWO_WAYS,
           "a label of two dates: unknown");
    w.windows[1] = (struct scope_window){0, -1, day("2024-04-15"), day("2024-05-31")};
    s = seen("WD40", "2024-04-01", "2024-04-30");
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_IN,
           "two windows that touch count as one for a month across both");
    w.windows[1].first_day = day("2024-04-16");
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_UNKNOWN,
           "one day between them leaves it open");
    world_set(&w, 1);
    for (int i = 2; i < 5; i++)
        w.windows[i] = (struct scope_window){i - 2, -1, day("2024-03-11"), day("2024-04-14")};
    s = seen("", "2024-03-25", "2024-03-31");
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_UNKNOWN,
           "every listed variant would be in, but one that is not listed is out: unknown");
    world_set(&w, 1);
    w.windows[0].variant = -1;
    s = seen("WD90", "2024-03-25", "2024-03-31");
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_IN,
           "a window for any variant takes one that is not listed, too");
    s = seen("", "2024-03-25", "2024-03-31");
    tap_ok(scope_judge(&w.rule, NULL, 0, &s, &a, &at) == ERR_OK && a.unit == SCOPE_IN,
           "and one that is not known");
}

static void unit_rows(void)
{
    static const struct {
        const char *what;
        char s[4]; /* i in, o out, u unknown */
        enum scope_verdict unit;
    } rows[] = {{"all in", "iii", SCOPE_IN},
                {"all out", "ooo", SCOPE_OUT},
                {"one in, one out", "io", SCOPE_MIXED},
                {"one in, one unknown", "iu", SCOPE_MIXED},
                {"out and unknown", "ou", SCOPE_UNKNOWN},
                {"all unknown", "uu", SCOPE_UNKNOWN},
                {"in, out, unknown", "iou", SCOPE_MIXED},
                {"one in", "i", SCOPE_IN}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct world w;
        struct scope_answer a;
        struct scope_sight s[3];
        size_t at = 0, n = strlen(rows[i].s);
        world_set(&w, n);
        for (size_t k = 0; k < n; k++) {
            s[k] = seen("WD40", rows[i].s[k] == 'i' ? "2024-03-25" : "2025-03-25", "2025-03-25");
            s[k].label.last_day = s[k].label.first_day;
            if (rows[i].s[k] == 'u')
                s[k] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
        }
        tap_ok(scope_judge(&w.rule, NULL, 0, s, &a, &at) == ERR_OK && a.unit == rows[i].unit,
               "unit: %s: %s (contract)", rows[i].what, scope_verdict_name(rows[i].unit));
    }
    struct world w;
    struct scope_answer a;
    size_t at = 0;
    world_set(&w, 2);
    w.windows[0].station = 1;
    const struct scope_sight s[2] = {seen("WD40", "2024-03-25", "2024-03-25"),
                                     seen("WD40", "2024-03-25", "2024-03-25")};
    tap_ok(scope_judge(&w.rule, NULL, 0, s, &a, &at) == ERR_OK && a.unit == SCOPE_MIXED &&
               a.stations[0].verdict == SCOPE_OUT && a.stations[1].verdict == SCOPE_IN,
           "a window of one station does not touch the other");
}

static void vin_rows(void)
{
    static const char *const prefixes[] = {"1G4", "2Z"};
    static const struct {
        const char *what, *vin;
        enum scope_vin_rule rule;
        size_t n_prefixes, first_prefix;
        enum scope_verdict unit;
        enum scope_reason reason;
        bool has_warning;
    } rows[] = {
        {"checks, required", VIN_GOOD, SCOPE_VIN_REQUIRED, 0, 0, SCOPE_IN, SCOPE_BUILT_INSIDE,
         false},
        {"does not check, required", VIN_BAD, SCOPE_VIN_REQUIRED, 0, 0, SCOPE_UNKNOWN,
         SCOPE_VIN_FAULTY, false},
        {"does not check, advisory", VIN_BAD, SCOPE_VIN_ADVISORY, 0, 0, SCOPE_IN,
         SCOPE_BUILT_INSIDE, true},
        {"does not check, nobody asks", VIN_BAD, SCOPE_VIN_NONE, 0, 0, SCOPE_IN, SCOPE_BUILT_INSIDE,
         false},
        {"16 characters, advisory", "1G4AH59H45G11834", SCOPE_VIN_ADVISORY, 0, 0, SCOPE_IN,
         SCOPE_BUILT_INSIDE, true},
        {"none, required", NULL, SCOPE_VIN_REQUIRED, 0, 0, SCOPE_UNKNOWN, SCOPE_VIN_MISSING, false},
        {"none, advisory", NULL, SCOPE_VIN_ADVISORY, 0, 0, SCOPE_IN, SCOPE_BUILT_INSIDE, false},
        {"begins as affected", VIN_GOOD, SCOPE_VIN_REQUIRED, 2, 0, SCOPE_IN, SCOPE_BUILT_INSIDE,
         false},
        {"begins otherwise", VIN_GOOD, SCOPE_VIN_REQUIRED, 1, 1, SCOPE_OUT, SCOPE_VIN_CLEAR, false},
        {"begins otherwise but does not check, required", VIN_BAD, SCOPE_VIN_REQUIRED, 1, 1,
         SCOPE_UNKNOWN, SCOPE_VIN_FAULTY, false},
        {"begins as affected, does not check, advisory", VIN_BAD, SCOPE_VIN_ADVISORY, 1, 0,
         SCOPE_IN, SCOPE_BUILT_INSIDE, true},
        {"a beginning is asked for and none is given", NULL, SCOPE_VIN_ADVISORY, 1, 0,
         SCOPE_UNKNOWN, SCOPE_VIN_MISSING, false},
        {"a letter no VIN holds, with beginnings", "1G4AH59H45G11834O", SCOPE_VIN_ADVISORY, 1, 1,
         SCOPE_UNKNOWN, SCOPE_VIN_FAULTY, true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct world w;
        struct scope_answer a;
        size_t at = 0;
        world_set(&w, 1);
        w.rule.vin_rule = rows[i].rule;
        w.rule.n_prefixes = rows[i].n_prefixes;
        w.rule.prefixes = prefixes + rows[i].first_prefix;
        struct scope_sight s = seen("WD40", "2024-03-25", "2024-03-31");
        enum err e = scope_judge(&w.rule, rows[i].vin,
                                 rows[i].vin != NULL ? strlen(rows[i].vin) : 0, &s, &a, &at);
        if (!tap_ok(e == ERR_OK && a.unit == rows[i].unit &&
                        a.stations[0].reason == rows[i].reason &&
                        a.has_vin_warning == rows[i].has_warning,
                    "VIN %s: %s, %s (VIN of 49 CFR 565.15 Table VI, check digit 4)", rows[i].what,
                    scope_verdict_name(rows[i].unit), scope_reason_code(rows[i].reason)))
            tap_note("got %s, %s, %s, %d", err_symbol(e), scope_verdict_name(a.unit),
                     scope_reason_code(a.stations[0].reason), a.has_vin_warning);
    }
}

static void repair_row(void)
{
    struct world w;
    struct scope_answer a;
    char buf[SCOPE_TEXT_MAX];
    size_t at = 0;
    world_set(&w, 1);
    w.rule.vin_rule = SCOPE_VIN_REQUIRED;
    struct scope_sight s = seen("WD40", "2024-03-25", "2024-03-31");
    const char *misread = "WDBEA3QD3HA39I172"; /* Q for 0, I for 1 */
    bool has = false;
    enum err e = scope_judge(&w.rule, misread, strlen(misread), &s, &a, &at);
    for (size_t i = 0; e == ERR_OK && i < a.n_repairs; i++)
        has = has || strcmp(a.repairs[i].vin, "WDBEA30D3HA391172") == 0;
    tap_ok(has, "a misread VIN is proposed as WDBEA30D3HA391172 (published VIN, check digit 3)");
    scope_settle_text(&w.rule, &s, &a, &a.stations[0], buf, sizeof buf);
    tap_ok(strstr(buf, "plate") != NULL, "and the plate is said to decide");
}

static void refusal_rows(void)
{
    struct world w;
    struct scope_answer a;
    size_t at = 0;
    struct scope_sight s = seen("WD40", "2024-03-25", "2024-03-31");
#define REFUSE(change, code, where)                                                                \
    do {                                                                                           \
        world_set(&w, 1);                                                                          \
        change;                                                                                    \
        enum err e = scope_judge(&w.rule, NULL, 0, &s, &a, &at);                                   \
        tap_ok(e == (code) && at == (where), "refused: " #change ": " #code " (header)");          \
    } while (0)
    REFUSE(w.rule.n_stations = 0, ERR_EMPTY, (size_t)-1);
    REFUSE(w.rule.n_stations = SCOPE_STATIONS_MAX + 1, ERR_LIMIT, (size_t)-1);
    REFUSE(w.rule.n_windows = SCOPE_WINDOWS_MAX + 1, ERR_LIMIT, (size_t)-1);
    REFUSE(w.windows[3].first_day = w.windows[3].last_day + 1, ERR_ORDER, 3);
    REFUSE(w.windows[2].variant = 3, ERR_DOMAIN, 2);
    REFUSE(w.windows[4].station = 1, ERR_DOMAIN, 4);
    REFUSE(w.windows[4].station = -2, ERR_DOMAIN, 4);
    s.label.first_day = s.label.last_day + 1;
    REFUSE((void)0, ERR_ORDER, 0);
#undef REFUSE
}

/* Every reason gives a whole sentence, and every one that leaves something open says what would
 * settle it. */
static void text_rows(void)
{
    struct world w;
    struct scope_answer a = {.n_repairs = 0};
    char buf[SCOPE_TEXT_MAX];
    world_set(&w, 1);
    struct scope_sight s = seen("ABCDEFGHIJKLMNOPQRSTUVWX", "2024-03-25", "2024-03-31");
    s.given_variant = "YBCDEFGHIJKLMNOPQRSTUVWX";
    for (int r = SCOPE_BUILT_INSIDE; r <= SCOPE_VIN_FAULTY; r++) {
        bool is_open = r >= SCOPE_LABEL_MISSING;
        const struct scope_finding f = {.verdict = is_open ? SCOPE_UNKNOWN : SCOPE_IN,
                                        .reason = (enum scope_reason)r,
                                        .window = 0,
                                        .variant = 0,
                                        .has_days = true,
                                        .first_day = s.label.first_day,
                                        .last_day = s.label.last_day};
        size_t size = scope_reason_text(&w.rule, &s, &a, &f, buf, sizeof buf);
        bool is_whole = size > 5 && size == strlen(buf) && size + 1 < sizeof buf;
        size = scope_settle_text(&w.rule, &s, &a, &f, buf, sizeof buf);
        tap_ok(is_whole && (size > 5) == is_open && size + 1 < sizeof buf, "a sentence for %s",
               scope_reason_code((enum scope_reason)r));
    }
}

/* Random windows and spans against a count of days, one by one. */
static void property_days(uint64_t seed)
{
    int bad = 0, n[3] = {0, 0, 0};
    rng = seed;
    for (int i = 0; i < 5000; i++) {
        struct world w;
        struct scope_answer a;
        size_t at = 0;
        world_set(&w, 1);
        for (int k = 0; k < 5; k++) {
            w.windows[k] =
                (struct scope_window){(int)(next() % 2), -1, (int32_t)(19800 + next() % 60), 0};
            w.windows[k].last_day = w.windows[k].first_day + (int32_t)(next() % 12);
        }
        struct scope_sight s = seen("WD40", "2024-03-25", "2024-03-25");
        s.label.first_day = (int32_t)(19795 + next() % 70);
        s.label.last_day =
            s.label.first_day + (int32_t)(next() % 3 == 0 ? next() % 31 : next() % 7);
        int n_in = 0, n_days = s.label.last_day - s.label.first_day + 1;
        for (int32_t d = s.label.first_day; d <= s.label.last_day; d++) {
            bool is_in = false;
            for (int k = 0; k < 5; k++)
                is_in = is_in || (w.windows[k].variant == 0 && d >= w.windows[k].first_day &&
                                  d <= w.windows[k].last_day);
            n_in += is_in;
        }
        enum scope_verdict want = n_in == n_days ? SCOPE_IN : n_in == 0 ? SCOPE_OUT : SCOPE_UNKNOWN;
        n[want]++;
        bad += scope_judge(&w.rule, NULL, 0, &s, &a, &at) != ERR_OK || a.unit != want;
    }
    tap_ok(bad == 0 && n[0] > 200 && n[1] > 200 && n[2] > 200,
           "5000 random labels: the same as counting the days one by one (seed %" PRIu64 ")", seed);
    tap_note("%d out, %d in, %d unknown, %d wrong", n[SCOPE_OUT], n[SCOPE_IN], n[SCOPE_UNKNOWN],
             bad);
}

int main(int argc, char **argv)
{
    station_rows();
    label_rows();
    unit_rows();
    vin_rows();
    repair_row();
    refusal_rows();
    text_rows();
    property_days(argc > 1 ? strtoull(argv[1], NULL, 10) : 20260216);
    return tap_done();
}

/* chart_axis: ticks against the published example, and by their properties over many ranges. */
#include "core/date.h"
#include "core/xoshiro.h"
#include "draw/chart_axis.h"
#include "tap.h"

#include <math.h>
#include <string.h>

static bool is_near(double a, double b)
{
    return fabs(a - b) <= 1e-9 * fmax(fabs(a), fmax(fabs(b), 1e-300));
}

/* Heckbert, Nice Numbers for Graph Labels, in: Graphics Gems, Academic Press 1990, p. 61: data from 105 to 543 want an axis from 100 to
 * 600 with ticks every 100, data from 2.04 to 2.16 one from 2.00 to 2.20 with ticks every 0.05 (five ticks wanted). */
static void published(void)
{
    struct chart_tick ticks[CHART_TICKS_MAX];
    struct chart_axis a = {.low = 105, .high = 543, .from = 0, .to = 1};
    chart_axis_nice(&a, 5, false);
    tap_ok(is_near(a.low, 100) && is_near(a.high, 600) && is_near(a.step, 100),
           "105 to 543: %g to %g by %g (Graphics Gems 1990, p. 61)", a.low, a.high, a.step);
    tap_ok(chart_ticks(&a, 10, ticks) == 6 && strcmp(ticks[0].text, "100") == 0 &&
               strcmp(ticks[5].text, "600") == 0,
           "ticks 100 ... 600 (same)");
    a = (struct chart_axis){.low = 2.04, .high = 2.16, .from = 0, .to = 1};
    chart_axis_nice(&a, 5, false);
    tap_ok(is_near(a.low, 2) && is_near(a.high, 2.2) && is_near(a.step, 0.05),
           "2.04 to 2.16: %g to %g by %g (same)", a.low, a.high, a.step);
    tap_ok(chart_ticks(&a, 10, ticks) == 5 && strcmp(ticks[1].text, "2.05") == 0,
           "ticks 2.00, 2.05 ...: %s (same)", ticks[1].text);
}

/* 1, 2 or 5 times a power of ten. */
static bool is_one_two_five(double step)
{
    const double part = step / pow(10, floor(log10(step) + 1e-9));
    return is_near(part, 1) || is_near(part, 2) || is_near(part, 5) || is_near(part, 10);
}

static void many_ranges(void)
{
    uint64_t rng[4];
    xoshiro_fill(rng, 4);
    int n_held = 0, n_steps = 0, n_whole = 0, n_room = 0, n_order = 0;
    enum { TIMES = 20000 };
    for (int i = 0; i < TIMES; i++) {
        const double size = pow(10, (double)(int)(xoshiro_bits(rng) % 17) - 8),
                     low = size * ((double)(xoshiro_bits(rng) % 20001) - 10000) / 1000,
                     high = low + size * (double)(1 + xoshiro_bits(rng) % 5000) / 100;
        struct chart_axis a = {.low = low, .high = high, .from = 0, .to = 500};
        struct chart_tick ticks[CHART_TICKS_MAX];
        const int n = 3 + (int)(xoshiro_bits(rng) % 8);
        chart_axis_nice(&a, n, false);
        const double slack = a.step * 1e-6;
        n_held += a.low <= low + slack && a.high >= high - slack;
        n_room += low - a.low < a.step * (1 + 1e-6) && a.high - high < a.step * (1 + 1e-6);
        n_steps += is_one_two_five(a.step);
        const size_t k = chart_ticks(&a, 12, ticks);
        bool is_whole = k >= 2 && k <= 12, is_order = true;
        for (size_t t = 0; t < k; t++) {
            const double of = ticks[t].value / a.step;
            is_whole = is_whole && fabs(of - nearbyint(of)) < 1e-6 &&
                       ticks[t].value >= a.low - slack && ticks[t].value <= a.high + slack;
            is_order = is_order && (t == 0 || ticks[t].value > ticks[t - 1].value);
        }
        n_whole += is_whole;
        n_order += is_order;
    }
    tap_ok(n_held == TIMES, "%d of %d axes hold their data", n_held, (int)TIMES);
    tap_ok(n_room == TIMES, "%d of %d reach no farther than a step beyond them", n_room,
           (int)TIMES);
    tap_ok(n_steps == TIMES, "%d of %d step by 1, 2 or 5", n_steps, (int)TIMES);
    tap_ok(n_whole == TIMES, "%d of %d have 2 to 12 ticks, each on a whole step", n_whole,
           (int)TIMES);
    tap_ok(n_order == TIMES, "%d of %d ticks ascend", n_order, (int)TIMES);
}

static void hostile(void)
{
    const double ranges[][2] = {{0, 0},          {5, 5},           {-3, -3},
                                {1e300, -1e300}, {7, 2},           {NAN, 1},
                                {0, INFINITY},   {1e-300, 1e-300}, {1e14, 1e14 + 1},
                                {-1e15, 1e15},   {0, 5e-324},      {123456789, 123456789.5}};
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++)
        for (int scale = CHART_LINEAR; scale <= CHART_DAYS; scale++) {
            struct chart_axis a = {.scale = (enum chart_scale)scale,
                                   .low = ranges[i][0],
                                   .high = ranges[i][1],
                                   .from = 0,
                                   .to = 100};
            struct chart_tick ticks[CHART_TICKS_MAX];
            chart_axis_nice(&a, 6, false);
            const size_t n = chart_ticks(&a, 10, ticks);
            const double at = chart_at(&a, ranges[i][0]);
            tap_ok(isfinite(a.low) && isfinite(a.high) && a.low < a.high && n <= 10 &&
                       (isnan(ranges[i][0]) || isfinite(at)),
                   "%g to %g, scale %d: an axis from %g to %g with %zu ticks", ranges[i][0],
                   ranges[i][1], scale, a.low, a.high, n);
        }
}

static void logarithmic(void)
{
    struct chart_axis a = {.scale = CHART_LOG, .low = 0.025, .high = 1.3, .from = 0, .to = 100};
    struct chart_tick ticks[CHART_TICKS_MAX];
    chart_axis_nice(&a, 6, false);
    const size_t n = chart_ticks(&a, 12, ticks);
    tap_ok(is_near(a.low, 0.02) && is_near(a.high, 2) && n == 7 &&
               strcmp(ticks[0].text, "0.02") == 0 && strcmp(ticks[5].text, "1") == 0,
           "0.025 to 1.3: 0.02, 0.05, 0.1 ... 2 (worked by hand)");
    /* A tenth of the way between two decades lies at 10^0.1 of the first: the definition of a logarithmic scale. */
    a = (struct chart_axis){.scale = CHART_LOG, .low = 1, .high = 100, .from = 10, .to = 210};
    tap_ok(fabs(chart_at(&a, 10) - 110) < 1e-9 && fabs(chart_at(&a, pow(10, 0.1)) - 20) < 1e-9 &&
               fabs(chart_value(&a, 110) - 10) < 1e-9,
           "10 lies in the middle between 1 and 100 (by the definition)");
    a = (struct chart_axis){.scale = CHART_LOG, .low = 1e-6, .high = 1e6, .from = 0, .to = 1};
    const size_t k = chart_ticks(&a, 7, ticks);
    tap_ok(k >= 3 && k <= 7, "twelve decades: %zu ticks of at most 7", k);
}

/* Weeks begin on Monday (ISO 8601); months on their first day. */
static void days(void)
{
    int32_t low = 0, high = 0;
    int n_bad = 0, n_most = 0;
    struct chart_tick ticks[CHART_TICKS_MAX];
    if (date_from_civil(2024, 1, 2, &low) != ERR_OK ||
        date_from_civil(2024, 12, 19, &high) != ERR_OK)
        tap_ok(false, "the dates are dates");
    struct chart_axis a = {.scale = CHART_DAYS, .low = low, .high = high, .from = 0, .to = 400};
    const size_t n = chart_ticks(&a, 6, ticks);
    tap_ok(n == 5 && strcmp(ticks[0].text, "2024-03") == 0 && strcmp(ticks[4].text, "2024-11") == 0,
           "2024 in two months each: %zu ticks, %s first (by the calendar)", n, ticks[0].text);
    for (int32_t span = 1; span < 60000; span += span / 7 + 1) {
        a = (struct chart_axis){.scale = CHART_DAYS, .low = low, .high = low + span};
        const size_t k = chart_ticks(&a, 8, ticks);
        n_most += k > 8;
        for (size_t i = 0; i < k; i++) {
            int year = 0, month = 0, day = 0, weekday = 0;
            date_to_civil((int32_t)ticks[i].value, &year, &month, &day);
            date_to_week((int32_t)ticks[i].value, NULL, NULL, &weekday);
            const size_t size = strlen(ticks[i].text);
            const bool is_week = size == 10 && i > 0 && ticks[i].value - ticks[i - 1].value >= 7;
            n_bad += (size == 7 && day != 1) || (size == 4 && (day != 1 || month != 1)) ||
                     (is_week && weekday != 1) || (i > 0 && ticks[i].value <= ticks[i - 1].value);
        }
    }
    tap_ok(n_most == 0, "never more ticks than asked for");
    tap_ok(n_bad == 0, "weeks begin on Monday (ISO 8601), months on the first, years in January");
}

static void numbers(void)
{
    static const struct {
        double value, step;
        const char *want;
    } rows[] = {{0.30000000000000004, 0.1, "0.3"},
                {2.5, 0.05, "2.50"},
                {9999, 1, "9999"},
                {12500, 500,
                 "12\xE2\x80\x89"
                 "500"},
                {-1234567, 1,
                 "\xE2\x88\x92"
                 "1\xE2\x80\x89"
                 "234\xE2\x80\x89"
                 "567"},
                {-1e-17, 0.1, "0.0"},
                {1e6, 1e6,
                 "1\xE2\x80\x89"
                 "000\xE2\x80\x89"
                 "000"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char buf[CHART_TICK_SIZE];
        chart_number(rows[i].value, rows[i].step, buf, sizeof buf);
        tap_ok(strcmp(buf, rows[i].want) == 0, "%.17g by %g is %s (thin spaces by ISO 80000-1)",
               rows[i].value, rows[i].step, buf);
    }
}

int main(void)
{
    published();
    many_ranges();
    hostile();
    logarithmic();
    days();
    numbers();
    return tap_done();
}

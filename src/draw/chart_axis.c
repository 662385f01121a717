/* chart_axis: owns scales and the choice of ticks. */
#include "draw/chart_axis.h"

#include "core/date.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define LARGEST 1e15
#define SLACK   1e-9   /* of a step: sums of steps that should meet a whole number */
#define LEAST   1e-200 /* narrower ranges are no ranges */

/* ---- linear ----------------------------------------------------------------------------------- */

double chart_nice(double x, bool is_rounded)
{
    const double decade = pow(10, floor(log10(x))), part = x / decade;
    if (is_rounded)
        return decade * (part < 1.5 ? 1 : part < 3 ? 2 : part < 7 ? 5 : 10);
    return decade * (part <= 1 + SLACK ? 1 : part <= 2 + SLACK ? 2 : part <= 5 + SLACK ? 5 : 10);
}

static double factor(const struct chart_axis *a)
{
    return a->factor > 0 ? a->factor : 1;
}

static bool is_usable(const struct chart_axis *a)
{
    return isfinite(a->low) && isfinite(a->high) && fabs(a->low) <= LARGEST &&
           fabs(a->high) <= LARGEST && (a->scale != CHART_LOG || (a->low > 0 && a->high > 0));
}

/* Constant data still get an axis: some room on either side of the value. */
static void widen(struct chart_axis *a)
{
    const double room = fmax(fmax(fabs(a->low), fabs(a->high)) * 1e-9, LEAST);
    if (a->low > a->high) {
        const double low = a->high;
        a->high = a->low;
        a->low = low;
    }
    if (a->high - a->low > room)
        return;
    if (a->scale == CHART_LOG) {
        a->low /= 2;
        a->high *= 2;
        return;
    }
    const double half = a->scale == CHART_DAYS ? 3 : fmax(fabs(a->low) * 0.05, 0.5 / factor(a));
    a->low -= half;
    a->high += half;
}

void chart_axis_nice(struct chart_axis *a, int n, bool is_fixed)
{
    n = n < 2 ? 2 : n > 12 ? 12 : n;
    if (!is_usable(a)) {
        a->low = a->scale == CHART_LOG ? 0.1 : 0;
        a->high = 1;
    }
    widen(a);
    if (a->scale == CHART_LOG && !is_fixed && a->high / a->low > 3) {
        const double low = pow(10, floor(log10(a->low) + SLACK)),
                     high = pow(10, floor(log10(a->high) + SLACK));
        a->low = a->low >= 5 * low ? 5 * low : a->low >= 2 * low ? 2 * low : low;
        a->high = a->high <= high * (1 + SLACK) ? high
                  : a->high <= 2 * high         ? 2 * high
                  : a->high <= 5 * high         ? 5 * high
                                                : 10 * high;
    }
    if (a->scale != CHART_LINEAR)
        return;
    const double f = factor(a), range = chart_nice((a->high - a->low) * f, false);
    a->step = chart_nice(range / (n - 1), true);
    if (is_fixed)
        return;
    a->low = floor(a->low * f / a->step + SLACK) * a->step / f;
    a->high = ceil(a->high * f / a->step - SLACK) * a->step / f;
}

double chart_at(const struct chart_axis *a, double value)
{
    const double share = a->scale == CHART_LOG
                             ? log(fmax(value, 1e-300) / a->low) / log(a->high / a->low)
                             : (value - a->low) / (a->high - a->low);
    return a->from + fmin(fmax(share, -10), 11) * (a->to - a->from);
}

double chart_value(const struct chart_axis *a, double at)
{
    const double share = (at - a->from) / (a->to - a->from);
    return a->scale == CHART_LOG ? a->low * pow(a->high / a->low, share)
                                 : a->low + share * (a->high - a->low);
}

/* ---- numbers ---------------------------------------------------------------------------------- */

/* Thin spaces between thousands; the digits before the point are text[from..to). */
static void group(const char *digits, char *buf, size_t room)
{
    const size_t minus = digits[0] == '-' ? 1 : 0, n = strcspn(digits, "."), whole = n - minus;
    size_t used = 0;
    for (size_t i = 0; digits[i] != '\0' && used + 4 < room; i++) {
        if (i > minus && i < n && whole > 4 && (n - i) % 3 == 0) {
            memcpy(buf + used, "\xE2\x80\x89", 3);
            used += 3;
        }
        if (i == 0 && minus > 0) { /* a real minus */
            memcpy(buf, "\xE2\x88\x92", 3);
            used = 3;
        } else
            buf[used++] = digits[i];
    }
    buf[used] = '\0';
}

void chart_number(double value, double step, char *buf, size_t room)
{
    char digits[CHART_TICK_SIZE];
    if (!isfinite(value) || fabs(value) >= LARGEST) {
        (void)snprintf(buf, room, "%.3g", value);
        return;
    }
    int decimals = 0;
    if (step > 0 && step < 1)
        decimals = (int)fmin(ceil(-log10(step) - SLACK), 12);
    if (fabs(value) < step * SLACK)
        value = 0;
    (void)snprintf(digits, sizeof digits, "%.*f", decimals, value);
    group(digits, buf, room);
}

/* ---- ticks ------------------------------------------------------------------------------------ */

static size_t linear_ticks(const struct chart_axis *a, size_t most, struct chart_tick *ticks)
{
    const double f = factor(a);
    double step =
        a->step > 0 ? a->step : chart_nice((a->high - a->low) * f / (double)(most + 1), false);
    while ((a->high - a->low) * f / step + 1 > (double)most + SLACK && step < LARGEST)
        step = chart_nice(step * 1.9, false); /* where too many stand, every second or fifth */
    size_t n = 0;
    const double first = ceil(a->low * f / step - SLACK);
    for (; n < CHART_TICKS_MAX; n++) {
        const double shown = (first + (double)n) * step;
        if (shown > a->high * f + step * SLACK)
            break;
        ticks[n].value = shown / f;
        chart_number(shown, step, ticks[n].text, CHART_TICK_SIZE);
    }
    return n;
}

static size_t log_ticks(const struct chart_axis *a, size_t most, struct chart_tick *ticks)
{
    static const double marks[] = {1, 2, 5};
    const double decades = log10(a->high / a->low), f = factor(a);
    size_t n = 0;
    if (decades < 0.7) { /* less than a 1, 2, 5 would name: as a linear axis */
        struct chart_axis line = *a;
        line.scale = CHART_LINEAR;
        line.step = 0;
        return linear_ticks(&line, most, ticks);
    }
    const bool has_parts = 3 * decades + 1 <= (double)most;
    const int every =
        has_parts ? 1 : (int)fmax(1, ceil(decades / (double)(most > 1 ? most - 1 : 1)));
    for (int d = (int)floor(log10(a->low * f) + SLACK); d <= log10(a->high * f) + 1; d += every)
        for (size_t k = 0; k < (has_parts ? 3 : 1) && n < CHART_TICKS_MAX; k++) {
            const double shown = marks[k] * pow(10, d);
            if (shown < a->low * f * (1 - SLACK) || shown > a->high * f * (1 + SLACK))
                continue;
            ticks[n].value = shown / f;
            chart_number(shown, pow(10, d), ticks[n++].text, CHART_TICK_SIZE);
        }
    return n;
}

/* ---- days ------------------------------------------------------------------------------------- */

static const struct {
    int days, months;
} spans[] = {{1, 0},  {2, 0},  {7, 0},  {14, 0},  {0, 1},   {0, 2},   {0, 3},   {0, 6},
             {0, 12}, {0, 24}, {0, 60}, {0, 120}, {0, 240}, {0, 600}, {0, 1200}};

/* The first day of the span that holds `day`: multiples of days count from a Monday. */
static bool span_start(size_t i, int32_t day, int32_t *ret)
{
    int year = 0, month = 0;
    if (spans[i].days > 0) {
        const int32_t off = (day - 4) % spans[i].days; /* day 4 was a Monday */
        *ret = day - (off < 0 ? off + spans[i].days : off);
        return true;
    }
    date_to_civil(day, &year, &month, NULL);
    int at = year * 12 + month - 1;
    at -= at % spans[i].months;
    return date_from_civil(at / 12, at % 12 + 1, 1, ret) == ERR_OK;
}

static bool span_next(size_t i, int32_t day, int32_t *ret)
{
    int year = 0, month = 0;
    if (spans[i].days > 0) {
        *ret = day + spans[i].days;
        return true;
    }
    date_to_civil(day, &year, &month, NULL);
    const int at = year * 12 + month - 1 + spans[i].months;
    return date_from_civil(at / 12, at % 12 + 1, 1, ret) == ERR_OK;
}

static size_t span_ticks(size_t i, int32_t low, int32_t high, struct chart_tick *ticks)
{
    int32_t day = 0;
    size_t n = 0;
    if (!span_start(i, low, &day))
        return 0;
    for (bool is_good = true; is_good && day <= high && n < CHART_TICKS_MAX;
         is_good = span_next(i, day, &day)) {
        if (day < low)
            continue;
        ticks[n].value = day;
        date_show(day, ticks[n].text);
        if (spans[i].months > 0) /* "2024-03", "2024" */
            ticks[n].text[spans[i].months % 12 == 0 ? 4 : 7] = '\0';
        n++;
    }
    return n;
}

static size_t day_ticks(const struct chart_axis *a, size_t most, struct chart_tick *ticks)
{
    int32_t least = 0, greatest = 0;
    if (date_from_civil(1900, 1, 1, &least) != ERR_OK ||
        date_from_civil(2199, 12, 31, &greatest) != ERR_OK)
        return 0;
    const int32_t low = (int32_t)fmin(fmax(ceil(a->low), least), greatest),
                  high = (int32_t)fmin(fmax(floor(a->high), least), greatest);
    for (size_t i = 0; i < sizeof spans / sizeof *spans; i++) {
        const double days = spans[i].days > 0 ? spans[i].days : 30.4 * spans[i].months;
        if ((high - low) / days > (double)most + 1)
            continue;
        const size_t n = span_ticks(i, low, high, ticks);
        if (n <= most && n > 0)
            return n;
    }
    return 0;
}

size_t chart_ticks(const struct chart_axis *a, size_t most, struct chart_tick *ticks)
{
    most = most < 2 ? 2 : most > CHART_TICKS_MAX ? CHART_TICKS_MAX : most;
    return a->scale == CHART_LOG    ? log_ticks(a, most, ticks)
           : a->scale == CHART_DAYS ? day_ticks(a, most, ticks)
                                    : linear_ticks(a, most, ticks);
}

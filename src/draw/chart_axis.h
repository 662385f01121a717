/* chart_axis: from numbers to places on paper, and which numbers an axis names. Knows no paper.
 *
 * Ticks of a linear axis: steps of 1, 2 or 5 times a power of ten, the axis reaching out to whole steps (Heckbert, Nice Numbers for
 * Graph Labels, in: Glassner (ed.), Graphics Gems, Academic Press 1990, 61-63). Of a logarithmic one: 1, 2 and 5 of each decade, or
 * decades, or whole numbers of them. Of days: whole days, Mondays, months, years. */
#ifndef DRAW_CHART_AXIS_H
#define DRAW_CHART_AXIS_H

#include <stdbool.h>
#include <stddef.h>

enum chart_scale { CHART_LINEAR, CHART_LOG, CHART_DAYS };

struct chart_axis {
    enum chart_scale scale;
    double low, high; /* data; low < high, both above 0 when logarithmic */
    double from, to;  /* where they lie; from may be greater than to */
    double factor; /* what is shown is so many times the data: 100 for shares in per cent; 0: 1 */
    double step;   /* linear: between ticks, in what is shown; set by chart_axis_nice */
};

/* chart_nice: a number of 1, 2, 5 or 10 times a power of ten near x > 0: the nearest when is_rounded, else the least that is not below. */
double chart_nice(double x, bool is_rounded);

/* chart_axis_nice: widens low..high to whole steps, so that there are about n ticks (2..12). A range of no width is widened about its
 * value first; is_fixed keeps low and high as they are, ticks within. Never fails: numbers that are not finite or are too large become
 * an axis from 0 to 1. */
void chart_axis_nice(struct chart_axis *a, int n, bool is_fixed);

/* chart_at: where a value lies; beyond the ends it lies beyond them. chart_value: the other way. */
double chart_at(const struct chart_axis *a, double value);
double chart_value(const struct chart_axis *a, double at);

enum { CHART_TICKS_MAX = 64, CHART_TICK_SIZE = 32 };
struct chart_tick {
    double value;
    char text[CHART_TICK_SIZE]; /* "" on ticks that have no room for one */
};

/* chart_ticks: at most `most` named ticks (and CHART_TICKS_MAX in all), ascending; returns how many. */
size_t chart_ticks(const struct chart_axis *a, size_t most, struct chart_tick *ticks);

/* chart_number: with the decimals that a step has: "2.50" for 0.05; "12 500" gets thin spaces from 10 000 on. */
void chart_number(double value, double step, char *buf, size_t room);

#endif

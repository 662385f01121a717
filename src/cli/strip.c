/* strip: owns the one picture of a reading against its limits. */
#include "cli/cli.h"

#include <math.h>
#include <string.h>

enum { STRIP_MIN = 12, STRIP_MAX = 120 };

/* What can stand in a column, in ASCII; UTF-8 has its own shape for each. */
static const char *glyph(char c, bool is_utf8)
{
    if (!is_utf8)
        return NULL;
    switch (c) {
    case '|':
        return "\xE2\x94\x83"; /* U+2503 heavy upright: a limit */
    case '-':
        return "\xE2\x94\x80"; /* U+2500 */
    case ':':
        return "\xE2\x95\xB1"; /* U+2571 slanted: hatching */
    case '+':
        return "\xE2\x94\xBC"; /* U+253C: the nominal */
    case '=':
        return "\xE2\x94\x81"; /* U+2501 heavy line: the uncertainty */
    case 'v':
        return "\xE2\x96\xBC"; /* U+25BC: the reading */
    case '<':
        return "\xE2\x97\x80"; /* U+25C0 */
    case '>':
        return "\xE2\x96\xB6"; /* U+25B6 */
    default:
        return NULL;
    }
}

struct frame {
    int width, left, right; /* columns of the two limits */
    double low, high;
};

/* The column of a value; outside the frame it is held to one column beyond its ends. */
static int column_of(const struct frame *f, double value)
{
    const double share = (value - f->low) / (f->high - f->low);
    const double column = floor(f->left + share * (f->right - f->left) + 0.5);
    if (!(column >= 0))
        return -1;
    return column < f->width ? (int)column : f->width;
}

/* A value beyond a limit never shares the limit's column, one inside never passes it. */
static int reading_column(const struct frame *f, double value)
{
    const int column = column_of(f, value);
    if (value < f->low)
        return column < f->left ? column : f->left - 1;
    if (value > f->high)
        return column > f->right ? column : f->right + 1;
    return column;
}

static void fill(char *row, int from, int to, int width, char c)
{
    for (int i = from > 0 ? from : 0; i <= to && i < width; i++)
        row[i] = c;
}

/* The arrow at the frame's end, with the distance where the margin is wide enough for it. */
static void draw_beyond(char *row, const struct frame *f, double reading)
{
    char distance[32];
    const bool is_low = reading < f->low;
    const int margin = is_low ? f->left : f->width - 1 - f->right;
    const int n =
        snprintf(distance, sizeof distance, "%.3g", is_low ? f->low - reading : reading - f->high);
    row[is_low ? 0 : f->width - 1] = is_low ? '<' : '>';
    if (n > 0 && n < margin)
        memcpy(row + (is_low ? 1 : f->width - 1 - n), distance, (size_t)n);
}

static void draw(char *row, const struct frame *f, const struct cli_strip_values *v)
{
    memset(row, ' ', (size_t)f->width);
    fill(row, f->left, f->right, f->width, '-');
    if (v->guard_low > v->low)
        fill(row, f->left, column_of(f, v->guard_low) - (v->guard_low < v->high), f->width, ':');
    if (v->guard_high < v->high)
        fill(row, column_of(f, v->guard_high) + (v->guard_high > v->low), f->right, f->width, ':');
    if (v->nominal >= v->low && v->nominal <= v->high)
        row[column_of(f, v->nominal)] = '+';
    const int column = isfinite(v->reading) ? reading_column(f, v->reading) : -1;
    const bool is_drawn = column >= 0 && column < f->width;
    if (is_drawn && v->expanded_u > 0)
        fill(row, column_of(f, v->reading - v->expanded_u),
             column_of(f, v->reading + v->expanded_u), f->width, '=');
    row[f->left] = row[f->right] = '|'; /* over the bar: where the limits are must stay visible */
    if (is_drawn)
        row[column] = 'v';
    else if (isfinite(v->reading))
        draw_beyond(row, f, v->reading);
}

void cli_strip_draw(char *buf, size_t room, int width, const struct cli_strip_values *v)
{
    char row[STRIP_MAX];
    struct frame f = {.low = v->low, .high = v->high};
    if (room == 0)
        return;
    buf[0] = '\0';
    if (!(v->low < v->high) || !isfinite(v->low) || !isfinite(v->high))
        return;
    f.width = width < STRIP_MIN ? STRIP_MIN : width > STRIP_MAX ? STRIP_MAX : width;
    f.left = f.width / 6;
    f.right = f.width - 1 - f.left;
    draw(row, &f, v);

    while (f.width > 0 && row[f.width - 1] == ' ')
        f.width--;
    const bool is_utf8 = cli_is_utf8();
    size_t at = 0;
    for (int i = 0; i < f.width; i++) {
        const char ascii[2] = {row[i], '\0'};
        const char *shape = glyph(row[i], is_utf8);
        if (shape == NULL)
            shape = ascii;
        if (at + strlen(shape) >= room)
            break;
        memcpy(buf + at, shape, strlen(shape) + 1);
        at += strlen(shape);
    }
}

void cli_strip(char *buf, size_t room, int width, double low, double high, double guard_low,
               double guard_high, double nominal, double reading)
{
    const struct cli_strip_values v = {low, high, guard_low, guard_high, nominal, reading, 0};
    cli_strip_draw(buf, room, width, &v);
}

/* fill: bounded text building for the core's sentences; see fill.h. Owns no data; never reads
 * beyond a NUL, never writes beyond room. */
#include "core/fill.h"

#include "core/date.h"
#include "core/length.h"

#include <math.h>

void fill_start(struct fill *f, char *buf, size_t room)
{
    f->buf = buf;
    f->room = room;
    f->size = 0;
    f->is_cut = false;
    if (room > 0)
        buf[0] = '\0';
}

static void fill_char(struct fill *f, char c)
{
    if (f->size + 1 >= f->room) {
        f->is_cut = true;
        return;
    }
    f->buf[f->size++] = c;
    f->buf[f->size] = '\0';
}

void fill_puts(struct fill *f, const char *s)
{
    for (; *s != '\0'; s++)
        fill_char(f, *s);
}

void fill_int(struct fill *f, int64_t value)
{
    char digits[20];
    int n = 0;
    uint64_t rest = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    if (value < 0)
        fill_char(f, '-');
    do {
        digits[n++] = (char)('0' + (int)(rest % 10));
        rest /= 10;
    } while (rest > 0);
    while (n > 0)
        fill_char(f, digits[--n]);
}

void fill_day(struct fill *f, int32_t day)
{
    char buf[DATE_SHOW_SIZE];
    date_show(day, buf);
    fill_puts(f, buf);
}

void fill_days(struct fill *f, int32_t first, int32_t last)
{
    fill_day(f, first);
    if (last == first)
        return;
    fill_puts(f, " to ");
    fill_day(f, last);
}

/* A tenth of a millimetre in each unit: finer than a tape, coarser than false precision. */
static int decimals_of(enum unit show)
{
    switch (show) {
    case UNIT_CM:
        return 2;
    case UNIT_M:
        return 4;
    default:
        return 1;
    }
}

void fill_length(struct fill *f, int64_t nm, enum unit show)
{
    char buf[(int)LENGTH_SHOW_MAX + (int)QUANTITY_SHOW_MAX]; /* room for either */
    size_t size = 0;
    if (show == UNIT_IN && length_show_fraction(nm, 64, buf, &size, NULL) == ERR_OK) {
        fill_puts(f, buf);
        return;
    }
    quantity_show(nm, show, decimals_of(show), buf, NULL);
    fill_puts(f, buf);
}

void fill_hundredths(struct fill *f, double value)
{
    if (!(fabs(value) < 1e12)) {
        fill_puts(f, "?");
        return;
    }
    int64_t hundredths = (int64_t)floor(fabs(value) * 100 + 0.5);
    if (value < 0 && hundredths > 0)
        fill_char(f, '-');
    fill_int(f, hundredths / 100);
    fill_char(f, '.');
    fill_char(f, (char)('0' + (int)(hundredths % 100 / 10)));
    fill_char(f, (char)('0' + (int)(hundredths % 10)));
}

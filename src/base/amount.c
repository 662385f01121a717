/* amount: owns the one wording of amounts. */
#include "base/amount.h"

#include "core/length.h"

#include <string.h>

static bool as_fraction(int64_t nano, enum unit unit, char *buf)
{
    bool is_rounded = true;
    size_t n = 0;
    return unit == UNIT_IN && length_show_fraction(nano, 64, buf, &n, &is_rounded) == ERR_OK &&
           !is_rounded;
}

const char *amount_show(int64_t nano, enum unit unit, char *buf)
{
    if (as_fraction(nano, unit, buf))
        return buf;
    bool is_rounded = true;
    for (int decimals = 0; decimals <= 3 && is_rounded; decimals++)
        (void)quantity_show(nano, unit, decimals, buf, &is_rounded);
    return buf;
}

const char *amount_figure(int64_t nano, enum unit unit, char *buf)
{
    (void)amount_show(nano, unit, buf);
    const size_t n = strlen(buf), n_unit = strlen(quantity_unit_name(unit));
    if (n > n_unit + 1 && strcmp(buf + n - n_unit, quantity_unit_name(unit)) == 0 &&
        buf[n - n_unit - 1] == ' ')
        buf[n - n_unit - 1] = '\0';
    return buf;
}

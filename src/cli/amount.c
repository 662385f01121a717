/* amount: owns the wording of amounts on the command line, in and out. */
#include "cli/amount.h"

#include "base/amount.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *cli_amount(int64_t nano, enum unit unit, char *buf)
{
    return amount_show(nano, unit, buf);
}

const char *cli_figure(int64_t nano, enum unit unit, char *buf)
{
    return amount_figure(nano, unit, buf);
}

const char *cli_spread(double nano, enum unit unit, char *buf)
{
    snprintf(buf, CLI_AMOUNT_SIZE, "%.2g", nano / (double)quantity_unit_nano(unit));
    return buf;
}

const char *cli_plus_minus(void)
{
    return cli_is_utf8() ? "\xC2\xB1" : "+-";
}

const char *cli_limits(int64_t low, int64_t high, enum unit unit, char *buf, size_t room)
{
    char from[CLI_AMOUNT_SIZE], to[CLI_AMOUNT_SIZE];
    if (low == INT64_MIN)
        snprintf(buf, room, "up to %s", cli_figure(high, unit, to));
    else if (high == INT64_MAX)
        snprintf(buf, room, "from %s", cli_figure(low, unit, from));
    else
        snprintf(buf, room, "%s..%s", cli_figure(low, unit, from), cli_figure(high, unit, to));
    return buf;
}

const char *cli_count(size_t n, char *buf)
{
    static const char *const words[] = {"no",    "one",   "two",  "three", "four",   "five",  "six",
                                        "seven", "eight", "nine", "ten",   "eleven", "twelve"};
    if (n < sizeof words / sizeof words[0])
        return words[n];
    snprintf(buf, CLI_AMOUNT_SIZE, "%zu", n);
    return buf;
}

const char *cli_percent(double p, char *buf)
{
    if (p > 0.9994)
        snprintf(buf, CLI_AMOUNT_SIZE, ">99.9 %%");
    else if (p < 0.0006)
        snprintf(buf, CLI_AMOUNT_SIZE, "<0.1 %%");
    else
        snprintf(buf, CLI_AMOUNT_SIZE, "%.1f %%", 100.0 * p);
    return buf;
}

static int refuse(const struct cli *ctx, const char *option, const char *text, enum err e,
                  size_t at, enum unit unit)
{
    const char *example = unit == UNIT_IN ? "2 1/2 in" : NULL;
    if (e == ERR_SYNTAX && at < strlen(text))
        return cli_error(ctx, "%s: '%.80s' %s at character %zu; expected an amount such as %s%s",
                         option, text, err_text(e), at + 1, example ? example : "62.4 ",
                         example ? "" : quantity_unit_name(unit));
    return cli_error(ctx, "%s: '%.80s': %s; expected an amount such as %s%s", option, text,
                     err_text(e), example ? example : "62.4 ",
                     example ? "" : quantity_unit_name(unit));
}

static int read_quantity(const struct cli *ctx, const char *option, const char *text,
                         enum unit unit, struct quantity *ret)
{
    size_t at = 0;
    const enum err e = quantity_parse(text, strlen(text), unit, ret, &at);
    if (e != ERR_OK)
        return refuse(ctx, option, text, e, at, unit);
    if (ret->dim != quantity_unit_dim(unit))
        return cli_error(ctx, "%s: '%.80s' is given in %s; expected a unit of the same kind as %s",
                         option, text, quantity_unit_name(ret->unit), quantity_unit_name(unit));
    return CLI_GOOD;
}

int cli_read_amount(const struct cli *ctx, const char *option, const char *text, enum unit unit,
                    int64_t *ret)
{
    struct quantity q;
    const int code = read_quantity(ctx, option, text, unit, &q);
    if (code == CLI_GOOD)
        *ret = q.nano;
    return code;
}

int cli_read_u(const struct cli *ctx, const char *option, const char *text, enum unit unit,
               double *ret)
{
    struct quantity q;
    const int code = read_quantity(ctx, option, text, unit, &q);
    if (code != CLI_GOOD)
        return code;
    double u = (double)q.nano;
    /* quantity_parse rounds to whole nano; a plain decimal is taken again with all its digits. */
    if (q.is_rounded && !strpbrk(text, "/'\""))
        u = strtod(text, NULL) * (double)quantity_unit_nano(q.unit);
    if (!(u >= 0.0))
        return cli_error(ctx, "%s: '%.80s' is negative; expected a standard uncertainty, 0 or more",
                         option, text);
    *ret = u;
    return CLI_GOOD;
}

int cli_read_unit(const struct cli *ctx, const char *option, const char *text, enum unit *ret)
{
    const enum unit unit = quantity_unit_find(text, strlen(text));
    if (unit == UNIT_N) {
        const char *known[UNIT_N];
        for (int i = 0; i < UNIT_N; i++)
            known[i] = quantity_unit_name((enum unit)i);
        return cli_error_near(ctx, option, text, known, UNIT_N,
                              "expected mm, in, V, A, s, deg, ...");
    }
    *ret = unit;
    return CLI_GOOD;
}

int cli_read_number(const struct cli *ctx, const char *option, const char *text, double low,
                    double high, double *ret)
{
    const bool is_plain = *text != '\0' && strspn(text, "0123456789.-+eE") == strlen(text);
    char *end = NULL;
    const double value = is_plain ? strtod(text, &end) : 0.0;
    if (!is_plain || *end != '\0')
        return cli_error(ctx, "%s: '%.80s' is not a plain number; expected %.15g to %.15g", option,
                         text, low, high);
    if (!(value >= low && value <= high))
        return cli_error(ctx, "%s: found %.80s; expected %.15g to %.15g", option, text, low, high);
    *ret = value;
    return CLI_GOOD;
}

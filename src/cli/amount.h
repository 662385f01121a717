/* amount: how verbs read amounts from the call and show them to people. */
#ifndef CLI_AMOUNT_H
#define CLI_AMOUNT_H

#include "base/amount.h"
#include "cli/cli.h"
#include "core/quantity.h"

enum { CLI_AMOUNT_SIZE = AMOUNT_SIZE };

/* cli_amount: with its unit, as the trade writes it: inches as a fraction where a 64th says it
 * exactly ("2 1/2 in"), anything else as a decimal with at most three digits ("62.4 mm", "12.05 V").
 * buf[CLI_AMOUNT_SIZE]; returns buf. cli_figure: the same without the unit. */
const char *cli_amount(int64_t nano, enum unit unit, char *buf);
const char *cli_figure(int64_t nano, enum unit unit, char *buf);

/* cli_spread: an amount in nano that need not be whole, such as an uncertainty, with two figures
 * that count and without its unit; buf[CLI_AMOUNT_SIZE]. cli_plus_minus: the sign before it. */
const char *cli_spread(double nano, enum unit unit, char *buf);
const char *cli_plus_minus(void);

/* cli_limits: "56..61", "up to 22", "from 5"; INT64_MIN and INT64_MAX are no limit. Without the
 * unit. */
const char *cli_limits(int64_t low, int64_t high, enum unit unit, char *buf, size_t room);

/* cli_count: a number in words up to twelve; buf[CLI_AMOUNT_SIZE]. */
const char *cli_count(size_t n, char *buf);

/* cli_percent: a probability as "97.2 %", never rounded to a certainty it is not: ">99.9 %", "<0.1
 * %". */
const char *cli_percent(double p, char *buf);

/* cli_read_amount: the value of an option as nano of `unit`'s dimension; a bare number takes
 * `unit`. Returns 0, or an exit code after cli_error. */
int cli_read_amount(const struct cli *ctx, const char *option, const char *text, enum unit unit,
                    int64_t *ret);

/* cli_read_u: the same for a standard uncertainty, which keeps its fractions of a nano: >= 0. */
int cli_read_u(const struct cli *ctx, const char *option, const char *text, enum unit unit,
               double *ret);

/* cli_read_unit: a unit's name. */
int cli_read_unit(const struct cli *ctx, const char *option, const char *text, enum unit *ret);

/* cli_read_number: a plain number within low..high; no hexadecimal, no NaN. */
int cli_read_number(const struct cli *ctx, const char *option, const char *text, double low,
                    double high, double *ret);

#endif

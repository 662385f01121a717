/* amount: how amounts are shown to people, on the terminal as on paper. */
#ifndef BASE_AMOUNT_H
#define BASE_AMOUNT_H

#include "core/quantity.h"

enum { AMOUNT_SIZE = 80 };

/* amount_show: with its unit, as the trade writes it: inches as a fraction where a 64th says it exactly ("2 1/2 in"), anything else
 * as a decimal with at most three digits ("62.4 mm", "12.05 V"). buf[AMOUNT_SIZE]; returns buf. amount_figure: without the unit. */
const char *amount_show(int64_t nano, enum unit unit, char *buf);
const char *amount_figure(int64_t nano, enum unit unit, char *buf);

#endif

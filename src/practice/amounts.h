/* amounts: how much of a fault, from what is written ("+1 teeth", "3 mm", "2 mm/m") to the whole number that the model takes. */
#ifndef PRACTICE_AMOUNTS_H
#define PRACTICE_AMOUNTS_H

#include "base/fault.h"
#include "core/practice.h"

/* amount_read: s[0..n) for a fault of this kind. Writes *ret, or says in why[FAULT_MESSAGE_MAX] what was found and what was
 * expected. Errors: ERR_SYNTAX, ERR_UNIT, ERR_RANGE, ERR_DOMAIN (0, or a part of a tooth). */
MUST_USE enum err amount_read(int kind, const char *s, size_t n, int64_t *ret, char *why);

/* amount_has_side, amount_has_place: whether a fault of this kind is of one side, of its upper or lower rack or fixing. */
bool amount_has_side(int kind);
bool amount_has_place(int kind);

/* amount_unit: the unit a fault of this kind is written in, and an example. */
const char *amount_unit(int kind);
const char *amount_example(int kind);

#endif

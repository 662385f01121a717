/* length: how lengths are shown as people in the trade write them. Reading them is quantity_parse.
 * Source of the factor: international yard and pound agreement, 1 in = 25.4 mm exactly, 1959. */
#ifndef CORE_LENGTH_H
#define CORE_LENGTH_H

#include "core/quantity.h"

enum { LENGTH_IN_NM = 25400000, LENGTH_64TH_NM = 396875, LENGTH_SHOW_MAX = 64 };

/* length_show_fraction: inches as a mixed fraction, nearest 1/denominator (a power of two, 1..64),
 * lowest terms: "2 1/2 in", "-1/16 in", "0 in". Ties go to the even numerator. *ret_rounded (may be
 * NULL) says whether the text differs from nm. buf needs LENGTH_SHOW_MAX bytes; closing NUL
 * written; returns the text's size. Errors: ERR_DOMAIN for a denominator that is no power of two
 * in 1..64. */
MUST_USE enum err length_show_fraction(int64_t nm, int denominator, char *buf, size_t *ret_size,
                                       bool *ret_rounded);

#endif

/* many: what p-values mean when there are many. */
#ifndef STAT_MANY_H
#define STAT_MANY_H

#include "core/err.h"

#include <stddef.h>

/* stat_false_discovery: q[i] = the least share of false discoveries at which p[i] counts as one: min over p[j] >= p[i] of
 * p[j] n/rank, at most 1. p[0..n) in 0..1; q may be p. Source: Benjamini & Hochberg 1995, J. Royal Statistical Society B 57(1),
 * 289-300. ERR_MEMORY. */
MUST_USE enum err stat_false_discovery(const double *p, size_t n, double *q);

#endif

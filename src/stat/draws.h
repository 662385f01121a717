/* draws: what else is drawn from a seeded stream of chance: whole numbers, gamma, chi-square. */
#ifndef STAT_DRAWS_H
#define STAT_DRAWS_H

#include "stat/chance.h"

uint64_t draws_below(struct chance *c,
                     uint64_t below); /* 0 .. below - 1 without bias; below >= 1 */

/* draws_gamma: shape > 0, scale 1. Marsaglia & Tsang, ACM Trans. Math. Software 26(3), 363-372, 2000. draws_chi2: twice a
 * gamma of
 * half the degrees of freedom. */
double draws_gamma(struct chance *c, double shape);
double draws_chi2(struct chance *c, double df);

#endif

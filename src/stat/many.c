/* many: owns corrections for looking more than once. */
#include "stat/many.h"

#include <stdlib.h>

struct ranked {
    double p;
    size_t i;
};

static int compare(const void *a, const void *b)
{
    const struct ranked *x = a, *y = b;
    return x->p != y->p ? (x->p > y->p) - (x->p < y->p) : (x->i > y->i) - (x->i < y->i);
}

enum err stat_false_discovery(const double *p, size_t n, double *q)
{
    if (n == 0)
        return ERR_OK;
    struct ranked *r = malloc(n * sizeof *r);
    if (r == NULL)
        return ERR_MEMORY;
    for (size_t i = 0; i < n; i++)
        r[i] = (struct ranked){p[i], i};
    qsort(r, n, sizeof *r, compare);
    double least = 1;
    for (size_t k = n; k-- > 0;) {
        const double q_k = r[k].p * (double)n / (double)(k + 1);
        least = q_k < least ? q_k : least;
        q[r[k].i] = least;
    }
    free(r);
    return ERR_OK;
}

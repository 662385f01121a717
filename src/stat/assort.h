/* assort: which k sizes to stock so that least is cut away. */
#ifndef STAT_ASSORT_H
#define STAT_ASSORT_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* stat_assort: sizes[0..m) ascending, all different, >= 0, each needed count[i] >= 1 times; each need is cut from the shortest
 * stocked size that is long enough. Chooses at most k of the sizes (the largest always among them) with the least total
 * waste, exactly; of equal ones
 * the one whose sizes are smaller from the largest down. chosen[0..k) gets their places in sizes, ascending; *ret_n how many:
 * k, or m when k > m. *ret_waste:
 * in the sizes' unit. Dynamic programming over sizes; since a wider run of sizes never gains by a later start (the waste of a run
 * obeys the quadrangle inequality), each row is found by divide and conquer: O(k m log m) time, 8 k m bytes at most. Source: the
 * technique is Yao's (STOC 1980, 429-435; from memory); that an optimum stocks needed sizes only: Wolfson, J. Operational
 * Research Society 16, 1965 (from memory).
 * Errors: ERR_DOMAIN (m or k is 0), ERR_RANGE (a total beyond int64), ERR_LIMIT (k m above STAT_ASSORT_CELLS_MAX), ERR_MEMORY. */
typedef bool stat_assort_watch(void *me, uint64_t row,
                               uint64_t k); /* may be NULL; false: stop (ERR_BUSY) */
enum { STAT_ASSORT_CELLS_MAX = 64 * 1000 * 1000 };
MUST_USE enum err stat_assort(const int64_t *sizes, const int64_t *count, size_t m, size_t k,
                              stat_assort_watch *watch, void *me, size_t *chosen, size_t *ret_n,
                              int64_t *ret_waste);

#endif

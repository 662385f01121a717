/* study_completion: how many of the units that were given notice have come, and how many ever will?
 *
 * Some owners never come, however long one waits. So the time from notice to claim follows a mixture: a share that comes along a
 * Weibull curve, and the rest that does not (stat/weibull.h, cure_fit). How many of the open units will come, within a time or ever,
 * is drawn with everything that is not known of the share and the curve (stat/forecast.h). A file that is too young to bound the
 * share says so by a wide interval. */
#ifndef DESK_STUDY_COMPLETION_H
#define DESK_STUDY_COMPLETION_H

#include "desk/study_table.h"
#include "stat/weibull.h"

enum { COMPLETION_TIME, COMPLETION_EVENT, COMPLETION_COLUMNS };
enum { COMPLETION_ROWS = 6, COMPLETION_DRAWS = 4000 };

struct study_completion_order {
    double confidence; /* 0..1 exclusive */
    double within;     /* a row of its own for so much more time; 0: none */
    uint64_t seed;
};

/* Of the open units, so many more; total with those that have come. */
struct study_completion_row {
    double within; /* HUGE_VAL: ever */
    double further, low, high;
};

struct study_completion {
    size_t n, n_come, n_open;
    struct cure cure; /* cure.is_bounded false: nothing points to owners who never come */
    double share, share_low, share_high; /* that ever comes, of all; share is the fit's */
    double half_by, most_by;     /* half, and nine in ten, of those that ever come have come by */
    double last_come, last_seen; /* latest claim, longest watched */
    double misfit;               /* largest distance of the mixture from the steps, as a share */
    size_t n_rows;
    struct study_completion_row rows[COMPLETION_ROWS];
    struct study_notes notes;
};

void study_completion_wants(const char *time, const char *event,
                            struct study_want wants[COMPLETION_COLUMNS]);

/* study_completion: time: from notice to the claim, or until now; event: 1 has come. Errors: ERR_EMPTY (no row), ERR_DOMAIN (none has come
 * yet; a claim at time 0 or before the notice, with its line; every claim at one time), ERR_IMPOSSIBLE (the fit did not settle), ERR_MEMORY. */
MUST_USE enum err study_completion(const struct study_table *t,
                                   const struct study_completion_order *order,
                                   struct study_completion *ret, struct fault *reterr);

/* Units that are alike: so many came at a time, so many had not come by then. */
struct study_completion_days {
    double t; /* > 0 */
    int64_t come, open;
};

/* study_completion_days: the same, the same answer, from counts: days[0..n) ascending, no time twice. O(n), however many units they
 * count. Errors as above; ERR_DOMAIN and ERR_ORDER for days that are not so. */
MUST_USE enum err study_completion_days(const struct study_completion_days *days, size_t n,
                                        const struct study_completion_order *order,
                                        struct study_completion *ret, struct fault *reterr);

#endif

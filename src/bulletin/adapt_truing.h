/* adapt_truing: from a bulletin's points and adjusters, and the readings taken, to what the core
 * judges and solves.
 *
 * Points that an adjuster reaches are trued, all of one dimension together; a reading is never
 * guessed, so a dimension with some readings missing is not trued, and one without any is left out.
 * All other readings are judged one by one (conform.h). Limits, nominal, uncertainty of the
 * instrument and decision rule are the bulletin's. */
#ifndef BULLETIN_ADAPT_TRUING_H
#define BULLETIN_ADAPT_TRUING_H

#include "base/problem.h"
#include "bulletin/bulletin.h"

/* What was read at one point. */
struct adapt_reading {
    bool is_given;
    int64_t nano; /* of the point's dimension, within TRUING_AMOUNT_MAX either way */
    double u;     /* standard uncertainty, nano, >= 0 and <= TRUING_AMOUNT_MAX */
};

enum adapt_part {
    ADAPT_UNREAD,  /* no reading, and none is needed for what was asked */
    ADAPT_MISSING, /* no reading, and without it the others of its dimension cannot be trued */
    ADAPT_JUDGED,  /* by itself: nothing can be moved, or readings beside it are missing */
    ADAPT_TRUED    /* in one of the problems */
};

struct adapt_truing {
    enum adapt_part part[BULLETIN_POINTS_MAX]; /* of each point of the bulletin */
    struct conform_answer judged[BULLETIN_POINTS_MAX];
    size_t n_problems;
    struct problem *problems[DIM_N]; /* in the order of their first points; points and adjusters in
                                        the bulletin's order */
};

/* adapt_point_u: the standard uncertainty of a reading at this point with the bulletin's
 * instrument, nano: resolution, calibration and repeatability by root sum of squares; 0 without an
 * instrument. */
double adapt_point_u(const struct bulletin *b, const struct bulletin_point *point);

/* adapt_is_reached: some adjuster changes the reading at this point. */
bool adapt_is_reached(const struct bulletin *b, const struct bulletin_point *point);

/* adapt_truing: readings[] for each point of the bulletin. *ret is zeroed first; call
 * adapt_truing_done on it whether this fails or not. The problems' title is the bulletin's, their
 * unit that of their first point's nominal. Errors: ERR_UNIT (an adjuster changes readings of two
 * dimensions, which cannot be weighed against each other), ERR_RANGE (sums that could overflow),
 * ERR_MEMORY; reterr->path and message say where and why. */
MUST_USE enum err adapt_truing(const struct bulletin *b, const struct adapt_reading *readings,
                               struct adapt_truing *ret, struct fault *reterr);
void adapt_truing_done(struct adapt_truing *truing);

#endif

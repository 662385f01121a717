/* study_labour: how long does the job take, how fast is it learnt, how many observations are enough, what time covers most shops?
 *
 * Mean with Student's interval; median and 80th percentile with intervals by order statistics (no distribution assumed).
 * Learning: Wright's unit curve, minutes = first x order^slope, by least squares on logarithms; rate = 2^slope is what is left of
 * the time when the count doubles (T. P. Wright, J. Aeronautical Sciences 3(4), 122-128, 1936). Observations needed: (z s/(k
 * mean))^2,
 * rounded up: the mean then lies within +-k of the truth at the stated confidence (ILO, Introduction to Work Study; theirs
 * divides the
 * variance by n, ours by n - 1, which asks for a few more). Allowance: with a column of shops the time that the stated share
 * of shops
 * keep on average, as empirical quantile of the shops' means and, free of each shop's luck, by mean + z sd between shops of a
 * one-way random
 * effects model; without, the same quantile of the jobs. Standard time = mean x rating x (1 + relaxation). */
#ifndef DESK_STUDY_LABOUR_H
#define DESK_STUDY_LABOUR_H

#include "desk/study_table.h"

enum { LABOUR_MINUTES, LABOUR_ORDER, LABOUR_BY, LABOUR_COLUMNS };

struct study_labour_order {
    double share;      /* of shops (or jobs) that the allowance covers, 0..1 exclusive */
    double within;     /* k, as a share of the mean, > 0 */
    double confidence; /* of intervals and of the number needed, 0..1 exclusive */
    double rating;     /* observed pace over normal pace, > 0 */
    double relaxation; /* for rest and needs, as a share, >= 0 */
    double paid_min;   /* the time that is paid; 0: not asked */
};

struct study_labour {
    size_t n;
    double mean_min, sd_min, p50_min, p80_min;
    struct study_interval mean, p50, p80;
    double needed_exact; /* observations */
    int64_t needed;      /* rounded up, at least 2; -1 beyond 10^15 */
    double standard_min;
    bool has_learning; /* an order was given and can be fitted */
    double learning_rate, first_unit_min, slope, se_slope, r2, slope_p;
    struct study_interval rate, first_unit;
    size_t n_shops; /* 0: by jobs */
    double between_sd_min, within_sd_min;
    double allowance_min; /* the empirical quantile */
    bool has_model;       /* >= 2 shops and some shop with two jobs */
    double model_min;     /* by the random effects model */
    bool covers;          /* paid_min >= allowance_min; true when not asked */
    struct study_notes notes;
};

/* study_labour_wants: the columns; order and by may be NULL. */
void study_labour_wants(const char *minutes, const char *order, const char *by,
                        struct study_want wants[LABOUR_COLUMNS]);

/* study_labour: t holds those columns. Errors: ERR_EMPTY (fewer than 2 rows), ERR_DOMAIN (minutes or an order that is not
 * above 0, with its line;
 * all minutes alike), ERR_MEMORY. */
MUST_USE enum err study_labour(const struct study_table *t, const struct study_labour_order *order,
                               struct study_labour *ret, struct fault *reterr);

#endif

/* study_gauge: how much of what is measured is the measuring? Parts measured by several people, several times each.
 *
 * Balanced crossed layout, both factors random, with interaction; components of variance by the moments of the analysis of
 * variance: repeatability = MSe, interaction = (MSpo - MSe)/r, operator = (MSo - MSpo)/(p r), part = (MSp - MSpo)/(o r); a
 * negative one is set
 * to 0 and said. Reproducibility = operator + interaction; gauge = repeatability + reproducibility; percent study = 100
 * sqrt(gauge/total); number of distinct categories = 1.41
 * sqrt(part/gauge), cut to a whole number (AIAG, Measurement Systems Analysis). The interaction may be pooled with the
 * repeatability when its p is above a bound, as that manual does at 0.25 (from memory); it is not unless asked for.
 *
 * Intervals: generalised confidence intervals, each mean square's chi-square drawn 20 000 times with a fixed seed and the
 * components
 * worked out again (Hamada & Weerahandi, J. Quality Technology 32(3), 241-253, 2000); the repeatability's is the exact one. */
#ifndef DESK_STUDY_GAUGE_H
#define DESK_STUDY_GAUGE_H

#include "desk/study_table.h"
#include "stat/anova.h"

enum { GAUGE_PART, GAUGE_OPERATOR, GAUGE_VALUE, GAUGE_COLUMNS };
enum { GAUGE_DRAWS = 20000, GAUGE_CELLS_MAX = 1000000 };

struct study_gauge_order {
    double pool_above; /* pool the interaction when its p is above this; >= 1: never */
    double confidence;
    double tolerance; /* width between the limits, in unit; 0: none */
    enum unit unit;   /* of the values; UNIT_N: plain numbers */
};

struct study_gauge {
    size_t n_parts, n_operators, n_repeats;
    struct stat_crossed anova;
    bool is_pooled;
    double repeatability, interaction, operators, reproducibility, gauge, part,
        total;                                             /* variances, in unit squared */
    bool is_cut_interaction, is_cut_operator, is_cut_part; /* were negative */
    double percent_study,
        percent_tolerance; /* the latter 6 sd of the gauge; NaN without a tolerance */
    bool has_ndc;          /* false: the gauge shows no variance at all */
    double ndc_exact;
    int64_t ndc;
    struct study_interval repeatability_i, gauge_i, part_i, percent_study_i;
    struct study_notes notes;
};

void study_gauge_wants(const char *part, const char *operator_, const char *value, enum unit unit,
                       struct study_want wants[GAUGE_COLUMNS]);

/* study_gauge: errors about the file as a whole: ERR_EMPTY (fewer than two parts, operators or repeats), ERR_DOMAIN (not
 * balanced,
 * with the cell that differs; nothing varies), ERR_LIMIT (cells), ERR_MEMORY. */
MUST_USE enum err study_gauge(const struct study_table *t, const struct study_gauge_order *order,
                              struct study_gauge *ret, struct fault *reterr);

#endif

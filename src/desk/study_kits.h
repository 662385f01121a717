/* study_kits: how many kits of each sort to order?
 *
 * What was asked for so far tells the mix. Two questions: (1) a known number of units is still to come: each sort's demand is
 * beta-binomial, the
 * marginal of a Dirichlet-multinomial whose prior gives every sort the same weight, 1/2 (Jeffreys' for two sorts); (2) a lead
 * time: units come as a Poisson stream whose rate
 * is known from the days watched: each sort's demand over the lead time is negative binomial, gamma prior of shape 1/2
 * (Jeffreys') per sort. In both
 * the order is the least number with P(demand <= order) >= the service level; the level may be given by costs instead, as
 * Cu/(Cu + Co), the
 * newsvendor's critical ratio (Arrow, Harris & Marschak, Econometrica 19(3), 1951; from memory). */
#ifndef DESK_STUDY_KITS_H
#define DESK_STUDY_KITS_H

#include "desk/study_table.h"

enum { KITS_KIT, KITS_COUNT, KITS_COLUMNS };

struct study_kits_order {
    double service;      /* 0..1 exclusive */
    int64_t units;       /* still to come; 0: by lead time */
    double watched_days; /* over which the file's kits were asked for; with lead_days */
    double lead_days;
    bool
        is_joint; /* the level holds for all sorts together (Bonferroni: each at 1 - (1 - level)/sorts) */
};

struct study_kits_sort {
    uint32_t kit; /* study_text(t, KITS_KIT, kit) */
    int64_t n;
    double share;
    struct study_interval share_i; /* 95 % */
    double expected;               /* demand */
    int64_t order;
};

struct study_kits {
    size_t n_sorts;
    struct study_kits_sort *sorts; /* in the order of the file; study_kits_done frees */
    int64_t n, total;              /* kits in the file; kits to order */
    double level;                  /* for each sort */
    struct study_notes notes;
};

void study_kits_wants(const char *kit, const char *count, struct study_want wants[KITS_COLUMNS]);

/* study_kits: O(sorts x units). ERR_EMPTY (no kit), ERR_RANGE (an order beyond 10^12), ERR_BUSY (the watch, which may be
 * NULL, asked to stop), ERR_MEMORY. */
MUST_USE enum err study_kits(const struct study_table *t, const struct study_kits_order *order,
                             const struct study_watch *watch, struct study_kits *ret,
                             struct fault *reterr);
void study_kits_done(struct study_kits *s);

/* study_kits_quantile: the least demand for sort i that is not exceeded with chance p, 0 < p < 1. ERR_RANGE beyond 10^12. */
MUST_USE enum err study_kits_quantile(const struct study_kits_order *order,
                                      const struct study_kits *s, size_t i, double p, int64_t *ret);

#endif

/* study_audit: how many finished units must be looked at again, and how many bad ones may be among them?
 *
 * Single sampling: draw n of the lot, accept it with at most c bad ones. Chance to accept by the hypergeometric distribution
 * (exact,
 * without putting back), or by the binomial for a lot that is large against the sample. Average outgoing quality: what is bad
 * beyond
 * the sample of accepted lots, refused ones being looked at in full: p Pa (N - n)/N. */
#ifndef DESK_STUDY_AUDIT_H
#define DESK_STUDY_AUDIT_H

#include "base/fault.h"
#include "desk/study.h"
#include "stat/sampling.h"

enum { AUDIT_POINTS_MAX = 512, AUDIT_SAMPLE_MAX = 10 * 1000 * 1000, AUDIT_SEARCH_MAX = 200 * 1000 };

struct study_audit_order {
    int64_t lot; /* 0: large */
    bool is_search;
    struct stat_plan plan; /* when not searched for */
    double fine_share,
        poor_share;            /* searched for, or what the risks are worked out at; < 0: none */
    double producer, consumer; /* searched for */
    size_t n_bad;              /* points of the curve; 0: chosen here */
    int64_t bad[AUDIT_POINTS_MAX]; /* bad ones in the lot (lot > 0) */
    size_t n_shares;               /* for a large lot, instead */
    double shares[AUDIT_POINTS_MAX];
    int64_t found; /* bad ones that the sample held; -1: not drawn yet */
    double confidence;
};

struct study_audit_point {
    int64_t bad; /* -1 for a large lot */
    double share, accept, outgoing;
};

struct study_audit {
    struct stat_plan plan;
    size_t n_points;
    struct study_audit_point points[AUDIT_POINTS_MAX];
    bool has_risks;
    double producer_risk, consumer_risk; /* of the plan, at the shares in the order */
    bool is_accepted;                    /* found <= c */
    int64_t may_low, may_high; /* bad ones the lot may hold, from what was found (lot > 0) */
    double may_low_share, may_high_share;
    struct study_notes notes;
};

/* study_audit: errors in the order (ERR_DOMAIN, ERR_ORDER: with the option's name as path and a message; they are the
 * caller's input) and
 * ERR_IMPOSSIBLE (no plan within AUDIT_SEARCH_MAX keeps both promises), ERR_BUSY (the watch, which may be NULL, asked to
 * stop). */
MUST_USE enum err study_audit(const struct study_audit_order *order,
                              const struct study_watch *watch, struct study_audit *ret,
                              struct fault *reterr);

#endif

/* study_window_inner: what the two halves of study_window share: the days as added up, and a scan with its workspace. */
#ifndef DESK_STUDY_WINDOW_INNER_H
#define DESK_STUDY_WINDOW_INNER_H

#include "desk/study_window.h"
#include "stat/window.h"

struct window_day {
    int64_t key; /* the date's number, or the number itself */
    int64_t built, failed;
    double exposure;
    size_t row;   /* the first of the day */
    bool is_gone; /* taken out with a run found earlier */
};

/* The days in order, only those with exposure. */
struct window_days {
    struct window_day *at;
    size_t n;
    bool is_dates;
};

/* window_days_read: from the table. The caller frees ret->at. Errors as study_window. */
MUST_USE enum err window_days_read(const struct study_table *t, struct window_days *ret,
                                   struct fault *reterr);
void window_day_show(const struct window_days *days, int64_t key, struct study_window_day *ret);

/* A scan of what has not been taken out. */
struct window_scan {
    struct window w;
    uint32_t *day;             /* [w.n] index into window_days */
    double *limit;             /* [failures + 1] */
    double *weight;            /* [w.n + 1] */
    double *share;             /* [w.n] */
    double *drops;             /* [WINDOW_ENDS_DRAWS] */
    struct window_work *works; /* [n_threads] */
    int n_threads;
};

MUST_USE enum err window_scan_new(size_t n_days, int64_t n_failed, int n_threads,
                                  struct window_scan *ret);
void window_scan_free(struct window_scan *s);
void window_scan_fill(struct window_scan *s, const struct window_days *days);

/* Draws on all threads. window_scan_p: the p-value of llr; *ret_n the draws made, fewer when the watch asked to stop. window_scan_drop: the
 * quantile `level` of drops; false when stopped. */
MUST_USE enum err window_scan_p(struct window_scan *s, double llr, uint64_t seed, int64_t n_draws,
                                const struct study_watch *watch, double *ret_p, int64_t *ret_n);
MUST_USE enum err window_scan_drop(struct window_scan *s, const struct window_run *run,
                                   uint64_t seed, double level, const struct study_watch *watch,
                                   bool *ret_has, double *ret_drop);

#endif

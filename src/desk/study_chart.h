/* study_chart: a study's answer as a picture (draw/chart.h): which numbers of the table and the answer go where, the finding as a
 * sentence, what was assumed, where it comes from. The command (study KIND --plot) and the campaign report draw the same ones.
 *
 * Each function takes the table and the order that the answer was made with, fills *ret and returns ERR_OK, or ERR_MEMORY with a
 * message. *ret holds its own texts and arrays; only the table is borrowed (it must outlive *ret). study_chart_done frees what it
 * holds, also after an error. A study that could not answer has no picture. */
#ifndef DESK_STUDY_CHART_H
#define DESK_STUDY_CHART_H

#include "bulletin/arena.h"
#include "desk/study_audit.h"
#include "desk/study_capability.h"
#include "desk/study_completion.h"
#include "desk/study_digits.h"
#include "desk/study_gauge.h"
#include "desk/study_held.h"
#include "desk/study_kits.h"
#include "desk/study_labour.h"
#include "desk/study_life.h"
#include "desk/study_stock.h"
#include "desk/study_window.h"
#include "draw/chart.h"

/* What a picture says of where it comes from. No clock is asked: the same call gives the same picture. */
struct study_chart_about {
    const char *file; /* "days.csv", "standard input", "store campaign.db"; NULL: no file (audit) */
    const char *date; /* "2026-03-05"; "" or NULL: none is shown */
    const char *time_unit; /* of life, completion, held: "days"; NULL: unknown */
};

struct study_chart {
    struct chart chart;
    struct arena arena;
};

MUST_USE enum err study_chart_life(const struct study_table *t,
                                   const struct study_life_order *order, const struct study_life *r,
                                   const struct study_chart_about *about, struct study_chart *ret,
                                   struct fault *reterr);
MUST_USE enum err study_chart_window(const struct study_table *t,
                                     const struct study_window_order *order,
                                     const struct study_window *r,
                                     const struct study_chart_about *about, struct study_chart *ret,
                                     struct fault *reterr);
MUST_USE enum err study_chart_completion(const struct study_table *t,
                                         const struct study_completion_order *order,
                                         const struct study_completion *r,
                                         const struct study_chart_about *about,
                                         struct study_chart *ret, struct fault *reterr);
MUST_USE enum err study_chart_held(const struct study_table *t,
                                   const struct study_held_order *order, const struct study_held *r,
                                   const struct study_chart_about *about, struct study_chart *ret,
                                   struct fault *reterr);
MUST_USE enum err study_chart_labour(const struct study_table *t,
                                     const struct study_labour_order *order,
                                     const struct study_labour *r,
                                     const struct study_chart_about *about, struct study_chart *ret,
                                     struct fault *reterr);
MUST_USE enum err study_chart_gauge(const struct study_table *t,
                                    const struct study_gauge_order *order,
                                    const struct study_gauge *r,
                                    const struct study_chart_about *about, struct study_chart *ret,
                                    struct fault *reterr);
MUST_USE enum err study_chart_capability(const struct study_table *t,
                                         const struct study_capability_order *order,
                                         const struct study_capability *r,
                                         const struct study_chart_about *about,
                                         struct study_chart *ret, struct fault *reterr);
MUST_USE enum err study_chart_audit(const struct study_audit_order *order,
                                    const struct study_audit *r,
                                    const struct study_chart_about *about, struct study_chart *ret,
                                    struct fault *reterr);
MUST_USE enum err study_chart_digits(const struct study_table *t,
                                     const struct study_digits_order *order,
                                     const struct study_digits *r,
                                     const struct study_chart_about *about, struct study_chart *ret,
                                     struct fault *reterr);
MUST_USE enum err study_chart_stock(const struct study_table *t, enum unit unit,
                                    const struct study_stock *r,
                                    const struct study_chart_about *about, struct study_chart *ret,
                                    struct fault *reterr);
MUST_USE enum err study_chart_kits(const struct study_table *t,
                                   const struct study_kits_order *order, const struct study_kits *r,
                                   const struct study_chart_about *about, struct study_chart *ret,
                                   struct fault *reterr);
void study_chart_done(struct study_chart *c);

#endif

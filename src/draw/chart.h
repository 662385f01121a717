/* chart: the answers of studies as pictures that stand alone: a title that says the finding, axes with units, intervals as bands and
 * whiskers, labels at what they name, what was assumed, and where the figures come from. A picture goes into a file of its own (SVG,
 * PNG, PDF) or into any rectangle of a page (draw/paper.h).
 *
 * Every struct below holds plain numbers and texts, borrowed for the call. Numbers are finite unless it is said otherwise; arrays that
 * go with one another have one length. Names may be any UTF-8 text, of any length: what has no room ends in an ellipsis. Any number
 * of rows may be given: where more stand than the paper can show, neighbours are drawn as one, and the picture says so. */
#ifndef DRAW_CHART_H
#define DRAW_CHART_H

#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct paper; /* draw/paper.h; callers need not see cairo */

enum {
    CHART_ROWS_MAX = 24,
    CHART_PANELS_MAX = 12
}; /* more are not drawn, which the picture says */

/* ---- what is drawn ---------------------------------------------------------------------------- */

/* Points of a curve, x ascending. */
struct chart_curve {
    size_t n;
    const double *x, *y;
};

/* Steps: y[i] holds from x[i] up to x[i + 1]; the first n_band of them have an interval. */
struct chart_steps {
    size_t n, n_band;
    const double *x, *y, *low, *high;
};

struct chart_life_group {
    const char *name;        /* "" when there is one only */
    size_t n;                /* units */
    const double *end;       /* [n] ascending: when each failed, or was last seen whole */
    const uint8_t *event;    /* [n] 1 failed, 0 whole; goes with end */
    const double *entry;     /* [n] ascending by itself: when watching began; NULL: at 0 */
    struct chart_steps left; /* share still whole, 0..1 */
    struct chart_curve fit;  /* the Weibull curve, 0..1; n 0: none */
};
struct chart_life {
    const char *unit; /* of the times: "days"; "" unknown */
    double confidence;
    size_t n_groups;
    const struct chart_life_group *groups;
    struct chart_steps mean; /* failures a unit, repeats counted; n 0: not asked */
};

/* A day is days since 1970-01-01 when is_date, else a plain number. */
struct chart_window_run {
    double first, last; /* both ends belong to it */
    bool is_found;      /* false: chance explains it */
    bool has_set;
    double first_low, first_high, last_low, last_high;
    double rate_inside, rate_outside; /* failed / built */
    bool has_outside;
};
struct chart_window_cut {
    double first, last, needless, left; /* units swept in needlessly, bad ones left out */
};
struct chart_window {
    bool is_date;
    double confidence; /* of the ends */
    size_t n;          /* days, ascending, each once */
    const double *day, *built, *failed;
    size_t n_runs;
    const struct chart_window_run *runs;
    size_t n_cuts; /* of the first run, from the widest line to the narrowest or the other way */
    const struct chart_window_cut *cuts;
};

struct chart_completion_row {
    double within; /* HUGE_VAL: ever */
    double total, low, high;
};
struct chart_completion {
    const char *unit;
    double confidence;
    double n, n_come;        /* units given notice; come so far */
    struct chart_steps come; /* share that has come by so long after the notice, 0..1 */
    struct chart_curve fit;
    double share, share_low, share_high; /* that ever comes */
    size_t n_rows;                       /* ascending; "ever" is the last */
    const struct chart_completion_row *rows;
};

struct chart_held_side {
    const char *name;
    double units, failed, time, rate, low, high; /* rate a unit of time */
};
struct chart_held {
    const char *unit; /* of time */
    double confidence;
    struct chart_held_side sides[2]; /* repaired, not repaired */
    double ratio, low, high;         /* ratio and high may be infinite */
    double at_most;                  /* the fix holds when surely below */
};

struct chart_labour {
    double confidence;
    size_t n;
    const double *minutes, *order; /* rows of the file; order NULL: not given */
    struct chart_curve learning;   /* n 0: none */
    double learning_rate;          /* what is left of the time when the count doubles; with it */
    bool is_shops;                 /* level: means of shops; else: minutes of jobs */
    size_t n_levels;
    const double *level;           /* ascending */
    double share, allowance, paid; /* paid 0: not asked */
    double mean, mean_low, mean_high;
    bool has_mean_interval;
};

struct chart_gauge_part {
    const char *name;
    double sd, low, high; /* low, high only with has_interval */
    bool has_interval;
};
struct chart_gauge_person {
    const char *name;
    size_t n;
    const double *off; /* each reading less the mean of its part over all people */
};
struct chart_gauge {
    const char *unit;
    double confidence, total_sd;
    size_t n_parts; /* components, in the order drawn */
    const struct chart_gauge_part *parts;
    size_t n_people;
    const struct chart_gauge_person *people;
};

struct chart_capability_group {
    const char *name;
    size_t n;
    const double *value; /* [n] in any order */
    bool has_low, has_high, has_index, is_short;
    double low, high; /* the limits */
    double mean, sd;
    double ppk, ppk_low, ppk_high; /* with has_index */
    double n_outside;
};
struct chart_capability {
    const char *unit;
    double confidence, least; /* least 0: not asked */
    size_t n_all;             /* groups that there are */
    size_t n; /* of them here, in the order drawn; no more than CHART_ROWS_MAX are */
    const struct chart_capability_group *groups;
};

struct chart_audit {
    struct chart_curve accept; /* chance to accept against the bad share, both 0..1 */
    double sample, most;       /* draw so many, accept with at most so many bad */
    bool has_promises;
    double fine, poor;         /* bad shares */
    double producer, consumer; /* risks of the plan at them */
    bool has_found;
    double found, may_low, may_high, confidence; /* share that may be bad */
};

struct chart_digits_group {
    const char *name;
    double n;
    const double *count; /* [n_steps] */
    bool is_tested, is_flagged, is_narrow;
    double q;
};
struct chart_digits {
    size_t n_steps;
    const char *const *step; /* [n_steps] what each step is called: "1/16", "0.1" */
    const char *whole;       /* "in" */
    size_t n_all;            /* groups that there are */
    size_t n; /* of them here, in the order drawn; no more than CHART_PANELS_MAX are */
    const struct chart_digits_group *groups;
};

struct chart_stock {
    const char *unit;
    size_t n; /* needs, ascending by length */
    const double *length, *pieces;
    size_t n_stock;                        /* ascending */
    const double *stock, *served, *wasted; /* length, pieces cut from it, length cut away */
    double waste, waste_less,
        waste_more; /* in all; with one length less and more, < 0: there is none */
};

struct chart_kit {
    const char *name;
    double asked;                    /* so far */
    double low, middle, high, order; /* demand to come: quantiles; the order */
};
struct chart_kits {
    double level;         /* chance that each sort lasts */
    double low_q, high_q; /* which quantiles low and high are: 0.05, 0.95 */
    const char *within;   /* "among 800 units still to come" */
    size_t n_all, n;      /* sorts that there are; here */
    const struct chart_kit *kits;
};

/* ---- a picture -------------------------------------------------------------------------------- */

enum chart_kind {
    CHART_LIFE,
    CHART_WINDOW,
    CHART_COMPLETION,
    CHART_HELD,
    CHART_LABOUR,
    CHART_GAUGE,
    CHART_CAPABILITY,
    CHART_AUDIT,
    CHART_DIGITS,
    CHART_STOCK,
    CHART_KITS
};

struct chart {
    enum chart_kind kind;
    const char *title;   /* the finding, a sentence; "": no title is drawn */
    const char *how;     /* what bands, bars and ticks are; one line or two */
    const char *assumed; /* what was taken for granted */
    const char *source;  /* file, rows, date, version */
    union {
        struct chart_life life;
        struct chart_window window;
        struct chart_completion completion;
        struct chart_held held;
        struct chart_labour labour;
        struct chart_gauge gauge;
        struct chart_capability capability;
        struct chart_audit audit;
        struct chart_digits digits;
        struct chart_stock stock;
        struct chart_kits kits;
    };
};

/* chart_draw: into the rectangle, title to source line, in points; nothing reaches over its edges. A rectangle too small for a
 * picture (below CHART_LEAST_WIDTH x CHART_LEAST_HEIGHT) gets what fits of the title alone. p->y is left as it was; nothing is tagged: a
 * page that carries it tags it (paper_tag) as a whole. */
enum { CHART_LEAST_WIDTH = 220, CHART_LEAST_HEIGHT = 160 };
void chart_draw(struct paper *p, const struct chart *c, double x, double y, double width,
                double height);

/* chart_height: what the kind needs at this width to be read easily; kinds with rows grow with them, up to a page. */
double chart_height(const struct chart *c, double width);

/* ---- a file ----------------------------------------------------------------------------------- */

enum chart_format { CHART_SVG, CHART_PNG, CHART_PDF };

/* chart_format_of: by the ending of the name, in any case; false: none of ours. */
bool chart_format_of(const char *path, enum chart_format *ret);

enum { CHART_PIXELS = 2 }; /* of a PNG, a point each way */

/* chart_file: the whole file appended to out. width, height in points, 1..CHART_SIDE_MAX; a PNG has CHART_PIXELS times as many pixels. The
 * same picture gives the same bytes. Errors: ERR_UNKNOWN (no font), ERR_RANGE (a side), ERR_MEMORY; reterr->message says it. */
enum { CHART_SIDE_MAX = 4000 };
MUST_USE enum err chart_file(const struct chart *c, enum chart_format format, double width,
                             double height, struct text *out, struct fault *reterr);

/* chart_figure: a number as pictures write it: so many digits that count, no needless noughts, no exponent from 1e-9 up to 1e9, thin spaces
 * from 10 000 on, the sign of infinity. buf[CHART_FIGURE_SIZE]; returns buf or a constant. */
enum { CHART_FIGURE_SIZE = 40 };
const char *chart_figure(double value, int digits, char *buf);

/* chart_cut: the name, or as many whole characters of it as fit into CHART_NAME_BYTES, and an ellipsis. buf[CHART_NAME_SIZE]; returns buf. */
enum { CHART_NAME_BYTES = 90, CHART_NAME_SIZE = CHART_NAME_BYTES + 4 };
const char *chart_cut(const char *name, char *buf);

#endif

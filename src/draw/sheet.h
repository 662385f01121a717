/* sheet: a bulletin as a job sheet on paper: what is in, which kit, what to bring, the steps with their cautions, where each reading
 * is taken and its limits, what counts as proof, and, for lengths that were measured, the cut at true scale.
 *
 * It holds the bulletin's texts whole: every caution, step, reason and criterion. Our own words are in English, Spanish or French. */
#ifndef DRAW_SHEET_H
#define DRAW_SHEET_H

#include "base/fault.h"
#include "base/text.h"
#include "bulletin/bulletin.h"
#include "core/cut.h"
#include "draw/size.h"

enum { SHEET_CUTS_MAX = CUT_RACKS_MAX, SHEET_LINK_MAX = 400 };

/* One rack of one station, measured, and what the core made of it. Borrowed. */
struct sheet_cut {
    const char *station, *kit, *rack; /* ids; kit: the one that was chosen */
    const struct bulletin_rack *piece;
    enum cut_blade blade;
    const struct cut_answer *answer; /* CUT_DO or CUT_NOT_NEEDED */
    enum unit show;                  /* inches or millimetres */
};

struct sheet_order {
    const struct bulletin *b;
    const char *language; /* BCP 47; NULL: the bulletin's */
    const char *vin;      /* 17 characters, upper case; NULL: boxes to fill in */
    const char *link;     /* where the job is, for its code; NULL: sheet_job_text */
    enum paper_size size;
    const char *const *stations; /* ids of those that are printed, in the bulletin's order; */
    size_t n_stations;           /* 0: all */
    const struct sheet_cut *cuts;
    size_t n_cuts;
    /* The whole as a PDF; or one page of it as a PNG: of this number, from 1 on; or the one on which the step of this id begins (NULL: by number).
     * A number beyond the last: the last. An id of no step: the first. */
    bool is_page;
    int page;
    const char *step;
    int64_t made_s; /* seconds since 1970-01-01T00:00Z, for the file's own date */
};

struct sheet_made {
    int n_pages, n_template_pages;
    int page; /* the one that was drawn, where one was asked for */
};

enum { SHEET_PAGE_PIXELS = 2 }; /* of a PNG, a point each way: 144 dpi */

/* sheet_make: the PDF, or the PNG of a page, appended to out. The same order gives the same bytes on one machine. Errors: ERR_UNKNOWN (no font; a station
 * that is none), ERR_LIMIT (link longer than SHEET_LINK_MAX), ERR_MEMORY; reterr->message says it for people. */
MUST_USE enum err sheet_make(const struct sheet_order *order, struct text *out,
                             struct sheet_made *ret, struct fault *reterr);

/* sheet_job_text: what the code says without a server: "mendwright:OV-26-03/2?vin=...". Ids percent-encoded (RFC 3986). */
void sheet_job_text(const struct bulletin *b, const char *vin, struct text *out);

#endif

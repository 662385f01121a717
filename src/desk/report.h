/* report: what a board is shown of a campaign: will it close, within which money, by when, what is not certain; with the figures it rests
 * on, and how they were come by. The figures are those of campaign.h and of the studies (study_window.h, study_completion.h, study_held.h) on the
 * store's rows (study_rows.h); nothing is worked out anew here. The pages are draw/report.h's.
 *
 * The same figures come as JSON: everything that stands on the pages is in it, word for word, beside the campaign's numbers. */
#ifndef DESK_REPORT_H
#define DESK_REPORT_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "desk/campaign.h"
#include "desk/study.h"
#include "draw/size.h"

struct report_order {
    const char *store_name; /* as the source lines say it */
    const char *bulletin;   /* NULL: the one that is kept, where there is one alone */
    const char *
        language; /* of the bulletin's texts, BCP 47; NULL: the bulletin's own. Our own words are English */
    enum paper_size size;
    int64_t now_ms;
};

struct report_done {
    struct text pdf; /* report_free frees it */
    int n_pages;
    char verdict[STUDY_NOTE_MAX];
    enum campaign_verdict money;
};

/* report_campaign: w (may be NULL): the same as JSON, members of an object that the caller has opened. The same store, order and machine give the same bytes. *ret is the caller's, report_free it, also after an error. Errors: those
 * of campaign_read, study_sites_read and report_make; ERR_BUSY (the watch, which may be NULL, asked to stop). */
MUST_USE enum err report_campaign(struct store *store, const struct report_order *order,
                                  const struct study_watch *watch, struct jsonw *w,
                                  struct report_done *ret, struct fault *reterr);
void report_free(struct report_done *done);

#endif

/* check_more: what `check` says beyond the faults: the difference to an older revision, and what would follow from issuing this one. */
#ifndef CLI_CHECK_MORE_H
#define CLI_CHECK_MORE_H

#include "cli/cli.h"
#include "desk/draft.h"

struct check_order {
    const char *against; /* a file, or NULL */
    const char *store;   /* a folder, or NULL */
    bool is_export;
};

/* Zero-initialised says nothing. */
struct check_more {
    bool has_changes;
    char other
        [160]; /* "OV-26-03 revision 2": what it was compared with; "" nothing was there to compare with */
    struct change_list changes;
    struct whatif *whatif; /* NULL: not asked for */
    int digits;            /* of the currency */
};

/* check_more_read: *ret is the caller's, check_more_done it. Without --against the revision that the store keeps is compared with; a
 * warning that comes of it goes to *faults. Errors: those of
 * the file, the store, draft.h. */
MUST_USE enum err check_more_read(const struct bulletin *b, const struct check_order *order,
                                  struct fault_list *faults, struct check_more *ret,
                                  struct fault *reterr);
void check_more_json(const struct check_more *more, struct jsonw *w);
void check_more_say(struct cli *ctx, const struct check_more *more);
void check_more_done(struct check_more *more);

#endif

/* study_sites: what a store says of one bulletin, as studies need it: every station of the build list with its days of building, whether it
 * is in scope, when it was repaired and when it failed; and every claim with what stands for it. What study_rows.h makes its columns from.
 *
 * About 64 bytes a station and 200 a claim. */
#ifndef DESK_STUDY_SITES_H
#define DESK_STUDY_SITES_H

#include "bulletin/arena.h"
#include "bulletin/bulletin.h"
#include "desk/failures.h"
#include "desk/study.h"
#include "store/store.h"

#define SITES_NO_DAY INT32_MIN

struct study_site {
    char vin[VIN_SIZE + 1];
    uint8_t station; /* index in the bulletin */
    bool
        is_read; /* its label gives days and, where the bulletin has variants with codes, one of them */
    bool is_in;          /* in scope */
    bool is_unknown;     /* its label does not tell */
    int16_t variant;     /* index in the bulletin; -1: none */
    int32_t first, last; /* built; with is_read */
    int32_t
        repaired; /* day on which the first job that does not stand refused was finished; SITES_NO_DAY: none */
    int32_t
        claimed; /* day on which the first claim for it was taken in, whatever became of it; SITES_NO_DAY */
    const struct failure *failed; /* [n_failed] by day */
    size_t n_failed;
};

struct study_visit {                             /* a claim */
    int64_t seq;                                 /* in the order of taking in, from 0 */
    const char *claim, *vin, *shop, *technician; /* shop and technician "" when not known */
    int32_t taken;
    int64_t finished_ms, labour_s; /* STORE_UNKNOWN: not known */
    bool is_refused, is_ruled;
    int n_done; /* stations with a kit */
};

struct study_sites {
    struct bulletin *bulletin; /* the newest revision kept */
    struct failures failures;
    bool has_failures;     /* a list is kept */
    struct study_site *at; /* by VIN, then station's id */
    size_t n;
    struct study_visit *visits; /* in the order of taking in */
    size_t n_visits;
    size_t n_builds, n_units; /* rows of the build list, units in it */
    size_t n_other_station;   /* rows of stations that the bulletin does not have */
    size_t n_strangers;       /* failures of stations that are not in the build list */
    int32_t heard; /* the last day from which anything came in; the bulletin's issue at least */
    struct arena arena;
};

/* study_sites_read: bulletin NULL: the one that is kept, where there is one alone. *ret is the caller's, study_sites_done it, also after
 * an error. Errors: ERR_EMPTY (no bulletin kept), ERR_UNKNOWN (none of that id), ERR_AMBIGUOUS (several, none named), ERR_DOMAIN (one that
 * cannot be read), ERR_BUSY (the watch asked to stop), ERR_MEMORY, the store's and failures_read's. */
MUST_USE enum err study_sites_read(struct store *store, const char *bulletin,
                                   const struct study_watch *watch, struct study_sites *ret,
                                   struct fault *reterr);
void study_sites_done(struct study_sites *s);

/* study_site_of: NULL when it is not in the build list. */
struct study_site *study_site_of(const struct study_sites *s, const char *vin, const char *station);

#endif

/* demo_score: what was planted in a made-up campaign against what the desk found: truth.json against the rulings in a store. */
#ifndef CLI_DEMO_SCORE_H
#define CLI_DEMO_SCORE_H

#include "base/fault.h"
#include "demo/kinds.h"

#include <stdbool.h>
#include <stdint.h>

enum { SCORE_NAMES = 20, SCORE_NAME = 48, SCORE_VERDICTS = 4 };

/* One kind of fault. */
struct score_kind {
    size_t planted, found;
    bool is_deterministic;
};

struct score {
    size_t n_claims, n_taken, n_ruled; /* of the truth's claims */
    size_t n_clean,
        n_clean_found; /* clean claims, and those of them with a finding (or refused at taking in) */
    size_t n_missed;   /* deterministic faults that were not found */
    struct score_kind kinds[KIND_N];
    char missed[SCORE_NAMES][SCORE_NAME],
        blamed[SCORE_NAMES][SCORE_NAME]; /* "0012.zip photo-dark": the first few */
    size_t n_missed_names, n_blamed_names;
    uint64_t n_photos, n_pairs; /* in the store; pairs of them */
    uint64_t n_false_pairs;     /* photos called seen before that were not copied */
    int64_t n_verdicts[SCORE_VERDICTS], minor[SCORE_VERDICTS],
        paid_minor; /* pay, ask, hold, refuse: of the ruled claims */
    char currency[8];
    bool is_good; /* nothing sure was missed, nobody was blamed wrongly, every claim was ruled on */
};

/* demo_score: folder: the campaign's. store: the store's path. Errors: those of file_read, json_parse, store_open; ERR_TYPE,
 * ERR_UNKNOWN (a kind that this program does not plant), ERR_LIMIT, ERR_MEMORY. ret is the caller's (about 3 kB). */
MUST_USE enum err demo_score(const char *folder, const char *store, struct score *ret,
                             struct fault *reterr);

#endif

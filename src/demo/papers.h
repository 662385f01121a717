/* papers: the campaign's tables and its truth: what a maker would keep (build list, shops, keys, failures), the times at which bags
 * arrive, and, beside it all, what was planted. */
#ifndef DEMO_PAPERS_H
#define DEMO_PAPERS_H

#include "demo/plant.h"

/* What became of a planned claim. */
struct paper_claim {
    enum kind kind; /* as planned; or KIND_NOT_TRUED */
    struct ulid job;
    char what[PLANT_WHAT]; /* particulars; "" */
};

/* paper_bag: the name of the bag of claim i: "0001.zip", with more digits where there are more claims. */
enum { PAPER_BAG = 16 };
void paper_bag(const struct world *world, size_t i, char ret[PAPER_BAG]);

/* Each writes its files into folder. Errors: ERR_LIMIT, ERR_OPEN, ERR_IO, ERR_MEMORY. */
MUST_USE enum err papers_write(const struct world *world, const char *folder, struct fault *reterr);
MUST_USE enum err papers_truth(const struct world *world, const struct paper_claim *claims,
                               const char *folder, struct fault *reterr);

#endif

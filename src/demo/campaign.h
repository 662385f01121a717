/* campaign: a made-up campaign on disk: units, shops, technicians, jobs through the forward model (core/mechanism), photos, bags,
 * with planted faults and the truth beside them. Everything in it is invented and says so. Deterministic: the same bulletin, number
 * of units, seed and day give the same files, byte for byte, on one machine.
 *
 * DIR/bulletin.yaml     the bulletin, as embedded in the program (examples/OV-26-03.yaml)
 * DIR/shops.csv         desk/shops.h
 * DIR/keys/SHOP.pub     keyring; secret keys are not kept
 * DIR/keys.txt          the same in one file
 * DIR/builds.csv        vin,station,label: every unit's labels as built
 * DIR/failures.csv      vin,built,station,failed,days: for studies, a row a column; days in service, to the failure if it failed
 * DIR/reports.csv       desk/failures.h: what failed when, before the bulletin and after it, for `store keep failures`
 * DIR/reserve.csv       bulletin,amount,currency,person and kit,on_hand,ordered,lead_days: for `store keep reserve` and `stock`
 * DIR/stock.csv
 * DIR/days.csv          day,built,failed: the same, by the day on which columns were built
 * DIR/bags/NNNN.zip     in the order in which they arrive
 * DIR/arrivals.csv      bag,arrived_ms: the desk's clock when each comes in
 * DIR/truth.json        what was planted, claim by claim; clean claims too (doc/demo.md)
 *
 * After a failure what was written so far is left in DIR, but for the folders of jobs under way. */
#ifndef DEMO_CAMPAIGN_H
#define DEMO_CAMPAIGN_H

#include "base/fault.h"

#include <stdint.h>

enum { CAMPAIGN_FAULTY = 25 };

struct campaign_order {
    const char *folder; /* must not exist, or be empty */
    int units;          /* 10..1 000 000 */
    uint64_t seed;
    int faulty_percent; /* of claims that get a planted fault, 0..90; CAMPAIGN_FAULTY as a rule */
    int n_threads;      /* 1..16; 0: as many as there are processors */
    void (*step)(void *me, const char *what, uint64_t done, uint64_t all); /* may be NULL */
    void *me;
};

struct campaign_made {
    uint64_t units, claims, photos, faults, bytes;
};

/* campaign_make: Errors: ERR_DUPLICATE (the folder holds something), ERR_DOMAIN, ERR_OPEN, ERR_IO, ERR_MEMORY. */
MUST_USE enum err campaign_make(const struct campaign_order *order, struct campaign_made *ret,
                                struct fault *reterr);

#endif

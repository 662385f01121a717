/* units: the units that the store knows, as JSON for pages and scripts: what the build list says of each, whether it is in the bulletin's
 * scope and why, and its claims with what stands. */
#ifndef DESK_UNITS_H
#define DESK_UNITS_H

#include "base/fault.h"
#include "base/jsonw.h"

struct store;

enum { UNITS_MAX = 100, UNITS_LOOK_MAX = 5000, UNITS_CLAIMS_MAX = 20 };

struct units_order {
    const char *tail;     /* the VIN's end, four characters at least, in capitals; NULL: any */
    const char *label;    /* how a station's label begins; NULL: any */
    const char *shop;     /* that claimed for it; NULL: any */
    const char *bulletin; /* by which scope is judged; NULL: the one kept last */
    const char *after;    /* "next" of an earlier answer to the same order; NULL: from the first */
    int n_max;            /* 1..UNITS_MAX */
    bool is_shop_alone;   /* only units and claims of `shop` are told */
};

/* units_by: the bulletin by which scope was judged last, ready for the next search of the same store: reading one takes longer than all the
 * rest. Of one thread at a time. units_by_new: NULL: no memory. units_by_free: NULL is fine. */
struct units_by;
struct units_by *units_by_new(void);
void units_by_free(struct units_by *by);

/* units_find: members "bulletin", "revision" (null: none is kept), "units": [{vin, check ("good", "wrong", or "none": no VIN), unit
 * ("in", "out", "mixed", "unknown"; null without a bulletin), stations: [{station, label, scope, reason, listed}], claims: [those of
 * tell_claims, the newest UNITS_CLAIMS_MAX], more: whether it has further claims}], "more": whether there may be further ones, "next": where they go on. stations: those of the build list and
 * of the bulletin; listed false: the build list has it not. At least one of tail, label and shop must be there: the first of shop (only
 * where it is alone or the tail is missing), tail, label leads, the others are held against what it finds, at most UNITS_LOOK_MAX
 * units at once; then "more" is true and there may be fewer than n_max. Errors: those of store/units.h, ERR_EMPTY (nothing asked for),
 * ERR_UNKNOWN (no such bulletin). */
MUST_USE enum err units_find(struct store *store, struct units_by *by,
                             const struct units_order *order, struct jsonw *w,
                             struct fault *reterr);

#endif

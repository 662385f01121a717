/* units: which units the store knows: those of the build list and those a claim came for, found by the end of the VIN, by the beginning of a
 * label, by the shop that claimed. Each by an index: answers come in milliseconds from millions of units.
 *
 * The index of VINs is by their last six characters, the serial number in nearly every VIN, so that units put in the order in which they
 * were built lie side by side in it, and putting a list costs little more for it. A shorter end is found by going through the first
 * characters that there are before it. */
#ifndef STORE_UNITS_H
#define STORE_UNITS_H

#include "store/store.h"

enum { UNITS_TAIL_LEAST = 4, UNITS_TAIL_KEY = 6 };

struct
    unit_place { /* where a search stands; as a text it is "VIN", "VIN/station" or a claim's id */
    const char *vin;
    const char *station; /* by label alone */
    const char *label;   /* by label alone */
    const char *claim;   /* by shop alone */
};
/* Returns false to end the search. What it is handed lives until it returns. The same unit may come again: for another station's label,
 * for another claim. */
typedef bool store_see_unit(void *me, const struct unit_place *place);

/* store_units_by_tail: VINs that end in tail (UNITS_TAIL_LEAST to 17 of 0-9 and A-Z), by their last six characters, then by VIN; after:
 * a VIN, those behind it; NULL: from the first. store_units_by_label: units a station of which has a label that begins with label[0..),
 * by label, VIN and station; after: NULL, or the place of a row that is in the list. store_units_by_shop: units that the shop claimed
 * for, the newest claim first; after: a claim's id or NULL. Errors: the database's, ERR_UNKNOWN (no such `after`), ERR_SYNTAX
 * (the tail). */
MUST_USE enum err store_units_by_tail(struct store *store, const char *tail, const char *after,
                                      store_see_unit *see, void *me, struct fault *reterr);
MUST_USE enum err store_units_by_label(struct store *store, const char *label,
                                       const char *after_vin, const char *after_station,
                                       store_see_unit *see, void *me, struct fault *reterr);
MUST_USE enum err store_units_by_shop(struct store *store, const char *shop, const char *after,
                                      store_see_unit *see, void *me, struct fault *reterr);

/* store_unit_is_of: whether the shop has a claim for the unit. */
MUST_USE enum err store_unit_is_of(struct store *store, const char *vin, const char *shop,
                                   bool *ret, struct fault *reterr);

#endif

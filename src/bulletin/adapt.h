/* adapt: from a bulletin's words to the core's numbers: scope, kits and cutting, timing.
 *
 * Everything here borrows its texts from the bulletin, which must outlive it. The structs are large
 * (tens of kB): from the heap. A bulletin that was checked (bulletin_load) never fails here but for
 * counts beyond the core's limits, memory apart. */
#ifndef BULLETIN_ADAPT_H
#define BULLETIN_ADAPT_H

#include "base/fault.h"
#include "bulletin/bulletin.h"
#include "core/kit.h"
#include "core/scope.h"
#include "core/timing.h"

/* ---- scope ---- */

struct adapt_scope {
    struct scope_rule rule; /* points into the arrays below: do not copy the struct */
    const char *variants[SCOPE_VARIANTS_MAX];
    struct scope_code codes[SCOPE_CODES_MAX];
    struct scope_window windows[SCOPE_WINDOWS_MAX];
};

/* adapt_scope_rule: the rule. A variant without codes is every label's. Errors: ERR_LIMIT. */
MUST_USE enum err adapt_scope_rule(const struct bulletin *b, struct adapt_scope *ret,
                                   struct fault *reterr);

/* adapt_scope_label: reads one station's label by the bulletin's patterns into ret->state and
 * ret->label. A label that can be two dates is no error but a state. Errors: those of label_read
 * otherwise, with a sentence that shows where. */
MUST_USE enum err adapt_scope_label(const struct bulletin *b, const char *text,
                                    struct scope_sight *ret, struct fault *reterr);

/* ---- kit and cut ---- */

/* The bulletin does not say how well the blade meets the line. This is taken: within half a
 * millimetre either way, all of it equally likely, so u = 0.5 mm / sqrt(3) (JCGM 100:2008, 4.3.7).
 * Ours, said wherever it enters. */
#define ADAPT_BLADE_HALF_NM 500000

enum { ADAPT_RACKS_MAX = KIT_KITS_MAX * BULLETIN_RACKS_MAX };

struct adapt_kits {
    size_t n_kits, n_attributes, n_racks;
    struct kit kits[KIT_KITS_MAX];
    const struct bulletin_rack
        *pieces[KIT_KITS_MAX][CUT_RACKS_MAX]; /* where each piece comes from */
    const char
        *racks[ADAPT_RACKS_MAX]; /* every rack id in the kits, once; kit.piece_rack counts in it */
    struct cut_uncertainty u;    /* of the bulletin's cutting instrument and the blade */
    double remeasure_factor;
};

/* adapt_kits: every kit. Errors: ERR_LIMIT (more than KIT_ATTRIBUTES_MAX attributes). */
MUST_USE enum err adapt_kits(const struct bulletin *b, struct adapt_kits *ret,
                             struct fault *reterr);

/* adapt_station_values: what the station fixes, and attributes that have one value only; KIT_ANY
 * elsewhere. */
void adapt_station_values(const struct bulletin *b, const struct bulletin_station *station,
                          int values[KIT_ATTRIBUTES_MAX]);

/* adapt_value: index of an attribute's value; KIT_ANY when it has no such value. */
int adapt_value(const struct bulletin_attribute *attribute, const char *value);

/* adapt_rack: index of a rack id in a->racks; -1 when no kit has it. */
int adapt_rack(const struct adapt_kits *a, const char *id);

/* ---- timing ---- */

struct adapt_timing {
    struct timing_problem problem; /* points into the arrays below: do not copy the struct */
    const char *ids[TIMING_RACKS_MAX];
    struct timing_rack racks[TIMING_RACKS_MAX];
    struct timing_difference differences[TIMING_DIFFERENCES_MAX];
};

/* adapt_timing_station: every two racks of the station, each later one against each earlier, within
 * the bulletin's limit either way; ends at 0 until the caller sets problem.racks' end_nm (by way of
 * racks[]). false: the station is not timed. */
bool adapt_timing_station(const struct bulletin *b, const char *station, struct adapt_timing *ret);

#endif

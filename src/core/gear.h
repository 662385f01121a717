/* gear: pitch of racks and pinions.
 *
 * Pitch p = pi m (reference profile of ISO 53); a diametral pitch P (teeth per inch of diameter) is the module
 * m = 25.4/P mm. Pitches are irrational: each result here is rounded once, from pi x module x count, so that twenty
 * teeth are not twenty rounding errors. Lengths are int64 nm; no tooth is assumed to be of full depth. */
#ifndef CORE_GEAR_H
#define CORE_GEAR_H

#include "core/err.h"

#include <stdint.h>

#define GEAR_MODULE_MAX_NM ((int64_t)100000000) /* module 100 mm: larger is a slip of the unit */
#define GEAR_TEETH_MAX     1000000

/* gear_pitch_mm: pi x module, both mm, as exact as a double is. NaN for a module that is not finite and > 0. */
double gear_pitch_mm(double module_mm);

/* gear_pitch_nm: the pitch to the nearest nm. 0 for a module outside 1..GEAR_MODULE_MAX_NM.
 * Worked: module 2 mm is 6 283 185 nm. */
int64_t gear_pitch_nm(int64_t module_nm);

/* gear_span_nm: length of n_teeth pitches, also negative, to the nearest nm: a jump of a rack by n_teeth, and the travel of a
 * rack for one turn of a pinion with n_teeth. Errors: ERR_DOMAIN (module), ERR_RANGE (|n_teeth| > GEAR_TEETH_MAX).
 * Worked: module 2.54 mm (P 10), 12 teeth: 95 755 739 nm = 3.76991 in. */
MUST_USE enum err gear_span_nm(int64_t module_nm, int64_t n_teeth, int64_t *ret_nm);

/* gear_module_of_dp: module in nm, nearest, of a diametral pitch P (teeth per inch). Errors: ERR_DOMAIN unless P is
 * finite, > 0 and the module is within 1..GEAR_MODULE_MAX_NM. Worked: P 10 is 2 540 000 nm. */
MUST_USE enum err gear_module_of_dp(double teeth_per_in, int64_t *ret_module_nm);

/* gear_teeth_of_span: how many pitches a length holds, as a double: 2.5 is a cut in the middle of the third.
 * Errors: ERR_DOMAIN (module). */
MUST_USE enum err gear_teeth_of_span(int64_t module_nm, int64_t span_nm, double *ret_teeth);

/* gear_tooth_fraction: where in a pitch a place lies that is distance_nm from the start of one: 0 <= fraction < 1, also
 * for negative distances (floor). Errors: ERR_DOMAIN (module). */
MUST_USE enum err gear_tooth_fraction(int64_t module_nm, int64_t distance_nm, double *ret_fraction);

#endif

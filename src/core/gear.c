/* gear: owns the figures of rack teeth: pitch, spans of whole teeth, the place in a tooth. */
#include "core/gear.h"

#include <float.h>
#include <math.h>
#include <stdbool.h>

#define PI 3.14159265358979323846

static bool is_module(int64_t module_nm)
{
    return module_nm >= 1 && module_nm <= GEAR_MODULE_MAX_NM;
}

double gear_pitch_mm(double module_mm)
{
    return module_mm > 0.0 && module_mm <= DBL_MAX ? PI * module_mm : (double)NAN;
}

int64_t gear_pitch_nm(int64_t module_nm)
{
    return is_module(module_nm) ? (int64_t)floor(PI * (double)module_nm + 0.5) : 0;
}

enum err gear_span_nm(int64_t module_nm, int64_t n_teeth, int64_t *ret_nm)
{
    if (!is_module(module_nm))
        return ERR_DOMAIN;
    if (n_teeth > GEAR_TEETH_MAX || n_teeth < -GEAR_TEETH_MAX)
        return ERR_RANGE;
    /* module x teeth is exact (below 2^47); the product with pi stays below 2^49, so a double's
     * step is under 0.1 nm. */
    const double teeth_nm = (double)(module_nm * (n_teeth < 0 ? -n_teeth : n_teeth));
    const int64_t span_nm = (int64_t)floor(PI * teeth_nm + 0.5);
    *ret_nm = n_teeth < 0 ? -span_nm : span_nm;
    return ERR_OK;
}

enum err gear_module_of_dp(double teeth_per_in, int64_t *ret_module_nm)
{
    if (!(teeth_per_in > 0.0 && teeth_per_in <= DBL_MAX))
        return ERR_DOMAIN;
    const double module_nm = floor(25400000.0 / teeth_per_in + 0.5);
    if (!(module_nm >= 1.0 && module_nm <= (double)GEAR_MODULE_MAX_NM))
        return ERR_DOMAIN;
    *ret_module_nm = (int64_t)module_nm;
    return ERR_OK;
}

enum err gear_teeth_of_span(int64_t module_nm, int64_t span_nm, double *ret_teeth)
{
    if (!is_module(module_nm))
        return ERR_DOMAIN;
    *ret_teeth = (double)span_nm / (PI * (double)module_nm);
    return ERR_OK;
}

enum err gear_tooth_fraction(int64_t module_nm, int64_t distance_nm, double *ret_fraction)
{
    double teeth = 0.0;
    const enum err e = gear_teeth_of_span(module_nm, distance_nm, &teeth);
    if (e != ERR_OK)
        return e;
    const double fraction = teeth - floor(teeth);
    *ret_fraction =
        fraction < 1.0 ? fraction : 0.0; /* a hair below a whole tooth rounds up to it */
    return ERR_OK;
}

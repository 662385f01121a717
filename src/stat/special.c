/* special: owns the calls of GSL's distributions and special functions, and its silence. */
#include "stat/special.h"

#include "stat/beta.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_psi.h>
#include <math.h>
#include <stdbool.h>
#include <threads.h>

static once_flag is_quiet = ONCE_FLAG_INIT;

static void turn_off(void)
{
    (void)gsl_set_error_handler_off();
}

void stat_quiet(void)
{
    call_once(&is_quiet, turn_off);
}

/* ---- distributions ------------------------------------------------------------------------- */

static bool is_inside(double p)
{
    return p > 0 && p < 1;
}

double stat_t_quantile(double p, double df)
{
    stat_quiet();
    return is_inside(p) && df > 0 ? gsl_cdf_tdist_Pinv(p, df) : (double)NAN;
}

double stat_t_two_sided(double t, double df)
{
    stat_quiet();
    return df > 0 ? fmin(1, 2 * gsl_cdf_tdist_Q(fabs(t), df)) : (double)NAN;
}

double stat_chi2_upper(double x, double df)
{
    stat_quiet();
    return x >= 0 && df > 0 ? gsl_cdf_chisq_Q(x, df) : (double)NAN;
}

double stat_chi2_quantile(double p, double df)
{
    stat_quiet();
    return is_inside(p) && df > 0 ? gsl_cdf_chisq_Pinv(p, df) : (double)NAN;
}

double stat_f_upper(double x, double df1, double df2)
{
    stat_quiet();
    return x >= 0 && df1 > 0 && df2 > 0 ? gsl_cdf_fdist_Q(x, df1, df2) : (double)NAN;
}

double stat_f_quantile(double p, double df1, double df2)
{
    stat_quiet();
    return is_inside(p) && df1 > 0 && df2 > 0 ? gsl_cdf_fdist_Pinv(p, df1, df2) : (double)NAN;
}

double stat_ln_gamma(double x)
{
    stat_quiet();
    return x > 0 ? gsl_sf_lngamma(x) : (double)NAN;
}

double stat_ln_choose(double n, double k)
{
    if (!(k >= 0 && k <= n))
        return (double)NAN;
    return k == 0 || k == n
               ? 0
               : stat_ln_gamma(n + 1) - stat_ln_gamma(k + 1) - stat_ln_gamma(n - k + 1);
}

double stat_digamma(double x)
{
    stat_quiet();
    return x > 0 ? gsl_sf_psi(x) : (double)NAN;
}

double stat_binomial_cdf(int64_t k, int64_t n, double p)
{
    if (k < 0)
        return 0;
    if (k >= n || p <= 0)
        return 1;
    return p >= 1 ? 0 : stat_beta_upper(p, (double)k + 1, (double)(n - k));
}

void stat_share_interval(int64_t k, int64_t n, double level, double *ret_low, double *ret_high)
{
    const double tail = (1 - level) / 2;
    *ret_low = k == 0 ? 0 : stat_beta_quantile(tail, (double)k, (double)(n - k) + 1);
    *ret_high = k == n ? 1 : stat_beta_quantile(1 - tail, (double)k + 1, (double)(n - k));
}

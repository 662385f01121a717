/* The incomplete beta function and what rests on it against R 4.2.2, closed forms, and itself from the other side. */
#include "stat/beta.h"

#include "stat/near.h"
#include "stat/special.h"

static void values(void)
{
    /* R 4.2.2 pbeta */
    static const struct {
        double x, a, b, want, tolerance;
    } rows[] = {{0.5, 1e8, 1e8, 0.5, 1e-10},
                {1e-5, 3, 2e5, 0.32332899725307823, 1e-12},
                {0.4999, 1e8, 1e8, 0.0023388673096875106, 1e-10},
                {0.3, 2000, 5000, 0.99565559419100813, 1e-12},
                {0.25, 1, 1, 0.25, 1e-15},
                {0.3, 2, 1, 0.09, 1e-14},
                {0.3, 1, 4, 1 - 0.7 * 0.7 * 0.7 * 0.7, 1e-14}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        near(stat_beta_cdf(rows[i].x, rows[i].a, rows[i].b), rows[i].want, rows[i].tolerance,
             "incomplete beta (R pbeta, or by hand)");
        near(stat_beta_upper(rows[i].x, rows[i].a, rows[i].b), 1 - rows[i].want, 1e-10,
             "and what is left of it");
    }
    near(stat_beta_upper(0.5002, 1e8, 1e8), 7.7086191090133495e-09, 1e-10,
         "a far tail at 10^8 (R pbeta)");
    near(stat_binomial_cdf(499000, 1000000, 0.5), 0.022804149932691052, 1e-11,
         "binomial of a million (R pbinom)");
    /* arc sine law: I_x(1/2, 1/2) = (2/pi) asin(sqrt x) */
    near(stat_beta_cdf(0.2, 0.5, 0.5), 2 / 3.14159265358979323846 * asin(sqrt(0.2)), 1e-14,
         "arc sine law");
    tap_ok(stat_beta_cdf(0, 2, 3) == 0 && stat_beta_cdf(1, 2, 3) == 1 &&
               stat_beta_upper(0, 2, 3) == 1 && stat_beta_upper(1, 2, 3) == 0,
           "both ends");
    tap_ok(isnan(stat_beta_cdf(-0.1, 2, 3)) && isnan(stat_beta_cdf(0.1, 0, 3)) &&
               isnan(stat_beta_quantile(1.1, 2, 3)),
           "outside: no number");
}

static void quantiles(void)
{
    /* R 4.2.2 qbeta */
    near(stat_beta_quantile(0.025, 1e8, 1e8 + 1), 0.49993070230920189, 1e-12,
         "quantile at 10^8 (R qbeta)");
    near(stat_beta_quantile(0.975, 1e8, 1e8 + 1), 0.50006929269079814, 1e-12,
         "and the upper one (R qbeta)");
    near(stat_beta_quantile(0.025, 0.5, 0.5), 0.0015413331334360124, 1e-11,
         "arc sine law (R qbeta)");
    tap_ok(stat_beta_quantile(0, 2, 3) == 0 && stat_beta_quantile(1, 2, 3) == 1, "both ends");
    double worst = 0;
    static const double ps[] = {1e-12, 1e-4, 0.025, 0.3, 0.5, 0.9, 0.975, 1 - 1e-9},
                        as[] = {0.05, 0.5, 1, 3.5, 40, 5e3, 1e6};
    for (size_t i = 0; i < 8; i++)
        for (size_t j = 0; j < 7; j++)
            for (size_t k = 0; k < 7; k++) {
                const double x = stat_beta_quantile(ps[i], as[j], as[k]);
                if (!(x > 1e-290 && x < 1 - 1e-9)) /* where a double of x cannot tell p */
                    continue;
                const double off = ps[i] < 0.5 ? stat_beta_cdf(x, as[j], as[k]) / ps[i] - 1
                                               : stat_beta_upper(x, as[j], as[k]) / (1 - ps[i]) - 1;
                worst = fmax(worst, fabs(off));
            }
    tap_ok(worst < 1e-6, "the quantile gives its p back (largest relative difference %.2g)", worst);
}

/* I_x(a, b) = I_x(a + 1, b) + x^a y^b/(a B(a, b)), and mirrored. */
static void identities(void)
{
    static const double params[] = {0.3, 0.9, 2.2, 7, 18, 61, 150, 430, 1200, 2900};
    double worst = 0, mirror = 0;
    for (int i = 0; i < 10; i++)
        for (int j = 0; j < 10; j++)
            for (int k = 0; k < 11; k++) {
                const double a = params[i], b = 1.1 * params[j], x = 0.02 + 0.09 * k;
                const double step =
                    exp(a * log(x) + b * log1p(-x) - lgamma(a) - lgamma(b) + lgamma(a + b)) / a;
                worst =
                    fmax(worst, fabs(stat_beta_cdf(x, a, b) - stat_beta_cdf(x, a + 1, b) - step));
                mirror = fmax(mirror, fabs(stat_beta_cdf(x, a, b) - stat_beta_upper(1 - x, b, a)));
            }
    tap_ok(worst < 2e-12, "one more in a takes the term off (largest difference %.2g)", worst);
    tap_ok(mirror < 2e-12, "mirrored (largest difference %.2g)", mirror);
}

int main(void)
{
    values();
    quantiles();
    identities();
    return tap_done();
}

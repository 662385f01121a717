/* Distributions against R 4.2.2 (values of its qt, qchisq, binom.test, pbinom) and published tables. */
#include "stat/near.h"
#include "stat/special.h"

static void quantiles(void)
{
    /* R 4.2.2 qt(0.975, df), qt(0.995, 16) */
    static const struct {
        double p, df, want;
    } t[] = {{0.975, 1, 12.706204736174694}, {0.975, 2, 4.302652729749462},
             {0.975, 5, 2.570581835636314},  {0.975, 10, 2.228138851986274},
             {0.975, 16, 2.119905299221254}, {0.975, 50, 2.008559112100761},
             {0.995, 16, 2.920781622425099}};
    /* R 4.2.2 qchisq */
    static const struct {
        double p, df, want;
    } c[] = {{.90, 1, 2.70554345409542},  {.95, 3, 7.81472790325118},
             {.99, 7, 18.4753069065824},  {.999, 9, 27.8771648712566},
             {.95, 15, 24.9957901397286}, {.999, 31, 61.0983060810581}};
    for (size_t i = 0; i < sizeof t / sizeof *t; i++)
        near(stat_t_quantile(t[i].p, t[i].df), t[i].want, 1e-9, "Student's t quantile (R qt)");
    for (size_t i = 0; i < sizeof c / sizeof *c; i++) {
        near(stat_chi2_quantile(c[i].p, c[i].df), c[i].want, 1e-9,
             "chi-square quantile (R qchisq)");
        near(stat_chi2_upper(c[i].want, c[i].df), 1 - c[i].p, 1e-9, "and its tail");
    }
    near(stat_chi2_upper(55.5, 7), 1.186702279107589e-09, 1e-9, "far tail (R chisq.test)");
    near(stat_chi2_upper(24.5, 9), 0.003577030926761579, 1e-9, "nearer tail (R chisq.test)");
    near(stat_f_upper(0.43372, 18, 60), 0.97411, 2e-5,
         "F tail, printed digits (R aov, gauge study)");
    near(stat_t_two_sided(2.228138851986274, 10), 0.05, 1e-9, "two-sided t");
    near(stat_t_two_sided(-2.228138851986274, 10), 0.05, 1e-9, "two-sided t, other side");
}

static void shares(void)
{
    /* R 4.2.2 binom.test */
    static const struct {
        int64_t k, n;
        double low, high;
    } rows[] = {{3, 52, 0.0120593180267384, 0.159473358638591},
                {0, 20, 0, 0.168433470983085},
                {1, 32, 0.000790868597952558, 0.162170994181511}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double low = 2, high = 2;
        stat_share_interval(rows[i].k, rows[i].n, 0.95, &low, &high);
        near(low, rows[i].low, 1e-9, "Clopper-Pearson, low end (R binom.test)");
        near(high, rows[i].high, 1e-9, "Clopper-Pearson, high end");
    }
    double low = 2, high = 2;
    stat_share_interval(20, 20, 0.95, &low, &high);
    near(low, 1 - 0.168433470983085, 1e-9, "all of them: the mirror of none");
    near(high, 1, 0, "and certainly no more than all");
    /* R 4.2.2 pbinom */
    near(stat_binomial_cdf(0, 13, 0.01), 0.877521022998968, 1e-12, "pbinom(0,13,.01)");
    near(stat_binomial_cdf(3, 52, 0.05), 0.738317410797, 1e-11, "pbinom(3,52,.05)");
    near(stat_binomial_cdf(2, 80, 0.05), 0.230620504916492, 1e-12, "pbinom(2,80,.05)");
    near(stat_binomial_cdf(7, 125, 0.10), 0.060052776927, 1e-10, "pbinom(7,125,.1)");
    near(stat_binomial_cdf(-1, 5, 0.5), 0, 0, "fewer than none");
    near(stat_binomial_cdf(5, 5, 0.5), 1, 0, "at most all");
}

static void refusals(void)
{
    tap_ok(isnan(stat_t_quantile(1.5, 3)) && isnan(stat_t_quantile(0.5, 0)),
           "t: outside is no number, and no abort");
    tap_ok(isnan(stat_chi2_upper(-1, 3)) && isnan(stat_chi2_quantile(0, 3)),
           "chi-square: likewise");
    tap_ok(isnan(stat_f_upper(1, 0, 3)) && isnan(stat_f_quantile(1, 2, 3)), "F: likewise");
    tap_ok(isnan(stat_ln_gamma(0)) && isnan(stat_digamma(-1)) && isnan(stat_ln_choose(2, 3)),
           "gamma: likewise");
    near(stat_ln_choose(5, 2), log(10), 1e-14, "5 choose 2 is 10 (by hand)");
    near(stat_digamma(1), -0.57721566490153286, 1e-14,
         "digamma(1) is minus Euler's constant (from memory)");
}

int main(void)
{
    quantiles();
    shares();
    refusals();
    return tap_done();
}

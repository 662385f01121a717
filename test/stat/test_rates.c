/* Values: R 4.2.2, poisson.test(c(n1, n2), c(t1, t2)), and binom.test and poisson.test for one rate. The first row is R's own
 * documented example (Fay 2010). */
#include "stat/rates.h"

#include "stat/near.h"

static void row(int64_t n1, double t1, int64_t n2, double t2, double ratio, double low, double high,
                double p)
{
    struct rates r = {0};
    char what[120];
    snprintf(what, sizeof what, "%d in %g against %d in %g (R poisson.test)", (int)n1, t1, (int)n2,
             t2);
    tap_ok(rates_compare(n1, t1, n2, t2, 0.95, &r), "%s", what);
    if (isinf(high))
        tap_ok(isinf(r.high) && isinf(r.ratio), "%s: no upper end", what);
    else {
        near(r.high, high, 1e-8, what);
        near(r.ratio, ratio, 1e-12, what);
    }
    near(r.low, low, 1e-8, what);
    near(r.p, p, 1e-8, what);
}

/* How often the interval holds the truth, exactly: every outcome of two Poisson counts, weighted. */
static void cover(double m1, double m2)
{
    double held = 0, all = 0;
    for (int i = 0; i < 60; i++)
        for (int j = 0; j < 60; j++) {
            struct rates r = {0};
            const double w =
                exp(i * log(m1) - m1 - lgamma(i + 1.) + j * log(m2) - m2 - lgamma(j + 1.));
            all += w;
            if (!rates_compare(i, 1, j, 1, 0.95, &r) || (r.low <= m1 / m2 && m1 / m2 <= r.high))
                held += w;
        }
    tap_ok(
        all > 1 - 1e-9 && held >= 0.95,
        "means %g and %g: the interval of 95 %% holds the truth in %.2f %% (every outcome counted)",
        m1, m2, 100 * held);
}

int main(void)
{
    struct rates r = {0};
    double low = 0, high = 0;
    row(11, 800, 21, 3011, 1.971488095238095, 0.8584264033916392, 4.2772659436540712,
        0.07966863303332952);
    row(3, 1200, 17, 900, 0.1323529411764706, 0.02485017116766397, 0.45758717660942505,
        0.0001478314184557759);
    row(0, 100, 5, 100, 0, 0, 1.091279105182546, 0.0625);
    row(4, 10, 0, 20, (double)INFINITY, 1.320248038720187, (double)INFINITY, 0.01234567901234568);
    row(5, 100, 5, 100, 1, 0.230142468938108, 4.345134579523997, 1);
    tap_ok(!rates_compare(0, 1, 0, 1, 0.95, &r), "nothing failed: no ratio");
    rates_bounds(0, 100, 0.95, &low, &high);
    tap_ok(low == 0, "none in 100: from 0");
    near(high, 0.036888794541139363, 1e-12, "none in 100: up to -log(0.025)/100 (by hand)");
    rates_bounds(10, 1, 0.95, &low, &high);
    near(low, 4.79538869613243, 1e-12, "ten: 4.795389 (R poisson.test(10))");
    near(high, 18.39035604201778, 1e-12, "ten: 18.39036 (R poisson.test(10))");
    cover(3, 8);
    cover(1, 1);
    cover(12, 4);
    return tap_done();
}

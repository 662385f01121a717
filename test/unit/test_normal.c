/* Rows for core/normal. Expected digits: mpmath 1.3.0 at 40 digits (erfc, and findroot on it),
 * unless a row names another source. Tolerances are relative: 4e-15 for the cdf and its kin, where
 * the header promises 1e-14 and about 18 roundings are in the sum; 1e-12 in the tail beyond 8, as
 * promised. */
#include "core/normal.h"
#include "tap.h"

#include <math.h>

static bool is_near(double got, double want, double relative)
{
    return fabs(got - want) <= relative * fabs(want);
}

static void cdf_rows(void)
{
    static const struct {
        double z, want, tolerance;
        const char *source;
    } rows[] = {
        {-37.0, 5.7255712225245768227e-300, 1e-12, "mpmath"},
        {-20.0, 2.7536241186062336951e-89, 1e-12, "mpmath"},
        {-10.0, 7.619853024160526066e-24, 1e-12, "mpmath"},
        {-8.0, 6.2209605742717841235e-16, 4e-15, "mpmath"},
        {-6.0, 9.865876450376981407e-10, 4e-15, "mpmath"},
        {-5.0, 2.8665157187919391167e-7, 4e-15, "mpmath"},
        {-3.0, 0.0013498980316300945267, 4e-15, "mpmath"},
        {-2.0, 0.0227501319481792072, 4e-15, "mpmath"},
        {-1.5, 0.066807201268858066004, 4e-15, "mpmath"},
        {-1.0, 0.15865525393145705141, 4e-15, "mpmath"},
        {-0.5, 0.30853753872598689636, 4e-15, "mpmath"},
        {-0.001, 0.49960105778608893742, 4e-15, "mpmath"},
        {0.0, 0.5, 0.0, "symmetry, exact"},
        {0.1, 0.53982783727702898147, 4e-15, "mpmath"},
        {0.5, 0.69146246127401310364, 4e-15, "mpmath"},
        {1.0, 0.84134474606854294859, 4e-15, "mpmath"},
        {1.25, 0.89435022633314474231, 4e-15, "mpmath"},
        {-0.6, 0.27425311775007358769, 4e-15, "mpmath, where the two series meet"},
        {0.5999999, 0.72574684892746514099, 4e-15, "mpmath, just before"},
        {1.4, 0.9192433407662289, 4e-15, "scipy 1.10.1 norm.cdf; JCGM 106 Zener case prints 0.92"},
        {2.0, 0.9772498680518207928, 4e-15, "mpmath"},
        {3.0, 0.99865010196836990547, 4e-15, "mpmath"},
        {5.0, 0.99999971334842812081, 4e-15, "mpmath"},
        {8.0, 0.9999999999999993779, 4e-15, "mpmath"},
        {1.96, 0.9750021048517795, 4e-15,
         "from memory: 0.9750021 in handbook tables; more digits from mpmath"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double got = normal_cdf(rows[i].z);
        if (!tap_ok(is_near(got, rows[i].want, rows[i].tolerance), "cdf(%g) = %.17g (%s)",
                    rows[i].z, rows[i].want, rows[i].source))
            tap_note("got %.17g", got);
    }
    tap_ok(normal_cdf(-(double)INFINITY) == 0.0, "cdf(-inf) = 0 (definition)");
    tap_ok(normal_cdf((double)INFINITY) == 1.0, "cdf(inf) = 1 (definition)");
    tap_ok(normal_cdf(-1e300) == 0.0 && normal_cdf(1e300) == 1.0, "huge arguments (definition)");
    const double nan_got = normal_cdf((double)NAN);
    tap_ok(nan_got != nan_got, "cdf(NaN) is NaN (header)");
}

static void between_rows(void)
{
    static const struct {
        double a, b, want;
        const char *why;
    } rows[] = {
        {8.0, 8.5, 6.12616522604975094e-16, "upper tail without 1 - 1"},
        {-8.5, -8.0, 6.12616522604975094e-16, "lower tail"},
        {3.0, 3.0000001, 4.4318477399077371754e-10, "narrow"},
        {-1e-12, 1e-12, 7.9788456080286533983e-13, "narrow about 0"},
        {-1.0, 2.0, 0.81859461412036374138, "both sides"},
        {-0.6, 1.5, 0.6589396809810684,
         "JCGM 106 oil case as printed, scipy 1.10.1; document 0.66"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double got = normal_between(rows[i].a, rows[i].b);
        if (!tap_ok(is_near(got, rows[i].want, 4e-15), "P(%g < Z <= %.9g) = %.17g (%s; mpmath)",
                    rows[i].a, rows[i].b, rows[i].want, rows[i].why))
            tap_note("got %.17g", got);
    }
    tap_ok(is_near(normal_between(37.0, 38.0), 5.7255712225245765341e-300, 1e-12),
           "P(37 < Z <= 38) (mpmath)");
    tap_ok(normal_between(1.0, 1.0) == 0.0 && normal_between(2.0, 1.0) == 0.0,
           "an empty interval holds nothing (header)");
    tap_ok(normal_between(-(double)INFINITY, (double)INFINITY) == 1.0,
           "the whole line (definition)");
    const double nan_got = normal_between((double)NAN, 1.0);
    tap_ok(nan_got != nan_got, "between(NaN, 1) is NaN (header)");
}

static void quantile_rows(void)
{
    static const struct {
        double p, want;
        const char *source;
    } rows[] = {
        {1e-300, -37.047096299361199237, "mpmath"},
        {1e-20, -9.2623400897984075796, "mpmath"},
        {1e-9, -5.9978070150076868614, "mpmath"},
        {0.001, -3.0902323061678135354, "mpmath"},
        {0.01, -2.3263478740408410931, "mpmath"},
        {0.05, -1.644853626951472688, "mpmath"},
        {0.1, -1.2815515655446004353, "mpmath"},
        {0.25, -0.6744897501960817432, "mpmath"},
        {0.3, -0.52440051270804081597, "mpmath"},
        {0.4999999999, -2.5066284820303539022e-10, "mpmath"},
        {0.95, 1.6448536269514722, "scipy 1.10.1 norm.ppf"},
        {0.99, 2.3263478740408408, "scipy 1.10.1 norm.ppf"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double got = normal_quantile(rows[i].p);
        if (!tap_ok(is_near(got, rows[i].want, 4e-15), "quantile(%g) = %.17g (%s)", rows[i].p,
                    rows[i].want, rows[i].source))
            tap_note("got %.17g", got);
    }
    tap_ok(normal_quantile(0.5) == 0.0, "quantile(0.5) is exactly 0 (symmetry)");
    static const double bad[] = {0.0, 1.0, -0.1, 1.1};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        const double got = normal_quantile(bad[i]);
        tap_ok(got != got, "quantile(%g) is NaN (header)", bad[i]);
    }
    const double nan_got = normal_quantile((double)NAN);
    tap_ok(nan_got != nan_got, "quantile(NaN) is NaN (header)");
}

static void density_rows(void)
{
    static const double rows[][2] = {{0.0, 0.39894228040143267794},
                                     {1.0, 0.2419707245191433498},
                                     {5.0, 1.4867195147342977079e-6},
                                     {20.0, 5.5209483621597631896e-88}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        tap_ok(is_near(normal_density(rows[i][0]), rows[i][1], 4e-15),
               "density(%g) = %.17g (mpmath)", rows[i][0], rows[i][1]);
    tap_ok(normal_density((double)INFINITY) == 0.0, "density(inf) = 0 (definition)");
    /* subnormal: its own step is 5e-324, 5e-10 of the value */
    tap_ok(is_near(normal_density(38.0), 1.097221052007592958e-314, 1e-9), "density(38) (mpmath)");
}

static void properties(void)
{
    /* quantile(cdf(z)) = z: an error of half a unit in the last place of cdf is worth 1.1e-16
     * cdf/density in z. */
    double worst_round_trip = 0.0, worst_symmetry = 0.0;
    bool is_rising = true;
    double last = 0.0;
    for (int i = -3700; i <= 800; i++) {
        const double z = i / 100.0, p = normal_cdf(z);
        const double allowed = 4e-16 * (fabs(z) + 1.0) + 4e-16 * p / normal_density(z);
        const double off = fabs(normal_quantile(p) - z) / allowed;
        if (z < 7.5 && off > worst_round_trip)
            worst_round_trip = off;
        if (z > -8.0 && fabs(p + normal_cdf(-z) - 1.0) > worst_symmetry)
            worst_symmetry = fabs(p + normal_cdf(-z) - 1.0);
        is_rising = is_rising && p >= last;
        last = p;
    }
    tap_note("worst round trip: %.2f of what rounding of p allows", worst_round_trip);
    tap_ok(worst_round_trip < 4.0,
           "quantile(cdf(z)) = z for z in -37..7.5 in steps of 0.01 (identity)");
    tap_ok(worst_symmetry < 4e-16, "cdf(z) + cdf(-z) = 1 (symmetry)");
    tap_ok(is_rising, "cdf never falls in steps of 0.01 (definition)");
    double worst_split = 0.0;
    for (int i = -60; i < 60; i++) {
        const double a = i / 10.0, whole = normal_between(a, a + 1.0);
        const double parts = normal_between(a, a + 0.004) + normal_between(a + 0.004, a + 1.0);
        worst_split = fmax(worst_split, fabs(parts - whole) / whole);
    }
    tap_ok(worst_split < 1e-14,
           "two parts of an interval add up, narrow and wide formula together (identity)");
}

/* A change of these bits means that phone and desk may part ways; the same list is compared
 * natively and in WebAssembly elsewhere. Here: each call gives the same bits twice. */
static void determinism(void)
{
    bool is_same = true;
    for (int i = -100; i <= 100; i++) {
        is_same = is_same && normal_cdf(i * 0.0731) == normal_cdf(i * 0.0731);
    }
    tap_ok(is_same, "no hidden state (header)");
}

int main(void)
{
    cdf_rows();
    between_rows();
    quantile_rows();
    density_rows();
    properties();
    determinism();
    return tap_done();
}

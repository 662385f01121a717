/* Values: R 4.2.2, package survival 3.5-3, survreg(dist = "weibull", rel.tolerance = 1e-14), unless a row names another source; the data
 * stand here. se are of log scale and log shape: survreg's intercept and log(scale). Late entries: R nlm. Mixtures: R nlm on the
 * likelihood written out, slope below 1e-5. */
#include "stat/weibull.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MAX = 64 };
/* R nlm, the mixture's likelihood written out: share, scale, shape, log-likelihood; without and with late entries. */
#define CURE1_P  0.597251757840016
#define CURE1_M  18.814761176417772
#define CURE1_K  1.472168092608015
#define CURE1_L  -57.777599390681594
#define CURE2_P  0.6575575710041
#define CURE2_M  15.7966240004190
#define CURE2_K  1.2833853170300
#define CURE2_L  -55.3777932351674
#define COUNT(x) (sizeof(x) / sizeof *(x))

static bool is_near(double a, double b, double tolerance)
{
    return fabs(a - b) <= tolerance * fmax(1, fabs(b));
}

/* A negative time was only watched to. */
static size_t to_terms(const double *t, const double *entry, size_t n, struct weibull_term *terms)
{
    size_t n_terms = 0;
    for (size_t i = 0; i < n; i++) {
        terms[n_terms++] = (struct weibull_term){
            .log_t = log(fabs(t[i])), .events = t[i] > 0, .censored = t[i] < 0};
        if (entry != NULL && entry[i] > 0)
            terms[n_terms++] = (struct weibull_term){.log_t = log(entry[i]), .entered = 1};
    }
    return n_terms;
}

/* ---- published and R's ------------------------------------------------------------------------- */

static const double maintained[] = {9, 13, -13, 18, 23, -28, 31, 34, -45, 48, -161};
static const double not_maintained[] = {5, 5, 8, 8, 12, -16, 23, 27, 30, 33, 43, 45};
static const double all_aml[] = {9, 13, -13, 18, 23,  -28, 31, 34, -45, 48, -161, 5,
                                 5, 8,  8,   12, -16, 23,  27, 30, 33,  43, 45};
static const double ovarian[] = {59,    115,   156,   -421, 431,  -448, 464,  475,   -477,
                                 563,   638,   -744,  -769, -770, -803, -855, -1040, -1106,
                                 -1129, -1206, -1227, 268,  329,  353,  365,  -377};
static const double nist[] = {54,   187,  216,  240,  244,  335,  361,  373,  375,  386,
                              -500, -500, -500, -500, -500, -500, -500, -500, -500, -500};
static const double late_end[] = {12, -20, 31, 18, -25, 40, 22, 15, -9, 33};
static const double late_entry[] = {0, 0, 0, 5, 8, 10, 12, 0, 3, 6};

static const struct {
    const char *name;
    const double *t, *entry;
    size_t n;
    double intercept, shape, scale, loglik, se_scale, se_shape, cov; /* 0: not given */
} fits[] = {
    {"aml maintained", maintained, NULL, COUNT(maintained), 4.099711629967163, 1.03185424169698,
     60.3228897752720, -35.7039563146798, 0.366481846362855, 0.277107621035668,
     0.00323048547790908},
    {"aml not maintained", not_maintained, NULL, COUNT(not_maintained), 3.222199809833659,
     1.57362854764939, 25.0832378882406, -44.1442121200272, 0.198314464015289, 0.244072975061741,
     -0.0124861031139416},
    {"aml, all 23", all_aml, NULL, COUNT(all_aml), 3.642490194103994, 1.09660908580279,
     38.1868109957284, -83.1786692328052, 0.217076496501385, 0.169484968685119,
     -0.00515227943908847},
    {"ovarian", ovarian, NULL, COUNT(ovarian), 7.111038071796298, 1.10805973957347,
     1225.41895892857, -97.9539010471308, 0.292727955912240, 0.253604701389721, 0.0338516032646316},
    {"NIST/SEMATECH e-Handbook 8.4.1.3, 20 units", nist, NULL, COUNT(nist), 6.407750165115356,
     1.72079726080136, 606.527558003572, -75.1346181644749, 0.205943908987726, 0.291812763149642,
     0.0271278424006335},
    {"late entries", late_end, late_entry, COUNT(late_end), 0, 2.93687146429567, 29.0218640814873,
     -26.4876001646604, 0, 0, 0},
};

static void test_fits(void)
{
    struct weibull_term terms[MAX];
    for (size_t i = 0; i < COUNT(fits); i++) {
        struct weibull w = {.scale = 0};
        const size_t n = to_terms(fits[i].t, fits[i].entry, fits[i].n, terms);
        if (!tap_ok(weibull_fit(terms, n, &w) == WEIBULL_FITTED, "%s: fits", fits[i].name))
            continue;
        tap_ok(is_near(w.shape, fits[i].shape, 1e-6) && is_near(w.scale, fits[i].scale, 1e-6),
               "%s: shape %.6f, scale %.4f (R)", fits[i].name, fits[i].shape, fits[i].scale);
        tap_ok(is_near(w.loglik, fits[i].loglik, 1e-8), "%s: log-likelihood %.6f (R)", fits[i].name,
               fits[i].loglik);
        if (fits[i].se_scale == 0)
            continue;
        tap_ok(is_near(w.log_scale, fits[i].intercept, 1e-6) &&
                   is_near(w.se_log_scale, fits[i].se_scale, 1e-5) &&
                   is_near(w.se_log_shape, fits[i].se_shape, 1e-5),
               "%s: standard errors %.6f and %.6f (R)", fits[i].name, fits[i].se_scale,
               fits[i].se_shape);
        /* log shape is the negative of survreg's log(scale) */
        tap_ok(is_near(-w.cov[0][1], fits[i].cov, 1e-5), "%s: their covariance (R)", fits[i].name);
        tap_note("%s: found shape %.12f scale %.10f loglik %.12f in %d steps", fits[i].name,
                 w.shape, w.scale, w.loglik, w.n_steps);
    }
}

static void test_published(void)
{
    struct weibull_term terms[MAX];
    struct weibull w = {.scale = 0};
    const enum weibull_outcome o = weibull_fit(terms, to_terms(nist, NULL, COUNT(nist), terms), &w);
    tap_ok(o == WEIBULL_FITTED && fabs(w.shape - 1.7207) < 1e-4 && fabs(w.scale - 606.5280) < 1e-3,
           "shape 1.7207, scale 606.5280 (NIST/SEMATECH e-Handbook 8.4.1.3, as quoted by a public "
           "data set)");
    tap_ok(is_near(w.exponential_scale, 777.1, 1e-12) &&
               is_near(w.exponential_loglik, -76.555690422152, 1e-10),
           "constant rate: 7771/10 = 777.1, log-likelihood -76.5557 (by hand; R)");
}

/* ---- the likelihood's own intervals ------------------------------------------------------------- */

/* The log-likelihood term by term, as it is written down. */
static double plainly(const struct weibull_term *terms, size_t n, double m, double log_k)
{
    double sum = 0;
    const double k = exp(log_k);
    for (size_t i = 0; i < n; i++) {
        const double z = k * (terms[i].log_t - m);
        sum += terms[i].events * (log_k + z - terms[i].log_t) -
               (terms[i].events + terms[i].censored - terms[i].entered) * exp(z);
    }
    return sum;
}

/* Its greatest with one of the two held, by cutting the interval in three. */
static double best_with(const struct weibull_term *terms, size_t n, bool is_scale_held, double held,
                        double low, double high)
{
    for (int i = 0; i < 200; i++) {
        const double a = low + (high - low) / 3, b = high - (high - low) / 3;
        const double at_a = is_scale_held ? plainly(terms, n, held, a) : plainly(terms, n, a, held);
        const double at_b = is_scale_held ? plainly(terms, n, held, b) : plainly(terms, n, b, held);
        if (at_a < at_b)
            low = a;
        else
            high = b;
    }
    return is_scale_held ? plainly(terms, n, held, low) : plainly(terms, n, low, held);
}

static void test_ends(void)
{
    const double z = 1.959963984540054; /* normal, 97.5 % */
    struct weibull_term terms[MAX];
    for (size_t i = 0; i < COUNT(fits); i++) {
        struct weibull w = {.scale = 0};
        struct weibull_ends e;
        const size_t n = to_terms(fits[i].t, fits[i].entry, fits[i].n, terms);
        double worst = 0;
        if (weibull_fit(terms, n, &w) != WEIBULL_FITTED)
            continue;
        weibull_find_ends(terms, n, &w, z, &e);
        const double scales[2] = {e.log_scale_low, e.log_scale_high},
                     shapes[2] = {e.log_shape_low, e.log_shape_high};
        for (int k = 0; k < 2; k++) {
            const double by_scale =
                best_with(terms, n, true, scales[k], w.log_shape - 3, w.log_shape + 2);
            const double by_shape =
                best_with(terms, n, false, shapes[k], w.log_scale - 2, w.log_scale + 4);
            worst = fmax(worst, fabs(2 * (w.loglik - by_scale) - z * z));
            worst = fmax(worst, fabs(2 * (w.loglik - by_shape) - z * z));
        }
        tap_ok(
            e.has_scale_low && e.has_scale_high && e.has_shape_low && e.has_shape_high &&
                scales[0] < w.log_scale && w.log_scale < scales[1] && shapes[0] < w.log_shape &&
                w.log_shape < shapes[1] && worst < 1e-6,
            "%s: at the four ends the likelihood, the other parameter at its best, is z^2/2 below "
            "the top (by its definition; off by %.1e)",
            fits[i].name, worst);
    }
}

/* ---- no fit ------------------------------------------------------------------------------------ */

static const struct {
    const char *name;
    double t[4], entry[4];
    size_t n;
    enum weibull_outcome outcome;
} odd[] = {
    {"nothing failed", {-3, -4, -5}, {0}, 3, WEIBULL_NO_EVENT},
    {"no row", {0}, {0}, 0, WEIBULL_NO_EVENT},
    {"all failed at one time", {7, 7, 7}, {0}, 3, WEIBULL_STEEP},
    {"one failed, at the latest time", {-3, -4, 5}, {0}, 3, WEIBULL_STEEP},
    {"one failed, others watched longer", {3, -4, -5}, {0}, 3, WEIBULL_FITTED},
    {"two ties and one longer", {3, 3, -8}, {0}, 3, WEIBULL_FITTED},
    {"at once after late entries", {11, 11, -40, -90}, {10, 10.9, 10, 10}, 4, WEIBULL_SHALLOW},
    {"times of 1e-9 and 1e9", {1e-9, 1e9, -1e9}, {0}, 3, WEIBULL_FITTED},
};

static void test_odd(void)
{
    struct weibull_term terms[MAX];
    for (size_t i = 0; i < COUNT(odd); i++) {
        struct weibull w = {.scale = 0};
        const enum weibull_outcome o =
            weibull_fit(terms, to_terms(odd[i].t, odd[i].entry, odd[i].n, terms), &w);
        const bool is_finite = o != WEIBULL_FITTED || (isfinite(w.scale) && isfinite(w.shape) &&
                                                       isfinite(w.loglik) && w.se_log_shape > 0);
        if (!tap_ok(o == odd[i].outcome && is_finite, "%s: %s", odd[i].name,
                    o == WEIBULL_FITTED ? "a finite fit" : weibull_outcome_text(odd[i].outcome)))
            tap_note("found outcome %d, shape %g, scale %g", (int)o, w.shape, w.scale);
    }
}

/* ---- further failures -------------------------------------------------------------------------- */

static void test_further(void)
{
    const double m = log(606.5280), k = log(1.7207);
    const double s1 = exp(-pow(500 / 606.5280, 1.7207)), s2 = exp(-pow(600 / 606.5280, 1.7207));
    tap_ok(is_near(weibull_survival(log(500), m, k), s1, 1e-12), "survival at 500 (formula, pow)");
    tap_ok(is_near(weibull_further(500, 100, m, k), 1 - s2 / s1, 1e-12),
           "of those whole at 500, the share failing within 100 more (1 - S(600)/S(500))");
    tap_ok(weibull_further(0, 0, m, k) == 0 && weibull_further(500, 0, m, k) == 0,
           "within no time none fails");
    tap_ok(is_near(weibull_further(0, 100, m, 0), 1 - exp(-100 / 606.5280), 1e-12),
           "shape 1: the exponential's share");
}

/* ---- the mixture ------------------------------------------------------------------------------- */

static const double come[] = {3,  5,   6,   8,   9,   11,  14,  18,  21,  25, 33,
                              40, -60, -60, -60, -60, -60, -60, -60, -30, -20};
static const double come_entry[] = {0,  0, 2, 0,  4,  0, 10, 0, 3, 0, 20,
                                    15, 0, 0, 10, 10, 0, 5,  0, 0, 12};

static void test_slopes(void)
{
    struct weibull_term terms[MAX];
    const size_t n = to_terms(come, come_entry, COUNT(come), terms);
    const double at[CURE_PARAMETERS] = {0.4, 2.9, 0.2}, h = 1e-5;
    double slope[CURE_PARAMETERS], curve[CURE_PARAMETERS][CURE_PARAMETERS];
    cure_loglik(terms, n, at, slope, curve);
    for (int i = 0; i < CURE_PARAMETERS; i++) {
        double up[CURE_PARAMETERS], down[CURE_PARAMETERS], su[CURE_PARAMETERS], sd[CURE_PARAMETERS];
        memcpy(up, at, sizeof at);
        memcpy(down, at, sizeof at);
        up[i] += h;
        down[i] -= h;
        const double rise =
            (cure_loglik(terms, n, up, su, NULL) - cure_loglik(terms, n, down, sd, NULL)) / (2 * h);
        tap_ok(is_near(slope[i], rise, 1e-7), "mixture: slope %d agrees with a central difference",
               i);
        bool is_good = true;
        for (int j = 0; j < CURE_PARAMETERS; j++)
            is_good &= is_near(curve[i][j], (su[j] - sd[j]) / (2 * h), 1e-6);
        tap_ok(is_good, "mixture: curvature %d agrees with central differences", i);
    }
}

static void test_mixture(void)
{
    struct weibull_term terms[MAX];
    struct weibull plain = {.scale = 0};
    struct cure c = {.share = 0};
    size_t n = to_terms(come, NULL, COUNT(come), terms);
    tap_ok(weibull_fit(terms, n, &plain) == WEIBULL_FITTED &&
               cure_fit(terms, n, &plain, &c) == WEIBULL_FITTED && c.is_bounded,
           "mixture: fits");
    tap_ok(is_near(c.share, CURE1_P, 1e-4) && is_near(c.scale, CURE1_M, 1e-4) &&
               is_near(c.shape, CURE1_K, 1e-4) && is_near(c.loglik, CURE1_L, 1e-9),
           "mixture: share %.5f, scale %.4f, shape %.5f, log-likelihood %.6f (R nlm)", CURE1_P,
           CURE1_M, CURE1_K, CURE1_L);
    tap_note("found %.10f %.10f %.10f %.12f", c.share, c.scale, c.shape, c.loglik);
    n = to_terms(come, come_entry, COUNT(come), terms);
    tap_ok(cure_fit(terms, n, NULL, &c) == WEIBULL_FITTED && is_near(c.share, CURE2_P, 1e-4) &&
               is_near(c.scale, CURE2_M, 1e-4) && is_near(c.shape, CURE2_K, 1e-4) &&
               is_near(c.loglik, CURE2_L, 1e-9),
           "mixture with late entries: share %.5f (R nlm)", CURE2_P);
    tap_note("found %.10f %.10f %.10f %.12f", c.share, c.scale, c.shape, c.loglik);
    n = to_terms(not_maintained, NULL, COUNT(not_maintained), terms);
    tap_ok(weibull_fit(terms, n, &plain) == WEIBULL_FITTED &&
               cure_fit(terms, n, &plain, &c) == WEIBULL_FITTED && !c.is_bounded && c.share == 1 &&
               c.loglik == plain.loglik,
           "everyone failed: no share of never-failing units is made up");
    n = to_terms(odd[0].t, NULL, 3, terms);
    tap_ok(cure_fit(terms, n, NULL, &c) == WEIBULL_NO_EVENT, "mixture: nothing failed, no fit");
}

int main(void)
{
    test_fits();
    test_published();
    test_ends();
    test_odd();
    test_further();
    test_slopes();
    test_mixture();
    return tap_done();
}

/* Stock lengths against all subsets and a plain dynamic program; demand against closed forms and the newsvendor's worked
 * cases; the correction for many tests
 * against its paper's example. */
#include "stat/assort.h"
#include "stat/demand.h"
#include "stat/many.h"
#include "stat/near.h"

#include <stdlib.h>

enum { MOST = 400 };

static unsigned state = 7;

static unsigned next(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((unsigned long long)state * below) >> 32);
}

static void table(void)
{
    /* Pieces (inches: number) 22:5 25:8 28:12 31:7 34:9 37:4 40:6; all subsets in Python. */
    static const int64_t sizes[7] = {22, 25, 28, 31, 34, 37, 40}, count[7] = {5, 8, 12, 7, 9, 4, 6};
    static const struct {
        size_t k;
        int64_t waste;
        int64_t set[4];
    } rows[] = {
        {1, 483, {40}}, {2, 183, {28, 40}}, {3, 87, {28, 34, 40}}, {4, 48, {25, 28, 34, 40}}};
    for (size_t i = 0; i < 4; i++) {
        size_t chosen[8], n = 0;
        int64_t waste = -1;
        bool is_set =
            stat_assort(sizes, count, 7, rows[i].k, NULL, NULL, chosen, &n, &waste) == ERR_OK &&
            n == rows[i].k;
        for (size_t j = 0; is_set && j < n; j++)
            is_set = sizes[chosen[j]] == rows[i].set[j];
        tap_ok(is_set && waste == rows[i].waste, "%zu of seven lengths: waste %lld and the set",
               rows[i].k, (long long)rows[i].waste);
    }
    size_t chosen[8], n = 0;
    int64_t waste = -1;
    tap_ok(stat_assort(sizes, count, 7, 8, NULL, NULL, chosen, &n, &waste) == ERR_OK && n == 7 &&
               waste == 0,
           "more than there are: all, no waste");
    tap_ok(stat_assort(sizes, count, 0, 1, NULL, NULL, chosen, &n, &waste) == ERR_DOMAIN,
           "nothing needed is refused");
    const int64_t huge[2] = {INT64_MAX / 2, INT64_MAX - 1}, many[2] = {3, 1};
    tap_ok(stat_assort(huge, many, 2, 1, NULL, NULL, chosen, &n, &waste) == ERR_RANGE,
           "a total that does not fit is an error");
}

static size_t make(int64_t *sizes, int64_t *count, size_t m, unsigned gap)
{
    int64_t size = 0;
    for (size_t i = 0; i < m; i++) {
        size += 1 + next(gap);
        sizes[i] = size;
        count[i] = 1 + next(9);
    }
    return m;
}

static int64_t waste_of(const int64_t *sizes, const int64_t *count, size_t m, unsigned set)
{
    int64_t waste = 0;
    for (size_t i = 0; i < m; i++) {
        size_t j = i;
        while (!(set >> j & 1))
            j++;
        waste += (sizes[j] - sizes[i]) * count[i];
    }
    return waste;
}

/* All subsets that hold the largest. */
static void subsets(void)
{
    size_t n_off = 0;
    for (int trial = 0; trial < 500; trial++) {
        int64_t sizes[12], count[12], least = INT64_MAX, waste = -1;
        const size_t m = make(sizes, count, 1 + next(12), 20), k = 1 + next((unsigned)m);
        size_t chosen[12], n = 0;
        for (unsigned set = 1u << (m - 1); set < 1u << m; set++)
            if ((size_t)__builtin_popcount(set) == k) {
                const int64_t w = waste_of(sizes, count, m, set);
                least = w < least ? w : least;
            }
        unsigned mine = 0;
        const bool is_good =
            stat_assort(sizes, count, m, k, NULL, NULL, chosen, &n, &waste) == ERR_OK && n == k;
        for (size_t i = 0; i < n; i++)
            mine |= 1u << chosen[i];
        n_off += !is_good || waste != least || waste_of(sizes, count, m, mine) != waste;
    }
    tap_ok(n_off == 0, "500 random needs against all subsets (%zu differ)", n_off);
}

/* The plain recurrence, every beginning of every run tried. */
static void plain(void)
{
    static int64_t sizes[MOST], count[MOST], best[2][MOST];
    size_t n_off = 0;
    for (int trial = 0; trial < 40; trial++) {
        const size_t m = make(sizes, count, 50 + next(MOST - 50), trial % 2 ? 3 : 100000),
                     k = 1 + next(12);
        size_t chosen[16], n = 0;
        int64_t waste = -1;
        for (size_t row = 0; row < k; row++)
            for (size_t j = 0; j < m; j++) {
                int64_t least = INT64_MAX, sum = 0;
                for (size_t i = j + 1; i-- > 0;) {
                    sum += (sizes[j] - sizes[i]) * count[i];
                    const bool is_start = row == 0 ? i == 0 : i > 0;
                    const int64_t w = !is_start  ? INT64_MAX
                                      : row == 0 ? sum
                                      : best[(row - 1) % 2][i - 1] == INT64_MAX
                                          ? INT64_MAX
                                          : best[(row - 1) % 2][i - 1] + sum;
                    least = w < least ? w : least;
                }
                best[row % 2][j] = least;
            }
        n_off += stat_assort(sizes, count, m, k, NULL, NULL, chosen, &n, &waste) != ERR_OK ||
                 waste != best[(k - 1) % 2][m - 1];
    }
    tap_ok(n_off == 0, "40 needs of up to %d lengths against the plain recurrence (%zu differ)",
           (int)MOST, n_off);
}

static void demand(void)
{
    /* Poisson mean 8 as the limit of a well-known rate, but for the millionth by which it still varies, (scipy 1.10.1): F(8)
     * 0.592547341437592, F(9) 0.716624258727011; ratio 25/35: Q = 9. */
    near(stat_negative_binomial_cdf(8, 8e6, 1e-6), 0.59254734150588306, 1e-11,
         "nearly Poisson 8: F(8) (R pnbinom)");
    near(stat_negative_binomial_cdf(9, 8e6, 1e-6), 0.716624258727011, 2e-6, "Poisson 8: F(9)");
    int64_t q = 0;
    tap_ok(stat_negative_binomial_quantile(25.0 / 35, 8e6, 1e-6, &q) == ERR_OK && q == 9,
           "newsvendor, ratio 25/35, Poisson 8: 9 (scipy)");
    /* Shape 1 is geometric: P(X <= k) = 1 - (over/(1 + over))^(k + 1). */
    near(stat_negative_binomial_cdf(4, 1, 0.5), 1 - pow(1.0 / 3, 5), 1e-14,
         "shape 1 is geometric (by hand)");
    tap_ok(stat_negative_binomial_cdf(-1, 1, 1) == 0, "fewer than none");
    tap_ok(stat_negative_binomial_quantile(0.999, 0.5, 1e13, &q) == ERR_RANGE,
           "beyond 10^12 is an error");
    /* beta(1, 1): every number 0..n alike. beta(1, b): P(X = 0) = b/(n + b). */
    near(stat_beta_binomial_cdf(3, 9, 1, 1), 0.4, 1e-14,
         "beta-binomial with a flat chance is flat");
    near(stat_beta_binomial_cdf(0, 7, 1, 5), 5.0 / 12, 1e-14,
         "beta(1, 5), none of 7: 5/12 (by hand)");
    near(stat_beta_binomial_cdf(500000, 1000000, 1, 1), 500001.0 / 1000001, 1e-9,
         "flat over a million");
    near(stat_beta_binomial_cdf(0, 1, 0.5, 1.5), 0.75, 1e-14, "one unit: the mean chance");
    tap_ok(stat_beta_binomial_quantile(0.5, 9, 1, 1) == 4 &&
               stat_beta_binomial_quantile(0.95, 99, 1, 1) == 94,
           "quantiles of the flat one");
    /* With a chance that is known well it is binomial: R 4.2.2 pbinom(1, 20, .025) 0.91175828546. */
    near(stat_beta_binomial_cdf(1, 20, 0.025e10, 0.975e10), 0.91175828546, 1e-7,
         "a chance known well: binomial (R pbinom)");
    near(stat_beta_binomial_cdf(2, 5, 2, 3) + stat_beta_binomial_cdf(2, 5, 3, 2), 1, 1e-14,
         "mirrored");
}

static void many(void)
{
    /* The 15 p-values of Benjamini & Hochberg 1995, section 3.2 (from memory): at 5 % the first four are discoveries. */
    static const double p[15] = {.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344,
                                 .0459, .3240, .4262, .5719, .6528, .7590, 1.000};
    double q[15], back[15], mixed[15];
    size_t n = 0;
    tap_ok(stat_false_discovery(p, 15, q) == ERR_OK, "the paper's example");
    for (size_t i = 0; i < 15; i++)
        n += q[i] <= 0.05;
    tap_ok(n == 4, "four discoveries at 5 %% (Benjamini and Hochberg 1995)");
    near(q[0], 0.0015, 1e-12, "q of the smallest: 15 x .0001 (by hand)");
    near(q[3], 0.035625, 1e-12, "q of the fourth: 15/4 x .0095 (by hand)");
    near(q[5], 15.0 / 7 * .0298, 1e-12,
         "q never falls: the seventh's 15/7 x .0298 bounds the sixth (by hand)");
    for (size_t i = 0; i < 15; i++)
        mixed[i] = p[14 - i];
    tap_ok(stat_false_discovery(mixed, 15, back) == ERR_OK && back[14] == q[0] && back[9] == q[5],
           "the order does not matter");
    tap_ok(stat_false_discovery(p, 0, q) == ERR_OK, "none is fine");
}

int main(void)
{
    table();
    subsets();
    plain();
    demand();
    many();
    return tap_done();
}

/* random: against the generator's published first figures, and its distributions against their moments. */
#include "demo/random.h"
#include "tap.h"

#include <math.h>

/* State 1, 2, 3, 4: figures of the authors' own program as they stand in the tests of the Rust crate rand_xoshiro. */
static void test_published(void)
{
    static const uint64_t expected[] = {11520U,
                                        0U,
                                        1509978240U,
                                        1215971899390074240U,
                                        1216172134540287360U,
                                        607988272756665600U,
                                        16172922978634559625U,
                                        8476171486693032832U,
                                        10595114339597558777U,
                                        2904607092377533576U};
    struct random r = {{1, 2, 3, 4}};
    bool is_same = true;
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++)
        is_same = is_same && random_bits(&r) == expected[i];
    tap_ok(is_same, "the first ten figures are those that are published");
}

/* Six standard deviations of the mean and of the variance of n figures: a right generator is beyond them once in 10^9. */
static void test_normal(void)
{
    enum { N = 200000 };
    struct random r;
    double sum = 0, squares = 0;
    random_start(&r, 1, RANDOM_WORK, 0);
    for (int i = 0; i < N; i++) {
        const double x = random_normal(&r);
        sum += x;
        squares += x * x;
    }
    const double mean = sum / N, variance = squares / N - mean * mean;
    tap_ok(fabs(mean) < 6.0 / sqrt(N), "the mean of normal figures is 0: %.5f", mean);
    tap_ok(fabs(variance - 1.0) < 6.0 * sqrt(2.0 / N), "their variance is 1: %.5f", variance);
}

/* Pearson's statistic on 9 degrees of freedom is beyond 44.8 with probability 1e-6 (chi-square table, from memory: 27.9 at 0.001). */
static void test_below(void)
{
    enum { N = 100000, CELLS = 10 };
    const double each = (double)N / CELLS;
    struct random r;
    int counts[CELLS] = {0};
    double chi2 = 0;
    bool is_within = true;
    random_start(&r, 2, RANDOM_UNIT, 7);
    for (int i = 0; i < N; i++)
        counts[random_below(&r, CELLS)]++;
    for (int i = 0; i < CELLS; i++)
        chi2 += (counts[i] - each) * (counts[i] - each) / each;
    tap_ok(chi2 < 44.8, "figures below ten are even: chi-square %.1f on 9 degrees", chi2);
    for (int i = 0; i < N; i++) {
        const int64_t x = random_within(&r, -3, 4);
        is_within = is_within && x >= -3 && x <= 4;
    }
    tap_ok(is_within, "random_within stays within its ends");
}

static void test_streams(void)
{
    struct random a, b, c, d;
    random_start(&a, 5, RANDOM_UNIT, 1);
    random_start(&b, 5, RANDOM_UNIT, 1);
    random_start(&c, 5, RANDOM_UNIT, 2);
    random_start(&d, 5, RANDOM_SHOP, 1);
    const uint64_t first = random_bits(&a);
    tap_ok(first == random_bits(&b), "the same seed, purpose and item give the same");
    tap_ok(first != random_bits(&c) && first != random_bits(&d),
           "another item or purpose gives something else");
}

int main(void)
{
    test_published();
    test_normal();
    test_below();
    test_streams();
    return tap_done();
}

/* What is drawn by chance has the mean and variance its distribution has: the gamma's are both its shape. */
#include "stat/draws.h"

#include "stat/near.h"

static void gamma_of(double shape)
{
    enum { N = 200000 };
    struct chance c;
    double sum = 0, squares = 0;
    chance_start(&c, 1, 99, (uint64_t)(shape * 1000));
    for (int i = 0; i < N; i++) {
        const double x = draws_gamma(&c, shape);
        sum += x;
        squares += (x - shape) * (x - shape);
    }
    /* Standard errors: sqrt(shape/N); of the variance sqrt((2 shape^2 + 6 shape)/N) (the gamma's fourth moment is 3 shape^2 +
     * 6 shape). Five of them: one in 10^6. */
    const double mean = sum / N, variance = squares / N;
    tap_ok(fabs(mean - shape) < 5 * sqrt(shape / N), "gamma %g: mean %g", shape, mean);
    tap_ok(fabs(variance - shape) < 5 * sqrt((2 * shape * shape + 6 * shape) / N),
           "gamma %g: variance %g", shape, variance);
}

static void below(void)
{
    struct chance c;
    uint64_t seen[7] = {0};
    chance_start(&c, 2, 99, 0);
    for (int i = 0; i < 70000; i++)
        seen[draws_below(&c, 7)]++;
    double chi2 = 0;
    for (int i = 0; i < 7; i++)
        chi2 += ((double)seen[i] - 10000) * ((double)seen[i] - 10000) / 10000;
    tap_ok(chi2 < 30, "seven faces alike: chi-square %.1f on 6 (30 is one in 25 000)", chi2);
    tap_ok(draws_below(&c, 1) == 0, "one face");
}

int main(void)
{
    gamma_of(0.5);
    gamma_of(1);
    gamma_of(3.7);
    gamma_of(60);
    below();
    return tap_done();
}

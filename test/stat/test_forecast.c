/* Draws of further failures where the answer is known. How often forecasts hold the truth: test/sim/sim_life.c. */
#include "stat/forecast.h"

#include "tap.h"

#include <math.h>

/* A fit so sure that only the units' luck is left: the counts are a binomial's. */
static void test_luck(void)
{
    static double many[20000];
    const struct forecast_open one = {0, 40};
    struct weibull w = {.log_scale = log(100), .log_shape = 0};
    const struct forecast_question q = {&one, 1, 10, 3, 20000};
    const double p = 1 - exp(-0.1), mean = forecast_weibull(&w, &q, many);
    double sum = 0, square = 0, none = 0;
    for (size_t i = 0; i < q.n_draws; i++) {
        sum += many[i];
        square += many[i] * many[i];
        none += many[i] == 0;
    }
    const double n = (double)q.n_draws, m = sum / n, v = square / n - m * m;
    tap_ok(fabs(mean - 40 * p) < 1e-9,
           "forty units, each with chance 1 - e^-0.1: %.4f expected (by hand)", 40 * p);
    tap_ok(fabs(m - 40 * p) < 4 * sqrt(40 * p * (1 - p) / n) &&
               fabs(v / (40 * p * (1 - p)) - 1) < 0.05,
           "20000 draws: mean and variance are the binomial's");
    tap_ok(fabs(none / n - exp(-4)) < 4 * sqrt(exp(-4) / n),
           "20000 draws: none fails in e^-4 of them (by hand)");
    const struct forecast_question never = {NULL, 0, 10, 3, 10};
    tap_ok(forecast_weibull(&w, &never, many) == 0 && many[9] == 0, "no unit open: none to come");
}

int main(void)
{
    test_luck();
    return tap_done();
}

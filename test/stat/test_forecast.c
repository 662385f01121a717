/* Intervals held against planted truth: how often they hold it in seeded worlds, within the binomial error of the count (99.9 %). */
#include "stat/forecast.h"

#include "core/normal.h"
#include "stat/chance.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum { WORLDS = 500, UNITS_MAX = 2000, DRAWS = 400 };

static struct weibull_term terms[UNITS_MAX];
static struct forecast_open open_units[UNITS_MAX];
static double draws[DRAWS];

static double weibull_time(struct chance *c, double scale, double shape)
{
    return scale * pow(-log(chance_share(c)), 1 / shape);
}

/* Each unit seen from age 0 to an age of its own (whole, uniform up to `watched`). *ret_later: failures within `more` after that. */
static size_t world(struct chance *c, size_t n, double share, double scale, double shape,
                    double watched, double more, size_t *ret_open, size_t *ret_later)
{
    *ret_open = *ret_later = 0;
    for (size_t i = 0; i < n; i++) {
        const double end = 1 + floor(chance_share(c) * watched);
        const bool comes = chance_share(c) < share;
        const double t = weibull_time(c, scale, shape);
        const bool is_event = comes && t <= end;
        terms[i] = (struct weibull_term){
            .log_t = log(is_event ? t : end), .events = is_event, .censored = !is_event};
        if (is_event)
            continue;
        open_units[(*ret_open)++] = (struct forecast_open){end, 1};
        *ret_later += comes && t <= end + more;
    }
    return n;
}

static void report(const char *name, size_t n_held, double level, size_t n_fitted, double slack)
{
    const double cover = (double)n_held / (double)n_fitted;
    const double se = sqrt(level * (1 - level) / (double)n_fitted);
    tap_note("%s: %.1f %% +/- %.1f %% of %zu worlds (nominal %.0f %%)", name, 100 * cover, 100 * se,
             n_fitted, 100 * level);
    tap_ok(fabs(cover - level) < 3.29 * se + slack, "%s: holds the truth as often as it says%s",
           name, slack > 0 ? ", within two per cent and the binomial error" : "");
}

static bool is_held(double low, double high, double truth)
{
    return low <= truth && truth <= high;
}

/* Wald intervals on the logarithms, and the forecast of further failures. */
static void test_weibull(size_t n, double scale, double shape, double watched, const char *name)
{
    char what[160];
    const double z = normal_quantile(0.975), more = watched / 4;
    size_t n_scale = 0, n_shape = 0, n_later = 0, n_fitted = 0;
    double events = 0;
    for (uint64_t i = 0; i < WORLDS; i++) {
        struct chance c;
        struct weibull w = {.scale = 0};
        size_t n_open = 0, later = 0;
        chance_start(&c, 51, 400, i);
        world(&c, n, 1, scale, shape, watched, more, &n_open, &later);
        if (weibull_fit(terms, n, &w) != WEIBULL_FITTED)
            continue;
        n_fitted++;
        events += w.events / WORLDS;
        n_scale += fabs(w.log_scale - log(scale)) <= z * w.se_log_scale;
        n_shape += fabs(w.log_shape - log(shape)) <= z * w.se_log_shape;
        const struct forecast_question q = {open_units, n_open, more, i, DRAWS};
        (void)forecast_weibull(&w, &q, draws);
        n_later +=
            is_held(draws[(size_t)(0.025 * DRAWS)], draws[(size_t)(0.975 * DRAWS)], (double)later);
    }
    snprintf(what, sizeof what, "%s (%zu units, %.0f failures on average), interval of the scale",
             name, n, events);
    tap_ok(n_fitted == WORLDS, "%s: every world is fitted", name);
    report(what, n_scale, 0.95, n_fitted, 0.02);
    snprintf(what, sizeof what, "%s, interval of the shape", name);
    report(what, n_shape, 0.95, n_fitted, 0.02);
    snprintf(what, sizeof what, "%s, forecast of further failures", name);
    report(what, n_later, 0.95, n_fitted, 0.02);
}

static void test_cure(size_t n, double share, double scale, double shape, double watched,
                      const char *name)
{
    char what[160];
    size_t n_share = 0, n_ever = 0, n_fitted = 0, n_unbounded = 0;
    for (uint64_t i = 0; i < WORLDS / 2; i++) {
        struct chance c;
        struct weibull w;
        struct cure fit;
        static struct cure_shares shares;
        size_t n_open = 0, later = 0;
        chance_start(&c, 61, 500, i);
        world(&c, n, share, scale, shape, watched, HUGE_VAL, &n_open, &later);
        const bool is_plain = weibull_fit(terms, n, &w) == WEIBULL_FITTED;
        if (cure_fit(terms, n, is_plain ? &w : NULL, &fit) != WEIBULL_FITTED)
            continue;
        cure_spread(terms, n, &fit, &shares);
        if (shares.n == 0)
            continue;
        n_fitted++;
        n_unbounded += !fit.is_bounded;
        n_share += is_held(cure_share_quantile(&shares, 0.025), cure_share_quantile(&shares, 0.975),
                           share);
        const struct forecast_question q = {open_units, n_open, HUGE_VAL, i, DRAWS};
        (void)forecast_cure(&shares, &fit, &q, draws);
        n_ever +=
            is_held(draws[(size_t)(0.025 * DRAWS)], draws[(size_t)(0.975 * DRAWS)], (double)later);
    }
    tap_ok(n_fitted == WORLDS / 2, "%s: every world is fitted (%zu without a bound from above)",
           name, n_unbounded);
    snprintf(what, sizeof what, "%s, interval of the share", name);
    report(what, n_share, 0.95, n_fitted, 0.02);
    snprintf(what, sizeof what, "%s, forecast of those that ever come", name);
    report(what, n_ever, 0.95, n_fitted, 0.02);
}

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
    test_weibull(400, 1200, 1.6, 700, "wear");
    test_weibull(300, 5000, 0.7, 600, "early failures");
    test_cure(400, 0.7, 60, 1.3, 250, "seven in ten come, long watched");
    test_cure(400, 0.8, 90, 1.2, 180, "eight in ten come, shortly watched");
    return tap_done();
}

/* conform: owns the decision whether a reading is inside its limits, and the risks of deciding so.
 *
 * Amounts are exact (int64 nano, sums in 128 bits); only probabilities and z(1-risk) are doubles.
 * It does not know where an uncertainty comes from beyond the root sum of squares. */
#include "core/conform.h"

#include "core/normal.h"

#include <float.h>
#include <math.h>

__extension__ typedef __int128 wide;

static bool is_finite(double x)
{
    return x >= -DBL_MAX && x <= DBL_MAX; /* false for NaN */
}

static bool has_low(struct conform_limits l)
{
    return l.low != INT64_MIN;
}

static bool has_high(struct conform_limits l)
{
    return l.high != INT64_MAX;
}

const char *conform_verdict_name(enum verdict v)
{
    switch (v) {
    case VERDICT_INSIDE:
        return "inside";
    case VERDICT_OUTSIDE:
        return "outside";
    case VERDICT_UNCERTAIN:
        return "uncertain";
    }
    return "unknown";
}

enum err conform_factor(double risk, double *ret_factor)
{
    if (!(risk > 0.0 && risk <= 0.5))
        return ERR_DOMAIN;
    *ret_factor = -normal_quantile(risk); /* z(1-risk) = -z(risk), without 1-risk's rounding */
    return ERR_OK;
}

enum err conform_guard_by(double factor, double u, int64_t *ret_guard)
{
    if (!(u >= 0.0) || !is_finite(u) || !(factor >= 0.0) || !is_finite(factor))
        return ERR_DOMAIN;
    const double guard = ceil(factor * u);
    if (!(guard < 9223372036854775807.0)) /* that literal is 2^63 */
        return ERR_RANGE;
    *ret_guard = (int64_t)guard;
    return ERR_OK;
}

enum err conform_guard(double u, double risk, int64_t *ret_guard)
{
    double factor;
    const enum err e = conform_factor(risk, &factor);
    return e == ERR_OK ? conform_guard_by(factor, u, ret_guard) : e;
}

enum err conform_narrow(struct conform_limits limits, int64_t guard, struct conform_limits *ret)
{
    if (limits.low > limits.high)
        return ERR_ORDER;
    if (guard < 0)
        return ERR_DOMAIN;
    const wide low = (wide)limits.low + guard, high = (wide)limits.high - guard;
    if (has_low(limits) && has_high(limits) && low > high) {
        const wide sum = low + high;
        limits.low = limits.high = (int64_t)((sum - (sum & 1)) / 2); /* floor, also below 0 */
        *ret = limits;
        return ERR_OK;
    }
    /* INT64_MIN and INT64_MAX mean "no limit", so a guarded limit may not become one of them. */
    if ((has_low(limits) && low >= INT64_MAX) || (has_high(limits) && high <= INT64_MIN))
        return ERR_RANGE;
    if (has_low(limits))
        limits.low = (int64_t)low;
    if (has_high(limits))
        limits.high = (int64_t)high;
    *ret = limits;
    return ERR_OK;
}

double conform_p(int64_t reading, double u, struct conform_limits limits)
{
    if (!(u >= 0.0))
        return (double)NAN;
    if (u == 0.0)
        return reading >= limits.low && reading <= limits.high ? 1.0 : 0.0;
    double a = -(double)INFINITY, b = (double)INFINITY;
    if (has_low(limits))
        a = (double)((wide)limits.low - reading) / u;
    if (has_high(limits))
        b = (double)((wide)limits.high - reading) / u;
    return normal_between(a, b);
}

/* Distance to the nearer limit, negative outside; INT64_MAX when there is none. */
static enum err margin_of(int64_t reading, struct conform_limits limits, int64_t *ret)
{
    wide margin = INT64_MAX;
    if (has_low(limits))
        margin = (wide)reading - limits.low;
    if (has_high(limits) && (wide)limits.high - reading < margin)
        margin = (wide)limits.high - reading;
    if (margin < INT64_MIN || margin > INT64_MAX)
        return ERR_RANGE;
    *ret = (int64_t)margin;
    return ERR_OK;
}

static bool is_within(int64_t reading, struct conform_limits limits)
{
    return reading >= limits.low && reading <= limits.high;
}

static bool is_beyond(int64_t reading, struct conform_limits limits, int64_t guard)
{
    return (has_low(limits) && (wide)limits.low - reading > guard) ||
           (has_high(limits) && (wide)reading - limits.high > guard);
}

enum verdict conform_verdict(int64_t reading, struct conform_limits limits, int64_t guard,
                             struct conform_limits guarded)
{
    if (is_within(reading, guarded))
        return VERDICT_INSIDE;
    return is_beyond(reading, limits, guard) ? VERDICT_OUTSIDE : VERDICT_UNCERTAIN;
}

enum err conform_judge(int64_t reading, double u, struct conform_limits limits, double risk,
                       struct conform_answer *ret)
{
    struct conform_answer a = {0};
    enum err e = conform_guard(u, risk, &a.guard);
    if (e == ERR_OK)
        e = conform_narrow(limits, a.guard, &a.guarded_limits);
    if (e == ERR_OK)
        e = margin_of(reading, limits, &a.margin);
    if (e != ERR_OK)
        return e;
    a.p_conform = conform_p(reading, u, limits);
    a.simple = is_within(reading, limits) ? VERDICT_INSIDE : VERDICT_OUTSIDE;
    a.guarded = conform_verdict(reading, limits, a.guard, a.guarded_limits);
    *ret = a;
    return ERR_OK;
}

double conform_combine(struct conform_u parts)
{
    const double a = (double)parts.resolution;
    return sqrt(a * a / 12.0 + parts.calibration_u * parts.calibration_u +
                parts.repeat_u * parts.repeat_u);
}

/* ---- global risks
 * -----------------------------------------------------------------------------------------------
 */

enum { NODES = 16, PANELS = 8, BREAKS = 8 };

struct rule {
    double x[NODES / 2], weight[NODES / 2]; /* the positive half of Gauss-Legendre on [-1, 1] */
};

/* Legendre polynomial of degree NODES and its derivative at |x| < 1, by the three-term recurrence.
 */
static double legendre(double x, double *ret_slope)
{
    double before = 1.0, p = x;
    for (int n = 1; n < NODES; n++) {
        const double next = ((2 * n + 1) * x * p - n * before) / (n + 1);
        before = p;
        p = next;
    }
    *ret_slope = NODES * (before - x * p) / (1.0 - x * x);
    return p;
}

/* Nodes by sign changes on a grid of 1/256 (the nearest two lie 0.04 apart) and Newton's method;
 * weights 2/((1-x^2) P'^2) (Abramowitz & Stegun 25.4.29). Computed afresh: cheap beside what it
 * serves, and no table to trust. */
static void rule_make(struct rule *ret)
{
    int found = 0;
    double slope = 0.0, last = legendre(0.0, &slope);
    for (int i = 1; i < 256 && found < NODES / 2; i++) {
        double x = i / 256.0;
        const double here = legendre(x, &slope);
        if ((last < 0.0) == (here < 0.0))
            continue;
        last = here;
        for (int step = 0; step < 6; step++)
            x -= legendre(x, &slope) / slope;
        (void)legendre(x, &slope);
        ret->x[found] = x;
        ret->weight[found++] = 2.0 / ((1.0 - x * x) * slope * slope);
    }
}

/* One problem in units of the process: t = (y - mean)/process_u; r = measure_u/process_u. */
struct risk_task {
    struct rule rule;
    double low, high;               /* limits */
    double accept_low, accept_high; /* limits of acceptance */
    double r;
};

/* Density of t times the probability that its reading is accepted (or is not). */
static double integrand(const struct risk_task *k, double t, bool is_accepted)
{
    const double a = (k->accept_low - t) / k->r, b = (k->accept_high - t) / k->r;
    double p = 0.0;
    if (is_accepted)
        p = normal_between(a, b);
    else
        p = a < b ? normal_cdf(a) + normal_cdf(-b) : 1.0;
    return normal_density(t) * p;
}

static double panel(const struct risk_task *k, double from, double to, bool is_accepted)
{
    const double middle = 0.5 * (from + to), half = 0.5 * (to - from);
    double sum = 0.0;
    for (int i = 0; i < NODES / 2; i++)
        sum += k->rule.weight[i] * (integrand(k, middle - half * k->rule.x[i], is_accepted) +
                                    integrand(k, middle + half * k->rule.x[i], is_accepted));
    return half * sum;
}

/* The density's tail beyond 9 holds 2e-19 and is left out. Between two breaks the integrand bends
 * on a scale no shorter than an eighth of the piece: breaks stand where acceptance begins and ends
 * to change (8 measure_u either side of its limits). */
static double integral(const struct risk_task *k, double from, double to, bool is_accepted)
{
    const double breaks[BREAKS] = {k->accept_low - 8.0 * k->r,
                                   k->accept_low,
                                   k->accept_low + 8.0 * k->r,
                                   k->accept_high - 8.0 * k->r,
                                   k->accept_high,
                                   k->accept_high + 8.0 * k->r,
                                   0.0,
                                   9.0};
    double sum = 0.0, at = from > -9.0 ? from : -9.0;
    to = to < 9.0 ? to : 9.0;
    while (at < to) {
        double end = to;
        for (int i = 0; i < BREAKS; i++)
            if (breaks[i] > at && breaks[i] < end)
                end = breaks[i];
        const double step = (end - at) / PANELS;
        for (int i = 0; i < PANELS; i++)
            sum += panel(k, at + i * step, i + 1 < PANELS ? at + (i + 1) * step : end, is_accepted);
        at = end;
    }
    return sum;
}

enum err conform_risks(double mean, double process_u, double measure_u, double low, double high,
                       double w, struct conform_risks *ret)
{
    if (!(process_u > 0.0) || !is_finite(process_u) || !(measure_u > 0.0) ||
        !is_finite(measure_u) || !is_finite(mean) || !is_finite(w) || low != low || high != high)
        return ERR_DOMAIN;
    if (low > high)
        return ERR_ORDER;
    struct risk_task k = {.low = (low - mean) / process_u,
                          .high = (high - mean) / process_u,
                          .accept_low = ((low - mean) + w) / process_u,
                          .accept_high = ((high - mean) - w) / process_u,
                          .r = measure_u / process_u};
    const double spread = sqrt(1.0 + k.r * k.r);
    if (!(k.r > 0.0) || !is_finite(spread))
        return ERR_DOMAIN; /* so unequal that their ratio is no number */
    rule_make(&k.rule);
    ret->accept = normal_between(k.accept_low / spread, k.accept_high / spread);
    ret->consumer = integral(&k, -9.0, k.low, true) + integral(&k, k.high, 9.0, true);
    ret->producer = integral(&k, k.low, k.high, false);
    return ERR_OK;
}

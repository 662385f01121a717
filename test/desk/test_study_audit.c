/* Audits: the curve against R's phyper, outgoing quality against published figures; what is refused. */
#include "desk/study_audit.h"

#include "stat/near.h"

#include <stdlib.h>
#include <string.h>

static struct study_audit_order *order; /* too large for the stack of a test */
static struct study_audit *r;

static enum err audit(struct fault *f)
{
    *f = (struct fault){0};
    return study_audit(order, NULL, r, f);
}

static void start(int64_t lot, int64_t n, int64_t c)
{
    *order = (struct study_audit_order){.lot = lot,
                                        .plan = {n, c},
                                        .fine_share = -1,
                                        .poor_share = -1,
                                        .producer = 0.05,
                                        .consumer = 0.10,
                                        .found = -1,
                                        .confidence = 0.95};
}

static void curve(void)
{
    struct fault f;
    start(280, 32, 1);
    order->n_bad = 3;
    order->bad[0] = 3;
    order->bad[1] = 14;
    order->bad[2] = 28;
    tap_ok(audit(&f) == ERR_OK && r->n_points == 3, "a curve of three points");
    near(r->points[0].accept, 0.96464542651593, 1e-12, "3 bad (R phyper)");
    near(r->points[1].accept, 0.50886596748494, 1e-12, "14 bad (R phyper)");
    near(r->points[2].accept, 0.140122219463436, 1e-12, "28 bad (R phyper)");
    /* NIST plan (52, 3), N = 10000: AOQ at .05 0.0367239080, of the binomial; published N = 5000, n = 52, c = 2: 1.420 % at 1.5 %
     * by the binomial, which is 0.1 % off for a lot of 5000. */
    start(0, 52, 3);
    order->n_shares = 1;
    order->shares[0] = 0.05;
    tap_ok(audit(&f) == ERR_OK, "a large lot");
    near(r->points[0].outgoing * (10000.0 - 52) / 10000, 0.0367239080, 1e-9,
         "outgoing quality at 5 % (R)");
    start(5000, 52, 2);
    order->n_bad = 1;
    order->bad[0] = 75;
    tap_ok(audit(&f) == ERR_OK, "a lot of 5000");
    near(100 * r->points[0].outgoing, 1.420, 1.1e-3,
         "outgoing quality at 1.5 %: 1.420 % as published");
}

static void chosen(void)
{
    struct fault f;
    const struct {
        int64_t lot, n, c;
    } plans[] = {{280, 32, 1}, {10, 10, 0}, {1, 1, 0},        {100000000, 800, 5},
                 {0, 52, 3},   {0, 1, 0},   {0, 10000000, 0}, {50, 50, 49}};
    for (size_t i = 0; i < sizeof plans / sizeof *plans; i++) {
        bool is_good = true;
        start(plans[i].lot, plans[i].n, plans[i].c);
        is_good = audit(&f) == ERR_OK && r->n_points >= 1 && r->n_points <= 30 &&
                  r->points[0].accept == 1;
        for (size_t k = 0; is_good && k < r->n_points; k++)
            is_good = r->points[k].accept >= 0 && r->points[k].accept <= 1 &&
                      (k == 0 || r->points[k].accept <= r->points[k - 1].accept + 1e-12);
        tap_ok(is_good, "points chosen for a lot of %lld, plan (%lld, %lld): %zu, falling",
               (long long)plans[i].lot, (long long)plans[i].n, (long long)plans[i].c, r->n_points);
    }
}

static void search(void)
{
    struct fault f;
    start(0, 0, 0);
    order->is_search = true;
    order->fine_share = .01;
    order->poor_share = .05;
    order->producer = .02;
    order->consumer = .15;
    tap_ok(audit(&f) == ERR_OK && r->plan.n == 144 && r->plan.c == 4 && r->has_risks,
           "published plan (144, 4) is found");
    near(r->producer_risk, 0.01534843, 1e-6, "its producer's risk as published");
    near(r->consumer_risk, 0.1487162, 1e-6, "its consumer's risk as published");
    order->poor_share = .0100001;
    tap_ok(audit(&f) == ERR_IMPOSSIBLE, "no plan: %s", f.message);
}

static void found(void)
{
    struct fault f;
    start(0, 52, 3);
    order->found = 3;
    tap_ok(audit(&f) == ERR_OK && r->is_accepted, "3 found, 3 allowed");
    near(r->may_low_share, 0.0120593180267384, 1e-9, "what the lot may hold: low (R binom.test)");
    near(r->may_high_share, 0.159473358638591, 1e-9, "what the lot may hold: high");
    order->found = 4;
    tap_ok(audit(&f) == ERR_OK && !r->is_accepted, "4 found: refused");
    start(20, 20, 0);
    order->found = 2;
    tap_ok(audit(&f) == ERR_OK && r->may_low == 2 && r->may_high == 2,
           "all were looked at: the lot holds what was found");
}

static void refusals(void)
{
    struct fault f;
    start(10, 20, 1);
    tap_ok(audit(&f) == ERR_ORDER && strcmp(f.path, "--sample") == 0, "more than the lot: %s",
           f.message);
    start(100, 20, 20);
    tap_ok(audit(&f) == ERR_ORDER && strcmp(f.path, "--accept") == 0, "accepts anything: %s",
           f.message);
    start(10, 5, 1);
    order->n_bad = 1;
    order->bad[0] = 11;
    tap_ok(audit(&f) == ERR_ORDER && strcmp(f.path, "--bad") == 0, "more bad than the lot: %s",
           f.message);
    start(10, 5, 1);
    order->found = 6;
    tap_ok(audit(&f) == ERR_ORDER && strcmp(f.path, "--found") == 0,
           "more found than looked at: %s", f.message);
    start(0, 0, 0);
    order->is_search = true;
    tap_ok(audit(&f) == ERR_EMPTY, "nothing to seek by: %s", f.message);
    order->fine_share = 0.05;
    order->poor_share = 0.05;
    tap_ok(audit(&f) == ERR_ORDER, "shares alike: %s", f.message);
    order->lot = 10;
    order->fine_share = 0.10;
    order->poor_share = 0.19;
    tap_ok(audit(&f) == ERR_OK && r->plan.n <= 10,
           "one of ten is fine, two are poor: a plan of %lld", (long long)r->plan.n);
    order->poor_share = 0.10;
    order->fine_share = 0.099;
    tap_ok(audit(&f) == ERR_OK, "none is fine, one is poor: a plan of %lld", (long long)r->plan.n);
    order->producer = 0.6;
    order->consumer = 0.5;
    tap_ok(audit(&f) == ERR_DOMAIN, "risks that promise nothing: %s", f.message);
}

int main(void)
{
    order = calloc(1, sizeof *order);
    r = calloc(1, sizeof *r);
    if (order != NULL && r != NULL) {
        curve();
        chosen();
        search();
        found();
        refusals();
    }
    free(order);
    free(r);
    return tap_done();
}

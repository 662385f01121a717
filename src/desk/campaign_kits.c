/* campaign_kits: owns how many kits of each sort were used, will be asked for, and when those on hand run out.
 *
 * To come: the demand of so many more stations by the mix so far, as desk/study_kits.h: beta-binomial with Jeffreys' prior; the mean
 * and the least number that is enough at 95 %. Beyond EXACT stations the beta-binomial is replaced by the normal distribution of
 * its mean and variance, whose relative error is then far below that of the mix.
 *
 * Running out: kits are asked for as a Poisson stream; n seen over w days leave a gamma of shape n + 1/2 for its rate, so the days until k
 * more are used are w k / (n + 1/2) times an F variate of 2 k and 2 n + 1 degrees of freedom (a ratio of gammas). */
#include "desk/campaign_board.h"

#include "core/normal.h"
#include "desk/rule.h"
#include "stat/demand.h"
#include "stat/special.h"

#include <math.h>

enum { EXACT = 20000, DAY_MS = 86400000 };
#define PRIOR   0.5
#define SERVICE 0.95

/* Stations that will still come. */
static int64_t stations_to_come(const struct campaign *c)
{
    const int64_t open_units = c->units.in_scope - c->units.reached;
    if (!c->forecast.is_known || open_units <= 0)
        return 0;
    const int64_t open = c->stations.in_scope - c->stations.reached;
    return (int64_t)llround((double)c->forecast.further * (double)open / (double)open_units);
}

static int64_t enough(int64_t n, double a, double all)
{
    if (n <= EXACT)
        return stat_beta_binomial_quantile(SERVICE, n, a, all - a);
    const double p = a / all, mean = (double)n * p;
    const double var = mean * (1 - p) * (all + (double)n) / (all + 1);
    return (int64_t)fmin((double)n, ceil(mean + normal_quantile(SERVICE) * sqrt(var)));
}

static void find_demand(const struct campaign *c, size_t n_sorts, int64_t used_all,
                        struct campaign_kit *k)
{
    const double a = (double)k->used + PRIOR, all = (double)used_all + PRIOR * (double)n_sorts;
    const int64_t n = stations_to_come(c);
    k->has_to_come = c->forecast.is_known && used_all > 0;
    if (!k->has_to_come)
        return;
    k->to_come = (int64_t)llround((double)n * a / all);
    k->to_come_high = n_sorts == 1 ? n : enough(n, a, all);
}

static void find_days(double watched_days, struct campaign_kit *k)
{
    const double n = (double)k->used, left = (double)k->left;
    k->has_days = k->has_stock && k->left > 0 && watched_days > 0;
    if (k->has_days) {
        const double scale = watched_days * left / (n + PRIOR);
        k->days = scale * stat_f_quantile(0.5, 2 * left, 2 * n + 1);
        k->days_low = scale * stat_f_quantile(0.025, 2 * left, 2 * n + 1);
        k->days_high = scale * stat_f_quantile(0.975, 2 * left, 2 * n + 1);
    }
    k->is_short = k->has_stock &&
                  (k->left <= 0 ? k->used > 0 : k->has_days && k->days_low < (double)k->lead_days);
}

static void count_used(const struct board *b, struct campaign_kit *kits)
{
    for (size_t i = 0; i < b->n_claims; i++) {
        const struct board_claim *c = &b->claims[i];
        const int64_t at_ms = c->finished_ms != STORE_UNKNOWN ? c->finished_ms : c->taken_ms;
        if (c->verdict == RULE_VERDICT_REFUSE || (c->flags & BOARD_IS_REPLACED) != 0)
            continue;
        for (size_t s = 0; s < b->bulletin->scope.stations.n; s++) {
            if (c->kit[s] == 0)
                continue;
            kits[c->kit[s] - 1].used++;
            kits[c->kit[s] - 1].used_since += b->stock_ms > 0 && at_ms > b->stock_ms;
        }
    }
}

/* Days from the first claim on. */
static double watched(const struct board *b, int64_t now_ms)
{
    int64_t first = INT64_MAX;
    for (size_t i = 0; i < b->n_claims; i++)
        first = b->claims[i].taken_ms < first ? b->claims[i].taken_ms : first;
    return first < now_ms ? (double)(now_ms - first) / DAY_MS : 0;
}

void campaign_kits(const struct board *b, int64_t now_ms, struct board_answer *made)
{
    const size_t n = b->bulletin->kits.n;
    struct campaign_kit *kits = arena_get(&made->arena, (n + 1) * sizeof *kits);
    int64_t used_all = 0;
    if (kits == NULL)
        return;
    count_used(b, kits);
    for (size_t i = 0; i < n; i++)
        used_all += kits[i].used;
    const double days = watched(b, now_ms);
    for (size_t i = 0; i < n; i++) {
        const struct bulletin_kit *from = &b->bulletin->kits.at[i];
        struct campaign_kit *k = &kits[i];
        k->id = campaign_keep(made, from->id);
        k->number = campaign_keep(made, from->number);
        k->name = campaign_keep(
            made, bulletin_text_in(b->bulletin, &from->name, b->bulletin->head.language));
        k->has_stock = b->stock[i].is_told;
        k->on_hand = b->stock[i].on_hand;
        k->ordered = b->stock[i].ordered;
        k->lead_days = b->stock[i].lead_days;
        k->left = k->on_hand - k->used_since;
        find_demand(&made->c, n, used_all, k);
        find_days(days, k);
    }
    made->c.kits = kits;
    made->c.n_kits = n;
}

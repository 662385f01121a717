/* moves: owns the cost of whole-step moves. */
#include "core/moves.h"

int64_t move_cost(const struct move *m, int64_t x)
{
    return x == 0 ? 0 : m->setup + m->step * (x < 0 ? -x : x);
}

int64_t move_cost_least(const struct move *m, int32_t lo, int32_t hi)
{
    if (lo <= 0 && hi >= 0)
        return 0;
    return move_cost(m, lo > 0 ? lo : hi);
}

int64_t moves_cost(const struct move *m, size_t n, const int32_t *x)
{
    int64_t sum = 0;
    for (size_t j = 0; j < n; j++)
        sum += move_cost(&m[j], x[j]);
    return sum;
}

uint32_t moves_touched(const int32_t *x, size_t n)
{
    uint32_t set = 0;
    for (size_t j = 0; j < n; j++)
        set |= x[j] != 0 ? UINT32_C(1) << j : 0;
    return set;
}

bool moves_narrow(const struct move *m, size_t n, int64_t allowance, int32_t *lo, int32_t *hi,
                  bool *changed)
{
    int64_t spare = allowance;
    for (size_t j = 0; j < n; j++)
        spare -= move_cost_least(&m[j], lo[j], hi[j]);
    if (spare < 0)
        return false;
    for (size_t j = 0; j < n; j++) {
        int64_t allow = spare + move_cost_least(&m[j], lo[j], hi[j]), farthest = INT32_MAX;
        if (allow < m[j].setup)
            farthest = 0;
        else if (m[j].step > 0)
            farthest = (allow - m[j].setup) / m[j].step;
        if (hi[j] > farthest) {
            hi[j] = (int32_t)farthest;
            *changed = true;
        }
        if (lo[j] < -farthest) {
            lo[j] = (int32_t)-farthest;
            *changed = true;
        }
    }
    return true;
}

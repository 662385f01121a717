/* search: owns the exact branch and bound over whole-step moves; search.h states the method.
 *
 * Invariants. The node at hand is the box lo..hi. Every plan within excess and budget that is not excluded lies in the node
 * at hand, in a child of an open frame not yet visited, or has been shown not to matter (dearer than the best known, or a
 * twin of one that is kept). Only integer arithmetic removes anything. */
#include "core/search.h"

#include <string.h>

typedef __int128 wide;

enum {
    FRAMES_MAX = 1024,
    FRAMES_DEEP =
        480, /* from here on boxes are halved, so that 32 moves of 20 001 values end before FRAMES_MAX */
    CHILDREN_MAX = 3,
    SWEEPS_MAX = 12
};

struct search_frame {
    int col;
    int n_children, next;
    int32_t child_lo[CHILDREN_MAX], child_hi[CHILDREN_MAX];
};

static size_t round8(size_t n)
{
    return (n + 7u) & ~(size_t)7u;
}

size_t search_size(size_t n_rows, size_t n_cols)
{
    size_t words = n_rows * n_cols + 6 * n_rows + n_rows;
    size_t doubles = n_rows + n_rows * n_cols + n_rows + n_cols;
    size_t ints = n_cols * 6 + FRAMES_MAX * 2 * n_cols;
    return words * 8 + doubles * 8 + round8(FRAMES_MAX * sizeof(struct search_frame)) +
           round8(ints * sizeof(int32_t)) + relax_size(n_rows, n_cols);
}

static int64_t magnitude(int64_t v)
{
    return v < 0 ? -v : v;
}

static int64_t gcd(int64_t a, int64_t b)
{
    while (b != 0) {
        int64_t r = a % b;
        a = b;
        b = r;
    }
    return a;
}

static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return a % b != 0 && (a < 0) != (b < 0) ? q - 1 : q;
}

static int64_t ceil_div(int64_t a, int64_t b)
{
    return -floor_div(-a, b);
}

/* ---- set-up ---------------------------------------------------------------------------------------------------- */

static bool are_alike(const struct search *s, size_t a, size_t b)
{
    const struct search_move *p = &s->move[a], *q = &s->move[b];
    if (p->lo != q->lo || p->hi != q->hi || p->setup != q->setup || p->step != q->step)
        return false;
    return memcmp(s->effect + a * s->n_rows, s->effect + b * s->n_rows,
                  s->n_rows * sizeof *s->effect) == 0;
}

static void find_twins(struct search *s)
{
    for (size_t j = 0; j < s->n_cols; j++) {
        s->twin[j] = -1;
        for (size_t k = j; k-- > 0;) {
            if (are_alike(s, k, j)) {
                s->twin[j] = (int)k;
                break;
            }
        }
    }
}

static int64_t row_excess(struct conform_limits l, int64_t value)
{
    int64_t over = l.high == INT64_MAX ? INT64_MIN : value - l.high;
    int64_t under = l.low == INT64_MIN ? INT64_MIN : l.low - value;
    return over > under ? over : under;
}

/* Splits the rows into those that something moves and those that nothing does, and reduces the former. */
static void reduce_rows(struct search *s)
{
    s->n_live = 0;
    s->fixed_excess = INT64_MIN;
    for (size_t i = 0; i < s->n_rows; i++) {
        int64_t g = 0;
        for (size_t j = 0; j < s->n_cols; j++) {
            if (s->move[j].lo < s->move[j].hi)
                g = gcd(g, magnitude(s->effect[j * s->n_rows + i]));
        }
        if (g == 0) {
            int64_t e = row_excess(s->limits[i], s->start[i]);
            if (e > s->fixed_excess)
                s->fixed_excess = e;
            continue;
        }
        size_t r = s->n_live++;
        int64_t *coef = s->coef + r * s->n_cols, lo = 0, hi = 0, largest = 1;
        for (size_t j = 0; j < s->n_cols; j++) {
            const struct search_move *m = &s->move[j];
            int64_t c = m->lo < m->hi ? s->effect[j * s->n_rows + i] / g : 0;
            coef[j] = c;
            lo += c > 0 ? c * m->lo : c * m->hi;
            hi += c > 0 ? c * m->hi : c * m->lo;
            largest = magnitude(c) > largest ? magnitude(c) : largest;
        }
        s->live[r] = i;
        s->divisor[r] = g;
        s->reach_lo[r] = lo;
        s->reach_hi[r] = hi;
        s->scale[r] = 1 / (double)largest;
        for (size_t j = 0; j < s->n_cols; j++)
            s->lp_coef[r * s->n_cols + j] = (double)coef[j] * s->scale[r];
    }
}

void search_init(struct search *s, size_t n_rows, size_t n_cols, const int64_t *start,
                 const struct conform_limits *limits, const int64_t *effect,
                 const struct search_move *move, int64_t node_limit, void *memory)
{
    memset(s, 0, sizeof *s);
    s->n_rows = n_rows;
    s->n_cols = n_cols;
    s->start = start;
    s->limits = limits;
    s->effect = effect;
    s->move = move;
    s->node_limit = node_limit;
    s->n_wanted = 1;

    int64_t *w = memory;
    s->coef = w, w += n_rows * n_cols;
    s->divisor = w, w += n_rows;
    s->reach_lo = w, w += n_rows;
    s->reach_hi = w, w += n_rows;
    s->q_lo = w, w += n_rows;
    s->q_hi = w, w += n_rows;
    s->multiplier = w, w += n_rows;
    s->live = (size_t *)(void *)w, w += n_rows;
    double *d = (double *)(void *)w;
    s->scale = d, d += n_rows;
    s->lp_coef = d, d += n_rows * n_cols;
    s->lp_y = d, d += n_rows;
    s->lp_x = d, d += n_cols;
    char *bytes = (char *)d;
    s->frames = (struct search_frame *)(void *)bytes;
    bytes += round8(FRAMES_MAX * sizeof(struct search_frame));
    int32_t *v = (int32_t *)(void *)bytes;
    s->lo = v, v += n_cols;
    s->hi = v, v += n_cols;
    s->trial = v, v += n_cols;
    s->twin = v, v += n_cols;
    s->box_lo = v, v += n_cols;
    s->box_hi = v, v += n_cols;
    s->frame_bounds = v;
    bytes += round8((n_cols * 6 + FRAMES_MAX * 2 * n_cols) * sizeof(int32_t));

    for (size_t j = 0; j < n_cols; j++) {
        s->box_lo[j] = move[j].lo;
        s->box_hi[j] = move[j].hi;
    }
    reduce_rows(s);
    find_twins(s);
    relax_init(&s->lp, s->n_live, n_cols, s->lp_coef, bytes);
}

/* ---- exact figures --------------------------------------------------------------------------------------------- */

int64_t search_excess(const struct search *s, const int32_t *x)
{
    int64_t worst = INT64_MIN;
    for (size_t i = 0; i < s->n_rows; i++) {
        int64_t value = s->start[i];
        for (size_t j = 0; j < s->n_cols; j++)
            value += s->effect[j * s->n_rows + i] * x[j];
        int64_t e = row_excess(s->limits[i], value);
        worst = e > worst ? e : worst;
    }
    return worst;
}

static int64_t move_cost(const struct search_move *m, int64_t v)
{
    return v == 0 ? 0 : m->setup + m->step * magnitude(v);
}

int64_t search_cost(const struct search *s, const int32_t *x)
{
    int64_t sum = 0;
    for (size_t j = 0; j < s->n_cols; j++)
        sum += move_cost(&s->move[j], x[j]);
    return sum;
}

uint32_t search_touched(const struct search *s, const int32_t *x)
{
    uint32_t set = 0;
    for (size_t j = 0; j < s->n_cols; j++)
        set |= x[j] != 0 ? UINT32_C(1) << j : 0;
    return set;
}

int64_t search_next_excess(const struct search *s, int64_t excess)
{
    int64_t next = s->fixed_excess > excess ? s->fixed_excess : INT64_MAX;
    for (size_t r = 0; r < s->n_live; r++) {
        struct conform_limits l = s->limits[s->live[r]];
        int64_t start = s->start[s->live[r]], g = s->divisor[r];
        if (l.high != INT64_MAX) {
            int64_t q = floor_div(l.high + excess - start, g) + 1;
            int64_t e = start + q * g - l.high;
            if (q <= s->reach_hi[r] && e < next)
                next = e;
        }
        if (l.low != INT64_MIN) {
            int64_t q = ceil_div(l.low - excess - start, g) - 1;
            int64_t e = l.low - (start + q * g);
            if (q >= s->reach_lo[r] && e < next)
                next = e;
        }
    }
    return next;
}

/* Allowed values of each row at this excess; false when some row has none. */
static bool set_excess(struct search *s, int64_t excess)
{
    if (s->fixed_excess > excess)
        return false;
    for (size_t r = 0; r < s->n_live; r++) {
        struct conform_limits l = s->limits[s->live[r]];
        int64_t start = s->start[s->live[r]], g = s->divisor[r];
        int64_t lo = s->reach_lo[r], hi = s->reach_hi[r];
        if (l.low != INT64_MIN) {
            int64_t q = ceil_div(l.low - excess - start, g);
            lo = q > lo ? q : lo;
        }
        if (l.high != INT64_MAX) {
            int64_t q = floor_div(l.high + excess - start, g);
            hi = q < hi ? q : hi;
        }
        if (lo > hi)
            return false;
        s->q_lo[r] = lo;
        s->q_hi[r] = hi;
        s->lp.var[s->n_cols + r].lo = (double)lo * s->scale[r];
        s->lp.var[s->n_cols + r].hi = (double)hi * s->scale[r];
    }
    return true;
}

/* ---- the run --------------------------------------------------------------------------------------------------- */

struct run {
    struct search *s;
    enum search_goal goal;
    int64_t excess;
    int64_t budget; /* shrinks as cheaper plans are found */
    int64_t
        allowance; /* what the node at hand may cost to matter: budget, or less where its touched set is in the pool */
    bool has_cost; /* the relaxation minimises cost (else it only asks whether rows can be met) */
    bool use_twins;
    int64_t floor; /* SEARCH_LEAST: an excess of this or less is as good as it needs to be */
    bool is_over;  /* nothing better can exist */
    size_t depth;
};

/* Narrows move j of a row: `above` is how much the row's least value may still rise, `below` how much its greatest may fall. */
static bool sweep_move(struct search *s, size_t j, int64_t c, int64_t above, int64_t below)
{
    int64_t size = magnitude(c), span = size * (s->hi[j] - s->lo[j]);
    int32_t lo = s->lo[j], hi = s->hi[j];
    if (span > above) {
        int32_t by = (int32_t)(above / size);
        if (c > 0)
            s->hi[j] = lo + by;
        else
            s->lo[j] = hi - by;
    }
    if (span > below) {
        int32_t by = (int32_t)(below / size);
        if (c > 0 && hi - by > s->lo[j])
            s->lo[j] = hi - by;
        if (c < 0 && lo + by < s->hi[j])
            s->hi[j] = lo + by;
    }
    return s->lo[j] <= s->hi[j];
}

/* Narrows the box by one row; false when the row cannot be met. */
static bool sweep_row(struct search *s, size_t r, bool *changed)
{
    const int64_t *coef = s->coef + r * s->n_cols;
    int64_t least = 0, most = 0, widest = 0;
    for (size_t j = 0; j < s->n_cols; j++) {
        int64_t a = coef[j] * s->lo[j], b = coef[j] * s->hi[j];
        int64_t low = a < b ? a : b, high = a < b ? b : a;
        least += low;
        most += high;
        widest = high - low > widest ? high - low : widest;
    }
    int64_t above = s->q_hi[r] - least, below = most - s->q_lo[r];
    if (above < 0 || below < 0)
        return false;
    int64_t tight = above < below ? above : below;
    if (widest <= tight)
        return true;
    *changed = true;
    for (size_t j = 0; j < s->n_cols; j++) {
        if (coef[j] != 0 && !sweep_move(s, j, coef[j], above, below))
            return false;
    }
    return true;
}

static int64_t box_cost(const struct search_move *m, int32_t lo, int32_t hi)
{
    if (lo <= 0 && hi >= 0)
        return 0;
    return move_cost(m, lo > 0 ? lo : hi);
}

static bool sweep_cost(struct run *run, bool *changed)
{
    struct search *s = run->s;
    int64_t least = 0;
    for (size_t j = 0; j < s->n_cols; j++)
        least += box_cost(&s->move[j], s->lo[j], s->hi[j]);
    int64_t spare = run->allowance - least;
    if (spare < 0)
        return false;
    for (size_t j = 0; j < s->n_cols; j++) {
        const struct search_move *m = &s->move[j];
        int64_t allow = spare + box_cost(m, s->lo[j], s->hi[j]);
        int64_t farthest = allow < m->setup ? 0
                           : m->step == 0   ? INT32_MAX
                                            : (allow - m->setup) / m->step;
        if (s->hi[j] > farthest) {
            s->hi[j] = (int32_t)farthest;
            *changed = true;
        }
        if (s->lo[j] < -farthest) {
            s->lo[j] = (int32_t)-farthest;
            *changed = true;
        }
    }
    return true;
}

static bool sweep_twins(struct search *s, bool *changed)
{
    for (size_t j = 0; j < s->n_cols; j++) {
        int p = s->twin[j];
        if (p < 0)
            continue;
        if (s->hi[j] > s->hi[p])
            s->hi[j] = s->hi[p], *changed = true;
        if (s->lo[p] < s->lo[j])
            s->lo[p] = s->lo[j], *changed = true;
        if (s->lo[j] > s->hi[j] || s->lo[p] > s->hi[p])
            return false;
    }
    return true;
}

/* Whether the node still holds a touched set that may be answered with. Where only one is left and the pool has it, the node
 * must beat that plan. */
static bool allows_some_set(struct run *run)
{
    const struct search *s = run->s;
    uint32_t may = 0, must = 0;
    if (s->n_excluded == 0 && run->goal != SEARCH_CHEAPEST)
        return true;
    for (size_t j = 0; j < s->n_cols; j++) {
        bool can_rest = s->lo[j] <= 0 && s->hi[j] >= 0;
        bool can_move = s->lo[j] < 0 || s->hi[j] > 0;
        must |= can_rest ? 0 : UINT32_C(1) << j;
        may |= can_move ? UINT32_C(1) << j : 0;
    }
    if (may != must)
        return true;
    for (size_t k = 0; k < s->n_excluded; k++) {
        if (s->excluded[k] == must)
            return false;
    }
    for (size_t k = 0; run->goal == SEARCH_CHEAPEST && k < s->n_pool; k++) {
        if (s->pool[k].touched == must && s->pool[k].cost - 1 < run->allowance)
            run->allowance = s->pool[k].cost - 1;
    }
    return true;
}

static bool narrow(struct run *run)
{
    struct search *s = run->s;
    bool changed = true;
    for (int sweep = 0; changed && sweep < SWEEPS_MAX; sweep++) {
        changed = false;
        for (size_t r = 0; r < s->n_live; r++) {
            if (!sweep_row(s, r, &changed))
                return false;
        }
        if (run->allowance != SEARCH_NO_BUDGET && !sweep_cost(run, &changed))
            return false;
        if (run->use_twins && !sweep_twins(s, &changed))
            return false;
    }
    return allows_some_set(run);
}

/* Puts a plan into the pool in order of cost; each touched set has one place, and there are `room` of them. False when it is no
 * gain. */
static bool keep(struct search *s, size_t room, const int32_t *x, uint32_t touched, int64_t cost)
{
    size_t at = s->n_pool;
    for (size_t k = 0; k < s->n_pool; k++) {
        if (s->pool[k].touched == touched)
            at = k;
    }
    if (at == s->n_pool && s->n_pool == room)
        at = room - 1;
    if (at < s->n_pool && cost >= s->pool[at].cost)
        return false;
    if (at == s->n_pool)
        s->n_pool++;
    while (at > 0 && s->pool[at - 1].cost > cost) {
        s->pool[at] = s->pool[at - 1];
        at--;
    }
    s->pool[at].touched = touched;
    s->pool[at].cost = cost;
    memcpy(s->pool[at].x, x, s->n_cols * sizeof *x);
    return true;
}

/* Keeps x when it is a plan within excess and budget that is not excluded, and of use. */
static bool offer(struct run *run, const int32_t *x)
{
    struct search *s = run->s;
    int64_t cost = search_cost(s, x);
    if (run->allowance != SEARCH_NO_BUDGET && cost > run->allowance)
        return false;
    int64_t excess = search_excess(s, x);
    if (excess > run->excess)
        return false;
    uint32_t touched = search_touched(s, x);
    for (size_t k = 0; k < s->n_excluded; k++) {
        if (s->excluded[k] == touched)
            return false;
    }
    if (run->goal == SEARCH_CHEAPEST) {
        if (!keep(s, s->n_wanted, x, touched, cost))
            return false;
        if (s->n_pool == s->n_wanted)
            run->budget = s->pool[s->n_pool - 1].cost - 1;
        return true;
    }
    s->n_pool = 0;
    (void)keep(s, 1, x, touched, cost);
    if (run->goal == SEARCH_LEAST) {
        run->excess = excess - 1;
        run->is_over = excess <= run->floor || !set_excess(s, run->excess);
    }
    return true;
}

/* The relaxation of the node: the cost of a side that may rest at 0 is its chord, the best convex estimate. Returns the
 * cost of the moves that must be made anyhow, which the relaxation leaves out. */
static double load_relaxation(struct run *run)
{
    struct search *s = run->s;
    struct relax *lp = &s->lp;
    double base = 0;
    for (size_t j = 0; j < s->n_cols; j++) {
        const struct search_move *m = &s->move[j];
        int32_t lo = s->lo[j], hi = s->hi[j];
        struct relax_var *v = &lp->var[j];
        v->lo = lo;
        v->hi = hi;
        v->up = v->down = 0;
        if (!run->has_cost)
            continue;
        bool must_move = lo > 0 || hi < 0;
        base += must_move ? (double)m->setup : 0;
        double share = must_move ? 0 : (double)m->setup;
        v->up = (double)m->step + (hi > 0 ? share / hi : 0);
        v->down = (double)m->step + (lo < 0 ? share / -lo : 0);
    }
    return base;
}

/* Rounds the multipliers to whole numbers Y = y K with the largest near 2^34, K a power of two (0 when the multipliers show
 * that rows cannot be met, where costs do not matter). */
static wide whole_multipliers(struct search *s, bool is_ray)
{
    double largest = 0;
    for (size_t r = 0; r < s->n_live; r++) {
        s->lp_y[r] *= s->scale[r];
        double size = s->lp_y[r] < 0 ? -s->lp_y[r] : s->lp_y[r];
        largest = size > largest ? size : largest;
    }
    double k = 1;
    if (!(largest < 1e30) || largest < 1e-30)
        k = 0; /* nonsense or nothing: all multipliers 0 is a valid, if weak, choice */
    else if (is_ray) {
        while (largest * k < 8589934592.0)
            k *= 2;
        while (largest * k > 34359738368.0)
            k /= 2;
    } else {
        while (largest * k < 8589934592.0 && k < 1125899906842624.0)
            k *= 2;
    }
    if (largest * k > 1e12)
        k = 0; /* sums below stay inside 128 bits: 2^40 x 2^52 (reach) x 2^6 (rows), and K x 2^54 (all costs) */
    for (size_t r = 0; r < s->n_live; r++) {
        double y = s->lp_y[r] * k;
        s->multiplier[r] = k > 0 ? (int64_t)(y + (y < 0 ? -0.5 : 0.5)) : 0;
    }
    if (is_ray)
        return 0;
    return k > 0 ? (wide)k : 1;
}

static wide move_term(const struct search_move *m, wide k, wide weight, int32_t v)
{
    return k * move_cost(m, v) + weight * v;
}

static wide least_term(const struct search *s, size_t j, wide k, wide weight)
{
    const struct search_move *m = &s->move[j];
    int32_t lo = s->lo[j], hi = s->hi[j];
    wide best = move_term(m, k, weight, lo);
    wide other = move_term(m, k, weight, hi);
    best = other < best ? other : best;
    /* On each side of 0 the term is linear, so its ends and 0 itself are all that can be least. */
    const int32_t inner[3] = {-1, 0, 1};
    for (int i = 0; i < 3; i++) {
        if (inner[i] < lo || inner[i] > hi)
            continue;
        other = move_term(m, k, weight, inner[i]);
        best = other < best ? other : best;
    }
    return best;
}

/* Values of move j whose term alone passes `most` cannot be in a plan that matters. Trims both ends. */
static void trim_move(struct search *s, size_t j, wide k, wide weight, wide most)
{
    const struct search_move *m = &s->move[j];
    int32_t lo = s->lo[j], hi = s->hi[j];
    while (hi > lo && move_term(m, k, weight, hi) > most) {
        /* linear beyond 0: when both ends of the side are too dear, so is all between */
        if (hi > 1 && move_term(m, k, weight, lo > 1 ? lo : 1) > most)
            hi = lo > 1 ? lo : 1;
        else
            hi--;
    }
    while (lo < hi && move_term(m, k, weight, lo) > most) {
        if (lo < -1 && move_term(m, k, weight, hi < -1 ? hi : -1) > most)
            lo = hi < -1 ? hi : -1;
        else
            lo++;
    }
    s->lo[j] = lo;
    s->hi[j] = hi;
}

/* The Lagrangian bound in integers. True when the node holds no plan that matters. Otherwise trims the box; *ret_bound is
 * the least cost of any plan in it (0 for a ray). */
static bool bound_kills(struct run *run, bool is_ray, int64_t *ret_bound)
{
    struct search *s = run->s;
    wide weight[SEARCH_COLS_MAX], term[SEARCH_COLS_MAX];
    wide k = whole_multipliers(s, is_ray);
    memset(weight, 0, s->n_cols * sizeof *weight);
    wide bound = 0;
    for (size_t r = 0; r < s->n_live; r++) {
        int64_t y = s->multiplier[r];
        if (y == 0)
            continue;
        bound -= (wide)y * (y > 0 ? s->q_hi[r] : s->q_lo[r]);
        const int64_t *coef = s->coef + r * s->n_cols;
        for (size_t j = 0; j < s->n_cols; j++)
            weight[j] += (wide)y * coef[j];
    }
    for (size_t j = 0; j < s->n_cols; j++) {
        term[j] = least_term(s, j, k, weight[j]);
        bound += term[j];
    }
    *ret_bound = 0;
    if (is_ray)
        return bound > 0;
    if (bound > 0)
        *ret_bound = (int64_t)((bound + k - 1) / k);
    if (run->allowance == SEARCH_NO_BUDGET)
        return false;
    wide spare = k * run->allowance - bound;
    if (spare < 0)
        return true;
    for (size_t j = 0; j < s->n_cols; j++)
        trim_move(s, j, k, weight[j], term[j] + spare);
    return false;
}

/* ---- branching ------------------------------------------------------------------------------------------------- */

static void add_child(struct search_frame *f, int32_t lo, int32_t hi)
{
    if (lo > hi)
        return;
    f->child_lo[f->n_children] = lo;
    f->child_hi[f->n_children++] = hi;
}

static int32_t clamp_round(double x, int32_t lo, int32_t hi)
{
    double r = x + (x < 0 ? -0.5 : 0.5);
    if (r <= lo)
        return lo;
    if (r >= hi)
        return hi;
    return (int32_t)r;
}

static double distance_to_whole(double x)
{
    double f = x - (double)(int64_t)x;
    f = f < 0 ? -f : f;
    return f > 0.5 ? 1 - f : f;
}

/* How much the relaxation is mistaken about move j: the setup it left out, then how far from whole. */
static double mistake(const struct run *run, size_t j)
{
    const struct search *s = run->s;
    const struct search_move *m = &s->move[j];
    double x = s->lp_x[j], score = distance_to_whole(x);
    if (!run->has_cost || s->lo[j] > 0 || s->hi[j] < 0)
        return score < 1e-6 ? 0 : score;
    double size = x < 0 ? -x : x;
    double range = x < 0 ? -(double)s->lo[j] : (double)s->hi[j];
    if (size > 1e-6 && range > 0)
        score += (double)m->setup * (1 - size / range) + 1e-3;
    return score < 1e-6 ? 0 : score;
}

/* The move to split at this node; -1 when the box is a single plan. */
static int choose_column(const struct run *run)
{
    const struct search *s = run->s;
    int best = -1, widest = -1;
    double most = 0;
    for (size_t j = 0; j < s->n_cols; j++) {
        if (s->lo[j] == s->hi[j])
            continue;
        int32_t span = s->hi[j] - s->lo[j];
        if (widest < 0 || span > s->hi[widest] - s->lo[widest])
            widest = (int)j;
        double score = mistake(run, j);
        if (score > most) {
            most = score;
            best = (int)j;
        }
    }
    return best < 0 || run->depth >= FRAMES_DEEP ? widest : best;
}

static void split(const struct run *run, struct search_frame *f, int col)
{
    const struct search *s = run->s;
    int32_t lo = s->lo[col], hi = s->hi[col];
    double x = s->lp_x[col];
    f->col = col;
    f->n_children = f->next = 0;
    if (run->depth >= FRAMES_DEEP) {
        int32_t middle = lo + (hi - lo) / 2;
        add_child(f, lo, middle);
        add_child(f, middle + 1, hi);
        return;
    }
    int32_t at = clamp_round(x, lo, hi);
    bool may_rest = lo <= 0 && hi >= 0;
    if (run->has_cost && may_rest) {
        bool rests = at == 0;
        if (rests)
            add_child(f, 0, 0);
        add_child(f, x >= 0 ? 1 : lo, x >= 0 ? hi : -1);
        if (!rests)
            add_child(f, 0, 0);
        add_child(f, x >= 0 ? lo : 1, x >= 0 ? -1 : hi);
        return;
    }
    if (distance_to_whole(x) < 1e-6) {
        add_child(f, at, at);
        add_child(f, at + 1, hi);
        add_child(f, lo, at - 1);
        return;
    }
    int32_t below = at <= x ? at : at - 1;
    below = below < lo ? lo : below >= hi ? hi - 1 : below;
    if (at <= below) {
        add_child(f, lo, below);
        add_child(f, below + 1, hi);
    } else {
        add_child(f, below + 1, hi);
        add_child(f, lo, below);
    }
}

/* Works on the node at hand. True when it has to be split further. */
static bool visit(struct run *run, int64_t *ret_bound)
{
    struct search *s = run->s;
    s->nodes++;
    *ret_bound = 0;
    run->allowance = run->budget;
    if (!narrow(run))
        return false;
    double base = load_relaxation(run);
    double cutoff = RELAX_NO_CUTOFF;
    if (run->has_cost && run->allowance != SEARCH_NO_BUDGET)
        cutoff = (double)run->allowance - base + 1e-6 * (1 + (double)run->allowance);
    enum relax_end end = relax_solve(&s->lp, cutoff, s->lp_y, s->lp_x);
    if (bound_kills(run, end == RELAX_INFEASIBLE, ret_bound))
        return false;
    bool is_single = true;
    for (size_t j = 0; j < s->n_cols; j++) {
        is_single = is_single && s->lo[j] == s->hi[j];
        if (end == RELAX_INFEASIBLE)
            s->lp_x[j] = (double)s->lo[j];
        s->trial[j] = clamp_round(s->lp_x[j], s->lo[j], s->hi[j]);
    }
    if (is_single) {
        offer(run, s->trial);
        return false;
    }
    if (!offer(run, s->trial))
        return true;
    return run->goal == SEARCH_LEAST || (run->goal == SEARCH_CHEAPEST && *ret_bound <= run->budget);
}

static bool is_done(const struct run *run)
{
    return run->is_over || (run->s->n_pool > 0 && run->goal == SEARCH_ANY);
}

/* Puts the next child of the deepest open frame at hand; false when all is searched. */
static bool next_node(struct run *run)
{
    struct search *s = run->s;
    size_t size = s->n_cols * sizeof *s->lo;
    while (run->depth > 0) {
        struct search_frame *f = &s->frames[run->depth - 1];
        const int32_t *bounds = s->frame_bounds + (run->depth - 1) * 2 * s->n_cols;
        if (f->next == f->n_children) {
            run->depth--;
            continue;
        }
        memcpy(s->lo, bounds, size);
        memcpy(s->hi, bounds + s->n_cols, size);
        s->lo[f->col] = f->child_lo[f->next];
        s->hi[f->col] = f->child_hi[f->next];
        f->next++;
        return true;
    }
    return false;
}

static void open_frame(struct run *run)
{
    struct search *s = run->s;
    size_t size = s->n_cols * sizeof *s->lo;
    int col = choose_column(run);
    int32_t *bounds = s->frame_bounds + run->depth * 2 * s->n_cols;
    memcpy(bounds, s->lo, size);
    memcpy(bounds + s->n_cols, s->hi, size);
    split(run, &s->frames[run->depth], col);
    run->depth++;
}

/* Twins may only be told apart by their order while nothing else tells them apart. */
static bool is_whole_box(const struct search *s)
{
    for (size_t j = 0; j < s->n_cols; j++) {
        if (s->box_lo[j] != s->move[j].lo || s->box_hi[j] != s->move[j].hi)
            return false;
    }
    return true;
}

enum search_end search_run(struct search *s, enum search_goal goal, int64_t excess, int64_t budget,
                           int64_t floor, int32_t *ret_x, bool *ret_has)
{
    struct run run = {.s = s, .goal = goal, .excess = excess, .budget = budget, .floor = floor};
    run.has_cost = goal == SEARCH_CHEAPEST || budget != SEARCH_NO_BUDGET;
    run.use_twins =
        s->n_excluded == 0 && is_whole_box(s) && (goal != SEARCH_CHEAPEST || s->n_wanted == 1);
    s->n_pool = 0;
    *ret_has = false;
    s->bound_cost = 0;
    if (!set_excess(s, excess))
        return SEARCH_NONE;
    for (size_t j = 0; j < s->n_cols; j++) {
        s->lo[j] = s->box_lo[j];
        s->hi[j] = s->box_hi[j];
    }
    bool is_root = true, is_stopped = false;
    do {
        int64_t bound;
        if (s->nodes >= s->node_limit) {
            is_stopped = true;
            break;
        }
        bool goes_on = visit(&run, &bound);
        if (is_root)
            s->bound_cost = bound;
        is_root = false;
        if (is_done(&run))
            break;
        if (goes_on)
            open_frame(&run);
    } while (next_node(&run));
    if (s->n_pool > 0) {
        memcpy(ret_x, s->pool[0].x, s->n_cols * sizeof *ret_x);
        *ret_has = true;
    }
    if (is_stopped)
        return SEARCH_STOPPED;
    if (s->n_pool > 0 && goal == SEARCH_CHEAPEST)
        s->bound_cost = s->pool[0].cost;
    return s->n_pool > 0 ? SEARCH_FOUND : SEARCH_NONE;
}

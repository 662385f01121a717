/* search: owns the exact branch and bound over whole-step moves; search.h states the method.
 *
 * Invariants. The node at hand is the box lo..hi. Every plan within excess and budget that is not excluded lies in the node
 * at hand, in a child of an open frame not yet visited, or has been shown not to matter (dearer than the best known, or a
 * twin of one that is kept). Only integer arithmetic removes anything. */
#include "core/search.h"

#include "core/align.h"

#include <string.h>

enum {
    FRAMES_MAX = 1024,
    /* From this depth on boxes are halved: 32 moves of 20 001 values then end before FRAMES_MAX. */
    FRAMES_DEEP = 480,
    /* Frames that keep their basis; deeper ones go on from whatever basis is at hand. */
    SAVED_MAX = 64,
    CHILDREN_MAX = 3,
    SWEEPS_MAX = 12,
    /* Measured: 16 to 256 are all near the best. */
    LISTED_MAX = 64
};

struct search_frame {
    int col;
    int n_children, next;
    int32_t child_lo[CHILDREN_MAX], child_hi[CHILDREN_MAX];
};

size_t search_size(size_t n_rows, size_t n_cols)
{
    size_t words = n_rows;
    size_t doubles = n_rows + n_rows * n_cols + n_rows + 2 * n_cols;
    size_t ints = n_cols * 6 + (size_t)FRAMES_MAX * 2 * n_cols;
    return rows_size(n_rows, n_cols) + words * sizeof(int64_t) + doubles * sizeof(double) +
           align8(FRAMES_MAX * sizeof(struct search_frame)) + align8(ints * sizeof(int32_t)) +
           relax_size(n_rows, n_cols) + SAVED_MAX * relax_saved_size(n_rows, n_cols);
}

/* ---- set-up ---------------------------------------------------------------------------------------------------- */

static bool are_alike(const struct search *s, size_t a, size_t b)
{
    const struct move *p = &s->move[a], *q = &s->move[b];
    const size_t n = s->rows.n_rows;
    if (p->lo != q->lo || p->hi != q->hi || p->setup != q->setup || p->step != q->step)
        return false;
    return memcmp(s->rows.effect + a * n, s->rows.effect + b * n, n * sizeof *s->rows.effect) == 0;
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

/* The rows as the relaxation sees them: doubles, each scaled so that its largest coefficient is 1. */
static void scale_rows(struct search *s)
{
    const struct rows *rows = &s->rows;
    for (size_t r = 0; r < rows->n_live; r++) {
        double largest = 1;
        for (size_t j = 0; j < s->n_cols; j++) {
            double c = (double)rows->coef[j * rows->n_live + r];
            s->lp_coef[r * s->n_cols + j] = c;
            c = c < 0 ? -c : c;
            largest = c > largest ? c : largest;
        }
        s->scale[r] = 1 / largest;
        for (size_t j = 0; j < s->n_cols; j++)
            s->lp_coef[r * s->n_cols + j] *= s->scale[r];
    }
}

void search_init(struct search *s, size_t n_rows, size_t n_cols, const int64_t *start,
                 const struct conform_limits *limits, const int64_t *effect,
                 const struct move *move, int64_t node_limit, void *memory)
{
    char *bytes = memory;
    memset(s, 0, sizeof *s);
    rows_init(&s->rows, n_rows, n_cols, start, limits, effect, move, bytes);
    bytes += rows_size(n_rows, n_cols);
    s->n_cols = n_cols;
    s->move = move;
    s->node_limit = node_limit;
    s->n_wanted = 1;

    s->bound = (struct lagrange){&s->rows, move, (int64_t *)(void *)bytes};
    double *d = (double *)(void *)(bytes + n_rows * sizeof(int64_t));
    s->scale = d, d += n_rows;
    s->lp_coef = d, d += n_rows * n_cols;
    s->lp_y = d, d += n_rows;
    s->lp_x = d, d += n_cols;
    s->impact = d, d += n_cols;
    s->frames = (struct search_frame *)(void *)d;
    bytes = (char *)d + align8(FRAMES_MAX * sizeof(struct search_frame));
    int32_t *v = (int32_t *)(void *)bytes;
    s->lo = v, v += n_cols;
    s->hi = v, v += n_cols;
    s->trial = v, v += n_cols;
    s->twin = v, v += n_cols;
    s->box_lo = v, v += n_cols;
    s->box_hi = v, v += n_cols;
    s->frame_bounds = v;
    bytes += align8((n_cols * 6 + (size_t)FRAMES_MAX * 2 * n_cols) * sizeof(int32_t));

    for (size_t j = 0; j < n_cols; j++) {
        s->box_lo[j] = move[j].lo;
        s->box_hi[j] = move[j].hi;
    }
    scale_rows(s);
    find_twins(s);
    relax_init(&s->lp, s->rows.n_live, n_cols, s->lp_coef, bytes);
    s->saved = bytes + relax_size(n_rows, n_cols);
    s->saved_size = relax_saved_size(n_rows, n_cols);
}

/* ---- the run --------------------------------------------------------------------------------------------------- */

struct run {
    struct search *s;
    enum search_goal goal;
    int64_t excess;
    /* Shrinks as cheaper plans are found. */
    int64_t budget;
    /* Of the node at hand: the budget, or less where its touched set is in the pool. */
    int64_t allowance;
    /* The relaxation minimises cost; else it only asks whether the rows can be met. */
    bool has_cost;
    bool use_twins;
    /* SEARCH_LEAST: an excess of this or less is as good as it needs to be. */
    int64_t floor;
    /* Nothing better can exist. */
    bool is_over;
    size_t depth;
};

/* How much a step of each move uses up of what its rows allow: the moves to split first. */
static void weigh_moves(struct search *s)
{
    memset(s->impact, 0, s->n_cols * sizeof *s->impact);
    for (size_t r = 0; r < s->rows.n_live; r++) {
        double room = (double)(s->rows.q_hi[r] - s->rows.q_lo[r] + 1) * s->scale[r];
        for (size_t j = 0; j < s->n_cols; j++) {
            double c = s->lp_coef[r * s->n_cols + j];
            s->impact[j] += (c < 0 ? -c : c) / room;
        }
    }
}

/* Rows for plans of at most this excess, also for the relaxation; false when there can be none. */
static bool allow_excess(struct search *s, int64_t excess)
{
    if (!rows_allow(&s->rows, excess))
        return false;
    for (size_t r = 0; r < s->rows.n_live; r++) {
        struct relax_var *v = &s->lp.var[s->n_cols + r];
        v->lo = (double)s->rows.q_lo[r] * s->scale[r];
        v->hi = (double)s->rows.q_hi[r] * s->scale[r];
    }
    weigh_moves(s);
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
        if (!rows_narrow(&s->rows, s->lo, s->hi, &changed))
            return false;
        if (run->allowance != SEARCH_NO_BUDGET &&
            !moves_narrow(s->move, s->n_cols, run->allowance, s->lo, s->hi, &changed))
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
    int64_t cost = moves_cost(s->move, s->n_cols, x);
    if (run->allowance != SEARCH_NO_BUDGET && cost > run->allowance)
        return false;
    int64_t excess = rows_excess(&s->rows, x);
    if (excess > run->excess)
        return false;
    uint32_t touched = moves_touched(x, s->n_cols);
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
        run->is_over = excess <= run->floor || !allow_excess(s, run->excess);
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
        const struct move *m = &s->move[j];
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

/* How much splitting move j promises: where cost counts and the move may rest, the setup the relaxation left out; else, for one that
 * is not whole, its impact (both measured against how far from whole, and found to need fewer nodes). */
static double promise(const struct run *run, size_t j)
{
    const struct search *s = run->s;
    const struct move *m = &s->move[j];
    double x = s->lp_x[j], score = distance_to_whole(x);
    if (!run->has_cost || s->lo[j] > 0 || s->hi[j] < 0)
        return score < 1e-6 ? 0 : s->impact[j];
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
        double score = promise(run, j);
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

static bool is_done(const struct run *run)
{
    return run->is_over || (run->s->n_pool > 0 && run->goal == SEARCH_ANY);
}

/* Whether the box holds at most LISTED_MAX plans: then to list them is quicker than to bound them. */
static bool is_small(const struct search *s)
{
    int64_t n = 1;
    for (size_t j = 0; j < s->n_cols; j++) {
        n *= s->hi[j] - s->lo[j] + 1;
        if (n > LISTED_MAX)
            return false;
    }
    return true;
}

/* Offers every plan of the box, counting through it like an odometer. */
static void list_box(struct run *run)
{
    struct search *s = run->s;
    int64_t value[ROWS_MAX] = {0};
    for (size_t j = 0; j < s->n_cols; j++) {
        s->trial[j] = s->lo[j];
        rows_shift(&s->rows, value, j, s->lo[j]);
    }
    for (;;) {
        if (rows_are_met(&s->rows, value))
            (void)offer(run, s->trial);
        if (is_done(run))
            return;
        size_t j = 0;
        while (j < s->n_cols && s->trial[j] == s->hi[j]) {
            rows_shift(&s->rows, value, j, s->lo[j] - s->hi[j]);
            s->trial[j] = s->lo[j];
            j++;
        }
        if (j == s->n_cols)
            return;
        s->trial[j]++;
        rows_shift(&s->rows, value, j, 1);
    }
}

/* Takes the relaxed plan into the box (it may have left it by trimming, or by an iteration that stalled) and rounds it. */
static void read_relaxation(struct search *s, bool is_ray)
{
    for (size_t j = 0; j < s->n_cols; j++) {
        double lo = s->lo[j], hi = s->hi[j];
        if (is_ray || !(s->lp_x[j] > lo))
            s->lp_x[j] = lo;
        else if (s->lp_x[j] > hi)
            s->lp_x[j] = hi;
        s->trial[j] = clamp_round(s->lp_x[j], s->lo[j], s->hi[j]);
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
    if (is_small(s)) {
        list_box(run);
        return false;
    }
    double base = load_relaxation(run);
    double cutoff = RELAX_NO_CUTOFF;
    if (run->has_cost && run->allowance != SEARCH_NO_BUDGET)
        cutoff = (double)run->allowance - base + 1e-6 * (1 + (double)run->allowance);
    bool is_ray = relax_solve(&s->lp, cutoff, s->lp_y, s->lp_x) == RELAX_INFEASIBLE;
    for (size_t r = 0; r < s->rows.n_live; r++)
        s->lp_y[r] *= s->scale[r];
    if (lagrange_kills(&s->bound, s->lp_y, is_ray, run->allowance, s->lo, s->hi, ret_bound)) {
        if (is_ray)
            rows_learn(&s->rows, s->bound.multiplier);
        return false;
    }
    if (is_small(s)) {
        list_box(run);
        return false;
    }
    read_relaxation(s, is_ray);
    if (!offer(run, s->trial))
        return true;
    return run->goal == SEARCH_LEAST || (run->goal == SEARCH_CHEAPEST && *ret_bound <= run->budget);
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
        if (f->next > 1 && run->depth <= SAVED_MAX)
            relax_load(&s->lp, s->saved + (run->depth - 1) * s->saved_size);
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
    if (run->depth < SAVED_MAX)
        relax_save(&s->lp, s->saved + run->depth * s->saved_size);
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
    rows_forget(&s->rows);
    if (!allow_excess(s, excess))
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

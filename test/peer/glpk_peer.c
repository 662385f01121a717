/* glpk_peer: owns the translation of a truing problem to GLPK. Lengths go in as millimetres from the reading, so that
 * GLPK's tolerances (1e-7 relative) stand for a few nanometres at most. */
#include "glpk_peer.h"

#include <glpk.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { STAGE_VIOLATION, STAGE_COST, STAGE_MARGIN };

static double mm(int64_t nm)
{
    return (double)nm / 1e6;
}

struct model {
    glp_prob *lp;
    const struct truing_problem *problem;
    int col_slack; /* violation, or minus the margin */
    int col_up[TRUING_ADJUSTERS_MAX], col_down[TRUING_ADJUSTERS_MAX];
    int bin_up[TRUING_ADJUSTERS_MAX], bin_down[TRUING_ADJUSTERS_MAX];
};

static void add_row(glp_prob *lp, int type, double lo, double hi, int n, const int *ind,
                    const double *val)
{
    int row = glp_add_rows(lp, 1);
    glp_set_row_bnds(lp, row, type, lo, hi);
    glp_set_mat_row(lp, row, n, ind, val);
}

/* steps <= range x moved, steps >= moved: a touched adjuster really moves. */
static int add_side(struct model *m, int range, int *ret_bin)
{
    int col = glp_add_cols(m->lp, 2), bin = col + 1;
    glp_set_col_kind(m->lp, col, GLP_IV);
    glp_set_col_bnds(m->lp, col, range > 0 ? GLP_DB : GLP_FX, 0, range);
    glp_set_col_kind(m->lp, bin, GLP_BV);
    if (range == 0)
        glp_set_col_bnds(m->lp, bin, GLP_FX, 0, 0);
    int ind[3] = {0, col, bin};
    double most[3] = {0, 1, -range}, least[3] = {0, 1, -1};
    add_row(m->lp, GLP_UP, 0, 0, 2, ind, most);
    add_row(m->lp, GLP_LO, 0, 0, 2, ind, least);
    *ret_bin = bin;
    return col;
}

static void add_limits(struct model *m, const struct conform_limits *guarded)
{
    const struct truing_problem *p = m->problem;
    int ind[2 + 2 * TRUING_ADJUSTERS_MAX];
    double val[2 + 2 * TRUING_ADJUSTERS_MAX];
    for (size_t i = 0; i < p->n_points; i++) {
        int n = 0;
        for (size_t a = 0; a < p->n_adjusters; a++) {
            double e = mm(p->effect[a * p->n_points + i]);
            if (e == 0)
                continue;
            ind[++n] = m->col_up[a];
            val[n] = e;
            ind[++n] = m->col_down[a];
            val[n] = -e;
        }
        ind[++n] = m->col_slack;
        val[n] = -1;
        add_row(m->lp, GLP_UP, 0, mm(guarded[i].high - p->points[i].reading), n, ind, val);
        val[n] = 1;
        add_row(m->lp, GLP_LO, mm(guarded[i].low - p->points[i].reading), 0, n, ind, val);
    }
}

static void exclude(struct model *m, uint32_t touched)
{
    const struct truing_problem *p = m->problem;
    int ind[1 + 2 * TRUING_ADJUSTERS_MAX], n = 0, n_in = 0;
    double val[1 + 2 * TRUING_ADJUSTERS_MAX];
    for (size_t a = 0; a < p->n_adjusters; a++) {
        bool is_in = touched >> a & 1;
        n_in += is_in;
        ind[++n] = m->bin_up[a];
        val[n] = is_in ? 1 : -1;
        ind[++n] = m->bin_down[a];
        val[n] = is_in ? 1 : -1;
    }
    add_row(m->lp, GLP_UP, 0, n_in - 1, n, ind, val);
}

static void add_cost_limit(struct model *m, double most)
{
    const struct truing_problem *p = m->problem;
    int ind[1 + 4 * TRUING_ADJUSTERS_MAX], n = 0;
    double val[1 + 4 * TRUING_ADJUSTERS_MAX];
    for (size_t a = 0; a < p->n_adjusters; a++) {
        const struct truing_adjuster *adj = &p->adjusters[a];
        ind[++n] = m->col_up[a], val[n] = (double)adj->step_s;
        ind[++n] = m->col_down[a], val[n] = (double)adj->step_s;
        ind[++n] = m->bin_up[a], val[n] = (double)adj->setup_s;
        ind[++n] = m->bin_down[a], val[n] = (double)adj->setup_s;
    }
    add_row(m->lp, GLP_UP, 0, most, n, ind, val);
}

static void build(struct model *m, const struct truing_problem *p,
                  const struct conform_limits *guarded, const uint32_t *excluded, size_t n_excluded)
{
    m->problem = p;
    m->lp = glp_create_prob();
    m->col_slack = glp_add_cols(m->lp, 1);
    glp_set_col_bnds(m->lp, m->col_slack, GLP_LO, 0, 0);
    for (size_t a = 0; a < p->n_adjusters; a++) {
        m->col_up[a] = add_side(m, p->adjusters[a].max, &m->bin_up[a]);
        m->col_down[a] = add_side(m, -p->adjusters[a].min, &m->bin_down[a]);
        int ind[3] = {0, m->bin_up[a], m->bin_down[a]};
        double val[3] = {0, 1, 1};
        add_row(m->lp, GLP_UP, 0, 1, 2, ind, val);
    }
    add_limits(m, guarded);
    for (size_t k = 0; k < n_excluded; k++)
        exclude(m, excluded[k]);
}

static void set_objective(struct model *m, int stage)
{
    const struct truing_problem *p = m->problem;
    glp_set_obj_dir(m->lp, GLP_MIN);
    for (int c = 1; c <= glp_get_num_cols(m->lp); c++)
        glp_set_obj_coef(m->lp, c, 0);
    if (stage != STAGE_COST) {
        glp_set_obj_coef(m->lp, m->col_slack, 1);
        return;
    }
    for (size_t a = 0; a < p->n_adjusters; a++) {
        glp_set_obj_coef(m->lp, m->col_up[a], (double)p->adjusters[a].step_s);
        glp_set_obj_coef(m->lp, m->col_down[a], (double)p->adjusters[a].step_s);
        glp_set_obj_coef(m->lp, m->bin_up[a], (double)p->adjusters[a].setup_s);
        glp_set_obj_coef(m->lp, m->bin_down[a], (double)p->adjusters[a].setup_s);
    }
}

static double cpu_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

/* GLPK's own limit is by the clock on the wall, which runs while other programs have the processor. */
static void stop_in_time(glp_tree *tree, void *me)
{
    const double *end_ms = me;
    if (cpu_ms() > *end_ms)
        glp_ios_terminate(tree);
}

/* 1 solved, 0 no solution, -1 out of time. */
static int solve(struct model *m, int limit_ms)
{
    glp_iocp io;
    glp_init_iocp(&io);
    io.msg_lev = GLP_MSG_OFF;
    io.presolve = GLP_ON;
    double end_ms = cpu_ms() + limit_ms;
    io.cb_func = stop_in_time;
    io.cb_info = &end_ms;
    int rc = glp_intopt(m->lp, &io);
    if (rc == GLP_ENOPFS || rc == GLP_ENODFS)
        return 0;
    if (rc != 0)
        return -1;
    int status = glp_mip_status(m->lp);
    return status == GLP_OPT ? 1 : status == GLP_NOFEAS ? 0 : -1;
}

static void read_plan(const struct model *m, const struct conform_limits *guarded,
                      struct peer_plan *ret)
{
    const struct truing_problem *p = m->problem;
    ret->cost_s = 0;
    for (size_t a = 0; a < p->n_adjusters; a++) {
        double net = glp_mip_col_val(m->lp, m->col_up[a]) - glp_mip_col_val(m->lp, m->col_down[a]);
        ret->x[a] = (int32_t)lround(net);
        if (ret->x[a] != 0)
            ret->cost_s += p->adjusters[a].setup_s + p->adjusters[a].step_s * labs(ret->x[a]);
    }
    ret->violation = 0;
    ret->margin = INT64_MAX;
    for (size_t i = 0; i < p->n_points; i++) {
        int64_t value = p->points[i].reading;
        for (size_t a = 0; a < p->n_adjusters; a++)
            value += p->effect[a * p->n_points + i] * ret->x[a];
        int64_t above = guarded[i].high - value, below = value - guarded[i].low;
        int64_t margin = above < below ? above : below;
        if (margin < ret->margin)
            ret->margin = margin;
    }
    if (ret->margin < 0)
        ret->violation = -ret->margin;
}

void peer_plan(const struct truing_problem *problem, const struct conform_limits *guarded,
               const uint32_t *excluded, size_t n_excluded, int limit_ms, struct peer_plan *ret)
{
    struct model m;
    memset(ret, 0, sizeof *ret);
    glp_term_out(GLP_OFF);
    build(&m, problem, guarded, excluded, n_excluded);

    set_objective(&m, STAGE_VIOLATION);
    int end = solve(&m, limit_ms);
    if (end != 1) {
        ret->is_optimal = end == 0;
        goto done;
    }
    ret->has_plan = true;
    ret->solver_violation_mm = glp_mip_col_val(m.lp, m.col_slack);
    read_plan(&m, guarded, ret);
    int64_t violation = ret->violation;

    /* One nanometre of room: the limit itself must not be cut off by rounding. */
    double most = mm(violation) + 1e-6;
    glp_set_col_bnds(m.lp, m.col_slack, GLP_DB, 0, most);
    set_objective(&m, STAGE_COST);
    end = solve(&m, limit_ms);
    if (end != 1)
        goto done;
    read_plan(&m, guarded, ret);
    if (violation > 0) {
        ret->is_optimal = true;
        goto done;
    }
    add_cost_limit(&m, (double)ret->cost_s + 0.25);
    glp_set_col_bnds(m.lp, m.col_slack, GLP_DB, -100, 0);
    set_objective(&m, STAGE_MARGIN);
    end = solve(&m, limit_ms);
    if (end != 1)
        goto done;
    ret->solver_margin_mm = -glp_mip_col_val(m.lp, m.col_slack);
    read_plan(&m, guarded, ret);
    ret->is_optimal = true;
done:
    glp_delete_prob(m.lp);
}

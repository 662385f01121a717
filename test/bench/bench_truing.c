/* bench_truing: truing against GLPK on the same seeded instances, in one run, in turns. CPU time of the one thread, so that
 * what else the machine does counts for neither. Each answer is compared as well: a fast wrong answer would show.
 * Arguments: INSTANCES a family (40), PLANS (3). */
#include "glpk_peer.h"
#include "instances.h"

#include <stdlib.h>
#include <time.h>

#include <stdio.h>

enum { LIMIT_MS = 60000, ROUNDS = 3, LONG_MS = 200 };

static double cpu_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *v, size_t n)
{
    qsort(v, n, sizeof *v, by_size);
    return n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

/* Best of ROUNDS: the first one also warms the caches up. */
static double time_ours(const struct truing_problem *p, void *workspace, size_t size,
                        struct truing_answer *answer)
{
    double best = 1e300;
    for (int i = 0; i < ROUNDS; i++) {
        size_t at;
        double start = cpu_ms();
        if (truing_solve(p, workspace, size, answer, &at) != ERR_OK)
            abort();
        double took = cpu_ms() - start;
        best = took < best ? took : best;
    }
    return best;
}

/* The peer's time for as many plans; *ret_same: the same figures, or the peer ran out of time. */
static double time_peer_once(const struct truing_problem *p, const struct truing_answer *answer,
                             bool *ret_same, bool *ret_is_late)
{
    uint32_t excluded[TRUING_PLANS_MAX];
    double start = cpu_ms();
    *ret_same = true;
    *ret_is_late = false;
    for (size_t k = 0; k < p->n_plans; k++) {
        struct peer_plan peer;
        peer_plan(p, answer->guarded, excluded, k, LIMIT_MS, &peer);
        if (!peer.is_optimal) {
            *ret_is_late = true;
            break;
        }
        if (!peer.has_plan || k >= answer->n_plans)
            break;
        const struct truing_plan *ours = &answer->plans[k];
        *ret_same = *ret_same && ours->worst_violation == peer.violation &&
                    ours->cost_s == peer.cost_s && ours->least_margin == peer.margin;
        excluded[k] = 0;
        for (size_t a = 0; a < p->n_adjusters; a++)
            excluded[k] |= ours->steps[a] != 0 ? UINT32_C(1) << a : 0;
    }
    return cpu_ms() - start;
}

/* Best of ROUNDS too, but for what takes so long that a warm cache cannot matter. */
static double time_peer(const struct truing_problem *p, const struct truing_answer *answer,
                        bool *ret_same, bool *ret_is_late)
{
    double best = time_peer_once(p, answer, ret_same, ret_is_late);
    for (int i = 1; i < ROUNDS && best < LONG_MS; i++) {
        double took = time_peer_once(p, answer, ret_same, ret_is_late);
        best = took < best ? took : best;
    }
    return best;
}

static void row(const char *name, double *ours, double *peer, double *ratio, size_t n, double worst)
{
    double mid_ours = median(ours, n), mid_peer = median(peer, n);
    printf("  %-7s %5zu   %9.3f ms %9.2f ms   %9.2f ms %9.1f ms   %6.0f x %6.0f x\n", name, n,
           mid_ours, worst, mid_peer, peer[n - 1], median(ratio, n), mid_peer / mid_ours);
}

int main(int argc, char **argv)
{
    size_t each = argc > 1 ? (size_t)atoi(argv[1]) : 40,
           n_plans = argc > 2 ? (size_t)atoi(argv[2]) : 3;
    size_t size = truing_workspace(12, 14), n_all = 0;
    void *workspace = malloc(size);
    double *v = malloc(3 * each * sizeof *v + 2 * each * INSTANCE_N * sizeof *v);
    static struct truing_answer answer;
    int n_different = 0, n_late = 0, n_unproved = 0;
    if (each == 0 || each > 100000 || n_plans == 0 || n_plans > TRUING_PLANS_MAX || !workspace ||
        !v)
        return 2;
    double *ours = v, *peer = v + each, *ratio = v + 2 * each, *all = v + 3 * each;
    double *all_ours = all, *all_peer = all + each * INSTANCE_N,
           *all_ratio = malloc(each * INSTANCE_N * sizeof *v);
    double worst_of_all = 0;
    if (!all_ratio)
        return 2;
    printf("  8-12 points, 4-14 adjusters, %zu plans; CPU time\n", n_plans);
    printf("  family   runs   ours: median     worst   GLPK: median     worst   ratio: median  of "
           "medians\n");
    for (int f = 0; f < INSTANCE_N; f++) {
        double worst = 0;
        size_t n = 0;
        for (uint64_t seed = 1; n < each; seed++) {
            static struct instance in;
            bool is_same, is_late;
            instance_make(seed, (enum instance_family)f, &in);
            in.problem.n_plans = n_plans;
            ours[n] = time_ours(&in.problem, workspace, size, &answer);
            if (answer.worst_violation == 0)
                continue; /* inside already: nothing to compare */
            peer[n] = time_peer(&in.problem, &answer, &is_same, &is_late);
            n_different += !is_same;
            n_late += is_late;
            n_unproved += !answer.is_proved;
            worst = ours[n] > worst ? ours[n] : worst;
            ratio[n] = peer[n] / ours[n];
            all_ours[n_all] = ours[n];
            all_peer[n_all] = peer[n];
            all_ratio[n_all++] = ratio[n];
            n++;
        }
        worst_of_all = worst > worst_of_all ? worst : worst_of_all;
        row(instance_family_name((enum instance_family)f), ours, peer, ratio, n, worst);
        fflush(stdout);
    }
    row("all", all_ours, all_peer, all_ratio, n_all, worst_of_all);
    printf("  %d answers differ, %d not proved, GLPK out of time (%d s a stage) on %d\n",
           n_different, n_unproved, LIMIT_MS / 1000, n_late);
    free(all_ratio);
    free(v);
    free(workspace);
    return n_different || n_unproved;
}

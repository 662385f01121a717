/* bench_truing: truing against GLPK on the same seeded instances, in one run, in turns. CPU time of the one thread, so that
 * what else the machine does counts for neither. Each answer is compared as well: a fast wrong answer would show.
 * Arguments: INSTANCES a family (40), PLANS (3). */
#include "glpk_peer.h"
#include "instances.h"

#include <stdlib.h>
#include <time.h>

#include <stdio.h>

enum { LIMIT_MS = 60000, ROUNDS = 3, LONG_MS = 200, EACH_MAX = 1000 };

static char arena[4 * 1024 * 1024];

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

struct series {
    size_t n;
    double worst;
    double *ours, *peer, *ratio;
};

struct faults {
    int n_different, n_late, n_unproved;
};

static void add(struct series *s, double ours, double peer)
{
    s->ours[s->n] = ours;
    s->peer[s->n] = peer;
    s->ratio[s->n++] = peer / ours;
    s->worst = ours > s->worst ? ours : s->worst;
}

static void print_row(const char *name, struct series *s)
{
    double mid_ours = median(s->ours, s->n), mid_peer = median(s->peer, s->n);
    printf("  %-7s %5zu   %9.3f ms %9.2f ms   %9.2f ms %9.1f ms   %6.0f x %6.0f x\n", name, s->n,
           mid_ours, s->worst, mid_peer, s->peer[s->n - 1], median(s->ratio, s->n),
           mid_peer / mid_ours);
    fflush(stdout);
}

/* `each` instances of a family that need work, measured both ways. */
static void run_family(enum instance_family f, size_t each, size_t n_plans, struct series *one,
                       struct series *all, struct faults *faults)
{
    static struct truing_answer answer;
    static struct instance in;
    for (uint64_t seed = 1; one->n < each; seed++) {
        bool is_same, is_late;
        instance_make(seed, f, &in);
        in.problem.n_plans = n_plans;
        double ours = time_ours(&in.problem, arena, sizeof arena, &answer);
        if (answer.worst_violation == 0)
            continue; /* inside already: nothing to compare */
        double peer = time_peer(&in.problem, &answer, &is_same, &is_late);
        add(one, ours, peer);
        add(all, ours, peer);
        faults->n_different += !is_same;
        faults->n_late += is_late;
        faults->n_unproved += !answer.is_proved;
    }
}

int main(int argc, char **argv)
{
    static double room[6][EACH_MAX * INSTANCE_N];
    size_t each = argc > 1 ? strtoul(argv[1], NULL, 10) : 40,
           n_plans = argc > 2 ? strtoul(argv[2], NULL, 10) : 3;
    struct series all = {0, 0, room[3], room[4], room[5]};
    struct faults faults = {0};
    if (each < 1 || each > EACH_MAX || n_plans < 1 || n_plans > TRUING_PLANS_MAX) {
        fprintf(stderr, "usage: bench_truing [INSTANCES 1..%d [PLANS 1..%d]]\n", EACH_MAX,
                TRUING_PLANS_MAX);
        return 2;
    }
    printf("  8-12 points, 4-14 adjusters, %zu plans; CPU time, best of %d\n", n_plans, ROUNDS);
    printf("  family   runs   ours: median     worst   GLPK: median     worst   ratio: median  of "
           "medians\n");
    for (int f = 0; f < INSTANCE_N; f++) {
        struct series one = {0, 0, room[0], room[1], room[2]};
        run_family((enum instance_family)f, each, n_plans, &one, &all, &faults);
        print_row(instance_family_name((enum instance_family)f), &one);
    }
    print_row("all", &all);
    printf("  %d answers differ, %d not proved, GLPK out of time (%d s a stage) on %d\n",
           faults.n_different, faults.n_unproved, LIMIT_MS / 1000, faults.n_late);
    return faults.n_different || faults.n_unproved;
}

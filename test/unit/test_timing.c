/* Rows and properties for core/timing: which rack jumps how many teeth, and what a residue means.
 * Run with a seed as argument to replay. Pitch of module 2: 6.28318530717959 mm (pi x 2), 6 283 185
 * nm. */
#include "core/timing.h"
#include "tap.h"
#include "unit/random.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MM 1000000

static enum err solve(const struct timing_problem *p, struct timing_answer *ret)
{
    size_t at = 0, size = timing_workspace(p->n_racks, p->n_differences);
    void *workspace = malloc(size > 0 ? size : 1);
    enum err e = workspace == NULL ? ERR_MEMORY : timing_solve(p, workspace, size, ret, &at);
    free(workspace);
    return e;
}

/* Two racks, limits either way about 0, u of each, module 2. */
struct pair {
    struct timing_rack racks[2];
    struct timing_difference difference;
    struct timing_problem problem;
};

static void pair_set(struct pair *p, int64_t a_nm, int64_t b_nm, int64_t limit_nm, double u,
                     int32_t teeth, bool has_guard)
{
    for (int i = 0; i < 2; i++)
        p->racks[i] = (struct timing_rack){.end_nm = i == 0 ? a_nm : b_nm,
                                           .u_nm = u,
                                           .min = -teeth,
                                           .max = teeth,
                                           .setup_s = 720,
                                           .step_s = 120};
    p->difference =
        (struct timing_difference){.a = 0, .b = 1, .low_nm = -limit_nm, .high_nm = limit_nm};
    p->problem = (struct timing_problem){.n_racks = 2,
                                         .n_differences = 1,
                                         .racks = p->racks,
                                         .differences = &p->difference,
                                         .module_nm = 2 * MM,
                                         .has_guard = has_guard,
                                         .risk = 0.05};
}

static void pair_rows(void)
{
    static const struct {
        const char *what;
        int64_t a, b, limit;
        double u;
        int32_t range;
        bool has_guard;
        enum timing_verdict verdict;
        enum timing_meaning meaning;
        int32_t teeth; /* rack a ahead of b */
        int32_t moved; /* a's jump minus b's */
        double residue;
    } rows[] = {
        {"together", 100 * MM, 100 * MM, 1200000, 50000, 3, true, TIMING_STEP, TIMING_IN_STEP, 0, 0,
         0},
        {"1.0 mm apart of 1.2", 101 * MM, 100 * MM, 1200000, 0, 3, false, TIMING_STEP,
         TIMING_IN_STEP, 0, 0, 0.159155},
        {"one tooth ahead", 106300000, 100 * MM, 1200000, 50000, 3, true, TIMING_WORK,
         TIMING_JUMPED, 1, -1, 0.002676},
        {"one tooth behind", 100 * MM, 106300000, 1200000, 50000, 3, true, TIMING_WORK,
         TIMING_JUMPED, -1, 1, -0.002676},
        {"two teeth ahead", 112566000, 100 * MM, 1200000, 50000, 3, true, TIMING_WORK,
         TIMING_JUMPED, 2, -2, -0.000059},
        {"four teeth, each may jump three", 125132000, 100 * MM, 1200000, 50000, 3, true,
         TIMING_WORK, TIMING_JUMPED, 4, -4, -0.000118},
        {"seven teeth, six may go", 143982000, 100 * MM, 1200000, 50000, 3, true, TIMING_CANNOT,
         TIMING_BEYOND_RANGE, 7, 0, -0.000047},
        {"half a pitch", 103141593, 100 * MM, 1200000, 50000, 3, true, TIMING_CANNOT,
         TIMING_HALF_PITCH, 1, 0, -0.5},
        {"a quarter and a bit", 101900000, 100 * MM, 1200000, 50000, 3, true, TIMING_CANNOT,
         TIMING_ODD_RESIDUE, 0, 0, 0.302394},
        {"a small one beyond narrow limits", 100500000, 100 * MM, 300000, 10000, 3, true,
         TIMING_CANNOT, TIMING_SMALL_RESIDUE, 0, 0, 0.079577},
        {"one tooth and a small one beyond", 106783185, 100 * MM, 300000, 10000, 3, true,
         TIMING_CANNOT, TIMING_SMALL_RESIDUE, 1, 0, 0.079577},
        {"too near the limit to tell", 101200000, 100 * MM, 1200000, 100000, 3, true, TIMING_PERSON,
         TIMING_UNCERTAIN, 0, 0, 0.190986},
        {"a jump would do, but not surely", 107400000, 100 * MM, 1200000, 100000, 3, true,
         TIMING_PERSON, TIMING_TOO_COARSE, 1, 0, 0.177746},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct pair p;
        struct timing_answer a = {.nodes = 0};
        pair_set(&p, rows[i].a, rows[i].b, rows[i].limit, rows[i].u, rows[i].range,
                 rows[i].has_guard);
        enum err e = solve(&p.problem, &a);
        const struct timing_finding *f = &a.differences[0];
        /* Half a pitch either way is the same residue. */
        bool is_residue = fabs(f->residue - rows[i].residue) < 1e-6 ||
                          (fabs(rows[i].residue) > 0.4999 && fabs(fabs(f->residue) - 0.5) < 1e-6);
        bool is_teeth = f->teeth == rows[i].teeth || fabs(rows[i].residue) > 0.4999;
        if (!tap_ok(e == ERR_OK && a.verdict == rows[i].verdict && f->meaning == rows[i].meaning &&
                        is_teeth && is_residue && a.moves[0] - a.moves[1] == rows[i].moved &&
                        a.is_proved,
                    "%s: %s, %s (p = pi x 2 mm = 6.28318530717959)", rows[i].what,
                    timing_verdict_name(rows[i].verdict), timing_meaning_code(rows[i].meaning)))
            tap_note("got %s, %s, %s, teeth %d, residue %.6f, moves %d %d", err_symbol(e),
                     timing_verdict_name(a.verdict), timing_meaning_code(f->meaning), f->teeth,
                     f->residue, a.moves[0], a.moves[1]);
    }
}

static void whole_rows(void)
{
    static const struct {
        const char *what;
        int64_t apart;
        bool is_whole;
    } rows[] = {{"one pitch to 0.02 mm", 6300000, true},
                {"three pitches", 18849556, true},
                {"one pitch and 0.3 mm (0.048)", 6583185, true},
                {"one pitch and 0.5 mm (0.080)", 6783185, false},
                {"none at all", 100000, false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct pair p;
        struct timing_answer a = {.nodes = 0};
        pair_set(&p, 100 * MM + rows[i].apart, 100 * MM, 1200000, 20000, 3, false);
        tap_ok(solve(&p.problem, &a) == ERR_OK && a.differences[0].is_whole == rows[i].is_whole,
               "a whole number of pitches: %s: %s (n x 6.28318530717959 mm; 1/20 pitch)",
               rows[i].what, rows[i].is_whole ? "yes" : "no");
    }
}

static void three_racks(void)
{
    struct timing_rack r[3] = {{.end_nm = 100 * MM, .min = -3, .max = 3, .step_s = 60},
                               {.end_nm = 106283185, .min = -3, .max = 3, .step_s = 60},
                               {.end_nm = 106283185, .min = -3, .max = 3, .step_s = 60}};
    struct timing_difference d[3] = {{1, 0, 0, -MM, MM}, {2, 0, 0, -MM, MM}, {2, 1, 0, -MM, MM}};
    struct timing_problem p = {
        .n_racks = 3, .n_differences = 3, .racks = r, .differences = d, .module_nm = 2 * MM};
    struct timing_answer a = {.nodes = 0};
    tap_ok(solve(&p, &a) == ERR_OK && a.verdict == TIMING_WORK && a.moves[0] == 1 &&
               a.moves[1] == 0 && a.moves[2] == 0,
           "two of three racks ahead: the third one jumps, which is the fewest teeth (by hand)");
    for (int i = 0; i < 3; i++)
        r[i].step_s = 0;
    tap_ok(solve(&p, &a) == ERR_OK && a.moves[0] == 1 && a.moves[1] == 0 && a.moves[2] == 0,
           "jumps that cost nothing: the fewest teeth all the same (header)");
    r[0].u_nm = 30000;
    r[1].u_nm = 40000;
    tap_ok(solve(&p, &a) == ERR_OK && fabs(a.differences[0].u_nm - 50000) < 1e-6,
           "u of a difference: 0.03 and 0.04 mm give 0.05 mm (JCGM 100:2008, 5.1.2)");
    for (int i = 0; i < 3; i++) {
        r[i].step_s = 60;
        r[i].u_nm = 0;
    }
    r[0].min = r[0].max = 0;
    tap_ok(solve(&p, &a) == ERR_OK && a.verdict == TIMING_WORK && a.moves[0] == 0 &&
               a.moves[1] == -1 && a.moves[2] == -1,
           "unless it may not move: then the two come in");
    const struct timing_rack half[3] = {r[0], r[1], {.end_nm = 103141593, .min = -3, .max = 3}};
    p.racks = half;
    tap_ok(solve(&p, &a) == ERR_OK && a.verdict == TIMING_CANNOT &&
               a.differences[0].meaning == TIMING_JUMPED &&
               a.differences[1].meaning == TIMING_HALF_PITCH && a.moves[1] == 0,
           "one jumped, one half a pitch out: each is named, nothing is moved");
    const struct timing_rack spread[3] = {{.end_nm = 100 * MM, .min = -3, .max = 3},
                                          {.end_nm = 100900000, .min = -3, .max = 3},
                                          {.end_nm = 101800000, .min = -3, .max = 3}};
    p.racks = spread;
    tap_ok(solve(&p, &a) == ERR_OK && a.verdict == TIMING_CANNOT && a.worst == 1,
           "the worst difference is named (1.8 of 1.0 mm)");
    /* 7.18 mm is one tooth and 0.9 mm; the two of opposite sign leave 1.8 mm between them. */
    const struct timing_rack apart[3] = {{.end_nm = 100 * MM, .min = -3, .max = 3},
                                         {.end_nm = 107180000, .min = -3, .max = 3},
                                         {.end_nm = 92820000, .min = -3, .max = 3}};
    p.racks = apart;
    tap_ok(solve(&p, &a) == ERR_OK && a.verdict == TIMING_CANNOT &&
               a.differences[0].meaning == TIMING_JUMPED &&
               a.differences[1].meaning == TIMING_JUMPED &&
               a.differences[2].meaning != TIMING_JUMPED,
           "errors that add up show in the third difference");
}

static void refusal_rows(void)
{
    struct pair p;
    struct timing_answer a = {.nodes = 0};
#define REFUSE(change, code)                                                                       \
    do {                                                                                           \
        pair_set(&p, 0, 0, MM, 0, 3, false);                                                       \
        change;                                                                                    \
        tap_ok(solve(&p.problem, &a) == (code), "refused: " #change ": " #code " (header)");       \
    } while (0)
    REFUSE(p.problem.n_racks = 1, ERR_EMPTY);
    REFUSE(p.problem.n_differences = 0, ERR_EMPTY);
    REFUSE(p.problem.n_racks = 99, ERR_LIMIT);
    REFUSE(p.problem.module_nm = 0, ERR_DOMAIN);
    REFUSE(p.problem.module_nm = -1, ERR_DOMAIN);
    REFUSE(p.problem.module_nm = INT64_MAX, ERR_DOMAIN);
    REFUSE(p.racks[1].u_nm = NAN, ERR_DOMAIN);
    REFUSE(p.racks[1].min = 1, ERR_DOMAIN);
    REFUSE(p.racks[1].max = TIMING_TEETH_MAX + 1, ERR_DOMAIN);
    REFUSE(p.racks[0].end_nm = INT64_MIN, ERR_RANGE);
    REFUSE(p.difference.b = 0, ERR_DOMAIN);
    REFUSE(p.difference.a = 2, ERR_DOMAIN);
    REFUSE(p.difference.low_nm = 2 * MM, ERR_ORDER);
    REFUSE(p.difference.nominal_nm = INT64_MIN, ERR_RANGE);
#undef REFUSE
}

static void text_rows(void)
{
    char buf[TIMING_TEXT_MAX];
    for (int m = TIMING_IN_STEP; m <= TIMING_TOO_COARSE; m++) {
        const struct timing_finding f = {
            .meaning = (enum timing_meaning)m, .teeth = -2, .residue = -0.48};
        size_t size = timing_meaning_text(&f, 6283185, "a-rack-with-a-fairly-long-name", "outboard",
                                          UNIT_MM, buf, sizeof buf);
        tap_ok(size > 5 && size == strlen(buf) && size + 1 < sizeof buf && strchr(buf, '?') == NULL,
               "a sentence for %s, whole", timing_meaning_code((enum timing_meaning)m));
    }
}

struct random_case {
    struct timing_rack racks[4];
    struct timing_difference differences[6];
    struct timing_problem problem;
};

static void random_set(struct random_case *c)
{
    size_t n = 2 + next() % 3, k = 0;
    for (size_t i = 0; i < n; i++)
        c->racks[i] = (struct timing_rack){.end_nm = 100 * MM + within(-2, 2) * 6283185 +
                                                     within(-900000, 900000),
                                           .min = -(int32_t)(next() % 3),
                                           .max = (int32_t)(next() % 3),
                                           .setup_s = within(0, 3) * 60,
                                           .step_s = within(1, 3) * 30};
    for (size_t a = 1; a < n; a++)
        for (size_t b = 0; b < a; b++)
            c->differences[k++] = (struct timing_difference){
                .a = a, .b = b, .nominal_nm = 0, .low_nm = -1200000, .high_nm = 1200000};
    c->problem = (struct timing_problem){.n_racks = n,
                                         .n_differences = k,
                                         .racks = c->racks,
                                         .differences = c->differences,
                                         .module_nm = 2 * MM};
}

/* Every combination of jumps, one by one: the least cost that brings all differences in; -1 when
 * none does. */
static int64_t exhaust(const struct timing_problem *p)
{
    int32_t jump[4] = {0};
    int64_t best = -1;
    for (size_t i = 0; i < p->n_racks; i++)
        jump[i] = p->racks[i].min;
    for (;;) {
        bool is_in = true;
        int64_t cost = 0;
        for (size_t i = 0; i < p->n_differences; i++) {
            const struct timing_difference *d = &p->differences[i];
            int64_t x = p->racks[d->a].end_nm - p->racks[d->b].end_nm +
                        (jump[d->a] - jump[d->b]) * (int64_t)6283185;
            is_in = is_in && x >= d->low_nm && x <= d->high_nm;
        }
        for (size_t i = 0; i < p->n_racks; i++)
            cost += jump[i] == 0 ? 0 : p->racks[i].setup_s + p->racks[i].step_s * abs(jump[i]);
        if (is_in && (best < 0 || cost < best))
            best = cost;
        size_t i = 0;
        while (i < p->n_racks && jump[i] == p->racks[i].max) {
            jump[i] = p->racks[i].min;
            i++;
        }
        if (i == p->n_racks)
            return best;
        jump[i]++;
    }
}

static void property_exhaustive(uint64_t seed)
{
    int bad = 0, n_work = 0, n_cannot = 0, bad_forward = 0;
    rng = seed;
    for (int i = 0; i < 3000; i++) {
        struct random_case c;
        struct timing_answer a = {.nodes = 0};
        random_set(&c);
        if (solve(&c.problem, &a) != ERR_OK) {
            bad++;
            continue;
        }
        int64_t cost = 0, best = exhaust(&c.problem);
        for (size_t r = 0; r < c.problem.n_racks; r++)
            cost += a.moves[r] == 0 ? 0 : c.racks[r].setup_s + c.racks[r].step_s * abs(a.moves[r]);
        n_work += a.verdict == TIMING_WORK;
        n_cannot += a.verdict == TIMING_CANNOT;
        bad += best < 0 ? a.verdict != TIMING_CANNOT : cost != best || a.verdict == TIMING_CANNOT;
        if (a.verdict != TIMING_WORK)
            continue;
        /* Forward: jump the racks, measure again: the predicted differences, and in step. */
        struct random_case after = c;
        after.problem.racks = after.racks;
        after.problem.differences = after.differences;
        for (size_t r = 0; r < c.problem.n_racks; r++)
            after.racks[r].end_nm += a.moves[r] * a.pitch_nm;
        struct timing_answer again;
        bool is_right = solve(&after.problem, &again) == ERR_OK && again.verdict == TIMING_STEP;
        for (size_t d = 0; is_right && d < c.problem.n_differences; d++)
            is_right = again.differences[d].before_nm == a.differences[d].after_nm;
        bad_forward += !is_right;
    }
    tap_ok(bad == 0 && n_work > 300 && n_cannot > 300,
           "3000 random shafts: as cheap as the best of every combination (seed %" PRIu64 ")",
           seed);
    tap_ok(bad_forward == 0,
           "the jumps made and measured again give the predicted differences, in step");
    tap_note("%d to jump, %d that cannot, %d wrong, %d wrong forward", n_work, n_cannot, bad,
             bad_forward);
}

int main(int argc, char **argv)
{
    pair_rows();
    whole_rows();
    three_racks();
    refusal_rows();
    text_rows();
    property_exhaustive(argc > 1 ? strtoull(argv[1], NULL, 10) : 20260216);
    return tap_done();
}

/* fuzz_problem: the reader of truing problems on any bytes.
 * Property: it either refuses with a code and a sentence, or gives a problem that truing_judge takes, whose ids differ, and
 * whose predicted readings stay within TRUING_AMOUNT_MAX with every adjuster at either end. */
#include "base/problem.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check_ends(const struct problem *p)
{
    int32_t steps[TRUING_ADJUSTERS_MAX];
    int64_t predicted[TRUING_POINTS_MAX];
    for (int end = 0; end < 2; end++) {
        for (size_t a = 0; a < p->truing.n_adjusters; a++)
            steps[a] = end ? p->adjusters[a].max : p->adjusters[a].min;
        truing_apply(&p->truing, steps, predicted);
        for (size_t i = 0; i < p->truing.n_points; i++)
            if (predicted[i] > 2 * TRUING_AMOUNT_MAX || predicted[i] < -2 * TRUING_AMOUNT_MAX)
                abort();
    }
}

static void check_problem(const struct problem *p)
{
    static struct truing_answer answer; /* large */
    if (p->truing.n_points < 1 || p->truing.n_points > TRUING_POINTS_MAX ||
        p->truing.n_adjusters > TRUING_ADJUSTERS_MAX)
        abort();
    for (size_t i = 0; i < p->truing.n_points; i++)
        for (size_t j = 0; j < i; j++)
            if (strcmp(p->point_id[i], p->point_id[j]) == 0)
                abort();
    if (truing_judge(&p->truing, &answer) != ERR_OK)
        abort();
    if (!p->n_effects == !p->effects_note)
        abort();
    check_ends(p);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct problem *p = NULL;
    struct fault fault = {0};
    const enum err e = problem_read((const char *)data, size, "fuzz", &p, &fault);
    if (e == ERR_OK)
        check_problem(p);
    else if (p || fault.code != e || fault.message[0] == '\0')
        abort();
    problem_free(p);
    return 0;
}

/* test_rows: what boxes, limits and lessons say about plans, against looking at every plan. */
#include "core/rows.h"
#include "random.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { ROWS = 2, MOVES = 3, REACH = 3 };

static int64_t memory[4096];
static const struct move moves[MOVES] = {
    {-REACH, REACH, 1, 1}, {-REACH, REACH, 1, 1}, {-REACH, REACH, 1, 1}};

/* Narrows the whole box and says whether x is still in it. */
static bool keeps(const struct rows *r, const int32_t *x)
{
    int32_t lo[MOVES] = {-REACH, -REACH, -REACH}, hi[MOVES] = {REACH, REACH, REACH};
    bool changed = false;
    if (!rows_narrow(r, lo, hi, &changed))
        return false;
    for (size_t j = 0; j < MOVES; j++) {
        if (x[j] < lo[j] || x[j] > hi[j])
            return false;
    }
    return true;
}

/* How many plans within the excess the rows and lessons wrongly turn away. */
static int n_lost(const struct rows *r, int64_t excess)
{
    int32_t x[MOVES];
    int n = 0;
    for (x[0] = -REACH; x[0] <= REACH; x[0]++)
        for (x[1] = -REACH; x[1] <= REACH; x[1]++)
            for (x[2] = -REACH; x[2] <= REACH; x[2]++)
                n += rows_excess(r, x) <= excess && !keeps(r, x);
    return n;
}

/* Row 0 reaches so far that a full multiplier's sums would not fit; row 1 is small. A lesson that is too large is refused,
 * and what the ring of lessons held before must still hold every plan. */
static void refused_lesson(void)
{
    const int64_t far = (int64_t)1 << 46;
    const int64_t effect[MOVES * ROWS] = {far, 7, far + 1, 5, 3 - far, -2};
    const int64_t start[ROWS] = {0, 0};
    const struct conform_limits limits[ROWS] = {{-2 * far, 2 * far}, {-9, 9}};
    const int64_t full[ROWS] = {(int64_t)1 << 33, (int64_t)1 << 33};
    struct rows r;
    rows_init(&r, ROWS, MOVES, start, limits, effect, moves, memory);
    tap_ok(rows_allow(&r, 0), "both rows allow some plans");
    for (int i = 0; i < ROWS_LESSONS_MAX; i++) {
        const int64_t small[ROWS] = {0, i % 2 ? 1 + i : -1 - i};
        rows_learn(&r, small);
    }
    const size_t held = r.n_lessons, next = r.next_lesson;
    int64_t before[MOVES];
    memcpy(before, r.lesson + next * MOVES, sizeof before);
    tap_ok(held == ROWS_LESSONS_MAX && n_lost(&r, 0) == 0,
           "a full ring of lessons turns no plan away");
    rows_learn(&r, full);
    tap_ok(r.n_lessons == held && r.next_lesson == next, "a lesson too large to sum is refused");
    tap_ok(memcmp(before, r.lesson + next * MOVES, sizeof before) == 0,
           "and the lesson in its place is whole");
    tap_ok(n_lost(&r, 0) == 0, "no plan is turned away after it");
}

static void random_lessons(void)
{
    rng = 20260301;
    int n_wrong = 0;
    for (int round = 0; round < 300; round++) {
        int64_t effect[MOVES * ROWS], start[ROWS], excess = within(-3, 6);
        struct conform_limits limits[ROWS];
        for (size_t i = 0; i < ROWS; i++) {
            start[i] = within(-8, 8);
            limits[i] = (struct conform_limits){-within(0, 9), within(0, 9)};
            for (size_t j = 0; j < MOVES; j++)
                effect[j * ROWS + i] = within(-6, 6);
        }
        struct rows r;
        rows_init(&r, ROWS, MOVES, start, limits, effect, moves, memory);
        if (!rows_allow(&r, excess))
            continue;
        for (int i = 0; i < 40; i++) {
            const int64_t y[ROWS] = {within(-1000000000, 1000000000),
                                     within(-1000000000, 1000000000)};
            rows_learn(&r, y);
        }
        n_wrong += n_lost(&r, excess) > 0;
    }
    tap_ok(n_wrong == 0,
           "300 random rows with 40 random lessons each turn no plan away (seed 20260301)");
}

int main(void)
{
    refused_lesson();
    random_lessons();
    return tap_done();
}

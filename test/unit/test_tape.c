/* Rows for core/tape: each error of tape and eye alone, worked by hand; noise and habit by their frequencies. */
#include "core/tape.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>

#define MM INT64_C(1000000)

static int64_t once(const struct tape *t, int64_t value)
{
    uint64_t state[4];
    int64_t got = INT64_MIN;
    tape_stream(1, 2, 3, state);
    if (tape_read(t, value, state, &got) != ERR_OK)
        return INT64_MIN;
    return got;
}

static void row(const struct tape *t, int64_t value, int64_t want, const char *what)
{
    const int64_t got = once(t, value);
    tap_ok(got == want, "%s: %" PRId64 " nm, found %" PRId64 " (by hand)", what, want, got);
}

static void alone(void)
{
    const struct tape fine = {.resolution_nm = 1};
    struct tape t = fine;
    row(&t, 58 * MM, 58 * MM, "no error at all");
    t.hook_nm = -2 * MM;
    row(&t, 58 * MM, 56 * MM, "a hook bent in by 2 mm");
    t = fine;
    t.scale_ppm = 5000;
    row(&t, 1000 * MM, 1005 * MM, "half a per cent too long");
    t = fine;
    t.stand_off_nm = 6 * MM; /* mark 6 mm off the face, eye 100 mm aside at 400 mm: 1.5 mm */
    t.eye_off_nm = 100 * MM;
    t.eye_distance_nm = 400 * MM;
    row(&t, 58 * MM, 59500000, "parallax by similar triangles");
    t = (struct tape){.resolution_nm = MM};
    row(&t, 58499999, 58 * MM, "to the nearest mark, down");
    row(&t, 58500000, 59 * MM, "a half goes up");
    row(&t, -58500000, -59 * MM, "and away from zero below it");
    t.habit_nm = 5 * MM;
    t.habit_percent = 100;
    row(&t, 58 * MM, 60 * MM, "one who reads in fives");
    t.habit_percent = 0;
    row(&t, 58 * MM, 58 * MM, "and one who never does");
}

static void many(void)
{
    enum { N = 20000 };
    struct tape t = {.resolution_nm = 1, .repeat_nm = MM};
    double sum = 0.0, square = 0.0;
    int n_habit = 0, n_same = 0;
    for (int i = 0; i < N; i++) {
        uint64_t state[4], again[4];
        int64_t a = 0, b = 0;
        tape_stream(7, 0, (uint64_t)i, state);
        tape_stream(7, 0, (uint64_t)i, again);
        if (tape_read(&t, 58 * MM, state, &a) != ERR_OK ||
            tape_read(&t, 58 * MM, again, &b) != ERR_OK)
            break;
        n_same += a == b;
        const double off = (double)(a - 58 * MM) / 1e6;
        sum += off;
        square += off * off;
    }
    tap_ok(n_same == N, "the same stream, the same reading");
    /* Five standard errors of a mean, 1/sqrt(N), and of a variance, sqrt(2/N). */
    tap_ok(fabs(sum / N) < 5.0 / sqrt(N), "noise has mean 0: %.4f mm", sum / N);
    tap_ok(fabs(square / N - 1.0) < 5.0 * sqrt(2.0 / N), "and variance 1: %.4f mm2", square / N);
    t = (struct tape){.resolution_nm = MM, .habit_nm = 5 * MM, .habit_percent = 30};
    for (int i = 0; i < N; i++) {
        uint64_t state[4];
        int64_t a = 0;
        tape_stream(7, 1, (uint64_t)i, state);
        n_habit += tape_read(&t, 58 * MM, state, &a) == ERR_OK && a == 60 * MM;
    }
    tap_ok(fabs(n_habit / (double)N - 0.3) < 5.0 * sqrt(0.3 * 0.7 / N),
           "a habit of 30 in 100 shows as often: %.4f", n_habit / (double)N);
}

static void rest(void)
{
    struct tape t;
    /* 0.1/(2 sqrt 3) = 0.0288675, 0.05 and 0.15 mm: sqrt(0.000833333 + 0.0025 + 0.0225) = 0.160728 mm (JCGM 100:2008, 5.1.2, F.2.2.1). */
    tape_gap_gauge(&t);
    tap_ok(fabs(tape_u(&t) - 160728.0) < 1.0, "u of the gap gauge is 0.160728 mm (by hand)");
    /* 1/(2 sqrt 3) = 0.288675, 0.3 and 0.4 mm: sqrt(0.0833333 + 0.09 + 0.16) = 0.577350 mm. */
    tape_of_steel(&t);
    tap_ok(fabs(tape_u(&t) - 577350.0) < 1.0, "u of the steel tape is 0.577350 mm (by hand)");
    const double stated = tape_u(&t);
    t.hook_nm = 3 * MM;
    tap_ok(tape_u(&t) <= stated && tape_u(&t) >= stated,
           "a bent hook is not in what the reader states");
    t.resolution_nm = 0;
    tap_ok(tape_check(&t) == ERR_DOMAIN, "a tape without marks");
    tape_gap_gauge(&t);
    t.stand_off_nm = 1;
    tap_ok(tape_check(&t) == ERR_DOMAIN, "an eye at no distance");
    tape_gap_gauge(&t);
    tap_ok(once(&t, INT64_C(20000000001)) == INT64_MIN, "more than 20 m");
    t.habit_percent = 101;
    tap_ok(tape_check(&t) == ERR_DOMAIN, "more often than always");
}

int main(void)
{
    alone();
    many();
    rest();
    return tap_done();
}

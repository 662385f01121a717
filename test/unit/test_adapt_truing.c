/* test_adapt_truing: what becomes of a bulletin's points and readings: trued, judged, missing or unread; and that the problem
 * is the one the bulletin's words describe. Amounts are checked by hand against examples/OV-26-03.yaml. */
#include "bulletin/adapt_truing.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define EXAMPLES TEST_TABLES "/../../examples/"
#define MM       1000000

static const double gaps_mm[] = {61.5, 62.4, 59.2, 60.1, 57.6, 57.3, 58.4, 58.2};
enum { GAPS = 8 };

static struct bulletin *load(const char *path)
{
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load_file(path, &faults);
    fault_list_done(&faults);
    return b;
}

static size_t index_of(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->points.n; i++)
        if (strcmp(b->points.at[i].id, id) == 0)
            return i;
    tap_ok(false, "the bulletin has the point %s", id);
    return 0;
}

static void read_point(const struct bulletin *b, struct adapt_reading *readings, const char *id,
                       int64_t nano)
{
    const size_t i = index_of(b, id);
    readings[i] = (struct adapt_reading){true, nano, adapt_point_u(b, &b->points.at[i])};
}

static void read_gaps(const struct bulletin *b, struct adapt_reading *readings)
{
    for (size_t i = 0; i < GAPS && i < b->points.n; i++)
        read_point(b, readings, b->points.at[i].id, llround(gaps_mm[i] * MM));
}

static void whole_problem(const struct bulletin *b)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX] = {0};
    struct adapt_truing t;
    struct fault f = {0};
    read_gaps(b, readings);
    read_point(b, readings, "supply-load", 11700000000); /* 11.7 V */
    const bool is_made = adapt_truing(b, readings, &t, &f) == ERR_OK && t.n_problems == 1;
    if (!tap_ok(is_made, "eight gaps and a voltage give one problem")) {
        tap_note("%s: %s", f.path, f.message);
        adapt_truing_done(&t);
        return;
    }
    const struct problem *p = t.problems[0];
    tap_ok(p->truing.n_points == GAPS && p->truing.n_adjusters == 6 && p->unit == UNIT_MM,
           "eight points, six adjusters, millimetres");
    tap_ok(strcmp(p->point_id[1], "fore-upper-out") == 0 && p->points[1].reading == 62400000 &&
               p->points[1].low == 56 * MM && p->points[1].high == 61 * MM &&
               p->points[1].nominal == 58 * MM,
           "fore-upper-out: 62.4 mm, limits 56..61, nominal 58");
    tap_ok(fabs(p->points[1].u - 160727.51268321592) < 1e-6,
           "u of the gap gauge is sqrt(0.1^2/12 + 0.05^2 + 0.15^2) mm (JCGM 100:2008, 5.1.2, "
           "F.2.2.1)");
    tap_ok(strcmp(p->adjuster_id[0], "fore-upper-packing") == 0 && p->adjusters[0].min == -6 &&
               p->adjusters[0].max == 6 && p->adjusters[0].setup_s == 600 &&
               p->adjusters[0].step_s == 30 && p->step[0] == 500000,
           "the upper packing: 0.5 mm, 6 either way, 600 s and 30 s");
    tap_ok(p->effect[0] == -500000 && p->effect[2] == -100000 && p->effect[4] == 0,
           "its effects: -0.5 mm above, -0.1 mm below, none aft");
    tap_ok(p->truing.has_guard && p->truing.risk == 0.05, "guarded at a risk of 0.05");
    tap_ok(p->n_effects == GAPS && p->effects[0].sum == 10700000,
           "deviations add up to 10.7 mm (by hand: 3.5 4.4 1.2 2.1 -0.4 -0.7 0.4 0.2)");
    const size_t volts = index_of(b, "supply-load");
    tap_ok(t.part[volts] == ADAPT_JUDGED && t.judged[volts].guarded == VERDICT_OUTSIDE &&
               t.judged[volts].margin == -100000000,
           "11.7 V is judged by itself: 0.1 V low");
    tap_ok(t.part[index_of(b, "leaks")] == ADAPT_UNREAD, "what was not read is unread");
    adapt_truing_done(&t);
}

static void missing(const struct bulletin *b)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX] = {0};
    struct adapt_truing t;
    struct fault f = {0};
    read_gaps(b, readings);
    readings[3].is_given = false;
    tap_ok(adapt_truing(b, readings, &t, &f) == ERR_OK && t.n_problems == 0,
           "seven gaps of eight are not trued");
    tap_ok(t.part[3] == ADAPT_MISSING && t.part[0] == ADAPT_JUDGED &&
               t.judged[0].guarded == VERDICT_OUTSIDE,
           "the eighth is missing, the others are judged");
    adapt_truing_done(&t);

    memset(readings, 0, sizeof readings);
    tap_ok(adapt_truing(b, readings, &t, &f) == ERR_OK && t.n_problems == 0, "nothing read");
    size_t n = 0;
    for (size_t i = 0; i < b->points.n; i++)
        n += t.part[i] == ADAPT_UNREAD;
    tap_ok(n == b->points.n, "then nothing is missing: all is unread");
    adapt_truing_done(&t);
}

/* The bulletin's structs are data: one is bent to what no example has. */
static void two_kinds(struct bulletin *b)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX] = {0};
    struct adapt_truing t;
    struct fault f = {0};
    struct bulletin_adjuster *toe = &b->adjusters.at[5];
    struct bulletin_effect old[2] = {toe->effects.at[0], toe->effects.at[1]};
    const struct bulletin_amount volt = {true, DIM_VOLTAGE, UNIT_V, 100000000};
    read_gaps(b, readings);
    read_point(b, readings, "supply-load", 11700000000);

    toe->effects.at[1].point = "supply-load";
    toe->effects.at[1].change = volt;
    tap_ok(adapt_truing(b, readings, &t, &f) == ERR_UNIT &&
               strcmp(f.path, "adjusters[5].effects") == 0 && strstr(f.message, "aft-toe"),
           "an adjuster that changes gaps and volts is refused by name");
    adapt_truing_done(&t);

    toe->effects.at[0] = toe->effects.at[1];
    tap_ok(adapt_truing(b, readings, &t, &f) == ERR_OK && t.n_problems == 2,
           "one that changes volts only makes a second problem");
    if (t.n_problems == 2) {
        tap_ok(t.problems[0]->truing.n_adjusters == 5 && t.problems[0]->truing.n_points == GAPS,
               "the gaps keep the other five adjusters");
        tap_ok(t.problems[1]->truing.n_adjusters == 1 && t.problems[1]->truing.n_points == 1 &&
                   t.problems[1]->unit == UNIT_V && t.problems[1]->effect[0] == 100000000,
               "the volts have one of their own, 0.1 V a step");
        tap_ok(t.problems[1]->step[0] == 0,
               "its step is in millimetres, which says nothing of volts: shown as steps");
    }
    adapt_truing_done(&t);
    toe->effects.at[0] = old[0];
    toe->effects.at[1] = old[1];
}

static void one_sided(const struct bulletin *b)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX] = {0};
    struct adapt_truing t;
    struct fault f = {0};
    read_point(b, readings, "current-out", 0);
    read_point(b, readings, "cycles", 4000000000);
    tap_ok(adapt_truing(b, readings, &t, &f) == ERR_OK, "points with one limit are judged");
    tap_ok(t.judged[index_of(b, "current-out")].guarded == VERDICT_INSIDE,
           "0 A is inside 'up to 22 A'");
    tap_ok(t.judged[index_of(b, "cycles")].guarded == VERDICT_OUTSIDE &&
               t.judged[index_of(b, "cycles")].p_conform == 0.0,
           "4 cycles are outside 'from 5', exactly");
    adapt_truing_done(&t);
}

int main(void)
{
    struct bulletin *b = load(EXAMPLES "OV-26-03.yaml");
    tap_ok(b != NULL, "examples/OV-26-03.yaml is read");
    if (b == NULL)
        return tap_done();
    tap_ok(b->points.n == 16 && b->adjusters.n == 6, "it has 16 points and 6 adjusters");
    whole_problem(b);
    missing(b);
    two_kinds(b);
    one_sided(b);
    bulletin_free(b);
    return tap_done();
}

/* Rows for core/practice: a perfect unit, what each fault shows where, mirrors, refusals and cautions, exercises solved by hand, and
 * whether modes, timing and truing find what was planted. */
#include "../bench/advice.h"
#include "core/modes.h"
#include "core/practice.h"
#include "core/timing.h"
#include "random.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MM INT64_C(1000000)

enum { CORNERS = MECHANISM_CORNERS };

static const struct tape exact = {.resolution_nm = 1};

struct sheet { /* everything that can be read */
    int64_t gaps[CORNERS], ends[4], teeth[4], volts[2], amps[2], seconds;
};

static struct practice planted(const struct practice_fault *faults, size_t n)
{
    struct practice p;
    size_t at = 0;
    memset(&p, 0, sizeof p);
    tap_ok(practice_plant(1, faults, n, &p, &at) == ERR_OK, "planted");
    return p;
}

static struct practice_result act(struct practice *p, enum practice_op op, int side, int place,
                                  int64_t amount)
{
    struct practice_result r;
    memset(&r, 0, sizeof r);
    if (practice_do(p, op, side, place, amount, &r) != ERR_OK)
        r.refusal = PRACTICE_REFUSAL_N;
    return r;
}

static struct sheet read_all(struct practice *p)
{
    struct sheet s;
    memset(&s, 0, sizeof s);
    for (int travel = 0; travel < 2; travel++) {
        act(p, PRACTICE_RUN, 0, 0, travel ? 960 * MM : 150 * MM);
        for (int i = travel; i < CORNERS; i += 2)
            s.gaps[i] = act(p, PRACTICE_READ_GAP, i / 4, i % 4 < 2, 0).nano;
    }
    for (int i = 0; i < 4; i++) {
        s.ends[i] = act(p, PRACTICE_READ_END, i / 2, i % 2, 0).nano;
        s.teeth[i] = act(p, PRACTICE_COUNT, i / 2, i % 2, 0).nano;
    }
    act(p, PRACTICE_RUN, 0, 0, 0);
    s.amps[1] = act(p, PRACTICE_READ_AMPS, 0, 0, 0).nano;
    act(p, PRACTICE_RUN, 0, 0, 960 * MM);
    s.amps[0] = act(p, PRACTICE_READ_AMPS, 0, 0, 0).nano;
    s.seconds = act(p, PRACTICE_READ_TIME, 0, 0, 0).nano;
    for (int i = 0; i < 2; i++)
        s.volts[i] = act(p, PRACTICE_READ_VOLTS, i, 0, 0).nano;
    return s;
}

/* ---- nothing wrong ------------------------------------------------------------------------- */

static void perfect(void)
{
    struct practice p;
    struct practice_score score;
    int64_t worst = 0;
    practice_perfect(1, &p);
    p.tape = p.end_gauge = exact;
    const struct sheet s = read_all(&p);
    for (int i = 0; i < CORNERS; i++)
        worst = llabs(s.gaps[i] - 58 * MM) > worst ? llabs(s.gaps[i] - 58 * MM) : worst;
    tap_ok(worst == 0, "a perfect unit reads 58 mm at every corner, to the nm (worst %" PRId64 ")",
           worst);
    tap_ok(s.ends[0] == 0 && s.ends[1] == 0 && s.ends[2] == 0 && s.ends[3] == 0 &&
               s.teeth[0] == 0 && s.teeth[3] == 0,
           "its rack ends are level and no tooth is out");
    tap_ok(practice_score(&p, &score) == ERR_OK && score.is_inside &&
               score.inside == PRACTICE_INSIDE_ALL && score.worst_gap_nm == 2 * MM,
           "all inside, 2 mm from the nearer limit (58 - 56)");
    /* The bulletin's limits (examples/OV-26-03.yaml). */
    tap_ok(s.volts[0] > INT64_C(11800000000) && s.volts[0] < INT64_C(14800000000) &&
               s.amps[0] < INT64_C(22000000000) && s.amps[1] < INT64_C(24000000000) &&
               s.seconds > INT64_C(24000000000) && s.seconds < INT64_C(34000000000),
           "volts, amperes and seconds inside the bulletin's limits");
    int n_near = 0; /* with the real gauges: half a step and five deviations */
    for (uint64_t seed = 0; seed < 50; seed++) {
        practice_perfect(seed, &p);
        const struct sheet noisy = read_all(&p);
        for (int i = 0; i < CORNERS; i++)
            n_near += llabs(noisy.gaps[i] - 58 * MM) <= 50000 + 5 * 150000;
    }
    tap_ok(n_near == 50 * CORNERS,
           "%d of 400 readings with the gauge within half a step and five deviations", n_near);
}

/* ---- what shows where ---------------------------------------------------------------------- */

enum { GAPS = 1, ENDS = 2, TEETH = 4, RUN = 8 };

static unsigned shown(const struct sheet *a, const struct sheet *b)
{
    return (memcmp(a->gaps, b->gaps, sizeof a->gaps) != 0 ? (unsigned)GAPS : 0U) |
           (memcmp(a->ends, b->ends, sizeof a->ends) != 0 ? (unsigned)ENDS : 0U) |
           (memcmp(a->teeth, b->teeth, sizeof a->teeth) != 0 ? (unsigned)TEETH : 0U) |
           (memcmp(a->volts, b->volts, sizeof a->volts) != 0 ||
                    memcmp(a->amps, b->amps, sizeof a->amps) != 0 || a->seconds != b->seconds
                ? (unsigned)RUN
                : 0U);
}

static void where(void)
{
    /* By the rules in practice.h, not by what the code gives: pose, opening and packing move gaps alone; teeth turn the room, too;
     * a cut is at the end alone; what loads or starves the motors shows on the meter alone. */
    static const struct {
        struct practice_fault fault;
        unsigned shows;
    } rows[] = {
        {{PRACTICE_TEETH, 0, 1, 1}, GAPS | ENDS | TEETH},
        {{PRACTICE_CUT, 1, 0, 3 * MM}, ENDS},
        {{PRACTICE_PACKING, 0, 0, -2}, GAPS},
        {{PRACTICE_TOE, 1, 0, 2}, GAPS},
        {{PRACTICE_OFFSET, 0, 0, MM}, GAPS},
        {{PRACTICE_YAW, 0, 0, 2 * MM}, GAPS},
        {{PRACTICE_LEAN, 0, 0, 2 * MM}, GAPS},
        {{PRACTICE_TWIST, 0, 0, 2 * MM}, GAPS},
        {{PRACTICE_WIDTH, 0, 0, -3 * MM}, GAPS},
        {{PRACTICE_TAPER, 0, 0, 3 * MM}, GAPS},
        {{PRACTICE_OPENING, 0, 0, 2 * MM}, GAPS},
        {{PRACTICE_SUPPLY, 0, 0, 2000}, RUN},
        {{PRACTICE_LEAD, 1, 0, 50000}, RUN},
        {{PRACTICE_DRAG, 0, 1, 300}, RUN},
        {{PRACTICE_WEAR, 0, 1, MM}, 0}, /* until something slips */
    };
    struct practice p = planted(NULL, 0);
    p.tape = p.end_gauge = exact;
    const struct sheet sound = read_all(&p);
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        p = planted(&rows[r].fault, 1);
        p.tape = p.end_gauge = exact;
        const struct sheet s = read_all(&p);
        tap_ok(shown(&s, &sound) == rows[r].shows, "%s shows where it should (%u), found %u",
               practice_fault_id(rows[r].fault.kind), rows[r].shows, shown(&s, &sound));
    }
    /* 8 mm off: the stand-off costs half of all the depth the shoe lets go (1.5 mm of 4), 3 mm of wear takes it to nothing: it slips. */
    const struct practice_fault slips[] = {{PRACTICE_WEAR, 0, 1, 3 * MM},
                                           {PRACTICE_WIDTH, 0, 0, 4 * MM}};
    p = planted(slips, 2);
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    tap_ok(act(&p, PRACTICE_COUNT, 0, 1, 0).nano < 0 && act(&p, PRACTICE_COUNT, 1, 1, 0).nano == 0,
           "a rack hardly in mesh loses teeth, the sound one does not");
    /* 0.2 ohm more in one lead: 1.4 of 10.75 V, an eighth of the speed, 0.1 m in 0.96 m but for what holds the sides together. */
    const struct practice_fault lead = {PRACTICE_LEAD, 1, 0, 200000};
    p = planted(&lead, 1);
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    tap_ok(p.run.end == DRIVE_BOUND && practice_visible(&p) & PRACTICE_SEE_APART &&
               p.run.apart_m > 0.0,
           "a bad lead aft leaves aft behind until the room jams, and that is to be seen");
    act(&p, PRACTICE_RUN, 0, 0, 0);
    tap_ok(p.run.end == DRIVE_ARRIVED && !(practice_visible(&p) & PRACTICE_SEE_APART),
           "run back in it is straight again");
    const struct practice_fault key = {PRACTICE_KEY, 1, 0, 0};
    p = planted(&key, 1);
    p.tape = p.end_gauge = exact;
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    const int64_t first = act(&p, PRACTICE_READ_END, 1, 0, 0).nano;
    tap_ok(first < 0 && act(&p, PRACTICE_COUNT, 1, 0, 0).nano == 0,
           "a shallow key seat creeps back (%" PRId64 " nm) and the count does not tell", first);
    struct practice_score score;
    tap_ok(practice_score(&p, &score) == ERR_OK && !(score.inside & PRACTICE_INSIDE_KEYS),
           "and the account does");
    const struct practice_fault tape = {PRACTICE_HOOK, 0, 0, 2 * MM};
    p = planted(&tape, 1);
    p.tape.repeat_nm = 0;
    tap_ok(act(&p, PRACTICE_CHECK_TAPE, 0, 0, 0).nano == 102 * MM,
           "a hook 2 mm off reads 102 mm on a block of 100");
    act(&p, PRACTICE_CHANGE_TAPE, 0, 0, 0);
    tap_ok(llabs(act(&p, PRACTICE_CHECK_TAPE, 0, 0, 0).nano - 100 * MM) < MM,
           "and a good one does not");
}

/* ---- mirrors ------------------------------------------------------------------------------- */

static void mirrors(void)
{
    static const int32_t local[] = {PRACTICE_TEETH, PRACTICE_CUT, PRACTICE_PACKING, PRACTICE_TOE,
                                    PRACTICE_DRAG};
    static const int64_t most[] = {2, 3 * MM, 4, 3, 200};
    static const int32_t whole[] = {PRACTICE_OFFSET, PRACTICE_YAW, PRACTICE_LEAN, PRACTICE_TWIST,
                                    PRACTICE_OPENING};
    int n_good = 0;
    rng = 11;
    for (int k = 0; k < 60; k++) {
        struct practice_fault f[8], mirror[8];
        struct practice a, b;
        size_t at = 0;
        for (int i = 0; i < 8; i++) {
            const int which = (int)within(0, 4);
            const bool is_local = i < 4;
            f[i] = (struct practice_fault){is_local ? local[which] : whole[which],
                                           (int32_t)within(0, 1), (int32_t)within(0, 1),
                                           is_local ? within(0, most[which])
                                                    : 2 * within(-MM / 2, MM / 2)};
            mirror[i] = f[i];
            if (is_local)
                mirror[i].side = 1 - f[i].side;
            else
                mirror[i].amount = -f[i].amount;
        }
        if (practice_plant(1, f, 8, &a, &at) != ERR_OK ||
            practice_plant(1, mirror, 8, &b, &at) != ERR_OK)
            continue;
        a.tape = a.end_gauge = b.tape = b.end_gauge = exact;
        const struct sheet x = read_all(&a), y = read_all(&b);
        bool is_good = x.volts[0] == y.volts[1] && x.amps[0] == y.amps[0] && x.seconds == y.seconds;
        for (int i = 0; i < CORNERS; i++)
            is_good = is_good && x.gaps[i] == y.gaps[(i + 4) % CORNERS];
        for (int i = 0; i < 4; i++)
            is_good =
                is_good && x.ends[i] == y.ends[(i + 2) % 4] && x.teeth[i] == y.teeth[(i + 2) % 4];
        n_good += is_good;
    }
    tap_ok(n_good == 60, "%d of 60: the unit in a mirror gives the readings in a mirror", n_good);
}

/* ---- refusals, cautions, exercises --------------------------------------------------------- */

static void refusals(void)
{
    struct practice p;
    practice_perfect(1, &p);
    tap_ok(act(&p, PRACTICE_READ_GAP, 0, 0, 0).refusal == PRACTICE_NOT_HERE,
           "a gap with the room in");
    tap_ok(act(&p, PRACTICE_READ_END, 0, 0, 0).refusal == PRACTICE_NOT_HERE,
           "an end with the room in");
    tap_ok(act(&p, PRACTICE_READ_VOLTS, 0, 0, 0).refusal == PRACTICE_RUN_FIRST, "volts of no run");
    tap_ok(act(&p, PRACTICE_RUN, 0, 0, 0).refusal == PRACTICE_AS_IT_IS, "in, when it is in");
    tap_ok(act(&p, PRACTICE_RUN, 0, 0, 961 * MM).refusal == PRACTICE_NO_RANGE,
           "further than it goes");
    act(&p, PRACTICE_ISOLATE, 0, 0, 1);
    struct practice before = p;
    tap_ok(act(&p, PRACTICE_RUN, 0, 0, 960 * MM).refusal == PRACTICE_NO_POWER &&
               p.seconds == before.seconds && p.n_runs == 0 && p.at_m[0] <= 0.0,
           "a run without power, and it costs nothing");
    tap_ok(act(&p, PRACTICE_PACK, 0, 0, 7).refusal == PRACTICE_NO_RANGE && p.moved[1] == 0,
           "seven shims where six go");
    tap_ok(act(&p, PRACTICE_JUMP, 0, 0, 1).refusal == PRACTICE_NOT_HERE, "a jump with the room in");
    struct practice_result r;
    tap_ok(practice_do(&p, PRACTICE_OP_N, 0, 0, 0, &r) == ERR_DOMAIN &&
               practice_do(&p, PRACTICE_PACK, 2, 0, 1, &r) == ERR_DOMAIN,
           "an operation or a side that there is not");
    act(&p, PRACTICE_FINISH, 0, 0, 0);
    tap_ok(act(&p, PRACTICE_PACK, 0, 0, 1).refusal == PRACTICE_OVER, "anything after the end");
    tap_ok(p.cautions == (1U << PRACTICE_NOT_RUN | 1U << PRACTICE_NOT_READ),
           "finished without running or reading: two cautions");
    size_t at = 9;
    const struct practice_fault bad[] = {{PRACTICE_TEETH, 0, 0, 1}, {PRACTICE_SUPPLY, 0, 0, 20000}};
    tap_ok(practice_plant(1, bad, 2, &p, &at) == ERR_DOMAIN && at == 1,
           "a supply below nothing: the second fault");
    tap_ok(practice_plant(1, bad, 99, &p, &at) == ERR_LIMIT, "too many faults");
    tap_ok(practice_draw(1, 301, &p) == ERR_DOMAIN, "a spread beyond its range");
    tap_ok(practice_fault_id(PRACTICE_FAULT_N) == NULL && practice_op_id(-1) == NULL &&
               strcmp(practice_caution_id(PRACTICE_LIVE), "live") == 0 &&
               strcmp(practice_refusal_id(PRACTICE_NO_POWER), "no-power") == 0,
           "names");
}

/* One rack of fore a tooth ahead: count, support, isolate, jump back, and look again. */
static void exercise(bool is_careful)
{
    const struct practice_fault fault = {PRACTICE_TEETH, 0, 1, 1};
    struct practice p = planted(&fault, 1);
    struct practice_score score;
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    tap_ok(practice_visible(&p) == (PRACTICE_SEE_GAPS | PRACTICE_SEE_ENDS | PRACTICE_SEE_METER),
           "at the outer stop gaps, ends and meter are to be seen");
    tap_ok(practice_score(&p, &score) == ERR_OK && !score.is_inside && !(score.inside & 0x100) &&
               (score.inside & 0x200),
           "a tooth out: the ends of fore are out, those of aft are in");
    if (is_careful) {
        act(&p, PRACTICE_SUPPORT, 0, 0, 1);
        act(&p, PRACTICE_ISOLATE, 0, 0, 1);
    }
    tap_ok(act(&p, PRACTICE_JUMP, 0, 1, -1).seconds == 720 + 120,
           "a jump of one tooth: 14 minutes (bulletin)");
    if (is_careful) {
        act(&p, PRACTICE_ISOLATE, 0, 0, 0);
        act(&p, PRACTICE_SUPPORT, 0, 0, 0);
    }
    act(&p, PRACTICE_RUN, 0, 0, 0);
    for (int travel = 0; travel < 2; travel++) {
        act(&p, PRACTICE_RUN, 0, 0, travel ? 960 * MM : 150 * MM);
        for (int i = 0; i < 4; i++)
            act(&p, PRACTICE_READ_GAP, i / 2, i % 2, 0);
    }
    act(&p, PRACTICE_FINISH, 0, 0, 0);
    tap_ok(practice_score(&p, &score) == ERR_OK && score.is_inside && score.n_moves == 1,
           "brought inside in one move");
    tap_ok(score.cautions == (is_careful ? 0U : 1U << PRACTICE_UNSUPPORTED | 1U << PRACTICE_LIVE),
           is_careful ? "and no caution skipped"
                      : "and two cautions skipped: not on stands, not isolated");
}

/* The opening's four figures, at reading heights a sixth of the way in from each fixing: two thirds of what stands at the fixings. */
static void openings(void)
{
    static const struct {
        struct practice_fault fault;
        int64_t want[4]; /* fore lower, fore upper, aft lower, aft upper, from 58 mm */
    } rows[] = {
        {{PRACTICE_WIDTH, 0, 0, 4 * MM}, {2 * MM, 2 * MM, 2 * MM, 2 * MM}},
        {{PRACTICE_TAPER, 0, 0, 6 * MM}, {-MM, MM, -MM, MM}},
        {{PRACTICE_OPENING, 0, 0, 3 * MM}, {-MM, MM, MM, -MM}},
    };
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        struct practice p = planted(&rows[r].fault, 1);
        int64_t gaps[CORNERS], worst = 0;
        bool is_good = practice_gaps(&p, gaps) == ERR_OK;
        for (int i = 0; is_good && i < CORNERS; i++) {
            const int at = i / 4 * 2 + (i % 4 < 2);
            const int64_t off = llabs(gaps[i] - 58 * MM - rows[r].want[at]);
            worst = off > worst ? off : worst;
        }
        tap_ok(is_good && worst <= 1,
               "%s changes the gaps as worked by hand (worst %" PRId64 " nm)",
               practice_fault_id(rows[r].fault.kind), worst);
    }
    struct practice room = planted(&(struct practice_fault){PRACTICE_TWIST, 0, 0, MM}, 1), opening;
    practice_perfect(1, &opening);
    practice_open_up(&opening.m, &opening.state, 0, 0, 0, -MM);
    tap_ok(room.state.twist_per_m == opening.state.twist_per_m,
           "twist of the opening is twist of the room the other way round");
}

static int64_t meter(struct practice *p, enum practice_op op)
{
    return act(p, op, 0, 0, 0).nano;
}

/* Weak supply: slow, but ends and count are right, and volts say why; a charge is the cure and a jump is none. */
static void weak_supply(void)
{
    struct practice p = planted(&(struct practice_fault){PRACTICE_SUPPLY, 0, 0, 3000}, 1);
    struct practice_score score;
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    tap_ok(meter(&p, PRACTICE_READ_TIME) > INT64_C(34000000000) &&
               meter(&p, PRACTICE_READ_VOLTS) < INT64_C(11800000000),
           "3 V missing: late, and low on the meter");
    tap_ok(act(&p, PRACTICE_COUNT, 0, 0, 0).nano == 0 &&
               llabs(act(&p, PRACTICE_READ_END, 0, 0, 0).nano) < MM,
           "teeth and ends are right");
    tap_ok(practice_score(&p, &score) == ERR_OK &&
               score.inside ==
                   (PRACTICE_INSIDE_ALL & ~(PRACTICE_INSIDE_VOLTS | PRACTICE_INSIDE_TIME)),
           "only volts and time are out, found %#x", score.inside);
    act(&p, PRACTICE_CHARGE, 0, 0, 0);
    tap_ok(practice_score(&p, &score) == ERR_OK && score.is_inside && score.n_moves == 1,
           "charged, all is inside");
}

/* A rack cut at the wrong end: 3.1 mm is half a pitch, no jump cures it, a new rack does. */
static void wrong_cut(void)
{
    struct practice p = planted(&(struct practice_fault){PRACTICE_CUT, 1, 1, 3100000}, 1);
    struct practice_score score;
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    for (int teeth = 0; teeth < 2; teeth++) {
        if (teeth == 1)
            act(&p, PRACTICE_JUMP, 1, 1, -1);
        tap_ok(practice_score(&p, &score) == ERR_OK && !(score.inside & 0x200),
               "cut wrong, %d teeth jumped: the ends of aft are out", teeth);
    }
    act(&p, PRACTICE_JUMP, 1, 1, 1);
    act(&p, PRACTICE_RENEW_RACK, 1, 1, 0);
    tap_ok(practice_score(&p, &score) == ERR_OK && score.is_inside, "a new rack brings it in");
}

static void same_again(void)
{
    struct practice a, b;
    tap_ok(practice_draw(5, 100, &a) == ERR_OK && practice_draw(5, 100, &b) == ERR_OK,
           "drawn twice");
    const struct sheet x = read_all(&a), y = read_all(&b);
    tap_ok(memcmp(&x, &y, sizeof x) == 0, "the same seed and operations give the same readings");
    const struct sheet z = read_all(&b);
    tap_ok(memcmp(y.gaps, z.gaps, sizeof y.gaps) != 0, "read again, the noise is another");
}

/* A trace is the run that would be: same end, same time; and it leaves the unit alone. */
static void traces(void)
{
    struct practice p;
    struct drive_sample samples[40];
    struct drive_run run;
    practice_perfect(1, &p);
    tap_ok(practice_trace(&p, 960 * MM, 1.0, samples, 40, &run) == ERR_OK && p.n_runs == 0 &&
               p.at_m[0] <= 0.0,
           "a trace moves nothing");
    act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
    tap_ok(fabs(run.time_s - p.run.time_s) < 1e-12 && run.n_samples >= 29 && run.n_samples <= 31 &&
               fabs(samples[run.n_samples - 1].at_m[0] - 0.96) < 1e-12,
           "and is the run that follows, a sample a second (%zu)", run.n_samples);
    tap_ok(practice_trace(&p, 960 * MM, 1.0, samples, 40, &run) == ERR_DOMAIN,
           "no trace of a run that would be refused");
}

static bool is_same(const struct practice *a, const struct practice *b)
{
    return memcmp(&a->state, &b->state, sizeof a->state) == 0 &&
           memcmp(a->moved, b->moved, sizeof a->moved) == 0 &&
           memcmp(a->cut_nm, b->cut_nm, sizeof a->cut_nm) == 0 && a->seconds == b->seconds &&
           a->n_moves == b->n_moves && a->n_readings == b->n_readings && a->n_runs == b->n_runs &&
           a->n_taken == b->n_taken && a->cautions == b->cautions && a->gaps_read == b->gaps_read &&
           a->has_run == b->has_run && a->is_supported == b->is_supported &&
           a->is_isolated == b->is_isolated && a->is_finished == b->is_finished &&
           practice_extension(a) == practice_extension(b);
}

/* Games played at random: what is refused changes nothing and costs nothing, minutes never go back, every run keeps its energy. */
static void random_games(void)
{
    enum { GAMES = 60, MOVES = 60 };
    int n_refused_clean = 0, n_refused = 0, n_balanced = 0, n_runs = 0, n_back = 0, n_failed = 0;
    rng = 31;
    for (int k = 0; k < GAMES; k++) {
        struct practice p;
        memset(&p, 0, sizeof p);
        if (practice_draw((uint64_t)k, 300, &p) != ERR_OK)
            continue;
        p.state.wear[0][0] = within(0, 4 * MM);
        for (int i = 0; i < MOVES; i++) {
            static const int64_t places[] = {0, 150, 500, 960, 961};
            struct practice before;
            struct practice_result r;
            const enum practice_op op =
                within(0, 2) ? (enum practice_op)within(0, 3) : (enum practice_op)within(0, 18);
            const int64_t amount = op == PRACTICE_RUN ? places[within(0, 4)] * MM : within(-4, 4);
            memcpy(&before, &p, sizeof p);
            n_failed +=
                practice_do(&p, op, (int)within(0, 1), (int)within(0, 1), amount, &r) != ERR_OK;
            n_back += p.seconds < before.seconds;
            if (r.refusal != PRACTICE_FINE) {
                n_refused++;
                n_refused_clean += is_same(&before, &p) && r.seconds == 0 && r.nano == 0;
            } else if (op == PRACTICE_RUN) {
                const struct drive_energy *e = &p.run.energy;
                const double lost = e->supply + e->copper + e->motor + e->gearbox + e->friction +
                                    e->slope + e->seal + e->coupling;
                n_runs++;
                n_balanced += fabs(e->in - lost) <= 1e-9 * (fabs(e->in) + 1.0);
            }
        }
    }
    tap_ok(n_failed == 0 && n_back == 0, "no operation fails or takes minutes back");
    tap_ok(n_refused > 100 && n_refused_clean == n_refused,
           "%d of %d refusals change and cost nothing", n_refused_clean, n_refused);
    tap_ok(n_runs > 100 && n_balanced == n_runs, "%d of %d runs keep their energy", n_balanced,
           n_runs);
}

/* ---- the way back -------------------------------------------------------------------------- */

/* Planted pose from noisy gaps by modes: the effects are -offset, -yaw x 0.405 m, -lean x 0.6 m, -twist x 0.405 x 0.6 m2
 * (test_mechanism.c, by hand). The scatter over what is planted, in stated u, has mean square 1. */
static void pose_back(void)
{
    enum { UNITS = 400, SIDE = 1, HEIGHT = 2, TRAVEL = 4 };
    static const unsigned sets[] = {SIDE, SIDE | TRAVEL, SIDE | HEIGHT, SIDE | HEIGHT | TRAVEL};
    static const double per[] = {1.0, 0.405, 0.6, 0.243};
    double square[4] = {0};
    int n_near[4] = {0};
    rng = 21;
    for (int k = 0; k < UNITS; k++) {
        const int64_t pose[] = {within(-2 * MM, 2 * MM), within(-3 * MM, 3 * MM),
                                within(-3 * MM, 3 * MM), within(-MM, MM)};
        const struct practice_fault f[] = {{PRACTICE_OFFSET, 0, 0, pose[0]},
                                           {PRACTICE_YAW, 0, 0, pose[1]},
                                           {PRACTICE_LEAN, 0, 0, pose[2]},
                                           {PRACTICE_TWIST, 0, 0, pose[3]}};
        struct practice p;
        struct modes_point points[CORNERS];
        struct modes_effect e[CORNERS];
        size_t at = 0;
        if (practice_plant((uint64_t)k, f, 4, &p, &at) != ERR_OK)
            continue;
        p.tape.calibration_nm = 0; /* nothing is off in this gauge but its noise */
        for (int travel = 0; travel < 2; travel++) {
            act(&p, PRACTICE_RUN, 0, 0, travel ? 960 * MM : 150 * MM);
            for (int i = travel; i < CORNERS; i += 2)
                points[i] = (struct modes_point){
                    .level = {i < 4 ? 1 : -1, i % 4 < 2 ? 1 : -1, travel ? 1 : -1},
                    .deviation = act(&p, PRACTICE_READ_GAP, i / 4, i % 4 < 2, 0).nano - 58 * MM,
                    .u = tape_u(&p.tape)};
        }
        if (modes_effects(points, CORNERS, 3, e) != ERR_OK)
            continue;
        for (int j = 0; j < 4; j++) {
            const double z = ((double)e[sets[j]].value + (double)pose[j] * per[j]) / e[sets[j]].u;
            square[j] += z * z;
            n_near[j] += fabs(z) <= 2.0;
        }
    }
    static const char *const names[] = {"offset", "yaw", "lean", "twist"};
    for (int j = 0; j < 4; j++) {
        /* Five standard errors of a mean square, sqrt(2/n); P(|z| <= 2) = 0.9545, five of sqrt(p q/n). */
        tap_ok(fabs(square[j] / UNITS - 1.0) < 5.0 * sqrt(2.0 / UNITS),
               "%s comes back with the scatter its uncertainty says: mean square %.3f", names[j],
               square[j] / UNITS);
        tap_ok(fabs(n_near[j] / (double)UNITS - 0.9545) < 5.0 * sqrt(0.9545 * 0.0455 / UNITS),
               "%s within 2 u as often as it should: %d of %d", names[j], n_near[j], UNITS);
    }
}

/* Racks of fore and aft out by whole teeth: timing's differences tell how many. */
static void teeth_back(void)
{
    enum { UNITS = 200 };
    static char room[1 << 20];
    int n_good = 0;
    rng = 22;
    for (int k = 0; k < UNITS; k++) {
        const int64_t out[2] = {within(-3, 3), within(-3, 3)};
        const struct practice_fault f[] = {{PRACTICE_TEETH, 0, 0, out[0]},
                                           {PRACTICE_TEETH, 1, 1, out[1]}};
        struct practice p;
        struct timing_rack racks[4];
        struct timing_answer answer;
        size_t at = 0;
        if (practice_plant((uint64_t)k, f, 2, &p, &at) != ERR_OK)
            continue;
        act(&p, PRACTICE_RUN, 0, 0, 960 * MM);
        for (int i = 0; i < 4; i++)
            racks[i] = (struct timing_rack){act(&p, PRACTICE_READ_END, i / 2, i % 2, 0).nano,
                                            tape_u(&p.end_gauge),
                                            -3,
                                            3,
                                            720,
                                            120};
        const struct timing_difference d[] = {{0, 1, 0, -1200000, 1200000},
                                              {2, 3, 0, -1200000, 1200000}};
        const struct timing_problem problem = {.n_racks = 4,
                                               .n_differences = 2,
                                               .racks = racks,
                                               .differences = d,
                                               .module_nm = 2 * MM,
                                               .has_guard = true,
                                               .risk = 0.05};
        n_good += timing_solve(&problem, room, sizeof room, &answer, &at) == ERR_OK &&
                  answer.differences[0].teeth == out[0] && answer.differences[1].teeth == -out[1] &&
                  answer.moves[0] - answer.moves[1] == -out[0] &&
                  answer.moves[2] - answer.moves[3] == out[1];
    }
    tap_ok(n_good == UNITS, "%d of %d: timing finds the teeth that were planted", n_good, UNITS);
}

/* Small version of bench_advice. */
static void advice(void)
{
    enum { UNITS = 80 };
    int n_promised = 0, n_kept = 0;
    int first[ADVICE_WAYS] = {0}, n_fixable = 0, n_wrong = 0, n_told = 0, n_cannot = 0;
    for (uint64_t seed = 1; seed <= UNITS; seed++)
        for (int w = 0; w < ADVICE_WAYS; w++) {
            struct advice_outcome o;
            if (!advice_follow((enum advice_way)w, seed, 150, false, &o)) {
                tap_ok(false, "the model works on unit %d", (int)seed);
                return;
            }
            first[w] += o.is_fixable && o.is_in_first;
            if (w != ADVICE_TRUING_ALL)
                continue;
            n_promised += !o.said_no;
            n_kept += !o.said_no && o.is_in_first;
            n_fixable += o.is_fixable;
            n_cannot += !o.is_fixable;
            n_told += !o.is_fixable && o.said_no;
            n_wrong += o.is_fixable && o.said_never;
        }
    for (int w = 0; w < ADVICE_WAYS; w++)
        tap_note("%s: %d of %d fixable at the first go", advice_name((enum advice_way)w), first[w],
                 n_fixable);
    tap_ok(n_fixable >= 60 && n_cannot >= 1,
           "some units can be brought in (%d) and some cannot (%d)", n_fixable, n_cannot);
    for (int w = ADVICE_TRUING_ALL; w <= ADVICE_AIMED; w++)
        tap_ok(first[w] * 20 >= n_fixable * 19 && first[w] > first[ADVICE_WORST] &&
                   first[w] > first[ADVICE_ONE] && first[w] > first[ADVICE_EQUAL],
               "%s: at least 19 in 20 at the first go, more than any plain strategy",
               advice_name((enum advice_way)w));
    tap_ok(first[ADVICE_AIMED] >= first[ADVICE_TRUING],
           "aiming closer brings no fewer inside than the guard a reading");
    /* 1 % of all readings together: of 80 at most 4 (binomial, more than 4 in fewer than 2 of 1000 such sets). */
    tap_ok(n_promised >= 40 && n_promised - n_kept <= 4,
           "of %d plans that promise all inside %d keep it", n_promised, n_kept);
    tap_ok(n_told == n_cannot,
           "%d of %d that cannot be brought in are said to be so before anything is moved", n_told,
           n_cannot);
    tap_ok(n_wrong == 0, "and none that can is called impossible");
}

int main(void)
{
    perfect();
    where();
    mirrors();
    refusals();
    exercise(true);
    exercise(false);
    openings();
    weak_supply();
    wrong_cut();
    same_again();
    traces();
    random_games();
    pose_back();
    teeth_back();
    advice();
    return tap_done();
}

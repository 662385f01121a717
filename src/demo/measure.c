/* measure: owns how the unit stands, what is read of it, which kit and cut follow, and how it is trued. */
#include "bulletin/adapt_truing.h"
#include "core/advise.h"
#include "demo/work.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TRUING_ROUNDS = 8, READ_TRIES = 40, CROOKED_TEETH = 2, TEETH_MOST = 7 };
#define MM_NM     1000000.0
#define SPREAD_OF 10.0 /* of other points: a tenth of the way between their limits */

/* ---- how the unit stands ----------------------------------------------------------------------- */

static int64_t normal_nm(struct random *r, double sd_mm)
{
    return (int64_t)(work_normal(r, 2.2) * sd_mm * MM_NM);
}

static const char *draw_relief(struct work *w, int station)
{
    const double share = random_share(&w->random);
    const bool must_be_cut = w->claim->station == station && (w->claim->kind == KIND_CUT_WRONG ||
                                                              w->claim->kind == KIND_CUT_MISSING);
    if (share < 0.4 || (must_be_cut && share < 0.6))
        return "upper";
    return share < 0.75 || must_be_cut ? "lower" : "both";
}

void work_state(struct work *w)
{
    struct random *r = &w->random;
    w->mechanism = w->tools->mechanism;
    w->mechanism.room_width += normal_nm(r, 0.9);
    w->state = (struct mechanism_state){.offset = normal_nm(r, 0.7),
                                        .yaw_per_m = normal_nm(r, 0.7),
                                        .lean_per_m = normal_nm(r, 0.7),
                                        .twist_per_m = normal_nm(r, 0.2)};
    for (int s = 0; s < WORLD_STATIONS; s++) {
        w->relief[s] = draw_relief(w, s);
        w->length_nm[s] = strcmp(w->relief[s], "both") == 0
                              ? 1180000000 + random_within(r, -600000, 600000)
                              : random_within(r, 1000000000, 1440000000);
        if (!w->claim->is_done[s])
            continue;
        /* The fault of the campaign: pinions have crept on the shaft, and some racks have slipped. */
        for (int k = 0; k < MECHANISM_RACKS; k++) {
            w->state.creep[s][k] = normal_nm(r, 1.2);
            w->state.teeth[s][k] = (int32_t)random_below(r, 3) - 1;
        }
    }
}

void work_rebuilt(struct work *w)
{
    for (int s = 0; s < WORLD_STATIONS; s++) {
        if (!w->claim->is_done[s])
            continue;
        const bool is_left = w->claim->kind == KIND_MISTIMED && w->claim->station == s;
        for (int k = 0; k < MECHANISM_RACKS; k++) {
            w->state.creep[s][k] = normal_nm(&w->random, 0.1);
            w->state.teeth[s][k] = is_left ? CROOKED_TEETH : 0;
        }
    }
}

/* ---- reading ----------------------------------------------------------------------------------- */

static struct conform_limits limits_of(const struct bulletin_point *point)
{
    return (struct conform_limits){.low = point->low.is_given ? point->low.nano : INT64_MIN,
                                   .high = point->high.is_given ? point->high.nano : INT64_MAX};
}

static bool is_inside(const struct work *w, const struct bulletin_point *point, int64_t value)
{
    const struct bulletin *b = w->world->bulletin;
    struct conform_answer answer;
    return conform_judge(value, adapt_point_u(b, point), limits_of(point), b->decision.risk,
                         &answer) == ERR_OK &&
           answer.guarded == VERDICT_INSIDE;
}

static int station_of(const struct work *w, const char *id)
{
    for (int s = 0; s < WORLD_STATIONS; s++)
        if (strcmp(work_station(w, s), id) == 0)
            return s;
    return -1;
}

static void put_reading(struct work *w, const struct bulletin_point *point, int64_t value,
                        const char *step)
{
    struct event *e = work_add(w, EVENT_READING_TAKEN, station_of(w, point->station));
    if (e == NULL)
        return;
    const enum unit unit = point->nominal.unit;
    e->as.reading_taken = (struct event_reading_taken){
        .point = point->id,
        .value = {value, point->nominal.dim == DIM_LENGTH ? UNIT_NM : unit},
        .instrument = point->instrument[0] != '\0' ? point->instrument : NULL,
        .step = step};
}

/* What is there to be read beside the gaps: of the drive where the model tells it; of a count what it must be; of what nothing of the
 * model tells (torque) a value well inside. Whoever reads outside by the instrument's chance reads again. */
static int64_t truth_of(struct work *w, const struct bulletin_point *point)
{
    const int64_t nominal = point->nominal.nano;
    int64_t value = nominal;
    if (work_drive_tells(w, point, &value))
        return value;
    const int64_t low = point->low.is_given ? point->low.nano : 2 * nominal - point->high.nano;
    const int64_t high = point->high.is_given ? point->high.nano : 2 * nominal - point->low.nano;
    return nominal + (int64_t)(work_normal(&w->random, 2.5) * (double)(high - low) / SPREAD_OF);
}

void work_read(struct work *w, const struct bulletin_point *point, const char *step)
{
    work_pass(w, 1.6);
    if (point->nominal.dim == DIM_COUNT) {
        put_reading(w, point, point->nominal.nano, step);
        return;
    }
    const int64_t there = truth_of(w, point);
    const bool is_length = point->nominal.dim == DIM_LENGTH;
    int64_t value = work_shown(w, point->instrument, is_length, there);
    for (int i = 1; i < READ_TRIES && !is_inside(w, point, value); i++)
        value = work_shown(w, point->instrument, is_length, there);
    put_reading(w, point, value, step);
}

/* ---- gaps -------------------------------------------------------------------------------------- */

static int level_of(const struct bulletin_point *point, const char *factor)
{
    for (size_t i = 0; i < point->factors.n; i++)
        if (strcmp(point->factors.at[i].factor, factor) == 0)
            return point->factors.at[i].level;
    return 0;
}

static bool is_gap(const struct bulletin_point *point)
{
    return point->nominal.dim == DIM_LENGTH && point->extension.is_given &&
           level_of(point, "side") != 0 && level_of(point, "height") != 0;
}

static int64_t true_gap(struct work *w, const struct bulletin_point *point)
{
    const int side = level_of(point, "side") > 0 ? MECHANISM_FORE : MECHANISM_AFT;
    const int height = level_of(point, "height") > 0 ? MECHANISM_UPPER : MECHANISM_LOWER;
    int64_t gap = point->nominal.nano;
    const enum err e =
        mechanism_gap(&w->mechanism, &w->state, (enum mechanism_side)side,
                      w->mechanism.reading_height[height], point->extension.nano, &gap);
    if (e != ERR_OK && w->err == ERR_OK)
        w->err = e;
    return gap;
}

/* All gaps once; readings[] for the solver. */
static void read_gaps(struct work *w, const char *step,
                      struct adapt_reading readings[BULLETIN_POINTS_MAX])
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        readings[i] = (struct adapt_reading){.is_given = false};
        if (!is_gap(point))
            continue;
        work_pass(w, 1.1);
        const int64_t value = work_shown(w, point->instrument, true, true_gap(w, point));
        put_reading(w, point, value, step);
        readings[i] = (struct adapt_reading){true, value, adapt_point_u(b, point)};
    }
}

void work_read_gaps(struct work *w, const char *step)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX];
    read_gaps(w, step, readings);
}

/* ---- truing ------------------------------------------------------------------------------------ */

/* Ids of the bulletin: "fore-upper-packing", "aft-toe". */
static void apply(struct work *w, const char *adjuster, int station, int32_t steps)
{
    if (strstr(adjuster, "upper") != NULL)
        w->state.packing[station][MECHANISM_UPPER] += steps;
    else if (strstr(adjuster, "lower") != NULL)
        w->state.packing[station][MECHANISM_LOWER] += steps;
    else
        w->state.toe[station] += steps;
}

static const struct bulletin_adjuster *adjuster_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->adjusters.n; i++)
        if (strcmp(b->adjusters.at[i].id, id) == 0)
            return &b->adjusters.at[i];
    return NULL;
}

static void move(struct work *w, const struct problem *p, const struct truing_plan *plan)
{
    for (size_t a = 0; a < p->truing.n_adjusters; a++) {
        const struct bulletin_adjuster *adjuster =
            adjuster_find(w->world->bulletin, p->adjuster_id[a]);
        const int station = adjuster != NULL ? station_of(w, adjuster->station) : -1;
        if (plan->steps[a] == 0 || station < 0)
            continue;
        work_pass(w, 6.0 + 0.5 * abs(plan->steps[a]));
        apply(w, adjuster->id, station, plan->steps[a]);
        struct event *e = work_add(w, EVENT_MOVED, station);
        if (e != NULL)
            e->as.moved = (struct event_moved){
                .target = EVENT_ADJUSTER, .name = adjuster->id, .steps = plan->steps[a]};
    }
}

/* *ret_inside: nothing is left to do. Else what the program's own first plan says was moved. */
static enum err true_once(struct work *w, const struct adapt_reading *readings, bool *ret_inside)
{
    struct adapt_truing truing;
    struct fault fault = {0};
    enum err e = adapt_truing(w->world->bulletin, readings, &truing, &fault);
    struct truing_answer *answer = calloc(1, sizeof *answer);
    *ret_inside = true;
    if (answer == NULL)
        e = ERR_MEMORY;
    for (size_t i = 0; i < truing.n_problems && e == ERR_OK; i++) {
        struct problem *p = truing.problems[i];
        size_t at = 0;
        p->truing.n_plans = 1;
        const size_t room = truing_workspace(p->truing.n_points, p->truing.n_adjusters);
        void *workspace = malloc(room > 0 ? room : 1);
        e = workspace != NULL
                ? advise_solve(&p->truing, ADVISE_PLAN_RISK, workspace, room, answer, &at)
                : ERR_MEMORY;
        free(workspace);
        if (e != ERR_OK || answer->verdict == VERDICT_INSIDE)
            continue;
        *ret_inside = false;
        move(w, p, &answer->plans[0]);
    }
    free(answer);
    adapt_truing_done(&truing);
    return e;
}

static bool is_any_far_outside(struct work *w)
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        if (!is_gap(point))
            continue;
        const int64_t gap = true_gap(w, point);
        if (gap < point->low.nano - 1500000 || gap > point->high.nano + 1500000)
            return true;
    }
    return false;
}

/* Read, move what the plan says, read all anew, until every gap is inside; or, with racks left out of step, read once and leave. */
void work_true(struct work *w, const char *step)
{
    struct adapt_reading readings[BULLETIN_POINTS_MAX];
    if (w->claim->kind == KIND_MISTIMED) {
        int32_t *teeth = w->state.teeth[w->claim->station];
        while (!is_any_far_outside(w) && teeth[0] < TEETH_MOST)
            teeth[0] = ++teeth[1];
        read_gaps(w, step, readings);
        w->is_trued = true;
        return;
    }
    for (int round = 0; round < TRUING_ROUNDS && !w->is_trued; round++) {
        read_gaps(w, step, readings);
        const enum err e = true_once(w, readings, &w->is_trued);
        if (e != ERR_OK && w->err == ERR_OK)
            w->err = e;
        if (e != ERR_OK)
            return;
    }
    if (!w->is_trued) /* moved once more without a reading: what is sent in must be what is */
        read_gaps(w, step, readings);
}

/* ---- racks, kit, cut --------------------------------------------------------------------------- */

static const struct bulletin_timing_station *racks_of(const struct work *w, int station)
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < b->timing.stations.n; i++)
        if (strcmp(b->timing.stations.at[i].station, work_station(w, station)) == 0)
            return &b->timing.stations.at[i];
    return NULL;
}

static int64_t measure_one(struct work *w, const char *rack, int station)
{
    work_pass(w, 1.2);
    const int64_t value =
        work_shown(w, w->world->bulletin->cut.instrument, true, w->length_nm[station]);
    struct event *e = work_add(w, EVENT_RACK_MEASURED, station);
    if (e != NULL)
        e->as.rack_measured = (struct event_rack_measured){
            .rack = rack, .length_nm = value, .instrument = w->world->bulletin->cut.instrument};
    return value;
}

/* Which kit the station's lengths lead to; false when none does, or the racks disagree so that one measures again. */
static bool choose(const struct work *w, int station, const int64_t *lengths, size_t n,
                   struct kit_answer *ret, struct kit_need *ret_need)
{
    const struct bulletin *b = w->world->bulletin;
    const struct adapt_kits *kits = w->tools->kits;
    const struct bulletin_timing_station *racks = racks_of(w, station);
    int group[CUT_RACKS_MAX] = {0};
    struct cut_pair pair;
    size_t at = 0;
    *ret_need = (struct kit_need){.station = station, .n_racks = n, .u = kits->u};
    adapt_station_values(b, &b->scope.stations.at[station], ret_need->values);
    for (size_t i = 0; i < b->scope.attributes.n && i < KIT_ATTRIBUTES_MAX; i++)
        if (strcmp(b->scope.attributes.at[i].id, "relief") == 0)
            ret_need->values[i] = adapt_value(&b->scope.attributes.at[i], w->relief[station]);
    for (size_t i = 0; i < n; i++) {
        ret_need->rack[i] = adapt_rack(kits, racks->racks.at[i]);
        ret_need->needed_nm[i] = lengths[i];
    }
    if (cut_remeasure(lengths, group, n, kits->u.tape_nm, kits->remeasure_factor, &pair))
        return false;
    return kit_choose(kits->kits, kits->n_kits, kits->n_attributes, ret_need, ret, &at) == ERR_OK &&
           ret->chosen >= 0;
}

/* The lengths that hold: the last of each rack. */
static size_t last_lengths(const struct work *w, int station, int64_t lengths[CUT_RACKS_MAX])
{
    const struct bulletin_timing_station *racks = racks_of(w, station);
    const size_t n = racks != NULL && racks->racks.n <= CUT_RACKS_MAX ? racks->racks.n : 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < w->n_events; k++) {
            const struct event *e = &w->events[k].event;
            if (e->type == EVENT_RACK_MEASURED && e->station == work_station(w, station) &&
                strcmp(e->as.rack_measured.rack, racks->racks.at[i]) == 0)
                lengths[i] = e->as.rack_measured.length_nm;
        }
    return n;
}

/* Each twice; all again when they disagree beyond what the tape explains, or when no kit would fit. */
void work_measure_racks(struct work *w, int station)
{
    const struct bulletin_timing_station *racks = racks_of(w, station);
    struct kit_answer *answer = calloc(1, sizeof *answer);
    struct kit_need need;
    int64_t lengths[CUT_RACKS_MAX] = {0};
    bool is_good = false;
    if (answer == NULL || racks == NULL || racks->racks.n > CUT_RACKS_MAX)
        w->err = answer == NULL ? ERR_MEMORY : ERR_DOMAIN;
    for (int i = 0; i < READ_TRIES && !is_good && w->err == ERR_OK; i++) {
        for (size_t k = 0; k < racks->racks.n; k++) {
            (void)measure_one(w, racks->racks.at[k], station);
            lengths[k] = measure_one(w, racks->racks.at[k], station);
        }
        is_good = choose(w, station, lengths, racks->racks.n, answer, &need);
    }
    if (!is_good && w->err == ERR_OK)
        w->err = ERR_DOMAIN;
    free(answer);
}

static struct event_pairs seen_attributes(struct work *w, int station)
{
    const struct bulletin_station *s = &w->world->bulletin->scope.stations.at[station];
    struct event_pairs pairs = {.pairs = w->pairs + w->n_pairs};
    for (size_t i = 0; i < s->with.n && w->n_pairs < WORK_PAIRS - 1; i++, pairs.n++)
        w->pairs[w->n_pairs++] = (struct event_pair){s->with.at[i].key, s->with.at[i].value};
    if (w->n_pairs == WORK_PAIRS) {
        w->err = ERR_LIMIT;
        return pairs;
    }
    w->pairs[w->n_pairs++] = (struct event_pair){"relief", w->relief[station]};
    pairs.n++;
    return pairs;
}

void work_choose_kit(struct work *w, int station)
{
    struct kit_answer *answer = calloc(1, sizeof *answer);
    struct kit_need need;
    int64_t lengths[CUT_RACKS_MAX] = {0};
    const size_t n = last_lengths(w, station, lengths);
    work_pass(w, 0.5);
    if (answer == NULL || n == 0 || !choose(w, station, lengths, n, answer, &need)) {
        if (w->err == ERR_OK)
            w->err = answer == NULL ? ERR_MEMORY : ERR_DOMAIN;
    } else {
        struct event *e = work_add(w, EVENT_KIT_CHOSEN, station);
        if (e != NULL)
            e->as.kit_chosen =
                (struct event_kit_chosen){.kit = w->world->bulletin->kits.at[answer->chosen].id,
                                          .with = seen_attributes(w, station)};
    }
    free(answer);
}

void work_cut(struct work *w, int station)
{
    const struct bulletin_timing_station *racks = racks_of(w, station);
    struct kit_answer *answer = calloc(1, sizeof *answer);
    struct kit_need need;
    int64_t lengths[CUT_RACKS_MAX] = {0};
    const size_t n = last_lengths(w, station, lengths);
    if (answer == NULL || n == 0 || !choose(w, station, lengths, n, answer, &need)) {
        if (w->err == ERR_OK)
            w->err = answer == NULL ? ERR_MEMORY : ERR_DOMAIN;
        free(answer);
        return;
    }
    for (size_t i = 0; i < n; i++) {
        const struct cut_answer *cut = &answer->kits[answer->chosen].racks[i];
        if (cut->status != CUT_DO)
            continue;
        work_pass(w, 6.5);
        struct event *e = work_add(w, EVENT_CUT, station);
        if (e != NULL)
            e->as.cut = (struct event_cut){.rack = racks->racks.at[i],
                                           .needed_nm = cut->needed_nm,
                                           .stock_nm = cut->stock_nm,
                                           .mark_nm = cut->mark_nm,
                                           .offcut_nm = cut->offcut_nm,
                                           .from_end = w->relief[station]};
    }
    free(answer);
}

/* work: owns the order and the pace of a job: which event comes when. */
#include "demo/work.h"

#include "demo/plant.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Invented times: what each step takes, in minutes, beside what is read, cut and photographed in it. */
static const struct {
    const char *step;
    double minutes;
} paces[] = {
    {"identify", 2.0},       {"set-site", 14.0},      {"gaps-before", 1.0},
    {"support-room", 17.0},  {"isolate-supply", 8.0}, {"release-drive", 11.0},
    {"remove-column", 13.0}, {"measure-racks", 2.0},  {"inspect-kept", 9.0},
    {"cut-racks", 1.0},      {"deburr", 7.0},         {"rebuild-column", 21.0},
    {"time-racks", 8.0},     {"refit-column", 15.0},  {"restore-supply", 7.0},
    {"first-run", 12.0},     {"true-room", 1.0},      {"seal", 13.0},
    {"commission", 2.0},     {"water-test", 11.0},    {"close", 4.0},
};

static const struct {
    const char *photo;
    enum picture_subject subject;
} subjects[] = {
    {"label", PICTURE_LABEL},
    {"room-supported", PICTURE_ROOM},
    {"supply-isolated", PICTURE_SWITCH},
    {"old-racks", PICTURE_RACKS},
    {"cut-ends", PICTURE_CUT_ENDS},
    {"racks-timed", PICTURE_RACK_ENDS},
    {"fixings", PICTURE_FIXINGS},
    {"seal", PICTURE_SEAL},
    {"finished", PICTURE_FINISHED},
};

static const char *const notes[] = {
    "The keeper saw one cycle and has the old parts' tags explained.",
    "Old racks and pinions are tagged with the VIN and kept.",
    "One shim bag had lost its label; the packing was told by its thickness.",
    "Ground was soft: spreader boards under both stands.",
};

/* ---- events ------------------------------------------------------------------------------------ */

void work_pass(struct work *w, double minutes)
{
    const double spread = 0.9 + 0.2 * random_share(&w->random);
    w->now_ms +=
        (int64_t)(minutes * 60000.0 * w->speed * spread) + random_within(&w->random, 400, 2900);
}

const char *work_station(const struct work *w, int station)
{
    return station < 0 ? NULL : w->world->bulletin->scope.stations.at[station].id;
}

struct event *work_add(struct work *w, enum event_type type, int station)
{
    if (w->n_events == WORK_EVENTS) {
        w->err = ERR_LIMIT;
        return NULL;
    }
    struct work_event *at = &w->events[w->n_events++];
    *at = (struct work_event){.shot = -1,
                              .event = {.type = type,
                                        .at_ms = w->now_ms,
                                        .technician = w->technician,
                                        .shop = w->shop,
                                        .station = work_station(w, station)}};
    return &at->event;
}

const char *work_text(struct work *w, const char *text)
{
    const size_t n = strlen(text) + 1;
    if (n > WORK_ARENA - w->n_arena) {
        w->err = ERR_LIMIT;
        return "";
    }
    char *at = w->arena + w->n_arena;
    memcpy(at, text, n);
    w->n_arena += n;
    return at;
}

static void confirm(struct work *w, const struct bulletin_step *step, int station)
{
    work_pass(w, 0.15);
    struct event *e = work_add(w, EVENT_HOLD_CONFIRMED, station);
    if (e != NULL)
        e->as.hold_confirmed.step = step->id;
}

static void take_photo(struct work *w, const char *photo, int station)
{
    if (w->n_shots == WORK_SHOTS) {
        w->err = ERR_LIMIT;
        return;
    }
    work_pass(w, 0.7);
    struct event *e = work_add(w, EVENT_PHOTO_TAKEN, station);
    if (e == NULL)
        return;
    struct work_shot *shot = &w->shots[w->n_shots];
    *shot = (struct work_shot){
        .subject = PICTURE_ROOM,
        .seed = random_mix(w->world->seed ^ w->claim->number, RANDOM_PICTURE, w->n_shots),
        .taken_ms = w->now_ms - random_within(&w->random, 2000, 20000),
        .offset_min = w->world->shops[w->claim->shop].offset_min,
        .quality = WORK_QUALITY};
    for (size_t i = 0; i < sizeof subjects / sizeof subjects[0]; i++)
        if (strcmp(subjects[i].photo, photo) == 0)
            shot->subject = subjects[i].subject;
    if (shot->subject == PICTURE_LABEL && station >= 0) {
        const char *printed =
            w->label_code[station][0] != '\0' ? w->label_code[station] : w->label[station];
        memcpy(shot->text, printed, sizeof shot->text);
        memcpy(shot->code, w->label_code[station], sizeof shot->code);
    } else if (shot->subject == PICTURE_FINISHED) {
        memcpy(shot->text, w->plate, sizeof w->plate);
        memcpy(shot->code, w->plate, sizeof w->plate);
    }
    shot->must_be_read = (w->claim->kind == KIND_CODE_LABEL && shot->subject == PICTURE_LABEL &&
                          station == w->claim->station) ||
                         (w->claim->kind == KIND_CODE_VIN && shot->subject == PICTURE_FINISHED);
    snprintf(shot->path, sizeof shot->path, "photos/%s%s%s.jpg",
             station < 0 ? "" : work_station(w, station), station < 0 ? "" : "-", photo);
    e->as.photo_taken.photo = photo;
    e->as.photo_taken.path = shot->path;
    e->as.photo_taken.sha256 = shot->sha256;
    w->events[w->n_events - 1].shot = (int)w->n_shots++;
}

/* ---- what belongs to one step ------------------------------------------------------------------ */

static void read_label(struct work *w, int station)
{
    const struct bulletin *b = w->world->bulletin;
    struct scope_sight sights[WORLD_STATIONS] = {{.state = SCOPE_LABEL_UNREAD}};
    struct scope_answer *answer = calloc(1, sizeof *answer);
    struct fault fault = {0};
    char reason[SCOPE_TEXT_MAX];
    size_t at = 0;
    struct event *e = work_add(w, EVENT_LABEL_READ, station);
    if (e == NULL || answer == NULL) {
        w->err = w->err != ERR_OK ? w->err : ERR_MEMORY;
        free(answer);
        return;
    }
    struct scope_sight *sight = &sights[station];
    const bool is_read = adapt_scope_label(b, w->label[station], sight, &fault) == ERR_OK &&
                         sight->state == SCOPE_LABEL_READ;
    e->as.label_read = (struct event_label_read){
        .text = w->label[station], .built_first_day = EVENT_ABSENT, .built_last_day = EVENT_ABSENT};
    if (is_read) {
        e->as.label_read.variant = work_text(w, sight->label.variant);
        e->as.label_read.built_first_day = sight->label.first_day;
        e->as.label_read.built_last_day = sight->label.last_day;
    }
    work_pass(w, 0.1);
    e = work_add(w, EVENT_SCOPE_FOUND, station);
    if (e != NULL &&
        scope_judge(&w->world->rule->rule, w->vin, VIN_SIZE, sights, answer, &at) == ERR_OK) {
        static const enum event_verdict verdicts[] = {
            [SCOPE_OUT] = EVENT_OUT, [SCOPE_IN] = EVENT_IN, [SCOPE_UNKNOWN] = EVENT_UNKNOWN};
        const struct scope_finding *finding = &answer->stations[station];
        (void)scope_reason_text(&w->world->rule->rule, sight, answer, finding, reason,
                                sizeof reason);
        e->as.scope_found.verdict = verdicts[finding->verdict];
        e->as.scope_found.reason = strlen(reason) <= EVENT_LINE_MAX ? work_text(w, reason) : NULL;
    }
    free(answer);
}

/* A fresh rack that was laid in a tooth too far out goes back. */
static void time_racks(struct work *w, int station)
{
    const struct bulletin *b = w->world->bulletin;
    if (!random_chance(&w->random, 0.3) || b->timing.node == NULL ||
        (size_t)station >= b->timing.stations.n || b->timing.stations.at[station].racks.n < 2)
        return;
    work_pass(w, 5.0);
    struct event *e = work_add(w, EVENT_MOVED, station);
    if (e != NULL)
        e->as.moved = (struct event_moved){.target = EVENT_RACK,
                                           .name = b->timing.stations.at[station].racks.at[1],
                                           .steps = random_chance(&w->random, 0.5) ? 1 : -1};
}

static void do_special(struct work *w, const struct bulletin_step *step, int station)
{
    if (strcmp(step->id, "identify") == 0)
        read_label(w, station);
    else if (strcmp(step->id, "gaps-before") == 0)
        work_read_gaps(w, step->id);
    else if (strcmp(step->id, "measure-racks") == 0)
        work_measure_racks(w, station);
    else if (strcmp(step->id, "cut-racks") == 0)
        work_cut(w, station);
    else if (strcmp(step->id, "time-racks") == 0)
        time_racks(w, station);
    else if (strcmp(step->id, "true-room") == 0)
        work_true(w, step->id);
}

/* Readings that belong to the step and to this station, or to the unit; those of truing were taken already. */
static void do_readings(struct work *w, const struct bulletin_step *step, int station)
{
    if (strcmp(step->id, "true-room") == 0)
        return;
    for (size_t i = 0; i < step->readings.n; i++) {
        const struct bulletin_point *point =
            bulletin_point_find(w->world->bulletin, step->readings.at[i]);
        const char *where = work_station(w, station);
        if (point != NULL &&
            (point->station[0] == '\0' || (where != NULL && strcmp(point->station, where) == 0)))
            work_read(w, point, step->id);
    }
}

static void do_step(struct work *w, const struct bulletin_step *step, int station)
{
    double minutes = 6.0;
    for (size_t i = 0; i < sizeof paces / sizeof paces[0]; i++)
        if (strcmp(paces[i].step, step->id) == 0)
            minutes = paces[i].minutes;
    work_pass(w, minutes);
    if (strcmp(step->id, "measure-racks") ==
        0) /* the photo shows the racks with the tape, so it comes first */
        for (size_t i = 0; i < step->photos.n; i++)
            take_photo(w, step->photos.at[i], station);
    do_special(w, step, station);
    do_readings(w, step, station);
    for (size_t i = 0; i < step->photos.n && strcmp(step->id, "measure-racks") != 0; i++)
        take_photo(w, step->photos.at[i], station);
    if (step->hold != BULLETIN_HOLD_NONE)
        confirm(w, step, station);
    if (strcmp(step->id, "measure-racks") == 0)
        work_choose_kit(w, station);
}

/* A step that only shows the label is done at every station, all others where the column is in. */
static bool is_for(const struct work *w, const struct bulletin_step *step, int station)
{
    return w->claim->is_done[station] || strcmp(step->id, "identify") == 0;
}

/* Steps of the unit one by one; steps of a station in a row, first all of them at one station, then at the next. */
static void do_steps(struct work *w)
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < b->steps.n;) {
        size_t end = i;
        while (end < b->steps.n && b->steps.at[end].per == BULLETIN_PER_STATION)
            end++;
        if (end == i) {
            if (strcmp(b->steps.at[i].id, "restore-supply") == 0)
                work_rebuilt(w);
            do_step(w, &b->steps.at[i++], -1);
            continue;
        }
        for (int s = 0; s < WORLD_STATIONS; s++)
            for (size_t k = i; k < end; k++)
                if (is_for(w, &b->steps.at[k], s))
                    do_step(w, &b->steps.at[k], s);
        i = end;
    }
}

/* ---- expenses, the end ------------------------------------------------------------------------- */

static void expense(struct work *w, enum event_expense what, int64_t amount_minor, const char *part,
                    const char *why)
{
    work_pass(w, 0.3);
    struct event *e = work_add(w, EVENT_EXPENSE_CLAIMED, -1);
    if (e != NULL)
        e->as.expense_claimed =
            (struct event_expense_claimed){.what = what,
                                           .amount_minor = amount_minor,
                                           .part = part,
                                           .count = part != NULL ? 1 : EVENT_ABSENT,
                                           .why = why};
}

/* Below the caps by design; a kept part that did not meet its criterion is claimed at the bulletin's price. */
static void claim_expenses(struct work *w)
{
    const struct bulletin *b = w->world->bulletin;
    const bool is_mobile = w->world->shops[w->claim->shop].kind == BULLETIN_PAYEE_MOBILE;
    const int64_t cap = b->claim.caps.minor[BULLETIN_PAYS_TRAVEL];
    if (w->claim->kind == KIND_EXPENSE)
        expense(w, EVENT_TRAVEL, (cap > 0 ? cap : 10000) + random_within(&w->random, 2000, 9000),
                NULL, "there and back, twice");
    else if (is_mobile && random_chance(&w->random, 0.8))
        expense(w, EVENT_TRAVEL, random_within(&w->random, 22, 110) * 100, NULL, "there and back");
    if (random_chance(&w->random, 0.4))
        expense(w, EVENT_CONSUMABLES, random_within(&w->random, 6, 22) * 100, NULL, "sealant");
    if (random_chance(&w->random, 0.06)) {
        const struct bulletin_part *part = &b->parts.at[random_below(&w->random, b->parts.n)];
        if (part->is_kept && part->price_minor > 0)
            expense(w, EVENT_PARTS, part->price_minor, part->id, "did not meet its criterion");
    }
}

static void finish(struct work *w)
{
    if (random_chance(&w->random, 0.3)) {
        struct event *note = work_add(w, EVENT_NOTE, -1);
        if (note != NULL)
            note->as.note.text = notes[random_below(&w->random, sizeof notes / sizeof notes[0])];
    }
    claim_expenses(w);
    work_pass(w, 1.0);
    struct event *e = work_add(w, EVENT_FINISHED, -1);
    if (e != NULL)
        e->as.finished.minutes = (w->now_ms - w->events[0].event.at_ms) / 60000;
}

/* ---- the whole --------------------------------------------------------------------------------- */

enum err work_tools_make(const struct bulletin *bulletin, struct work_tools *ret,
                         struct fault *reterr)
{
    *ret = (struct work_tools){.bulletin = bulletin, .kits = calloc(1, sizeof *ret->kits)};
    if (ret->kits == NULL)
        return fault_no_memory(reterr);
    mechanism_invented(&ret->mechanism);
    return adapt_kits(bulletin, ret->kits, reterr);
}

void work_tools_done(struct work_tools *tools)
{
    free(tools->kits);
    tools->kits = NULL;
}

/* What is typed and what stands on labels and plate; some faults are in it from the start. */
static void start(struct work *w)
{
    const struct world_claim *c = w->claim;
    const struct world_unit *unit = &w->world->units[c->unit];
    const struct world_shop *shop = &w->world->shops[c->shop];
    snprintf(w->vin, sizeof w->vin, "%s", unit->vin);
    snprintf(w->plate, sizeof w->plate, "%s", unit->vin);
    for (int s = 0; s < WORLD_STATIONS; s++) {
        snprintf(w->label[s], sizeof w->label[s], "%s", unit->station[s].label);
        snprintf(w->label_code[s], sizeof w->label_code[s], "%s", unit->station[s].label);
    }
    w->revision = w->world->bulletin->head.revision;
    snprintf(w->bulletin_sha256, sizeof w->bulletin_sha256, "%s", w->world->bulletin_sha256);
    w->shop = shop->id;
    w->secret = &shop->secret;
    w->technician = w->world->persons[c->person].id;
    w->speed = w->world->persons[c->person].speed;
    w->now_ms = (int64_t)c->day * 86400000 + (int64_t)(c->start_min - shop->offset_min) * 60000 +
                random_within(&w->random, 0, 59999);
    plant_before(w);
}

enum err work_do(const struct world *world, const struct world_claim *claim,
                 const struct work_tools *tools, struct work *ret, struct fault *reterr)
{
    memset(ret, 0, sizeof *ret);
    ret->world = world;
    ret->claim = claim;
    ret->tools = tools;
    random_start(&ret->random, world->seed, RANDOM_WORK, claim->number);
    random_start(&ret->ids, world->seed, RANDOM_IDS, claim->number);
    start(ret);
    work_state(ret);
    struct event *opened = work_add(ret, EVENT_OPENED, -1);
    if (opened != NULL)
        opened->as.opened.software = "mendwright " MENDWRIGHT_VERSION;
    do_steps(ret);
    finish(ret);
    return ret->err == ERR_OK
               ? ERR_OK
               : fault_set(reterr, ret->err, "a made-up job does not fit: %s", err_text(ret->err));
}

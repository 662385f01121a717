/* plant: owns how each planted fault looks in the events and photos of a job. */
#include "demo/plant.h"

#include <stdio.h>
#include <string.h>

enum { FAST_SHARE = 7, FAR_NM = 1200000, MINUTE_MS = 60000 };
#define DAY_MS ((int64_t)86400000)

/* ---- before ------------------------------------------------------------------------------------ */

/* The label of another week in the windows, with the same variant and by the same pattern. */
static void other_label(struct work *w, int station, char ret[WORLD_LABEL])
{
    const struct world_unit *unit = &w->world->units[w->claim->unit];
    struct scope_sight sight = {.state = SCOPE_LABEL_UNREAD};
    struct fault fault = {0};
    if (adapt_scope_label(w->world->bulletin, unit->station[station].label, &sight, &fault) !=
            ERR_OK ||
        sight.state != SCOPE_LABEL_READ)
        return;
    const int32_t day =
        world_other_week(w->world, unit->variant, unit->station[station].day, &w->random);
    world_label(w->world, (size_t)sight.label.pattern, day, sight.label.variant, ret);
}

/* A label that is hard to read has no code that can be read either. */
static void smudge(struct work *w, int station)
{
    char *label = w->label[station];
    if (w->claim->kind == KIND_LABEL_UNREADABLE) {
        label[strlen(label) - 2] = '\0';
    } else {
        /* Looks like a digit and is a letter: no variant is called so. */
        char *at = strpbrk(label, "05");
        if (at != NULL)
            *at = *at == '0' ? 'O' : 'S';
    }
    w->label_code[station][0] = '\0';
}

static void wrong_vin(struct work *w)
{
    char *last = &w->vin[VIN_SIZE - 1];
    *last = (char)('0' + (*last - '0' + (int)random_within(&w->random, 1, 9)) % 10);
}

static void wrong_digest(struct work *w)
{
    for (size_t i = 0; i + 1 < sizeof w->bulletin_sha256; i++)
        w->bulletin_sha256[i] = "0123456789abcdef"[random_below(&w->random, 16)];
}

/* A shop that nobody knows signs with a key that nobody knows. */
static void unknown_shop(struct work *w)
{
    char id[WORLD_ID];
    snprintf(id, sizeof id, "far-yard-%03d", (int)random_within(&w->random, 700, 999));
    w->shop = work_text(w, id);
    snprintf(w->own_secret.shop, sizeof w->own_secret.shop, "%s", id);
    random_bytes(&w->random, w->own_secret.seed, sizeof w->own_secret.seed);
    w->secret = &w->own_secret;
}

void plant_before(struct work *w)
{
    const struct world *world = w->world;
    const int s = w->claim->station;
    switch (w->claim->kind) {
    case KIND_LABEL_UNREADABLE:
    case KIND_LABEL_VARIANT:
        smudge(w, s);
        break;
    case KIND_LABEL_DIFFERS:
        other_label(w, s, w->label[s]);
        memcpy(w->label_code[s], w->label[s], sizeof w->label[s]);
        break;
    case KIND_CODE_LABEL:
        other_label(w, s, w->label_code[s]);
        break;
    case KIND_VIN_WRONG:
        wrong_vin(w);
        break;
    case KIND_CODE_VIN:
        snprintf(w->plate, sizeof w->plate, "%s",
                 world->units[(w->claim->unit + 1) % world->n_units].vin);
        break;
    case KIND_REVISION_OLD:
        w->revision = world->bulletin->head.revision - 1;
        wrong_digest(w);
        break;
    case KIND_BULLETIN_DIFFERS:
        wrong_digest(w);
        break;
    case KIND_SHOP_UNKNOWN:
        unknown_shop(w);
        break;
    case KIND_UNSIGNED:
        w->secret = NULL;
        break;
    case KIND_SIGNED_BY_OTHER:
        w->secret =
            &world
                 ->shops[(w->claim->shop + 1 + random_below(&w->random, world->n_shops - 1)) %
                         world->n_shops]
                 .secret;
        break;
    default:
        break;
    }
}

/* ---- photos ------------------------------------------------------------------------------------ */

/* Where a rack is ready-made, photos and confirmations of cutting are nobody's wish. */
static bool is_cut_at(const struct work *w, const struct event *e)
{
    for (size_t i = 0; i < w->n_events; i++)
        if (w->events[i].event.type == EVENT_CUT && w->events[i].event.station == e->station)
            return true;
    return false;
}

/* A photo event at random among those that are wanted and have no code, so that the fault shows by itself. */
static struct work_event *pick_photo(struct work *w)
{
    size_t found[WORK_SHOTS], n = 0;
    for (size_t i = 0; i < w->n_events && n < WORK_SHOTS; i++) {
        const struct work_event *e = &w->events[i];
        if (e->shot < 0 || w->shots[e->shot].subject == PICTURE_LABEL ||
            w->shots[e->shot].code[0] != '\0' ||
            (w->shots[e->shot].subject == PICTURE_CUT_ENDS && !is_cut_at(w, &e->event)))
            continue;
        found[n++] = i;
    }
    return n > 0 ? &w->events[found[random_below(&w->random, n)]] : NULL;
}

static const struct work_shot *same_proof(const struct work *source, const char *photo)
{
    for (size_t i = 0; i < source->n_events; i++)
        if (source->events[i].shot >= 0 &&
            strcmp(source->events[i].event.as.photo_taken.photo, photo) == 0)
            return &source->shots[source->events[i].shot];
    return NULL;
}

static void copy_photo(struct work *w, struct work_shot *shot, const struct work_shot *from)
{
    static const enum work_treat treats[KIND_N] = {[KIND_COPY_HALF] = TREAT_HALF,
                                                   [KIND_COPY_BRIGHT] = TREAT_BRIGHT,
                                                   [KIND_COPY_CROP] = TREAT_CROP,
                                                   [KIND_COPY_MIRROR] = TREAT_MIRROR};
    shot->subject = from->subject;
    shot->seed = from->seed;
    shot->treat = treats[w->claim->kind];
    if (w->claim->kind == KIND_COPY_SAVED)
        shot->quality = 60;
    if (w->claim->kind == KIND_COPY_BYTES) {
        shot->taken_ms = from->taken_ms;
        shot->offset_min = from->offset_min;
    }
}

static void change_photo(struct work *w, const struct work *source, char what[PLANT_WHAT])
{
    struct work_event *event = pick_photo(w);
    if (event == NULL)
        return;
    struct work_shot *shot = &w->shots[event->shot];
    snprintf(what, PLANT_WHAT, "%s", shot->path);
    switch (w->claim->kind) {
    case KIND_PHOTO_MISSING:
        event->is_gone = shot->is_gone = true;
        break;
    case KIND_PHOTO_DARK:
        shot->treat = TREAT_DARK;
        break;
    case KIND_PHOTO_BLURRED:
        shot->treat = TREAT_BLUR;
        break;
    case KIND_PHOTO_BROKEN:
        shot->treat = TREAT_CUT_OFF;
        break;
    case KIND_PHOTO_TIME:
        shot->taken_ms -= random_within(&w->random, 21, 60) * DAY_MS;
        break;
    default: {
        const struct work_shot *from =
            source != NULL ? same_proof(source, event->event.as.photo_taken.photo) : NULL;
        if (from != NULL) {
            copy_photo(w, shot, from);
            snprintf(what, PLANT_WHAT, "%s is %s of an earlier claim", shot->path, from->path);
        }
    }
    }
}

/* ---- readings ---------------------------------------------------------------------------------- */

static struct event *last_reading(struct work *w, const char *point)
{
    struct event *last = NULL;
    for (size_t i = 0; i < w->n_events; i++) {
        struct event *e = &w->events[i].event;
        if (!w->events[i].is_gone && e->type == EVENT_READING_TAKEN &&
            strcmp(e->as.reading_taken.point, point) == 0)
            last = e;
    }
    return last;
}

/* A point of the fault's station that truing reads, and its reading moved to or beyond a limit. */
static void shift_reading(struct work *w, char what[PLANT_WHAT])
{
    const struct bulletin *b = w->world->bulletin;
    const size_t first = random_below(&w->random, b->points.n);
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *p = &b->points.at[(first + i) % b->points.n];
        struct event *e = last_reading(w, p->id);
        if (e == NULL || !p->extension.is_given ||
            strcmp(p->station, work_station(w, w->claim->station)) != 0)
            continue;
        const int64_t step = bulletin_uncertainty(b, p->instrument).resolution;
        const bool is_high = random_chance(&w->random, 0.5);
        const int64_t out = w->claim->kind == KIND_READING_OUTSIDE ? FAR_NM : -step;
        e->as.reading_taken.value.nano = is_high ? p->high.nano + out : p->low.nano - out;
        snprintf(what, PLANT_WHAT, "%s", p->id);
        return;
    }
}

/* One that is read at one step only, so that nothing stands in for it. */
static void drop_reading(struct work *w, char what[PLANT_WHAT])
{
    const struct bulletin *b = w->world->bulletin;
    const size_t first = random_below(&w->random, b->proof.readings.n);
    for (size_t i = 0; i < b->proof.readings.n; i++) {
        const char *id = b->proof.readings.at[(first + i) % b->proof.readings.n];
        const struct bulletin_point *p = bulletin_point_find(b, id);
        if (p == NULL || p->extension.is_given || p->station[0] != '\0')
            continue;
        for (size_t k = 0; k < w->n_events; k++)
            if (w->events[k].event.type == EVENT_READING_TAKEN &&
                strcmp(w->events[k].event.as.reading_taken.point, id) == 0)
                w->events[k].is_gone = true;
        snprintf(what, PLANT_WHAT, "%s", id);
        return;
    }
}

static void drop_truing(struct work *w)
{
    for (size_t i = 0; i < w->n_events; i++) {
        const struct event *e = &w->events[i].event;
        if (e->type == EVENT_READING_TAKEN && strcmp(e->as.reading_taken.step, "true-room") == 0)
            w->events[i].is_gone = true;
    }
}

static void copy_readings(struct work *w, const struct work *source)
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < b->points.n; i++) {
        struct event *to = last_reading(w, b->points.at[i].id), *from = NULL;
        for (size_t k = 0; to != NULL && k < source->n_events; k++) {
            const struct event *e = &source->events[k].event;
            if (e->type == EVENT_READING_TAKEN &&
                strcmp(e->as.reading_taken.point, b->points.at[i].id) == 0)
                from = (struct event *)e;
        }
        if (from != NULL)
            to->as.reading_taken.value = from->as.reading_taken.value;
    }
}

/* ---- kit, cut, steps, times -------------------------------------------------------------------- */

static void wrong_kit(struct work *w, char what[PLANT_WHAT])
{
    const struct bulletin *b = w->world->bulletin;
    for (size_t i = 0; i < w->n_events; i++) {
        struct event *e = &w->events[i].event;
        if (e->type != EVENT_KIT_CHOSEN || e->station != work_station(w, w->claim->station))
            continue;
        const char *was = e->as.kit_chosen.kit;
        while (strcmp(e->as.kit_chosen.kit, was) == 0)
            e->as.kit_chosen.kit = b->kits.at[random_below(&w->random, b->kits.n)].id;
        snprintf(what, PLANT_WHAT, "%s in place of %s", e->as.kit_chosen.kit, was);
    }
}

static void change_cuts(struct work *w)
{
    for (size_t i = 0; i < w->n_events; i++) {
        struct event *e = &w->events[i].event;
        if (e->type != EVENT_CUT || e->station != work_station(w, w->claim->station))
            continue;
        if (w->claim->kind == KIND_CUT_MISSING) {
            w->events[i].is_gone = true;
            continue;
        }
        e->as.cut.offcut_nm += 150000000; /* more is left over than there was */
        return;
    }
}

static bool is_only_cutting(const struct bulletin_step *step)
{
    for (size_t i = 0; i < step->hazards.n; i++)
        if (step->hazards.at[i] != BULLETIN_HAZARD_CUTTING)
            return false;
    return step->hazards.n > 0;
}

static const struct bulletin_step *step_of(const struct bulletin *b, const struct event *confirmed)
{
    for (size_t i = 0; i < b->steps.n; i++)
        if (strcmp(b->steps.at[i].id, confirmed->as.hold_confirmed.step) == 0)
            return &b->steps.at[i];
    return NULL;
}

static void skip_hold(struct work *w, char what[PLANT_WHAT])
{
    size_t found[WORK_EVENTS], n = 0;
    for (size_t i = 0; i < w->n_events; i++) {
        const struct event *e = &w->events[i].event;
        const struct bulletin_step *step =
            e->type == EVENT_HOLD_CONFIRMED ? step_of(w->world->bulletin, e) : NULL;
        if (step != NULL && step->hold == BULLETIN_HOLD_CONFIRM &&
            (!is_only_cutting(step) || is_cut_at(w, e)))
            found[n++] = i;
    }
    if (n == 0)
        return;
    struct work_event *event = &w->events[found[random_below(&w->random, n)]];
    event->is_gone = true;
    snprintf(what, PLANT_WHAT, "%s", event->event.as.hold_confirmed.step);
}

static int64_t squeezed(int64_t first_ms, int64_t at_ms)
{
    return first_ms + (at_ms - first_ms) * FAST_SHARE / 100;
}

static void hurry(struct work *w)
{
    const int64_t first_ms = w->events[0].event.at_ms;
    for (size_t i = 0; i < w->n_events; i++) {
        struct event *e = &w->events[i].event;
        e->at_ms = squeezed(first_ms, e->at_ms);
        if (e->type == EVENT_FINISHED)
            e->as.finished.minutes = (e->at_ms - first_ms) / MINUTE_MS;
    }
    for (size_t i = 0; i < w->n_shots; i++)
        w->shots[i].taken_ms = squeezed(first_ms, w->shots[i].taken_ms);
}

static void unfinish(struct work *w)
{
    for (size_t i = 0; i < w->n_events; i++)
        if (w->events[i].event.type == EVENT_FINISHED)
            w->events[i].is_gone = true;
}

static void work_on(struct work *w, char what[PLANT_WHAT])
{
    const struct bulletin *b = w->world->bulletin;
    const struct event *last = NULL;
    for (size_t i = 0; i < b->points.n && last == NULL; i++)
        if (b->points.at[i].extension.is_given)
            last = last_reading(w, b->points.at[i].id);
    if (last == NULL)
        return;
    const struct event again = *last;
    w->now_ms += random_within(&w->random, 5, 40) * MINUTE_MS;
    struct event *e = work_add(w, EVENT_READING_TAKEN, -1);
    if (e == NULL)
        return;
    e->station = again.station;
    e->as.reading_taken = again.as.reading_taken;
    snprintf(what, PLANT_WHAT, "%s", again.as.reading_taken.point);
}

void plant_after(struct work *w, const struct work *source, char what[PLANT_WHAT])
{
    what[0] = '\0';
    switch (w->claim->kind) {
    case KIND_PHOTO_MISSING:
    case KIND_PHOTO_DARK:
    case KIND_PHOTO_BLURRED:
    case KIND_PHOTO_BROKEN:
    case KIND_PHOTO_TIME:
    case KIND_COPY_BYTES:
    case KIND_COPY_SAVED:
    case KIND_COPY_HALF:
    case KIND_COPY_BRIGHT:
    case KIND_COPY_CROP:
    case KIND_COPY_MIRROR:
        change_photo(w, source, what);
        break;
    case KIND_READING_OUTSIDE:
    case KIND_READING_UNCERTAIN:
        shift_reading(w, what);
        break;
    case KIND_READING_MISSING:
        drop_reading(w, what);
        break;
    case KIND_READING_EARLY:
        drop_truing(w);
        break;
    case KIND_READINGS_COPIED:
        if (source != NULL)
            copy_readings(w, source);
        break;
    case KIND_KIT_WRONG:
        wrong_kit(w, what);
        break;
    case KIND_CUT_WRONG:
    case KIND_CUT_MISSING:
        change_cuts(w);
        break;
    case KIND_HOLD_SKIPPED:
        skip_hold(w, what);
        break;
    case KIND_TOO_FAST:
        hurry(w);
        break;
    case KIND_NOT_FINISHED:
        unfinish(w);
        break;
    case KIND_WORK_AFTER:
        work_on(w, what);
        break;
    default:
        break;
    }
}

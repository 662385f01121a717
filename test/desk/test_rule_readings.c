/* Rows for the rules about readings (desk/rule_readings.c).
 *
 * Guard band, by hand: the gap gauge has u = sqrt(0.1^2/12 + 0.05^2 + 0.15^2) mm = 0.160728 mm (JCGM 100:2008, F.2.2.1 and 5.1.2),
 * and z(0.95) = 1.644854 (tables of the normal distribution), so g = 0.264375 mm: within 56 to 61 mm a reading is inside up to
 * 60.735625 mm, outside beyond 61.264375 mm, and open between (JCGM 106:2012, 8.3). The tape: u = sqrt(1/12 + 0.3^2 + 0.4^2) mm =
 * 0.577350 mm, g = 0.949657 mm: inside up to 60.050343 mm. */
#include "rule_try.h"
#include "tap.h"

#include <string.h>

/* The last reading of a point. */
static struct event *last(struct rule_try *t, const char *station, const char *point)
{
    struct event *found = NULL;
    for (size_t i = 0; i < t->n_events; i++) {
        struct event *e = &t->events[i];
        if (e->type == EVENT_READING_TAKEN && strcmp(e->as.reading_taken.point, point) == 0)
            found = e;
    }
    if (found == NULL)
        return try_event(t, EVENT_READING_TAKEN, station, point, 0);
    return found;
}

static void gap(int64_t um, const char *instrument, enum rule_id rule, const char *needle,
                const char *what)
{
    struct rule_try *t = try_new();
    struct event *e = last(t, "fore", "fore-upper-in");
    e->as.reading_taken.value.nano = um * 1000;
    e->as.reading_taken.instrument = instrument;
    if (needle != NULL)
        try_one(t, rule, RULE_ASK, "fore", needle, what);
    else
        try_clean(t, what);
}

static void limit_rows(void)
{
    gap(60735, "gap-gauge", RULE_N, NULL, "60.735 mm with the gap gauge is inside");
    gap(60736, "gap-gauge", RULE_READING_UNCERTAIN, "60.736 mm, too near a limit to tell",
        "60.736 mm is open");
    gap(61264, "gap-gauge", RULE_READING_UNCERTAIN, "61.264 mm", "61.264 mm is open");
    gap(61265, "gap-gauge", RULE_READING_OUTSIDE, "61.265 mm, outside its limits: 56 mm to 61 mm",
        "61.265 mm is outside");
    gap(55735, "gap-gauge", RULE_READING_OUTSIDE, "55.735 mm", "55.735 mm is outside");
    gap(56265, "gap-gauge", RULE_N, NULL, "56.265 mm is inside");
    gap(60050, "tape", RULE_N, NULL, "60.050 mm with the tape is inside");
    gap(60051, "tape", RULE_READING_UNCERTAIN, "60.051 mm", "60.051 mm with the tape is open");
    gap(60735, NULL, RULE_N, NULL, "no instrument named: the point's own");
    gap(60735, "eye", RULE_N, NULL,
        "an instrument that the bulletin does not have: the point's own");
}

static void other_rows(void)
{
    struct rule_try *t = try_new();
    last(t, NULL, "leaks")->as.reading_taken.value.nano = 1000000000;
    try_one(t, RULE_READING_OUTSIDE, RULE_ASK, NULL,
            "Reading leaks is 1, outside its limits: exactly 0", "one leak where none is allowed");
    t = try_new();
    last(t, NULL, "leaks")->as.reading_taken.value.nano = 1000000000;
    (void)try_rule(t);
    tap_ok(strstr(t->ruling->findings[0].cure,
                  "Dry the place, renew the seal there and test again") != NULL,
           "the cure is the bulletin's own word");
    try_free(t);
    t = try_new();
    last(t, NULL, "cycles")->as.reading_taken.value.nano = 4000000000;
    try_one(t, RULE_READING_OUTSIDE, RULE_ASK, NULL, "is 4, outside its limits: at least 5",
            "four cycles of five");
    t = try_new();
    last(t, NULL, "current-in")->as.reading_taken.value.nano = 25000000000;
    try_one(t, RULE_READING_OUTSIDE, RULE_ASK, NULL, "is 25 A, outside its limits: at most 24 A",
            "a current above its limit");
    t = try_new();
    last(t, NULL, "cycles")->as.reading_taken.value.nano = 6000000000;
    try_clean(t, "six cycles of five");
}

static void missing_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_READING_TAKEN, NULL, "travel-time");
    try_one(t, RULE_READING_MISSING, RULE_ASK, NULL, "Reading travel-time is missing: Travel time",
            "a reading of the unit not taken");
    t = try_new();
    try_drop(t, EVENT_READING_TAKEN, "fore", "fore-upper-in");
    try_one(t, RULE_READING_MISSING, RULE_ASK, "fore", "Reading fore-upper-in is missing",
            "a gap not read");
    t = try_new();
    last(t, NULL, "current-in")->as.reading_taken.value.unit = UNIT_V;
    try_one(t, RULE_READING_MISSING, RULE_ASK, NULL,
            "current-in is missing, what was sent is of another kind",
            "volts where amperes are asked");
    t = try_new();
    last(t, NULL, "current-in")->station = "fore";
    try_clean(t, "a reading of the unit, written down at a column");
    /* Only the fore column is done: aft's points are nobody's business. */
    t = try_new();
    try_drop_station(t, "aft");
    try_clean(t, "readings of a column that was not worked on are not wanted");
    t = try_new();
    try_drop_station(t, "fore");
    try_clean(t, "nor of the other one");
}

static struct event *before_end(struct rule_try *t, enum event_type type, const char *station,
                                const char *key)
{
    const struct event like = *try_event(t, type, station, key, 0);
    return try_add(t, &like, try_finished_ms(t) - 1000);
}

static void early_rows(void)
{
    /* The upper packing changes the column's four gaps (the lower two by a tenth of a millimetre), no torque. */
    struct rule_try *t = try_new();
    before_end(t, EVENT_MOVED, "fore", "fore-upper-packing");
    try_has(t, RULE_READING_EARLY, 4, RULE_ASK, "fore",
            "Reading fore-upper-out was taken before the work was done: the move "
            "fore-upper-packing of fore",
            "packing moved after the last gaps");
    tap_ok(t->ruling->n_findings == 4 && t->ruling->verdict == RULE_VERDICT_ASK,
           "and nothing else: no torque, no aft gap");
    try_free(t);
    /* A toe plate changes the two gaps of its column with the room out. */
    t = try_new();
    struct event *toe = before_end(t, EVENT_MOVED, "fore", "fore-upper-packing");
    toe->station = "aft";
    toe->as.moved.name = "aft-toe";
    try_has(t, RULE_READING_EARLY, 2, RULE_ASK, "aft", "aft-toe",
            "a toe plate moved after the last gaps");
    try_free(t);
    /* A rack that jumps a tooth: all eight gaps, the torque of its column, and the six points of the unit. */
    t = try_new();
    before_end(t, EVENT_MOVED, "fore", "outboard");
    try_has(t, RULE_READING_EARLY, 15, RULE_ASK, "aft", "outboard of fore",
            "a rack moved after all readings");
    try_free(t);
    t = try_new();
    before_end(t, EVENT_CUT, "aft", "inboard");
    try_has(t, RULE_READING_EARLY, 15, RULE_ASK, "aft", "the rack cut inboard of aft came after it",
            "a rack cut after all readings");
    try_free(t);

    t = try_new();
    last(t, "fore", "fore-upper-in")->as.reading_taken.step = "gaps-before";
    try_one(t, RULE_READING_EARLY, RULE_ASK, "fore",
            "taken at step gaps-before, before the work was done, and not again",
            "only the first look");
    t = try_new();
    last(t, "fore", "fore-upper-in")->as.reading_taken.step = NULL;
    try_clean(t, "a reading without its step");

    /* The first run is dangerous, comes before the gaps in the bulletin, and is confirmed after two of them were read. */
    t = try_new();
    struct event *run = try_event(t, EVENT_HOLD_CONFIRMED, NULL, "first-run", 0);
    const struct event *second = try_event(t, EVENT_READING_TAKEN, "aft", "aft-lower-in", 1);
    const struct event moved = *run;
    try_drop(t, EVENT_HOLD_CONFIRMED, NULL, "first-run");
    try_add(t, &moved, second->at_ms + 1000);
    try_has(t, RULE_READING_EARLY, 2, RULE_ASK, "aft", "the step first-run came after it",
            "gaps read before the first run was confirmed");
    tap_ok(t->ruling->n_findings == 2, "those that were read again since are fine");
    try_free(t);
    /* The room is supported again while it is trued. */
    t = try_new();
    before_end(t, EVENT_HOLD_CONFIRMED, NULL, "support-room");
    try_clean(t, "a step that is confirmed once more");
}

static void copied_rows(void)
{
    struct rule_try *t = try_new();
    t->same[0] = "K0123456789AB";
    t->known.n_same_readings = 1;
    try_one(t, RULE_READINGS_COPIED, RULE_HOLD, NULL,
            "those of claim K0123456789AB, value for value", "a set of readings seen before");
    t = try_new();
    t->same[0] = "K0123456789AB";
    try_clean(t, "no set like it");
}

int main(void)
{
    limit_rows();
    other_rows();
    missing_rows();
    early_rows();
    copied_rows();
    return tap_done();
}

/* Rows for the rules about kits and cutting (desk/rule_kit.c). The tape of the example: u = sqrt(1/12 + 0.3^2 + 0.4^2) mm = 0.577350
 * mm (JCGM 100:2008), so one length may be 2 u = 1.1547 mm off, and two racks 2 sqrt(2) u = 1.6330 mm apart. */
#include "rule_try.h"
#include "tap.h"

#include <string.h>

static const int64_t um = 1000;

static struct event_kit_chosen *kit(struct rule_try *t)
{
    return &try_event(t, EVENT_KIT_CHOSEN, "fore", NULL, 0)->as.kit_chosen;
}

static struct event_cut *cut(struct rule_try *t, const char *rack)
{
    return &try_event(t, EVENT_CUT, "fore", rack, 0)->as.cut;
}

/* Every measurement of a rack of fore. */
static void measure(struct rule_try *t, const char *rack, int64_t length_um)
{
    for (size_t i = 0; i < t->n_events; i++) {
        struct event *e = &t->events[i];
        if (e->type == EVENT_RACK_MEASURED && e->station != NULL &&
            strcmp(e->station, "fore") == 0 && strcmp(e->as.rack_measured.rack, rack) == 0)
            e->as.rack_measured.length_nm = length_um * um;
    }
}

/* A cut that hangs together: stock 1480 mm, kerf 1.6 mm. */
static void cut_to(struct rule_try *t, const char *rack, int64_t length_um)
{
    struct event_cut *c = cut(t, rack);
    c->needed_nm = c->mark_nm = length_um * um;
    c->offcut_nm = (1480000 - 1600 - length_um) * um;
}

/* What the technician tells of the old parts; the pairs live as long as the program. */
static void tell(struct rule_try *t, const char *name, const char *value)
{
    static struct event_pair pairs[64];
    static size_t n;
    pairs[n] = (struct event_pair){"hand", "left"};
    pairs[n + 1] = (struct event_pair){name, value};
    kit(t)->with = (struct event_pairs){&pairs[n], 2};
    n += 2;
}

static void kit_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_KIT_CHOSEN, "fore", NULL);
    try_one(t, RULE_KIT_MISSING, RULE_ASK, "fore", "no kit was written down", "no kit");
    t = try_new();
    kit(t)->with.n = 0;
    try_one(t, RULE_KIT_MISSING, RULE_ASK, "fore",
            "kit left-upper is for relief upper, and nobody told the relief",
            "the relief was not told");
    t = try_new();
    tell(t, "relief", "upper");
    kit(t)->with.pairs++;
    kit(t)->with.n = 1;
    try_clean(t, "the hand was not told, and the station has it");

    t = try_new();
    tell(t, "relief", "lower");
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore",
            "has relief lower; kit left-upper is for relief upper; due is kit left-lower",
            "the kit for another relief");
    t = try_new();
    kit(t)->kit = "right-upper";
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore",
            "has hand left; kit right-upper is for hand right; due is kit left-upper",
            "the kit for the other hand");
    t = try_new();
    kit(t)->kit = "left-middle";
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore", "the bulletin has no kit left-middle",
            "a kit that does not exist");
    t = try_new();
    tell(t, "hand", "right");
    kit(t)->with.pairs++;
    kit(t)->with.n = 1;
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore",
            "Station fore has hand left; the kit was chosen with hand right",
            "told against the station");
    t = try_new();
    tell(t, "relief", "middle");
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore", "relief middle, which the bulletin does not know",
            "a relief that does not exist");
    t = try_new();
    tell(t, "colour", "red");
    try_one(t, RULE_KIT_WRONG, RULE_HOLD, "fore", "colour red", "an attribute that does not exist");
}

/* Fore with ready-made racks of 1180 mm: nothing is cut, so no step of cutting and no photo of cut ends. */
static struct rule_try *ready(int64_t length_um)
{
    struct rule_try *t = try_new();
    kit(t)->kit = "left-both";
    tell(t, "relief", "both");
    measure(t, "inboard", length_um);
    measure(t, "outboard", length_um);
    try_drop(t, EVENT_CUT, "fore", NULL);
    try_drop(t, EVENT_HOLD_CONFIRMED, "fore", "cut-racks");
    try_drop(t, EVENT_HOLD_CONFIRMED, "fore", "deburr");
    try_drop(t, EVENT_PHOTO_TAKEN, "fore", "cut-ends");
    return t;
}

static void ready_rows(void)
{
    try_clean(ready(1180000), "ready-made racks: nothing of cutting is wanted");
    /* A fit of 1.5 mm and the tape's 1.1547 mm: 1182.6547 mm. */
    try_clean(ready(1182600), "ready-made racks, 2.6 mm longer than they are");
    struct rule_try *t = ready(1182700);
    try_has(t, RULE_KIT_WRONG, 2, RULE_HOLD, "fore",
            "Rack outboard of fore cannot come from kit left-both: ready-made for 1178.5 mm to "
            "1181.5 mm, and 1182.7 mm is needed",
            "ready-made racks, 2.7 mm longer than they are");
    try_free(t);
    t = ready(1180000);
    try_drop(t, EVENT_RACK_MEASURED, "fore", NULL);
    try_clean(t, "ready-made racks need not be measured");
    t = ready(1180000);
    const struct event like = *try_event(t, EVENT_CUT, "aft", "inboard", 0);
    struct event *e = try_add(
        t, &like, try_event(t, EVENT_HOLD_CONFIRMED, "fore", "inspect-kept", 0)->at_ms + 1000);
    e->station = "fore";
    try_one(t, RULE_CUT_WRONG, RULE_HOLD, "fore",
            "Rack inboard of fore is ready made and never cut", "a ready-made rack was cut");
}

static void rack_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_RACK_MEASURED, "fore", "inboard");
    try_one(t, RULE_RACK_MISSING, RULE_ASK, "fore",
            "Rack inboard of fore was not measured, and kit left-upper is cut to length",
            "a rack not measured");

    /* Inboard 1203.5 mm; outboard 1.7 mm longer, then 1.6 mm. */
    t = try_new();
    measure(t, "outboard", 1205200);
    cut_to(t, "outboard", 1205200);
    try_clean(t, "racks 1.7 mm apart, both measured twice");
    for (int i = 0; i < 2; i++) {
        t = try_new();
        const int64_t length = i == 0 ? 1205200 : 1205100;
        measure(t, "outboard", length);
        cut_to(t, "outboard", length);
        const struct event one = *try_event(t, EVENT_RACK_MEASURED, "fore", "outboard", 0);
        try_drop(t, EVENT_RACK_MEASURED, "fore", "outboard");
        try_add(t, &one, one.at_ms);
        if (i == 0)
            try_one(t, RULE_RACKS_DISAGREE, RULE_ASK, "fore",
                    "Racks inboard (1203.5 mm) and outboard (1205.2 mm) of fore differ by more "
                    "than the tape explains (1.6 mm)",
                    "racks 1.7 mm apart, one measured once");
        else
            try_clean(t, "racks 1.6 mm apart, one measured once");
    }
}

static void wrong(struct rule_try *t, const char *needle, const char *what)
{
    try_one(t, RULE_CUT_WRONG, RULE_HOLD, "fore", needle, what);
}

static void cut_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_CUT, "fore", "inboard");
    try_one(t, RULE_CUT_MISSING, RULE_ASK, "fore",
            "Rack inboard of fore: kit left-upper is cut to length, but no cut", "no cut");
    t = try_new();
    try_drop(t, EVENT_CUT, "fore", "inboard");
    measure(t, "inboard", 1480500);
    try_clean(t, "no cut of a rack that fits as it is");

    t = try_new();
    cut(t, "inboard")->stock_nm = 1580000 * um;
    wrong(t, "was cut from 1580.0 mm; the kit's is 1480.0 mm long", "another stock");
    t = try_new();
    cut_to(t, "inboard", 1204700);
    wrong(t, "was cut to 1204.7 mm; the old one measured 1203.5 mm", "1.2 mm longer than measured");
    t = try_new();
    cut_to(t, "inboard", 1204600);
    try_clean(t, "1.1 mm longer than measured");
    t = try_new();
    measure(t, "inboard", 1203500);
    try_event(t, EVENT_RACK_MEASURED, "fore", "inboard", 2)->as.rack_measured.length_nm =
        1201500 * um;
    try_clean(t, "two measurements 2 mm apart, cut to the first");
    t = try_new();
    cut(t, "inboard")->mark_nm += 1200 * um;
    wrong(t, "was marked at 1204.7 mm; for 1203.5 mm the mark stands at 1203.5 mm",
          "the mark 1.2 mm off");
    t = try_new();
    cut(t, "inboard")->mark_nm += 1100 * um;
    try_clean(t, "the mark 1.1 mm off");
    t = try_new();
    cut(t, "inboard")->offcut_nm += 1600 * um;
    wrong(t,
          "left an offcut of 276.5 mm; 1480.0 mm of stock less 1203.5 mm and the blade's 1.6 mm "
          "leave 274.9 mm",
          "the blade forgotten in the offcut");
    t = try_new();
    cut(t, "inboard")->offcut_nm = EVENT_ABSENT;
    try_clean(t, "no offcut told");
    t = try_new();
    cut(t, "inboard")->from_end = "lower";
    wrong(t, "was marked from the lower end; its kept end is the upper one",
          "marked from the wrong end");
    t = try_new();
    cut(t, "inboard")->from_end = NULL;
    try_clean(t, "no end told");
    t = try_new();
    measure(t, "inboard", 939500);
    measure(t, "outboard", 939500);
    cut_to(t, "inboard", 939500);
    cut_to(t, "outboard", 939500);
    try_has(t, RULE_CUT_WRONG, 2, RULE_HOLD, "fore",
            "cannot have been cut so: may not be cut below 940.0 mm, and 939.5 mm is needed",
            "shorter than the piece may be");
    try_has(t, RULE_KIT_WRONG, 2, RULE_HOLD, "fore", "cannot come from kit left-upper",
            "and the kit cannot do it");
    try_free(t);
    t = try_new();
    measure(t, "inboard", 940000);
    measure(t, "outboard", 940000);
    cut_to(t, "inboard", 940000);
    cut_to(t, "outboard", 940000);
    try_clean(t, "as short as the piece may be");
    t = try_new();
    const struct event like = *try_event(t, EVENT_CUT, "fore", "inboard", 0);
    try_add(t, &like, like.at_ms + 1000)->as.cut.rack = "middle";
    wrong(t, "a rack middle was cut, and kit left-upper holds none",
          "a rack that the kit does not hold");

    static const char *const pairs[] = {"largest_offcut: 540 mm", "largest_offcut: 275 mm", NULL};
    t = try_bulletin(pairs); /* fore leaves 274.9 and 274.4 mm, aft 276.9 and 277.4 mm */
    try_has(t, RULE_CUT_WRONG, 2, RULE_NOTE, "aft",
            "Rack outboard of aft left an offcut of 277.4 mm, more than the 275.0 mm expected",
            "offcuts larger than expected are notes");
    tap_ok(t->ruling->verdict == RULE_PAY, "and it is paid");
    try_free(t);
}

int main(void)
{
    kit_rows();
    ready_rows();
    rack_rows();
    cut_rows();
    return tap_done();
}

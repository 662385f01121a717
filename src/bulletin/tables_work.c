/* tables_work: the rows of the sections `tools`, `protective`, `steps`, `points`, `adjusters` and
 * `timing`. */
#include "bulletin/tables.h"

static const char *const hazards[] = {"cutting",    "lifting", "stored-energy",
                                      "electrical", "pinch",   NULL};
static const char *const pers[] = {"unit", "station", NULL};
static const char *const holds[] = {"none", "confirm", "reading", "photo", NULL};

const char *bulletin_hazard_name(enum bulletin_hazard hazard)
{
    return hazard < BULLETIN_HAZARD_N ? hazards[hazard] : "?";
}

/* ---- tools and steps ---- */

static const struct field item_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_item, id), .doc = "its name in steps",
     .example = "room-stands"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_item, name),
     .doc = "what it is, and what it must be good for",
     .example = "Two stands, each rated for the whole weight of the room"},
};
const struct record table_item = RECORD(bulletin_item, "a tool or protective item",
                                        "Something that must be at hand.", item_fields);

static const struct field caution_fields[] = {
    {"hazard", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_caution, hazard), .words = hazards,
     .doc = "which hazard of the step it is about", .example = "lifting"},
    {"text", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_caution, text),
     .doc = "what can happen and how to avoid it, without the hazard's word, which stands above it "
            "already; it is read before the step opens",
     .example = "Nobody goes under the room while its drive is out"},
};
static const struct record table_caution =
    RECORD(bulletin_caution, "a caution", "A warning that stands at its step.", caution_fields);

static const struct field inspection_fields[] = {
    {"part", FIELD_ID, FIELD_REQUIRED, AT(bulletin_inspection, part), .doc = "a kept part",
     .example = "bearing-block"},
    {"criterion", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_inspection, criterion),
     .doc = "what must hold for it to go back in", .example = "No crack, no play that can be felt"},
    {"otherwise", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_inspection, otherwise),
     .doc = "what to do when it does not", .example = "Fit a new one and claim it as a part"},
};
static const struct record table_inspection = RECORD(
    bulletin_inspection, "an inspection", "How a part that is kept is judged.", inspection_fields);

static const struct field picture_fields[] = {
    {"file", FIELD_LINE, FIELD_REQUIRED, AT(bulletin_picture, file),
     .doc = "PNG, JPEG or SVG beside the bulletin", .example = "stands.svg"},
    {"alt", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_picture, alt),
     .doc = "what it shows, for those who cannot see it",
     .example = "The room on two stands, seen from the side"},
};
static const struct record table_picture =
    RECORD(bulletin_picture, "a picture", "A drawing or photo.", picture_fields);

static const struct field step_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_step, id), .doc = "its name in records",
     .example = "support-room"},
    {"title", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_step, title),
     .doc = "what is done, in a few words", .example = "Support the room"},
    {"text", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_step, text), .doc = "how it is done",
     .example = "Set both stands under the frame and take up the weight"},
    {"why", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_step, why),
     .doc = "why it matters; for teaching", .example = "Without its drive nothing holds the room"},
    {"per", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_step, per), .words = pers,
     .doc = "done once a unit, or at each station", .example = "unit"},
    {"hazards", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, hazards), LIST(FIELD_WORD, 5),
     .words = hazards, .doc = "what can hurt here; each needs its caution",
     .example = "[lifting, pinch]"},
    {"cautions", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, cautions), LIST(FIELD_RECORD, 20),
     .record = &table_caution, .doc = "read and confirmed before the step opens"},
    {"tools", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, tools), LIST(FIELD_ID, 40),
     .doc = "what is needed", .example = "[room-stands]"},
    {"protective", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, protective), LIST(FIELD_ID, 40),
     .doc = "what is worn", .example = "[glasses, gloves]"},
    {"check_first", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, check_first),
     LIST(FIELD_TEXT, 20),
     .doc = "which way round, which face, what must sit flush, before two parts meet",
     .example = "[The stamped arrow points up]"},
    {"hold", FIELD_WORD, FIELD_OPTIONAL, AT(bulletin_step, hold), .words = holds,
     .doc = "what must be there before the next step opens", .example = "photo"},
    {"readings", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, readings),
     LIST(FIELD_ID, BULLETIN_POINTS_MAX), .doc = "points that are read here",
     .example = "[fore-upper-out, aft-upper-out]"},
    {"photos", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, photos), LIST(FIELD_ID, 40),
     .doc = "proof photos that are taken here", .example = "[room-supported]"},
    {"inspections", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_step, inspections),
     LIST(FIELD_RECORD, 40), .record = &table_inspection, .doc = "kept parts that are judged here"},
    {"picture", FIELD_RECORD, FIELD_OPTIONAL, AT(bulletin_step, picture), .record = &table_picture,
     .doc = "a drawing or photo"},
};
const struct record table_step =
    RECORD(bulletin_step, "a step", "Steps are done in the order of the file.", step_fields);

/* ---- readings and what moves them ---- */

static const struct field point_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_point, id),
     .doc = "its name in the rest of the file", .example = "fore-upper-out"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_point, name), .doc = "its name for people",
     .example = "Gap fore, upper, room out"},
    {"how", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_point, how), .doc = "where and how it is read",
     .example = "A hand below the corner, square to the wall"},
    {"otherwise", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_point, otherwise),
     .doc = "what to do when it is outside; for what no adjuster reaches",
     .example = "Replace the bush and read again"},
    {"station", FIELD_ID, FIELD_OPTIONAL, AT(bulletin_point, station),
     .doc = "where it belongs; left out for the whole unit", .example = "fore"},
    {"nominal", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_point, nominal), ANY_AMOUNT,
     .doc = "what it should be", .example = "58 mm"},
    {"low", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_point, low), ANY_AMOUNT,
     .doc = "lowest that is allowed; low, high or both", .example = "56 mm"},
    {"high", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_point, high), ANY_AMOUNT,
     .doc = "highest that is allowed", .example = "61 mm"},
    {"instrument", FIELD_ID, FIELD_OPTIONAL, AT(bulletin_point, instrument),
     .doc = "with what it is read; left out for counts", .example = "gap-gauge"},
    {"factors", FIELD_LEVELS, FIELD_OPTIONAL, AT(bulletin_point, factors),
     .doc = "where it stands on two-level factors: side (1 fore), height (1 upper), travel (1 out)",
     .example = "{side: 1, height: 1, travel: -1}"},
    {"extension", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_point, extension), LENGTH_FROM_ZERO,
     .doc = "how far the room is out when it is read", .example = "150 mm"},
};
const struct record table_point = RECORD(
    bulletin_point, "a point",
    "Something that is read and has limits: a gap, a voltage, a time, a count.", point_fields);

static const struct field adjuster_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_adjuster, id), .doc = "its name in plans",
     .example = "fore-upper-packing"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_adjuster, name), .doc = "its name for people",
     .example = "Packing at the upper fixing of the fore column"},
    {"how", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_adjuster, how),
     .doc = "how it is moved and which way +1 is",
     .example = "Loosen the fixing and slip one more shim in for +1"},
    {"station", FIELD_ID, FIELD_OPTIONAL, AT(bulletin_adjuster, station),
     .doc = "where it belongs; left out for the whole unit", .example = "fore"},
    {"step", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_adjuster, step), ABOVE_ZERO,
     .doc = "size of one step, for showing", .example = "0.5 mm"},
    {"min", FIELD_INT, FIELD_REQUIRED, AT(bulletin_adjuster, min), .min = -TRUING_STEPS_MAX,
     .max = 0, .doc = "most steps the one way", .example = "-6"},
    {"max", FIELD_INT, FIELD_REQUIRED, AT(bulletin_adjuster, max), .min = 0,
     .max = TRUING_STEPS_MAX, .doc = "most steps the other way", .example = "6"},
    {"setup", FIELD_TIME, FIELD_REQUIRED, AT(bulletin_adjuster, setup_s), .max = TIME_MAX_S,
     .doc = "time once when it is moved at all", .example = "10 min"},
    {"per_step", FIELD_TIME, FIELD_REQUIRED, AT(bulletin_adjuster, per_step_s), .max = TIME_MAX_S,
     .doc = "time for each step", .example = "30 s"},
    {"effects", FIELD_EFFECTS, FIELD_REQUIRED, AT(bulletin_adjuster, effects), ANY_AMOUNT,
     .doc = "how one step of +1 changes the readings",
     .example = "{fore-upper-in: -0.5 mm, fore-upper-out: -0.5 mm}"},
};
const struct record table_adjuster =
    RECORD(bulletin_adjuster, "an adjuster",
           "Anything that can be moved in steps to bring readings inside.", adjuster_fields);

static const struct field timing_station_fields[] = {
    {"station", FIELD_ID, FIELD_REQUIRED, AT(bulletin_timing_station, station),
     .doc = "which station", .example = "fore"},
    {"racks", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_timing_station, racks), .item = FIELD_ID,
     .min = 2, .max = BULLETIN_RACKS_MAX,
     .doc = "the racks that must be in step; the first is the reference",
     .example = "[inboard, outboard]"},
};
static const struct record table_timing_station =
    RECORD(bulletin_timing_station, "a station's racks", "Racks on one torque shaft.",
           timing_station_fields);

static const struct field timing_fields[] = {
    {"module", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_timing, module), LENGTH_ABOVE_ZERO,
     .doc = "of the teeth; one jump is pi times the module", .example = "2 mm"},
    {"limit", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_timing, limit), LENGTH_ABOVE_ZERO,
     .doc = "greatest difference of two rack ends, either way", .example = "1.2 mm"},
    {"instrument", FIELD_ID, FIELD_REQUIRED, AT(bulletin_timing, instrument),
     .doc = "with what rack ends are read", .example = "end-gauge"},
    {"largest_jump", FIELD_INT, FIELD_OPTIONAL, AT(bulletin_timing, jump_max), .min = 1, .max = 50,
     .fallback = 3, .doc = "most teeth a rack may be moved, either way", .example = "3"},
    {"setup", FIELD_TIME, FIELD_REQUIRED, AT(bulletin_timing, setup_s), .max = TIME_MAX_S,
     .doc = "time once when a rack is moved at all", .example = "12 min"},
    {"per_jump", FIELD_TIME, FIELD_REQUIRED, AT(bulletin_timing, per_jump_s), .max = TIME_MAX_S,
     .doc = "time for each tooth", .example = "2 min"},
    {"how", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_timing, how), .doc = "how rack ends are read",
     .example = "Run the racks to the stop, then read each end from the face of the bearing block"},
    {"stations", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_timing, stations),
     LIST(FIELD_RECORD, BULLETIN_STATIONS_MAX), .record = &table_timing_station,
     .doc = "which racks belong together"},
};
const struct record table_timing =
    RECORD(bulletin_timing, "the timing section", "When racks are in step.", timing_fields);

/* tables_kit: the rows of the sections `labour`, `parts`, `kits`, `instruments` and `cut`. */
#include "bulletin/tables.h"

static const char *const supplies[] = {"ready", "cut", NULL};
static const char *const reliefs[] = {"none", "upper", "lower", "both", NULL};
static const char *const ends[] = {"upper", "lower", NULL};
static const char *const blades[] = {"waste", "centre", NULL};

/* ---- labour, parts, kits ---- */

static const struct field labour_station_fields[] = {
    {"station", FIELD_ID, FIELD_REQUIRED, AT(bulletin_labour_station, station),
     .doc = "which station", .example = "fore"},
    {"time", FIELD_TIME, FIELD_OPTIONAL, AT(bulletin_labour_station, time_s), .min = 1,
     .max = TIME_MAX_S, NOTHING_GIVEN, .doc = "paid for this station; either this or a share",
     .example = "200 min"},
    {"share_of_unit", FIELD_SHARE, FIELD_OPTIONAL, AT(bulletin_labour_station, share),
     .doc = "share of the unit's time; a racked column takes half (common practice)",
     .example = "1/2"},
};
static const struct record table_labour_station =
    RECORD(bulletin_labour_station, "a station's labour", "What one station is paid.",
           labour_station_fields);

static const struct field labour_fields[] = {
    {"unit", FIELD_TIME, FIELD_OPTIONAL, AT(bulletin_labour, unit_s), .min = 1, .max = TIME_MAX_S,
     NOTHING_GIVEN, .doc = "the whole unit with every station done; needed for shares",
     .example = "400 min"},
    {"once", FIELD_TIME, FIELD_OPTIONAL, AT(bulletin_labour, once_s), .max = TIME_MAX_S,
     .doc = "on top, once a unit, however many stations are done", .example = "35 min"},
    {"stations", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_labour, stations),
     LIST(FIELD_RECORD, BULLETIN_STATIONS_MAX), .record = &table_labour_station,
     .doc = "what each station is paid"},
};
const struct record table_labour =
    RECORD(bulletin_labour, "the labour section", "Paid time.", labour_fields);

static const struct field part_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_part, id),
     .doc = "its name in the rest of the file", .example = "pinion"},
    {"number", FIELD_CODE, FIELD_OPTIONAL, AT(bulletin_part, number), .doc = "the maker's number",
     .example = "OV-2210"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_part, name), .doc = "its name for people",
     .example = "Pinion with key"},
    {"price", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_part, price_minor), NOTHING_GIVEN,
     .doc = "of one", .example = "31.50"},
    {"kept", FIELD_BOOL, FIELD_OPTIONAL, AT(bulletin_part, is_kept),
     .doc = "true when the old one goes back in after inspection", .example = "true"},
};
const struct record table_part =
    RECORD(bulletin_part, "a part", "Something that is fitted, or kept.", part_fields);

static const struct field content_fields[] = {
    {"part", FIELD_ID, FIELD_REQUIRED, AT(bulletin_content, part), .doc = "which part",
     .example = "pinion"},
    {"count", FIELD_INT, FIELD_OPTIONAL, AT(bulletin_content, count), .min = 1, .max = 1000,
     .fallback = 1, .doc = "how many", .example = "2"},
};
static const struct record table_content =
    RECORD(bulletin_content, "a line of the kit", "A part in a kit.", content_fields);

static const struct field rack_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_rack, id),
     .doc = "which rack of the station it is for", .example = "inboard"},
    {"supply", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_rack, supply), .words = supplies,
     .doc = "comes at its final length (ready) or is cut to length on site (cut)",
     .example = "cut"},
    {"stock", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_rack, stock), LENGTH_ABOVE_ZERO,
     .doc = "length as shipped", .example = "1480 mm"},
    {"relief", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_rack, relief), .words = reliefs,
     .doc = "which ends are relieved; a piece relieved at one end is cut at the other, one "
            "relieved at both is not cut (common practice)",
     .example = "upper"},
    {"keep", FIELD_WORD, FIELD_OPTIONAL, AT(bulletin_rack, keep), .words = ends,
     .fallback = BULLETIN_END_NONE,
     .doc = "the end from which the mark is measured; needed only when neither end is relieved",
     .example = "upper"},
    {"module", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_rack, module), LENGTH_ABOVE_ZERO,
     .doc = "of the teeth; the pitch is pi times the module", .example = "2 mm"},
    {"first_tooth", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_rack, first_tooth), LENGTH_FROM_ZERO,
     .doc =
         "from the kept end to the middle of the first tooth; tells where the cut falls in a tooth",
     .example = "14.5 mm"},
    {"least", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_rack, least), LENGTH_ABOVE_ZERO,
     .doc = "shortest length it may be cut to", .example = "940 mm"},
    {"greatest", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_rack, greatest), LENGTH_ABOVE_ZERO,
     .doc = "longest length it may be used for", .example = "1470 mm"},
    {"fit", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_rack, fit), LENGTH_FROM_ZERO,
     .doc = "how much a piece that is not cut may differ from the needed length",
     .example = "1.5 mm"},
};
static const struct record table_rack =
    RECORD(bulletin_rack, "a rack", "A toothed piece in a kit.", rack_fields);

static const struct field kit_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_kit, id), .doc = "its name in answers",
     .example = "left-upper"},
    {"number", FIELD_CODE, FIELD_OPTIONAL, AT(bulletin_kit, number),
     .doc = "the maker's number, to order by", .example = "OV-K31-LU"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_kit, name), .doc = "its name for people",
     .example = "Left column, racks relieved at the upper end"},
    {"for", FIELD_PAIRS, FIELD_OPTIONAL, AT(bulletin_kit, fits),
     .doc = "attributes that must match; one that is left out does not matter",
     .example = "{hand: left, relief: upper}"},
    {"price", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_kit, price_minor), NOTHING_GIVEN,
     .doc = "of the whole kit", .example = "162.00"},
    {"parts", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_kit, parts), LIST(FIELD_RECORD, ITEMS_MAX),
     .record = &table_content, .doc = "what is in it besides racks"},
    {"racks", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_kit, racks),
     LIST(FIELD_RECORD, BULLETIN_RACKS_MAX), .record = &table_rack,
     .doc = "its racks; left out when nothing is chosen by length"},
};
const struct record table_kit =
    RECORD(bulletin_kit, "a kit", "What is shipped for a station.", kit_fields);

/* ---- instruments and cutting ---- */

static const struct field instrument_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_instrument, id),
     .doc = "its name in the rest of the file", .example = "tape"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_instrument, name),
     .doc = "its name for people", .example = "Steel tape, class II"},
    {"resolution", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_instrument, resolution), ABOVE_ZERO,
     .doc = "smallest step that is read", .example = "1 mm"},
    {"calibration_u", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_instrument, calibration_u),
     FROM_ZERO, .doc = "standard uncertainty of its calibration", .example = "0.3 mm"},
    {"repeat_u", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_instrument, repeat_u), FROM_ZERO,
     .doc = "standard deviation of one reading when it is repeated", .example = "0.4 mm"},
};
const struct record table_instrument =
    RECORD(bulletin_instrument, "an instrument", "With what readings are taken, and how well.",
           instrument_fields);

static const struct field cut_fields[] = {
    {"kerf", FIELD_AMOUNT, FIELD_REQUIRED, AT(bulletin_cut, kerf), LENGTH_ABOVE_ZERO,
     .doc = "width of the saw's cut", .example = "1.6 mm"},
    {"blade", FIELD_WORD, FIELD_OPTIONAL, AT(bulletin_cut, blade), .words = blades,
     .doc = "blade wholly on the offcut's side of the line (waste), or its middle on the line "
            "(centre)",
     .example = "waste"},
    {"blade_says", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_cut, blade_says),
     .doc = "the same as a sentence for the technician",
     .example = "Keep the whole blade on the offcut's side of the line"},
    {"measure", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_cut, measure),
     .doc = "how the needed length is measured",
     .example = "Measure the old rack on its back, end face to end face"},
    {"largest_offcut", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_cut, offcut_max),
     LENGTH_ABOVE_ZERO, .doc = "an offcut longer than this is a sign of a wrong kit: a warning",
     .example = "540 mm"},
    {"sliver", FIELD_AMOUNT, FIELD_OPTIONAL, AT(bulletin_cut, sliver), LENGTH_FROM_ZERO,
     .doc = "a part tooth thinner than this at the cut breaks off: a warning", .example = "1.2 mm"},
    {"instrument", FIELD_ID, FIELD_REQUIRED, AT(bulletin_cut, instrument),
     .doc = "with what racks are measured and marked", .example = "tape"},
    {"remeasure_factor", FIELD_REAL, FIELD_OPTIONAL, AT(bulletin_cut, remeasure_factor),
     .min = 1000000, .max = 10000000, .fallback = 2000000,
     .doc = "racks that differ by more than this many standard uncertainties of their difference "
            "are measured again before anything is cut",
     .example = "2"},
};
const struct record table_cut =
    RECORD(bulletin_cut, "the cut section",
           "How racks are cut. Needed when any kit has a rack to cut.", cut_fields);

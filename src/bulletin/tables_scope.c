/* tables_scope: the rows of the sections `bulletin` and `scope`. From the small parts to the whole;
 * the reference turns it round. A new key goes here, into bulletin.h and, where it can contradict
 * another, into the checks. */
#include "bulletin/tables.h"

#include "core/label.h"
#include "core/scope.h"

static const char *const vin_checks[] = {"required", "advisory", "none", NULL};
static const char *const mixed_rules[] = {"per-station", "whole-unit", NULL};

/* ---- bulletin ---- */

static const struct field head_fields[] = {
    {"id", FIELD_CODE, FIELD_REQUIRED, AT(bulletin_head, id),
     .doc = "the bulletin's number, as the maker files it", .example = "OV-26-03"},
    {"revision", FIELD_INT, FIELD_REQUIRED, AT(bulletin_head, revision), .min = 1, .max = 999,
     .doc = "counts up by one with every change that is published", .example = "2"},
    {"title", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_head, title),
     .doc = "what is wrong, in a few words",
     .example = "{en: Racks slip out of step, es: Las cremalleras pierden el paso}"},
    {"summary", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_head, summary),
     .doc = "what happened and what is done about it, in a paragraph",
     .example = "The key seat was cut too shallow; racks and pinions are replaced"},
    {"issued", FIELD_DATE, FIELD_REQUIRED, AT(bulletin_head, issued),
     .doc = "day of issue of this revision", .example = "2026-02-16"},
    {"maker", FIELD_LINE, FIELD_REQUIRED, AT(bulletin_head, maker),
     .doc = "who issues the bulletin and pays", .example = "Orrin Vale Drives"},
    {"contact", FIELD_LINE, FIELD_OPTIONAL, AT(bulletin_head, contact), .doc = "where to ask",
     .example = "campaign desk, desk@orrin-vale.example"},
    {"language", FIELD_LANGUAGE, FIELD_REQUIRED, AT(bulletin_head, language),
     .doc = "the bulletin's own language; every text must be there in it", .example = "en"},
    {"currency", FIELD_CURRENCY, FIELD_REQUIRED, AT(bulletin_head, currency),
     .doc = "of all money in the bulletin", .example = "EUR"},
    {"invented", FIELD_BOOL, FIELD_OPTIONAL, AT(bulletin_head, is_invented),
     .doc = "true for a bulletin that teaches or tests; it is then called invented wherever it is "
            "shown",
     .example = "true"},
    {"refers_to", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_head, refers_to), LIST(FIELD_TEXT, 20),
     .doc = "instructions that go before this bulletin, such as the maker's manual",
     .example = "[Workshop manual of the drive, chapter 4]"},
};
const struct record table_head =
    RECORD(bulletin_head, "the bulletin section", "What the bulletin is.", head_fields);

/* ---- scope ---- */

static const struct field vin_fields[] = {
    {"check", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_vin_rule, check), .words = vin_checks,
     .doc = "is a check digit that does not fit a stop (required: North America, China), a warning "
            "(advisory), or is no VIN asked for (none)",
     .example = "advisory"},
    {"prefixes", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_vin_rule, prefixes),
     LIST(FIELD_CODE, SCOPE_PREFIXES_MAX),
     .doc = "beginnings of the VINs concerned; without it any VIN", .example = "[1F9, 1FH]"},
};
static const struct record table_vin =
    RECORD(bulletin_vin_rule, "the VIN rule", "How VINs are judged.", vin_fields);

static const struct field attribute_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_attribute, id),
     .doc = "its name in `with` and `for`", .example = "hand"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_attribute, name), .doc = "its name for people",
     .example = "Hand of the column"},
    {"ask", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_attribute, ask),
     .doc = "the question to the technician; needed when no station fixes it",
     .example = "Which ends of the old racks have a cut-out?"},
    {"values", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_attribute, values), .item = FIELD_ID,
     .min = 2, .max = 16, .doc = "what it can be", .example = "[left, right]"},
};
static const struct record table_attribute =
    RECORD(bulletin_attribute, "an attribute", "Something by which kits differ.", attribute_fields);

static const struct field station_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_station, id),
     .doc = "its name in the rest of the file", .example = "fore"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_station, name), .doc = "its name for people",
     .example = "Fore column"},
    {"label_at", FIELD_TEXT, FIELD_OPTIONAL, AT(bulletin_station, label_at),
     .doc = "where its label is", .example = "Inner face of the column, at hand height"},
    {"with", FIELD_PAIRS, FIELD_OPTIONAL, AT(bulletin_station, with),
     .doc = "attributes that are fixed by the place", .example = "{hand: left}"},
};
static const struct record table_station =
    RECORD(bulletin_station, "a station",
           "A place on the unit that has its own label and gets its own kit.", station_fields);

static const struct field window_fields[] = {
    {"from", FIELD_DAYS, FIELD_REQUIRED, AT(bulletin_window, from),
     .doc = "first day of manufacture concerned; a week counts from its Monday",
     .example = "2024-W14"},
    {"to", FIELD_DAYS, FIELD_REQUIRED, AT(bulletin_window, to),
     .doc = "last day of manufacture concerned; a week counts to its Sunday",
     .example = "2024-05-12"},
};
static const struct record table_window =
    RECORD(bulletin_window, "a build window",
           "Days of manufacture that are concerned, both ends included.", window_fields);

static const struct field variant_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_variant, id), .doc = "its name in messages",
     .example = "wd40"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_variant, name), .doc = "its name for people",
     .example = "WD40, room up to 400 kg"},
    {"codes", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_variant, codes),
     LIST(FIELD_CODE, SCOPE_VARIANTS_MAX),
     .doc = "the codes on the label, in upper case; a closing * stands for any rest; left out when "
            "labels carry no variant",
     .example = "[WD40, WD40B]"},
    {"windows", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_variant, windows), LIST(FIELD_RECORD, 64),
     .record = &table_window, .doc = "when it was built wrongly"},
};
static const struct record table_variant =
    RECORD(bulletin_variant, "a variant", "A kind of the product and when it was built wrongly.",
           variant_fields);

static const struct field scope_fields[] = {
    {"vin", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin_scope, vin), .record = &table_vin,
     .doc = "how VINs are judged"},
    {"labels", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_scope, labels),
     LIST(FIELD_LINE, LABEL_PATTERNS_MAX),
     .doc = "how labels read: %Y-%m-%d, %j (day of the year), %G-W%V (ISO week), {variant}",
     .example = "[\"{variant} %G-W%V\"]"},
    {"attributes", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_scope, attributes),
     LIST(FIELD_RECORD, 16), .record = &table_attribute, .doc = "by what kits differ"},
    {"stations", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_scope, stations),
     LIST(FIELD_RECORD, BULLETIN_STATIONS_MAX), .record = &table_station,
     .doc = "the places on the unit"},
    {"variants", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_scope, variants),
     LIST(FIELD_RECORD, SCOPE_VARIANTS_MAX), .record = &table_variant,
     .doc = "what was built wrongly, and when"},
    {"mixed", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_scope, mixed), .words = mixed_rules,
     .doc = "a unit with one station in and one out: does only that station get work "
            "(per-station), or all of them (whole-unit)",
     .example = "per-station"},
};
const struct record table_scope =
    RECORD(bulletin_scope, "the scope section",
           "Which units, and which stations on them, are concerned.", scope_fields);

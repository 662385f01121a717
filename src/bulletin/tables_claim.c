/* tables_claim: the rows of the sections `proof`, `claim` and `decision`, and of the whole file. */
#include "bulletin/tables.h"

static const char *const pers[] = {"unit", "station", NULL};
const char *const bulletin_payee_names[] = {"shop", "mobile", "dealer", "owner", NULL};
static const char *const pays[] = {"labour", "kit", "parts", "travel", "consumables", NULL};
static const char *const guards[] = {"none", "risk", NULL};

/* ---- proof, claim, decision ---- */

static const struct field photo_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(bulletin_photo, id), .doc = "its name in steps",
     .example = "room-supported"},
    {"name", FIELD_TEXT, FIELD_REQUIRED, AT(bulletin_photo, name), .doc = "what must be on it",
     .example = "The room on its stands, both stands in the picture"},
    {"per", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_photo, per), .words = pers,
     .doc = "one a unit, or one at each station", .example = "unit"},
};
static const struct record table_photo =
    RECORD(bulletin_photo, "a photo", "A picture that shows the work.", photo_fields);

static const struct field proof_fields[] = {
    {"photos", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_proof, photos), LIST(FIELD_RECORD, 60),
     .record = &table_photo, .doc = "pictures that the maker wants"},
    {"readings", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin_proof, readings),
     LIST(FIELD_ID, BULLETIN_POINTS_MAX), .doc = "points whose final readings the maker wants",
     .example = "[fore-upper-in, fore-upper-out]"},
    {"keep_old_parts", FIELD_INT, FIELD_OPTIONAL, AT(bulletin_proof, keep_old_parts_days),
     .max = 3650, .doc = "days for which the old parts are kept for the maker", .example = "60"},
};
const struct record table_proof =
    RECORD(bulletin_proof, "the proof section", "What shows that the work was done.", proof_fields);

static const struct field caps_fields[] = {
    {"labour", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_caps, minor[BULLETIN_PAYS_LABOUR]),
     NOTHING_GIVEN, .doc = "most for labour", .example = "520.00"},
    {"kit", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_caps, minor[BULLETIN_PAYS_KIT]), NOTHING_GIVEN,
     .doc = "most for kits", .example = "400.00"},
    {"parts", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_caps, minor[BULLETIN_PAYS_PARTS]),
     NOTHING_GIVEN, .doc = "most for parts besides the kits", .example = "240.00"},
    {"travel", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_caps, minor[BULLETIN_PAYS_TRAVEL]),
     NOTHING_GIVEN, .doc = "most for travel", .example = "120.00"},
    {"consumables", FIELD_MONEY, FIELD_OPTIONAL,
     AT(bulletin_caps, minor[BULLETIN_PAYS_CONSUMABLES]), NOTHING_GIVEN,
     .doc = "most for sealant, blades and the like", .example = "25.00"},
    {"unit", FIELD_MONEY, FIELD_OPTIONAL, AT(bulletin_caps, unit_minor), NOTHING_GIVEN,
     .doc = "most for everything together", .example = "1400.00"},
};
static const struct record table_caps =
    RECORD(bulletin_caps, "the caps", "Most that is paid for one unit.", caps_fields);

static const struct field claim_fields[] = {
    {"who", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_claim, who), LIST(FIELD_WORD, 4),
     .words = bulletin_payee_names, .doc = "who may claim", .example = "[shop, mobile]"},
    {"until", FIELD_DATE, FIELD_REQUIRED, AT(bulletin_claim, until),
     .doc = "last day on which a claim may arrive", .example = "2027-06-30"},
    {"days_after_repair", FIELD_INT, FIELD_OPTIONAL, AT(bulletin_claim, days_after_repair),
     .min = 1, .max = 3650, .doc = "and at most so many days after the repair", .example = "45"},
    {"rate", FIELD_MONEY, FIELD_REQUIRED, AT(bulletin_claim, rate_minor),
     .doc = "paid for an hour of labour", .example = "68.00"},
    {"fastest", FIELD_TIME, FIELD_OPTIONAL, AT(bulletin_claim, fastest_s), .min = 1,
     .max = TIME_MAX_S, NOTHING_GIVEN,
     .doc = "the least time honest work takes, for each station worked on; a faster job is held",
     .example = "75 min"},
    {"pays", FIELD_LIST, FIELD_REQUIRED, AT(bulletin_claim, pays), LIST(FIELD_WORD, 5),
     .words = pays, .doc = "what is paid", .example = "[labour, kit, travel]"},
    {"caps", FIELD_RECORD, FIELD_OPTIONAL, AT(bulletin_claim, caps), .record = &table_caps,
     .doc = "most that is paid for one unit"},
};
const struct record table_claim =
    RECORD(bulletin_claim, "the claim section", "Who is paid what, and until when.", claim_fields);

static const struct field decision_fields[] = {
    {"guard", FIELD_WORD, FIELD_REQUIRED, AT(bulletin_decision, guard), .words = guards,
     .doc = "take readings at face value (none), or move the limits in so that a reading called "
            "inside is wrong with at most the stated risk (risk)",
     .example = "risk"},
    {"risk", FIELD_REAL, FIELD_OPTIONAL, AT(bulletin_decision, risk), .min = 1, .max = 500000,
     .fallback = 500000, .doc = "that risk; needed with guard: risk", .example = "0.05"},
};
const struct record table_decision = RECORD(bulletin_decision, "the decision rule",
                                            "When a reading counts as inside.", decision_fields);

/* ---- the whole ---- */

static const struct field root_fields[] = {
    {"bulletin", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, head), .record = &table_head,
     .doc = "what the bulletin is"},
    {"scope", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, scope), .record = &table_scope,
     .doc = "which units are concerned"},
    {"labour", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, labour), .record = &table_labour,
     .doc = "paid time"},
    {"parts", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, parts), LIST(FIELD_RECORD, ITEMS_MAX),
     .record = &table_part, .doc = "what is fitted or kept"},
    {"kits", FIELD_LIST, FIELD_REQUIRED, AT(bulletin, kits), LIST(FIELD_RECORD, BULLETIN_KITS_MAX),
     .record = &table_kit, .doc = "what is shipped"},
    {"instruments", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, instruments), LIST(FIELD_RECORD, 40),
     .record = &table_instrument, .doc = "with what readings are taken"},
    {"cut", FIELD_RECORD, FIELD_OPTIONAL, AT(bulletin, cut), .record = &table_cut,
     .doc = "how racks are cut"},
    {"tools", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, tools), LIST(FIELD_RECORD, ITEMS_MAX),
     .record = &table_item, .doc = "tools that must be at hand"},
    {"protective", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, protective),
     LIST(FIELD_RECORD, ITEMS_MAX), .record = &table_item,
     .doc = "protective equipment that must be at hand"},
    {"steps", FIELD_LIST, FIELD_REQUIRED, AT(bulletin, steps),
     LIST(FIELD_RECORD, BULLETIN_STEPS_MAX), .record = &table_step, .doc = "the work, in order"},
    {"points", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, points),
     LIST(FIELD_RECORD, BULLETIN_POINTS_MAX), .record = &table_point,
     .doc = "what is read, and its limits"},
    {"adjusters", FIELD_LIST, FIELD_OPTIONAL, AT(bulletin, adjusters),
     LIST(FIELD_RECORD, BULLETIN_ADJUSTERS_MAX), .record = &table_adjuster,
     .doc = "what can be moved"},
    {"timing", FIELD_RECORD, FIELD_OPTIONAL, AT(bulletin, timing), .record = &table_timing,
     .doc = "when racks are in step"},
    {"proof", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, proof), .record = &table_proof,
     .doc = "what shows the work"},
    {"claim", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, claim), .record = &table_claim,
     .doc = "who is paid what"},
    {"decision", FIELD_RECORD, FIELD_REQUIRED, AT(bulletin, decision), .record = &table_decision,
     .doc = "when a reading counts as inside"},
};
static const struct record table_root =
    RECORD(bulletin, "a bulletin", "A bulletin is one YAML file in UTF-8.", root_fields);

const struct record *schema_root(void)
{
    return &table_root;
}

/* bulletin: what a bulletin says, as plain data.
 *
 * The reader (schema.h) fills these structs from the YAML file; checks.h judges what they mean.
 * Everything a struct points at lives in the bulletin's own arena and dies with bulletin_free. All
 * text is NUL-terminated UTF-8 without control bytes other than line breaks. Amounts are nano
 * (core/quantity.h), days count from 1970-01-01 (core/date.h), times are whole seconds, money is
 * whole minor units of the bulletin's currency (ISO 4217 digits).
 *
 * Lists are { at, n }. `node` is the place in the file (yamltree.h: line, column, path), for
 * messages. */
#ifndef BULLETIN_BULLETIN_H
#define BULLETIN_BULLETIN_H

#include "bulletin/faults.h"
#include "core/conform.h"
#include "core/date.h"
#include "core/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct yamlnode;

#define BULLETIN_LIST(type)                                                                        \
    struct {                                                                                       \
        type *at;                                                                                  \
        size_t n;                                                                                  \
    }

/* Greatest number of items, refused beyond by the schema. Points and adjusters fit truing.h. */
enum {
    BULLETIN_SIZE_MAX = 4 * 1024 * 1024,
    BULLETIN_STATIONS_MAX = 16,
    BULLETIN_KITS_MAX = 64,
    BULLETIN_RACKS_MAX = 8,
    BULLETIN_POINTS_MAX = 64,
    BULLETIN_ADJUSTERS_MAX = 32,
    BULLETIN_STEPS_MAX = 200
};

#define BULLETIN_NO_DAY    INT32_MIN /* an optional date that is not given */
#define BULLETIN_NO_AMOUNT INT64_MIN /* optional money or time that is not given */

/* ---- values ---- */

struct bulletin_part_text {
    const char *language; /* "en"; "" is never used: a bare text gets the bulletin's language */
    const char *text;
};

/* A text in one or more languages; n = 0 when optional and not given. Read it with
 * bulletin_text_in. */
struct bulletin_text {
    struct bulletin_part_text *at;
    size_t n;
};

struct bulletin_amount {
    bool is_given;
    enum dim dim;
    enum unit unit; /* as written, for showing it back the same way */
    int64_t nano;   /* exact, or nearest (1/3 in) */
};

struct bulletin_days {
    bool is_given;
    int32_t first, last; /* of the day or of the ISO week that was written */
};

/* "hand: left": attribute (or factor) and its value. */
struct bulletin_pair {
    const struct yamlnode *node;
    const char *key, *value;
};

/* "side: 1": a two-level factor; level is -1 or +1. */
struct bulletin_level {
    const struct yamlnode *node;
    const char *factor;
    int32_t level;
};

/* "fore-upper-out: -0.5 mm": one step of +1 changes the reading at point by this. */
struct bulletin_effect {
    const struct yamlnode *node;
    const char *point;
    struct bulletin_amount change;
};

struct bulletin_share {
    int32_t of, by; /* 1/2 is of = 1, by = 2; by = 0 when not given */
};

/* ---- bulletin ---- */

struct bulletin_head {
    const struct yamlnode *node;
    const char *id; /* "OV-26-03" */
    int32_t revision;
    struct bulletin_text title, summary; /* summary optional */
    int32_t issued;
    const char *maker, *contact; /* contact "" when not given */
    const char *language;        /* BCP 47, "en" */
    const char *currency;        /* ISO 4217, "EUR" */
    int currency_digits;         /* 2 for EUR, 0 for JPY; set by the reader */
    bool is_invented;            /* must be shown wherever the bulletin is shown */
    BULLETIN_LIST(struct bulletin_text) refers_to;
};

/* ---- scope ---- */

enum bulletin_vin_check { BULLETIN_VIN_REQUIRED, BULLETIN_VIN_ADVISORY, BULLETIN_VIN_NONE };
enum bulletin_mixed { BULLETIN_MIXED_PER_STATION, BULLETIN_MIXED_WHOLE_UNIT };

struct bulletin_vin_rule {
    const struct yamlnode *node;
    enum bulletin_vin_check check;        /* is a wrong check digit a no, or a warning */
    BULLETIN_LIST(const char *) prefixes; /* upper case, 1..17 VIN characters; n = 0: any VIN */
};

struct bulletin_attribute {
    const struct yamlnode *node;
    const char *id;                 /* "hand", "relief" */
    struct bulletin_text name, ask; /* ask: how the technician tells, when no station fixes it */
    BULLETIN_LIST(const char *) values;
};

struct bulletin_station {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name, label_at;      /* label_at: where its label is; optional */
    BULLETIN_LIST(struct bulletin_pair) with; /* attributes fixed for the station: hand = left */
};

/* Days of manufacture, both ends included. A week written as an end counts whole: from its Monday,
 * to its Sunday. */
struct bulletin_window {
    const struct yamlnode *node;
    struct bulletin_days from, to; /* the window is from.first .. to.last */
};

struct bulletin_variant {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name;
    BULLETIN_LIST(const char *)
    codes; /* upper case, as on the label; a closing '*' matches any rest; n = 0: the only
              variant of a bulletin whose labels carry no variant */
    BULLETIN_LIST(struct bulletin_window) windows;
};

struct bulletin_scope {
    const struct yamlnode *node;
    struct bulletin_vin_rule vin;
    BULLETIN_LIST(const char *) labels; /* patterns, core/label.h */
    BULLETIN_LIST(struct bulletin_attribute) attributes;
    BULLETIN_LIST(struct bulletin_station) stations;
    BULLETIN_LIST(struct bulletin_variant) variants;
    enum bulletin_mixed
        mixed; /* per-station: only stations in scope get work; whole-unit: one in, all in */
};

/* ---- labour, parts, kits ---- */

struct bulletin_labour_station {
    const struct yamlnode *node;
    const char *station;
    int64_t time_s;              /* BULLETIN_NO_AMOUNT when share_of_unit is used */
    struct bulletin_share share; /* of labour.unit */
};

struct bulletin_labour {
    const struct yamlnode *node;
    int64_t unit_s; /* the whole unit, every station done; BULLETIN_NO_AMOUNT when not given */
    int64_t once_s; /* once a unit on top, however many stations; 0 */
    BULLETIN_LIST(struct bulletin_labour_station) stations;
};

struct bulletin_part {
    const struct yamlnode *node;
    const char *id, *number; /* number: the maker's, "" when not given */
    struct bulletin_text name;
    int64_t price_minor; /* BULLETIN_NO_AMOUNT when not given */
    bool is_kept;        /* goes back in from the old assembly, after inspection */
};

struct bulletin_content {
    const struct yamlnode *node;
    const char *part;
    int32_t count;
};

enum bulletin_supply { BULLETIN_SUPPLY_READY, BULLETIN_SUPPLY_CUT };
enum bulletin_relief {
    BULLETIN_RELIEF_NONE,
    BULLETIN_RELIEF_UPPER,
    BULLETIN_RELIEF_LOWER,
    BULLETIN_RELIEF_BOTH
};
enum bulletin_end { BULLETIN_END_UPPER, BULLETIN_END_LOWER, BULLETIN_END_NONE };

struct bulletin_rack {
    const struct yamlnode *node;
    const char *id;
    enum bulletin_supply supply;
    struct bulletin_amount stock; /* length as shipped */
    enum bulletin_relief relief;
    /* the end that is kept when cut; as written, or the relieved end; NONE: unknown */
    enum bulletin_end keep;
    struct bulletin_amount module;      /* of the teeth; pitch = pi x module */
    struct bulletin_amount first_tooth; /* kept end to the middle of the first tooth; optional */
    /* finished lengths that a cut piece may have; optional */
    struct bulletin_amount least, greatest;
    struct bulletin_amount fit; /* a piece that is not cut may differ this much; optional */
};

struct bulletin_kit {
    const struct yamlnode *node;
    const char *id, *number;
    struct bulletin_text name;
    /* "for": attributes that must match; n = 0 fits every station */
    BULLETIN_LIST(struct bulletin_pair) fits;
    int64_t price_minor;
    BULLETIN_LIST(struct bulletin_content) parts;
    BULLETIN_LIST(struct bulletin_rack) racks; /* n = 0: nothing is cut or chosen by length */
};

/* ---- instruments and cutting ---- */

struct bulletin_instrument {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name;
    struct bulletin_amount resolution;
    struct bulletin_amount calibration_u, repeat_u; /* standard uncertainties; optional */
};

/* kerf wholly in the offcut, or half on each side of the line */
enum bulletin_blade { BULLETIN_BLADE_WASTE, BULLETIN_BLADE_CENTRE };

struct bulletin_cut {
    const struct yamlnode *node; /* NULL: the bulletin has no cut section */
    struct bulletin_amount kerf;
    enum bulletin_blade blade;
    struct bulletin_text blade_says;   /* the sentence for the technician */
    struct bulletin_text measure;      /* how the needed length is measured */
    struct bulletin_amount offcut_max; /* "largest_offcut" */
    struct bulletin_amount sliver;     /* least metal of a cut tooth before a warning; optional */
    const char *instrument;
    double remeasure_factor; /* racks that differ by more than factor x u of their difference */
};

/* ---- work ---- */

struct bulletin_item { /* a tool or a piece of protective equipment */
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name;
};

enum bulletin_hazard {
    BULLETIN_HAZARD_CUTTING,
    BULLETIN_HAZARD_LIFTING,
    BULLETIN_HAZARD_STORED_ENERGY,
    BULLETIN_HAZARD_ELECTRICAL,
    BULLETIN_HAZARD_PINCH,
    BULLETIN_HAZARD_N
};

struct bulletin_caution {
    const struct yamlnode *node;
    enum bulletin_hazard hazard;
    struct bulletin_text text;
};

struct bulletin_inspection {
    const struct yamlnode *node;
    const char *part;                          /* a kept part */
    struct bulletin_text criterion, otherwise; /* what must hold; what to do when it does not */
};

struct bulletin_picture {
    const struct yamlnode *node; /* NULL: no picture */
    const char *file;            /* beside the bulletin: no folders, .png .jpg .jpeg .svg */
    struct bulletin_text alt;
};

enum bulletin_per { BULLETIN_PER_UNIT, BULLETIN_PER_STATION };
enum bulletin_hold {
    BULLETIN_HOLD_NONE,
    BULLETIN_HOLD_CONFIRM,
    BULLETIN_HOLD_READING,
    BULLETIN_HOLD_PHOTO
};

struct bulletin_step {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text title, text, why; /* why optional */
    enum bulletin_per per;
    BULLETIN_LIST(int32_t) hazards; /* enum bulletin_hazard */
    BULLETIN_LIST(struct bulletin_caution) cautions;
    BULLETIN_LIST(const char *) tools;
    BULLETIN_LIST(const char *) protective;
    enum bulletin_hold hold;              /* what must be there before the next step opens */
    BULLETIN_LIST(const char *) readings; /* points read here */
    BULLETIN_LIST(const char *) photos;   /* proof photos taken here */
    BULLETIN_LIST(struct bulletin_text) check_first;
    BULLETIN_LIST(struct bulletin_inspection) inspections;
    struct bulletin_picture picture;
};

/* ---- readings and what moves them ---- */

struct bulletin_point {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name, how; /* how it is measured; optional */
    struct bulletin_text
        otherwise;       /* what to do when it is outside and nothing can be moved; optional */
    const char *station; /* "" for the whole unit */
    struct bulletin_amount nominal, low,
        high; /* one dimension; low or high may be left out, not both */
    const char *instrument;
    BULLETIN_LIST(struct bulletin_level) factors;
    struct bulletin_amount extension; /* how far the room is out; optional */
};

struct bulletin_adjuster {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name, how; /* how it is moved, and which way +1 is; optional */
    const char *station;            /* "" for the whole unit */
    struct bulletin_amount step;
    int32_t min, max; /* steps, min <= 0 <= max */
    int64_t setup_s, per_step_s;
    BULLETIN_LIST(struct bulletin_effect) effects;
};

struct bulletin_timing_station {
    const struct yamlnode *node;
    const char *station;
    BULLETIN_LIST(const char *)
    racks; /* ids of racks in the station's kits; the first is the reference */
};

struct bulletin_timing {
    const struct yamlnode *node;   /* NULL: no timing section */
    struct bulletin_amount module; /* pitch = pi x module */
    struct bulletin_amount limit;  /* greatest difference of two rack ends, either way */
    const char *instrument;
    int32_t jump_max; /* teeth either way; 3 */
    int64_t setup_s, per_jump_s;
    struct bulletin_text how;
    BULLETIN_LIST(struct bulletin_timing_station) stations;
};

/* ---- proof, claim, decision ---- */

struct bulletin_photo {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text name;
    enum bulletin_per per;
};

struct bulletin_proof {
    const struct yamlnode *node;
    BULLETIN_LIST(struct bulletin_photo) photos;
    BULLETIN_LIST(const char *) readings; /* points whose final readings the maker wants */
    int32_t keep_old_parts_days;          /* 0 */
};

enum bulletin_payee {
    BULLETIN_PAYEE_SHOP,
    BULLETIN_PAYEE_MOBILE,
    BULLETIN_PAYEE_DEALER,
    BULLETIN_PAYEE_OWNER
};
extern const char *const bulletin_payee_names[]; /* as in the file, in that order; closed by NULL */
enum bulletin_pays {
    BULLETIN_PAYS_LABOUR,
    BULLETIN_PAYS_KIT,
    BULLETIN_PAYS_PARTS,
    BULLETIN_PAYS_TRAVEL,
    BULLETIN_PAYS_CONSUMABLES,
    BULLETIN_PAYS_N
};

struct bulletin_caps {
    const struct yamlnode *node;
    int64_t minor[BULLETIN_PAYS_N]; /* per unit; BULLETIN_NO_AMOUNT: no cap */
    int64_t unit_minor;             /* everything together; BULLETIN_NO_AMOUNT: no cap */
};

struct bulletin_claim {
    const struct yamlnode *node;
    BULLETIN_LIST(int32_t) who;  /* enum bulletin_payee */
    int32_t until;               /* last day a claim may arrive */
    int32_t days_after_repair;   /* 0: only `until` counts */
    BULLETIN_LIST(int32_t) pays; /* enum bulletin_pays */
    int64_t rate_minor;          /* labour, an hour */
    int64_t
        fastest_s; /* the least time honest work takes, a station; BULLETIN_NO_AMOUNT: not known */
    struct bulletin_caps caps;
};

enum bulletin_guard { BULLETIN_GUARD_NONE, BULLETIN_GUARD_RISK };

struct bulletin_decision {
    const struct yamlnode *node;
    enum bulletin_guard guard;
    double risk; /* in (0, 0.5] with BULLETIN_GUARD_RISK; else 0.5 (no guard band) */
};

struct bulletin {
    const struct yamlnode *node;
    struct bulletin_head head;
    struct bulletin_scope scope;
    struct bulletin_labour labour;
    BULLETIN_LIST(struct bulletin_part) parts;
    BULLETIN_LIST(struct bulletin_kit) kits;
    BULLETIN_LIST(struct bulletin_instrument) instruments;
    struct bulletin_cut cut;
    BULLETIN_LIST(struct bulletin_item) tools;
    BULLETIN_LIST(struct bulletin_item) protective;
    BULLETIN_LIST(struct bulletin_step) steps;
    BULLETIN_LIST(struct bulletin_point) points;
    BULLETIN_LIST(struct bulletin_adjuster) adjusters;
    struct bulletin_timing timing;
    struct bulletin_proof proof;
    struct bulletin_claim claim;
    struct bulletin_decision decision;
};

/* ---- use ---- */

/* bulletin_load: reads and checks text[0..n). name is for messages ("OV-26-03.yaml"). NULL when
 * there is any fault; every fault and warning is then (and otherwise) in *faults, which the caller
 * has zeroed and frees with fault_list_done. faults->is_unreadable tells malformed YAML (exit 2)
 * from a readable bulletin with faults (exit 1). Cost: linear in n but for checks that are
 * quadratic in the bounded lists above. */
MUST_USE struct bulletin *bulletin_load(const char *text, size_t n, const char *name,
                                        struct fault_list *faults);
void bulletin_free(struct bulletin *b); /* NULL is fine */

/* bulletin_load_file: the same from a path ("-": standard input), with I/O faults in the same list
 * (is_unreadable). */
MUST_USE struct bulletin *bulletin_load_file(const char *path, struct fault_list *faults);

/* bulletin_text_in: the text in `language` (exact, then its first subtag), else in the bulletin's
 * own, else any; "" when none is given. b may be NULL. Borrowed. */
const char *bulletin_text_in(const struct bulletin *b, const struct bulletin_text *text,
                             const char *language);

/* bulletin_text_has: whether the text is there in `language` (exact, then its first subtag) itself. */
bool bulletin_text_has(const struct bulletin_text *text, const char *language);

/* Look-ups by id; NULL when there is none. */
const struct bulletin_station *bulletin_station_find(const struct bulletin *b, const char *id);
const struct bulletin_attribute *bulletin_attribute_find(const struct bulletin *b, const char *id);
const struct bulletin_instrument *bulletin_instrument_find(const struct bulletin *b,
                                                           const char *id);
const struct bulletin_point *bulletin_point_find(const struct bulletin *b, const char *id);
const struct bulletin_kit *bulletin_kit_find(const struct bulletin *b, const char *id);
const struct bulletin_part *bulletin_part_find(const struct bulletin *b, const char *id);

/* bulletin_station_value: the value the station fixes for the attribute; NULL when it is asked on
 * site. */
const char *bulletin_station_value(const struct bulletin_station *station, const char *attribute);

/* bulletin_code_of: a variant may be called by a code on its labels or by its id: the first code of the variant whose id `text` is and that has
 * codes, else `text` itself. Borrowed. */
const char *bulletin_code_of(const struct bulletin *b, const char *text);

/* bulletin_labour_s: paid seconds for one station (its time, or its share of the unit's, rounded up
 * to a whole second); 0 for an unknown station. labour.once_s comes on top once a unit. */
int64_t bulletin_labour_s(const struct bulletin *b, const char *station);

/* bulletin_uncertainty: the parts of a reading's standard uncertainty with this instrument, ready
 * for conform_combine; all zero when unknown. */
struct conform_u bulletin_uncertainty(const struct bulletin *b, const char *instrument);

const char *bulletin_hazard_name(enum bulletin_hazard hazard); /* "stored-energy" */

#endif

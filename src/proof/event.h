/* event: what a technician did, one thing an event, and the file that holds them (events.json).
 *
 * Nothing is ever edited: a later event may name an earlier one in `corrects` and then stands in its place (proof/job.h). The
 * file is one JSON object:
 *   {"mendwright_events":1,"invented":false,"bulletin":{"id","revision","sha256"},"vin":"...","events":[...]}
 * and an event is
 *   {"id":ULID,"type":"reading_taken","at_ms":..,"technician":id,"shop":id,"station":id,"corrects":ULID,"payload":{...}}
 * with what a type's payload holds in event_types below. Published as doc/events.schema.json (JSON Schema
 * 2020-12); a test holds the two together. The reader is stricter than the schema can say: no key twice, dates that exist, a
 * last day not before its first.
 *
 * An id is lower-case words with dashes, at most 48 characters, as in the bulletin. at_ms is the device's clock, milliseconds
 * since 1970-01-01 UTC. Lengths are whole nanometres (_nm); other amounts a number with its unit beside it. */
#ifndef PROOF_EVENT_H
#define PROOF_EVENT_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "core/quantity.h"
#include "core/ulid.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    EVENT_FORMAT = 1,
    EVENTS_MAX = 20000,
    EVENT_ID_MAX = 48,    /* characters of an id */
    EVENT_CODE_MAX = 40,  /* of a code */
    EVENT_LINE_MAX = 120, /* of one line of text */
    EVENT_TEXT_MAX = 2000,
    EVENT_PATH_MAX = 200,
    EVENT_PAIRS_MAX = 8,
    EVENT_FIELDS_MAX = 6,
    EVENT_VIN_SIZE = 17,
    EVENT_SHA256_SIZE = 64 /* hexadecimal digits */
};

#define EVENT_TIME_MAX_MS ((int64_t)7258118399999) /* the end of 2199, as far as core/date goes */
#define EVENT_AMOUNT_MAX                                                                           \
    ((int64_t)1000000000000000) /* nano either way: 1000 km, or a million of another unit */
#define EVENT_MONEY_MAX ((int64_t)1000000000000) /* minor units */
#define EVENT_ABSENT    INT64_MIN                /* a number that was not given */

enum event_type {
    EVENT_OPENED,
    EVENT_LABEL_READ,
    EVENT_SCOPE_FOUND,
    EVENT_RACK_MEASURED,
    EVENT_KIT_CHOSEN,
    EVENT_CUT,
    EVENT_HOLD_CONFIRMED,
    EVENT_READING_TAKEN,
    EVENT_MOVED,
    EVENT_PHOTO_TAKEN,
    EVENT_EXPENSE_CLAIMED,
    EVENT_FINISHED,
    EVENT_NOTE,
    EVENT_TYPE_N
};

/* What each type holds. Texts are NULL and numbers EVENT_ABSENT where an optional one was not given. */
struct event_opened {
    const char *software; /* optional: what wrote the file */
};
struct event_label_read {
    const char *text;        /* as it stands on the label */
    const char *variant;     /* optional: the part that names the variant */
    int64_t built_first_day; /* optional; days since 1970-01-01, as core/date */
    int64_t built_last_day;  /* optional */
};
enum event_verdict { EVENT_IN, EVENT_OUT, EVENT_UNKNOWN, EVENT_VERDICT_N };
struct event_scope_found {
    int64_t verdict;    /* enum event_verdict */
    const char *reason; /* optional */
};
struct event_rack_measured {
    const char *rack;
    int64_t length_nm;      /* > 0 */
    const char *instrument; /* optional */
};
struct event_pair {
    const char *name, *value;
};
struct event_pairs { /* by name */
    struct event_pair *pairs;
    size_t n;
};
struct event_kit_chosen {
    const char *kit;
    struct event_pairs with; /* optional: what was told of the old parts, {"relief":"upper"} */
};
struct event_cut {
    const char *rack;
    int64_t needed_nm, stock_nm, mark_nm; /* > 0 */
    int64_t offcut_nm;                    /* optional, >= 0 */
    const char *from_end;                 /* optional: the end the mark was measured from */
};
struct event_hold_confirmed {
    const char *step;
};
struct event_amount {
    int64_t nano; /* as core/quantity */
    enum unit
        unit; /* UNIT_NM for every length; else one of event_units, which are a billion nano each */
};
struct event_reading_taken {
    const char *point;
    struct event_amount value;
    const char *instrument; /* optional */
    const char *step;       /* optional: the step at which it was taken; readings of the bulletin's
                               first look at a unit and of its last share their points */
};
enum event_target { EVENT_ADJUSTER, EVENT_RACK, EVENT_TARGET_N };
struct event_moved {
    int64_t target; /* enum event_target */
    const char *name;
    int64_t steps; /* not 0; whole teeth for a rack */
};
struct event_photo_taken {
    const char *photo;  /* the id of the proof asked for */
    const char *path;   /* of the file, below the folder of events.json */
    const char *sha256; /* of its bytes, lower case */
};
/* What the shop asks for beyond labour and kit. */
enum event_expense { EVENT_TRAVEL, EVENT_CONSUMABLES, EVENT_PARTS, EVENT_EXPENSE_N };
struct event_expense_claimed {
    int64_t what; /* enum event_expense */
    int64_t
        amount_minor; /* 0..EVENT_MONEY_MAX, of the bulletin's currency, for all of them together */
    const char *part; /* optional, with EVENT_PARTS only */
    int64_t count;    /* optional, > 0: how many */
    const char *why;  /* optional */
};
struct event_finished {
    int64_t minutes; /* optional: working time as the technician counts it */
};
struct event_note {
    const char *text; /* may hold line feeds */
};

struct event {
    struct ulid id;
    enum event_type type;
    int64_t at_ms;
    const char *technician, *shop;
    const char *station; /* NULL: the whole unit */
    bool has_corrects;
    struct ulid corrects;
    union {
        struct event_opened opened;
        struct event_label_read label_read;
        struct event_scope_found scope_found;
        struct event_rack_measured rack_measured;
        struct event_kit_chosen kit_chosen;
        struct event_cut cut;
        struct event_hold_confirmed hold_confirmed;
        struct event_reading_taken reading_taken;
        struct event_moved moved;
        struct event_photo_taken photo_taken;
        struct event_expense_claimed expense_claimed;
        struct event_finished finished;
        struct event_note note;
    } as;
};

/* ---- the tables that reader, writer, comparison and the test of the schema go by --------------- */

enum event_field_kind {
    EVENT_FIELD_ID,   /* const char * */
    EVENT_FIELD_CODE, /* const char *: letters, digits and - . / _ *, 1..EVENT_CODE_MAX */
    EVENT_FIELD_LINE, /* const char *: 1..EVENT_LINE_MAX characters, no control characters */
    EVENT_FIELD_TEXT, /* const char *: 1..EVENT_TEXT_MAX characters, line feeds and tabs allowed */
    EVENT_FIELD_PATH, /* const char *: words of letters, digits and . _ - between slashes; none begins with a point */
    EVENT_FIELD_SHA256,  /* const char * */
    EVENT_FIELD_INTEGER, /* int64_t within least..most, less 0 where is_not_zero */
    EVENT_FIELD_DATE,    /* int64_t: "YYYY-MM-DD" */
    EVENT_FIELD_CHOICE,  /* int64_t: index into choices */
    EVENT_FIELD_PAIRS,   /* struct event_pairs: an object of ids, at most EVENT_PAIRS_MAX */
    EVENT_FIELD_AMOUNT /* struct event_amount: "<name>_nm": integer, or "<name>": number with "unit" */
};

struct event_field {
    const char *name; /* as in the file */
    enum event_field_kind kind;
    bool is_needed, is_not_zero;
    size_t at; /* offset in struct event */
    int64_t least, most;
    const char *const *choices; /* closed by NULL */
};

enum event_station { EVENT_STATION_NONE, EVENT_STATION_MAY, EVENT_STATION_MUST };

struct event_type_row {
    const char *name; /* as in the file */
    enum event_station station;
    struct event_field fields[EVENT_FIELDS_MAX]; /* closed by a NULL name */
};

extern const struct event_type_row event_types[EVENT_TYPE_N];

/* Units that an amount which is no length may have, in the order of the schema; closed by NULL. */
extern const char *const event_units[];

/* ---- lists ------------------------------------------------------------------------------------ */

struct event_list {
    char vin
        [EVENT_VIN_SIZE +
         1]; /* capital letters and digits without I O Q; its check digit is not looked at here */
    char bulletin_id[EVENT_CODE_MAX + 1];
    int64_t revision; /* 1..1000000 */
    char bulletin_sha256[EVENT_SHA256_SIZE + 1];
    bool is_invented; /* demo data */
    struct event *events;
    size_t n;
    struct event_pool *pool; /* owns every text */
    size_t room;
};

/* events_read: text[0..n) of an events.json; name is for messages. On failure *reterr has file, line, column and path
 * ("events[3].payload.length_nm"). The list is the caller's: events_free (NULL is fine). Events stay in the file's order;
 * the same id twice is left for job_replay to judge. Errors: those of json_parse, and ERR_TYPE, ERR_UNKNOWN, ERR_EMPTY,
 * ERR_SYNTAX, ERR_DOMAIN, ERR_LIMIT, ERR_ENCODING, ERR_IMPOSSIBLE, ERR_ORDER. */
MUST_USE enum err events_read(const char *text, size_t n, const char *name, struct event_list **ret,
                              struct fault *reterr);

/* events_add_written: one event more from the bytes that event_write made of it: text[0..n), members in its order, no blanks, no
 * escapes. Some twenty times as fast as events_read; for many events of one's own keeping. What it takes, events_read takes, and
 * it is the same event. Errors: ERR_SYNTAX (anything else: nothing is added, let events_read look), ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err events_add_written(struct event_list *list, const char *text, size_t n);

/* events_new: an empty list with a head; events_add: one event more, its texts copied. The caller answers for values that
 * the reader would take (a list so made should once be written and read). NULL / ERR_MEMORY, ERR_LIMIT. */
struct event_list *events_new(void);
MUST_USE enum err events_add(struct event_list *list, const struct event *e);
void events_free(struct event_list *list);

/* events_write: the list as a file, an event a line; the same list gives the same bytes on every machine, and what is read back
 * is the same list. event_write: one event as a JSON object; event_write_payload: the members of its payload alone, into an object
 * that is open. */
void events_write(const struct event_list *list, struct text *out);
void event_write(const struct event *e, struct jsonw *w, const char *key);
void event_write_payload(const struct event *e, struct jsonw *w);

/* event_compare: a total order: device time, then ULID, then content; 0 only when everything is the same. */
int event_compare(const struct event *a, const struct event *b);

/* events_merge: what two lists of one job hold together, in that order, each event once; events of the same id that differ both
 * stay. Commutative, associative, idempotent (but for the order and doubles of the lists themselves). Errors: ERR_AMBIGUOUS
 * (another VIN or bulletin), ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err events_merge(const struct event_list *a, const struct event_list *b,
                               struct event_list **ret, struct fault *reterr);

#endif

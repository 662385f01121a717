/* schema: which keys a bulletin has, and what each may hold; fills plain structs from a yamltree.
 *
 * One table (tables.c) says it all: it reads the file, words the faults and makes doc/bulletin.md
 * (reference.h). Every fault is reported, not only the first. A key that is misspelt is one fault,
 * not also a missing key. */
#ifndef BULLETIN_SCHEMA_H
#define BULLETIN_SCHEMA_H

#include "bulletin/bulletin.h"
#include "bulletin/yamltree.h"

enum field_kind {
    FIELD_ID,       /* const char *: lower-case words with dashes */
    FIELD_CODE,     /* const char *: letters, digits, '-', '.', '/', '*'; kept as written */
    FIELD_LINE,     /* const char *: one line of text, the same in every language */
    FIELD_LANGUAGE, /* const char *: BCP 47 */
    FIELD_CURRENCY, /* const char *: ISO 4217 */
    FIELD_TEXT,     /* struct bulletin_text */
    FIELD_AMOUNT,   /* struct bulletin_amount; dim; min..max nano */
    FIELD_TIME,     /* int64_t seconds; min..max */
    FIELD_DATE,     /* int32_t day */
    FIELD_DAYS,     /* struct bulletin_days: a date or an ISO week */
    FIELD_INT,      /* int32_t; min..max */
    FIELD_MONEY,    /* int64_t minor units; >= 0 */
    FIELD_REAL,     /* double from decimal text; min..max in millionths */
    FIELD_SHARE,    /* struct bulletin_share: 1/2 */
    FIELD_WORD,     /* an enum: index into words */
    FIELD_BOOL,     /* bool */
    FIELD_RECORD,   /* a struct that starts with its node: record */
    FIELD_PAIRS,    /* list of struct bulletin_pair, written as a mapping */
    FIELD_LEVELS,   /* list of struct bulletin_level, written as a mapping */
    FIELD_EFFECTS,  /* list of struct bulletin_effect, written as a mapping */
    FIELD_LIST      /* list of `item` (ID, CODE, LINE, TEXT, WORD, RECORD); min..max items */
};

enum { FIELD_OPTIONAL, FIELD_REQUIRED };

struct record;

struct field {
    const char *key;
    enum field_kind kind;
    int need;      /* FIELD_OPTIONAL, FIELD_REQUIRED */
    size_t offset; /* in the record's struct */
    enum field_kind item;
    int64_t min, max;
    int64_t fallback;         /* of INT, MONEY, TIME, DATE, WORD, BOOL when the key is missing */
    enum dim dim;             /* of AMOUNT; DIM_N: any */
    const char *const *words; /* closed by NULL */
    const struct record *record;
    const char *doc;     /* one sentence without full stop */
    const char *example; /* a value as it stands after "key: "; NULL for RECORD and lists of it */
};

struct record {
    const char *name; /* what one of these is, "a kit" */
    size_t size;
    const struct field *fields;
    size_t n_fields;
    const char *doc; /* a sentence or two */
};

/* The whole file: fills struct bulletin. */
const struct record *schema_root(void);

struct schema {
    struct arena *arena;
    struct fault_list *faults;
    const char *name;     /* of the file */
    const char *whole;    /* what the file is: "bulletin" */
    const char *language; /* a bare text is in this one */
    const char *currency;
    int currency_digits;
};

/* schema_read: node into *ret (record->size bytes, zeroed), faults into s->faults; values with
 * faults keep their fallback. Memory: s->arena (check is_broken after). */
void schema_read(struct schema *s, const struct record *record, const struct yamlnode *node,
                 void *ret);

/* schema_value: one value into *ret, as the field says; false after a fault. */
bool schema_value(struct schema *s, const struct field *field, const struct yamlnode *node,
                  void *ret);

/* schema_item_size: bytes of one value of a field (for lists: of the list's head). */
size_t schema_kind_size(enum field_kind kind, const struct record *record);

/* schema_expected: "a date such as 2026-02-16" into buf. */
void schema_expected(const struct field *field, char *buf, size_t room);

/* schema_complain: a fault (or warning) at the node's value; key: "" or the key of a mapping that
 * is meant (missing, or itself at fault: the place is then the key's when it is there). */
void schema_complain(const struct schema *s, const struct yamlnode *node, const char *key,
                     bool is_warning, enum err code, const char *fmt, ...) PRINTF_LIKE(6, 7);

/* schema_currency_digits: minor-unit digits of an ISO 4217 code; -1 when it is not in the list. */
int schema_currency_digits(const char *code);

#endif

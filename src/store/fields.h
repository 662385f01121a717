/* fields: what the store's structs consist of, once, as tables. Checking, writing as JSON, reading
 * JSON, binding to a statement and reading a row all walk these tables, so that none of them can
 * forget a field. Inside src/store/. */
#ifndef STORE_FIELDS_H
#define STORE_FIELDS_H

#include "base/json.h"
#include "base/jsonw.h"
#include "store/db.h"
#include "store/scratch.h"
#include "store/store.h"

enum field_kind {
    FIELD_ID,     /* text of at most STORE_ID_MAX bytes */
    FIELD_TEXT,   /* text of at most STORE_TEXT_MAX bytes */
    FIELD_INT,    /* STORE_UNKNOWN: null */
    FIELD_REAL,   /* NaN: null */
    FIELD_DIGEST, /* 32 bytes; hexadecimal in JSON */
    FIELD_HASH    /* struct store_hash; 16 hexadecimal digits in JSON, the same bits as an integer
                     in a table */
};

struct field {
    const char *name; /* in JSON, in messages and as the column */
    enum field_kind kind;
    size_t at; /* offset in the struct */
    bool is_required;
};

struct shape {
    const struct field *fields;
    size_t n_fields, size; /* size of the struct */
};

extern const struct shape shape_claim, shape_station, shape_reading, shape_photo, shape_finding,
    shape_ruling, shape_award, shape_paper, shape_build;

/* shape_check: required fields are there, texts are UTF-8 and short enough. path is "readings[3]"
 * or "". An empty text is as good as none. */
MUST_USE enum err shape_check(const struct shape *shape, const void *item, const char *path,
                              struct fault *reterr);

/* shape_check_list: a list `what` of n items, at most max of them, each by shape_check.
 * shape_too_many: the fault of a list that is too long. */
MUST_USE enum err shape_check_list(const char *what, const struct shape *shape, const void *items,
                                   size_t n, size_t max, struct fault *reterr);
enum err shape_too_many(const char *what, size_t n, size_t max, struct fault *f);

/* shape_write: the members of an open JSON object; what is unknown is left out. */
void shape_write(const struct shape *shape, const void *item, struct jsonw *w);

/* shape_read: members of a JSON object into *ret (zeroed by the caller); texts go to the scratch. What
 * is left out is unknown. Errors: ERR_TYPE, ERR_SYNTAX, ERR_EMPTY, ERR_MEMORY. */
MUST_USE enum err shape_read(const struct shape *shape, json_node *object, struct scratch *scratch,
                             void *ret, struct fault *reterr);

/* shape_bind: every field in order. shape_row: columns from `first` on; texts go to the scratch. */
void shape_bind(const struct shape *shape, const void *item, struct db_use *u);
void shape_row(const struct shape *shape, const struct db_use *u, int first,
               struct scratch *scratch, void *ret);

#endif

/* fields: owns the tables of fields and the walks over them. A new field is one line here and one
 * column in schema.c. */
#include "store/fields.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { HASH_DIGITS = 16 };

#define FIELD(type, name, kind, is_required)                                                       \
    {                                                                                              \
#name, kind, offsetof(struct type, name), is_required                                      \
    }

static const struct field claim_fields[] = {
    FIELD(store_claim, job, FIELD_ID, false),
    FIELD(store_claim, bulletin, FIELD_ID, true),
    FIELD(store_claim, revision, FIELD_INT, false),
    FIELD(store_claim, bulletin_sha256, FIELD_ID, false),
    FIELD(store_claim, is_invented, FIELD_INT, false),
    FIELD(store_claim, vin, FIELD_ID, true),
    FIELD(store_claim, shop, FIELD_ID, false),
    FIELD(store_claim, technician, FIELD_ID, false),
    FIELD(store_claim, signature, FIELD_ID, false),
    FIELD(store_claim, signed_by, FIELD_ID, false),
    FIELD(store_claim, opened_ms, FIELD_INT, false),
    FIELD(store_claim, finished_ms, FIELD_INT, false),
    FIELD(store_claim, taken_ms, FIELD_INT, true),
    FIELD(store_claim, labour_s, FIELD_INT, false),
};

static const struct field station_fields[] = {
    FIELD(store_station, station, FIELD_ID, true),
    FIELD(store_station, variant, FIELD_ID, false),
    FIELD(store_station, label, FIELD_TEXT, false),
    FIELD(store_station, built_first, FIELD_ID, false),
    FIELD(store_station, built_last, FIELD_ID, false),
    FIELD(store_station, scope, FIELD_ID, false),
    FIELD(store_station, kit, FIELD_ID, false),
};

static const struct field reading_fields[] = {
    FIELD(store_reading, station, FIELD_ID, false),
    FIELD(store_reading, point, FIELD_ID, true),
    FIELD(store_reading, phase, FIELD_ID, false),
    FIELD(store_reading, unit, FIELD_ID, true),
    FIELD(store_reading, value_nano, FIELD_INT, true),
    FIELD(store_reading, u_nano, FIELD_INT, false),
    FIELD(store_reading, taken_ms, FIELD_INT, false),
    FIELD(store_reading, ulid, FIELD_ID, false),
};

static const struct field photo_fields[] = {
    FIELD(store_photo, name, FIELD_TEXT, true),
    FIELD(store_photo, station, FIELD_ID, false),
    FIELD(store_photo, point, FIELD_ID, false),
    FIELD(store_photo, ulid, FIELD_ID, false),
    FIELD(store_photo, sha256, FIELD_DIGEST, true),
    FIELD(store_photo, ext, FIELD_ID, false),
    FIELD(store_photo, bytes, FIELD_INT, false),
    FIELD(store_photo, width, FIELD_INT, false),
    FIELD(store_photo, height, FIELD_INT, false),
    FIELD(store_photo, taken_ms, FIELD_INT, false),
    FIELD(store_photo, dhash, FIELD_HASH, false),
    FIELD(store_photo, dhash_mirror, FIELD_HASH, false),
    FIELD(store_photo, phash, FIELD_HASH, false),
    FIELD(store_photo, phash_mirror, FIELD_HASH, false),
    FIELD(store_photo, is_flat, FIELD_INT, false),
    FIELD(store_photo, sharpness, FIELD_REAL, false),
    FIELD(store_photo, exposure, FIELD_REAL, false),
    FIELD(store_photo, codes, FIELD_TEXT, false),
    FIELD(store_photo, fault, FIELD_TEXT, false),
};

static const struct field finding_fields[] = {
    FIELD(store_finding, rule, FIELD_ID, true),
    FIELD(store_finding, level, FIELD_ID, true),
    FIELD(store_finding, station, FIELD_ID, false),
    FIELD(store_finding, message, FIELD_TEXT, true),
    FIELD(store_finding, cure, FIELD_TEXT, false),
    FIELD(store_finding, what, FIELD_TEXT, false),
    FIELD(store_finding, other, FIELD_ID, false),
    FIELD(store_finding, other_what, FIELD_TEXT, false),
};

static const struct field ruling_fields[] = {
    FIELD(store_ruling, claim, FIELD_ID, true),
    FIELD(store_ruling, verdict, FIELD_ID, true),
    FIELD(store_ruling, amount_minor, FIELD_INT, true),
    FIELD(store_ruling, currency, FIELD_ID, false),
    FIELD(store_ruling, revision, FIELD_INT, false),
    FIELD(store_ruling, person, FIELD_ID, false),
    FIELD(store_ruling, reason, FIELD_TEXT, false),
    FIELD(store_ruling, at_ms, FIELD_INT, true),
};

static const struct field award_fields[] = {
    FIELD(store_award, station, FIELD_ID, true),
    FIELD(store_award, verdict, FIELD_ID, true),
    FIELD(store_award, amount_minor, FIELD_INT, true),
    FIELD(store_award, what, FIELD_TEXT, false),
};

/* Its text is larger than a field and has its own way (papers.c). */
static const struct field paper_fields[] = {
    FIELD(store_paper, kind, FIELD_ID, true),
    FIELD(store_paper, name, FIELD_ID, true),
    FIELD(store_paper, revision, FIELD_INT, false),
    FIELD(store_paper, at_ms, FIELD_INT, true),
};

static const struct field build_fields[] = {
    FIELD(store_build, vin, FIELD_ID, true),
    FIELD(store_build, station, FIELD_ID, true),
    FIELD(store_build, label, FIELD_TEXT, false),
};

#define SHAPE(what)                                                                                \
    const struct shape shape_##what = {                                                            \
        what##_fields, sizeof what##_fields / sizeof *what##_fields, sizeof(struct store_##what)}
SHAPE(claim);
SHAPE(station);
SHAPE(reading);
SHAPE(photo);
SHAPE(finding);
SHAPE(ruling);
SHAPE(award);
SHAPE(paper);
SHAPE(build);

static const void *place(const struct field *f, const void *item)
{
    return (const char *)item + f->at;
}

static const char *text_of(const struct field *f, const void *item)
{
    const char *text;
    memcpy(&text, place(f, item), sizeof text);
    return text;
}

static int64_t int_of(const struct field *f, const void *item)
{
    int64_t value;
    memcpy(&value, place(f, item), sizeof value);
    return value;
}

static double real_of(const struct field *f, const void *item)
{
    double value;
    memcpy(&value, place(f, item), sizeof value);
    return value;
}

static struct store_hash hash_of(const struct field *f, const void *item)
{
    struct store_hash value;
    memcpy(&value, place(f, item), sizeof value);
    return value;
}

/* ---- checking ------------------------------------------------------------------------------ */

static enum err refuse(struct fault *f, enum err err, const char *path, const char *name,
                       const char *what)
{
    snprintf(f->path, sizeof f->path, "%s%s%s", path, path[0] != '\0' ? "." : "", name);
    return fault_set(f, err, "%s", what);
}

static enum err check_text(const struct field *field, const char *text, const char *path,
                           struct fault *f)
{
    char what[FAULT_MESSAGE_MAX];
    const size_t max = field->kind == FIELD_ID ? STORE_ID_MAX : STORE_TEXT_MAX;
    if (text == NULL || text[0] == '\0')
        return field->is_required ? refuse(f, ERR_EMPTY, path, field->name, "is missing") : ERR_OK;
    const size_t n = strlen(text);
    if (n > max) {
        snprintf(what, sizeof what, "is %zu bytes long; expected at most %zu", n, max);
        return refuse(f, ERR_LIMIT, path, field->name, what);
    }
    if (!text_is_utf8(text, n, NULL))
        return refuse(f, ERR_ENCODING, path, field->name, "is not UTF-8");
    return ERR_OK;
}

enum err shape_check(const struct shape *shape, const void *item, const char *path,
                     struct fault *reterr)
{
    for (size_t i = 0; i < shape->n_fields; i++) {
        const struct field *field = &shape->fields[i];
        enum err err = ERR_OK;
        if (field->kind == FIELD_ID || field->kind == FIELD_TEXT)
            err = check_text(field, text_of(field, item), path, reterr);
        else if (field->kind == FIELD_INT && field->is_required &&
                 int_of(field, item) == STORE_UNKNOWN)
            err = refuse(reterr, ERR_EMPTY, path, field->name, "is missing");
        else if (field->kind == FIELD_REAL && isinf(real_of(field, item)))
            err = refuse(reterr, ERR_DOMAIN, path, field->name, "is not finite");
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

enum err shape_too_many(const char *what, size_t n, size_t max, struct fault *f)
{
    snprintf(f->path, sizeof f->path, "%s", what);
    return fault_set(f, ERR_LIMIT, "there are %zu; expected at most %zu", n, max);
}

enum err shape_check_list(const char *what, const struct shape *shape, const void *items, size_t n,
                          size_t max, struct fault *reterr)
{
    char path[64];
    enum err err = n <= max ? ERR_OK : shape_too_many(what, n, max, reterr);
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        const void *item = (const char *)items + i * shape->size;
        err = shape_check(shape, item, "", reterr);
        if (err == ERR_OK)
            continue;
        snprintf(path, sizeof path, "%s[%zu]", what, i); /* only of the one that is wrong */
        err = shape_check(shape, item, path, reterr);
    }
    return err;
}

/* ---- JSON ---------------------------------------------------------------------------------- */

static void write_digest(const struct field *field, const void *item, struct jsonw *w)
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(place(field, item), STORE_DIGEST, hex);
    jsonw_string(w, field->name, hex);
}

static void write_hash(const struct field *field, struct store_hash hash, struct jsonw *w)
{
    char hex[HASH_DIGITS + 1];
    snprintf(hex, sizeof hex, "%016llx", (unsigned long long)hash.bits);
    jsonw_string(w, field->name, hex);
}

void shape_write(const struct shape *shape, const void *item, struct jsonw *w)
{
    for (size_t i = 0; i < shape->n_fields; i++) {
        const struct field *field = &shape->fields[i];
        switch (field->kind) {
        case FIELD_ID:
        case FIELD_TEXT:
            if (text_of(field, item) != NULL && text_of(field, item)[0] != '\0')
                jsonw_string(w, field->name, text_of(field, item));
            break;
        case FIELD_INT:
            if (int_of(field, item) != STORE_UNKNOWN)
                jsonw_int(w, field->name, int_of(field, item));
            break;
        case FIELD_REAL:
            if (!isnan(real_of(field, item)))
                jsonw_double(w, field->name, real_of(field, item));
            break;
        case FIELD_DIGEST:
            write_digest(field, item, w);
            break;
        case FIELD_HASH:
            if (hash_of(field, item).is_known)
                write_hash(field, hash_of(field, item), w);
            break;
        }
    }
}

static enum err read_text(json_node *node, struct scratch *scratch, void *to)
{
    size_t n = 0;
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    if (node != NULL && text == NULL)
        return ERR_TYPE;
    const char *copy = text != NULL ? scratch_copy(scratch, text, n) : NULL;
    memcpy(to, &copy, sizeof copy);
    return text != NULL && copy == NULL ? ERR_MEMORY : ERR_OK;
}

static enum err read_digest(json_node *node, void *to)
{
    size_t n = 0;
    const char *text = json_string(node, &n);
    const bool is_good =
        text != NULL && n == (size_t)2 * STORE_DIGEST && digest_unhex(text, STORE_DIGEST, to);
    return is_good ? ERR_OK : ERR_SYNTAX;
}

static enum err read_hash(json_node *node, void *to)
{
    struct store_hash hash = {.is_known = node != NULL};
    uint8_t bytes[HASH_DIGITS / 2];
    size_t n = 0;
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    if (node != NULL &&
        (text == NULL || n != HASH_DIGITS || !digest_unhex(text, sizeof bytes, bytes)))
        return ERR_SYNTAX;
    for (size_t i = 0; hash.is_known && i < sizeof bytes; i++)
        hash.bits = hash.bits << 8 | bytes[i];
    memcpy(to, &hash, sizeof hash);
    return ERR_OK;
}

static enum err read_number(const struct field *field, json_node *node, void *to)
{
    const enum json_kind kind = node != NULL ? json_kind(node) : JSON_NULL;
    if (field->kind == FIELD_INT) {
        const int64_t value = node != NULL ? json_int(node) : STORE_UNKNOWN;
        memcpy(to, &value, sizeof value);
        return node == NULL || kind == JSON_INT ? ERR_OK : ERR_TYPE;
    }
    const double value = node != NULL ? json_double(node) : (double)NAN;
    memcpy(to, &value, sizeof value);
    return node == NULL || kind == JSON_INT || kind == JSON_REAL ? ERR_OK : ERR_TYPE;
}

enum err shape_read(const struct shape *shape, json_node *object, struct scratch *scratch,
                    void *ret, struct fault *reterr)
{
    for (size_t i = 0; i < shape->n_fields; i++) {
        const struct field *field = &shape->fields[i];
        json_node *node = json_get(object, field->name);
        void *to = (char *)ret + field->at;
        enum err err;
        if (node == NULL && field->is_required)
            err = ERR_EMPTY;
        else if (field->kind == FIELD_DIGEST)
            err = read_digest(node, to);
        else if (field->kind == FIELD_HASH)
            err = read_hash(node, to);
        else if (field->kind == FIELD_INT || field->kind == FIELD_REAL)
            err = read_number(field, node, to);
        else
            err = read_text(node, scratch, to);
        if (err != ERR_OK)
            return refuse(reterr, err, "", field->name, err_text(err));
    }
    return ERR_OK;
}

/* ---- rows ---------------------------------------------------------------------------------- */

void shape_bind(const struct shape *shape, const void *item, struct db_use *u)
{
    for (size_t i = 0; i < shape->n_fields; i++) {
        const struct field *field = &shape->fields[i];
        const struct store_hash hash =
            field->kind == FIELD_HASH ? hash_of(field, item) : (struct store_hash){0};
        if (field->kind == FIELD_ID || field->kind == FIELD_TEXT)
            db_text(u, text_of(field, item));
        else if (field->kind == FIELD_INT && int_of(field, item) != STORE_UNKNOWN)
            db_int(u, int_of(field, item));
        else if (field->kind == FIELD_REAL && !isnan(real_of(field, item)))
            db_real(u, real_of(field, item));
        else if (field->kind == FIELD_DIGEST)
            db_blob(u, place(field, item), STORE_DIGEST);
        else if (hash.is_known)
            db_int(u, (int64_t)hash.bits);
        else
            db_null(u);
    }
}

static void row_text(const struct db_use *u, int i, struct scratch *scratch, void *to)
{
    size_t n = 0;
    /* As bytes: asked for as a text, SQLite would make a copy of its own to close it with a NUL. */
    const uint8_t *text = db_col_blob(u, i, &n);
    const bool is_null = n == 0 && db_col_is_null(u, i);
    const char *copy = is_null ? NULL : scratch_copy(scratch, (const char *)text, n);
    memcpy(to, &copy, sizeof copy);
}

static void row_digest(const struct db_use *u, int i, void *to)
{
    size_t n = 0;
    const uint8_t *bytes = db_col_blob(u, i, &n);
    if (n == STORE_DIGEST)
        memcpy(to, bytes, n);
}

static void row_number(const struct db_use *u, int i, enum field_kind kind, void *to)
{
    const bool is_known = !db_col_is_null(u, i);
    const int64_t whole = is_known && kind != FIELD_REAL ? db_col_int(u, i) : STORE_UNKNOWN;
    const double real = is_known && kind == FIELD_REAL ? db_col_real(u, i) : (double)NAN;
    const struct store_hash hash = {is_known, is_known ? (uint64_t)whole : 0};
    if (kind == FIELD_INT)
        memcpy(to, &whole, sizeof whole);
    else if (kind == FIELD_REAL)
        memcpy(to, &real, sizeof real);
    else
        memcpy(to, &hash, sizeof hash);
}

void shape_row(const struct shape *shape, const struct db_use *u, int first,
               struct scratch *scratch, void *ret)
{
    for (size_t k = 0; k < shape->n_fields; k++) {
        const struct field *field = &shape->fields[k];
        const int i = first + (int)k;
        void *to = (char *)ret + field->at;
        if (field->kind == FIELD_ID || field->kind == FIELD_TEXT)
            row_text(u, i, scratch, to);
        else if (field->kind == FIELD_DIGEST)
            row_digest(u, i, to);
        else
            row_number(u, i, field->kind, to);
    }
}

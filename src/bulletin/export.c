/* export: owns how the schema's tables write what they read; decides nothing. See export.h. */
#include "bulletin/export.h"

#include "bulletin/schema.h"
#include "core/date.h"

#include <stdio.h>
#include <string.h>

enum { LANGUAGES_MAX = 64, KEY_MAX = 80 };

struct languages {
    const char *at[LANGUAGES_MAX];
    size_t n;
};

/* The head that every BULLETIN_LIST shares. */
struct list_head {
    const void *at;
    size_t n;
};

static void put_record(struct jsonw *w, const struct record *record, const void *from);

/* ---- one value ---- */

static void put_text(struct jsonw *w, const char *key, const struct bulletin_text *text)
{
    jsonw_object(w, key);
    for (size_t i = 0; i < text->n; i++)
        jsonw_string(w, text->at[i].language, text->at[i].text);
    jsonw_object_end(w);
}

static void put_amount(struct jsonw *w, const char *key, const struct bulletin_amount *amount)
{
    if (!amount->is_given) {
        jsonw_null(w, key);
        return;
    }
    jsonw_object(w, key);
    jsonw_int(w, "nano", amount->nano);
    jsonw_string(w, "unit", quantity_unit_name(amount->unit));
    jsonw_object_end(w);
}

void bulletin_write_day(struct jsonw *w, const char *key, int32_t day)
{
    char buf[DATE_SHOW_SIZE];
    if (day == BULLETIN_NO_DAY) {
        jsonw_null(w, key);
        return;
    }
    date_show(day, buf);
    jsonw_string(w, key, buf);
}

static void put_days(struct jsonw *w, const char *key, const struct bulletin_days *days)
{
    if (!days->is_given) {
        jsonw_null(w, key);
        return;
    }
    jsonw_object(w, key);
    jsonw_int(w, "first", days->first);
    jsonw_int(w, "last", days->last);
    jsonw_object_end(w);
}

static void put_share(struct jsonw *w, const char *key, const struct bulletin_share *share)
{
    if (share->by == 0) {
        jsonw_null(w, key);
        return;
    }
    jsonw_object(w, key);
    jsonw_int(w, "of", share->of);
    jsonw_int(w, "by", share->by);
    jsonw_object_end(w);
}

/* "<key>_s", "<key>_minor": whole numbers with their unit in the name. */
static void put_whole(struct jsonw *w, const char *key, const char *unit, int64_t value)
{
    char name[KEY_MAX];
    snprintf(name, sizeof name, "%s%s", key, unit);
    if (value == BULLETIN_NO_AMOUNT)
        jsonw_null(w, name);
    else
        jsonw_int(w, name, value);
}

/* The word of an index; null beyond the last, which stands for "not given". */
static void put_word(struct jsonw *w, const char *key, const char *const *words, int32_t index)
{
    int32_t n = 0;
    while (words[n] != NULL)
        n++;
    jsonw_string(w, key, index >= 0 && index < n ? words[index] : NULL);
}

static void put_pairs(struct jsonw *w, const char *key, const struct list_head *list)
{
    const struct bulletin_pair *pairs = list->at;
    jsonw_object(w, key);
    for (size_t i = 0; i < list->n; i++)
        jsonw_string(w, pairs[i].key, pairs[i].value);
    jsonw_object_end(w);
}

static void put_levels(struct jsonw *w, const char *key, const struct list_head *list)
{
    const struct bulletin_level *levels = list->at;
    jsonw_object(w, key);
    for (size_t i = 0; i < list->n; i++)
        jsonw_int(w, levels[i].factor, levels[i].level);
    jsonw_object_end(w);
}

static void put_effects(struct jsonw *w, const char *key, const struct list_head *list)
{
    const struct bulletin_effect *effects = list->at;
    jsonw_object(w, key);
    for (size_t i = 0; i < list->n; i++)
        put_amount(w, effects[i].point, &effects[i].change);
    jsonw_object_end(w);
}

/* ---- values by their kind ---- */

static void put_list(struct jsonw *w, const struct field *f, const struct list_head *list);

/* A mapping's struct begins with its place in the file; without one it was not given. */
static void put_child(struct jsonw *w, const char *key, const struct record *record,
                      const void *from)
{
    const struct yamlnode *node;
    memcpy(&node, from, sizeof(const struct yamlnode *));
    if (node == NULL) {
        jsonw_null(w, key);
        return;
    }
    jsonw_object(w, key);
    put_record(w, record, from);
    jsonw_object_end(w);
}

static int32_t int_at(const void *from)
{
    int32_t value;
    memcpy(&value, from, sizeof value);
    return value;
}

static int64_t long_at(const void *from)
{
    int64_t value;
    memcpy(&value, from, sizeof value);
    return value;
}

static double real_at(const void *from)
{
    double value;
    memcpy(&value, from, sizeof value);
    return value;
}

static const char *text_at(const void *from)
{
    const char *value;
    memcpy(&value, from, sizeof(const char *));
    return value;
}

static void put_value(struct jsonw *w, const char *key, const struct field *f, enum field_kind kind,
                      const void *from)
{
    switch (kind) {
    case FIELD_ID:
    case FIELD_CODE:
    case FIELD_LINE:
    case FIELD_LANGUAGE:
    case FIELD_CURRENCY:
        jsonw_string(w, key, text_at(from));
        break;
    case FIELD_TEXT:
        put_text(w, key, from);
        break;
    case FIELD_AMOUNT:
        put_amount(w, key, from);
        break;
    case FIELD_TIME:
        put_whole(w, key, "_s", long_at(from));
        break;
    case FIELD_MONEY:
        put_whole(w, key, "_minor", long_at(from));
        break;
    case FIELD_DATE:
        bulletin_write_day(w, key, int_at(from));
        break;
    case FIELD_DAYS:
        put_days(w, key, from);
        break;
    case FIELD_INT:
        jsonw_int(w, key, int_at(from));
        break;
    case FIELD_REAL:
        jsonw_double(w, key, real_at(from));
        break;
    case FIELD_SHARE:
        put_share(w, key, from);
        break;
    case FIELD_WORD:
        put_word(w, key, f->words, int_at(from));
        break;
    case FIELD_BOOL:
        jsonw_bool(w, key, *(const bool *)from);
        break;
    case FIELD_RECORD:
        put_child(w, key, f->record, from);
        break;
    case FIELD_PAIRS:
        put_pairs(w, key, from);
        break;
    case FIELD_LEVELS:
        put_levels(w, key, from);
        break;
    case FIELD_EFFECTS:
        put_effects(w, key, from);
        break;
    case FIELD_LIST:
        put_list(w, f, from);
        break;
    }
}

static void put_list(struct jsonw *w, const struct field *f, const struct list_head *list)
{
    const size_t size = schema_kind_size(f->item, f->record);
    jsonw_array(w, f->key);
    for (size_t i = 0; i < list->n; i++) {
        const char *from = (const char *)list->at + i * size;
        if (f->item == FIELD_RECORD) {
            jsonw_object(w, NULL);
            put_record(w, f->record, from);
            jsonw_object_end(w);
        } else {
            put_value(w, NULL, f, f->item, from);
        }
    }
    jsonw_array_end(w);
}

static void put_record(struct jsonw *w, const struct record *record, const void *from)
{
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        put_value(w, f->key, f, f->kind, (const char *)from + f->offset);
    }
}

/* ---- languages ---- */

/* Keeps the list in order; a bulletin with more languages than fit loses the last names here, never a text. */
static void add_language(struct languages *l, const char *language)
{
    size_t i = 0;
    while (i < l->n && strcmp(l->at[i], language) < 0)
        i++;
    if ((i < l->n && strcmp(l->at[i], language) == 0) || l->n == LANGUAGES_MAX)
        return;
    memmove(&l->at[i + 1], &l->at[i], (l->n - i) * sizeof(const char *));
    l->at[i] = language;
    l->n++;
}

static void find_languages(const struct record *record, const void *from, struct languages *l);

static void find_in(const struct field *f, enum field_kind kind, const void *from,
                    struct languages *l)
{
    if (kind == FIELD_TEXT) {
        const struct bulletin_text *text = from;
        for (size_t i = 0; i < text->n; i++)
            add_language(l, text->at[i].language);
    } else if (kind == FIELD_RECORD) {
        find_languages(f->record, from, l);
    } else if (kind == FIELD_LIST) {
        const struct list_head *list = from;
        const size_t size = schema_kind_size(f->item, f->record);
        for (size_t i = 0; i < list->n; i++)
            find_in(f, f->item, (const char *)list->at + i * size, l);
    }
}

static void find_languages(const struct record *record, const void *from, struct languages *l)
{
    for (size_t i = 0; i < record->n_fields; i++)
        find_in(&record->fields[i], record->fields[i].kind,
                (const char *)from + record->fields[i].offset, l);
}

void bulletin_write_json(const struct bulletin *b, struct jsonw *w)
{
    struct languages languages = {.n = 0};
    find_languages(schema_root(), b, &languages);
    jsonw_int(w, "mendwright_bulletin", BULLETIN_EXPORT_FORMAT);
    jsonw_int(w, "currency_digits", b->head.currency_digits);
    jsonw_array(w, "languages");
    for (size_t i = 0; i < languages.n; i++)
        jsonw_string(w, NULL, languages.at[i]);
    jsonw_array_end(w);
    put_record(w, schema_root(), b);
}

void bulletin_export(const struct bulletin *b, const char *sha256, struct text *out)
{
    struct jsonw w;
    jsonw_start(&w, out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "sha256", sha256);
    bulletin_write_json(b, &w);
    jsonw_object_end(&w);
    text_putc(out, '\n');
}

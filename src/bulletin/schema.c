/* schema: owns the walk of tree and table side by side, and the wording of what does not fit.
 * Values are read by values.c. */
#include "bulletin/schema.h"

#include "base/suggest.h"
#include "bulletin/values.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum {
    KEYS_MAX = 64,
    TEXT_SIZE_MAX = 4000,
    LINE_SIZE_MAX = 300,
    PAIRS_MAX = 64,
    LANGUAGES_MAX = 24
};

/* Every BULLETIN_LIST has this layout; read and written with memcpy. */
struct list_head {
    void *at;
    size_t n;
};

/* Enums are read and written as int. */
static_assert(sizeof(enum bulletin_supply) == sizeof(int), "enums are ints here");

/* ---- complaints ---- */

void schema_complain(const struct schema *s, const struct yamlnode *node, const char *key,
                     bool is_warning, enum err code, const char *fmt, ...)
{
    struct fault f = {.line = node->line, .column = node->column};
    char message[FAULT_MESSAGE_MAX];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    snprintf(f.file, sizeof f.file, "%s", s->name);
    yamlnode_path(node, f.path, sizeof f.path);
    if (key[0] != '\0') {
        const size_t used = strlen(f.path);
        snprintf(f.path + used, sizeof f.path - used, "%s%.40s", used > 0 ? "." : "", key);
        const struct yamlnode *child = yamlnode_get(node, key);
        if (child != NULL) {
            f.line = child->key_line;
            f.column = child->key_column;
        }
    }
    fault_set(&f, code, "%s", message);
    fault_list_add(s->faults, &f, is_warning);
}

/* "a list", "nothing" or "'the text'" (shortened). */
static void show_found(const struct yamlnode *node, char *buf, size_t room)
{
    if (node->kind == YAMLNODE_LIST)
        snprintf(buf, room, "a list");
    else if (node->kind == YAMLNODE_MAPPING)
        snprintf(buf, room, "a mapping");
    else if (yamlnode_is_empty(node))
        snprintf(buf, room, "nothing");
    else
        snprintf(buf, room, "'%.60s%s'", node->text, node->n_text > 60 ? "..." : "");
}

static const char *kind_phrase(enum field_kind kind)
{
    switch (kind) {
    case FIELD_ID:
        return "an id";
    case FIELD_CODE:
        return "a code";
    case FIELD_LINE:
        return "a line of text";
    case FIELD_LANGUAGE:
        return "a language tag (BCP 47)";
    case FIELD_CURRENCY:
        return "a currency code (ISO 4217)";
    case FIELD_TEXT:
        return "a text, or a mapping of languages to texts,";
    case FIELD_AMOUNT:
        return "an amount with its unit";
    case FIELD_TIME:
        return "a time with its unit";
    case FIELD_DATE:
        return "a date";
    case FIELD_DAYS:
        return "a date or an ISO week";
    case FIELD_INT:
        return "a whole number";
    case FIELD_MONEY:
        return "money";
    case FIELD_REAL:
        return "a number";
    case FIELD_SHARE:
        return "a share";
    case FIELD_WORD:
        return "one of";
    case FIELD_BOOL:
        return "true or false";
    case FIELD_RECORD:
    case FIELD_PAIRS:
    case FIELD_LEVELS:
    case FIELD_EFFECTS:
        return "a mapping";
    case FIELD_LIST:
        return "a list";
    }
    return "a value";
}

void schema_expected(const struct field *field, char *buf, size_t room)
{
    const char *phrase = kind_phrase(field->kind);
    if (field->kind == FIELD_AMOUNT && field->dim == DIM_LENGTH)
        phrase = "a length with its unit";
    if (field->kind == FIELD_WORD) {
        size_t used = (size_t)snprintf(buf, room, "one of");
        for (size_t i = 0; field->words[i] != NULL && used < room; i++)
            used += (size_t)snprintf(buf + used, room - used, "%s %s", i > 0 ? "," : "",
                                     field->words[i]);
    } else if (field->kind == FIELD_BOOL || field->example == NULL) {
        snprintf(buf, room, "%s", phrase);
    } else {
        snprintf(buf, room, "%s such as %s", phrase, field->example);
    }
}

/* why: what the value reader found wrong, or "" for the plain sentence. */
static bool refuse(const struct schema *s, const struct field *field, const struct yamlnode *node,
                   enum err code, const char *why)
{
    char found[80], expected[300];
    schema_expected(field, expected, sizeof expected);
    if (why[0] != '\0') {
        schema_complain(s, node, "", false, code, "%s (expected %s)", why, expected);
    } else {
        show_found(node, found, sizeof found);
        schema_complain(s, node, "", false, code, "expected %s, found %s", expected, found);
    }
    return false;
}

/* ---- texts ---- */

/* A clean copy: tabs become blanks, closing line breaks go, carriage returns cannot be there. */
static const char *copy_text(struct schema *s, const struct yamlnode *node)
{
    size_t n = node->n_text;
    while (n > 0 && (node->text[n - 1] == '\n' || node->text[n - 1] == ' '))
        n--;
    char *copy = arena_text(s->arena, node->text, n);
    for (size_t i = 0; copy != NULL && i < n; i++)
        if (copy[i] == '\t')
            copy[i] = ' ';
    return copy;
}

static bool is_blank(const char *text)
{
    return text[strspn(text, " \n")] == '\0';
}

static bool is_text_fit(struct schema *s, const struct field *field, const struct yamlnode *node,
                        size_t max)
{
    if (node->kind != YAMLNODE_TEXT || yamlnode_is_empty(node) || is_blank(node->text))
        return refuse(s, field, node, ERR_TYPE, "");
    if (node->n_text > max) {
        char why[80];
        snprintf(why, sizeof why, "%zu bytes of text, at most %zu are allowed", node->n_text, max);
        return refuse(s, field, node, ERR_LIMIT, why);
    }
    return true;
}

static bool read_text_map(struct schema *s, const struct field *field, const struct yamlnode *node,
                          struct bulletin_text *ret)
{
    bool is_good = true;
    if (node->n_items == 0 || node->n_items > LANGUAGES_MAX)
        return refuse(s, field, node, ERR_LIMIT, "");
    struct bulletin_part_text *parts = arena_get(s->arena, node->n_items * sizeof *parts);
    if (parts == NULL)
        return false;
    for (size_t i = 0; i < node->n_items; i++) {
        const struct yamlnode *item = node->items[i];
        if (value_language(item->key, strlen(item->key)) != ERR_OK) {
            schema_complain(s, node, item->key, false, ERR_SYNTAX,
                            "expected a language tag such as en, found the key '%.40s'", item->key);
            is_good = false;
        } else if (!is_text_fit(s, field, item, TEXT_SIZE_MAX)) {
            is_good = false;
        } else {
            parts[i] = (struct bulletin_part_text){item->key, copy_text(s, item)};
        }
    }
    if (is_good && s->language[0] != '\0' && yamlnode_get(node, s->language) == NULL) {
        schema_complain(s, node, "", false, ERR_EMPTY,
                        "the text is missing in the %s's own language, '%.40s'", s->whole,
                        s->language);
        is_good = false;
    }
    if (is_good)
        *ret = (struct bulletin_text){parts, node->n_items};
    return is_good;
}

static bool read_text(struct schema *s, const struct field *field, const struct yamlnode *node,
                      struct bulletin_text *ret)
{
    if (node->kind == YAMLNODE_MAPPING)
        return read_text_map(s, field, node, ret);
    if (!is_text_fit(s, field, node, TEXT_SIZE_MAX))
        return false;
    struct bulletin_part_text *part = arena_get(s->arena, sizeof *part);
    if (part == NULL)
        return false;
    *part = (struct bulletin_part_text){s->language, copy_text(s, node)};
    *ret = (struct bulletin_text){part, 1};
    return true;
}

static bool read_line(struct schema *s, const struct field *field, const struct yamlnode *node,
                      const char **ret)
{
    if (!is_text_fit(s, field, node, LINE_SIZE_MAX))
        return false;
    const char *copy = copy_text(s, node);
    if (copy != NULL && strchr(copy, '\n') != NULL)
        return refuse(s, field, node, ERR_SYNTAX, "a line break in what should be one line");
    *ret = copy;
    return copy != NULL;
}

/* ---- scalars ---- */

static bool read_word(const struct schema *s, const struct field *field,
                      const struct yamlnode *node, int *ret)
{
    size_t n = 0;
    for (; field->words[n] != NULL; n++)
        if (strcmp(field->words[n], node->text) == 0) {
            *ret = (int)n;
            return true;
        }
    const char *near = suggest_nearest(node->text, node->n_text, field->words, n);
    char why[FAULT_MESSAGE_MAX] = "";
    if (near != NULL)
        snprintf(why, sizeof why, "unknown word '%.60s', did you mean '%s'?", node->text, near);
    return refuse(s, field, node, ERR_UNKNOWN, why);
}

static bool read_bool(const struct schema *s, const struct field *field,
                      const struct yamlnode *node, bool *ret)
{
    if (strcmp(node->text, "true") != 0 && strcmp(node->text, "false") != 0)
        return refuse(s, field, node, ERR_TYPE, "");
    *ret = node->text[0] == 't';
    return true;
}

/* ID, CODE, LANGUAGE, CURRENCY: kept as written. */
static enum err read_name(const struct field *field, const struct yamlnode *node, const char **ret,
                          char *why)
{
    enum err err = ERR_OK;
    if (field->kind == FIELD_ID)
        err = value_id(node->text, node->n_text, why);
    else if (field->kind == FIELD_CODE)
        err = value_code(node->text, node->n_text, why);
    else if (field->kind == FIELD_LANGUAGE)
        err = value_language(node->text, node->n_text);
    else if (schema_currency_digits(node->text) < 0)
        err = ERR_UNKNOWN;
    if (err == ERR_OK)
        *ret = node->text;
    return err;
}

static bool read_scalar(struct schema *s, const struct field *f, const struct yamlnode *node,
                        void *ret)
{
    char why[FAULT_MESSAGE_MAX] = "";
    enum err err = ERR_TYPE;
    const char *t = node->text;
    const size_t n = node->n_text;
    if (node->kind != YAMLNODE_TEXT || yamlnode_is_empty(node))
        return refuse(s, f, node, ERR_TYPE, "");
    switch (f->kind) {
    case FIELD_WORD:
        return read_word(s, f, node, ret);
    case FIELD_BOOL:
        return read_bool(s, f, node, ret);
    case FIELD_AMOUNT:
        err = value_amount(t, n, f->dim, f->min, f->max, ret, why);
        break;
    case FIELD_TIME:
        err = value_time(t, n, f->min, f->max, ret, why);
        break;
    case FIELD_DATE:
        err = value_date(t, n, ret, why);
        break;
    case FIELD_DAYS:
        err = value_days(t, n, ret, why);
        break;
    case FIELD_INT:
        err = value_int(t, n, f->min, f->max, ret, why);
        break;
    case FIELD_MONEY:
        err = value_money(t, n, s->currency, s->currency_digits, ret, why);
        break;
    case FIELD_REAL:
        err = value_real(t, n, f->min, f->max, ret, why);
        break;
    case FIELD_SHARE:
        err = value_share(t, n, ret, why);
        break;
    default:
        err = read_name(f, node, ret, why);
        break;
    }
    return err == ERR_OK || refuse(s, f, node, err, why);
}

/* ---- mappings with free keys ---- */

size_t schema_kind_size(enum field_kind kind, const struct record *record)
{
    switch (kind) {
    case FIELD_TEXT:
        return sizeof(struct bulletin_text);
    case FIELD_RECORD:
        return record->size;
    case FIELD_WORD:
    case FIELD_INT:
    case FIELD_DATE:
        return sizeof(int32_t);
    case FIELD_AMOUNT:
        return sizeof(struct bulletin_amount);
    case FIELD_DAYS:
        return sizeof(struct bulletin_days);
    case FIELD_TIME:
    case FIELD_MONEY:
        return sizeof(int64_t);
    case FIELD_REAL:
        return sizeof(double);
    case FIELD_SHARE:
        return sizeof(struct bulletin_share);
    case FIELD_BOOL:
        return sizeof(bool);
    case FIELD_PAIRS:
    case FIELD_LEVELS:
    case FIELD_EFFECTS:
    case FIELD_LIST:
        return sizeof(struct list_head);
    default:
        return sizeof(const char *);
    }
}

static bool read_free_item(struct schema *s, const struct field *field, const struct yamlnode *item,
                           void *ret)
{
    static const struct field value_id_field = {.kind = FIELD_ID, .example = "left"};
    static const struct field level_field = {
        .kind = FIELD_INT, .min = -1, .max = 1, .example = "1 or -1"};
    const struct field effect_field = {.kind = FIELD_AMOUNT,
                                       .dim = DIM_N,
                                       .min = field->min,
                                       .max = field->max,
                                       .example = "-0.5 mm"};
    if (field->kind == FIELD_PAIRS) {
        struct bulletin_pair *pair = ret;
        *pair = (struct bulletin_pair){item, item->key, ""};
        return read_scalar(s, &value_id_field, item, &pair->value);
    }
    if (field->kind == FIELD_EFFECTS) {
        struct bulletin_effect *effect = ret;
        *effect = (struct bulletin_effect){.node = item, .point = item->key};
        return read_scalar(s, &effect_field, item, &effect->change);
    }
    struct bulletin_level *level = ret;
    *level = (struct bulletin_level){.node = item, .factor = item->key};
    if (!read_scalar(s, &level_field, item, &level->level))
        return false;
    return level->level != 0 ||
           refuse(s, &level_field, item, ERR_DOMAIN, "0 is no level of a two-level factor");
}

static bool read_free_map(struct schema *s, const struct field *field, const struct yamlnode *node,
                          void *ret)
{
    size_t size = sizeof(struct bulletin_pair);
    if (field->kind == FIELD_LEVELS)
        size = sizeof(struct bulletin_level);
    else if (field->kind == FIELD_EFFECTS)
        size = sizeof(struct bulletin_effect);
    if (node->kind != YAMLNODE_MAPPING || node->n_items == 0)
        return refuse(s, field, node, ERR_TYPE, "");
    if (node->n_items > PAIRS_MAX)
        return refuse(s, field, node, ERR_LIMIT, "more than 64 entries");
    unsigned char *items = arena_get(s->arena, node->n_items * size);
    if (items == NULL)
        return false;
    bool is_good = true;
    for (size_t i = 0; i < node->n_items; i++) {
        const struct yamlnode *item = node->items[i];
        char why[FAULT_MESSAGE_MAX] = "";
        if (value_id(item->key, strlen(item->key), why) != ERR_OK) {
            schema_complain(s, node, item->key, false, ERR_SYNTAX, "%s",
                            why[0] != '\0' ? why : "an id is lower-case words with dashes");
            is_good = false;
        } else if (!read_free_item(s, field, item, items + i * size)) {
            is_good = false;
        }
    }
    memcpy(ret, &(struct list_head){items, node->n_items}, sizeof(struct list_head));
    return is_good;
}

/* ---- lists ---- */

static bool is_list_size_fit(const struct schema *s, const struct field *field,
                             const struct yamlnode *node)
{
    char found[80];
    if (node->kind == YAMLNODE_TEXT && !yamlnode_is_empty(node) && field->item != FIELD_RECORD &&
        field->item != FIELD_TEXT) {
        schema_complain(s, node, "", false, ERR_TYPE, "expected a list: write [%.60s] in brackets",
                        node->text);
        return false;
    }
    if (node->kind != YAMLNODE_LIST) {
        show_found(node, found, sizeof found);
        schema_complain(s, node, "", false, ERR_TYPE,
                        "expected a list (each item on its own line, starting with '- '), found %s",
                        found);
        return false;
    }
    if ((int64_t)node->n_items < field->min || (int64_t)node->n_items > field->max) {
        if (node->n_items == 0)
            schema_complain(s, node, "", false, ERR_EMPTY,
                            "the list is empty: at least %lld needed", (long long)field->min);
        else
            schema_complain(s, node, "", false, ERR_LIMIT, "%zu items, allowed are %lld to %lld",
                            node->n_items, (long long)field->min, (long long)field->max);
        return false;
    }
    return true;
}

static bool read_list(struct schema *s, const struct field *field, const struct yamlnode *node,
                      void *ret)
{
    if (!is_list_size_fit(s, field, node))
        return false;
    struct field item = *field;
    item.kind = field->item;
    item.example = field->example;
    item.min = INT64_MIN;
    item.max = INT64_MAX;
    char one[80];
    const char *comma = field->example != NULL ? strpbrk(field->example, ",]") : NULL;
    if (comma != NULL && field->example[0] == '[') { /* "[left, right]": one item is "left" */
        snprintf(one, sizeof one, "%.*s", (int)(comma - field->example - 1), field->example + 1);
        item.example = one;
    }
    const size_t size = schema_kind_size(item.kind, item.record);
    unsigned char *items = arena_get(s->arena, node->n_items * size);
    if (items == NULL)
        return false;
    bool is_good = true;
    for (size_t i = 0; i < node->n_items; i++)
        is_good = schema_value(s, &item, node->items[i], items + i * size) && is_good;
    memcpy(ret, &(struct list_head){items, node->n_items}, sizeof(struct list_head));
    return is_good;
}

/* ---- records ---- */

bool schema_value(struct schema *s, const struct field *field, const struct yamlnode *node,
                  void *ret)
{
    switch (field->kind) {
    case FIELD_TEXT:
        return read_text(s, field, node, ret);
    case FIELD_LINE:
        return read_line(s, field, node, ret);
    case FIELD_RECORD:
        schema_read(s, field->record, node, ret);
        return true;
    case FIELD_LIST:
        return read_list(s, field, node, ret);
    case FIELD_PAIRS:
    case FIELD_LEVELS:
    case FIELD_EFFECTS:
        return read_free_map(s, field, node, ret);
    default:
        return read_scalar(s, field, node, ret);
    }
}

static void set_fallbacks(const struct record *record, unsigned char *ret)
{
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        unsigned char *at = ret + f->offset;
        const int32_t small = (int32_t)f->fallback;
        const bool flag = f->fallback != 0;
        static const char *const nothing = "";
        switch (f->kind) {
        case FIELD_ID:
        case FIELD_CODE:
        case FIELD_LINE:
        case FIELD_LANGUAGE:
        case FIELD_CURRENCY:
            memcpy(at, &nothing, schema_kind_size(f->kind, NULL));
            break;
        case FIELD_TIME:
        case FIELD_MONEY:
            memcpy(at, &f->fallback, sizeof f->fallback);
            break;
        case FIELD_INT:
        case FIELD_DATE:
        case FIELD_WORD:
            memcpy(at, &small, sizeof small);
            break;
        case FIELD_REAL: {
            const double real = (double)f->fallback / 1e6;
            memcpy(at, &real, sizeof real);
            break;
        }
        case FIELD_BOOL:
            memcpy(at, &flag, sizeof flag);
            break;
        case FIELD_RECORD:
            set_fallbacks(f->record, at);
            break;
        default:
            break;
        }
    }
}

static const struct field *field_find(const struct record *record, const char *key)
{
    for (size_t i = 0; i < record->n_fields; i++)
        if (strcmp(record->fields[i].key, key) == 0)
            return &record->fields[i];
    return NULL;
}

/* The key that was most likely meant, among those that are not there; NULL when none is near. */
static const char *near_key(const struct record *record, const struct yamlnode *node,
                            const char *key)
{
    const char *free_keys[KEYS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < record->n_fields && n < KEYS_MAX; i++)
        if (yamlnode_get(node, record->fields[i].key) == NULL)
            free_keys[n++] = record->fields[i].key;
    return suggest_nearest(key, strlen(key), free_keys, n);
}

static void complain_unknown_key(const struct schema *s, const struct record *record,
                                 const struct yamlnode *node, const char *key, const char *near)
{
    if (near != NULL) {
        schema_complain(s, node, key, false, ERR_UNKNOWN, "unknown key '%.40s': did you mean '%s'?",
                        key, near);
        return;
    }
    char known[300] = "";
    size_t used = 0;
    for (size_t i = 0; i < record->n_fields && used < sizeof known; i++)
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i > 0 ? ", " : "",
                                 record->fields[i].key);
    schema_complain(s, node, key, false, ERR_UNKNOWN, "unknown key '%.40s': %s has %s", key,
                    record->name, known);
}

static void complain_missing(const struct schema *s, const struct field *field,
                             const struct yamlnode *node)
{
    char expected[300];
    schema_expected(field, expected, sizeof expected);
    schema_complain(s, node, field->key, false, ERR_EMPTY, "'%s' is missing: %s (expected %s)",
                    field->key, field->doc, expected);
}

void schema_read(struct schema *s, const struct record *record, const struct yamlnode *node,
                 void *ret)
{
    const char *excused[KEYS_MAX]; /* missing, but found misspelt */
    size_t n_excused = 0;
    unsigned char *bytes = ret;
    set_fallbacks(record, bytes);
    if (node->kind != YAMLNODE_MAPPING) {
        char found[80];
        show_found(node, found, sizeof found);
        schema_complain(s, node, "", false, ERR_TYPE,
                        "expected %s (a mapping: `key: value` lines), found %s", record->name,
                        found);
        return;
    }
    memcpy(ret, &node,
           sizeof(const struct yamlnode *)); /* each record's struct starts with its node */
    for (size_t i = 0; i < node->n_items; i++) {
        const struct yamlnode *item = node->items[i];
        const struct field *field = field_find(record, item->key);
        if (field != NULL) {
            (void)schema_value(s, field, item, bytes + field->offset); /* the fault is noted */
            continue;
        }
        const char *near = near_key(record, node, item->key);
        complain_unknown_key(s, record, node, item->key, near);
        if (near != NULL && n_excused < KEYS_MAX)
            excused[n_excused++] = near;
    }
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *field = &record->fields[i];
        bool is_excused = field->need == FIELD_OPTIONAL || yamlnode_get(node, field->key) != NULL;
        for (size_t k = 0; k < n_excused; k++)
            is_excused = is_excused || strcmp(excused[k], field->key) == 0;
        if (!is_excused)
            complain_missing(s, field, node);
    }
}

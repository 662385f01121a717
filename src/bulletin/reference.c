/* reference: owns the layout of doc/bulletin.md, and the same as JSON for the page where a bulletin is written. A table for each record,
 * the whole first, then its parts in reading order. */
#include "bulletin/reference.h"

#include "base/jsonw.h"
#include "bulletin/schema.h"

#include <stdio.h>
#include <string.h>

static const char opening[] =
    "# The bulletin file\n"
    "\n"
    "Made from the program's own tables by `mendwright check --reference`; do not edit by hand.\n"
    "\n"
    "A bulletin is one YAML file in UTF-8, at most 4 MiB. Everything Mendwright does is computed "
    "from it; `mendwright check FILE` says what is wrong with one, with line and column. "
    "`examples/OV-26-03.yaml` is a whole bulletin.\n"
    "\n"
    "## How values are written\n"
    "\n"
    "| kind | how | example |\n"
    "| --- | --- | --- |\n"
    "| id | lower-case words with dashes, at most 48 characters | `fore-upper` |\n"
    "| code | letters, digits and `- . / _ *`, at most 40 characters | `OV-2210` |\n"
    "| line | one line of text, the same in every language | `Orrin Vale Drives` |\n"
    "| text | a text in the bulletin's language, or one for each language (BCP 47); the "
    "bulletin's own must be among them | `{en: Support the room, es: Apoyar la sala}` |\n"
    "| amount | a number and its unit, always: nm um mm cm m in ft, mV V, mA A, s min h, N m, "
    "lbf in, deg, mohm ohm, count; inches also as fractions; a decimal point, no comma | `1.6 mm`, "
    "`2 1/2 in`, `11.8 V` |\n"
    "| time | an amount of time, whole seconds | `35 min` |\n"
    "| date | year, month, day | `2026-02-16` |\n"
    "| day or week | a date, or an ISO 8601 week | `2024-W14` |\n"
    "| money | a number in the bulletin's currency, with all its decimals or none | `162.00` |\n"
    "| share | a fraction | `1/2` |\n"
    "| yes or no | | `true`, `false` |\n"
    "\n"
    "Not taken, with a message that says so: anchors and aliases, tags, several documents, a key "
    "given twice, more than 16 levels, tabs for indentation.\n";

static const char *kind_name(enum field_kind kind)
{
    switch (kind) {
    case FIELD_ID:
        return "id";
    case FIELD_CODE:
        return "code";
    case FIELD_LINE:
        return "line";
    case FIELD_LANGUAGE:
        return "language (BCP 47)";
    case FIELD_CURRENCY:
        return "currency (ISO 4217)";
    case FIELD_TEXT:
        return "text";
    case FIELD_AMOUNT:
        return "amount";
    case FIELD_TIME:
        return "time";
    case FIELD_DATE:
        return "date";
    case FIELD_DAYS:
        return "day or week";
    case FIELD_INT:
        return "whole number";
    case FIELD_MONEY:
        return "money";
    case FIELD_REAL:
        return "number";
    case FIELD_SHARE:
        return "share";
    case FIELD_WORD:
        return "one word of";
    case FIELD_BOOL:
        return "yes or no";
    case FIELD_RECORD:
        return "mapping";
    case FIELD_PAIRS:
        return "mapping of ids to ids";
    case FIELD_LEVELS:
        return "mapping of ids to 1 or -1";
    case FIELD_EFFECTS:
        return "mapping of point ids to amounts";
    case FIELD_LIST:
        return "list";
    }
    return "?";
}

static void put_words(struct text *out, const char *const *words)
{
    for (size_t i = 0; words[i] != NULL; i++)
        text_printf(out, "%s `%s`", i > 0 ? "," : "", words[i]);
}

static void put_kind(struct text *out, const struct field *f)
{
    if (f->kind == FIELD_LIST) {
        text_printf(out, "list of %s", f->item == FIELD_RECORD ? "mappings" : kind_name(f->item));
        if (f->item == FIELD_WORD)
            put_words(out, f->words);
        text_printf(out, ", %lld to %lld", (long long)f->min, (long long)f->max);
        return;
    }
    if (f->kind == FIELD_AMOUNT && f->dim == DIM_LENGTH)
        text_puts(out, "length");
    else
        text_puts(out, kind_name(f->kind));
    if (f->kind == FIELD_WORD)
        put_words(out, f->words);
    if (f->kind == FIELD_INT)
        text_printf(out, ", %lld to %lld", (long long)f->min, (long long)f->max);
    if (f->kind == FIELD_REAL)
        text_printf(out, ", %g to %g", (double)f->min / 1e6, (double)f->max / 1e6);
}

/* What holds when an optional key is left out; "" when nothing does. */
static void put_fallback(struct text *out, const struct field *f)
{
    const bool is_number = f->kind == FIELD_INT || f->kind == FIELD_TIME;
    if (f->need == FIELD_REQUIRED || f->fallback == BULLETIN_NO_AMOUNT)
        return;
    if (f->kind == FIELD_REAL && f->fallback != 0)
        text_printf(out, "; else %g", (double)f->fallback / 1e6);
    else if (is_number)
        text_printf(out, "; else %lld", (long long)f->fallback);
    else if (f->kind == FIELD_BOOL)
        text_printf(out, "; else %s", f->fallback != 0 ? "true" : "false");
    else if (f->kind == FIELD_WORD && f->fallback >= 0) {
        int64_t n = 0;
        while (f->words[n] != NULL)
            n++;
        if (f->fallback < n)
            text_printf(out, "; else `%s`", f->words[f->fallback]);
    }
}

/* "|" would end a cell. */
static void put_cell(struct text *out, const char *s)
{
    for (; *s != '\0'; s++)
        text_printf(out, *s == '|' ? "\\|" : "%c", *s);
}

static void put_record(struct text *out, const struct record *record, const char *path, int depth)
{
    char child[128];
    text_printf(out, "\n%s `%s`\n\n%s\n\n", depth == 0 ? "##" : "###",
                depth == 0 ? "(the file)" : path, record->doc);
    text_puts(out,
              "| key | needed | kind | what it is | example |\n| --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        text_printf(out, "| `%s` | %s | ", f->key, f->need == FIELD_REQUIRED ? "yes" : "");
        put_kind(out, f);
        text_puts(out, " | ");
        put_cell(out, f->doc);
        put_fallback(out, f);
        text_puts(out, " | ");
        if (f->example != NULL) {
            text_puts(out, "`");
            put_cell(out, f->example);
            text_puts(out, "`");
        } else {
            snprintf(child, sizeof child, "%s%s%s%s", depth > 0 ? path : "", depth > 0 ? "." : "",
                     f->key, f->kind == FIELD_LIST ? "[]" : "");
            text_printf(out, "see `%s`", child);
        }
        text_puts(out, " |\n");
    }
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        if (f->record == NULL)
            continue;
        snprintf(child, sizeof child, "%s%s%s%s", depth > 0 ? path : "", depth > 0 ? "." : "",
                 f->key, f->kind == FIELD_LIST ? "[]" : "");
        put_record(out, f->record, child, depth + 1);
    }
}

void reference_write(struct text *out)
{
    text_puts(out, opening);
    put_record(out, schema_root(), "", 0);
}

/* ---- as JSON -------------------------------------------------------------------------------------- */

static void child_path(const char *path, const struct field *f, char *buf, size_t room)
{
    snprintf(buf, room, "%s%s%s%s", path, path[0] != '\0' ? "." : "", f->key,
             f->kind == FIELD_LIST ? "[]" : "");
}

static void tell_field(struct jsonw *w, const struct field *f, const char *path)
{
    struct text kind = {0}, what = {0};
    put_kind(&kind, f);
    text_puts(&what, f->doc);
    put_fallback(&what, f);
    jsonw_object(w, NULL);
    jsonw_string(w, "path", path);
    jsonw_string(w, "key", f->key);
    jsonw_bool(w, "needed", f->need == FIELD_REQUIRED);
    jsonw_string(w, "kind", kind.data);
    jsonw_string(w, "what", what.data);
    jsonw_string(w, "example", f->example);
    jsonw_object_end(w);
    text_done(&kind);
    text_done(&what);
}

static void tell_record(struct jsonw *w, const struct record *record, const char *path)
{
    char child[128];
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        child_path(path, f, child, sizeof child);
        tell_field(w, f, child);
        if (f->record != NULL)
            tell_record(w, f->record, child);
    }
}

void reference_json(struct text *out)
{
    struct jsonw w;
    jsonw_start(&w, out);
    jsonw_object(&w, NULL);
    jsonw_array(&w, "fields");
    tell_record(&w, schema_root(), "");
    jsonw_array_end(&w);
    jsonw_object_end(&w);
    text_putc(out, '\n');
}

/* Rows for proof/event: the published schema against the reader's own tables, what is refused and where, and that files go
 * round unchanged. doc/events.schema.json is also run against the program, by test/cli/schema.py. */
#include "base/file.h"
#include "base/json.h"
#include "proof/event.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>

#define ROOT TEST_TABLES "/../../"

static struct text read_all(const char *path)
{
    struct text t = {0};
    struct fault f = {0};
    if (file_read(path, JSON_SIZE_MAX, &t, &f) != ERR_OK) {
        printf("Bail out! %s: %s\n", path, f.message);
        exit(2);
    }
    return t;
}

/* ---- the schema against the tables --------------------------------------------------------- */

static json_node *dig(json_node *node, const char *const *keys)
{
    for (; *keys != NULL; keys++)
        node = json_get(node, *keys);
    return node;
}

static bool is_listed(json_node *list, const char *word)
{
    for (size_t i = 0; i < json_size(list); i++) {
        const char *s = json_string(json_at(list, i), NULL);
        if (s != NULL && strcmp(s, word) == 0)
            return true;
    }
    return false;
}

static bool is_same_list(json_node *list, const char *const *words)
{
    size_t n = 0;
    for (; words[n] != NULL; n++) {
        const char *s = json_string(json_at(list, n), NULL);
        if (s == NULL || strcmp(s, words[n]) != 0)
            return false;
    }
    return json_size(list) == n;
}

static bool is_ref(json_node *schema, const char *name)
{
    const char *s = json_string(json_get(schema, "$ref"), NULL);
    return s != NULL && strncmp(s, "#/$defs/", 8) == 0 && strcmp(s + 8, name) == 0;
}

static bool has_range(json_node *schema, int64_t least, int64_t most)
{
    const char *type = json_string(json_get(schema, "type"), NULL);
    return type != NULL && strcmp(type, "integer") == 0 &&
           json_int(json_get(schema, "minimum")) == least &&
           json_int(json_get(schema, "maximum")) == most;
}

static bool fits(json_node *schema, const struct event_field *f)
{
    static const char *const zero[] = {"not", "const", NULL};
    switch (f->kind) {
    case EVENT_FIELD_ID:
        return is_ref(schema, "id");
    case EVENT_FIELD_CODE:
        return is_ref(schema, "code");
    case EVENT_FIELD_LINE:
        return is_ref(schema, "line");
    case EVENT_FIELD_TEXT:
        return is_ref(schema, "text");
    case EVENT_FIELD_PATH:
        return is_ref(schema, "path");
    case EVENT_FIELD_SHA256:
        return is_ref(schema, "sha256");
    case EVENT_FIELD_DATE:
        return is_ref(schema, "date");
    case EVENT_FIELD_PAIRS:
        return is_ref(schema, "pairs");
    case EVENT_FIELD_CHOICE:
        return is_same_list(json_get(schema, "enum"), f->choices);
    case EVENT_FIELD_INTEGER:
        return has_range(schema, f->least, f->most) &&
               (json_kind(dig(schema, zero)) == JSON_INT) == f->is_not_zero;
    case EVENT_FIELD_AMOUNT:
        break;
    }
    return false;
}

/* One form of a payload; in the form for lengths an amount is NAME_nm, in the other NAME and unit. */
static void check_payload(json_node *payload, const struct event_type_row *row, bool is_length)
{
    json_node *properties = json_get(payload, "properties"),
              *needed = json_get(payload, "required");
    size_t n = 0, n_needed = 0;
    for (size_t i = 0; i < EVENT_FIELDS_MAX && row->fields[i].name != NULL; i++) {
        const struct event_field *f = &row->fields[i];
        char name[EVENT_ID_MAX];
        const bool is_amount = f->kind == EVENT_FIELD_AMOUNT;
        snprintf(name, sizeof name, "%s%s", f->name, is_amount && is_length ? "_nm" : "");
        json_node *schema = json_get(properties, name);
        bool is_good = schema != NULL && is_listed(needed, name) == f->is_needed;
        if (is_amount && is_length)
            is_good = is_good && has_range(schema, f->least, f->most);
        else if (is_amount)
            is_good = is_good && is_listed(needed, "unit") &&
                      is_same_list(json_get(json_get(properties, "unit"), "enum"), event_units) &&
                      json_int(json_get(schema, "maximum")) * 1000000000 == f->most &&
                      json_int(json_get(schema, "minimum")) * 1000000000 == f->least;
        else
            is_good = is_good && fits(schema, f);
        tap_ok(is_good, "%s.%s: schema and table agree on name, need, kind and range", row->name,
               name);
        n += is_amount && !is_length ? 2 : 1;
        n_needed += (f->is_needed ? 1u : 0u) + (is_amount && !is_length ? 1u : 0u);
    }
    tap_ok(json_size(properties) == n && json_size(needed) == n_needed &&
               json_kind(json_get(payload, "additionalProperties")) == JSON_BOOL &&
               !json_bool(json_get(payload, "additionalProperties")),
           "%s: the schema's payload holds nothing more", row->name);
}

static void check_type(json_node *definitions, const struct event_type_row *row)
{
    static const char *const payload_at[] = {"properties", "payload", NULL};
    static const char *const type_at[] = {"properties", "type", "const", NULL};
    static const char *const station_at[] = {"properties", "station", NULL};
    json_node *schema = json_get(definitions, row->name);
    const char *type = json_string(dig(schema, type_at), NULL);
    tap_ok(type != NULL && strcmp(type, row->name) == 0, "%s is defined by the schema", row->name);
    const bool may = dig(schema, station_at) != NULL;
    const bool must = is_listed(json_get(schema, "required"), "station");
    tap_ok(may == (row->station != EVENT_STATION_NONE) &&
               must == (row->station == EVENT_STATION_MUST),
           "%s: schema and table agree on its station", row->name);
    json_node *payload = dig(schema, payload_at);
    json_node *forms = json_get(payload, "oneOf");
    if (forms == NULL) {
        check_payload(payload, row, false);
        return;
    }
    tap_ok(json_size(forms) == 2, "%s has two forms", row->name);
    check_payload(json_at(forms, 0), row, true);
    check_payload(json_at(forms, 1), row, false);
}

static void schema_rows(void)
{
    static const struct {
        const char *name;
        int64_t most;
    } sizes[] = {{"id", EVENT_ID_MAX},
                 {"code", EVENT_CODE_MAX},
                 {"line", EVENT_LINE_MAX},
                 {"text", EVENT_TEXT_MAX},
                 {"path", EVENT_PATH_MAX}};
    static const char *const items[] = {"properties", "events", NULL};
    struct text t = read_all(ROOT "doc/events.schema.json");
    struct json_doc *doc = NULL;
    struct fault f = {0};
    if (json_parse(t.data, t.size, "schema", &doc, &f) != ERR_OK) {
        tap_ok(false, "the schema reads as JSON: %s", f.message);
        text_done(&t);
        return;
    }
    json_node *root = json_root(doc), *definitions = json_get(root, "$defs");
    for (size_t i = 0; i < EVENT_TYPE_N; i++)
        check_type(definitions, &event_types[i]);
    json_node *events = dig(root, items);
    json_node *forms = json_get(json_get(events, "items"), "oneOf");
    bool is_good = json_size(forms) == EVENT_TYPE_N;
    for (size_t i = 0; is_good && i < EVENT_TYPE_N; i++)
        is_good = is_ref(json_at(forms, i), event_types[i].name);
    tap_ok(is_good, "an event is one of the table's types, in its order, and of no other");
    tap_ok(json_int(json_get(events, "maxItems")) == EVENTS_MAX, "at most %d events",
           (int)EVENTS_MAX);
    tap_ok(json_int(json_get(json_get(definitions, "pairs"), "maxProperties")) == EVENT_PAIRS_MAX,
           "at most %d pairs", (int)EVENT_PAIRS_MAX);
    tap_ok(json_int(json_get(json_get(definitions, "at_ms"), "maximum")) == EVENT_TIME_MAX_MS,
           "the same end of time");
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        tap_ok(json_int(json_get(json_get(definitions, sizes[i].name), "maxLength")) ==
                   sizes[i].most,
               "%s: at most %" PRId64 " characters", sizes[i].name, sizes[i].most);
    json_free(doc);
    text_done(&t);
}

/* ---- round and round ----------------------------------------------------------------------- */

static void round_trip(void)
{
    struct text t = read_all(ROOT "examples/jobs/ov-26-03-a/events.json"), again = {0};
    struct event_list *list = NULL;
    struct fault f = {0};
    const enum err e = events_read(t.data, t.size, "example", &list, &f);
    tap_ok(e == ERR_OK, "the example reads");
    if (e == ERR_OK) {
        events_write(list, &again);
        tap_ok(again.data != NULL && again.size == t.size &&
                   memcmp(again.data, t.data, t.size) == 0,
               "written again it is the same to the byte (the file was made by Python's json, not "
               "by us)");
        tap_ok(list->events[1].as.label_read.built_first_day == 19807,
               "2024-03-25 is day 19807 (Python date.toordinal - 719163)");
        struct event_list *merged = NULL;
        struct text third = {0};
        if (events_merge(list, list, &merged, &f) == ERR_OK)
            events_write(merged, &third);
        tap_ok(third.data != NULL && third.size == t.size &&
                   memcmp(third.data, t.data, t.size) == 0,
               "merged with itself it is the same to the byte");
        text_done(&third);
        events_free(merged);
    }
    events_free(list);
    text_done(&again);
    text_done(&t);
}

#define HEAD                                                                                       \
    "{\"mendwright_events\":1,\"bulletin\":{\"id\":\"OV-26-03\",\"revision\":2,\"sha256\":\"" SHA  \
    "\"},\"vin\":\"ZZZFM24T5R0001234\",\"events\":[\n"
#define SHA "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
#define WHO "\"at_ms\":5,\"technician\":\"ines\",\"shop\":\"fern\","
#define ID  "\"id\":\"01KQRX6ZQ6V6SG51K2G8Q1Z000\","

/* One event from its members; text_done it. */
static enum err read_one(const char *event, struct fault *f)
{
    struct text t = {0};
    struct event_list *list = NULL;
    text_printf(&t, "%s%s\n]}", HEAD, event);
    *f = (struct fault){0};
    const enum err e = events_read(t.data, t.size, "e.json", &list, f);
    events_free(list);
    text_done(&t);
    return e;
}

static void refusals(void)
{
    static const struct {
        const char *event, *path;
        enum err e;
    } rows[] = {
        {"{" ID WHO "\"type\":\"opened\",\"payload\":{}}", "", ERR_OK},
        {"{" ID WHO "\"type\":\"opend\",\"payload\":{}}", "events[0].type", ERR_UNKNOWN},
        {"{" ID WHO "\"type\":\"opened\"}", "events[0].payload", ERR_EMPTY},
        {"{" ID WHO "\"type\":\"opened\",\"payload\":[]}", "events[0].payload", ERR_TYPE},
        {"{" ID WHO "\"type\":\"opened\",\"payload\":{\"softwear\":\"x\"}}",
         "events[0].payload.softwear", ERR_UNKNOWN},
        {"{" WHO "\"type\":\"opened\",\"payload\":{}}", "events[0].id", ERR_EMPTY},
        {"{\"id\":\"01kqrx6zq6v6sg51k2g8q1z000\"," WHO "\"type\":\"opened\",\"payload\":{}}",
         "events[0].id", ERR_SYNTAX},
        {"{" ID WHO "\"type\":\"opened\",\"corrects\":7,\"payload\":{}}", "events[0].corrects",
         ERR_TYPE},
        {"{" ID WHO "\"type\":\"opened\",\"station\":\"fore\",\"payload\":{}}", "events[0].station",
         ERR_UNKNOWN},
        {"{" ID WHO "\"type\":\"cut\",\"payload\":{}}", "events[0].station", ERR_EMPTY},
        {"{" ID WHO "\"type\":\"note\",\"payload\":{\"text\":\"\"}}", "events[0].payload.text",
         ERR_EMPTY},
        {"{" ID WHO "\"type\":\"note\",\"payload\":{\"text\":\"a\\u0007\"}}",
         "events[0].payload.text", ERR_ENCODING},
        {"{" ID WHO "\"type\":\"note\",\"payload\":{\"text\":\"a\\nb\"}}", "", ERR_OK},
        {"{" ID WHO
         "\"type\":\"label_read\",\"station\":\"fore\",\"payload\":{\"text\":\"a\\nb\"}}",
         "events[0].payload.text", ERR_ENCODING},
        {"{" ID WHO "\"type\":\"label_read\",\"station\":\"fore\",\"payload\":{\"text\":\"a\","
         "\"built_first\":\"2023-02-29\"}}",
         "events[0].payload.built_first", ERR_IMPOSSIBLE},
        {"{" ID WHO "\"type\":\"label_read\",\"station\":\"fore\",\"payload\":{\"text\":\"a\","
         "\"built_first\":\"2024-02-29\",\"built_last\":\"2024-02-28\"}}",
         "events[0].payload.built_last", ERR_ORDER},
        {"{" ID WHO "\"type\":\"rack_measured\",\"station\":\"fore\",\"payload\":{\"rack\":"
         "\"inboard\",\"length_nm\":0}}",
         "events[0].payload.length_nm", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"rack_measured\",\"station\":\"fore\",\"payload\":{\"rack\":"
         "\"inboard\",\"length_nm\":\"1 mm\"}}",
         "events[0].payload.length_nm", ERR_TYPE},
        {"{" ID WHO "\"type\":\"rack_measured\",\"station\":\"fore\",\"payload\":{\"rack\":"
         "\"inboard\",\"length_nm\":1.5}}",
         "events[0].payload.length_nm", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"moved\",\"station\":\"fore\",\"payload\":{\"target\":\"rack\","
         "\"name\":\"inboard\",\"steps\":0}}",
         "events[0].payload.steps", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"reading_taken\",\"payload\":{\"point\":\"a\"}}",
         "events[0].payload.value_nm", ERR_AMBIGUOUS},
        {"{" ID WHO
         "\"type\":\"reading_taken\",\"payload\":{\"point\":\"a\",\"value_nm\":5,\"unit\":\"V\"}}",
         "events[0].payload.value_nm", ERR_AMBIGUOUS},
        {"{" ID WHO "\"type\":\"reading_taken\",\"payload\":{\"point\":\"a\",\"value\":5}}",
         "events[0].payload.unit", ERR_EMPTY},
        {"{" ID WHO
         "\"type\":\"reading_taken\",\"payload\":{\"point\":\"a\",\"value\":5,\"unit\":\"mm\"}}",
         "events[0].payload.unit", ERR_UNKNOWN},
        {"{" ID WHO "\"type\":\"reading_taken\",\"payload\":{\"point\":\"a\",\"value\":1000000.5,"
         "\"unit\":\"V\"}}",
         "events[0].payload.value", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"photo_taken\",\"payload\":{\"photo\":\"label\",\"path\":\"../"
         "a.jpg\",\"sha256\":\"" SHA "\"}}",
         "events[0].payload.path", ERR_SYNTAX},
        {"{" ID WHO "\"type\":\"photo_taken\",\"payload\":{\"photo\":\"label\",\"path\":\"a/./"
         "b\",\"sha256\":\"" SHA "\"}}",
         "events[0].payload.path", ERR_SYNTAX},
        {"{" ID WHO "\"type\":\"photo_taken\",\"payload\":{\"photo\":\"label\",\"path\":\"a.jpg\","
         "\"sha256\":\"12\"}}",
         "events[0].payload.sha256", ERR_SYNTAX},
        {"{" ID WHO
         "\"type\":\"kit_chosen\",\"station\":\"fore\",\"payload\":{\"kit\":\"k\",\"with\":{}}}",
         "events[0].payload.with", ERR_EMPTY},
        {"{" ID WHO "\"type\":\"kit_chosen\",\"station\":\"fore\",\"payload\":{\"kit\":\"k\","
         "\"with\":{\"A\":\"b\"}}}",
         "events[0].payload.with.A", ERR_SYNTAX},
        {"{" ID "\"at_ms\":-1,\"technician\":\"ines\",\"shop\":\"fern\",\"type\":\"opened\","
         "\"payload\":{}}",
         "events[0].at_ms", ERR_DOMAIN},
        {"{" ID "\"at_ms\":1,\"technician\":\"Ines\",\"shop\":\"fern\",\"type\":\"opened\","
         "\"payload\":{}}",
         "events[0].technician", ERR_SYNTAX},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"station\":\"fore\",\"payload\":{\"what\":"
         "\"parts\",\"amount_minor\":1000000000000,\"part\":\"seal\",\"count\":1000}}",
         "", ERR_OK},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"travel\"}}",
         "events[0].payload.amount_minor", ERR_EMPTY},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"amount_minor\":5}}",
         "events[0].payload.what", ERR_EMPTY},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"labour\","
         "\"amount_minor\":5}}",
         "events[0].payload.what", ERR_UNKNOWN},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"travel\","
         "\"amount_minor\":-1}}",
         "events[0].payload.amount_minor", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"travel\","
         "\"amount_minor\":1000000000001}}",
         "events[0].payload.amount_minor", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"travel\","
         "\"amount_minor\":5,\"count\":0}}",
         "events[0].payload.count", ERR_DOMAIN},
        {"{" ID WHO "\"type\":\"expense_claimed\",\"payload\":{\"what\":\"travel\","
         "\"amount_minor\":5,\"part\":\"seal\"}}",
         "events[0].payload.part", ERR_UNKNOWN},
        {"", "events", ERR_EMPTY},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct fault f;
        const enum err e = read_one(rows[i].event, &f);
        const bool is_good =
            e == rows[i].e && strcmp(f.path, rows[i].path) == 0 &&
            (e == ERR_OK || (f.line >= 1 && f.column >= 1 && f.message[0] != '\0' &&
                             strcmp(f.file, "e.json") == 0));
        if (!tap_ok(is_good, "%s at %s (the form is ours: doc/events.schema.json): %.60s",
                    err_symbol(rows[i].e), rows[i].path, rows[i].event))
            tap_note("%s at %s, line %d: %s", err_symbol(e), f.path, f.line, f.message);
    }
    struct fault f;
    (void)read_one("{" ID WHO "\n \"type\":\"opend\",\"payload\":{}}", &f);
    tap_ok(f.line == 3 && f.column == 9,
           "the fault has its line and column: 3, 9 (counted by hand)");
    tap_ok(strstr(f.message, "opened") != NULL, "and the word that was meant: %s", f.message);
}

/* RFC 8259, section 4: an object is an unordered collection. */
static void pair_order(void)
{
    static const char *const withs[] = {"{\"hand\":\"left\",\"relief\":\"upper\"}",
                                        "{\"relief\":\"upper\",\"hand\":\"left\"}"};
    struct event_list *lists[2] = {NULL, NULL}, *both = NULL;
    struct fault f = {0};
    bool is_good = true;
    for (int i = 0; i < 2; i++) {
        struct text t = {0};
        text_printf(&t,
                    "%s{" ID WHO "\"type\":\"kit_chosen\",\"station\":\"fore\",\"payload\":"
                    "{\"kit\":\"k\",\"with\":%s}}\n]}",
                    HEAD, withs[i]);
        is_good = events_read(t.data, t.size, "e.json", &lists[i], &f) == ERR_OK && is_good;
        text_done(&t);
    }
    is_good = is_good && events_merge(lists[0], lists[1], &both, &f) == ERR_OK;
    tap_ok(is_good && both->n == 1,
           "pairs in another order are the same event (RFC 8259, section 4: no order)");
    events_free(lists[0]);
    events_free(lists[1]);
    events_free(both);
}

static void head_refusals(void)
{
    static const struct {
        const char *text, *path;
        enum err e;
    } rows[] = {
        {"[]", "", ERR_TYPE},
        {"{}", "mendwright_events", ERR_EMPTY},
        {"{\"mendwright_events\":2}", "mendwright_events", ERR_DOMAIN},
        {"{\"mendwright_events\":1,\"invented\":1}", "invented", ERR_TYPE},
        {"{\"mendwright_events\":1,\"bulletin\":{\"id\":\"A\",\"revision\":0,\"sha256\":\"\"}}",
         "bulletin.revision", ERR_DOMAIN},
        {"{\"mendwright_events\":1,\"bulletin\":{\"id\":\"A\",\"revision\":1,\"sha256\":\"" SHA
         "\"},\"vin\":\"ZZZFM24T5R000123I\"}",
         "vin", ERR_SYNTAX},
        {"{\"mendwright_events\":1,\"mendwright_events\":1}", "mendwright_events", ERR_DUPLICATE},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct event_list *list = NULL;
        struct fault f = {0};
        const enum err e = events_read(rows[i].text, strlen(rows[i].text), "h", &list, &f);
        if (!tap_ok(e == rows[i].e && (e == ERR_DUPLICATE || strcmp(f.path, rows[i].path) == 0),
                    "head: %s at \"%s\"", err_symbol(rows[i].e), rows[i].path))
            tap_note("%s at %s: %s", err_symbol(e), f.path, f.message);
        events_free(list);
    }
}

static void too_many(void)
{
    struct text t = {0};
    struct event_list *list = NULL;
    struct fault f = {0};
    static const uint8_t zero[ULID_RANDOM_SIZE] = {0};
    text_puts(&t, HEAD);
    for (int i = 0; i <= EVENTS_MAX; i++) {
        struct ulid id;
        char text[ULID_TEXT_SIZE + 1] = "";
        if (ulid_make(i, zero, &id) == ERR_OK)
            ulid_show(&id, text);
        text_printf(&t, "%s{\"id\":\"%s\"," WHO "\"type\":\"opened\",\"payload\":{}}",
                    i ? ",\n" : "", text);
    }
    text_puts(&t, "]}");
    tap_ok(events_read(t.data, t.size, "many", &list, &f) == ERR_LIMIT &&
               strcmp(f.path, "events") == 0,
           "%d events are one too many", EVENTS_MAX + 1);
    text_done(&t);
}

static void other_job(void)
{
    struct event_list *a = events_new(), *b = events_new(), *c = NULL;
    struct fault f = {0};
    if (a != NULL && b != NULL) {
        memcpy(a->vin, "ZZZFM24T5R0001234", 18);
        memcpy(b->vin, "ZZZFM24T5R0001235", 18);
        tap_ok(events_merge(a, b, &c, &f) == ERR_AMBIGUOUS && f.message[0] != '\0',
               "two units do not merge");
    }
    events_free(a);
    events_free(b);
}

int main(void)
{
    schema_rows();
    round_trip();
    refusals();
    pair_order();
    head_refusals();
    too_many();
    other_job();
    return tap_done();
}

/* event: owns what each type of event holds, lists of events, their order and how they are written. Reading is event_read.c. */
#include "proof/event.h"

#include "core/date.h"
#include "proof/event_pool.h"
#include "proof/event_rules.h"

#include <stdlib.h>
#include <string.h>

/* ---- the tables ---------------------------------------------------------------------------- */

static const char *const verdicts[] = {"in", "out", "unknown", NULL};
static const char *const targets[] = {"adjuster", "rack", NULL};
static const char *const expenses[] = {"travel", "consumables", "parts", NULL};
const char *const event_units[] = {"V", "A", "s", "N m", "deg", "ohm", "1", NULL};

#define AT(member) offsetof(struct event, as.member)
#define LENGTH(name, member, needed, from)                                                         \
    {                                                                                              \
        name, EVENT_FIELD_INTEGER, needed, false, AT(member), from, EVENT_AMOUNT_MAX, NULL         \
    }
#define TEXT(name, field_kind, member, needed)                                                     \
    {                                                                                              \
        name, field_kind, needed, false, AT(member), 0, 0, NULL                                    \
    }
#define CHOICE(name, member, list)                                                                 \
    {                                                                                              \
        name, EVENT_FIELD_CHOICE, true, false, AT(member), 0, 0, list                              \
    }

/* clang-format off: one field a line */
const struct event_type_row event_types[EVENT_TYPE_N] = {
    [EVENT_OPENED] = {"opened",
                      EVENT_STATION_NONE,
                      {
                          TEXT("software", EVENT_FIELD_LINE, opened.software, false),
                      }},
    [EVENT_LABEL_READ] =
        {"label_read",
         EVENT_STATION_MUST,
         {
             TEXT("text", EVENT_FIELD_LINE, label_read.text, true),
             TEXT("variant", EVENT_FIELD_CODE, label_read.variant, false),
             TEXT("built_first", EVENT_FIELD_DATE, label_read.built_first_day, false),
             TEXT("built_last", EVENT_FIELD_DATE, label_read.built_last_day, false),
         }},
    [EVENT_SCOPE_FOUND] = {"scope_found",
                           EVENT_STATION_MUST,
                           {
                               CHOICE("verdict", scope_found.verdict, verdicts),
                               TEXT("reason", EVENT_FIELD_LINE, scope_found.reason, false),
                           }},
    [EVENT_RACK_MEASURED] = {"rack_measured",
                             EVENT_STATION_MUST,
                             {
                                 TEXT("rack", EVENT_FIELD_ID, rack_measured.rack, true),
                                 LENGTH("length_nm", rack_measured.length_nm, true, 1),
                                 TEXT("instrument", EVENT_FIELD_ID, rack_measured.instrument,
                                      false),
                             }},
    [EVENT_KIT_CHOSEN] = {"kit_chosen",
                          EVENT_STATION_MUST,
                          {
                              TEXT("kit", EVENT_FIELD_ID, kit_chosen.kit, true),
                              TEXT("with", EVENT_FIELD_PAIRS, kit_chosen.with, false),
                          }},
    [EVENT_CUT] = {"cut",
                   EVENT_STATION_MUST,
                   {
                       TEXT("rack", EVENT_FIELD_ID, cut.rack, true),
                       LENGTH("needed_nm", cut.needed_nm, true, 1),
                       LENGTH("stock_nm", cut.stock_nm, true, 1),
                       LENGTH("mark_nm", cut.mark_nm, true, 1),
                       LENGTH("offcut_nm", cut.offcut_nm, false, 0),
                       TEXT("from_end", EVENT_FIELD_ID, cut.from_end, false),
                   }},
    [EVENT_HOLD_CONFIRMED] = {"hold_confirmed",
                              EVENT_STATION_MAY,
                              {
                                  TEXT("step", EVENT_FIELD_ID, hold_confirmed.step, true),
                              }},
    [EVENT_READING_TAKEN] = {"reading_taken",
                             EVENT_STATION_MAY,
                             {
                                 TEXT("point", EVENT_FIELD_ID, reading_taken.point, true),
                                 {"value", EVENT_FIELD_AMOUNT, true, false, AT(reading_taken.value),
                                  -EVENT_AMOUNT_MAX, EVENT_AMOUNT_MAX, NULL},
                                 TEXT("instrument", EVENT_FIELD_ID, reading_taken.instrument,
                                      false),
                                 TEXT("step", EVENT_FIELD_ID, reading_taken.step, false),
                             }},
    [EVENT_MOVED] = {"moved",
                     EVENT_STATION_MUST,
                     {
                         CHOICE("target", moved.target, targets),
                         TEXT("name", EVENT_FIELD_ID, moved.name, true),
                         {"steps", EVENT_FIELD_INTEGER, true, true, AT(moved.steps), -1000, 1000,
                          NULL},
                     }},
    [EVENT_PHOTO_TAKEN] = {"photo_taken",
                           EVENT_STATION_MAY,
                           {
                               TEXT("photo", EVENT_FIELD_ID, photo_taken.photo, true),
                               TEXT("path", EVENT_FIELD_PATH, photo_taken.path, true),
                               TEXT("sha256", EVENT_FIELD_SHA256, photo_taken.sha256, true),
                           }},
    [EVENT_EXPENSE_CLAIMED] = {"expense_claimed",
                               EVENT_STATION_MAY,
                               {
                                   CHOICE("what", expense_claimed.what, expenses),
                                   {"amount_minor", EVENT_FIELD_INTEGER, true, false,
                                    AT(expense_claimed.amount_minor), 0, EVENT_MONEY_MAX, NULL},
                                   TEXT("part", EVENT_FIELD_ID, expense_claimed.part, false),
                                   {"count", EVENT_FIELD_INTEGER, false, false,
                                    AT(expense_claimed.count), 1, 1000, NULL},
                                   TEXT("why", EVENT_FIELD_LINE, expense_claimed.why, false),
                               }},
    [EVENT_FINISHED] = {"finished",
                        EVENT_STATION_NONE,
                        {
                            {"minutes", EVENT_FIELD_INTEGER, false, false, AT(finished.minutes), 0,
                             100000, NULL},
                        }},
    [EVENT_NOTE] = {"note",
                    EVENT_STATION_MAY,
                    {
                        TEXT("text", EVENT_FIELD_TEXT, note.text, true),
                    }},
};
/* clang-format on */

/* How a field is held in memory. */
enum form { FORM_TEXT, FORM_NUMBER, FORM_PAIRS, FORM_AMOUNT };

static enum form form_of(const struct event_field *f)
{
    switch (f->kind) {
    case EVENT_FIELD_INTEGER:
    case EVENT_FIELD_DATE:
    case EVENT_FIELD_CHOICE:
        return FORM_NUMBER;
    case EVENT_FIELD_PAIRS:
        return FORM_PAIRS;
    case EVENT_FIELD_AMOUNT:
        return FORM_AMOUNT;
    default:
        return FORM_TEXT;
    }
}

static const void *field_of(const struct event *e, const struct event_field *f)
{
    return (const unsigned char *)e + f->at;
}

static const char *text_of(const struct event *e, const struct event_field *f)
{
    return *(const char *const *)field_of(e, f);
}

static int64_t number_of(const struct event *e, const struct event_field *f)
{
    return *(const int64_t *)field_of(e, f);
}

/* ---- order --------------------------------------------------------------------------------- */

static int compare_number(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

static int compare_text(const char *a, const char *b)
{
    if (a == NULL || b == NULL)
        return (a != NULL) - (b != NULL);
    return strcmp(a, b);
}

static int compare_pairs(const struct event_pairs *a, const struct event_pairs *b)
{
    int c = compare_number((int64_t)a->n, (int64_t)b->n);
    for (size_t i = 0; c == 0 && i < a->n; i++) {
        c = strcmp(a->pairs[i].name, b->pairs[i].name);
        if (c == 0)
            c = strcmp(a->pairs[i].value, b->pairs[i].value);
    }
    return c;
}

static int compare_field(const struct event *a, const struct event *b, const struct event_field *f)
{
    switch (form_of(f)) {
    case FORM_TEXT:
        return compare_text(text_of(a, f), text_of(b, f));
    case FORM_NUMBER:
        return compare_number(number_of(a, f), number_of(b, f));
    case FORM_PAIRS:
        return compare_pairs(field_of(a, f), field_of(b, f));
    case FORM_AMOUNT:
        break;
    }
    const struct event_amount *x = field_of(a, f), *y = field_of(b, f);
    const int c = compare_number(x->unit, y->unit);
    return c != 0 ? c : compare_number(x->nano, y->nano);
}

static int compare_head(const struct event *a, const struct event *b)
{
    int c = compare_number(a->type, b->type);
    if (c == 0)
        c = strcmp(a->technician, b->technician);
    if (c == 0)
        c = strcmp(a->shop, b->shop);
    if (c == 0)
        c = compare_text(a->station, b->station);
    if (c == 0)
        c = compare_number(a->has_corrects, b->has_corrects);
    if (c == 0 && a->has_corrects)
        c = ulid_compare(&a->corrects, &b->corrects);
    return c;
}

int event_compare(const struct event *a, const struct event *b)
{
    int c = compare_number(a->at_ms, b->at_ms);
    if (c == 0)
        c = ulid_compare(&a->id, &b->id);
    if (c == 0)
        c = compare_head(a, b);
    for (size_t i = 0; c == 0 && i < EVENT_FIELDS_MAX; i++) {
        const struct event_field *f = &event_types[a->type].fields[i];
        if (f->name == NULL)
            break;
        c = compare_field(a, b, f);
    }
    return c;
}

/* ---- lists --------------------------------------------------------------------------------- */

struct event_list *events_new(void)
{
    struct event_list *list = calloc(1, sizeof *list);
    if (list == NULL)
        return NULL;
    list->pool = event_pool_new();
    if (list->pool == NULL) {
        free(list);
        return NULL;
    }
    return list;
}

void events_free(struct event_list *list)
{
    if (list == NULL)
        return;
    event_pool_free(list->pool);
    free(list->events);
    free(list);
}

static bool copy_text(struct event_pool *pool, const char **text)
{
    if (*text == NULL)
        return true;
    *text = event_pool_text(pool, *text, strlen(*text));
    return *text != NULL;
}

static bool copy_pairs(struct event_pool *pool, struct event_pairs *pairs)
{
    if (pairs->n == 0)
        return true;
    struct event_pair *copy = event_pool_get(pool, pairs->n * sizeof *copy);
    if (copy == NULL)
        return false;
    for (size_t i = 0; i < pairs->n; i++) {
        copy[i] = pairs->pairs[i];
        if (!copy_text(pool, &copy[i].name) || !copy_text(pool, &copy[i].value))
            return false;
    }
    pairs->pairs = copy;
    return true;
}

/* Every text of e moved into the pool. */
static bool copy_event(struct event_pool *pool, struct event *e)
{
    bool is_good = copy_text(pool, &e->technician) && copy_text(pool, &e->shop) &&
                   copy_text(pool, &e->station);
    const struct event_field *f = event_types[e->type].fields;
    for (size_t i = 0; is_good && i < EVENT_FIELDS_MAX && f[i].name != NULL; i++) {
        void *at = (unsigned char *)e + f[i].at;
        if (form_of(&f[i]) == FORM_TEXT)
            is_good = copy_text(pool, at);
        else if (form_of(&f[i]) == FORM_PAIRS)
            is_good = copy_pairs(pool, at);
    }
    return is_good;
}

enum err events_put(struct event_list *list, const struct event *e)
{
    if (list->n == EVENTS_MAX)
        return ERR_LIMIT;
    if (list->n == list->room) {
        const size_t room = list->room > 0 ? 2 * list->room : 32;
        struct event *events = realloc(list->events, room * sizeof *events);
        if (events == NULL)
            return ERR_MEMORY;
        list->events = events;
        list->room = room;
    }
    list->events[list->n++] = *e;
    return ERR_OK;
}

enum err events_add(struct event_list *list, const struct event *e)
{
    struct event copy = *e;
    if (list->n == EVENTS_MAX)
        return ERR_LIMIT;
    return copy_event(list->pool, &copy) ? events_put(list, &copy) : ERR_MEMORY;
}

enum event_clash event_clash(const struct event *e)
{
    const struct event_label_read *label = &e->as.label_read;
    const struct event_expense_claimed *expense = &e->as.expense_claimed;
    if (e->type == EVENT_LABEL_READ && label->built_first_day != EVENT_ABSENT &&
        label->built_last_day != EVENT_ABSENT && label->built_last_day < label->built_first_day)
        return EVENT_CLASH_DAYS;
    if (e->type == EVENT_EXPENSE_CLAIMED && expense->part != NULL && expense->what != EVENT_PARTS)
        return EVENT_CLASH_PART;
    return EVENT_CLASH_NONE;
}

/* ---- merging ------------------------------------------------------------------------------- */

static int by_order(const void *a, const void *b)
{
    return event_compare(*(const struct event *const *)a, *(const struct event *const *)b);
}

static bool is_same_job(const struct event_list *a, const struct event_list *b)
{
    return strcmp(a->vin, b->vin) == 0 && strcmp(a->bulletin_id, b->bulletin_id) == 0 &&
           a->revision == b->revision && strcmp(a->bulletin_sha256, b->bulletin_sha256) == 0;
}

static enum err add_sorted(const struct event_list *a, const struct event_list *b,
                           const struct event **order, struct event_list *ret)
{
    size_t n = 0;
    for (size_t i = 0; i < a->n; i++)
        order[n++] = &a->events[i];
    for (size_t i = 0; i < b->n; i++)
        order[n++] = &b->events[i];
    if (n > 0)
        qsort(order, n, sizeof(const struct event *), by_order);
    enum err e = ERR_OK;
    for (size_t i = 0; e == ERR_OK && i < n; i++)
        if (i == 0 || event_compare(order[i - 1], order[i]) != 0)
            e = events_add(ret, order[i]);
    return e;
}

enum err events_merge(const struct event_list *a, const struct event_list *b,
                      struct event_list **ret, struct fault *reterr)
{
    *reterr = (struct fault){.code = ERR_OK};
    if (!is_same_job(a, b))
        return fault_set(reterr, ERR_AMBIGUOUS,
                         "found lists of two jobs (%s under %s revision %lld, %s under %s revision "
                         "%lld); expected the same VIN and the same bulletin, to the byte",
                         a->vin, a->bulletin_id, (long long)a->revision, b->vin, b->bulletin_id,
                         (long long)b->revision);
    struct event_list *list = events_new();
    const struct event **order = calloc(a->n + b->n + 1, sizeof(const struct event *));
    enum err e = list != NULL && order != NULL ? add_sorted(a, b, order, list) : ERR_MEMORY;
    free(order);
    if (e != ERR_OK) {
        events_free(list);
        return e == ERR_LIMIT
                   ? fault_set(reterr, e, "together they hold more than %d events", (int)EVENTS_MAX)
                   : fault_set(reterr, e, "memory ran out while merging events");
    }
    memcpy(list->vin, a->vin, sizeof list->vin);
    memcpy(list->bulletin_id, a->bulletin_id, sizeof list->bulletin_id);
    memcpy(list->bulletin_sha256, a->bulletin_sha256, sizeof list->bulletin_sha256);
    list->revision = a->revision;
    list->is_invented = a->is_invented || b->is_invented;
    *ret = list;
    return ERR_OK;
}

/* ---- writing ------------------------------------------------------------------------------- */

static void write_pairs(const struct event_pairs *pairs, const char *name, struct jsonw *w)
{
    if (pairs->n == 0)
        return;
    jsonw_object(w, name);
    for (size_t i = 0; i < pairs->n; i++)
        jsonw_string(w, pairs->pairs[i].name, pairs->pairs[i].value);
    jsonw_object_end(w);
}

static void write_number(const struct event *e, const struct event_field *f, struct jsonw *w)
{
    char date[DATE_SHOW_SIZE];
    const int64_t value = number_of(e, f);
    if (value == EVENT_ABSENT)
        return;
    if (f->kind == EVENT_FIELD_DATE) {
        date_show((int32_t)value, date);
        jsonw_string(w, f->name, date);
    } else if (f->kind == EVENT_FIELD_CHOICE) {
        jsonw_string(w, f->name, f->choices[value]);
    } else {
        jsonw_int(w, f->name, value);
    }
}

static void write_field(const struct event *e, const struct event_field *f, struct jsonw *w)
{
    switch (form_of(f)) {
    case FORM_TEXT:
        if (text_of(e, f) != NULL)
            jsonw_string(w, f->name, text_of(e, f));
        return;
    case FORM_NUMBER:
        write_number(e, f, w);
        return;
    case FORM_PAIRS:
        write_pairs(field_of(e, f), f->name, w);
        return;
    case FORM_AMOUNT:
        break;
    }
    const struct event_amount *amount = field_of(e, f);
    jsonw_nano(w, f->name, amount->nano, amount->unit);
    if (quantity_unit_dim(amount->unit) != DIM_LENGTH)
        jsonw_string(w, "unit", quantity_unit_name(amount->unit));
}

void event_write_payload(const struct event *e, struct jsonw *w)
{
    const struct event_field *f = event_types[e->type].fields;
    for (size_t i = 0; i < EVENT_FIELDS_MAX && f[i].name != NULL; i++)
        write_field(e, &f[i], w);
}

void event_write(const struct event *e, struct jsonw *w, const char *key)
{
    char id[ULID_TEXT_SIZE + 1];
    jsonw_object(w, key);
    ulid_show(&e->id, id);
    jsonw_string(w, "id", id);
    jsonw_string(w, "type", event_types[e->type].name);
    jsonw_int(w, "at_ms", e->at_ms);
    jsonw_string(w, "technician", e->technician);
    jsonw_string(w, "shop", e->shop);
    if (e->station != NULL)
        jsonw_string(w, "station", e->station);
    if (e->has_corrects) {
        ulid_show(&e->corrects, id);
        jsonw_string(w, "corrects", id);
    }
    jsonw_object(w, "payload");
    event_write_payload(e, w);
    jsonw_object_end(w);
    jsonw_object_end(w);
}

void events_write(const struct event_list *list, struct text *out)
{
    struct jsonw w;
    jsonw_start(&w, out);
    text_printf(out,
                "{\"mendwright_events\":%d,\n\"invented\":%s,\n\"bulletin\":", (int)EVENT_FORMAT,
                list->is_invented ? "true" : "false");
    jsonw_object(&w, NULL);
    jsonw_string(&w, "id", list->bulletin_id);
    jsonw_int(&w, "revision", list->revision);
    jsonw_string(&w, "sha256", list->bulletin_sha256);
    jsonw_object_end(&w);
    text_printf(out, ",\n\"vin\":\"%s\",\n\"events\":[\n", list->vin);
    for (size_t i = 0; i < list->n; i++) {
        event_write(&list->events[i], &w, NULL);
        text_puts(out, i + 1 < list->n ? ",\n" : "\n");
    }
    text_puts(out, "]}\n");
}

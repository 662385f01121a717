/* bulletin: owns the way from bytes to a checked bulletin, and the look-ups by id. */
#include "bulletin/bulletin.h"

#include "base/file.h"
#include "bulletin/checks.h"
#include "bulletin/schema.h"

#include <stdlib.h>
#include <string.h>

/* The bulletin stands first, so that its address is the owner's. */
struct owner {
    struct bulletin bulletin;
    struct arena arena;
};

void bulletin_free(struct bulletin *b)
{
    struct owner *owner = (struct owner *)(void *)b;
    if (owner == NULL)
        return;
    arena_done(&owner->arena);
    free(owner);
}

/* The language and the currency are needed to read the rest; where they are wrong the fault is
 * reported when their section is read. */
static struct schema schema_for(const struct yamlnode *root, struct arena *arena, const char *name,
                                struct fault_list *faults)
{
    struct schema s = {.arena = arena,
                       .faults = faults,
                       .name = name,
                       .whole = "bulletin",
                       .language = "",
                       .currency = "the currency",
                       .currency_digits = 2};
    const struct yamlnode *head = yamlnode_get(root, "bulletin");
    const struct yamlnode *language = yamlnode_get(head, "language");
    const struct yamlnode *currency = yamlnode_get(head, "currency");
    if (language != NULL && language->kind == YAMLNODE_TEXT)
        s.language = language->text;
    if (currency != NULL && schema_currency_digits(currency->text) >= 0) {
        s.currency = currency->text;
        s.currency_digits = schema_currency_digits(currency->text);
    }
    return s;
}

/* What follows from what is written: the relieved end is the kept one (common practice). */
static void fill_in(struct bulletin *b)
{
    for (size_t i = 0; i < b->kits.n; i++)
        for (size_t k = 0; k < b->kits.at[i].racks.n; k++) {
            struct bulletin_rack *rack = &b->kits.at[i].racks.at[k];
            if (rack->keep != BULLETIN_END_NONE)
                continue;
            if (rack->relief == BULLETIN_RELIEF_UPPER)
                rack->keep = BULLETIN_END_UPPER;
            if (rack->relief == BULLETIN_RELIEF_LOWER)
                rack->keep = BULLETIN_END_LOWER;
        }
}

static void read_and_check(struct owner *owner, const char *text, size_t n, const char *name,
                           struct fault_list *faults)
{
    const struct yamlnode *root = NULL;
    if (yamltree_read(text, n, name, &owner->arena, &root, faults) != ERR_OK)
        return;
    struct schema s = schema_for(root, &owner->arena, name, faults);
    schema_read(&s, schema_root(), root, &owner->bulletin);
    if (owner->arena.is_broken) {
        fault_list_no_memory(faults, name);
        return;
    }
    if (faults->n_faults > 0)
        return;
    owner->bulletin.head.currency_digits = s.currency_digits;
    checks_run(&owner->bulletin, &s);
    faults->is_checked = true;
    fill_in(&owner->bulletin);
}

struct bulletin *bulletin_load(const char *text, size_t n, const char *name,
                               struct fault_list *faults)
{
    struct owner *owner = calloc(1, sizeof *owner);
    if (owner == NULL) {
        fault_list_no_memory(faults, name);
        return NULL;
    }
    read_and_check(owner, text, n, name, faults);
    fault_list_sort(faults);
    if (faults->n_faults == 0 && !faults->is_out_of_memory)
        return &owner->bulletin;
    bulletin_free(&owner->bulletin);
    return NULL;
}

struct bulletin *bulletin_load_file(const char *path, struct fault_list *faults)
{
    struct text text = {0};
    struct fault f = {0};
    struct bulletin *b = NULL;
    if (file_read(path, BULLETIN_SIZE_MAX, &text, &f) == ERR_OK) {
        b = bulletin_load(text.data != NULL ? text.data : "", text.size, path, faults);
    } else {
        fault_list_unreadable(faults, &f);
    }
    text_done(&text);
    return b;
}

/* ---- texts ---- */

static const char *text_find(const struct bulletin_text *text, const char *language, size_t n)
{
    for (size_t i = 0; i < text->n; i++)
        if (strlen(text->at[i].language) == n && memcmp(text->at[i].language, language, n) == 0)
            return text->at[i].text;
    return NULL;
}

const char *bulletin_text_in(const struct bulletin *b, const struct bulletin_text *text,
                             const char *language)
{
    const char *found = text_find(text, language, strlen(language));
    if (found == NULL)
        found = text_find(text, language, strcspn(language, "-"));
    if (found == NULL && b != NULL)
        found = text_find(text, b->head.language, strlen(b->head.language));
    if (found == NULL)
        found = text->n > 0 ? text->at[0].text : "";
    return found;
}

bool bulletin_text_has(const struct bulletin_text *text, const char *language)
{
    return text_find(text, language, strlen(language)) != NULL ||
           text_find(text, language, strcspn(language, "-")) != NULL;
}

/* ---- look-ups ---- */

const struct bulletin_station *bulletin_station_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->scope.stations.n; i++)
        if (strcmp(b->scope.stations.at[i].id, id) == 0)
            return &b->scope.stations.at[i];
    return NULL;
}

const struct bulletin_attribute *bulletin_attribute_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->scope.attributes.n; i++)
        if (strcmp(b->scope.attributes.at[i].id, id) == 0)
            return &b->scope.attributes.at[i];
    return NULL;
}

const struct bulletin_instrument *bulletin_instrument_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->instruments.n; i++)
        if (strcmp(b->instruments.at[i].id, id) == 0)
            return &b->instruments.at[i];
    return NULL;
}

const struct bulletin_point *bulletin_point_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->points.n; i++)
        if (strcmp(b->points.at[i].id, id) == 0)
            return &b->points.at[i];
    return NULL;
}

const struct bulletin_kit *bulletin_kit_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->kits.n; i++)
        if (strcmp(b->kits.at[i].id, id) == 0)
            return &b->kits.at[i];
    return NULL;
}

const struct bulletin_part *bulletin_part_find(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->parts.n; i++)
        if (strcmp(b->parts.at[i].id, id) == 0)
            return &b->parts.at[i];
    return NULL;
}

const char *bulletin_station_value(const struct bulletin_station *station, const char *attribute)
{
    for (size_t i = 0; i < station->with.n; i++)
        if (strcmp(station->with.at[i].key, attribute) == 0)
            return station->with.at[i].value;
    return NULL;
}

const char *bulletin_code_of(const struct bulletin *b, const char *text)
{
    for (size_t i = 0; i < b->scope.variants.n; i++) {
        const struct bulletin_variant *v = &b->scope.variants.at[i];
        if (strcmp(v->id, text) == 0 && v->codes.n > 0)
            return v->codes.at[0];
    }
    return text;
}

int64_t bulletin_labour_s(const struct bulletin *b, const char *station)
{
    for (size_t i = 0; i < b->labour.stations.n; i++) {
        const struct bulletin_labour_station *l = &b->labour.stations.at[i];
        if (strcmp(l->station, station) != 0)
            continue;
        if (l->time_s != BULLETIN_NO_AMOUNT)
            return l->time_s;
        if (l->share.by == 0 || b->labour.unit_s == BULLETIN_NO_AMOUNT)
            return 0;
        return (b->labour.unit_s * l->share.of + l->share.by - 1) / l->share.by;
    }
    return 0;
}

struct conform_u bulletin_uncertainty(const struct bulletin *b, const char *instrument)
{
    const struct bulletin_instrument *i = bulletin_instrument_find(b, instrument);
    if (i == NULL)
        return (struct conform_u){0};
    return (struct conform_u){.resolution = i->resolution.nano,
                              .calibration_u = (double)i->calibration_u.nano,
                              .repeat_u = (double)i->repeat_u.nano};
}

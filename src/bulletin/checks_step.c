/* checks_step: owns what can be wrong with the work: hazards without cautions, holds that ask for what does not exist,
 * texts that a reader of a promised language would not get. */
#include "bulletin/checks.h"

#include <string.h>

/* ---- hazards ---- */

static bool is_tagged(const struct bulletin_step *step, enum bulletin_hazard hazard)
{
    for (size_t i = 0; i < step->hazards.n; i++)
        if (step->hazards.at[i] == (int32_t)hazard)
            return true;
    return false;
}

static bool is_cautioned(const struct bulletin_step *step, enum bulletin_hazard hazard)
{
    for (size_t i = 0; i < step->cautions.n; i++)
        if (step->cautions.at[i].hazard == hazard)
            return true;
    return false;
}

static void check_hazards(const struct schema *s, const struct bulletin_step *step)
{
    const struct yamlnode *list = yamlnode_get(step->node, "hazards");
    for (size_t i = 0; i < step->hazards.n; i++) {
        const enum bulletin_hazard hazard = (enum bulletin_hazard)step->hazards.at[i];
        if (!is_cautioned(step, hazard))
            FAULT_AT(s, list->items[i], "",
                     "this step can hurt (%s), but no caution says how to avoid it: a bulletin is "
                     "not published so",
                     bulletin_hazard_name(hazard));
        for (size_t k = 0; k < i; k++)
            if (step->hazards.at[k] == step->hazards.at[i])
                FAULT_AT(s, list->items[i], "", "'%s' is listed twice",
                         bulletin_hazard_name(hazard));
    }
    for (size_t i = 0; i < step->cautions.n; i++)
        if (!is_tagged(step, step->cautions.at[i].hazard))
            FAULT_AT(s, step->cautions.at[i].node, "hazard",
                     "a caution about %s, but the step's hazards do not list it",
                     bulletin_hazard_name(step->cautions.at[i].hazard));
    if (is_tagged(step, BULLETIN_HAZARD_CUTTING) && step->protective.n == 0)
        WARN_AT(s, step->node, "hazards",
                "a cutting step for which no protective equipment is listed");
}

/* Whoever puts a probe to it stands before a live circuit. */
static void check_live(const struct bulletin *b, const struct schema *s,
                       const struct bulletin_step *step)
{
    for (size_t i = 0; i < step->readings.n && !is_tagged(step, BULLETIN_HAZARD_ELECTRICAL); i++) {
        const struct bulletin_point *p = bulletin_point_find(b, step->readings.at[i]);
        if (p == NULL || (p->nominal.dim != DIM_VOLTAGE && p->nominal.dim != DIM_CURRENT))
            continue;
        WARN_AT(s, yamlnode_get(step->node, "readings")->items[i], "",
                "'%s' is read on a live circuit, but the step is not tagged electrical", p->id);
        return;
    }
}

static void check_cutting(const struct bulletin *b, const struct schema *s)
{
    bool is_cut = false, is_said = false;
    for (size_t i = 0; i < b->kits.n; i++)
        for (size_t k = 0; k < b->kits.at[i].racks.n; k++)
            is_cut = is_cut || b->kits.at[i].racks.at[k].supply == BULLETIN_SUPPLY_CUT;
    for (size_t i = 0; i < b->steps.n; i++)
        is_said = is_said || is_tagged(&b->steps.at[i], BULLETIN_HAZARD_CUTTING);
    if (is_cut && !is_said)
        FAULT_AT(s, b->node, "steps",
                 "racks are cut, but no step is tagged cutting: its caution would be missing");
}

/* ---- what a step refers to ---- */

static void check_photos(const struct bulletin *b, const struct schema *s,
                         const struct bulletin_step *step)
{
    const struct yamlnode *list = yamlnode_get(step->node, "photos");
    const struct checks_ids photos = CHECKS_IDS(b->proof.photos, bulletin_photo);
    checks_words_known(s, list, step->photos.at, step->photos.n, photos, "proof photo");
    for (size_t i = 0; i < step->photos.n; i++)
        for (size_t k = 0; k < b->proof.photos.n; k++)
            if (strcmp(step->photos.at[i], b->proof.photos.at[k].id) == 0 &&
                step->per != b->proof.photos.at[k].per)
                FAULT_AT(s, list->items[i], "",
                         "the step is done per %s, but this photo is wanted per %s",
                         step->per == BULLETIN_PER_UNIT ? "unit" : "station",
                         step->per == BULLETIN_PER_UNIT ? "station" : "unit");
}

static void check_hold(const struct schema *s, const struct bulletin_step *step)
{
    if (step->hold == BULLETIN_HOLD_READING && step->readings.n == 0)
        FAULT_AT(s, step->node, "hold", "the step holds for a reading, but lists no 'readings'");
    if (step->hold == BULLETIN_HOLD_PHOTO && step->photos.n == 0)
        FAULT_AT(s, step->node, "hold", "the step holds for a photo, but lists no 'photos'");
}

/* At each station there must be something to read. */
static void check_readings_per_station(const struct bulletin *b, const struct schema *s,
                                       const struct bulletin_step *step)
{
    for (size_t i = 0; i < b->scope.stations.n; i++) {
        const char *station = b->scope.stations.at[i].id;
        bool has_any = step->readings.n == 0 || step->per == BULLETIN_PER_UNIT;
        for (size_t k = 0; k < step->readings.n && !has_any; k++) {
            const struct bulletin_point *p = bulletin_point_find(b, step->readings.at[k]);
            has_any = p == NULL || p->station[0] == '\0' || strcmp(p->station, station) == 0;
        }
        if (!has_any)
            FAULT_AT(s, step->node, "readings",
                     "the step is done at each station, but lists no point of station '%s'",
                     station);
    }
}

static void check_inspections(const struct bulletin *b, const struct schema *s,
                              const struct bulletin_step *step)
{
    for (size_t i = 0; i < step->inspections.n; i++) {
        const struct bulletin_inspection *in = &step->inspections.at[i];
        const struct yamlnode *at = yamlnode_get(in->node, "part");
        if (checks_known(s, at, in->part, CHECKS_IDS(b->parts, bulletin_part), "part") &&
            !bulletin_part_find(b, in->part)->is_kept)
            FAULT_AT(s, at, "", "'%s' is not marked as kept: only what goes back in is inspected",
                     in->part);
    }
}

static bool ends_with(const char *text, const char *end)
{
    const size_t n = strlen(text), n_end = strlen(end);
    return n > n_end && strcmp(text + n - n_end, end) == 0;
}

static void check_picture(const struct schema *s, const struct bulletin_step *step)
{
    const struct bulletin_picture *p = &step->picture;
    if (p->node == NULL)
        return;
    if (strpbrk(p->file, "/\\:") != NULL || p->file[0] == '.')
        FAULT_AT(s, p->node, "file",
                 "'%s': a picture lies beside the bulletin, so give its file name only", p->file);
    else if (!ends_with(p->file, ".png") && !ends_with(p->file, ".jpg") &&
             !ends_with(p->file, ".jpeg") && !ends_with(p->file, ".svg"))
        FAULT_AT(s, p->node, "file", "'%s': pictures end in .png, .jpg, .jpeg or .svg", p->file);
}

static void check_step(const struct bulletin *b, const struct schema *s,
                       const struct bulletin_step *step)
{
    check_hazards(s, step);
    checks_words_known(s, yamlnode_get(step->node, "tools"), step->tools.at, step->tools.n,
                       CHECKS_IDS(b->tools, bulletin_item), "tool");
    checks_words_known(s, yamlnode_get(step->node, "protective"), step->protective.at,
                       step->protective.n, CHECKS_IDS(b->protective, bulletin_item),
                       "protective equipment");
    checks_words_known(s, yamlnode_get(step->node, "readings"), step->readings.at, step->readings.n,
                       CHECKS_IDS(b->points, bulletin_point), "point");
    check_photos(b, s, step);
    check_readings_per_station(b, s, step);
    check_live(b, s, step);
    check_hold(s, step);
    check_inspections(b, s, step);
    check_picture(s, step);
}

/* ---- items that nothing needs ---- */

static bool is_needed(const struct bulletin *b, const char *id, bool is_tool)
{
    for (size_t i = 0; i < b->steps.n; i++) {
        const struct bulletin_step *step = &b->steps.at[i];
        const size_t n = is_tool ? step->tools.n : step->protective.n;
        const char *const *words = is_tool ? step->tools.at : step->protective.at;
        for (size_t k = 0; k < n; k++)
            if (strcmp(words[k], id) == 0)
                return true;
    }
    return false;
}

static void check_items(const struct bulletin *b, const struct schema *s, bool is_tool)
{
    const struct bulletin_item *items = is_tool ? b->tools.at : b->protective.at;
    const size_t n = is_tool ? b->tools.n : b->protective.n;
    const struct checks_ids ids = {items, n, sizeof *items, offsetof(struct bulletin_item, id)};
    checks_unique(s, ids, is_tool ? "tool" : "protective equipment");
    for (size_t i = 0; i < n; i++)
        if (!is_needed(b, items[i].id, is_tool))
            WARN_AT(s, items[i].node, "id", "no step needs '%s'", items[i].id);
}

/* ---- languages ---- */

static bool has_language(const struct bulletin_text *text, const char *language)
{
    for (size_t i = 0; i < text->n; i++)
        if (strcmp(text->at[i].language, language) == 0)
            return true;
    return false;
}

/* A language that the title offers is promised: a caution that is not there in it is a fault, for it is there that
 * people get hurt; instructions are a warning. */
static void check_language(const struct bulletin *b, const struct schema *s, const char *language)
{
    const struct bulletin_step *first = NULL;
    size_t n_missing = 0;
    for (size_t i = 0; i < b->steps.n; i++) {
        const struct bulletin_step *step = &b->steps.at[i];
        for (size_t k = 0; k < step->cautions.n; k++)
            if (!has_language(&step->cautions.at[k].text, language))
                FAULT_AT(s, step->cautions.at[k].node, "text",
                         "the title offers '%s', but this caution is not there in it", language);
        if (has_language(&step->title, language) && has_language(&step->text, language))
            continue;
        n_missing++;
        first = first == NULL ? step : first;
    }
    if (n_missing > 0)
        WARN_AT(s, first->node, "text",
                "the title offers '%s', but %zu of %zu steps lack it, this one first", language,
                n_missing, b->steps.n);
}

void checks_steps(const struct bulletin *b, const struct schema *s)
{
    size_t n_holds = 0;
    check_cutting(b, s);
    checks_unique(s, CHECKS_IDS(b->steps, bulletin_step), "step");
    check_items(b, s, true);
    check_items(b, s, false);
    for (size_t i = 0; i < b->steps.n; i++) {
        check_step(b, s, &b->steps.at[i]);
        n_holds += b->steps.at[i].hold != BULLETIN_HOLD_NONE;
    }
    if (n_holds == 0)
        WARN_AT(s, b->node, "steps", "no step holds for anything: it can all be ticked off unseen");
    for (size_t i = 0; i < b->head.title.n; i++)
        if (strcmp(b->head.title.at[i].language, b->head.language) != 0)
            check_language(b, s, b->head.title.at[i].language);
}

/* rule_scope: owns the rules about the unit, its labels and build windows, and the revision that was worked by. */
#include "desk/rule_in.h"

#include <string.h>

/* ---- what was seen ---- */

static void take_variant(struct rule_run *r, struct rule_site *site, const char *text,
                         struct scope_sight *sight)
{
    const char *code = bulletin_code_of(r->b, text);
    const size_t n = strcspn(code, "*");
    if (n == 0 || n > LABEL_VARIANT_MAX)
        return;
    for (size_t k = 0; k < n; k++)
        site->variant[k] = code[k] >= 'a' && code[k] <= 'z' ? (char)(code[k] - 'a' + 'A') : code[k];
    site->variant[n] = '\0';
    sight->given_variant = site->variant;
}

static void look(struct rule_run *r, size_t i)
{
    struct rule_site *site = &r->sites[i];
    size_t at = 0;
    if (site->at == NULL || site->label == NULL)
        return;
    const struct event *e = job_latest(r->job, rule_item(r->job, site->at, EVENT_LABEL_READ, ""));
    const enum err err = label_read(site->label, strlen(site->label), r->b->scope.labels.at,
                                    r->b->scope.labels.n, &r->sights[i].label, &at);
    site->is_unreadable = err != ERR_OK && err != ERR_AMBIGUOUS;
    r->sights[i].state = err == ERR_OK          ? SCOPE_LABEL_READ
                         : err == ERR_AMBIGUOUS ? SCOPE_LABEL_AMBIGUOUS
                                                : SCOPE_LABEL_UNREAD;
    if (e->as.label_read.variant != NULL)
        take_variant(r, site, e->as.label_read.variant, &r->sights[i]);
}

/* ---- the VIN ---- */

static void judge_vin(struct rule_run *r)
{
    const struct vin_verdict *v = &r->scope.vin;
    const char *vin = r->c->events->vin;
    if (v->fault == VIN_FAULT_NONE || r->b->scope.vin.check == BULLETIN_VIN_NONE)
        return;
    const bool is_needed = r->b->scope.vin.check == BULLETIN_VIN_REQUIRED;
    if (v->is_filler)
        rule_message(r, "VIN %s is a filler: one digit 17 times", vin);
    else if (v->fault == VIN_FAULT_CHECK)
        rule_message(r, "VIN %s does not check: its 9th character is %c and should be %c%s", vin,
                     v->check_found, v->check_expected,
                     is_needed ? "" : "; only North America and China require it");
    else
        rule_message(r, "VIN %s is not one: it needs 17 characters, none of them I, O or Q", vin);
    if (r->scope.n_repairs > 0)
        rule_cure(r,
                  "Compare the plate; it may be %s (position %d). Send the VIN as it stands on the "
                  "plate, with a photo of it.",
                  r->scope.repairs[0].vin, r->scope.repairs[0].at);
    else
        rule_cure(r, "Compare the plate and send the VIN as it stands there, with a photo of it.");
    rule_add(r, RULE_VIN_CHECK, is_needed ? RULE_ASK : RULE_NOTE, RULE_WHOLE);
}

static void judge_unit(struct rule_run *r)
{
    const char *vin = r->c->events->vin;
    bool is_clear = false;
    for (size_t i = 0; r->has_scope && i < r->n_sites; i++)
        is_clear = is_clear || r->scope.stations[i].reason == SCOPE_VIN_CLEAR;
    if (is_clear) {
        rule_message(r, "VIN %s does not begin as the affected ones do (%s%s)", vin,
                     r->b->scope.vin.prefixes.at[0], r->b->scope.vin.prefixes.n > 1 ? ", ..." : "");
        rule_cure(r, "If the VIN was mistyped, send it as it stands on the plate, with a photo of "
                     "it; else this unit is not in the campaign.");
        rule_add(r, RULE_VIN_PREFIX, RULE_REFUSE, RULE_WHOLE);
    }
    if (r->known->has_builds && !r->known->is_built) {
        rule_message(r, "VIN %s is not in the build list", vin);
        rule_cure(r, "Desk: compare the photo of the plate; correct the VIN with the shop, or add "
                     "the unit to the build list.");
        rule_add(r, RULE_VIN_UNKNOWN, RULE_HOLD, RULE_WHOLE);
    }
}

/* ---- each station ---- */

/* Swept in by a bulletin that does whole units. */
static bool is_swept(const struct rule_run *r)
{
    return r->b->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT &&
           (r->scope.unit == SCOPE_IN || r->scope.unit == SCOPE_MIXED);
}

static void say_unknown(struct rule_run *r, size_t i)
{
    char text[SCOPE_TEXT_MAX];
    struct fault f = {0};
    struct scope_sight again = {0};
    const struct scope_finding *s = &r->scope.stations[i];
    if (r->sites[i].is_unreadable && s->reason == SCOPE_LABEL_MISSING) {
        if (adapt_scope_label(r->b, r->sites[i].label, &again, &f) != ERR_OK)
            rule_message(r, "Station %s: %s", r->sites[i].id, f.message);
        rule_cure(r, "Read the label again, letter by letter, and send it as it stands; a sharp "
                     "photo of it settles the rest.");
    } else {
        scope_reason_text(&r->book->scope.rule, &r->sights[i], &r->scope, s, text, sizeof text);
        rule_message(r, "Station %s, label '%.120s': %s", r->sites[i].id, r->sites[i].label, text);
        scope_settle_text(&r->book->scope.rule, &r->sights[i], &r->scope, s, text, sizeof text);
        rule_cure(r, "To settle it: %s.", text);
    }
    rule_add(r, RULE_SCOPE_UNKNOWN, RULE_ASK, (int)i);
}

static void say_out(struct rule_run *r, size_t i)
{
    char text[SCOPE_TEXT_MAX];
    scope_reason_text(&r->book->scope.rule, &r->sights[i], &r->scope, &r->scope.stations[i], text,
                      sizeof text);
    rule_message(r, "Station %s, label '%.120s': %s", r->sites[i].id, r->sites[i].label, text);
    rule_cure(r, "If the label was mistyped, send it again with a sharp photo of it; else this "
                 "station is not in the campaign.");
    rule_add(r, RULE_OUT_OF_SCOPE, RULE_REFUSE, (int)i);
}

static bool is_about_vin(enum scope_reason reason)
{
    return reason == SCOPE_VIN_CLEAR || reason == SCOPE_VIN_FAULTY || reason == SCOPE_VIN_MISSING;
}

static void judge_site(struct rule_run *r, size_t i)
{
    const struct rule_site *site = &r->sites[i];
    const struct scope_finding *s = &r->scope.stations[i];
    if (site->label == NULL) {
        rule_message(r, "Station %s was worked on, but its label was not read", site->id);
        rule_cure(r, "Send what stands on the label of %s, with a photo of it.", site->id);
        rule_add(r, RULE_LABEL_MISSING, RULE_ASK, (int)i);
        return;
    }
    if (is_swept(r) || is_about_vin(s->reason))
        return;
    if (s->verdict == SCOPE_UNKNOWN)
        say_unknown(r, i);
    else if (s->verdict == SCOPE_OUT)
        say_out(r, i);
}

/* What the technician's device found is only compared: both ways of putting a swept station count as agreeing. A station that is
 * open has its own finding. */
static void compare_scope(struct rule_run *r, size_t i)
{
    static const enum scope_verdict verdicts[EVENT_VERDICT_N] = {
        [EVENT_IN] = SCOPE_IN, [EVENT_OUT] = SCOPE_OUT, [EVENT_UNKNOWN] = SCOPE_UNKNOWN};
    const struct rule_site *site = &r->sites[i];
    const struct event *e = job_latest(r->job, rule_item(r->job, site->at, EVENT_SCOPE_FOUND, ""));
    if (e == NULL || site->label == NULL || is_about_vin(r->scope.stations[i].reason))
        return;
    const enum scope_verdict theirs = verdicts[e->as.scope_found.verdict],
                             ours = r->scope.stations[i].verdict;
    if (theirs == ours || (is_swept(r) && theirs == SCOPE_IN) ||
        (ours == SCOPE_UNKNOWN && site->is_worked))
        return;
    rule_message(r, "Station %s: the technician found '%s', its label comes to '%s'", site->id,
                 scope_verdict_name(theirs), scope_verdict_name(is_swept(r) ? SCOPE_IN : ours));
    rule_cure(r, "Nothing to send. Desk: see which revision and which version of the program the "
                 "shop works by.");
    rule_add(r, RULE_SCOPE_DIFFERS, RULE_NOTE, (int)i);
}

/* ---- labels elsewhere ---- */

/* The build list goes over claims; else by the text, so that the order of the list does not matter. */
static bool goes_before(const struct rule_label *a, const struct rule_label *z)
{
    const bool x = strcmp(a->source, RULE_BUILD_LIST) == 0,
               y = strcmp(z->source, RULE_BUILD_LIST) == 0;
    if (x != y)
        return x;
    const int c = strcmp(a->source, z->source);
    return c != 0 ? c < 0 : strcmp(a->label, z->label) < 0;
}

static void compare_labels(struct rule_run *r, size_t i)
{
    const struct rule_site *site = &r->sites[i];
    const struct rule_label *found = NULL;
    for (size_t k = 0; site->label != NULL && k < r->known->n_labels; k++) {
        const struct rule_label *label = &r->known->labels[k];
        if (label->label == NULL || label->station == NULL ||
            strcmp(label->station, site->id) != 0 ||
            rule_same_label(r->b, site->label, label->label))
            continue;
        if (found == NULL || goes_before(label, found))
            found = label;
    }
    if (found == NULL)
        return;
    const bool is_list = strcmp(found->source, RULE_BUILD_LIST) == 0;
    rule_message(r, "Station %s: the label was read as '%.80s', but %s%.40s has '%.80s'", site->id,
                 site->label, is_list ? "" : "claim ", found->source, found->label);
    rule_cure(r, "Desk: look at the photo of the label. Mistyped: ask the shop to correct it. "
                 "Another part fitted since: overrule with that reason.");
    rule_add(r, RULE_LABEL_DIFFERS, RULE_HOLD, (int)i);
}

static bool has_notes_only(const struct job *job, const struct job_station *at)
{
    for (size_t i = 0; i < at->n_items; i++)
        if (job->items[at->first_item + i].type != EVENT_NOTE)
            return false;
    return true;
}

static void find_unknown_stations(struct rule_run *r)
{
    for (size_t s = 0; s < r->job->n_stations; s++) {
        const char *id = r->job->stations[s].id;
        if (id == NULL || rule_station(r->b, id) >= 0 ||
            has_notes_only(r->job, &r->job->stations[s]))
            continue;
        rule_message(r, "The bulletin has no station %s", id);
        rule_cure(r, "Send the work again under the station's own name, as the bulletin has it.");
        r->draft.station = id;
        rule_add(r, RULE_STATION_UNKNOWN, RULE_ASK, RULE_OTHER);
    }
}

void rule_scope(struct rule_run *r)
{
    const char *vin = r->c->events->vin;
    size_t at = 0;
    for (size_t i = 0; i < r->n_sites; i++)
        look(r, i);
    const enum err e =
        scope_judge(&r->book->scope.rule, vin, strlen(vin), r->sights, &r->scope, &at);
    r->has_scope = e == ERR_OK;
    if (!r->has_scope) {
        rule_message(r, "The bulletin's scope cannot be used: %s", err_text(e));
        rule_cure(r, "Desk: check the bulletin.");
        rule_add(r, RULE_SCOPE_UNKNOWN, RULE_HOLD, RULE_WHOLE);
    }
    if (r->has_scope)
        judge_vin(r);
    judge_unit(r);
    for (size_t i = 0; i < r->n_sites; i++) {
        if (r->has_scope && r->sites[i].is_worked)
            judge_site(r, i);
        if (r->has_scope)
            compare_scope(r, i);
        if (r->sites[i].is_worked)
            compare_labels(r, i);
    }
    find_unknown_stations(r);
}

/* ---- the bulletin worked by ---- */

/* When the job was begun, by the device: its first "opened", else its first work; EVENT_ABSENT when it has neither. */
static int64_t opened_ms(const struct job *job)
{
    const struct job_item *item = job_item(job, EVENT_OPENED, NULL, NULL);
    return item != NULL ? job->entries[item->entries[0]].place_ms : job->first_ms;
}

void rule_bulletin(struct rule_run *r)
{
    const struct event_list *l = r->c->events;
    const struct bulletin_head *head = &r->b->head;
    char issued[DATE_SHOW_SIZE], begun[DATE_SHOW_SIZE];
    const int64_t opened = opened_ms(r->job);
    if (strcmp(l->bulletin_id, head->id) != 0) {
        rule_message(r, "The work was done by bulletin %s, not by %s", l->bulletin_id, head->id);
        rule_cure(r, "Desk: rule it by that bulletin.");
        rule_add(r, RULE_BULLETIN_DIFFERS, RULE_HOLD, RULE_WHOLE);
    } else if (l->revision > head->revision) {
        rule_message(r, "The work was done by revision %lld of %s; the newest kept here is %d",
                     (long long)l->revision, head->id, (int)head->revision);
        rule_cure(r, "Desk: keep revision %lld, then rule again.", (long long)l->revision);
        rule_add(r, RULE_REVISION_NEW, RULE_HOLD, RULE_WHOLE);
    } else if (l->revision == head->revision) {
        if (r->book->sha256[0] == '\0' || strcmp(l->bulletin_sha256, r->book->sha256) == 0)
            return;
        rule_message(r,
                     "The work was done by another text of %s revision %d (its digest begins "
                     "%.12s, the one kept here %.12s)",
                     head->id, (int)head->revision, l->bulletin_sha256, r->book->sha256);
        rule_cure(r, "Desk: find out which file the shop has; a changed bulletin needs a new "
                     "revision number.");
        rule_add(r, RULE_BULLETIN_DIFFERS, RULE_HOLD, RULE_WHOLE);
    } else if (opened != EVENT_ABSENT && rule_day(opened) >= head->issued) {
        date_show(head->issued, issued);
        date_show(rule_day(opened), begun);
        rule_message(
            r, "The work was begun on %s (UTC) by revision %lld of %s; revision %d holds since %s",
            begun, (long long)l->revision, head->id, (int)head->revision, issued);
        rule_cure(r,
                  "Compare the two revisions; do what the new one asks beyond the old one, and "
                  "send the job again by revision %d.",
                  (int)head->revision);
        rule_add(r, RULE_REVISION_OLD, RULE_ASK, RULE_WHOLE);
    }
}

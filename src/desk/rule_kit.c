/* rule_kit: owns the rules about kits and cutting: the kit against what was told of the old parts, racks measured, and each cut
 * against its stock and its measured length. */
#include "desk/rule_in.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum unit shown_unit(const struct bulletin_kit *kit)
{
    return kit->racks.n > 0 ? kit->racks.at[0].stock.unit : UNIT_MM;
}

/* ---- the kit ---- */

static void add_wrong(struct rule_run *r, size_t i)
{
    rule_cure(r, "Desk: ask the shop which kit is fitted and for a photo of its number and of the "
                 "old parts. Fitted wrong: it must be done again.");
    rule_add(r, RULE_KIT_WRONG, RULE_HOLD, (int)i);
}

/* What was told of the old parts, over what the station fixes; false when the two do not go together (and said). */
static bool read_values(struct rule_run *r, size_t i, int values[KIT_ATTRIBUTES_MAX])
{
    const struct rule_site *site = &r->sites[i];
    memcpy(values, r->book->values[i], sizeof r->book->values[i]);
    for (size_t p = 0; p < site->chosen->with.n; p++) {
        const struct event_pair *pair = &site->chosen->with.pairs[p];
        size_t a = 0;
        while (a < r->book->kits.n_attributes &&
               strcmp(r->b->scope.attributes.at[a].id, pair->name) != 0)
            a++;
        const struct bulletin_attribute *attribute =
            a < r->book->kits.n_attributes ? &r->b->scope.attributes.at[a] : NULL;
        const int value = attribute != NULL ? adapt_value(attribute, pair->value) : KIT_ANY;
        if (value == KIT_ANY) {
            rule_message(
                r, "Station %s: the kit was chosen with %s %s, which the bulletin does not know",
                site->id, pair->name, pair->value);
            add_wrong(r, i);
            return false;
        }
        if (values[a] != KIT_ANY && values[a] != value) {
            rule_message(r, "Station %s has %s %s; the kit was chosen with %s %s", site->id,
                         pair->name, attribute->values.at[values[a]], pair->name, pair->value);
            add_wrong(r, i);
            return false;
        }
        values[a] = value;
    }
    return true;
}

/* The kit that these values ask for, by attributes alone; NULL when none or several do. */
static const struct bulletin_kit *kit_for(const struct rule_run *r,
                                          const int values[KIT_ATTRIBUTES_MAX])
{
    const struct adapt_kits *kits = &r->book->kits;
    const struct bulletin_kit *found = NULL;
    for (size_t k = 0; k < kits->n_kits; k++) {
        bool is_fit = true;
        for (size_t a = 0; a < kits->n_attributes; a++)
            is_fit = is_fit &&
                     (kits->kits[k].values[a] == KIT_ANY || kits->kits[k].values[a] == values[a]);
        if (is_fit && found != NULL)
            return NULL;
        if (is_fit)
            found = &r->b->kits.at[k];
    }
    return found;
}

static void judge_attributes(struct rule_run *r, size_t i)
{
    const struct rule_site *site = &r->sites[i];
    const struct kit *kit = &r->book->kits.kits[site->kit];
    int values[KIT_ATTRIBUTES_MAX];
    if (!read_values(r, i, values))
        return;
    for (size_t a = 0; a < r->book->kits.n_attributes; a++) {
        const struct bulletin_attribute *attribute = &r->b->scope.attributes.at[a];
        if (kit->values[a] == KIT_ANY || kit->values[a] == values[a])
            continue;
        if (values[a] == KIT_ANY) {
            rule_message(r,
                         "Station %s: kit %s is for %s %s, and nobody told the %s that was found",
                         site->id, site->chosen->kit, attribute->id,
                         attribute->values.at[kit->values[a]], attribute->id);
            rule_cure(r,
                      "Send what the old parts of %s showed: the %s. A photo of them settles it.",
                      site->id, attribute->id);
            rule_add(r, RULE_KIT_MISSING, RULE_ASK, (int)i);
            continue;
        }
        const struct bulletin_kit *due = kit_for(r, values);
        rule_message(r, "Station %s has %s %s; kit %s is for %s %s%s%s", site->id, attribute->id,
                     attribute->values.at[values[a]], site->chosen->kit, attribute->id,
                     attribute->values.at[kit->values[a]], due != NULL ? "; due is kit " : "",
                     due != NULL ? due->id : "");
        add_wrong(r, i);
    }
}

static void judge_kit(struct rule_run *r, size_t i)
{
    const struct rule_site *site = &r->sites[i];
    if (site->chosen == NULL) {
        rule_message(r, "Station %s: no kit was written down", site->id);
        rule_cure(r, "Send which kit was fitted at %s, and what the old parts showed.", site->id);
        rule_add(r, RULE_KIT_MISSING, RULE_ASK, (int)i);
        return;
    }
    if (site->kit < 0) {
        rule_message(r, "Station %s: the bulletin has no kit %s", site->id, site->chosen->kit);
        add_wrong(r, i);
        return;
    }
    judge_attributes(r, i);
}

/* ---- racks ---- */

/* What is known of one rack of a station's kit. */
struct rack {
    size_t site, index; /* of the piece in the kit */
    const char *id;
    const struct cut_piece *piece;
    const struct bulletin_rack *from;
    const struct job_item *measured, *cut; /* NULL: none */
    enum unit show;
};

static int64_t measured_nm(const struct rule_run *r, const struct rack *k)
{
    return job_latest(r->job, k->measured)->as.rack_measured.length_nm;
}

/* The measurement that is nearest to a length: of two that differ either may have been used. */
static int64_t nearest_nm(const struct rule_run *r, const struct rack *k, int64_t nm)
{
    int64_t best = measured_nm(r, k);
    for (size_t i = 0; i < k->measured->n; i++) {
        const int64_t one =
            r->job->entries[k->measured->entries[i]].event->as.rack_measured.length_nm;
        if (llabs(one - nm) < llabs(best - nm))
            best = one;
    }
    return best;
}

static void add_cut_wrong(struct rule_run *r, const struct rack *k)
{
    rule_cure(r, "Desk: ask for a photo of the fitted rack with the tape laid along it. A wrong "
                 "figure: ask for the right one. A wrong rack: it must be renewed.");
    rule_add(r, RULE_CUT_WRONG, RULE_HOLD, (int)k->site);
}

static bool is_apart(const struct rule_run *r, int64_t a, int64_t b)
{
    return (double)llabs(a - b) > CUT_COVERAGE * r->book->kits.u.tape_nm;
}

static const char *end_name(enum bulletin_end end)
{
    return end == BULLETIN_END_UPPER ? "upper" : "lower";
}

/* Stock, length, mark and offcut must hang together: needed + kerf + offcut = stock (core/cut.h). */
static void judge_cut_figures(struct rule_run *r, const struct rack *k, const struct event_cut *e,
                              const struct cut_answer *plan)
{
    char a[RULE_AMOUNT_SIZE], z[RULE_AMOUNT_SIZE];
    const char *site = r->sites[k->site].id;
    if (is_apart(r, e->stock_nm, k->piece->stock_nm)) {
        rule_message(r, "Rack %s of %s was cut from %s; the kit's is %s long", k->id, site,
                     rule_length(e->stock_nm, k->show, a),
                     rule_length(k->piece->stock_nm, k->show, z));
        add_cut_wrong(r, k);
    }
    if (k->measured != NULL && is_apart(r, e->needed_nm, nearest_nm(r, k, e->needed_nm))) {
        rule_message(r,
                     "Rack %s of %s was cut to %s; the old one measured %s, and the tape does not "
                     "explain it",
                     k->id, site, rule_length(e->needed_nm, k->show, a),
                     rule_length(measured_nm(r, k), k->show, z));
        add_cut_wrong(r, k);
    }
    if (plan == NULL)
        return;
    if (is_apart(r, e->mark_nm, plan->mark_nm)) {
        rule_message(
            r, "Rack %s of %s was marked at %s; for %s the mark stands at %s from the kept end",
            k->id, site, rule_length(e->mark_nm, k->show, a), rule_length(e->needed_nm, k->show, z),
            rule_length(plan->mark_nm, k->show, (char[RULE_AMOUNT_SIZE]){0}));
        add_cut_wrong(r, k);
    }
    if (e->offcut_nm != EVENT_ABSENT && is_apart(r, e->offcut_nm, plan->offcut_nm)) {
        rule_message(
            r,
            "Rack %s of %s left an offcut of %s; %s of stock less %s and the blade's %s leave %s",
            k->id, site, rule_length(e->offcut_nm, k->show, a),
            rule_length(k->piece->stock_nm, k->show, z),
            rule_length(e->needed_nm, k->show, (char[RULE_AMOUNT_SIZE]){0}),
            rule_length(k->piece->kerf_nm, k->show, (char[RULE_AMOUNT_SIZE]){0}),
            rule_length(plan->offcut_nm, k->show, (char[RULE_AMOUNT_SIZE]){0}));
        add_cut_wrong(r, k);
    }
}

static void judge_end(struct rule_run *r, const struct rack *k, const struct event_cut *e)
{
    const enum bulletin_end keep = k->from->keep;
    if (e->from_end == NULL || keep == BULLETIN_END_NONE ||
        strcmp(e->from_end, end_name(keep)) == 0)
        return;
    rule_message(r, "Rack %s of %s was marked from the %.40s end; its kept end is the %s one",
                 k->id, r->sites[k->site].id, e->from_end, end_name(keep));
    add_cut_wrong(r, k);
}

static void judge_cut(struct rule_run *r, const struct rack *k)
{
    const struct event_cut *e = &job_latest(r->job, k->cut)->as.cut;
    const char *site = r->sites[k->site].id;
    char text[CUT_TEXT_MAX], offcut[RULE_AMOUNT_SIZE], most[RULE_AMOUNT_SIZE];
    struct cut_answer plan;
    if (k->piece->is_ready) {
        rule_message(r, "Rack %s of %s is ready made and never cut, but a cut was written down",
                     k->id, site);
        add_cut_wrong(r, k);
        return;
    }
    const enum err err = cut_plan(k->piece, e->needed_nm, &r->book->kits.u, &plan);
    if (err == ERR_OK && plan.status != CUT_DO && plan.status != CUT_NOT_NEEDED) {
        (void)cut_status_text(k->piece, &plan, k->show, text, sizeof text);
        rule_message(r, "Rack %s of %s cannot have been cut so: %s", k->id, site, text);
        add_cut_wrong(r, k);
    }
    judge_cut_figures(r, k, e, err == ERR_OK && plan.status == CUT_DO ? &plan : NULL);
    judge_end(r, k, e);
    if (err == ERR_OK && (plan.warnings >> CUT_WARN_OFFCUT & 1U) != 0) {
        rule_message(r, "Rack %s of %s left an offcut of %s, more than the %s expected", k->id,
                     site, rule_length(plan.offcut_nm, k->show, offcut),
                     rule_length(k->piece->offcut_max_nm, k->show, most));
        rule_cure(
            r,
            "Nothing to send. Desk: many of these mean that a kit with a shorter rack is missing.");
        rule_add(r, RULE_CUT_WRONG, RULE_NOTE, (int)k->site);
    }
}

static void judge_rack(struct rule_run *r, const struct rack *k)
{
    const char *site = r->sites[k->site].id, *kit = r->sites[k->site].chosen->kit;
    char text[CUT_TEXT_MAX];
    struct cut_answer plan = {.status = CUT_DO};
    if (k->measured == NULL && !k->piece->is_ready) {
        rule_message(r, "Rack %s of %s was not measured, and kit %s is cut to length", k->id, site,
                     kit);
        rule_cure(r,
                  "Send the length that the old rack %s had, and a photo of it with the tape laid "
                  "along it.",
                  k->id);
        rule_add(r, RULE_RACK_MISSING, RULE_ASK, (int)k->site);
    }
    if (k->measured != NULL &&
        cut_plan(k->piece, measured_nm(r, k), &r->book->kits.u, &plan) == ERR_OK &&
        !cut_can(plan.status)) {
        (void)cut_status_text(k->piece, &plan, k->show, text, sizeof text);
        rule_message(r, "Rack %s of %s cannot come from kit %s: %s", k->id, site, kit, text);
        add_wrong(r, k->site);
    }
    if (k->cut != NULL) {
        judge_cut(r, k);
    } else if (!k->piece->is_ready && plan.status != CUT_NOT_NEEDED) {
        rule_message(r, "Rack %s of %s: kit %s is cut to length, but no cut was written down",
                     k->id, site, kit);
        rule_cure(r, "Send the length to which rack %s was cut, its mark and its offcut.", k->id);
        rule_add(r, RULE_CUT_MISSING, RULE_ASK, (int)k->site);
    }
}

/* Two racks of one column ought to be equally long (common practice). */
static void compare_racks(struct rule_run *r, const struct rack *racks, size_t n)
{
    int64_t lengths[CUT_RACKS_MAX];
    int group[CUT_RACKS_MAX];
    char a[RULE_AMOUNT_SIZE], z[RULE_AMOUNT_SIZE], allowed[RULE_AMOUNT_SIZE];
    struct cut_pair pair;
    for (size_t i = 0; i < n; i++) {
        lengths[i] = racks[i].measured != NULL ? measured_nm(r, &racks[i]) : 0;
        group[i] = racks[i].measured != NULL ? 0 : -1;
    }
    if (!cut_remeasure(lengths, group, n, r->book->kits.u.tape_nm, r->book->kits.remeasure_factor,
                       &pair))
        return;
    const struct rack *x = &racks[pair.a], *y = &racks[pair.b];
    if (x->measured->n > 1 && y->measured->n > 1)
        return; /* measured twice: they do differ */
    rule_message(r,
                 "Racks %s (%s) and %s (%s) of %s differ by more than the tape explains (%s), and "
                 "were not measured twice",
                 x->id, rule_length(lengths[pair.a], x->show, a), y->id,
                 rule_length(lengths[pair.b], y->show, z), r->sites[x->site].id,
                 rule_length((int64_t)pair.allowed_nm, x->show, allowed));
    rule_cure(
        r, "Send a second measurement of both old racks, with photos of the tape laid along them.");
    rule_add(r, RULE_RACKS_DISAGREE, RULE_ASK, (int)x->site);
}

/* A cut of a rack that the kit does not hold. */
static void find_strange_cuts(struct rule_run *r, size_t i, const struct rack *racks, size_t n)
{
    const struct rule_site *site = &r->sites[i];
    for (size_t k = 0; k < site->at->n_items; k++) {
        const struct job_item *item = &r->job->items[site->at->first_item + k];
        bool is_known = item->type != EVENT_CUT;
        for (size_t p = 0; p < n && !is_known; p++)
            is_known = strcmp(racks[p].id, item->key) == 0;
        if (is_known)
            continue;
        rule_message(r, "Station %s: a rack %s was cut, and kit %s holds none of that name",
                     site->id, item->key, site->chosen->kit);
        rule_cure(r, "Desk: ask the shop which kit and which rack this was.");
        rule_add(r, RULE_CUT_WRONG, RULE_HOLD, (int)i);
    }
}

static void judge_racks(struct rule_run *r, size_t i)
{
    const struct rule_site *site = &r->sites[i];
    const struct kit *kit = &r->book->kits.kits[site->kit];
    struct rack racks[CUT_RACKS_MAX];
    for (size_t p = 0; p < kit->n_pieces; p++) {
        const char *id = r->book->kits.racks[kit->piece_rack[p]];
        racks[p] = (struct rack){.site = i,
                                 .index = p,
                                 .id = id,
                                 .piece = &kit->pieces[p],
                                 .from = r->book->kits.pieces[site->kit][p],
                                 .measured = rule_item(r->job, site->at, EVENT_RACK_MEASURED, id),
                                 .cut = rule_item(r->job, site->at, EVENT_CUT, id),
                                 .show = shown_unit(&r->b->kits.at[site->kit])};
        judge_rack(r, &racks[p]);
    }
    compare_racks(r, racks, kit->n_pieces);
    find_strange_cuts(r, i, racks, kit->n_pieces);
}

void rule_kit(struct rule_run *r)
{
    for (size_t i = 0; i < r->n_sites; i++) {
        if (!r->sites[i].is_worked)
            continue;
        judge_kit(r, i);
        if (r->sites[i].kit >= 0)
            judge_racks(r, i);
    }
}

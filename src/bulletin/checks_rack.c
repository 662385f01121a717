/* checks_rack: owns what can be wrong with racks, their cutting and their timing: lengths that cannot be, teeth that do not
 * mesh, a saw that eats the piece. */
#include "bulletin/checks.h"
#include "core/gear.h"

#include <string.h>

enum { MODULE_MIN_NM = 100000 }; /* module 0.1 mm: finer is a slip of the unit */

static bool is_module(const struct bulletin_amount *module)
{
    return module->nano <= GEAR_MODULE_MAX_NM && module->nano >= MODULE_MIN_NM;
}

static void check_module(const struct schema *s, const struct yamlnode *node,
                         const struct bulletin_amount *module)
{
    char shown[QUANTITY_SHOW_MAX];
    if (!is_module(module))
        FAULT_AT(s, node, "module",
                 "module %s cannot be meant: racks have 0.1 mm to 100 mm; a module is pitch / pi",
                 checks_amount(module, shown));
}

/* ---- one rack ---- */

static void check_ends(const struct schema *s, const struct bulletin_rack *r)
{
    const bool is_keep_given = r->keep != BULLETIN_END_NONE;
    if (r->supply == BULLETIN_SUPPLY_CUT && r->relief == BULLETIN_RELIEF_BOTH)
        FAULT_AT(s, r->node, "supply",
                 "a piece relieved at both ends is not cut (common practice): supply it ready");
    else if (r->supply == BULLETIN_SUPPLY_CUT && r->relief == BULLETIN_RELIEF_NONE &&
             !is_keep_given)
        FAULT_AT(s, r->node, "keep",
                 "neither end is relieved, so say which one is kept: the mark is measured from it");
    if (is_keep_given && ((r->relief == BULLETIN_RELIEF_UPPER && r->keep == BULLETIN_END_LOWER) ||
                          (r->relief == BULLETIN_RELIEF_LOWER && r->keep == BULLETIN_END_UPPER)))
        FAULT_AT(s, r->node, "keep",
                 "the relieved end is the one that is kept: a piece relieved at one end is cut at "
                 "the other (common practice)");
}

static void check_ready(const struct schema *s, const struct bulletin_rack *r)
{
    if (r->least.is_given)
        FAULT_AT(s, r->node, "least",
                 "a ready piece has one length: use 'fit' to say how well it must fit");
    if (r->greatest.is_given)
        FAULT_AT(s, r->node, "greatest",
                 "a ready piece has one length: use 'fit' to say how well it must fit");
    if (!r->fit.is_given || r->fit.nano == 0)
        WARN_AT(s, r->node, "fit",
                "without 'fit' this piece suits only a need of exactly its length");
}

static void check_range(const struct schema *s, const struct bulletin_rack *r)
{
    char a[QUANTITY_SHOW_MAX], z[QUANTITY_SHOW_MAX];
    if (r->least.is_given && r->greatest.is_given && r->least.nano > r->greatest.nano)
        FAULT_AT(s, r->node, "least", "the least length (%s) is above the greatest (%s)",
                 checks_amount(&r->least, a), checks_amount(&r->greatest, z));
    else if (r->greatest.is_given && r->greatest.nano > r->stock.nano)
        FAULT_AT(s, r->node, "greatest", "the greatest length (%s) is longer than the stock (%s)",
                 checks_amount(&r->greatest, a), checks_amount(&r->stock, z));
    else if (r->least.is_given && r->least.nano > r->stock.nano)
        FAULT_AT(s, r->node, "least", "the least length (%s) is longer than the stock (%s)",
                 checks_amount(&r->least, a), checks_amount(&r->stock, z));
}

static void check_cut_piece(const struct bulletin *b, const struct schema *s,
                            const struct bulletin_rack *r)
{
    char a[QUANTITY_SHOW_MAX], z[QUANTITY_SHOW_MAX];
    check_range(s, r);
    if (b->cut.node == NULL)
        return;
    const int64_t kerf = b->cut.kerf.nano;
    if (kerf >= r->stock.nano) {
        FAULT_AT(s, r->node, "stock", "the saw's cut (%s) is as wide as the piece is long (%s)",
                 checks_amount(&b->cut.kerf, a), checks_amount(&r->stock, z));
        return;
    }
    const int64_t longest = r->greatest.is_given ? r->greatest.nano : r->stock.nano;
    if (longest < r->stock.nano && longest > r->stock.nano - kerf)
        WARN_AT(s, r->node, "greatest",
                "up to %s of %s leaves less than the saw's cut: such lengths cannot be cut",
                checks_amount(&r->greatest, a), checks_amount(&r->stock, z));
    if (r->least.is_given && b->cut.offcut_max.is_given &&
        r->stock.nano - r->least.nano - kerf > b->cut.offcut_max.nano)
        WARN_AT(s, r->node, "least",
                "cut to %s it leaves more than the largest offcut (%s): a technician would be "
                "warned of a wrong kit",
                checks_amount(&r->least, a), checks_amount(&b->cut.offcut_max, z));
}

static void check_rack(const struct bulletin *b, const struct schema *s,
                       const struct bulletin_rack *r)
{
    char a[QUANTITY_SHOW_MAX], z[QUANTITY_SHOW_MAX];
    check_module(s, r->node, &r->module);
    check_ends(s, r);
    if (r->supply == BULLETIN_SUPPLY_READY)
        check_ready(s, r);
    else
        check_cut_piece(b, s, r);
    if (r->first_tooth.is_given && r->first_tooth.nano >= r->stock.nano)
        FAULT_AT(s, r->node, "first_tooth", "the first tooth (%s) lies beyond the piece (%s)",
                 checks_amount(&r->first_tooth, a), checks_amount(&r->stock, z));
    if (!is_module(&r->module))
        return;
    if (r->fit.is_given && 2 * r->fit.nano > gear_pitch_nm(r->module.nano))
        WARN_AT(s, r->node, "fit", "%s is more than half a tooth's pitch",
                checks_amount(&r->fit, a));
    if (b->timing.node != NULL && r->module.nano != b->timing.module.nano)
        FAULT_AT(s, r->node, "module",
                 "the rack has module %s, but timing counts jumps of module %s",
                 checks_amount(&r->module, a), checks_amount(&b->timing.module, z));
}

/* ---- cutting ---- */

static void check_length_instrument(const struct bulletin *b, const struct schema *s,
                                    const struct yamlnode *at, const char *id)
{
    if (!checks_known(s, at, id, CHECKS_IDS(b->instruments, bulletin_instrument), "instrument"))
        return;
    const struct bulletin_instrument *i = bulletin_instrument_find(b, id);
    if (i->resolution.dim != DIM_LENGTH)
        FAULT_AT(s, at, "", "'%s' reads to %s: here lengths are read", id,
                 quantity_unit_name(i->resolution.unit));
}

static void check_sliver(const struct bulletin *b, const struct schema *s)
{
    char a[QUANTITY_SHOW_MAX];
    for (size_t i = 0; i < b->kits.n && b->cut.sliver.is_given; i++)
        for (size_t k = 0; k < b->kits.at[i].racks.n; k++) {
            const struct bulletin_amount *module = &b->kits.at[i].racks.at[k].module;
            if (!is_module(module) || 2 * b->cut.sliver.nano <= gear_pitch_nm(module->nano))
                continue;
            WARN_AT(s, b->cut.node, "sliver",
                    "%s is more than half a pitch, and no part tooth is thicker: every cut "
                    "through a tooth would be warned of",
                    checks_amount(&b->cut.sliver, a));
            return;
        }
}

static void check_cut(const struct bulletin *b, const struct schema *s,
                      const struct yamlnode *first_cut)
{
    if (b->cut.node == NULL) {
        if (first_cut != NULL)
            FAULT_AT(s, first_cut, "",
                     "this rack is cut, but the bulletin has no 'cut' section that says how");
        return;
    }
    check_length_instrument(b, s, yamlnode_get(b->cut.node, "instrument"), b->cut.instrument);
    if (first_cut == NULL)
        WARN_AT(s, b->node, "cut", "no kit has a rack to cut: this section is never used");
    check_sliver(b, s);
}

void checks_racks(const struct bulletin *b, const struct schema *s)
{
    const struct yamlnode *first_cut = NULL;
    for (size_t i = 0; i < b->kits.n; i++) {
        const struct bulletin_kit *kit = &b->kits.at[i];
        checks_unique(s, CHECKS_IDS(kit->racks, bulletin_rack), "rack");
        for (size_t k = 0; k < kit->racks.n; k++) {
            const struct bulletin_rack *r = &kit->racks.at[k];
            check_rack(b, s, r);
            if (first_cut == NULL && r->supply == BULLETIN_SUPPLY_CUT)
                first_cut = yamlnode_get(r->node, "supply");
        }
    }
    check_cut(b, s, first_cut);
}

/* ---- timing ---- */

/* Whether the station can get a kit that holds such a rack. */
static bool has_rack(const struct bulletin *b, const struct bulletin_station *station,
                     const char *rack)
{
    for (size_t i = 0; i < b->kits.n; i++) {
        const struct bulletin_kit *kit = &b->kits.at[i];
        bool serves = true;
        for (size_t p = 0; p < kit->fits.n; p++) {
            const char *fixed = bulletin_station_value(station, kit->fits.at[p].key);
            serves = serves && (fixed == NULL || strcmp(fixed, kit->fits.at[p].value) == 0);
        }
        if (serves && checks_has(CHECKS_IDS(kit->racks, bulletin_rack), rack))
            return true;
    }
    return false;
}

static void check_timing_station(const struct bulletin *b, const struct schema *s,
                                 const struct bulletin_timing_station *t)
{
    const struct yamlnode *list = yamlnode_get(t->node, "racks");
    if (!checks_known(s, yamlnode_get(t->node, "station"), t->station,
                      CHECKS_IDS(b->scope.stations, bulletin_station), "station"))
        return;
    for (size_t i = 0; i < t->racks.n; i++)
        if (!has_rack(b, bulletin_station_find(b, t->station), t->racks.at[i]))
            FAULT_AT(s, list->items[i], "", "no kit for station '%s' holds a rack '%s'", t->station,
                     t->racks.at[i]);
    checks_words_unique(s, list, t->racks.at, t->racks.n);
}

static void check_timing_limit(const struct schema *s, const struct bulletin_timing *t)
{
    char a[QUANTITY_SHOW_MAX];
    const int64_t pitch = gear_pitch_nm(t->module.nano);
    if (pitch == 0)
        return;
    if (t->limit.nano >= pitch)
        FAULT_AT(s, t->node, "limit",
                 "%s is a tooth's pitch (%.3f mm) or more: a rack one tooth out would pass",
                 checks_amount(&t->limit, a), (double)pitch / 1e6);
    else if (2 * t->limit.nano >= pitch)
        WARN_AT(s, t->node, "limit",
                "%s is half a pitch (%.3f mm) or more: a rack one tooth out may pass when it is "
                "misread a little",
                checks_amount(&t->limit, a), (double)pitch / 2e6);
}

void checks_timing(const struct bulletin *b, const struct schema *s)
{
    const struct bulletin_timing *t = &b->timing;
    if (t->node == NULL)
        return;
    check_module(s, t->node, &t->module);
    check_timing_limit(s, t);
    check_length_instrument(b, s, yamlnode_get(t->node, "instrument"), t->instrument);
    for (size_t i = 0; i < t->stations.n; i++) {
        check_timing_station(b, s, &t->stations.at[i]);
        for (size_t k = 0; k < i; k++)
            if (strcmp(t->stations.at[i].station, t->stations.at[k].station) == 0)
                FAULT_AT(s, t->stations.at[i].node, "station",
                         "station '%s' is timed already, in line %d", t->stations.at[i].station,
                         t->stations.at[k].node->line);
    }
}

/* checks_kit: owns what can be wrong with `parts`, `kits` and `instruments`: above all that every station gets a kit and
 * every kit can be had. */
#include "bulletin/checks.h"

#include <stdio.h>
#include <string.h>

enum { COMBINATIONS_MAX = 4096 };

/* ---- parts ---- */

static bool is_inspected(const struct bulletin *b, const char *part)
{
    for (size_t i = 0; i < b->steps.n; i++)
        for (size_t k = 0; k < b->steps.at[i].inspections.n; k++)
            if (strcmp(b->steps.at[i].inspections.at[k].part, part) == 0)
                return true;
    return false;
}

static bool is_in_a_kit(const struct bulletin *b, const char *part)
{
    for (size_t i = 0; i < b->kits.n; i++)
        for (size_t k = 0; k < b->kits.at[i].parts.n; k++)
            if (strcmp(b->kits.at[i].parts.at[k].part, part) == 0)
                return true;
    return false;
}

static void check_parts(const struct bulletin *b, const struct schema *s)
{
    checks_unique(s, CHECKS_IDS(b->parts, bulletin_part), "part");
    for (size_t i = 0; i < b->parts.n; i++) {
        const struct bulletin_part *part = &b->parts.at[i];
        if (part->is_kept && !is_inspected(b, part->id))
            FAULT_AT(s, part->node, "kept",
                     "'%s' goes back in from the old assembly, but no step inspects it: add an "
                     "inspection with a criterion",
                     part->id);
        if (part->is_kept && is_in_a_kit(b, part->id))
            WARN_AT(s, part->node, "kept", "'%s' is kept, yet it is in a kit too", part->id);
        if (!part->is_kept && !is_in_a_kit(b, part->id))
            WARN_AT(s, part->node, "id", "no kit holds the part '%s'", part->id);
    }
}

static void check_contents(const struct bulletin *b, const struct schema *s,
                           const struct bulletin_kit *kit)
{
    for (size_t i = 0; i < kit->parts.n; i++) {
        const struct bulletin_content *c = &kit->parts.at[i];
        const struct yamlnode *at = yamlnode_get(c->node, "part");
        (void)checks_known(s, at, c->part, CHECKS_IDS(b->parts, bulletin_part), "part");
        for (size_t k = 0; k < i; k++)
            if (strcmp(kit->parts.at[k].part, c->part) == 0) {
                FAULT_AT(s, at, "", "part '%s' is in this kit twice: write its count once",
                         c->part);
                break;
            }
    }
}

/* ---- which kit serves which station ---- */

static const char *wanted(const struct bulletin_kit *kit, const char *attribute)
{
    for (size_t i = 0; i < kit->fits.n; i++)
        if (strcmp(kit->fits.at[i].key, attribute) == 0)
            return kit->fits.at[i].value;
    return NULL;
}

/* Whether what the station fixes lets the kit be used there. */
static bool can_serve(const struct bulletin_kit *kit, const struct bulletin_station *station)
{
    for (size_t i = 0; i < kit->fits.n; i++) {
        const char *fixed = bulletin_station_value(station, kit->fits.at[i].key);
        if (fixed != NULL && strcmp(fixed, kit->fits.at[i].value) != 0)
            return false;
    }
    return true;
}

static bool same_pairs(const struct bulletin_kit *a, const struct bulletin_kit *b)
{
    if (a->fits.n != b->fits.n)
        return false;
    for (size_t i = 0; i < a->fits.n; i++) {
        const char *value = wanted(b, a->fits.at[i].key);
        if (value == NULL || strcmp(value, a->fits.at[i].value) != 0)
            return false;
    }
    return true;
}

static bool same_amount(const struct bulletin_amount *a, const struct bulletin_amount *b)
{
    return a->is_given == b->is_given && a->nano == b->nano;
}

/* Whether both kits offer the same lengths in the same way, so that length cannot decide between them. */
static bool same_racks(const struct bulletin_kit *a, const struct bulletin_kit *b)
{
    if (a->racks.n != b->racks.n)
        return false;
    for (size_t i = 0; i < a->racks.n; i++) {
        const struct bulletin_rack *p = &a->racks.at[i], *q = &b->racks.at[i];
        if (strcmp(p->id, q->id) != 0 || p->supply != q->supply || p->relief != q->relief ||
            !same_amount(&p->stock, &q->stock) || !same_amount(&p->least, &q->least) ||
            !same_amount(&p->greatest, &q->greatest) || !same_amount(&p->module, &q->module))
            return false;
    }
    return true;
}

static void check_reach(const struct bulletin *b, const struct schema *s, size_t i)
{
    const struct bulletin_kit *kit = &b->kits.at[i];
    bool serves_any = false;
    for (size_t k = 0; k < b->scope.stations.n; k++)
        serves_any = serves_any || can_serve(kit, &b->scope.stations.at[k]);
    if (!serves_any) {
        FAULT_AT(s, kit->node, "for",
                 "no station can ever get kit '%s': what it is for contradicts every station",
                 kit->id);
        return;
    }
    for (size_t k = 0; k < i; k++)
        if (same_pairs(kit, &b->kits.at[k]) && same_racks(kit, &b->kits.at[k])) {
            FAULT_AT(
                s, kit->node, "id",
                "kit '%s' can never be chosen: '%s' in line %d is for the same and comes first",
                kit->id, b->kits.at[k].id, b->kits.at[k].node->line);
            return;
        }
}

/* Values of the attributes in one combination; index SIZE_MAX: fixed by the station. */
static const char *value_in(const struct bulletin *b, const struct bulletin_station *station,
                            size_t attribute, size_t combination)
{
    const char *fixed = bulletin_station_value(station, b->scope.attributes.at[attribute].id);
    if (fixed != NULL)
        return fixed;
    for (size_t i = 0; i < attribute; i++)
        if (bulletin_station_value(station, b->scope.attributes.at[i].id) == NULL)
            combination /= b->scope.attributes.at[i].values.n;
    const struct bulletin_attribute *a = &b->scope.attributes.at[attribute];
    return a->values.at[combination % a->values.n];
}

static bool is_served(const struct bulletin *b, const struct bulletin_station *station,
                      size_t combination)
{
    for (size_t k = 0; k < b->kits.n; k++) {
        bool fits = true;
        for (size_t a = 0; a < b->scope.attributes.n && fits; a++) {
            const char *want = wanted(&b->kits.at[k], b->scope.attributes.at[a].id);
            fits = want == NULL || strcmp(want, value_in(b, station, a, combination)) == 0;
        }
        if (fits)
            return true;
    }
    return false;
}

static void warn_unserved(const struct bulletin *b, const struct schema *s,
                          const struct bulletin_station *station, size_t combination)
{
    char list[160] = "";
    size_t used = 0;
    for (size_t a = 0; a < b->scope.attributes.n && used < sizeof list; a++)
        used +=
            (size_t)snprintf(list + used, sizeof list - used, "%s%s %s", a > 0 ? ", " : "",
                             b->scope.attributes.at[a].id, value_in(b, station, a, combination));
    WARN_AT(s, station->node, "id", "no kit serves station '%s' with %s", station->id, list);
}

/* Every station, in every combination of what may be found there. */
static void check_served(const struct bulletin *b, const struct schema *s,
                         const struct bulletin_station *station)
{
    size_t n = 1, n_served = 0;
    for (size_t a = 0; a < b->scope.attributes.n && n <= COMBINATIONS_MAX; a++)
        if (bulletin_station_value(station, b->scope.attributes.at[a].id) == NULL)
            n *= b->scope.attributes.at[a].values.n;
    if (n > COMBINATIONS_MAX)
        return; /* 2^12 ways to ask one station: not a bulletin that people could follow */
    for (size_t c = 0; c < n; c++)
        n_served += is_served(b, station, c);
    if (n_served == 0) {
        FAULT_AT(s, station->node, "id", "no kit serves station '%s'", station->id);
        return;
    }
    for (size_t c = 0; c < n; c++)
        if (!is_served(b, station, c)) {
            warn_unserved(b, s, station, c);
            return; /* one example is enough to act on */
        }
}

void checks_kits(const struct bulletin *b, const struct schema *s, bool are_stations_known)
{
    bool is_known = are_stations_known;
    check_parts(b, s);
    checks_unique(s, CHECKS_IDS(b->kits, bulletin_kit), "kit");
    for (size_t i = 0; i < b->kits.n; i++) {
        const struct bulletin_kit *kit = &b->kits.at[i];
        for (size_t k = 0; k < kit->fits.n; k++)
            is_known = checks_pair(b, s, &kit->fits.at[k]) && is_known;
        check_contents(b, s, kit);
    }
    for (size_t i = 0; i < b->kits.n && is_known; i++)
        check_reach(b, s, i);
    for (size_t i = 0; i < b->scope.stations.n && is_known; i++)
        check_served(b, s, &b->scope.stations.at[i]);
}

/* checks: owns what all checks share: ids that must be known and unique, and how amounts are shown. */
#include "bulletin/checks.h"

#include "base/suggest.h"

#include <stdio.h>
#include <string.h>

enum { KNOWN_MAX = 512 };

const char *checks_id(struct checks_ids ids, size_t i)
{
    const char *id;
    memcpy(&id, (const char *)ids.at + i * ids.size + ids.offset, sizeof id);
    return id;
}

/* The struct's node stands first. */
static const struct yamlnode *node_at(struct checks_ids ids, size_t i)
{
    const struct yamlnode *node;
    memcpy(&node, (const char *)ids.at + i * ids.size, sizeof(const struct yamlnode *));
    return node;
}

bool checks_has(struct checks_ids ids, const char *id)
{
    for (size_t i = 0; i < ids.n; i++)
        if (strcmp(checks_id(ids, i), id) == 0)
            return true;
    return false;
}

bool checks_known(const struct schema *s, const struct yamlnode *at, const char *id,
                  struct checks_ids ids, const char *what)
{
    const char *known[KNOWN_MAX];
    size_t n = 0;
    if (checks_has(ids, id))
        return true;
    for (; n < ids.n && n < KNOWN_MAX; n++)
        known[n] = checks_id(ids, n);
    const char *near = suggest_nearest(id, strlen(id), known, n);
    if (near != NULL) {
        FAULT_AT(s, at, "", "there is no %s '%s': did you mean '%s'?", what, id, near);
        return false;
    }
    char list[200] = "";
    size_t used = 0;
    for (size_t i = 0; i < n && used < sizeof list; i++)
        used +=
            (size_t)snprintf(list + used, sizeof list - used, "%s%s", i > 0 ? ", " : "", known[i]);
    if (n == 0)
        FAULT_AT(s, at, "", "there is no %s '%s': none is declared", what, id);
    else
        FAULT_AT(s, at, "", "there is no %s '%s': declared are %s", what, id, list);
    return false;
}

void checks_unique(const struct schema *s, struct checks_ids ids, const char *what)
{
    for (size_t i = 0; i < ids.n; i++)
        for (size_t k = 0; k < i; k++) {
            const char *id = checks_id(ids, i);
            if (strcmp(id, checks_id(ids, k)) != 0)
                continue;
            const struct yamlnode *at = yamlnode_get(node_at(ids, i), "id");
            FAULT_AT(s, at, "", "there is another %s '%s' in line %d: each id is given once", what,
                     id, node_at(ids, k)->line);
            break;
        }
}

void checks_words_unique(const struct schema *s, const struct yamlnode *list,
                         const char *const *words, size_t n)
{
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < i; k++)
            if (strcmp(words[i], words[k]) == 0) {
                FAULT_AT(s, list->items[i], "", "'%s' is listed twice", words[i]);
                break;
            }
}

void checks_words_known(const struct schema *s, const struct yamlnode *list,
                        const char *const *words, size_t n, struct checks_ids ids, const char *what)
{
    for (size_t i = 0; i < n; i++)
        (void)checks_known(s, list->items[i], words[i], ids, what);
    if (n > 0)
        checks_words_unique(s, list, words, n);
}

const char *checks_amount(const struct bulletin_amount *a, char *buf)
{
    char number[QUANTITY_SHOW_MAX];
    quantity_show_number(a->nano, a->unit, number, NULL);
    if (a->dim == DIM_COUNT)
        snprintf(buf, QUANTITY_SHOW_MAX, "%.40s", number);
    else
        snprintf(buf, QUANTITY_SHOW_MAX, "%.40s %s", number, quantity_unit_name(a->unit));
    return buf;
}

const char *checks_money(const struct schema *s, int64_t minor, char *buf)
{
    int64_t per = 1;
    for (int i = 0; i < s->currency_digits; i++)
        per *= 10;
    if (s->currency_digits == 0)
        snprintf(buf, 48, "%lld %s", (long long)minor, s->currency);
    else
        snprintf(buf, 48, "%lld.%0*lld %s", (long long)(minor / per), s->currency_digits,
                 (long long)(minor % per), s->currency);
    return buf;
}

void checks_run(const struct bulletin *b, const struct schema *s)
{
    const bool are_stations_known = checks_scope(b, s);
    checks_kits(b, s, are_stations_known);
    checks_racks(b, s);
    checks_steps(b, s);
    checks_points(b, s);
    checks_adjusters(b, s);
    checks_timing(b, s);
    checks_claim(b, s);
}

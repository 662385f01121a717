/* checks_scope: owns what can be wrong with the sections `bulletin`, `scope` and `labour`. */
#include "bulletin/checks.h"
#include "core/label.h"
#include "core/scope.h"

#include <stdio.h>
#include <string.h>

enum { LONG_WINDOW_DAYS = 731 };

/* ---- VIN and labels ---- */

static void check_vin(const struct bulletin_vin_rule *vin, const struct schema *s)
{
    const struct yamlnode *list = yamlnode_get(vin->node, "prefixes");
    if (vin->check == BULLETIN_VIN_NONE && vin->prefixes.n > 0)
        FAULT_AT(s, vin->node, "prefixes",
                 "no VIN is asked for (check: none), so prefixes cannot be used");
    for (size_t i = 0; i < vin->prefixes.n; i++) {
        const char *p = vin->prefixes.at[i];
        if (strlen(p) > VIN_SIZE || p[strspn(p, "ABCDEFGHJKLMNPRSTUVWXYZ0123456789")] != '\0')
            FAULT_AT(s, list->items[i], "",
                     "'%s' cannot begin a VIN: at most 17 digits and capital letters other than "
                     "I, O and Q",
                     p);
    }
    if (vin->prefixes.n > 0)
        checks_words_unique(s, list, vin->prefixes.at, vin->prefixes.n);
}

/* Returns whether any pattern reads the variant. */
static bool check_labels(const struct bulletin_scope *scope, const struct schema *s)
{
    const struct yamlnode *list = yamlnode_get(scope->node, "labels");
    size_t n_variant = 0;
    for (size_t i = 0; i < scope->labels.n; i++) {
        const char *p = scope->labels.at[i];
        size_t at = 0;
        const enum err err = label_pattern_check(p, strlen(p), &at);
        if (err != ERR_OK)
            FAULT_AT(
                s, list->items[i], "",
                "label pattern '%s' %s (at its character %zu): it must settle a day, a week or "
                "a month, as in %%Y-%%m-%%d, %%Y %%j or %%G-W%%V",
                p, err_text(err), at + 1);
        n_variant += strstr(p, "{variant}") != NULL;
    }
    checks_words_unique(s, list, scope->labels.at, scope->labels.n);
    return n_variant > 0;
}

/* ---- attributes and stations ---- */

bool checks_pair(const struct bulletin *b, const struct schema *s, const struct bulletin_pair *pair)
{
    const struct bulletin_attribute *a = bulletin_attribute_find(b, pair->key);
    if (a == NULL)
        return checks_known(s, pair->node, pair->key,
                            CHECKS_IDS(b->scope.attributes, bulletin_attribute), "attribute");
    const struct checks_ids values = {a->values.at, a->values.n, sizeof(const char *), 0};
    char what[80];
    snprintf(what, sizeof what, "value of '%.40s' called", a->id);
    return checks_known(s, pair->node, pair->value, values, what);
}

static void check_attributes(const struct bulletin *b, const struct schema *s)
{
    checks_unique(s, CHECKS_IDS(b->scope.attributes, bulletin_attribute), "attribute");
    for (size_t i = 0; i < b->scope.attributes.n; i++) {
        const struct bulletin_attribute *a = &b->scope.attributes.at[i];
        size_t n_fixed = 0, n_used = 0;
        checks_words_unique(s, yamlnode_get(a->node, "values"), a->values.at, a->values.n);
        for (size_t k = 0; k < b->scope.stations.n; k++)
            n_fixed += bulletin_station_value(&b->scope.stations.at[k], a->id) != NULL;
        for (size_t k = 0; k < b->kits.n; k++)
            for (size_t p = 0; p < b->kits.at[k].fits.n; p++)
                n_used += strcmp(b->kits.at[k].fits.at[p].key, a->id) == 0;
        if (n_fixed < b->scope.stations.n && a->ask.n == 0)
            FAULT_AT(s, a->node, "ask",
                     "'%s' is not fixed at every station, so the technician must be asked: write "
                     "the question as 'ask'",
                     a->id);
        if (n_used == 0)
            WARN_AT(s, a->node, "id", "no kit depends on '%s': it need not be asked", a->id);
    }
}

/* Whether all that the stations fix is known. */
static bool check_stations(const struct bulletin *b, const struct schema *s)
{
    bool is_known = true;
    checks_unique(s, CHECKS_IDS(b->scope.stations, bulletin_station), "station");
    for (size_t i = 0; i < b->scope.stations.n; i++)
        for (size_t k = 0; k < b->scope.stations.at[i].with.n; k++)
            is_known = checks_pair(b, s, &b->scope.stations.at[i].with.at[k]) && is_known;
    return is_known;
}

/* ---- variants and windows ---- */

static void check_window(const struct schema *s, const struct bulletin_window *w)
{
    char from[DATE_SHOW_SIZE], to[DATE_SHOW_SIZE];
    date_show(w->from.first, from);
    date_show(w->to.last, to);
    if (w->from.first > w->to.last)
        FAULT_AT(s, w->node, "", "the window ends (%s) before it begins (%s)", to, from);
    else if (w->to.last - w->from.first >= LONG_WINDOW_DAYS)
        WARN_AT(s, w->node, "",
                "the window is longer than two years (%s to %s): is the year right?", from, to);
}

static bool is_overlap(const struct bulletin_window *a, const struct bulletin_window *b)
{
    return a->from.first <= b->to.last && b->from.first <= a->to.last;
}

static void check_windows(const struct schema *s, const struct bulletin_variant *v)
{
    for (size_t i = 0; i < v->windows.n; i++) {
        check_window(s, &v->windows.at[i]);
        for (size_t k = 0; k < i; k++)
            if (is_overlap(&v->windows.at[i], &v->windows.at[k])) {
                FAULT_AT(
                    s, v->windows.at[i].node, "",
                    "this window overlaps the one in line %d: which of them is meant? Make one "
                    "window, or correct its ends",
                    v->windows.at[k].node->line);
                break;
            }
    }
}

/* The same code in two variants; codes that a longer one settles are fine (core/scope.h). */
static void check_code_taken(const struct bulletin_scope *scope, const struct schema *s, size_t i,
                             size_t c)
{
    const char *code = scope->variants.at[i].codes.at[c];
    const struct yamlnode *list = yamlnode_get(scope->variants.at[i].node, "codes");
    for (size_t k = 0; k < i; k++)
        for (size_t d = 0; d < scope->variants.at[k].codes.n; d++)
            if (strcmp(code, scope->variants.at[k].codes.at[d]) == 0)
                FAULT_AT(s, list->items[c], "", "code '%s' belongs to variant '%s' already", code,
                         scope->variants.at[k].id);
}

static void check_codes(const struct bulletin_scope *scope, const struct schema *s, size_t i)
{
    const struct bulletin_variant *v = &scope->variants.at[i];
    const struct yamlnode *list = yamlnode_get(v->node, "codes");
    for (size_t c = 0; c < v->codes.n; c++) {
        const char *code = v->codes.at[c];
        const char *star = strchr(code, '*');
        if (code[strcspn(code, "abcdefghijklmnopqrstuvwxyz")] != '\0')
            FAULT_AT(s, list->items[c], "", "codes are compared in capital letters, found '%s'",
                     code);
        if (star != NULL && (star[1] != '\0' || star == code))
            FAULT_AT(s, list->items[c], "",
                     "'*' stands only at the end of a code, after something, found '%s'", code);
        if (strlen(code) > LABEL_VARIANT_MAX)
            FAULT_AT(s, list->items[c], "", "a code has at most %d characters, found '%s'",
                     LABEL_VARIANT_MAX, code);
        check_code_taken(scope, s, i, c);
    }
    if (v->codes.n > 0)
        checks_words_unique(s, list, v->codes.at, v->codes.n);
}

/* Codes and windows of all variants together, at the first one too many: the core holds so many
 * (core/scope.h). */
static void check_counts(const struct bulletin_scope *scope, const struct schema *s)
{
    size_t n_windows = 0, n_codes = 0;
    for (size_t i = 0; i < scope->variants.n; i++) {
        const struct bulletin_variant *v = &scope->variants.at[i];
        if (n_codes <= SCOPE_CODES_MAX && n_codes + v->codes.n > SCOPE_CODES_MAX)
            FAULT_AT(s, yamlnode_get(v->node, "codes")->items[SCOPE_CODES_MAX - n_codes], "",
                     "this is code %d of all variants together; expected at most %d. A closing * "
                     "stands for any rest",
                     SCOPE_CODES_MAX + 1, SCOPE_CODES_MAX);
        if (n_windows <= SCOPE_WINDOWS_MAX && n_windows + v->windows.n > SCOPE_WINDOWS_MAX)
            FAULT_AT(s, v->windows.at[SCOPE_WINDOWS_MAX - n_windows].node, "",
                     "this is build window %d of all variants together; expected at most %d",
                     SCOPE_WINDOWS_MAX + 1, SCOPE_WINDOWS_MAX);
        n_codes += v->codes.n;
        n_windows += v->windows.n;
    }
}

static void check_variants(const struct bulletin_scope *scope, const struct schema *s,
                           bool has_variant_label)
{
    size_t n_codes = 0;
    checks_unique(s, CHECKS_IDS(scope->variants, bulletin_variant), "variant");
    for (size_t i = 0; i < scope->variants.n; i++) {
        const struct bulletin_variant *v = &scope->variants.at[i];
        check_codes(scope, s, i);
        check_windows(s, v);
        n_codes += v->codes.n;
        if (v->codes.n == 0 && (has_variant_label || scope->variants.n > 1))
            FAULT_AT(s, v->node, "codes",
                     "variant '%s' has no codes, so no label can be told to be of it", v->id);
    }
    if (n_codes > 0 && !has_variant_label)
        WARN_AT(s, scope->node, "labels",
                "no label pattern holds {variant}: the variant has to be typed in each time");
    check_counts(scope, s);
}

/* ---- dates of the whole ---- */

static void check_issue(const struct bulletin *b, const struct schema *s)
{
    char issued[DATE_SHOW_SIZE], built[DATE_SHOW_SIZE];
    date_show(b->head.issued, issued);
    for (size_t i = 0; i < b->scope.variants.n; i++)
        for (size_t k = 0; k < b->scope.variants.at[i].windows.n; k++) {
            const struct bulletin_window *w = &b->scope.variants.at[i].windows.at[k];
            if (w->to.last < b->head.issued)
                continue;
            date_show(w->to.last, built);
            FAULT_AT(s, w->node, "to",
                     "the window ends on %s, but the bulletin was issued on %s: what was not built "
                     "yet cannot be known to be wrong",
                     built, issued);
        }
}

/* ---- labour ---- */

static void check_labour_station(const struct bulletin *b, const struct schema *s,
                                 const struct bulletin_labour_station *l)
{
    const bool has_time = l->time_s != BULLETIN_NO_AMOUNT, has_share = l->share.by > 0;
    (void)checks_known(s, yamlnode_get(l->node, "station"), l->station,
                       CHECKS_IDS(b->scope.stations, bulletin_station), "station");
    if (has_time == has_share)
        FAULT_AT(s, l->node, "", "station '%s' needs either 'time' or 'share_of_unit', found %s",
                 l->station, has_time ? "both" : "neither");
    if (has_share && b->labour.unit_s == BULLETIN_NO_AMOUNT)
        FAULT_AT(s, l->node, "share_of_unit", "a share of what? labour.unit is not given");
}

static void check_labour(const struct bulletin *b, const struct schema *s)
{
    const struct bulletin_labour *labour = &b->labour;
    double share = 0;
    int64_t sum_s = 0;
    for (size_t i = 0; i < labour->stations.n; i++) {
        const struct bulletin_labour_station *l = &labour->stations.at[i];
        check_labour_station(b, s, l);
        share += l->share.by > 0 ? (double)l->share.of / l->share.by : 0;
        sum_s += bulletin_labour_s(b, l->station);
        for (size_t k = 0; k < i; k++)
            if (strcmp(labour->stations.at[k].station, l->station) == 0)
                FAULT_AT(s, l->node, "station", "station '%s' has labour already, in line %d",
                         l->station, labour->stations.at[k].node->line);
    }
    if (share > 1 + 1e-9)
        FAULT_AT(s, labour->node, "stations",
                 "the shares add up to %.3g of the unit's time: more than all of it", share);
    else if (labour->unit_s != BULLETIN_NO_AMOUNT && sum_s > labour->unit_s + 60)
        WARN_AT(s, labour->node, "unit",
                "the stations add up to %lld min, more than the %lld min of the whole unit",
                (long long)(sum_s / 60), (long long)(labour->unit_s / 60));
    for (size_t i = 0; i < b->scope.stations.n; i++)
        if (bulletin_labour_s(b, b->scope.stations.at[i].id) == 0)
            FAULT_AT(s, labour->node, "stations",
                     "station '%s' has no labour: nobody would be paid for it",
                     b->scope.stations.at[i].id);
}

bool checks_scope(const struct bulletin *b, const struct schema *s)
{
    check_vin(&b->scope.vin, s);
    const bool has_variant_label = check_labels(&b->scope, s);
    check_attributes(b, s);
    const bool is_known = check_stations(b, s);
    check_variants(&b->scope, s, has_variant_label);
    check_issue(b, s);
    check_labour(b, s);
    return is_known;
}

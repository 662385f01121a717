/* checks_claim: owns what can be wrong with `proof`, `claim` and `decision`: proof that nobody is asked for, money that does not
 * add up. */
#include "bulletin/checks.h"

#include <string.h>

static const char *const pays_names[] = {"labour", "kit", "parts", "travel", "consumables"};

/* ---- proof ---- */

static bool is_taken(const struct bulletin *b, const char *id, bool is_photo)
{
    for (size_t i = 0; i < b->steps.n; i++) {
        const struct bulletin_step *step = &b->steps.at[i];
        const size_t n = is_photo ? step->photos.n : step->readings.n;
        const char *const *words = is_photo ? step->photos.at : step->readings.at;
        for (size_t k = 0; k < n; k++)
            if (strcmp(words[k], id) == 0)
                return true;
    }
    return false;
}

static void check_proof(const struct bulletin *b, const struct schema *s)
{
    const struct bulletin_proof *proof = &b->proof;
    const struct yamlnode *readings = yamlnode_get(proof->node, "readings");
    checks_unique(s, CHECKS_IDS(proof->photos, bulletin_photo), "photo");
    for (size_t i = 0; i < proof->photos.n; i++)
        if (!is_taken(b, proof->photos.at[i].id, true))
            FAULT_AT(s, proof->photos.at[i].node, "id",
                     "no step asks for the photo '%s': claims would be held for it",
                     proof->photos.at[i].id);
    for (size_t i = 0; i < proof->readings.n; i++) {
        const char *id = proof->readings.at[i];
        if (checks_known(s, readings->items[i], id, CHECKS_IDS(b->points, bulletin_point),
                         "point") &&
            !is_taken(b, id, false))
            FAULT_AT(s, readings->items[i], "",
                     "no step takes the reading '%s': claims would be held for it", id);
    }
    if (proof->readings.n > 0)
        checks_words_unique(s, readings, proof->readings.at, proof->readings.n);
    if (proof->photos.n == 0 && proof->readings.n == 0)
        WARN_AT(s, b->node, "proof",
                "neither a photo nor a reading is wanted: any claim would be paid unseen");
}

/* ---- money ---- */

static bool is_paid(const struct bulletin_claim *claim, enum bulletin_pays what)
{
    for (size_t i = 0; i < claim->pays.n; i++)
        if (claim->pays.at[i] == (int32_t)what)
            return true;
    return false;
}

/* Labour of a whole unit in minor units, rounded up. */
static int64_t labour_of_unit(const struct bulletin *b)
{
    int64_t time_s = b->labour.once_s;
    for (size_t i = 0; i < b->scope.stations.n; i++)
        time_s += bulletin_labour_s(b, b->scope.stations.at[i].id);
    if (b->claim.rate_minor > INT64_MAX / (time_s + 3600))
        return INT64_MAX;
    return (b->claim.rate_minor * time_s + 3599) / 3600;
}

/* The dearest kit for each station; what a station fixes is looked at, what is found there is not known. */
static int64_t kits_of_unit(const struct bulletin *b)
{
    int64_t sum = 0;
    for (size_t i = 0; i < b->scope.stations.n; i++) {
        int64_t dearest = 0;
        for (size_t k = 0; k < b->kits.n; k++) {
            const struct bulletin_kit *kit = &b->kits.at[k];
            bool serves = true;
            for (size_t p = 0; p < kit->fits.n; p++) {
                const char *fixed =
                    bulletin_station_value(&b->scope.stations.at[i], kit->fits.at[p].key);
                serves = serves && (fixed == NULL || strcmp(fixed, kit->fits.at[p].value) == 0);
            }
            if (serves && kit->price_minor != BULLETIN_NO_AMOUNT && kit->price_minor > dearest)
                dearest = kit->price_minor;
        }
        sum += dearest;
    }
    return sum;
}

static void check_caps(const struct bulletin *b, const struct schema *s)
{
    const struct bulletin_claim *claim = &b->claim;
    const struct bulletin_caps *caps = &claim->caps;
    const int64_t labour = labour_of_unit(b), kits = kits_of_unit(b);
    char a[48], z[48];
    if (caps->node == NULL)
        return;
    for (int i = 0; i < BULLETIN_PAYS_N; i++)
        if (caps->minor[i] != BULLETIN_NO_AMOUNT && !is_paid(claim, (enum bulletin_pays)i))
            FAULT_AT(s, caps->node, pays_names[i],
                     "a cap on what is not paid: '%s' is not among claim.pays", pays_names[i]);
    const int64_t cap_labour = caps->minor[BULLETIN_PAYS_LABOUR],
                  cap_kit = caps->minor[BULLETIN_PAYS_KIT];
    if (cap_labour != BULLETIN_NO_AMOUNT && cap_labour < labour)
        FAULT_AT(s, caps->node, "labour",
                 "the cap (%s) is below the labour of a unit with every station done (%s)",
                 checks_money(s, cap_labour, a), checks_money(s, labour, z));
    if (cap_kit != BULLETIN_NO_AMOUNT && cap_kit < kits)
        FAULT_AT(s, caps->node, "kit", "the cap (%s) is below the dearest kits of a unit (%s)",
                 checks_money(s, cap_kit, a), checks_money(s, kits, z));
    const int64_t due = (is_paid(claim, BULLETIN_PAYS_LABOUR) ? labour : 0) +
                        (is_paid(claim, BULLETIN_PAYS_KIT) ? kits : 0);
    if (caps->unit_minor != BULLETIN_NO_AMOUNT && caps->unit_minor < due)
        FAULT_AT(s, caps->node, "unit",
                 "the cap (%s) is below labour and kits of a unit with every station done (%s)",
                 checks_money(s, caps->unit_minor, a), checks_money(s, due, z));
}

static void check_pays(const struct bulletin *b, const struct schema *s)
{
    const struct bulletin_claim *claim = &b->claim;
    const struct yamlnode *pays = yamlnode_get(claim->node, "pays");
    const struct yamlnode *who = yamlnode_get(claim->node, "who");
    for (size_t i = 0; i < claim->pays.n; i++)
        for (size_t k = 0; k < i; k++)
            if (claim->pays.at[i] == claim->pays.at[k])
                FAULT_AT(s, pays->items[i], "", "'%s' is listed twice",
                         pays_names[claim->pays.at[i]]);
    for (size_t i = 0; i < claim->who.n; i++)
        for (size_t k = 0; k < i; k++)
            if (claim->who.at[i] == claim->who.at[k])
                FAULT_AT(s, who->items[i], "", "'%s' is listed twice", who->items[i]->text);
    if (is_paid(claim, BULLETIN_PAYS_LABOUR) && claim->rate_minor == 0)
        FAULT_AT(s, claim->node, "rate", "labour is paid, but an hour is worth 0");
    if (!is_paid(claim, BULLETIN_PAYS_LABOUR))
        WARN_AT(s, claim->node, "pays",
                "labour is not paid, though the bulletin gives times for it");
    for (size_t i = 0; i < b->kits.n && is_paid(claim, BULLETIN_PAYS_KIT); i++)
        if (b->kits.at[i].price_minor == BULLETIN_NO_AMOUNT)
            WARN_AT(s, b->kits.at[i].node, "id", "kits are paid, but kit '%s' has no price",
                    b->kits.at[i].id);
}

/* A job as fast as the paid time must never be held. */
static void check_fastest(const struct bulletin *b, const struct schema *s)
{
    const int64_t fastest_s = b->claim.fastest_s;
    for (size_t i = 0; fastest_s != BULLETIN_NO_AMOUNT && i < b->labour.stations.n; i++) {
        const char *station = b->labour.stations.at[i].station;
        const int64_t paid_s = bulletin_labour_s(b, station);
        if (fastest_s <= paid_s)
            continue;
        FAULT_AT(s, b->claim.node, "fastest",
                 "the fastest honest work takes %lld s, but only %lld s are paid for station '%s': "
                 "claims would be held for it",
                 (long long)fastest_s, (long long)paid_s, station);
        return;
    }
}

static void check_dates(const struct bulletin *b, const struct schema *s)
{
    char until[DATE_SHOW_SIZE], issued[DATE_SHOW_SIZE];
    date_show(b->claim.until, until);
    date_show(b->head.issued, issued);
    if (b->claim.until <= b->head.issued)
        FAULT_AT(s, b->claim.node, "until", "claims end on %s, but the bulletin is issued on %s",
                 until, issued);
    else if (b->claim.until - b->head.issued < 28)
        WARN_AT(s, b->claim.node, "until",
                "claims end on %s, less than four weeks after the issue on %s", until, issued);
}

static void check_decision(const struct bulletin *b, const struct schema *s)
{
    const bool has_risk = yamlnode_get(b->decision.node, "risk") != NULL;
    if (b->decision.guard == BULLETIN_GUARD_RISK && !has_risk)
        FAULT_AT(s, b->decision.node, "risk", "guard: risk needs the risk, such as 0.05");
    if (b->decision.guard == BULLETIN_GUARD_NONE && has_risk)
        FAULT_AT(s, b->decision.node, "risk",
                 "with guard: none no risk is used: delete it, or write guard: risk");
}

void checks_claim(const struct bulletin *b, const struct schema *s)
{
    check_proof(b, s);
    check_dates(b, s);
    check_pays(b, s);
    check_fastest(b, s);
    check_caps(b, s);
    check_decision(b, s);
}

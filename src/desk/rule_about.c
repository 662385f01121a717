/* rule_about: owns the rules about the claim itself: when it came, what was claimed before, who claims, the signature, the bag. */
#include "desk/rule_in.h"

#include <string.h>

/* ---- when it came ---- */

static void find_late(struct rule_run *r)
{
    char came[DATE_SHOW_SIZE], due[DATE_SHOW_SIZE], done[DATE_SHOW_SIZE];
    const int32_t day = rule_day(r->claim->taken_ms), until = r->b->claim.until;
    const int32_t days = r->b->claim.days_after_repair;
    date_show(day, came);
    if (day > until) {
        date_show(until, due);
        rule_message(r, "The claim came on %s; the last day was %s (UTC)", came, due);
    } else if (days > 0 && r->job->is_finished && day - rule_day(r->job->finished_ms) > days) {
        date_show(rule_day(r->job->finished_ms), done);
        rule_message(
            r,
            "The claim came on %s, %d days after the job was finished on %s; %d are allowed (UTC)",
            came, (int)(day - rule_day(r->job->finished_ms)), done, (int)days);
    } else {
        return;
    }
    rule_cure(r,
              "Nothing to send. Desk: overrule with the reason, if the delay was not the shop's.");
    rule_add(r, RULE_LATE, RULE_REFUSE, RULE_WHOLE);
}

/* ---- claimed before ---- */

static void find_replaced(struct rule_run *r)
{
    const char *by = NULL;
    for (size_t i = 0; i < r->known->n_others; i++) {
        const struct rule_other *o = &r->known->others[i];
        if (o->is_same_job && o->is_later && (by == NULL || strcmp(o->claim, by) < 0))
            by = o->claim;
    }
    if (by == NULL || r->known->paid_here_minor > 0)
        return;
    rule_message(r, "The same job was sent again as claim %.20s, which stands in its place", by);
    rule_cure(r, "Nothing to send: see claim %.20s.", by);
    rule_evidence(r, NULL, by, NULL);
    rule_add(r, RULE_REPLACED, RULE_REFUSE, RULE_WHOLE);
}

/* What another claim was paid for a station. One that was paid as a whole was paid for each of its stations. */
static bool has_paid(const struct rule_other *o, const char *station)
{
    bool is_whole = false, is_split = false;
    for (size_t i = 0; i < o->n_paid; i++) {
        if (o->paid[i].amount_minor <= 0)
            continue;
        if (strcmp(o->paid[i].station, station) == 0)
            return true;
        is_whole = is_whole || o->paid[i].station[0] == '\0';
        is_split = is_split || o->paid[i].station[0] != '\0';
    }
    if (!is_whole || is_split)
        return false;
    for (size_t i = 0; i < o->n_stations; i++)
        if (strcmp(o->stations[i], station) == 0)
            return true;
    return false;
}

static bool has_claimed(const struct rule_other *o, const char *station)
{
    if (o->is_same_job || o->is_refused)
        return false;
    for (size_t i = 0; i < o->n_stations; i++)
        if (strcmp(o->stations[i], station) == 0)
            return true;
    return false;
}

static const char *shop_of(const struct rule_other *o)
{
    return o->shop != NULL ? o->shop : "a shop that is not named";
}

/* Of several claims the one that is told is the first by its name. */
static void find_before(struct rule_run *r, size_t i)
{
    const struct rule_other *paid = NULL, *claimed = NULL;
    const char *id = r->sites[i].id;
    for (size_t k = 0; k < r->known->n_others; k++) {
        const struct rule_other *o = &r->known->others[k];
        if (o->is_later &&
            (o->is_same_job ||
             !has_paid(o, id))) /* what another was paid is paid, whoever came first */
            continue;
        if (has_paid(o, id) && (paid == NULL || strcmp(o->claim, paid->claim) < 0))
            paid = o;
        else if (has_claimed(o, id) && (claimed == NULL || strcmp(o->claim, claimed->claim) < 0))
            claimed = o;
    }
    if (paid != NULL) {
        rule_message(r, "Station %s of this unit was paid already, on claim %.20s of %.60s", id,
                     paid->claim, shop_of(paid));
        rule_cure(r, "Nothing to send. Was the work there not done, or has it failed again: a word "
                     "of the shop; the desk overrules with that reason.");
        rule_evidence(r, NULL, paid->claim, NULL);
        rule_add(r, RULE_PAID_ALREADY, RULE_REFUSE, (int)i);
    } else if (claimed != NULL) {
        rule_message(r, "Station %s of this unit is claimed by claim %.20s of %.60s too", id,
                     claimed->claim, shop_of(claimed));
        rule_cure(r, "Desk: find out who did the work, and refuse the other claim.");
        rule_evidence(r, NULL, claimed->claim, NULL);
        rule_add(r, RULE_CLAIMED_TWICE, RULE_HOLD, (int)i);
    }
}

/* ---- who claims ---- */

static const char *payee_name(enum bulletin_payee kind)
{
    static const char *const names[] = {[BULLETIN_PAYEE_SHOP] = "shop",
                                        [BULLETIN_PAYEE_MOBILE] = "mobile",
                                        [BULLETIN_PAYEE_DEALER] = "dealer",
                                        [BULLETIN_PAYEE_OWNER] = "owner"};
    return names[kind];
}

static const char *claimant(const struct rule_run *r)
{
    return r->claim->shop != NULL ? r->claim->shop : "(not named)";
}

static void find_shop(struct rule_run *r)
{
    const struct rule_shop *shop = r->known->shop;
    if (shop == NULL && r->known->has_shops) {
        rule_message(r, "Shop %.60s is not in the list of shops for the day of the work",
                     claimant(r));
        rule_cure(
            r, "Desk: add the shop to the list with its kind and rate, or find out who sent this.");
        rule_add(r, RULE_SHOP_UNKNOWN, RULE_HOLD, RULE_WHOLE);
    }
    if (shop == NULL || r->book->is_payee[shop->kind])
        return;
    rule_message(r, "Shop %.60s is of the kind '%s', which this bulletin does not pay", claimant(r),
                 payee_name(shop->kind));
    rule_cure(r,
              "Nothing to send. Desk: if the list of shops is wrong, correct it and rule again.");
    rule_add(r, RULE_PAYEE, RULE_REFUSE, RULE_WHOLE);
}

static void find_signature(struct rule_run *r)
{
    const struct store_claim *c = r->claim;
    const char *word = c->signature != NULL ? c->signature : "none";
    const bool is_good = strcmp(word, "good") == 0, is_none = strcmp(word, "none") == 0;
    const bool has_keys = r->known->shop != NULL && r->known->shop->has_keys;
    if (is_none) {
        if (!has_keys)
            return;
        rule_message(r, "The bag is not signed, and shop %.60s has a key", claimant(r));
        rule_cure(r, "Add a note to the job, and send its bag again, signed with the shop's key.");
        rule_add(r, RULE_UNSIGNED, RULE_ASK, RULE_WHOLE);
        return;
    }
    if (is_good && (c->signed_by == NULL || c->shop == NULL || strcmp(c->signed_by, c->shop) == 0))
        return;
    if (is_good)
        rule_message(r, "The bag is signed by shop %.60s, but the work is claimed by %.60s",
                     c->signed_by, claimant(r));
    else if (strcmp(word, "unknown-key") == 0)
        rule_message(r, "The bag is signed with a key that the desk does not know%s%.60s",
                     c->signed_by != NULL ? "; it names shop " : "",
                     c->signed_by != NULL ? c->signed_by : "");
    else
        rule_message(r,
                     "The signature of the bag is not good (%.40s): it was changed after it was "
                     "signed, or signed with another key",
                     word);
    rule_cure(r, "Desk: ask the shop, by another way than this bag, whether it sent it; put its "
                 "key on the ring if it is new.");
    rule_add(r, RULE_SIGNATURE, RULE_HOLD, RULE_WHOLE);
}

/* ---- what taking in noted ---- */

static enum rule_level level_of(const char *name)
{
    for (int l = 0; l < RULE_LEVEL_N; l++)
        if (strcmp(rule_level_name((enum rule_level)l), name) == 0)
            return (enum rule_level)l;
    return RULE_ASK;
}

static void find_bag(struct rule_run *r)
{
    for (size_t i = 0; i < r->claim->n_findings; i++) {
        const struct store_finding *f = &r->claim->findings[i];
        if (strcmp(f->rule, "bag") != 0)
            continue;
        const int station = f->station != NULL ? rule_station(r->b, f->station) : RULE_WHOLE;
        rule_message(r, "%s", f->message);
        if (r->draft.message[0] >= 'a' && r->draft.message[0] <= 'z')
            r->draft.message[0] = (char)(r->draft.message[0] - 'a' + 'A');
        rule_cure(r, "%s", f->cure != NULL ? f->cure : "");
        r->draft.station = f->station;
        rule_add(r, RULE_BAG, level_of(f->level),
                 station >= 0         ? station
                 : f->station != NULL ? RULE_OTHER
                                      : RULE_WHOLE);
    }
}

void rule_about_claim(struct rule_run *r)
{
    if (r->claim->taken_ms != STORE_UNKNOWN)
        find_late(r);
    find_replaced(r);
    for (size_t i = 0; i < r->n_sites; i++)
        if (r->sites[i].is_worked)
            find_before(r, i);
    find_shop(r);
    find_signature(r);
    find_bag(r);
}

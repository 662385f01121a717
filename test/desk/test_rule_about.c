/* Rows for the rules about the claim itself (desk/rule_about.c). The example was finished on 2026-05-04; that day began at
 * 1777852800000 ms (date -u -d 2026-05-04 +%s). */
#include "rule_try.h"
#include "tap.h"

#include <string.h>

static const int64_t day_ms = 86400000, finished_day_ms = 1777852800000;
static const char *const fore[] = {"fore"};
static const char *const both[] = {"fore", "aft"};

static struct rule_try *with(const char *from, const char *to)
{
    const char *const pairs[] = {from, to, NULL};
    return try_bulletin(pairs);
}

static void late_rows(void)
{
    /* 45 days after 4 May is 18 June. */
    struct rule_try *t = try_new();
    t->claim.taken_ms = finished_day_ms + 46 * day_ms;
    try_one(t, RULE_LATE, RULE_REFUSE, NULL,
            "came on 2026-06-19, 46 days after the job was finished on 2026-05-04; 45 are allowed "
            "(UTC)",
            "46 days after the repair");
    t = try_new();
    t->claim.taken_ms = finished_day_ms + 46 * day_ms - 1;
    try_clean(t, "45 days after the repair, at the last moment");
    try_one(with("until: 2027-06-30", "until: 2026-05-05"), RULE_LATE, RULE_REFUSE, NULL,
            "came on 2026-05-06; the last day was 2026-05-05 (UTC)", "the day after the last");
    try_clean(with("until: 2027-06-30", "until: 2026-05-06"), "on the last day");
    t = with("  days_after_repair: 45\n", "");
    t->claim.taken_ms = finished_day_ms + 400 * day_ms;
    try_clean(t, "400 days after the repair, where only the last day counts");
}

static struct rule_try *other(struct rule_other o)
{
    struct rule_try *t = try_new();
    t->others[0] = o;
    t->known.n_others = 1;
    return t;
}

static void twice_rows(void)
{
    static const struct store_award paid[] = {{"fore", "pay", 38867, NULL}},
                                    unpaid[] = {{"fore", "ask", 0, NULL}},
                                    whole[] = {{"", "pay", 50000, NULL}};
    struct rule_other o = {
        .claim = "K0123456789AB", .shop = "other", .stations = fore, .n_stations = 1};
    try_one(other(o), RULE_CLAIMED_TWICE, RULE_HOLD, "fore",
            "Station fore of this unit is claimed by claim K0123456789AB of other too",
            "another job at the same column");
    o.is_refused = true;
    try_clean(other(o), "another job that stands refused");
    o.is_refused = false;
    o.is_same_job = true;
    try_clean(other(o), "an earlier claim of the same job");
    o.is_later = true;
    try_one(other(o), RULE_REPLACED, RULE_REFUSE, NULL, "sent again as claim K0123456789AB",
            "a later claim of the same job");
    struct rule_try *t = other(o);
    t->known.paid_here_minor = 1;
    try_clean(t, "a later claim of the same job, and this one is paid");
    o.is_later = o.is_same_job = false;
    o.paid = unpaid;
    o.n_paid = 1;
    try_one(other(o), RULE_CLAIMED_TWICE, RULE_HOLD, "fore", "claimed by",
            "another job that was paid nothing there");
    o.paid = paid;
    t = other(o);
    try_one(t, RULE_PAID_ALREADY, RULE_REFUSE, "fore",
            "Station fore of this unit was paid already, on claim K0123456789AB of other",
            "a column that was paid already");
    t = other(o);
    tap_ok(try_rule(t)->verdict == RULE_PAY &&
               t->ruling->awards[0].verdict == RULE_VERDICT_REFUSE &&
               t->ruling->awards[0].amount_minor == 0 && t->ruling->awards[1].verdict == RULE_PAY &&
               t->ruling->awards[1].amount_minor > 0,
           "and the other column is paid");
    try_free(t);
    o.is_same_job = true;
    try_one(other(o), RULE_PAID_ALREADY, RULE_REFUSE, "fore", "paid already",
            "paid on an earlier claim of the same job");
    o.is_same_job = false;
    o.is_refused = true;
    try_one(other(o), RULE_PAID_ALREADY, RULE_REFUSE, "fore", "paid already",
            "paid, and refused since: the money went out all the same");
    o = (struct rule_other){.claim = "K0123456789AB",
                            .shop = NULL,
                            .stations = both,
                            .n_stations = 2,
                            .paid = whole,
                            .n_paid = 1};
    t = other(o);
    try_has(t, RULE_PAID_ALREADY, 2, RULE_REFUSE, "aft", "of a shop that is not named",
            "paid as a whole: each of its columns");
    tap_ok(t->ruling->verdict == RULE_VERDICT_REFUSE, "and nothing is left to pay");
    try_free(t);
    o.stations = (const char *const *)NULL;
    o.n_stations = 0;
    try_clean(other(o), "paid for the unit alone, no column told");
}

static void shop_rows(void)
{
    struct rule_try *t = try_new();
    t->known.shop = NULL;
    try_one(t, RULE_SHOP_UNKNOWN, RULE_HOLD, NULL, "Shop fern-mobile-2 is not in the list",
            "a shop that is not in the list");
    t = try_new();
    t->known.shop = NULL;
    t->known.has_shops = false;
    try_clean(t, "no list of shops is kept");
    t = try_new();
    t->shop.kind = BULLETIN_PAYEE_DEALER;
    try_one(t, RULE_PAYEE, RULE_REFUSE, NULL,
            "is of the kind 'dealer', which this bulletin does not pay",
            "a dealer, who is not paid");
    t = try_new();
    t->shop.kind = BULLETIN_PAYEE_SHOP;
    try_clean(t, "a shop, who is paid");
    t = try_new();
    t->claim.signature = "none";
    t->claim.signed_by = NULL;
    try_one(t, RULE_UNSIGNED, RULE_ASK, NULL, "not signed, and shop fern-mobile-2 has a key",
            "not signed by a shop with a key");
    t = try_new();
    t->claim.signature = "none";
    t->shop.has_keys = false;
    try_clean(t, "not signed by a shop without a key");
    t = try_new();
    t->claim.signature = "bad";
    try_one(t, RULE_SIGNATURE, RULE_HOLD, NULL, "is not good (bad)", "a bad signature");
    t = try_new();
    t->claim.signature = "unknown-key";
    t->claim.signed_by = NULL;
    try_one(t, RULE_SIGNATURE, RULE_HOLD, NULL, "a key that the desk does not know",
            "a key that is not known");
    t = try_new();
    t->claim.signed_by = "other-shop";
    try_one(t, RULE_SIGNATURE, RULE_HOLD, NULL,
            "signed by shop other-shop, but the work is claimed by fern-mobile-2",
            "another shop's signature");
}

/* A finding of the bag with a station is that station's. */
static void bag_rows(void)
{
    struct rule_try *t = try_new();
    t->bag[0] = (struct store_finding){
        "bag", "ask", "fore", "a photo of fore was changed", "Send it as it was taken.",
        NULL,  NULL,  NULL};
    t->claim.n_findings = 1;
    const struct rule_ruling *r = try_rule(t);
    tap_ok(r->n_findings == 1 && r->awards[0].verdict == RULE_VERDICT_ASK &&
               r->awards[1].verdict == RULE_PAY,
           "what taking in noted of the fore column concerns it alone");
    t->bag[0].level = "hold";
    tap_ok(try_rule(t)->awards[0].verdict == RULE_VERDICT_HOLD, "at taking in's own level");
    t->bag[0].level = "of another program";
    tap_ok(try_rule(t)->awards[0].verdict == RULE_VERDICT_ASK, "a level that is not known asks");
    try_free(t);
}

/* Hostile words come out cut and clean, at a whole character. */
static void text_rows(void)
{
    static char long_text[STORE_TEXT_MAX];
    memset(long_text, 0, sizeof long_text);
    for (size_t i = 0; i < 1000; i++)
        long_text[i] = i % 2 == 0 ? '\xC3' : '\xA9'; /* e with an acute accent, U+00E9 */
    struct rule_try *t = try_new();
    t->bag[0] =
        (struct store_finding){"bag", "ask", NULL, long_text, "a\033[31mb\nc", NULL, NULL, NULL};
    t->claim.n_findings = 1;
    (void)try_rule(t);
    const struct rule_finding *f = &t->ruling->findings[0];
    tap_ok(strlen(f->message) == RULE_TEXT - 2 &&
               text_is_utf8(f->message, strlen(f->message), NULL),
           "a long text is cut at a whole character");
    tap_ok(strcmp(f->cure, "a?[31mb?c") == 0, "what cannot be shown is a question mark");
    t->bag[0].station = "roof";
    tap_ok(strcmp(try_rule(t)->findings[0].station, "roof") == 0,
           "a station that is not the bulletin's keeps its name");
    try_free(t);
}

int main(void)
{
    late_rows();
    twice_rows();
    shop_rows();
    bag_rows();
    text_rows();
    return tap_done();
}

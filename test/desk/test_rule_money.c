/* Rows for the money (desk/rule_money.c): worked by hand from the example bulletin: 200 min a column, 35 min once a unit, 68.00 EUR an
 * hour, kits of 162.00 EUR; caps labour 520.00, parts 240.00, travel 120.00, consumables 25.00, unit 1400.00. Amounts in cents.
 *
 *     200 min at 68.00: 12000 s x 6800 / 3600 = 22666.67 -> 226.67      35 min: 2100 s x 6800 / 3600 = 3966.67 -> 39.67
 *     both columns: 2 x 226.67 + 39.67 + 2 x 162.00 = 817.01            one column: 226.67 + 39.67 + 162.00 = 428.34 */
#include "rule_try.h"
#include "tap.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* What it comes to, and each award; frees. aft_minor below 0: one award only. */
static void comes_to(struct rule_try *t, int64_t all, int64_t fore_minor, int64_t aft_minor,
                     const char *what)
{
    const struct rule_ruling *r = try_rule(t);
    const size_t n = aft_minor < 0 ? 1 : 2;
    int64_t due = 0, paid = 0;
    for (size_t i = 0; i < r->n_lines; i++) {
        due += r->lines[i].due_minor;
        paid += r->lines[i].paid_minor;
    }
    if (!tap_ok(r->if_cured_minor == all && r->n_awards == n &&
                    r->awards[0].amount_minor == fore_minor &&
                    (n == 1 || r->awards[1].amount_minor == aft_minor),
                "%s: %" PRId64, what, all))
        tap_note("%" PRId64 " = %" PRId64 " + %" PRId64, r->if_cured_minor,
                 r->awards[0].amount_minor, r->n_awards > 1 ? r->awards[1].amount_minor : 0);
    tap_ok(paid == all && due >= paid, "and its lines add up");
    try_free(t);
}

static void labour_rows(void)
{
    struct rule_try *t = try_new();
    const struct rule_ruling *r = try_rule(t);
    static const struct rule_line lines[] = {
        {"fore", BULLETIN_PAYS_LABOUR, 22667, 22667, "200 min at 68.00 EUR/h"},
        {"aft", BULLETIN_PAYS_LABOUR, 22667, 22667, "200 min at 68.00 EUR/h"},
        {NULL, BULLETIN_PAYS_LABOUR, 3967, 3967, "35 min once a unit at 68.00 EUR/h"},
        {"fore", BULLETIN_PAYS_KIT, 16200, 16200, "kit left-upper, number OV-K31-LU"},
        {"aft", BULLETIN_PAYS_KIT, 16200, 16200, "kit right-lower, number OV-K31-RW"}};
    bool is_same = r->n_lines == 5;
    for (size_t i = 0; is_same && i < 5; i++) {
        const struct rule_line *a = &r->lines[i], *z = &lines[i];
        is_same =
            (a->station == NULL ? z->station == NULL
                                : z->station != NULL && strcmp(a->station, z->station) == 0) &&
            a->kind == z->kind && a->due_minor == z->due_minor && a->paid_minor == z->paid_minor &&
            strcmp(a->what, z->what) == 0;
        if (!is_same)
            tap_note("line %zu: %s %" PRId64 " '%s'", i, a->station, a->due_minor, a->what);
    }
    tap_ok(is_same, "the example's five lines, with their arithmetic");
    tap_ok(r->amount_minor == 81701, "paid at once: 817.01 EUR");
    try_free(t);
    comes_to(try_new(), 81701, 22667 + 3967 + 16200, 22667 + 16200,
             "both columns; what is once a unit goes with the first");

    t = try_new();
    try_drop_station(t, "aft");
    comes_to(t, 42834, 42834, -1, "one column");
    /* At 70.00 an hour: 12000 x 7000 / 3600 = 23333.33 -> 233.33; 2100 x 7000 / 3600 = 4083.33 -> 40.83. */
    t = try_new();
    t->shop.rate_minor = 7000;
    comes_to(t, 2 * 23333 + 4083 + 2 * 16200, 23333 + 4083 + 16200, 23333 + 16200,
             "at the shop's own rate");
    /* At 72.50: 241.67 + 241.67 + 42.29 = 525.63, and the cap of 520.00 takes 5.63 off the last line. */
    t = try_new();
    t->shop.rate_minor = 7250;
    comes_to(t, 52000 + 2 * 16200, 24167 + 4229 - 563 + 16200, 24167 + 16200,
             "at a rate that the cap meets");
    /* At 0.06 an hour: 12000 x 6 / 3600 = 20; 2100 x 6 / 3600 = 3.5, the half goes up: 4. */
    t = try_new();
    t->shop.rate_minor = 6;
    comes_to(t, 20 + 20 + 4 + 2 * 16200, 20 + 4 + 16200, 20 + 16200, "half a cent goes up");
    /* At 0.05 an hour: 12000 x 5 / 3600 = 16.67 -> 17; 2100 x 5 / 3600 = 2.92 -> 3. At 0.01: 3.33 -> 3; 0.58 -> 1. */
    t = try_new();
    t->shop.rate_minor = 1;
    comes_to(t, 3 + 3 + 1 + 2 * 16200, 3 + 1 + 16200, 3 + 16200, "less than half a cent goes down");
    t = try_new();
    t->shop.rate_minor = 0;
    comes_to(t, 2 * 16200, 16200, 16200, "a shop that works for nothing");
    t = try_new();
    t->known.shop = NULL;
    t->known.has_shops = false;
    comes_to(t, 81701, 42834, 38867, "no list of shops: the bulletin's rate");

    t = try_new();
    t->known.is_once_paid = true;
    comes_to(t, 81701 - 3967, 38867, 38867, "what is once a unit was paid on another claim");
    t = try_new();
    try_event(t, EVENT_LABEL_READ, "fore", NULL, 0)->as.label_read.text = "WD40 2024-W40";
    t->known.n_labels = 0;
    comes_to(t, 42834, 0, 42834, "the first column refused: the second brings what is once a unit");
    t = try_new();
    t->claim.taken_ms += (int64_t)400 * 86400000;
    comes_to(t, 0, 0, 0, "the whole claim refused");
    t = try_new();
    try_photo(t, "fore", "seal")->sharpness = 1;
    tap_ok(try_rule(t)->amount_minor == 0 && t->ruling->if_cured_minor == 81701,
           "a claim that asks pays nothing, and says what it comes to");
    try_free(t);
}

/* A share of 1/3 of 400 min is 8000 s (rounded up to a whole second: 8000 exactly); 8000 x 6800 / 3600 = 15111.11 -> 151.11. */
static void share_rows(void)
{
    static const char *const pairs[] = {
        "{station: fore, share_of_unit: 1/2}", "{station: fore, share_of_unit: 1/3}",
        "{station: aft, share_of_unit: 1/2}", "{station: aft, share_of_unit: 2/3}", NULL};
    /* 2/3 of 400 min: 16000 s x 6800 / 3600 = 30222.22 -> 302.22. */
    comes_to(try_bulletin(pairs), 15111 + 30222 + 3967 + 32400, 15111 + 3967 + 16200, 30222 + 16200,
             "shares of a third and two thirds");
    static const char *const none[] = {"pays: [labour, kit, parts, travel, consumables]",
                                       "pays: [kit, parts, travel, consumables]",
                                       "    labour: 520.00\n", "", NULL};
    comes_to(try_bulletin(none), 32400, 16200, 16200, "a bulletin that does not pay labour");
    static const char *const kits[] = {"pays: [labour, kit, parts, travel, consumables]",
                                       "pays: [labour, parts, travel, consumables]", NULL};
    comes_to(try_bulletin(kits), 49301, 26634, 22667, "a bulletin that does not pay kits");
}

/* ---- caps ---- */

static void cap_rows(void)
{
    /* 520.00 less 400.00 leaves 120.00 of 493.01. */
    struct rule_try *t = try_new();
    t->known.paid_minor[BULLETIN_PAYS_LABOUR] = 40000;
    try_has(t, RULE_CAPPED, 1, RULE_NOTE, NULL,
            "Labour comes to 493.01 EUR; the cap is 520.00 EUR a unit, of which 400.00 EUR were "
            "paid before: 120.00 EUR are left",
            "a cap that is nearly used up");
    tap_ok(t->ruling->verdict == RULE_PAY && t->ruling->amount_minor == 44400,
           "444.00 are paid at once");
    comes_to(t, 12000 + 32400, 12000 + 16200, 16200, "the first line gets what is left");
    /* 493.01 is exactly the rest. */
    t = try_new();
    t->known.paid_minor[BULLETIN_PAYS_LABOUR] = 52000 - 49301;
    try_has(t, RULE_CAPPED, 0, RULE_NOTE, NULL, "", "a cap that is just reached");
    comes_to(t, 81701, 42834, 38867, "takes nothing off");
    t = try_new();
    t->known.paid_minor[BULLETIN_PAYS_LABOUR] = 60000;
    comes_to(t, 32400, 16200, 16200, "a cap that was passed before leaves nothing");
    /* 1400.00 less 1000.00 leaves 400.00: 226.67 and 173.33 of labour. */
    t = try_new();
    t->known.paid_unit_minor = 100000;
    try_has(t, RULE_CAPPED, 1, RULE_NOTE, NULL,
            "Everything together comes to 817.01 EUR; the cap is 1400.00 EUR a unit, of which "
            "1000.00 EUR were paid before: 400.00 EUR are left",
            "the unit's cap");
    comes_to(t, 40000, 22667, 17333, "lines are filled in their order");
    static const char *const pairs[] = {
        "  caps:\n    labour: 520.00\n    parts: 240.00\n    travel: 120.00\n    consumables: "
        "25.00\n    unit: 1400.00\n",
        "", NULL};
    t = try_bulletin(pairs);
    t->known.paid_unit_minor = 100000000;
    comes_to(t, 81701, 42834, 38867, "a bulletin without caps");
}

/* ---- expenses ---- */

static struct event *expense(struct rule_try *t, enum event_expense what, const char *station,
                             int64_t minor, const char *part, int64_t count)
{
    const struct event like = *try_event(t, EVENT_NOTE, NULL, NULL, 0);
    struct event *e = try_add(t, &like, try_finished_ms(t) + 1000);
    e->type = EVENT_EXPENSE_CLAIMED;
    e->station = station;
    e->as.expense_claimed = (struct event_expense_claimed){
        .what = (int64_t)what, .amount_minor = minor, .part = part, .count = count};
    return e;
}

static void expense_rows(void)
{
    struct rule_try *t = try_new();
    expense(t, EVENT_TRAVEL, NULL, 8000, NULL, EVENT_ABSENT)->as.expense_claimed.why =
        "64 km and back";
    expense(t, EVENT_CONSUMABLES, "aft", 1250, NULL, EVENT_ABSENT);
    expense(t, EVENT_PARTS, "fore", 8800, "torque-shaft", EVENT_ABSENT);
    tap_ok(try_rule(t)->n_findings == 0 && t->ruling->n_lines == 8,
           "travel, consumables and a part: three lines more, no finding");
    tap_ok(strcmp(t->ruling->lines[5].what, "1 x torque-shaft, claimed at 88.00 EUR") == 0 &&
               strcmp(t->ruling->lines[6].what, "travel as claimed: 64 km and back") == 0 &&
               strcmp(t->ruling->lines[7].what, "consumables as claimed") == 0,
           "and what they are");
    comes_to(t, 81701 + 8000 + 1250 + 8800, 42834 + 8800 + 8000, 38867 + 1250,
             "each with its column, travel with the first");

    t = try_new();
    expense(t, EVENT_PARTS, NULL, 7000, "pinion", 2);
    try_has(t, RULE_NOT_PAYABLE, 1, RULE_NOTE, NULL,
            "70.00 EUR are claimed for 2 x part pinion; at the bulletin's price of 31.50 EUR they "
            "come to 63.00 EUR",
            "two pinions dearer than their price");
    comes_to(t, 81701 + 6300, 42834 + 6300, 38867, "are paid at their price");
    t = try_new();
    expense(t, EVENT_PARTS, NULL, 6300, "pinion", 2);
    try_has(t, RULE_NOT_PAYABLE, 0, RULE_NOTE, NULL, "", "two pinions at their price");
    comes_to(t, 81701 + 6300, 42834 + 6300, 38867, "are paid");
    t = try_new();
    expense(t, EVENT_PARTS, NULL, 3000, "pinion", 2);
    comes_to(t, 81701 + 3000, 42834 + 3000, 38867,
             "two pinions cheaper than their price: as claimed");
    t = try_new();
    expense(t, EVENT_PARTS, NULL, 3000, "gold-bar", 1);
    expense(t, EVENT_PARTS, NULL, 2000, NULL, EVENT_ABSENT);
    try_has(t, RULE_NOT_PAYABLE, 2, RULE_NOTE, NULL,
            "30.00 EUR are claimed for part gold-bar, for which the bulletin has no price",
            "parts that the bulletin does not have");
    comes_to(t, 81701, 42834, 38867, "are not paid");
    t = try_new();
    expense(t, EVENT_TRAVEL, NULL, 15000, NULL, EVENT_ABSENT);
    try_has(t, RULE_CAPPED, 1, RULE_NOTE, NULL,
            "Travel comes to 150.00 EUR; the cap is 120.00 EUR a unit, of which 0.00 EUR were paid "
            "before: 120.00 EUR are left",
            "travel above its cap");
    comes_to(t, 81701 + 12000, 42834 + 12000, 38867, "is paid up to it");
    t = try_new();
    expense(t, EVENT_TRAVEL, NULL, 9000, NULL, EVENT_ABSENT);
    expense(t, EVENT_TRAVEL, NULL, 7000, NULL, EVENT_ABSENT)->at_ms += 1000;
    comes_to(t, 81701 + 7000, 42834 + 7000, 38867, "travel claimed anew: the last holds");
    static const char *const pairs[] = {
        "pays: [labour, kit, parts, travel, consumables]", "pays: [labour, kit]",
        "    parts: 240.00\n    travel: 120.00\n    consumables: 25.00\n", "", NULL};
    t = try_bulletin(pairs);
    expense(t, EVENT_TRAVEL, NULL, 8000, NULL, EVENT_ABSENT);
    try_has(t, RULE_NOT_PAYABLE, 1, RULE_NOTE, NULL,
            "80.00 EUR are claimed for travel, which this bulletin does not pay",
            "travel where none is paid");
    comes_to(t, 81701, 42834, 38867, "is not paid");
    t = try_new();
    try_drop_station(t, "aft");
    expense(t, EVENT_CONSUMABLES, "aft", 1000, NULL, EVENT_ABSENT);
    try_has(t, RULE_NOT_PAYABLE, 1, RULE_NOTE, "aft",
            "10.00 EUR are claimed for consumables of aft, which was not worked on",
            "consumables of a column that was not worked on");
    comes_to(t, 42834, 42834, -1, "are not paid");
    t = try_new();
    expense(t, EVENT_TRAVEL, NULL, 0, NULL, EVENT_ABSENT);
    try_clean(t, "travel of nothing");
}

/* ---- other currencies ---- */

/* The example bulletin in another currency: each amount of money with so many decimals. */
static struct rule_try *currency(const char *code, int digits)
{
    const struct text *from = try_yaml();
    struct text to = {0};
    for (const char *at = from->data; *at != '\0';) {
        size_t whole = strncmp(at, ": ", 2) == 0 ? strspn(at + 2, "0123456789") : 0;
        const char *point = at + 2 + whole;
        if (strncmp(at, ": EUR", 5) == 0) {
            text_printf(&to, ": %s", code);
            at += 5;
        } else if (whole > 0 && point[0] == '.' && strspn(point + 1, "0123456789") == 2 &&
                   strchr(",}\n", point[3]) != NULL &&
                   (at - from->data < 4 || strncmp(at - 4, "risk", 4) != 0)) {
            text_add(&to, at, 2 + whole);
            if (digits > 0)
                text_printf(&to, "%.3s0", point);
            at = point + 3;
        } else {
            text_putc(&to, *at++);
        }
    }
    struct rule_try *t = try_text(to.data, to.size);
    text_done(&to);
    return t;
}

static void currency_rows(void)
{
    /* ISO 4217 (from memory): JPY has no minor unit, KWD a thousandth. 68 JPY an hour: 226.67 -> 227; 39.67 -> 40. */
    struct rule_try *t = currency("JPY", 0);
    tap_ok(strcmp((try_rule(t))->lines[0].what, "200 min at 68 JPY/h") == 0,
           "yen have no decimals");
    comes_to(t, 227 + 227 + 40 + 2 * 162, 227 + 40 + 162, 227 + 162, "in whole yen");
    /* 68.000 KWD an hour: 12000 x 68000 / 3600 = 226666.67 -> 226.667; 2100 x 68000 / 3600 = 39666.67 -> 39.667. */
    t = currency("KWD", 3);
    tap_ok(strcmp((try_rule(t))->lines[0].what, "200 min at 68.000 KWD/h") == 0,
           "dinars have three");
    comes_to(t, 226667 + 226667 + 39667 + 2 * 162000, 226667 + 39667 + 162000, 226667 + 162000,
             "in thousandths of a dinar");
}

/* ---- as large as can be ---- */

static void large_rows(void)
{
    static const char *const pairs[] = {
        "  caps:\n    labour: 520.00\n    parts: 240.00\n    travel: 120.00\n    consumables: "
        "25.00\n    unit: 1400.00\n",
        "", NULL};
    struct rule_try *t = try_bulletin(pairs);
    t->shop.rate_minor = INT64_MAX;
    expense(t, EVENT_TRAVEL, NULL, EVENT_MONEY_MAX, NULL, EVENT_ABSENT);
    /* A line is bounded at 10^15: three of labour, two kits, and 10^12 of travel. */
    comes_to(t, INT64_C(3001000000032400), INT64_C(2001000000016200), INT64_C(1000000000016200),
             "the dearest shop there can be");

    struct text yaml = {0};
    const char *at = strstr(try_yaml()->data, "parts:\n  - {id: pinion,");
    text_add(&yaml, try_yaml()->data, (size_t)(at - try_yaml()->data));
    text_puts(&yaml, "parts:\n");
    for (int i = 0; i < 70; i++)
        text_printf(&yaml, "  - {id: p%02d, name: Part, price: 1.00}\n", i);
    text_puts(&yaml, at + strlen("parts:\n"));
    t = try_text(yaml.data, yaml.size);
    static char names[70][16];
    struct event *first = NULL;
    t->events = realloc(t->events, (t->room + 100) * sizeof *t->events);
    t->room += 100;
    for (int i = 0; i < 70 && t->events != NULL; i++) {
        snprintf(names[i], sizeof names[i], "p%02d", i);
        first = expense(t, EVENT_PARTS, NULL, 100, names[i], 1);
    }
    expense(t, EVENT_TRAVEL, NULL, 5000, NULL, EVENT_ABSENT);
    tap_ok(first != NULL && try_rule(t)->n_lines == RULE_LINES_MAX - BULLETIN_PAYS_N + 2,
           "70 parts and travel: what does not fit stands in one line a kind");
    tap_ok(strcmp(t->ruling->lines[RULE_LINES_MAX - BULLETIN_PAYS_N].what,
                  "further parts, put together") == 0,
           "which says so");
    comes_to(t, 81701 + 7000 + 5000, 42834 + 7000 + 5000, 38867, "and nothing is lost");
    text_done(&yaml);
}

int main(void)
{
    labour_rows();
    share_rows();
    cap_rows();
    expense_rows();
    currency_rows();
    large_rows();
    return tap_done();
}

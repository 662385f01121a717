/* rule_money: owns the money: what each station comes to, line by line, the caps, and what is claimed and not payable.
 *
 * Every amount is whole minor units within MOST either way, so that no sum of lines can overflow. */
#include "desk/rule_in.h"

#include <string.h>

#define MOST ((int64_t)1000000000000000) /* 10^15 minor units: beyond it an amount counts as this */

enum {
    LINES_KEPT = RULE_LINES_MAX - BULLETIN_PAYS_N
}; /* the rest is for sums of what does not fit */

__extension__ typedef __int128 wide;

static int64_t bounded(wide amount)
{
    return amount > MOST ? MOST : (int64_t)amount;
}

/* ---- lines ---- */

static bool is_open(const struct rule_run *r, int station)
{
    return r->worst_whole != RULE_REFUSE && r->sites[station].is_worked &&
           r->sites[station].worst != RULE_REFUSE;
}

/* The station that is paid what is once a unit: the first that is open; -1. */
static int first_open(const struct rule_run *r)
{
    for (size_t i = 0; i < r->n_sites; i++)
        if (is_open(r, (int)i))
            return (int)i;
    return -1;
}

/* Beyond LINES_KEPT lines of one kind are put together in one. */
static struct rule_line *add_line(struct rule_run *r, int station, enum bulletin_pays kind,
                                  int64_t due)
{
    struct rule_ruling *ret = r->ret;
    if (ret->n_lines >= LINES_KEPT)
        for (size_t i = LINES_KEPT; i < ret->n_lines; i++)
            if (ret->lines[i].kind == kind) {
                ret->lines[i].due_minor = bounded((wide)ret->lines[i].due_minor + due);
                return &ret->lines[i];
            }
    struct rule_line *line = &ret->lines[ret->n_lines++];
    *line = (struct rule_line){
        .station = station >= 0 && ret->n_lines <= LINES_KEPT ? r->sites[station].id : NULL,
        .kind = kind,
        .due_minor = due};
    return line;
}

static bool is_sum(const struct rule_run *r, const struct rule_line *line)
{
    return (size_t)(line - r->ret->lines) >= LINES_KEPT;
}

static int64_t rate_of(const struct rule_run *r)
{
    const struct rule_shop *shop = r->known->shop;
    return shop != NULL && shop->rate_minor != BULLETIN_NO_AMOUNT ? shop->rate_minor
                                                                  : r->b->claim.rate_minor;
}

/* Seconds at a rate an hour, the half rounded up. */
static int64_t labour_minor(int64_t seconds, int64_t rate)
{
    return bounded(((wide)seconds * rate + 1800) / 3600);
}

static void add_labour(struct rule_run *r, int station, int64_t seconds, const char *why)
{
    char minutes[RULE_AMOUNT_SIZE], rate[RULE_MONEY_SIZE];
    struct rule_line *line =
        add_line(r, station, BULLETIN_PAYS_LABOUR, labour_minor(seconds, rate_of(r)));
    rule_text(line->what, sizeof line->what, "%s%s at %s/h", rule_minutes(seconds, minutes), why,
              rule_money_text(r->b, rate_of(r), rate));
}

static void pay_labour(struct rule_run *r)
{
    if (!r->book->does_pay[BULLETIN_PAYS_LABOUR])
        return;
    for (size_t i = 0; i < r->n_sites; i++)
        if (is_open(r, (int)i))
            add_labour(r, (int)i, r->book->labour_s[i], "");
    if (r->b->labour.once_s > 0 && !r->known->is_once_paid && first_open(r) >= 0)
        add_labour(r, RULE_WHOLE, r->b->labour.once_s, " once a unit");
}

static void pay_kits(struct rule_run *r)
{
    if (!r->book->does_pay[BULLETIN_PAYS_KIT])
        return;
    for (size_t i = 0; i < r->n_sites; i++) {
        if (!is_open(r, (int)i) || r->sites[i].kit < 0)
            continue;
        const struct bulletin_kit *kit = &r->b->kits.at[r->sites[i].kit];
        if (kit->price_minor == BULLETIN_NO_AMOUNT) {
            rule_message(r, "Kit %s of %s has no price in the bulletin: nothing is paid for it",
                         kit->id, r->sites[i].id);
            rule_cure(r, "Nothing to send. Desk: was the kit not shipped free of charge, overrule "
                         "with its price.");
            rule_add(r, RULE_NOT_PAYABLE, RULE_NOTE, (int)i);
            continue;
        }
        struct rule_line *line = add_line(r, (int)i, BULLETIN_PAYS_KIT, bounded(kit->price_minor));
        rule_text(line->what, sizeof line->what, "kit %s%s%s", kit->id,
                  kit->number[0] != '\0' ? ", number " : "", kit->number);
    }
}

/* ---- what was claimed beyond labour and kit ---- */

static void say_not_payable(struct rule_run *r, int station)
{
    rule_cure(r, "Nothing to send. Desk: overrule with the amount and the reason, if it is owed "
                 "all the same.");
    rule_add(r, RULE_NOT_PAYABLE, RULE_NOTE, station);
}

/* What is due for a part: as claimed, at the bulletin's price at most; 0 when it gives none (and said). */
static int64_t part_due(struct rule_run *r, int station, const struct event_expense_claimed *e)
{
    char amount[RULE_MONEY_SIZE], price[RULE_MONEY_SIZE], due[RULE_MONEY_SIZE];
    const struct bulletin_part *part = e->part != NULL ? bulletin_part_find(r->b, e->part) : NULL;
    const int64_t count = e->count != EVENT_ABSENT ? e->count : 1;
    if (part == NULL || part->price_minor == BULLETIN_NO_AMOUNT) {
        rule_message(r, "%s are claimed for %s%s, for which the bulletin has no price",
                     rule_money_text(r->b, e->amount_minor, amount),
                     e->part != NULL ? "part " : "parts that are not named",
                     e->part != NULL ? e->part : "");
        say_not_payable(r, station);
        return 0;
    }
    const int64_t most = bounded((wide)part->price_minor * count);
    if (e->amount_minor <= most)
        return e->amount_minor;
    rule_message(r,
                 "%s are claimed for %lld x part %s; at the bulletin's price of %s they come to %s",
                 rule_money_text(r->b, e->amount_minor, amount), (long long)count, part->id,
                 rule_money_text(r->b, part->price_minor, price), rule_money_text(r->b, most, due));
    say_not_payable(r, station);
    return most;
}

static void put_expense(const struct rule_run *r, const struct event_expense_claimed *e,
                        struct rule_line *line)
{
    char amount[RULE_MONEY_SIZE];
    if (is_sum(r, line))
        rule_text(line->what, sizeof line->what, "further %s, put together",
                  rule_pays_name(line->kind));
    else if (line->kind == BULLETIN_PAYS_PARTS)
        rule_text(line->what, sizeof line->what, "%lld x %s, claimed at %s",
                  (long long)(e->count != EVENT_ABSENT ? e->count : 1), e->part,
                  rule_money_text(r->b, e->amount_minor, amount));
    else
        rule_text(line->what, sizeof line->what, "%s as claimed%s%s", rule_pays_name(line->kind),
                  e->why != NULL ? ": " : "", e->why != NULL ? e->why : "");
}

static void pay_expense(struct rule_run *r, int station, enum bulletin_pays kind,
                        const struct event_expense_claimed *e)
{
    char amount[RULE_MONEY_SIZE];
    if (e->amount_minor == 0)
        return;
    rule_money_text(r->b, e->amount_minor, amount);
    if (!r->book->does_pay[kind]) {
        rule_message(r, "%s are claimed for %s, which this bulletin does not pay", amount,
                     rule_pays_name(kind));
        say_not_payable(r, station);
        return;
    }
    if (station >= 0 && !r->sites[station].is_worked) {
        rule_message(r, "%s are claimed for %s of %s, which was not worked on", amount,
                     rule_pays_name(kind), r->sites[station].id);
        say_not_payable(r, station);
        return;
    }
    if (station >= 0 ? !is_open(r, station) : first_open(r) < 0)
        return; /* refused with its station, which has its finding */
    const int64_t due = kind == BULLETIN_PAYS_PARTS ? part_due(r, station, e) : e->amount_minor;
    if (due > 0)
        put_expense(r, e, add_line(r, station, kind, due));
}

/* The items of one kind at one station stand side by side in the job, by part. */
static void pay_expenses_at(struct rule_run *r, int station, const struct job_station *at,
                            enum event_expense what)
{
    static const enum bulletin_pays kinds[EVENT_EXPENSE_N] = {[EVENT_TRAVEL] = BULLETIN_PAYS_TRAVEL,
                                                              [EVENT_CONSUMABLES] =
                                                                  BULLETIN_PAYS_CONSUMABLES,
                                                              [EVENT_PARTS] = BULLETIN_PAYS_PARTS};
    for (size_t i = 0; i < at->n_items; i++) {
        const struct job_item *item = &r->job->items[at->first_item + i];
        if (item->type == EVENT_EXPENSE_CLAIMED && item->target == (int64_t)what)
            pay_expense(r, station, kinds[what], &job_latest(r->job, item)->as.expense_claimed);
    }
}

static void pay_expenses(struct rule_run *r, enum event_expense what)
{
    for (size_t s = 0; s < r->n_sites; s++)
        if (r->sites[s].at != NULL)
            pay_expenses_at(r, (int)s, r->sites[s].at, what);
    for (size_t s = 0; s < r->job->n_stations; s++)
        if (r->job->stations[s].id == NULL)
            pay_expenses_at(r, RULE_WHOLE, &r->job->stations[s], what);
}

/* ---- caps ---- */

/* Takes what is over the cap off the last lines first to reach it; kind -1: every line. Returns what was due and, in *ret_paid, what
 * is left of it. */
static int64_t cut_down(struct rule_run *r, int kind, int64_t left, int64_t *ret_paid)
{
    int64_t due = 0, paid = 0;
    for (size_t i = 0; i < r->ret->n_lines; i++) {
        struct rule_line *line = &r->ret->lines[i];
        if (kind >= 0 && line->kind != (enum bulletin_pays)kind)
            continue;
        due += line->paid_minor;
        if (line->paid_minor > left)
            line->paid_minor = left;
        left -= line->paid_minor;
        paid += line->paid_minor;
    }
    *ret_paid = paid;
    return due;
}

static void apply_cap(struct rule_run *r, int kind, int64_t cap, int64_t before)
{
    char due_text[RULE_MONEY_SIZE], cap_text[RULE_MONEY_SIZE], before_text[RULE_MONEY_SIZE],
        paid_text[RULE_MONEY_SIZE];
    int64_t paid = 0;
    if (cap == BULLETIN_NO_AMOUNT)
        return;
    before = before < 0 ? 0 : before;
    const int64_t due = cut_down(r, kind, before < cap ? cap - before : 0, &paid);
    if (paid == due)
        return;
    rule_message(
        r, "%s comes to %s; the cap is %s a unit, of which %s were paid before: %s are left",
        kind >= 0 ? rule_pays_name((enum bulletin_pays)kind) : "Everything together",
        rule_money_text(r->b, due, due_text), rule_money_text(r->b, cap, cap_text),
        rule_money_text(r->b, before, before_text), rule_money_text(r->b, paid, paid_text));
    if (r->draft.message[0] >= 'a')
        r->draft.message[0] = (char)(r->draft.message[0] - 'a' + 'A');
    rule_cure(r,
              "Nothing to send. Desk: overrule with the amount and the reason, if more is owed.");
    rule_add(r, RULE_CAPPED, RULE_NOTE, RULE_WHOLE);
}

static void apply_caps(struct rule_run *r)
{
    const struct bulletin_caps *caps = &r->b->claim.caps;
    for (size_t i = 0; i < r->ret->n_lines; i++)
        r->ret->lines[i].paid_minor = r->ret->lines[i].due_minor;
    if (caps->node == NULL)
        return;
    for (int k = 0; k < BULLETIN_PAYS_N; k++)
        apply_cap(r, k, caps->minor[k], r->known->paid_minor[k]);
    apply_cap(r, -1, caps->unit_minor, r->known->paid_unit_minor);
}

/* ---- the whole ---- */

static void sum_up(struct rule_run *r)
{
    struct rule_ruling *ret = r->ret;
    const int first = first_open(r);
    for (size_t i = 0; i < ret->n_lines; i++) {
        const struct rule_line *line = &ret->lines[i];
        const char *station =
            line->station != NULL || first < 0 ? line->station : r->sites[first].id;
        ret->if_cured_minor += line->paid_minor;
        for (size_t k = 0; k < ret->n_awards; k++)
            if (ret->awards[k].station == station)
                ret->awards[k].amount_minor += line->paid_minor;
    }
}

void rule_money(struct rule_run *r)
{
    pay_labour(r);
    pay_kits(r);
    pay_expenses(r, EVENT_PARTS);
    pay_expenses(r, EVENT_TRAVEL);
    pay_expenses(r, EVENT_CONSUMABLES);
    apply_caps(r);
    sum_up(r);
}

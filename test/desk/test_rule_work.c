/* Rows for the rules about the work as it went (desk/rule_work.c). The example was opened at 1777878720880 ms and finished at
 * 1777902519819 ms: 23798.939 s, 396 whole minutes, later. */
#include "rule_try.h"
#include "tap.h"

#include <string.h>

static const int64_t hour = 3600 * 1000;

static void hold_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_HOLD_CONFIRMED, NULL, "restore-supply");
    try_one(t, RULE_HOLD_SKIPPED, RULE_ASK, NULL,
            "Step restore-supply was not confirmed; its danger: electrical, pinch",
            "a step of the unit not confirmed");
    t = try_new();
    try_drop(t, EVENT_HOLD_CONFIRMED, "aft", "remove-column");
    try_one(t, RULE_HOLD_SKIPPED, RULE_ASK, "aft",
            "Step remove-column of aft was not confirmed; its danger: lifting, pinch, cutting",
            "a step of one column not confirmed");
    t = try_new();
    try_drop(t, EVENT_HOLD_CONFIRMED, NULL, "set-site");
    try_one(t, RULE_HOLD_SKIPPED, RULE_ASK, NULL, "Step set-site was not confirmed",
            "a step without a hazard");
    t = try_new();
    try_drop(t, EVENT_HOLD_CONFIRMED, NULL, "support-room");
    try_clean(t, "a step that a photo holds needs no word");
    t = try_new();
    try_event(t, EVENT_HOLD_CONFIRMED, NULL, "restore-supply", 0)->station = "fore";
    try_clean(t, "a step of the unit, confirmed at a column");
}

static void end_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_FINISHED, NULL, NULL);
    try_one(t, RULE_NOT_FINISHED, RULE_ASK, NULL, "was not finished", "no end");
    t = try_new();
    const struct event opened = *try_event(t, EVENT_OPENED, NULL, NULL, 0);
    try_add(t, &opened, try_finished_ms(t) + 1000);
    try_one(t, RULE_NOT_FINISHED, RULE_ASK, NULL, "was opened again since",
            "opened again and not finished");
    t = try_new();
    const struct event again = *try_event(t, EVENT_OPENED, NULL, NULL, 0),
                       done = *try_event(t, EVENT_FINISHED, NULL, NULL, 0);
    try_add(t, &again, done.at_ms + 1000);
    try_add(t, &done, done.at_ms + 2000);
    try_clean(t, "opened again and finished: the time counts from the first opening");
    t = try_new();
    const struct event first = *try_event(t, EVENT_OPENED, NULL, NULL, 0),
                       end = *try_event(t, EVENT_FINISHED, NULL, NULL, 0);
    t->n_events = 0;
    try_add(t, &first, first.at_ms);
    try_add(t, &end, end.at_ms);
    try_one(t, RULE_NOT_FINISHED, RULE_ASK, NULL, "No station was worked on",
            "nothing but a beginning and an end");

    t = try_new();
    const struct event hold = *try_event(t, EVENT_HOLD_CONFIRMED, NULL, "close", 0),
                       note = *try_event(t, EVENT_NOTE, NULL, NULL, 0);
    try_add(t, &hold, try_finished_ms(t) + 1000);
    try_one(t, RULE_WORK_AFTER, RULE_ASK, NULL,
            "(hold_confirmed, 2026-05-04 13:48 UTC) is work after the job was finished",
            "work after the end");
    t = try_new();
    try_add(t, &note, try_finished_ms(t) + 1000);
    try_clean(t, "a note after the end");
}

static void list_rows(void)
{
    struct rule_try *t = try_new();
    const struct event note = *try_event(t, EVENT_NOTE, NULL, NULL, 0);
    try_add(t, &note, try_finished_ms(t) - 1000)->at_ms -= 60000;
    try_add(t, &note, try_finished_ms(t) - 500)->at_ms -= 60000;
    try_has(t, RULE_CLOCK, 1, RULE_NOTE, NULL, "of the same technician that shows a later time",
            "a clock that went back, told once");
    tap_ok(t->ruling->verdict == RULE_PAY, "and it is paid");
    try_free(t);
    t = try_new();
    struct event *odd = try_add(t, &note, try_finished_ms(t) - 1000);
    odd->has_corrects = true;
    memset(&odd->corrects, 7, sizeof odd->corrects);
    try_one(t, RULE_EVENTS_ODD, RULE_ASK, NULL, "corrects an event that is not in the list",
            "a correction of nothing");
    t = try_new();
    const struct event torque = *try_event(t, EVENT_READING_TAKEN, "fore", "fore-fixing-torque", 0);
    struct event *again = try_add(t, &torque, torque.at_ms + 1000);
    again->has_corrects = true;
    again->corrects = torque.id;
    try_clean(t, "a correction of what is there");
}

static struct rule_try *with(const char *from, const char *to)
{
    const char *const pairs[] = {from, to, NULL};
    return try_bulletin(pairs);
}

/* The bulletin without claim.fastest, and with so many minutes for a whole unit. */
static struct rule_try *without(const char *unit)
{
    const char *const pairs[] = {"  fastest: 75 min\n",
                                 "",
                                 "unit: 400 min",
                                 unit,
                                 "    labour: 520.00\n",
                                 "",
                                 "    unit: 1400.00\n",
                                 "    unit: 9400.00\n",
                                 NULL};
    return try_bulletin(pairs);
}

static void time_rows(void)
{
    try_one(with("fastest: 75 min", "fastest: 199 min"), RULE_TOO_FAST, RULE_HOLD, NULL,
            "took 396 min from opened to finished; honest work takes at least 398 min (199 min for "
            "each of 2 stations, by the bulletin)",
            "faster than 2 x 199 min");
    try_clean(with("fastest: 75 min", "fastest: 198 min"), "not faster than 2 x 198 min = 396 min");
    struct rule_try *t = with("fastest: 75 min", "fastest: 199 min");
    try_drop_station(t, "aft");
    try_clean(t, "one column in the same time");
    /* A quarter of 1600 + 35 min is 408.75 min, of 1500 + 35 min 383.75 min. */
    try_one(without("unit: 1600 min"), RULE_TOO_FAST, RULE_HOLD, NULL,
            "less than 408 min: a quarter of the paid time, a limit of ours",
            "faster than a quarter of the paid time");
    try_clean(without("unit: 1500 min"), "not faster than that");

    t = try_new();
    const int64_t first = 1777878720880, last = 1777902519819;
    t->overlaps[0] =
        (struct rule_overlap){"K0123456789AB", "ZZZFM24T5R0009999", first - 9 * hour, first + 1};
    t->known.n_overlaps = 1;
    try_one(t, RULE_TWO_AT_ONCE, RULE_HOLD, NULL,
            "claim K0123456789AB for unit ZZZFM24T5R0009999 in the same hours",
            "another job that ends a moment into this one");
    t = try_new();
    t->overlaps[0] =
        (struct rule_overlap){"K0123456789AB", "ZZZFM24T5R0009999", first - 9 * hour, first};
    t->overlaps[1] = (struct rule_overlap){"K0123456789AC", "ZZZFM24T5R0009999", last, last + hour};
    t->known.n_overlaps = 2;
    try_clean(t, "jobs right before and right after");

    t = try_new();
    t->claim.taken_ms = last - 26 * hour - 1;
    try_one(t, RULE_IN_FUTURE, RULE_ASK, NULL,
            "The job ends on 2026-05-04 13:48 UTC, after it was taken in on 2026-05-03 11:48 UTC",
            "taken in more than 26 hours before its end");
    t = try_new();
    t->claim.taken_ms = last - 26 * hour;
    try_clean(t, "taken in 26 hours before its end");
}

int main(void)
{
    hold_rows();
    end_rows();
    list_rows();
    time_rows();
    return tap_done();
}

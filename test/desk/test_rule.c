/* Rows for desk/rule as a whole: the clean claim, how findings come to a verdict, their order, and properties: neither the order of
 * the events nor that of what is known changes anything. The rules one by one are in test_rule_*.c. */
#include "base/file.h"
#include "rule_try.h"
#include "table.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define ROOT TEST_TABLES "/../../"

static void test_clean(void)
{
    struct rule_try *t = try_new();
    const struct rule_ruling *r = try_rule(t);
    if (!tap_ok(r->n_findings == 0, "the example job: no finding, not even a note"))
        try_show(r);
    tap_ok(r->verdict == RULE_PAY && r->amount_minor == r->if_cured_minor && r->amount_minor > 0,
           "pay");
    tap_ok(r->n_awards == 2 && strcmp(r->awards[0].station, "fore") == 0 &&
               strcmp(r->awards[1].station, "aft") == 0 && r->awards[0].verdict == RULE_PAY &&
               r->awards[1].verdict == RULE_PAY,
           "an award for each station, in the bulletin's order");
    try_free(t);
}

/* The other bulletin: hinges, inches, no racks. Its pin is measured before the kit is chosen. */
static void test_worked_on(void)
{
    struct rule_try *t = try_new();
    (void)try_rule(t);
    tap_ok(rule_worked_on(t->book, t->job, "fore") && rule_worked_on(t->book, t->job, "aft"),
           "both columns were worked on");
    tap_ok(!rule_worked_on(t->book, t->job, "roof"),
           "a station that the bulletin does not have was not");
    try_free(t);
    /* What is left of aft is what every technician does at a column that is out. */
    t = try_new();
    struct event keep[4];
    keep[0] = *try_event(t, EVENT_LABEL_READ, "aft", NULL, 0);
    keep[1] = *try_event(t, EVENT_PHOTO_TAKEN, "aft", "label", 0);
    keep[2] = *try_event(t, EVENT_HOLD_CONFIRMED, "aft", "identify", 0);
    keep[3] = *try_event(t, EVENT_READING_TAKEN, "aft", "aft-upper-out", 0);
    try_drop_station(t, "aft");
    keep[0].as.label_read.text = "WD40 2024-W40";
    for (size_t i = 0; i < 4; i++)
        try_add(t, &keep[i], keep[i].at_ms);
    t->labels[1].label = "WD40 2024-W40";
    const struct rule_ruling *r = try_rule(t);
    if (!tap_ok(r->n_findings == 0 && r->n_awards == 1 && r->verdict == RULE_PAY,
                "a column read, photographed and found out is no part of the claim"))
        try_show(r);
    tap_ok(!rule_worked_on(t->book, t->job, "aft"), "it was not worked on");
    try_free(t);
}

/* Aft with nothing but one thing: whether that alone counts as work. */
static void only(struct rule_try *t, enum event_type type, const char *key, bool is_work,
                 const char *what)
{
    const struct event keep = *try_event(t, type, "aft", key, 0);
    try_drop_station(t, "aft");
    try_add(t, &keep, keep.at_ms);
    (void)try_rule(t);
    tap_ok(rule_worked_on(t->book, t->job, "aft") == is_work, "%s alone: %s", what,
           is_work ? "worked on" : "not");
    try_free(t);
}

static void test_work(void)
{
    only(try_new(), EVENT_KIT_CHOSEN, NULL, true, "a kit");
    only(try_new(), EVENT_RACK_MEASURED, "inboard", true, "a rack measured");
    only(try_new(), EVENT_CUT, "inboard", true, "a cut");
    only(try_new(), EVENT_HOLD_CONFIRMED, "release-drive", true, "a dangerous step");
    only(try_new(), EVENT_HOLD_CONFIRMED, "seal", true, "a later step");
    only(try_new(), EVENT_HOLD_CONFIRMED, "identify", false, "the step of reading labels");
    only(try_new(), EVENT_PHOTO_TAKEN, "seal", true, "a photo of the work");
    only(try_new(), EVENT_PHOTO_TAKEN, "label", false, "a photo of the label");
    only(try_new(), EVENT_READING_TAKEN, "aft-upper-in", false, "a reading");
    struct rule_try *t = try_new();
    try_event(t, EVENT_PHOTO_TAKEN, "aft", "seal", 0)->as.photo_taken.photo = "holiday";
    only(t, EVENT_PHOTO_TAKEN, "holiday", false, "a photo that nobody asked for");
    t = try_new();
    struct event *moved = try_event(t, EVENT_MOVED, "fore", "outboard", 0);
    moved->station = "aft";
    only(t, EVENT_MOVED, "outboard", true, "a rack moved");
    t = try_new();
    moved = try_event(t, EVENT_MOVED, "fore", "fore-upper-packing", 0);
    moved->station = "aft";
    only(t, EVENT_MOVED, "fore-upper-packing", false,
         "packing moved, as when the other column is trued");
    /* Reading the label is confirmed by hand here, and the label's photo is asked for later: it comes before the first danger. */
    static const char *const pairs[] = {"    hold: photo\n    photos: [label]", "    hold: confirm",
                                        "    photos: [seal]", "    photos: [seal, label]", NULL};
    only(try_bulletin(pairs), EVENT_HOLD_CONFIRMED, "identify", false,
         "a step before the first dangerous one");
    only(try_bulletin(pairs), EVENT_PHOTO_TAKEN, "label", false,
         "the label's photo, asked for at any step,");
}

/* ---- verdicts: by the rule in the header ---- */

static void blur(struct rule_try *t, const char *station)
{
    try_photo(t, station, "seal")->sharpness = 5;
}

static void label_out(struct rule_try *t, const char *station)
{
    try_event(t, EVENT_LABEL_READ, station, NULL, 0)->as.label_read.text = "WD40 2024-W40";
    t->known.n_labels = 0;
}

static void overlap(struct rule_try *t)
{
    t->overlaps[0] = (struct rule_overlap){"K0000000000A1", "ZZZFM24T5R0009999",
                                           try_finished_ms(t) - 1000, try_finished_ms(t) + 1000};
    t->known.n_overlaps = 1;
}

static void expect(struct rule_try *t, enum rule_verdict verdict, enum rule_verdict fore,
                   enum rule_verdict aft, bool is_paid, const char *what)
{
    const struct rule_ruling *r = try_rule(t);
    const bool is_good = r->verdict == verdict && r->n_awards == 2 &&
                         r->awards[0].verdict == fore && r->awards[1].verdict == aft &&
                         (r->amount_minor > 0) == is_paid;
    if (!tap_ok(is_good, "%s: %s", what, rule_verdict_name(verdict)))
        try_show(r);
    tap_ok(r->if_cured_minor == r->awards[0].amount_minor + r->awards[1].amount_minor,
           "and the awards add up to what it comes to once cured");
    try_free(t);
}

static void test_verdicts(void)
{
    struct rule_try *t = try_new();
    blur(t, "fore");
    expect(t, RULE_VERDICT_ASK, RULE_VERDICT_ASK, RULE_PAY, false, "one station asks");
    t = try_new();
    blur(t, "fore");
    overlap(t);
    expect(t, RULE_VERDICT_HOLD, RULE_VERDICT_ASK, RULE_PAY, false,
           "one station asks, the whole claim holds");
    t = try_new();
    label_out(t, "fore");
    expect(t, RULE_PAY, RULE_VERDICT_REFUSE, RULE_PAY, true,
           "one station is refused, the other pays");
    t = try_new();
    label_out(t, "fore");
    blur(t, "fore");
    expect(t, RULE_PAY, RULE_VERDICT_REFUSE, RULE_PAY, true,
           "what is asked of a refused station holds nothing up");
    t = try_new();
    label_out(t, "fore");
    blur(t, "aft");
    expect(t, RULE_VERDICT_ASK, RULE_VERDICT_REFUSE, RULE_VERDICT_ASK, false,
           "one refused, the other asks");
    t = try_new();
    label_out(t, "fore");
    label_out(t, "aft");
    overlap(t);
    expect(t, RULE_VERDICT_REFUSE, RULE_VERDICT_REFUSE, RULE_VERDICT_REFUSE, false,
           "every station refused, the whole claim holds");
    t = try_new();
    t->claim.taken_ms += (int64_t)400 * 86400000;
    blur(t, "aft");
    expect(t, RULE_VERDICT_REFUSE, RULE_VERDICT_REFUSE, RULE_VERDICT_REFUSE, false,
           "the whole claim refused");
}

/* ---- order ---- */

/* A claim with much wrong, so that there is an order to keep. */
static struct rule_try *try_much(void)
{
    static const char *const fore[] = {"fore"};
    struct rule_try *t = try_new();
    blur(t, "fore");
    blur(t, "aft");
    try_photo(t, NULL, "finished")->exposure = 0.05;
    overlap(t);
    t->overlaps[1] = (struct rule_overlap){"K0000000000A0", "ZZZFM24T5R0008888",
                                           try_finished_ms(t) - 9000, try_finished_ms(t) + 1000};
    t->known.n_overlaps = 2;
    try_drop(t, EVENT_READING_TAKEN, NULL, "leaks");
    try_drop(t, EVENT_READING_TAKEN, "aft", "aft-fixing-torque");
    try_drop(t, EVENT_HOLD_CONFIRMED, "aft", "release-drive");
    try_drop(t, EVENT_HOLD_CONFIRMED, NULL, "set-site");
    t->labels[2] = (struct rule_label){"fore", "WD40 2024-W12", "K0000000000B2"};
    t->labels[3] = (struct rule_label){"fore", "WD40 2024-W11", "K0000000000B1"};
    t->labels[4] = (struct rule_label){"aft", "WD40 2024-W31", "the build list"};
    t->known.n_labels = 5;
    t->others[0] = (struct rule_other){
        .claim = "K0000000000C2", .shop = "other", .stations = fore, .n_stations = 1};
    t->others[1] = (struct rule_other){
        .claim = "K0000000000C1", .shop = "third", .stations = fore, .n_stations = 1};
    t->others[2] = (struct rule_other){
        .claim = "K0000000000C3", .shop = "third", .is_same_job = true, .is_later = true};
    t->known.n_others = 3;
    t->seen[0] = (struct rule_seen){0, "K0000000000D2", "photos/a.jpg", false, false, 0.97};
    t->seen[1] = (struct rule_seen){0, "K0000000000D1", "photos/b.jpg", false, true, 0.99};
    t->seen[2] = (struct rule_seen){3, "K0000000000D1", "photos/c.jpg", true, false, 1.0};
    t->known.n_seen = 3;
    t->same[0] = "K0000000000E2";
    t->same[1] = "K0000000000E1";
    t->known.n_same_readings = 2;
    return t;
}

static int rank(const char *station)
{
    return station == NULL                ? 0
           : strcmp(station, "fore") == 0 ? 1
           : strcmp(station, "aft") == 0  ? 2
                                          : 3;
}

static void test_order(void)
{
    struct rule_try *t = try_much();
    const struct rule_ruling *r = try_rule(t);
    bool is_sorted = true;
    for (size_t i = 1; i < r->n_findings; i++) {
        const struct rule_finding *a = &r->findings[i - 1], *z = &r->findings[i];
        const int c = a->rule != z->rule                     ? (a->rule < z->rule ? -1 : 1)
                      : rank(a->station) != rank(z->station) ? rank(a->station) - rank(z->station)
                                                             : strcmp(a->message, z->message);
        is_sorted = is_sorted && c < 0;
    }
    tap_ok(is_sorted && r->n_findings >= 14,
           "%zu findings in the order of rules, stations and messages", r->n_findings);
    try_show(r);
    try_free(t);
}

/* Everything that a ruling says, as one text. */
static void write_ruling(const struct rule_ruling *r, struct text *out)
{
    text_clear(out);
    text_printf(out, "%d %lld %lld %zu\n", (int)r->verdict, (long long)r->amount_minor,
                (long long)r->if_cured_minor, r->n_more_findings);
    for (size_t i = 0; i < r->n_awards; i++)
        text_printf(out, "%s %d %lld\n", r->awards[i].station, (int)r->awards[i].verdict,
                    (long long)r->awards[i].amount_minor);
    for (size_t i = 0; i < r->n_lines; i++)
        text_printf(out, "%s %d %lld %lld %s\n",
                    r->lines[i].station != NULL ? r->lines[i].station : "-", (int)r->lines[i].kind,
                    (long long)r->lines[i].due_minor, (long long)r->lines[i].paid_minor,
                    r->lines[i].what);
    for (size_t i = 0; i < r->n_findings; i++)
        text_printf(out, "%d %d %s %s %s\n", (int)r->findings[i].rule, (int)r->findings[i].level,
                    r->findings[i].station != NULL ? r->findings[i].station : "-",
                    r->findings[i].message, r->findings[i].cure);
}

static void shuffle(void *items, size_t n, size_t size, unsigned long long *state)
{
    unsigned char *at = items, one[1024];
    for (size_t i = n; i > 1; i--) {
        const size_t k = (size_t)(table_random(state) % i);
        memcpy(one, at + (i - 1) * size, size);
        memcpy(at + (i - 1) * size, at + k * size, size);
        memcpy(at + k * size, one, size);
    }
}

static void test_permuted(struct rule_try *t, const char *what)
{
    struct text first = {0}, now = {0};
    unsigned long long state = 20261125;
    size_t n_same = 0;
    write_ruling(try_rule(t), &first);
    for (int i = 0; i < 60; i++) {
        shuffle(t->events, t->n_events, sizeof *t->events, &state);
        shuffle(t->labels, t->known.n_labels, sizeof *t->labels, &state);
        shuffle(t->others, t->known.n_others, sizeof *t->others, &state);
        shuffle(t->seen, t->known.n_seen, sizeof *t->seen, &state);
        shuffle(t->overlaps, t->known.n_overlaps, sizeof *t->overlaps, &state);
        shuffle(t->same, t->known.n_same_readings, sizeof *t->same, &state);
        write_ruling(try_rule(t), &now);
        n_same += first.size == now.size && memcmp(first.data, now.data, now.size) == 0;
    }
    tap_ok(n_same == 60,
           "%s: 60 other orders of events and of what is known give the same ruling, byte for byte",
           what);
    text_done(&first);
    text_done(&now);
    try_free(t);
}

/* ---- much more than fits ---- */

static void test_many(void)
{
    struct rule_try *t = try_new();
    static struct rule_overlap many[300];
    static char names[300][16];
    for (size_t i = 0; i < 300; i++) {
        snprintf(names[i], sizeof names[i], "K%012zu", (i * 7) % 300);
        many[i] = (struct rule_overlap){names[i], "ZZZFM24T5R0009999", try_finished_ms(t) - 1000,
                                        try_finished_ms(t) + 1000};
    }
    t->known.overlaps = many;
    t->known.n_overlaps = 300;
    const struct rule_ruling *r = try_rule(t);
    tap_ok(r->n_findings == RULE_FINDINGS_MAX && r->n_more_findings == 100,
           "of 300 findings 200 are kept and 100 counted");
    bool is_first = true;
    for (size_t i = 0; i < r->n_findings; i++) {
        char name[32];
        snprintf(name, sizeof name, "claim K%012zu for", i);
        is_first = is_first && strstr(r->findings[i].message, name) != NULL;
    }
    tap_ok(is_first, "those kept are the first in order, not the first seen");
    tap_ok(r->verdict == RULE_VERDICT_HOLD, "and it holds");
    /* Of a rule that comes later than all that is kept: only counted, and still judged by. */
    t->claim.taken_ms += (int64_t)400 * 86400000;
    tap_ok(try_rule(t)->verdict == RULE_VERDICT_REFUSE && t->ruling->n_more_findings == 101,
           "a finding that is only counted still refuses");
    try_free(t);
}

static void test_nothing(void)
{
    struct rule_try *t = try_new();
    t->n_events = 0;
    const struct rule_ruling *r = try_rule(t);
    tap_ok(r->verdict == RULE_VERDICT_ASK && r->n_awards == 0 && r->amount_minor == 0 &&
               r->if_cured_minor == 0,
           "a job without events asks and pays nothing");
    try_free(t);
}

static void test_names(void)
{
    tap_ok(strcmp(rule_verdict_name(RULE_PAY), "pay") == 0 &&
               strcmp(rule_verdict_name(RULE_VERDICT_ASK), "ask") == 0 &&
               strcmp(rule_verdict_name(RULE_VERDICT_HOLD), "hold") == 0 &&
               strcmp(rule_verdict_name(RULE_VERDICT_REFUSE), "refuse") == 0,
           "verdicts by the contract's words");
    tap_ok(strcmp(rule_level_name(RULE_NOTE), "note") == 0 &&
               strcmp(rule_level_name(RULE_REFUSE), "refuse") == 0,
           "levels");
}

/* doc/ruling.md: an introduction by hand, then the tables. Written anew by `rule print`. */
static void test_doc(void)
{
    static const char mark[] = "<!-- made by rule_doc_write from here on -->\n\n";
    struct text file = {0}, made = {0};
    struct fault f = {0};
    rule_doc_write(&made);
    const bool is_read = file_read(ROOT "doc/ruling.md", 1 << 20, &file, &f) == ERR_OK;
    const char *at = is_read ? strstr(file.data, mark) : NULL;
    tap_ok(at != NULL && strcmp(at + strlen(mark), made.data) == 0,
           "doc/ruling.md holds the tables as they are");
    size_t n = 0;
    for (size_t i = 0; i < RULE_N; i++)
        n += rule_rows[i].name != NULL && rule_rows[i].sees != NULL && rule_rows[i].why != NULL &&
             rule_rows[i].cure != NULL;
    tap_ok(n == RULE_N, "every rule says what it sees, why, and how to cure it");
    text_done(&file);
    text_done(&made);
}

int main(int argc, char **argv)
{
    if (argc > 1 && strcmp(argv[1], "print") == 0) {
        struct text made = {0};
        rule_doc_write(&made);
        fputs(made.data, stdout);
        text_done(&made);
        return 0;
    }
    test_clean();
    test_worked_on();
    test_work();
    test_verdicts();
    test_order();
    test_permuted(try_new(), "a clean claim");
    test_permuted(try_much(), "a claim with much wrong");
    test_many();
    test_nothing();
    test_names();
    test_doc();
    return tap_done();
}

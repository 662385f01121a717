/* Rows for the rules about unit, labels and bulletin (desk/rule_scope.c): for each one change of the clean example that brings it
 * up, and one beside it that does not. Days and weeks are worked by hand from the example bulletin's windows (wd40: 2024-W11 to W15,
 * W31 to W33). */
#include "rule_try.h"
#include "tap.h"

#include <string.h>

/* The example bulletin with one line changed. */
static struct rule_try *with(const char *from, const char *to)
{
    const char *const pairs[] = {from, to, NULL};
    return try_bulletin(pairs);
}

/* ZZZFM24T5R0001234 checks (position 9 is 5); with its last two characters the other way round it does not. */
static void swap_vin(struct rule_try *t)
{
    strcpy(t->head.vin, "ZZZFM24T5R0001243");
}

static void vin_rows(void)
{
    struct rule_try *t = try_new();
    swap_vin(t);
    try_one(t, RULE_VIN_CHECK, RULE_NOTE, NULL, "only North America and China",
            "a wrong check digit, taken as advice");
    t = with("check: advisory", "check: required");
    swap_vin(t);
    try_one(t, RULE_VIN_CHECK, RULE_ASK, NULL, "ZZZFM24T5R0001243 does not check",
            "a wrong check digit, required");
    t = with("check: advisory", "check: none");
    swap_vin(t);
    try_clean(t, "a wrong check digit that nobody asks for");
    try_clean(with("check: advisory", "check: required"), "a right check digit, required");
    t = with("check: advisory", "check: required");
    strcpy(t->head.vin, "22222222222222222");
    try_one(t, RULE_VIN_CHECK, RULE_ASK, NULL, "filler", "one digit 17 times");

    t = with("check: advisory", "check: advisory\n    prefixes: [WVA, AAA]");
    try_one(t, RULE_VIN_PREFIX, RULE_REFUSE, NULL,
            "does not begin as the affected ones do (WVA, ...)", "another beginning of the VIN");
    try_clean(with("check: advisory", "check: advisory\n    prefixes: [WVA, ZZZFM]"),
              "one of the beginnings");

    t = try_new();
    t->known.is_built = false;
    try_one(t, RULE_VIN_UNKNOWN, RULE_HOLD, NULL, "ZZZFM24T5R0001234 is not in the build list",
            "not in the build list");
    t = try_new();
    t->known.is_built = false;
    t->known.has_builds = false;
    try_clean(t, "no build list is kept");
}

static void type_label(struct rule_try *t, const char *station, const char *text)
{
    struct event *e = try_event(t, EVENT_LABEL_READ, station, NULL, 0);
    e->as.label_read.text = text;
    e->as.label_read.variant = NULL;
    t->known.n_labels = 0;
}

static void label_rows(void)
{
    struct rule_try *t = try_new();
    try_drop(t, EVENT_LABEL_READ, "fore", NULL);
    try_one(t, RULE_LABEL_MISSING, RULE_ASK, "fore", "its label was not read",
            "no label at a column worked on");
    t = try_new();
    const struct event first = *try_event(t, EVENT_LABEL_READ, "fore", NULL, 0);
    struct event *again = try_add(t, &first, first.at_ms + 5000);
    again->has_corrects = true;
    again->corrects = first.id;
    try_clean(t, "a label that was read again and corrected");

    t = try_new();
    type_label(t, "fore", "WD4O 2024-W13");
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore", "could be wd40 misread",
            "a letter O for a zero");
    t = try_new();
    type_label(t, "fore", "WD40 2024");
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore", "fits no pattern", "a label by no pattern");
    t = try_new();
    type_label(t, "fore", "WD40 2024-W54");
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore", "day that does not exist",
            "a week that does not exist");
    /* 2024-W13 runs from Monday 25 March to Sunday 31 March. */
    t = with("{from: 2024-W11, to: 2024-W15}", "{from: 2024-W11, to: 2024-03-27}");
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore", "only partly inside",
            "a week that straddles the window's end");
    try_clean(with("{from: 2024-W11, to: 2024-W15}", "{from: 2024-W11, to: 2024-03-31}"),
              "a window that ends on its Sunday");
    static const char *const two_ways[] = {"    - \"{variant} WK %V %G\"\n",
                                           "    - \"{variant} WK %V %G\"\n    - \"{variant} "
                                           "%d/%m/%Y\"\n    - \"{variant} %m/%d/%Y\"\n",
                                           NULL};
    t = try_bulletin(two_ways);
    type_label(t, "fore", "WD40 03/04/2024");
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore", "can be read as more than one date",
            "the third of April, or the fourth of March");
    t = try_bulletin(two_ways);
    type_label(t, "fore", "WD40 25/03/2024");
    try_clean(t, "a day that only one pattern takes");
    t = try_new();
    type_label(t, "fore", "WD55-12 2024-W13");
    try_event(t, EVENT_LABEL_READ, "fore", NULL, 0)->as.label_read.variant = "wd55";
    try_clean(t, "the variant told by its id");
    t = try_new();
    type_label(t, "fore", "WD40 2024-W13");
    try_event(t, EVENT_LABEL_READ, "fore", NULL, 0)->as.label_read.variant = "WD70";
    try_one(t, RULE_SCOPE_UNKNOWN, RULE_ASK, "fore",
            "the label says variant wd40 but wd70 was given", "the variant told against the label");
    t = try_new();
    type_label(t, "fore", "WD40 wk 13 2024");
    try_clean(t, "the label's other pattern");
}

static void scope_rows(void)
{
    struct rule_try *t = try_new();
    type_label(t, "fore", "WD40 2024-W16");
    try_event(t, EVENT_SCOPE_FOUND, "fore", NULL, 0)->as.scope_found.verdict = EVENT_OUT;
    try_one(t, RULE_OUT_OF_SCOPE, RULE_REFUSE, "fore", "2024-04-15 to 2024-04-21",
            "built in the week after the window");
    t = try_new();
    type_label(t, "fore", "WD40 2024-W15");
    try_clean(t, "built in the window's last week");
    t = with("mixed: per-station", "mixed: whole-unit");
    type_label(t, "fore", "WD40 2024-W16");
    try_clean(t, "built after the window, in a bulletin for whole units with the other column in");
    t = with("mixed: per-station", "mixed: whole-unit");
    type_label(t, "fore", "WD40 2024-W16");
    type_label(t, "aft", "WD40 2024-W16");
    try_has(t, RULE_OUT_OF_SCOPE, 2, RULE_REFUSE, "aft", "between the build windows",
            "a bulletin for whole units, no column in");
    tap_ok(t->ruling->verdict == RULE_VERDICT_REFUSE, "and the claim is refused");
    try_free(t);

    t = try_new();
    try_event(t, EVENT_SCOPE_FOUND, "fore", NULL, 0)->as.scope_found.verdict = EVENT_OUT;
    try_one(t, RULE_SCOPE_DIFFERS, RULE_NOTE, "fore", "found 'out', its label comes to 'in'",
            "the technician found it out");
    t = try_new();
    try_drop(t, EVENT_SCOPE_FOUND, "fore", NULL);
    try_clean(t, "the technician did not say");

    t = try_new();
    t->labels[0].label = "WD40 2024-W14";
    try_one(t, RULE_LABEL_DIFFERS, RULE_HOLD, "fore", "but the build list has 'WD40 2024-W14'",
            "the build list has another week");
    t = try_new();
    t->labels[0] = (struct rule_label){"fore", "WD40B 2024-W13", "K0123456789AB"};
    try_one(t, RULE_LABEL_DIFFERS, RULE_HOLD, "fore",
            "but claim K0123456789AB has 'WD40B 2024-W13'", "an earlier claim has another variant");
    t = try_new();
    t->labels[0].label = "wd40  wk 13  2024";
    try_clean(t, "the build list writes the same by the other pattern");
    t = try_new();
    t->labels[0].label = NULL;
    try_clean(t, "the build list does not know the label");

    t = try_new();
    try_event(t, EVENT_READING_TAKEN, NULL, "current-in", 0)->station = "roof";
    try_one(t, RULE_STATION_UNKNOWN, RULE_ASK, "roof", "no station roof",
            "work at a station that does not exist");
    t = try_new();
    try_event(t, EVENT_READING_TAKEN, NULL, "current-in", 0)->station = "roof";
    try_event(t, EVENT_READING_TAKEN, NULL, "current-out", 0)->station = "attic";
    (void)try_rule(t);
    tap_ok(t->ruling->n_findings == 2 && strcmp(t->ruling->findings[0].station, "attic") == 0 &&
               strcmp(t->ruling->findings[1].station, "roof") == 0,
           "two such stations stand by their names");
    try_free(t);
    t = try_new();
    try_event(t, EVENT_NOTE, NULL, NULL, 0)->station = "roof";
    try_clean(t, "a note about it");
}

static void bulletin_rows(void)
{
    struct rule_try *t = try_new();
    t->head.revision = 1;
    try_one(t, RULE_REVISION_OLD, RULE_ASK, NULL,
            "2026-05-04 (UTC) by revision 1 of OV-26-03; revision 2 holds since 2026-02-16",
            "an older revision, after the new one");
    t = with("issued: 2026-02-16", "issued: 2026-05-05");
    t->head.revision = 1;
    try_clean(t, "an older revision, begun the day before the new one");
    t = with("issued: 2026-02-16", "issued: 2026-05-04");
    t->head.revision = 1;
    try_one(t, RULE_REVISION_OLD, RULE_ASK, NULL, "holds since 2026-05-04",
            "an older revision, begun on the day of the new one");
    t = try_new();
    t->head.revision = 3;
    try_one(t, RULE_REVISION_NEW, RULE_HOLD, NULL, "revision 3", "a newer revision");
    t = try_new();
    t->head.bulletin_sha256[5] = t->head.bulletin_sha256[5] == 'a' ? 'b' : 'a';
    try_one(t, RULE_BULLETIN_DIFFERS, RULE_HOLD, NULL, "another text of OV-26-03 revision 2",
            "the same revision with another text");
    t = try_new();
    strcpy(t->head.bulletin_id, "OV-26-04");
    try_one(t, RULE_BULLETIN_DIFFERS, RULE_HOLD, NULL, "OV-26-04", "another bulletin");
    t = try_new();
    struct rule_book *book = NULL;
    struct fault f = {0};
    if (rule_book_new(t->b, NULL, &book, &f) == ERR_OK) {
        t->book = book;
        t->head.bulletin_sha256[5] = 'x';
        tap_ok(try_rule(t)->n_findings == 0,
               "a bulletin whose digest is not known is not compared");
    }
    rule_book_free(book);
    try_free(t);
}

int main(void)
{
    vin_rows();
    label_rows();
    scope_rows();
    bulletin_rows();
    return tap_done();
}

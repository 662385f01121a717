/* Letters: what stands where, in three languages; every rule that asks has its cure in each; hostile and endless texts; the PDF. What the
 * rules are comes from desk/rule.h's own table, so that a new one without a cure fails here. */
#include "desk/rule.h"
#include "draw/letter.h"
#include "draw/letter_words.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

static struct letter letter(void)
{
    static const struct letter_item asked[] = {
        {"photo-missing", "Fore column", "Label of the column", "Photo label of fore is missing",
         "Take it."},
        {"late-comer", NULL, NULL, "Something that no table knows", "Do what this says."}};
    return (struct letter){.verdict = LETTER_ASK,
                           .claim = "K123456789ABC",
                           .vin = "1FHMC00X000000042",
                           .bulletin = "OV-26-03, revision 2",
                           .title = "Racks slip",
                           .shop = "fern-yard-1",
                           .technician = "ines",
                           .date = "2026-12-01",
                           .until = "2027-06-30",
                           .asked = asked,
                           .n_asked = 2};
}

static const char *as_text(const struct letter *l, struct text *out)
{
    struct fault f = {0};
    text_clear(out);
    return letter_text(l, out, &f) == ERR_OK && out->data != NULL ? out->data : "";
}

static bool has(const char *all, const char *part)
{
    return strstr(all, part) != NULL;
}

/* No line is longer than a screen, and nothing that cannot be shown is in it. */
static bool is_sound(const char *s)
{
    for (const char *at = s; *at != '\0';) {
        const size_t n = strcspn(at, "\n");
        if (text_columns(at, n) > 90)
            return false;
        for (size_t i = 0; i < n; i++)
            if ((unsigned char)at[i] < ' ' || at[i] == '\x7f')
                return false;
        at += n + (at[n] == '\n');
    }
    return text_is_utf8(s, strlen(s), NULL);
}

static void test_words(void)
{
    int n_empty = 0, n_format = 0;
    for (int w = 0; w < L_N; w++)
        for (int l = 0; l < WORDS_LANGUAGE_N; l++) {
            const char *s = letter_word((enum letter_word)w, (enum words_language)l);
            /* In English there is no second language to tell of. */
            n_empty += s[0] == '\0' && !(w == L_RECORD && l == WORDS_EN);
            n_format += has(s, "%s") != has(letter_word((enum letter_word)w, WORDS_EN), "%s");
        }
    tap_ok(n_empty == 0 && n_format == 0, "%d sentences in three languages", (int)L_N);
    for (int i = 0; i < RULE_N; i++) {
        const struct letter_item item = {.rule = rule_rows[i].name, .cure = "own"};
        const bool asks = rule_rows[i].level == RULE_ASK;
        if (asks && !tap_ok(strcmp(letter_cure(&item, WORDS_ES), "own") != 0 &&
                                strcmp(letter_cure(&item, WORDS_FR), "own") != 0,
                            "%s, which asks, has a cure in Spanish and French", item.rule))
            return;
    }
    const struct letter_item item = {.rule = "photo-missing", .cure = "own"};
    tap_ok(strcmp(letter_cure(&item, WORDS_EN), "own") == 0,
           "in English a finding's own cure is told, which says more");
}

static void test_ask(void)
{
    struct text out = {0};
    struct letter l = letter();
    const char *s = as_text(&l, &out);
    tap_ok(is_sound(s) && has(s, "Claim K123456789ABC") && has(s, "Something is missing.") &&
               has(s, "must arrive by") && has(s, "2027-06-30"),
           "what it is about, the verdict first, and until when");
    tap_ok(has(s, " 1. Fore column: Label of the column") && has(s, "How: Take it.") &&
               has(s, " 2. whole unit"),
           "numbered: where, what, and how to cure it");
    tap_ok(has(s, "CRUSH") && has(s, "support the\n!! room") &&
               strstr(s, "CRUSH") < strstr(s, " 1. "),
           "the caution stands before what sends somebody back to the unit");
    l.language = WORDS_ES;
    s = as_text(&l, &out);
    tap_ok(has(s, "Falta algo.") && has(s, "Tome esta foto") &&
               has(s, "\xC2\xBB Photo label of fore is missing") && has(s, "Do what this says."),
           "in Spanish: its own cure by the rule, the record marked as such, an unknown rule's "
           "cure as it is");
    text_done(&out);
}

static void test_others(void)
{
    static const struct letter_line lines[] = {
        {"Labour, Fore column", "200 min at 68.00 EUR/h", "226.67 EUR"}};
    static const struct letter_item refused[] = {
        {"late", NULL, NULL, "It came too late", "Nothing to send."}};
    struct text out = {0};
    struct letter l = letter();
    l.verdict = LETTER_PAY;
    l.n_asked = 0;
    l.amount = "226.67 EUR";
    l.lines = lines;
    l.n_lines = 1;
    const char *s = as_text(&l, &out);
    tap_ok(has(s, "226.67 EUR are to be paid.") && has(s, "200 min at 68.00 EUR/h") &&
               !has(s, "CRUSH") && !has(s, "must arrive by"),
           "to be paid: the money line by line, and no caution where nobody is sent anywhere");
    l.is_paid = true;
    l.paid = "226.67 EUR";
    tap_ok(has(as_text(&l, &out), "226.67 EUR are paid.") && has(out.data, "paid so far"), "paid");
    l = letter();
    l.verdict = LETTER_REFUSE;
    l.n_asked = 0;
    l.refused = refused;
    l.n_refused = 1;
    s = as_text(&l, &out);
    tap_ok(has(s, "It is not paid.") && has(s, "It came too late") && !has(s, "Nothing to send."),
           "refused, and why");
    l.is_person = true;
    l.reason = "the invoice names another unit";
    tap_ok(has(as_text(&l, &out), "A person decided this: the invoice names another unit"),
           "a person's word with its reason");
    l.is_invented = true;
    tap_ok(has(as_text(&l, &out), "Invented, for practice"), "what is invented says so");
    text_done(&out);
}

static void test_hostile(void)
{
    static char endless[4000];
    struct text out = {0}, pdf = {0}, again = {0};
    struct fault f = {0};
    memset(endless, 'x', sizeof endless - 1);
    const struct letter_item items[] = {{"bag", "a\033[31m\nb\xff",
                                         "\xE2\x80\xAE"
                                         "turned",
                                         "<b>%s%n\r\n</b>", endless}};
    struct letter l = letter();
    l.claim = "K\n\x01";
    l.vin = endless;
    l.title = "%s%s%s%n";
    l.asked = items;
    l.n_asked = 1;
    const char *s = as_text(&l, &out);
    bool is_clean = text_is_utf8(s, strlen(s), NULL) && !has(s, "\033") && !has(s, "\xE2\x80\xAE");
    tap_ok(is_clean &&
               has(s, "<b>%s%n?"
                      "?</b>") &&
               has(s, "%s%s%s%n"),
           "signs that do harm are only characters, or a question mark");
    tap_ok(letter_pdf(&l, &pdf, &f) == ERR_OK && pdf.size > 1000 &&
               memcmp(pdf.data, "%PDF-", 5) == 0,
           "the same as a PDF");
    l = letter();
    text_clear(&pdf);
    tap_ok(letter_pdf(&l, &pdf, &f) == ERR_OK && letter_pdf(&l, &again, &f) == ERR_OK &&
               pdf.size == again.size && memcmp(pdf.data, again.data, pdf.size) == 0,
           "the same letter is the same bytes");
    struct letter_item many[120];
    for (size_t i = 0; i < 120; i++)
        many[i] = letter().asked[0];
    l.asked = many;
    l.n_asked = 120;
    text_clear(&pdf);
    tap_ok(letter_pdf(&l, &pdf, &f) == ERR_OK && pdf.size > again.size,
           "120 findings go over pages");
    text_done(&out);
    text_done(&pdf);
    text_done(&again);
}

int main(void)
{
    test_words();
    test_ask();
    test_others();
    test_hostile();
    return tap_done();
}

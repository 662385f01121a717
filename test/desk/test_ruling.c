/* Rows for desk/ruling: what is written and what is not, a person's word, settling, claims that bear on one another. The claims are
 * the finished example job on other units (claims.h); what each comes to follows from doc/ruling.md and the header. */
#include "base/file.h"
#include "claims.h"
#include "desk/ruling.h"
#include "store/synth.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define ROOT TEST_TABLES "/../../"

enum { CLAIMS = 16 };
static const int64_t now_ms = 1790000000000;

static struct text yaml, json;
static struct claims *claims;
static char folder[256], path[512];
static struct store *store;
static char id[CLAIMS]
              [STORE_CLAIM_SIZE + 1]; /* of the claims in the store, in the order of taking in */
static int n_claims;

static void slurp(const char *name, struct text *ret)
{
    struct fault f = {0};
    if (file_read(name, 1 << 22, ret, &f) != ERR_OK)
        synth_bail("reading", &f);
}

/* ---- a store ------------------------------------------------------------------------------------ */

static void begin(void)
{
    struct fault f = {0};
    bool is_made = false;
    snprintf(path, sizeof path, "%s/s%d", folder, rand());
    if (store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &store, &f) != ERR_OK)
        synth_bail("store", &f);
    n_claims = 0;
}

static void end(void)
{
    store_close(store);
    store = NULL;
    synth_remove(path);
}

/* Two columns done, photos of its own, nothing in common with others. */
static struct claims_how clean(unsigned i)
{
    return (struct claims_how){
        .unit = i, .job = i + 1, .technician = i, .bag = i + 1, .has_photos = true, .readings = i};
}

static void take(const struct claims_how *how)
{
    memcpy(id[n_claims++], claims_take(claims, store, how), STORE_CLAIM_SIZE + 1);
}

static int64_t entries(void)
{
    struct store_counts c = {0};
    struct fault f = {0};
    if (store_count(store, &c, &f) != ERR_OK)
        synth_bail("count", &f);
    return c.entries;
}

/* ---- a run -------------------------------------------------------------------------------------- */

struct said {
    enum rule_verdict verdict;
    int64_t amount_minor, if_cured_minor, paid_minor, once_minor, labour_minor;
    bool is_new, is_changed, is_overruled;
    char rules[300], before[8]; /* names of what was found, above a note */
};
static struct said said[CLAIMS];
static int n_said;
static size_t n_unruled;

static bool see(void *me, const struct ruling_seen *s)
{
    struct said *to = &said[n_said++];
    (void)me;
    *to = (struct said){.verdict = s->ruling->verdict,
                        .amount_minor = s->ruling->amount_minor,
                        .if_cured_minor = s->ruling->if_cured_minor,
                        .paid_minor = s->paid_minor,
                        .is_new = s->is_new,
                        .is_changed = s->is_changed,
                        .is_overruled = s->is_overruled};
    for (size_t i = 0; i < s->ruling->n_findings; i++) {
        const struct rule_finding *f = &s->ruling->findings[i];
        if (f->level == RULE_NOTE)
            continue;
        const size_t n = strlen(to->rules);
        snprintf(to->rules + n, sizeof to->rules - n, "%s%s", n > 0 ? " " : "",
                 rule_rows[f->rule].name);
    }
    for (size_t i = 0; i < s->ruling->n_lines; i++)
        if (s->ruling->lines[i].kind == BULLETIN_PAYS_LABOUR)
            to->labour_minor += s->ruling->lines[i].paid_minor;
    for (size_t i = 0; i < s->ruling->n_lines; i++)
        if (s->ruling->lines[i].station == NULL && s->ruling->lines[i].kind == BULLETIN_PAYS_LABOUR)
            to->once_minor += s->ruling->lines[i].paid_minor;
    if (s->before != NULL)
        snprintf(to->before, sizeof to->before, "%s", s->before->verdict);
    return true;
}

struct how {
    const char *claim;
    bool is_trial;
    int n_threads;
    const struct text *text; /* NULL: what is kept */
};

static enum err run_how(const struct how *how, struct fault *f)
{
    struct fault_list faults = {0};
    struct bulletin *b = how->text != NULL
                             ? bulletin_load(how->text->data, how->text->size, "b.yaml", &faults)
                             : NULL;
    if (how->text != NULL && b == NULL)
        synth_bail(faults.n_faults > 0 ? faults.faults[0].message : "bulletin", NULL);
    fault_list_done(&faults);
    const struct ruling_order order = {.claim = how->claim,
                                       .bulletin = b,
                                       .bulletin_text = b != NULL ? how->text->data : NULL,
                                       .bulletin_size = b != NULL ? how->text->size : 0,
                                       .now_ms = now_ms,
                                       .n_threads = how->n_threads > 0 ? how->n_threads : 3,
                                       .is_trial = how->is_trial};
    n_said = 0;
    n_unruled = 0;
    const enum err err = ruling_run(store, &order, NULL, see, NULL, &n_unruled, f);
    bulletin_free(b);
    return err;
}

static void run(void)
{
    const struct how how = {0};
    struct fault f = {0};
    if (run_how(&how, &f) != ERR_OK)
        synth_bail("run", &f);
}

static void run_first(void)
{
    const struct how how = {.text = &yaml};
    struct fault f = {0};
    if (run_how(&how, &f) != ERR_OK)
        synth_bail("run", &f);
}

/* Claim i came to this, for these reasons. */
static void is(int i, enum rule_verdict verdict, const char *rules, const char *what)
{
    if (!tap_ok(i < n_said && said[i].verdict == verdict && strcmp(said[i].rules, rules) == 0,
                "%s: %s%s%s", what, rule_verdict_name(verdict), rules[0] != '\0' ? ", " : "",
                rules))
        tap_note("%s: %s", rule_verdict_name(said[i].verdict), said[i].rules);
}

/* A second run finds everything as it is. */
static void is_quiet(const char *what)
{
    const int64_t before = entries();
    bool is_changed = false;
    run();
    for (int i = 0; i < n_said; i++)
        is_changed |= said[i].is_changed || said[i].is_new;
    tap_ok(entries() == before && !is_changed, "%s: ruling again writes nothing", what);
}

struct sum {
    int n;
    int64_t minor;
};

static bool add_payment(void *me, const struct store_ruling *r)
{
    struct sum *s = me;
    s->n += r->kind == STORE_PAID;
    s->minor += r->kind == STORE_PAID ? r->amount_minor : 0;
    return true;
}

static struct sum paid(const char *claim)
{
    struct sum s = {0};
    struct fault f = {0};
    if (store_rulings(store, claim, add_payment, &s, &f) != ERR_OK)
        synth_bail("rulings", &f);
    return s;
}

static bool see_payment(void *me, const char *claim, int64_t amount_minor, const char *currency)
{
    struct sum *s = me;
    (void)claim;
    (void)currency;
    s->n++;
    s->minor += amount_minor;
    return true;
}

static struct sum settle(const char *claim)
{
    struct sum s = {0};
    struct fault f = {0};
    if (ruling_settle(store, claim, "R. Desk", now_ms, see_payment, &s, &f) != ERR_OK)
        synth_bail("settle", &f);
    return s;
}

static enum err say(const char *claim, const char *verdict, int64_t minor, const char *reason)
{
    struct fault f = {0};
    return ruling_overrule(store, claim, verdict, minor, "R. Desk", reason, now_ms, &f);
}

/* ---- rows --------------------------------------------------------------------------------------- */

static void test_nothing_kept(void)
{
    const struct how how = {0}, one = {.claim = "K000000000000"}, odd = {.claim = "none"};
    struct fault f = {0};
    begin();
    tap_ok(run_how(&how, &f) == ERR_EMPTY && strstr(f.message, "--bulletin") != NULL,
           "no bulletin kept: refused, with what to do (%s)", f.message);
    run_first();
    tap_ok(n_said == 0 && n_unruled == 0, "no claim: nothing to rule on");
    tap_ok(run_how(&one, &f) == ERR_UNKNOWN && run_how(&odd, &f) == ERR_UNKNOWN,
           "a claim that is not there: ERR_UNKNOWN");
    end();
}

static void test_clean(void)
{
    const struct how trial = {.is_trial = true, .text = &yaml};
    struct fault f = {0};
    begin();
    for (unsigned i = 0; i < 3; i++) {
        const struct claims_how how = clean(i);
        take(&how);
    }
    const int64_t at_first = entries();
    tap_ok(run_how(&trial, &f) == ERR_OK && n_said == 3 && said[0].is_new && entries() == at_first,
           "a trial tells what would be, and writes nothing, not even the bulletin");
    run_first();
    for (int i = 0; i < 3; i++)
        is(i, RULE_PAY, "", "a clean claim");
    tap_ok(entries() == at_first + 4, "the bulletin and a ruling each are on the log");
    /* 400 min for both columns and 35 min once at 68.00 EUR an hour: 200/60 x 68.00 = 226.67 a column, 35/60 x 68.00 = 39.67. */
    tap_ok(said[0].labour_minor == 2 * 22667 + 3967 && said[2].amount_minor == said[0].amount_minor,
           "labour by hand: 493.01 EUR; the same work comes to the same money");
    is_quiet("clean claims");
    const struct said all = said[1];
    const struct how one = {.claim = id[1]};
    tap_ok(run_how(&one, &f) == ERR_OK && n_said == 1 && said[0].amount_minor == all.amount_minor &&
               !said[0].is_changed,
           "one claim alone comes to what it came to among all");
    const struct how alone = {.n_threads = 1};
    tap_ok(run_how(&alone, &f) == ERR_OK && n_said == 3 && !said[2].is_changed,
           "one thread comes to the same");
    end();
}

static void test_word(void)
{
    struct claims_how how = clean(0);
    struct fault f = {0};
    begin();
    how.is_blurred = true;
    take(&how);
    tap_ok(say(id[0], "pay", BULLETIN_NO_AMOUNT, "seen in person") == ERR_ORDER,
           "to overrule what was never ruled on: ERR_ORDER");
    run_first();
    is(0, RULE_VERDICT_ASK, "photo-blurred", "a blurred photo");
    const int64_t cured_minor = said[0].if_cured_minor;
    const int64_t before = entries();
    tap_ok(say(id[0], "pay", BULLETIN_NO_AMOUNT, "") == ERR_EMPTY &&
               say(id[0], "pay", BULLETIN_NO_AMOUNT, "  ") == ERR_EMPTY &&
               ruling_overrule(store, id[0], "pay", 1, NULL, "why", now_ms, &f) == ERR_EMPTY,
           "without a reason or a person: ERR_EMPTY");
    tap_ok(say(id[0], "yes", BULLETIN_NO_AMOUNT, "why") == ERR_UNKNOWN &&
               say("K000000000000", "pay", BULLETIN_NO_AMOUNT, "why") == ERR_UNKNOWN,
           "an unknown verdict, an unknown claim: ERR_UNKNOWN");
    tap_ok(say(id[0], "hold", 100, "why") == ERR_DOMAIN &&
               say(id[0], "pay", -1, "why") == ERR_DOMAIN,
           "an amount without pay, less than nothing: ERR_DOMAIN");
    tap_ok(entries() == before, "none of them left anything on the log");
    tap_ok(settle(NULL).n == 0, "nothing is due while it asks");
    tap_ok(say(id[0], "pay", BULLETIN_NO_AMOUNT, "seen in person") == ERR_OK,
           "a person lets it pass");
    is_quiet("a person's word");
    tap_ok(said[0].is_overruled && strcmp(said[0].before, "pay") == 0 &&
               said[0].verdict == RULE_VERDICT_ASK,
           "it stands, and what the rules say is told beside it");
    const struct sum s = settle(NULL);
    tap_ok(s.n == 1 && s.minor == cured_minor, "settling pays what it comes to once cured");
    tap_ok(settle(NULL).n == 0 && settle(id[0]).n == 0, "settling again pays nothing");
    is_quiet("a claim that was paid");
    tap_ok(say(id[0], "pay", cured_minor + 1234, "one more part") == ERR_OK &&
               settle(NULL).minor == 1234,
           "more by a person's word: the difference is paid");
    tap_ok(say(id[0], "pay", cured_minor - 1000, "a part came back") == ERR_OK &&
               settle(NULL).n == 0,
           "less by a person's word: nothing is paid");
    run();
    tap_ok(said[0].paid_minor == cured_minor + 1234 && paid(id[0]).n == 2,
           "what was paid stays paid, and is told");
    tap_ok(say(id[0], "refuse", BULLETIN_NO_AMOUNT, "not done at all") == ERR_OK &&
               settle(NULL).n == 0 && paid(id[0]).minor == cured_minor + 1234,
           "refused after it was paid: the payments are as they were");
    end();
}

struct lasts {
    struct store_ruling last; /* texts are gone: only figures are looked at */
    char person[40], reason[40], verdict[8];
    int n;
};

static bool see_last(void *me, const struct store_ruling *r)
{
    struct lasts *l = me;
    l->last = *r;
    snprintf(l->person, sizeof l->person, "%s", r->person != NULL ? r->person : "");
    snprintf(l->reason, sizeof l->reason, "%s", r->reason != NULL ? r->reason : "");
    snprintf(l->verdict, sizeof l->verdict, "%s", r->verdict);
    l->n++;
    return true;
}

static struct lasts last_of(const char *claim)
{
    struct lasts l = {0};
    struct fault f = {0};
    if (store_rulings(store, claim, see_last, &l, &f) != ERR_OK)
        synth_bail("rulings", &f);
    return l;
}

static enum err take_back(const char *claim, const char *person, int64_t since_seq, bool *ret_late)
{
    struct fault f = {0};
    const struct ruling_word word = {claim, person, NULL, now_ms, since_seq};
    return ruling_take_back(store, &word, ret_late, &f);
}

static void test_take_back(void)
{
    struct claims_how how = clean(0);
    bool is_late = true;
    begin();
    how.is_blurred = true;
    take(&how);
    tap_ok(take_back(id[0], "R. Desk", 0, &is_late) == ERR_ORDER,
           "nothing said yet: nothing to take back");
    run_first();
    const struct lasts ruled = last_of(id[0]);
    tap_ok(take_back(id[0], "R. Desk", 0, &is_late) == ERR_ORDER,
           "the rules' ruling is nobody's word");
    (void)say(id[0], "refuse", BULLETIN_NO_AMOUNT, "a slip of the hand");
    tap_ok(take_back(id[0], "S. Desk", 0, &is_late) == ERR_ORDER &&
               take_back(id[0], " ", 0, &is_late) == ERR_EMPTY &&
               take_back("K000000000000", "R. Desk", 0, &is_late) == ERR_UNKNOWN,
           "another's word, by nobody, of no claim: refused");
    const struct lasts said_last = last_of(id[0]);
    tap_ok(take_back(id[0], "R. Desk", ruled.last.seq, &is_late) == ERR_OK && is_late &&
               last_of(id[0]).n == said_last.n,
           "who has not seen the last word writes nothing, and is told");
    tap_ok(take_back(id[0], "R. Desk", said_last.last.seq, &is_late) == ERR_OK && !is_late,
           "one's own word is taken back");
    const struct lasts lifted = last_of(id[0]);
    tap_ok(lifted.n == said_last.n + 1 && lifted.last.kind == STORE_LIFTED &&
               strcmp(lifted.person, "R. Desk") == 0 && strcmp(lifted.verdict, "ask") == 0 &&
               lifted.last.n_awards == ruled.last.n_awards &&
               lifted.last.n_findings == ruled.last.n_findings,
           "a further entry, by that person; the rules' ruling whole, the word stays on the log");
    is_quiet("a word that was taken back");
    tap_ok(!said[0].is_overruled && strcmp(said[0].before, "ask") == 0 &&
               said[0].verdict == RULE_VERDICT_ASK,
           "the rules' ruling stands again");
    tap_ok(take_back(id[0], "R. Desk", 0, &is_late) == ERR_ORDER, "it is not taken back twice");
    /* Two people. */
    struct fault f = {0};
    (void)say(id[0], "hold", BULLETIN_NO_AMOUNT, "the shop was asked");
    tap_ok(ruling_overrule(store, id[0], "pay", BULLETIN_NO_AMOUNT, "S. Desk", "the shop called",
                           now_ms, &f) == ERR_OK &&
               take_back(id[0], "S. Desk", 0, &is_late) == ERR_ORDER,
           "a word that replaced another person's is not taken back: theirs would be lost unseen");
    (void)say(id[0], "hold", BULLETIN_NO_AMOUNT, "again");
    (void)say(id[0], "ask", BULLETIN_NO_AMOUNT, "again");
    tap_ok(take_back(id[0], "R. Desk", 0, &is_late) == ERR_ORDER, "nor the second of two that did");
    end();
}

static void test_take_back_paid(void)
{
    struct claims_how how = clean(0);
    struct fault f = {0};
    bool is_late = false;
    int64_t minor = 0;
    begin();
    how.is_blurred = true;
    take(&how);
    run_first();
    const int64_t cured_minor = said[0].if_cured_minor;
    (void)say(id[0], "pay", BULLETIN_NO_AMOUNT, "seen in person");
    const int64_t seen = last_of(id[0]).last.seq;
    const struct ruling_word note = {id[0], "S. Desk", "called the shop", now_ms, seen};
    const struct ruling_word old = {id[0], "R. Desk", NULL, now_ms, seen};
    tap_ok(ruling_note(store, &note, &is_late, &f) == ERR_OK && !is_late, "a note");
    const struct lasts noted = last_of(id[0]);
    tap_ok(noted.last.kind == STORE_NOTED && strcmp(noted.person, "S. Desk") == 0 &&
               strcmp(noted.reason, "called the shop") == 0,
           "is on the log, with who wrote it");
    tap_ok(ruling_pay(store, &old, &minor, &is_late, &f) == ERR_OK && is_late && minor == 0,
           "who has not seen the note pays nothing");
    tap_ok(ruling_note(store, &old, &is_late, &f) == ERR_EMPTY, "an empty note");
    const struct ruling_word now = {id[0], "R. Desk", NULL, now_ms, noted.last.seq};
    tap_ok(ruling_pay(store, &now, &minor, &is_late, &f) == ERR_OK && !is_late &&
               minor == cured_minor,
           "who has seen it pays what stands");
    tap_ok(take_back(id[0], "R. Desk", 0, &is_late) == ERR_ORDER,
           "a word that money was paid on is not taken back");
    end();
    /* Without money: the note stays, and is no word. */
    begin();
    take(&how);
    run_first();
    (void)say(id[0], "pay", BULLETIN_NO_AMOUNT, "a slip");
    const struct ruling_word later = {id[0], "S. Desk", "a note", now_ms, 0};
    tap_ok(ruling_note(store, &later, &is_late, &f) == ERR_OK &&
               take_back(id[0], "R. Desk", 0, &is_late) == ERR_OK && settle(NULL).n == 0,
           "a note after it does not keep a word from being taken back, and then nothing is due");
    end();
}

/* The bulletin's text with `from` put as `to`. */
static void edit(struct text *t, const char *from, const char *to)
{
    struct text next = {0};
    const char *spot = strstr(t->data, from);
    if (spot == NULL)
        synth_bail(from, NULL);
    text_add(&next, t->data, (size_t)(spot - t->data));
    text_puts(&next, to);
    text_puts(&next, spot + strlen(from));
    text_done(t);
    *t = next;
}

static void test_revision(void)
{
    struct text next = {0};
    struct claims_how how = clean(0);
    struct fault f = {0};
    text_add(&next, yaml.data, yaml.size);
    edit(&next, "revision: 2", "revision: 3");
    begin();
    take(&how);
    how = clean(1);
    take(&how);
    run_first();
    const struct sum s = settle(id[0]);
    tap_ok(s.n == 1 && s.minor == said[0].amount_minor, "one of two is settled");
    const int64_t before = entries();
    const struct how newer = {.text = &next};
    tap_ok(run_how(&newer, &f) == ERR_OK && said[0].is_changed && !said[0].is_new &&
               strcmp(said[0].before, "pay") == 0,
           "under a new revision what changed is told");
    is(0, RULE_VERDICT_ASK, "revision-old", "work by the revision before");
    tap_ok(entries() == before + 3, "the revision and two rulings are on the log");
    tap_ok(paid(id[0]).minor == s.minor && said[0].paid_minor == s.minor && settle(NULL).n == 0,
           "what was paid is as it was, and nothing is paid that now asks");
    is_quiet("after a new revision");
    is(1, RULE_VERDICT_ASK, "revision-old", "the newest revision that is kept holds");
    text_done(&next);
    end();
}

static void test_same_job(void)
{
    struct claims_how how = clean(0);
    begin();
    how.is_blurred = true;
    take(&how);
    how.is_blurred = false;
    how.bag = 90;
    take(&how);
    run_first();
    is(0, RULE_VERDICT_REFUSE, "photo-blurred replaced", "the claim that was sent again");
    is(1, RULE_PAY, "", "the one that stands in its place: its photos and readings are its own");
    is_quiet("a job sent again");
    settle(NULL);
    is_quiet("a job sent again and paid");
    end();
}

static void test_same_unit(void)
{
    struct claims_how how = clean(0);
    begin();
    take(&how);
    how = clean(1);
    how.unit = 0;
    take(&how);
    run_first();
    is(0, RULE_PAY, "", "the first claim of a unit");
    is(1, RULE_VERDICT_HOLD, "claimed-twice claimed-twice", "another job on it");
    is_quiet("two jobs on one unit");
    settle(NULL);
    run();
    is(1, RULE_VERDICT_REFUSE, "paid-already paid-already", "once the first was paid");
    is_quiet("two jobs on one unit, one paid");
    end();
    /* One column was done and paid; the next job did both. */
    begin();
    how = clean(0);
    how.is_small = true;
    take(&how);
    run_first();
    tap_ok(said[0].verdict == RULE_PAY && said[0].once_minor > 0 && settle(NULL).n == 1,
           "one column is paid, with what is once a unit");
    how = clean(1);
    how.unit = 0;
    take(&how);
    run();
    tap_ok(said[1].once_minor == 0 && strcmp(said[1].before, "") == 0,
           "the next job on the unit is not paid what is once a unit again");
    end();
}

/* A claim that is refused as a whole comes to nothing by the rules: a person says how much. */
static void test_word_over_refusal(void)
{
    struct claims_how how = clean(0);
    begin();
    how.fore_label = "WD40 2024-W40";
    how.is_small = true;
    take(&how);
    run_first();
    tap_ok(said[0].verdict == RULE_VERDICT_REFUSE &&
               say(id[0], "pay", BULLETIN_NO_AMOUNT, "goodwill") == ERR_DOMAIN,
           "to pay what is refused, without saying how much: ERR_DOMAIN");
    tap_ok(say(id[0], "pay", 5000, "goodwill") == ERR_OK && settle(NULL).minor == 5000,
           "with an amount it is paid");
    is_quiet("a refused claim that a person paid");
    how = clean(1);
    how.unit = 0;
    take(&how);
    run();
    tap_ok(strstr(said[1].rules, "paid-already") != NULL,
           "the unit's next claim knows that the column was paid (%s)", said[1].rules);
    end();
}

/* The first is refused in the same run in which the second is first ruled on: the second knows. */
static void test_order(void)
{
    struct claims_how how = clean(0);
    begin();
    how.fore_label = "WD40 2024-W40";
    how.is_small = true;
    take(&how);
    how = clean(1);
    how.unit = 0;
    how.is_small = true;
    take(&how);
    run_first();
    tap_ok(said[0].verdict == RULE_VERDICT_REFUSE,
           "the first claim of the unit is out of scope (%s)", said[0].rules);
    tap_ok(strstr(said[1].rules, "claimed-twice") == NULL,
           "the second is not held against a claim that is refused (%s)", said[1].rules);
    is_quiet("two of a unit in one batch");
    end();
}

static void test_copies(void)
{
    struct claims_how how = clean(0);
    begin();
    take(&how);
    how = clean(1);
    how.photo_of = 1;
    take(&how);
    how = clean(2);
    how.readings = 0;
    take(&how);
    how = clean(3);
    how.technician = 0;
    take(&how);
    how = clean(4);
    how.job = 1;
    take(&how);
    run_first();
    is(0, RULE_PAY, "", "the first is not blamed for what copies it");
    tap_ok(said[1].verdict == RULE_VERDICT_HOLD && strstr(said[1].rules, "photo-seen") != NULL,
           "photos of another job, byte for byte (%s)", said[1].rules);
    is(2, RULE_VERDICT_HOLD, "readings-copied", "the final readings of another job");
    is(3, RULE_VERDICT_HOLD, "two-at-once", "the same technician at two units in the same hours");
    tap_ok(said[4].verdict == RULE_VERDICT_HOLD && strstr(said[4].rules, "photo-seen") != NULL,
           "the same job under another VIN is another job (%s)", said[4].rules);
    is_quiet("copies");
    end();
}

static void test_unreadable(void)
{
    struct synth *s = calloc(1, sizeof *s);
    struct claims_how how = clean(0);
    enum store_taken taken = STORE_TAKEN;
    struct fault f = {0};
    if (s == NULL)
        synth_bail("memory", NULL);
    begin();
    synth_make(s, 1, 1, false);
    if (store_take(store, &s->claim, &taken, NULL, &f) != ERR_OK)
        synth_bail("take", &f);
    take(&how);
    run_first();
    tap_ok(n_unruled == 1 && n_said == 1,
           "a claim whose events cannot be read is counted, not ruled on");
    is(0, RULE_PAY, "", "the one after it");
    free(s);
    end();
}

/* More than one batch, by several threads, in the order of taking in: each unit's serial number is one more than the last. */
static bool count_ids(void *me, const struct ruling_seen *seen)
{
    int64_t *n = me;
    if (strtol(seen->claim->vin + 11, NULL, 10) == *n)
        ++*n;
    return true;
}

static void test_many(void)
{
    struct fault f = {0};
    struct fault_list faults = {0};
    int64_t n = 0;
    begin();
    for (unsigned i = 0; i < 1100; i++) {
        const struct claims_how how = claims_how_of(i);
        (void)claims_take(claims, store, &how);
    }
    const int64_t before = entries();
    struct bulletin *b = bulletin_load(yaml.data, yaml.size, "b.yaml", &faults);
    const struct ruling_order order = {.bulletin = b,
                                       .bulletin_text = yaml.data,
                                       .bulletin_size = yaml.size,
                                       .now_ms = now_ms,
                                       .n_threads = 4};
    const enum err first = ruling_run(store, &order, NULL, count_ids, &n, &n_unruled, &f);
    tap_ok(first == ERR_OK && n == 1100 && entries() == before + 1101,
           "1100 claims in three batches: all ruled on, all written");
    n = 0;
    const enum err again = ruling_run(store, &order, NULL, count_ids, &n, &n_unruled, &f);
    tap_ok(again == ERR_OK && n == 1100 && entries() == before + 1101, "again: nothing is written");
    bulletin_free(b);
    fault_list_done(&faults);
    end();
}

/* Two processes at once, each with its own view. */
static void both(void (*work)(void))
{
    pid_t pids[2];
    store_close(store);
    store = NULL;
    for (int i = 0; i < 2; i++) {
        fflush(stdout);
        pids[i] = fork();
        if (pids[i] != 0)
            continue;
        struct fault f = {0};
        if (store_open(path, STORE_WRITE, &store, &f) != ERR_OK)
            _exit(9);
        work();
        store_close(store);
        _exit(0);
    }
    bool is_good = true;
    for (int i = 0; i < 2; i++) {
        int status = 0;
        is_good &= pids[i] > 0 && waitpid(pids[i], &status, 0) == pids[i] && status == 0;
    }
    struct fault f = {0};
    if (store_open(path, STORE_WRITE, &store, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(is_good, "both processes ended well");
}

static void settle_all(void)
{
    (void)settle(NULL);
}

static void test_two_at_once(void)
{
    begin();
    for (unsigned i = 0; i < 12; i++) {
        const struct claims_how how = clean(i);
        take(&how);
    }
    const int64_t before = entries();
    both(run_first);
    tap_ok(entries() == before + 13, "two who rule at once write each ruling once (%lld of %lld)",
           (long long)(entries() - before), 13ll);
    both(settle_all);
    run();
    bool is_once = true;
    for (int i = 0; i < 12; i++)
        is_once &= paid(id[i]).n == 1 && said[i].paid_minor == said[i].amount_minor;
    tap_ok(is_once, "two who settle at once pay each claim once, in full");
    end();
}

static void test_names(void)
{
    static const char *const stations[] = {"fore", "aft", NULL};
    char name[KNOWN_AWARD_ROOM];
    bool is_same = true;
    for (size_t s = 0; s < 3; s++)
        for (int k = 0; k <= BULLETIN_PAYS_N; k++) {
            size_t n = 99;
            known_award_name(stations[s], (enum bulletin_pays)k, name);
            is_same &= known_award_split(name, &n) == (enum bulletin_pays)k;
            is_same &= n == (stations[s] != NULL ? strlen(stations[s]) : 0);
            is_same &= stations[s] == NULL || memcmp(name, stations[s], n) == 0;
        }
    tap_ok(is_same, "names of awards: what is put together comes apart again");
}

int main(void)
{
    slurp(ROOT "examples/OV-26-03.yaml", &yaml);
    slurp(ROOT "examples/jobs/ov-26-03-a/events.json", &json);
    claims = claims_new(json.data, json.size);
    synth_folder(folder);
    test_names();
    test_nothing_kept();
    test_clean();
    test_word();
    test_take_back();
    test_take_back_paid();
    test_revision();
    test_same_job();
    test_same_unit();
    test_word_over_refusal();
    test_order();
    test_copies();
    test_unreadable();
    test_many();
    test_two_at_once();
    claims_free(claims);
    text_done(&yaml);
    text_done(&json);
    synth_remove(folder);
    return tap_done();
}

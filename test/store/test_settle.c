/* Settling: what stands less what was paid, once, whoever asks and however many at once. The amounts
 * are worked by hand beside each case. */
#include "synth.h"
#include "tap.h"

#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[256], path[600];
static struct store *store;
static char id[STORE_CLAIM_SIZE + 1];

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, f);
}

static void new_claim(unsigned i)
{
    static struct synth one;
    struct fault f = {0};
    enum store_taken taken;
    synth_make(&one, 7, i, false);
    must(store_take(store, &one.claim, &taken, id, &f), &f, "take");
}

/* An entry of two awards, "pay" each unless the amount is 0; fore and aft below 0: without awards. */
static void rule_in(enum store_ruling_kind kind, const char *verdict, int64_t amount, int64_t fore,
                    int64_t aft, const char *currency)
{
    struct fault f = {0};
    const struct store_award awards[] = {{"fore", fore > 0 ? "pay" : "refuse", fore, NULL},
                                         {"aft", aft > 0 ? "pay" : "refuse", aft, NULL}};
    struct store_ruling r = {.kind = kind,
                             .claim = id,
                             .verdict = verdict,
                             .amount_minor = amount,
                             .currency = currency,
                             .revision = 3,
                             .person = "C. Example",
                             .reason = "because",
                             .at_ms = 1770000000000,
                             .awards = awards,
                             .n_awards = fore < 0 ? 0 : 2};
    must(store_rule(store, &r, &f), &f, "rule");
}

static void rule(enum store_ruling_kind kind, const char *verdict, int64_t amount, int64_t fore,
                 int64_t aft)
{
    rule_in(kind, verdict, amount, fore, aft, "EUR");
}

/* The last payment, as "amount currency station amount ...". */
static bool see_payment(void *me, const struct store_ruling *r)
{
    char *buf = me;
    if (r->kind != STORE_PAID)
        return true;
    int n = snprintf(buf, 200, "%lld %s %s", (long long)r->amount_minor, r->currency, r->verdict);
    for (size_t i = 0; i < r->n_awards; i++)
        n += snprintf(buf + n, (size_t)(200 - n), ", %s %s %lld", r->awards[i].station,
                      r->awards[i].verdict, (long long)r->awards[i].amount_minor);
    return true;
}

static void settle(int64_t wanted, const char *payment, const char *what)
{
    struct fault f = {0};
    struct store_counts before = {0}, after = {0};
    int64_t amount = -1;
    char currency[STORE_CURRENCY_ROOM] = "", last[200] = "none";
    must(store_count(store, &before, &f), &f, "count");
    must(store_settle(store, id, "C. Example", 1770000000001, &amount, currency, &f), &f, "settle");
    must(store_count(store, &after, &f), &f, "count");
    must(store_rulings(store, id, see_payment, last, &f), &f, "rulings");
    const bool is_right = amount == wanted && (wanted == 0 || strcmp(currency, "EUR") == 0) &&
                          after.entries == before.entries + (wanted != 0);
    tap_ok(is_right && strcmp(last, payment) == 0, "%s: %lld %s paid, last: %s", what,
           (long long)amount, currency, last);
}

static void check_amounts(void)
{
    new_claim(1);
    settle(0, "none", "not ruled yet");
    rule(STORE_RULED, "ask", 0, 0, 0);
    settle(0, "none", "asked");
    rule(STORE_RULED, "pay", 300, 100, 200);
    settle(300, "300 EUR pay, fore pay 100, aft pay 200", "ruled to be paid");
    settle(0, "300 EUR pay, fore pay 100, aft pay 200", "at once again");
    rule(STORE_RULED, "pay", 300, 100, 200);
    settle(0, "300 EUR pay, fore pay 100, aft pay 200", "ruled the same again");
    rule(STORE_RULED, "pay", 350, 100, 250);
    settle(50, "50 EUR pay, aft pay 50", "ruled higher: the difference, and where it lies");
    rule(STORE_RULED, "pay", 320, 100, 220);
    settle(0, "50 EUR pay, aft pay 50", "ruled lower: nothing comes back by itself");
    rule(STORE_RULED, "hold", 0, 0, 0);
    settle(0, "50 EUR pay, aft pay 50", "held");
    /* aft no longer pays (250 paid), fore 400 (100 paid): 400 - 350 = 50 = 300 - 250. */
    rule(STORE_RULED, "pay", 400, 400, 0);
    settle(50, "50 EUR pay, fore pay 300, aft pay -250", "moved from one station to the other");
}

static void check_people(void)
{
    new_claim(2);
    rule(STORE_RULED, "hold", 0, 0, 0);
    rule(STORE_OVERRULED, "pay", 120, 120, 0);
    rule(STORE_RULED, "refuse", 0, 0, 0);
    settle(120, "120 EUR pay, fore pay 120", "a person's word holds over what the rules say later");
    rule(STORE_RULED, "pay", 999, 999, 0);
    settle(0, "120 EUR pay, fore pay 120", "also when they would pay more");
    rule(STORE_OVERRULED, "pay", 150, -1, -1);
    settle(30, "30 EUR pay", "the last word of several; without awards none are written");
    rule(STORE_OVERRULED, "refuse", 0, 0, 0);
    rule(STORE_RULED, "pay", 999, 999, 0);
    settle(0, "30 EUR pay", "a person's no holds too");
    new_claim(3);
    rule(STORE_OVERRULED, "pay", 80, 80, 0);
    rule(STORE_PAID, "pay", 50, 50, 0);
    settle(30, "30 EUR pay, fore pay 30", "what was paid by hand counts");
    new_claim(4);
    rule(STORE_RULED, "hold", 500, 500, 0);
    settle(0, "none", "an amount with another verdict than pay is not due");
    /* An award of a station that is refused carries what it would have been: not paid. */
    new_claim(5);
    struct fault f = {0};
    const struct store_award awards[] = {{"fore", "pay", 70, NULL}, {"aft", "refuse", 90, NULL}};
    struct store_ruling r = {.claim = id,
                             .verdict = "pay",
                             .amount_minor = 70,
                             .currency = "EUR",
                             .at_ms = 1,
                             .awards = awards,
                             .n_awards = 2};
    must(store_rule(store, &r, &f), &f, "rule");
    settle(70, "70 EUR pay, fore pay 70", "a station that is refused is not paid");
}

static void refused(enum err wanted, const char *what)
{
    struct fault f = {0};
    struct store_counts before = {0}, after = {0};
    int64_t amount = -7;
    char currency[STORE_CURRENCY_ROOM] = "-";
    must(store_count(store, &before, &f), &f, "count");
    const enum err err = store_settle(store, id, NULL, 1770000000001, &amount, currency, &f);
    must(store_count(store, &after, &f), &f, "count");
    tap_ok(err == wanted && amount == -7 && memcmp(&before, &after, sizeof before) == 0,
           "%s: %s (%s)", what, f.message, err_symbol(err));
}

static void check_refusals(void)
{
    struct fault f = {0};
    int64_t amount;
    char currency[STORE_CURRENCY_ROOM];
    new_claim(6);
    rule(STORE_RULED, "pay", 100, 100, 0);
    rule(STORE_PAID, "pay", 40, 40, 0);
    rule_in(STORE_RULED, "pay", 100, 100, 0, "CHF");
    refused(ERR_DOMAIN, "another currency than was paid in");
    new_claim(7);
    rule_in(STORE_RULED, "pay", 100, 100, 0, "EURODOLLAR");
    refused(ERR_LIMIT, "a currency with a long name");
    new_claim(8);
    rule(STORE_PAID, "pay", INT64_MAX, 0, 0);
    rule(STORE_PAID, "pay", 1, 0, 0);
    refused(ERR_RANGE, "more was paid than can be counted");
    tap_ok(store_settle(store, "KNONE", NULL, 1, &amount, currency, &f) == ERR_UNKNOWN,
           "a claim that is not there: %s", f.message);
    tap_ok(store_settle(store, NULL, NULL, 1, &amount, currency, &f) == ERR_EMPTY, "no claim: %s",
           f.message);
    tap_ok(store_settle(store, id, NULL, STORE_UNKNOWN, &amount, currency, &f) == ERR_EMPTY,
           "no time: %s", f.message);
}

/* ---- two at once ----------------------------------------------------------------------------- */

enum { CLAIMS = 60, PAYERS = 2 };

/* Settles every claim, and writes how much it paid to fd; -1 after an error. */
static void payer(char ids[][STORE_CLAIM_SIZE + 1], int fd)
{
    struct fault f = {0};
    struct store *s = NULL;
    int64_t total = 0, amount = 0;
    char currency[STORE_CURRENCY_ROOM];
    bool is_good = store_open(path, STORE_WRITE, &s, &f) == ERR_OK;
    for (int i = 0; i < CLAIMS && is_good; i++) {
        is_good =
            store_settle(s, ids[i], "C. Example", 1770000000002, &amount, currency, &f) == ERR_OK;
        total += amount;
    }
    store_close(s);
    if (!is_good)
        total = -1;
    _exit(write(fd, &total, sizeof total) == (ssize_t)sizeof total ? 0 : 1);
}

struct sum {
    int n;
    int64_t amount;
};

static bool add_payment(void *me, const struct store_ruling *r)
{
    struct sum *s = me;
    s->n += r->kind == STORE_PAID;
    s->amount += r->kind == STORE_PAID ? r->amount_minor : 0;
    return true;
}

static void check_together(void)
{
    static char ids[CLAIMS][STORE_CLAIM_SIZE + 1];
    struct fault f = {0};
    int64_t totals[PAYERS] = {0}, wanted = 0;
    int ends[PAYERS][2], n_once = 0;
    pid_t pids[PAYERS];
    for (unsigned i = 0; i < CLAIMS; i++) {
        new_claim(100 + i);
        memcpy(ids[i], id, sizeof id);
        rule(STORE_RULED, "pay", 1000 + i, 1000 + i, 0);
        wanted += 1000 + i;
    }
    store_close(store);
    fflush(stdout);
    for (int k = 0; k < PAYERS; k++) {
        if (pipe(ends[k]) != 0)
            synth_bail("pipe", NULL);
        pids[k] = fork();
        if (pids[k] == 0)
            payer(ids, ends[k][1]);
        close(ends[k][1]);
    }
    for (int k = 0; k < PAYERS; k++) {
        if (read(ends[k][0], &totals[k], sizeof totals[k]) != (ssize_t)sizeof totals[k])
            synth_bail("a payer ended without a word", NULL);
        waitpid(pids[k], NULL, 0);
    }
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    for (int i = 0; i < CLAIMS; i++) {
        struct sum sum = {0};
        must(store_rulings(store, ids[i], add_payment, &sum, &f), &f, "rulings");
        n_once += sum.n == 1 && sum.amount == 1000 + i;
    }
    tap_ok(totals[0] >= 0 && totals[1] >= 0 && totals[0] + totals[1] == wanted,
           "two that settle at once pay together what is due: %lld and %lld of %lld",
           (long long)totals[0], (long long)totals[1], (long long)wanted);
    tap_ok(n_once == CLAIMS, "each of %d claims once", CLAIMS);
}

/* ---- killed ---------------------------------------------------------------------------------- */

/* Settles the claims in turn, from the first on, telling each with a byte, until it is killed or
 * through. Each needs a byte of leave, so that it gets no further than is meant while whoever kills it
 * stands still. */
static void slow_payer(char ids[][STORE_CLAIM_SIZE + 1], int fd, int leave)
{
    char byte;
    struct fault f = {0};
    struct store *s = NULL;
    int64_t amount = 0;
    char currency[STORE_CURRENCY_ROOM];
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        _exit(3);
    for (int i = 0; i < CLAIMS; i++)
        if (read(leave, &byte, 1) != 1 ||
            store_settle(s, ids[i], NULL, 1770000000003, &amount, currency, &f) != ERR_OK ||
            write(fd, "p", 1) != 1)
            _exit(4);
    store_close(s);
    _exit(0);
}

/* Lets one pay until n_wanted claims are told, kills it somewhere in the next one; returns how many
 * were told. */
static int pay_and_kill(char ids[][STORE_CLAIM_SIZE + 1], int n_wanted, int *ret_status)
{
    int ends[2], leave[2], n = 0;
    char byte;
    if (pipe(ends) != 0 || pipe(leave) != 0)
        synth_bail("pipe", NULL);
    for (int i = 0; i <= n_wanted; i++)
        if (write(leave[1], "l", 1) != 1)
            synth_bail("write", NULL);
    fflush(stdout);
    const pid_t pid = fork();
    if (pid == 0)
        slow_payer(ids, ends[1], leave[0]);
    close(ends[1]);
    while (n < n_wanted && read(ends[0], &byte, 1) == 1)
        n++;
    kill(pid, SIGKILL);
    waitpid(pid, ret_status, 0);
    while (read(ends[0], &byte, 1) == 1)
        n++;
    close(ends[0]);
    close(leave[0]);
    close(leave[1]);
    return n;
}

/* kill -9 while paying, again and again until one is through: what was told is paid, and once. */
static void check_kills(void)
{
    static char ids[CLAIMS][STORE_CLAIM_SIZE + 1];
    struct fault f = {0};
    int n_kills = 0, n_lost = 0, n_twice = 0, n_unpaid = 0, status = SIGKILL;
    for (unsigned i = 0; i < CLAIMS; i++) {
        new_claim(200 + i);
        memcpy(ids[i], id, sizeof id);
        rule(STORE_RULED, "pay", 1000 + i, 1000 + i, 0);
    }
    store_close(store);
    for (int n_wanted = 3; n_wanted < 4 * CLAIMS && !WIFEXITED(status); n_wanted += 3) {
        const int n = pay_and_kill(ids, n_wanted, &status);
        n_kills += WIFSIGNALED(status);
        n_unpaid = 0;
        must(store_open(path, STORE_READ, &store, &f), &f, "open");
        for (int i = 0; i < CLAIMS; i++) {
            struct sum sum = {0};
            must(store_rulings(store, ids[i], add_payment, &sum, &f), &f, "rulings");
            n_lost += i < n && sum.n == 0;
            n_twice += sum.n > 1 || (sum.n == 1 && sum.amount != 1000 + i);
            n_unpaid += sum.n == 0;
        }
        store_close(store);
    }
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    tap_ok(n_kills > 5 && n_unpaid == 0 && WIFEXITED(status) && WEXITSTATUS(status) == 0,
           "%d times killed while paying, then through", n_kills);
    tap_ok(n_lost == 0 && n_twice == 0, "what was told is paid, and nothing twice");
}

int main(void)
{
    static struct store_health h;
    struct fault f = {0};
    bool is_made;
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    must(store_init(path, &is_made, &f), &f, "init");
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    check_amounts();
    check_people();
    check_refusals();
    check_together();
    check_kills();
    must(store_verify(store, NULL, NULL, &h, &f), &f, "verify");
    tap_ok(h.n_faults == 0, "the store is whole");
    store_close(store);
    must(store_open(path, STORE_READ, &store, &f), &f, "open");
    int64_t amount;
    char currency[STORE_CURRENCY_ROOM];
    tap_ok(store_settle(store, id, NULL, 1, &amount, currency, &f) == ERR_IO,
           "opened to read nothing is paid: %s", f.message);
    store_close(store);
    synth_remove(folder);
    return tap_done();
}

/* campaign_looks: owns which shops deserve a look. Three questions, each of one shop against all others together:
 *
 * findings: of its claims that were ruled on by the rules, as many have findings (other than notes) by chance? One-sided, exact: the shop's
 *   claims as a sample without putting back from all (Fisher's exact test; The Design of Experiments, 1935; from memory).
 * copies: the same of claims whose set of final readings a claim of another unit had before, value for value (store.h).
 * digits: do its readings end on the instrument's steps as the others' do? Pearson's chi-square of two rows and STEPS columns, where
 *   every cell expects LEAST or more (Cochran's rule). Honest readings need not be uniform for this; only shops that read alike.
 *
 * A shop is named when its q, by Benjamini & Hochberg over every test made, is 5 % or less: of those named about one in twenty is
 * named by chance. A reason to look, never a proof. */
#include "desk/campaign_board.h"

#include "stat/many.h"
#include "stat/sampling.h"
#include "stat/special.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { STEPS = 10, LEAST = 5 };
#define DISCOVERY 0.05

struct tally {
    int64_t claims, findings, sets, copies, readings, step[STEPS];
};

struct test {
    uint32_t shop;
    struct campaign_reason reason;
};

/* ---- adding up ----------------------------------------------------------------------------- */

/* Which step of ten a reading ends on; -1 where it has none: a count, or an instrument that does not say. */
static int step_of(const struct bulletin *b, int point, int64_t value_nano)
{
    const struct bulletin_point *p = &b->points.at[point];
    const struct bulletin_instrument *i = bulletin_instrument_find(b, p->instrument);
    if (i == NULL || !i->resolution.is_given || i->resolution.nano <= 0 ||
        i->resolution.dim == DIM_COUNT)
        return -1;
    const int64_t step = i->resolution.nano, whole = value_nano / step;
    if (whole * step != value_nano)
        return -1;
    return (int)((whole % STEPS + STEPS) % STEPS);
}

static void add_claim(const struct board *b, const struct board_claim *c, struct tally *t)
{
    t->claims += (c->flags & BOARD_IS_RULED) != 0;
    t->findings += (c->flags & BOARD_IS_RULED) != 0 && (c->flags & BOARD_HAS_FINDINGS) != 0;
    t->sets += (c->flags & BOARD_HAS_SET) != 0;
    t->copies += (c->flags & BOARD_IS_COPY) != 0;
    for (uint32_t k = c->first_reading; k < c->first_reading + c->n_readings; k++) {
        const int step = step_of(b->bulletin, b->marks[k] & BOARD_POINT, b->values_nano[k]);
        if (step < 0)
            continue;
        t->readings++;
        t->step[step]++;
    }
}

/* ---- the tests ----------------------------------------------------------------------------- */

static double share(int64_t k, int64_t n)
{
    return n > 0 ? (double)k / (double)n : 0;
}

/* P(as many bad ones or more in the shop's sample): that as few good ones or fewer are. */
static double upper_tail(int64_t k, int64_t n, int64_t bad, int64_t lot)
{
    return stat_hypergeometric_cdf(n - k, n, lot - bad, lot);
}

static bool test_share(enum campaign_reason_kind kind, int64_t k, int64_t n, int64_t all_k,
                       int64_t all_n, struct campaign_reason *ret)
{
    if (n < LEAST || all_n - n < LEAST || all_n > STAT_LOT_MAX)
        return false;
    *ret = (struct campaign_reason){.kind = kind,
                                    .k = k,
                                    .n = n,
                                    .share = share(k, n),
                                    .others_share = share(all_k - k, all_n - n),
                                    .p = upper_tail(k, n, all_k, all_n)};
    return true;
}

static bool test_digits(const struct tally *t, const struct tally *all, struct campaign_reason *ret)
{
    const double n = (double)t->readings, others = (double)(all->readings - t->readings),
                 both = n + others;
    double chi2 = 0;
    int most = 0;
    if (n < LEAST * STEPS || others < LEAST * STEPS)
        return false;
    for (int i = 0; i < STEPS; i++) {
        const double sum = (double)all->step[i];
        const double here = sum * n / both, there = sum * others / both;
        if (here < LEAST || there < LEAST)
            return false;
        const double off = (double)t->step[i] - here;
        chi2 += off * off / here + off * off / there;
        const double more = share(t->step[i], t->readings) - share(all->step[i], all->readings);
        if (more > share(t->step[most], t->readings) - share(all->step[most], all->readings))
            most = i;
    }
    *ret = (struct campaign_reason){
        .kind = CAMPAIGN_DIGITS,
        .k = t->step[most],
        .n = t->readings,
        .share = share(t->step[most], t->readings),
        .others_share = share(all->step[most] - t->step[most], all->readings - t->readings),
        .p = stat_chi2_upper(chi2, STEPS - 1)};
    return true;
}

static size_t run_tests(const struct tally *tallies, size_t n_shops, const struct tally *all,
                        struct test *tests)
{
    size_t n = 0;
    for (size_t s = 0; s < n_shops; s++) {
        const struct tally *t = &tallies[s];
        struct test *to = &tests[n];
        if (test_share(CAMPAIGN_FINDINGS, t->findings, t->claims, all->findings, all->claims,
                       &to->reason))
            tests[n++].shop = (uint32_t)s;
        to = &tests[n];
        if (test_digits(t, all, &to->reason))
            tests[n++].shop = (uint32_t)s;
        to = &tests[n];
        if (test_share(CAMPAIGN_COPIES, t->copies, t->sets, all->copies, all->sets, &to->reason))
            tests[n++].shop = (uint32_t)s;
    }
    return n;
}

static void say(struct campaign_reason *r)
{
    const double here = 100 * r->share, others = 100 * r->others_share;
    switch (r->kind) {
    case CAMPAIGN_FINDINGS:
        snprintf(r->words, sizeof r->words,
                 "%lld of %lld claims have findings (%.0f %%; %.0f %% at the other shops). Look at "
                 "what they have in "
                 "common: it may be a habit, a tool, or a step that the bulletin does not explain.",
                 (long long)r->k, (long long)r->n, here, others);
        break;
    case CAMPAIGN_DIGITS:
        snprintf(r->words, sizeof r->words,
                 "Its readings end on some digits more often than at the other shops (one of them "
                 "in %.0f %% of %lld "
                 "readings; %.0f %% there). Rounding, another instrument or made-up figures all "
                 "look so: ask how they "
                 "measure.",
                 here, (long long)r->n, others);
        break;
    default:
        snprintf(r->words, sizeof r->words,
                 "%lld of %lld jobs have the same final readings as an earlier one, value for "
                 "value (%.1f %%; %.1f %% at "
                 "the other shops). Look at the claims side by side; chance can do it where few "
                 "values are possible.",
                 (long long)r->k, (long long)r->n, here, others);
    }
}

/* ---- who is named -------------------------------------------------------------------------- */

static int by_shop(const void *a, const void *b)
{
    return strcmp(((const struct campaign_look *)a)->shop, ((const struct campaign_look *)b)->shop);
}

/* Tests of a shop follow one another. */
static void name(const struct board *b, struct board_answer *made, struct test *tests, size_t n)
{
    struct campaign *c = &made->c;
    struct campaign_look *looks = arena_get(&made->arena, (b->shops.n + 1) * sizeof *looks);
    for (size_t i = 0; looks != NULL && i < n; i++) {
        struct campaign_reason *r = &tests[i].reason;
        const char *id = words_text(&b->shops, tests[i].shop);
        r->is_flagged = r->q <= DISCOVERY;
        if (!r->is_flagged || id[0] == '\0')
            continue;
        say(r);
        if (c->n_looks == 0 || strcmp(looks[c->n_looks - 1].shop, id) != 0)
            looks[c->n_looks++].shop = campaign_keep(made, id);
        struct campaign_look *look = &looks[c->n_looks - 1];
        look->at[look->n++] = *r;
    }
    if (looks != NULL)
        qsort(looks, c->n_looks, sizeof *looks, by_shop);
    c->looks = looks;
    c->n_tests = n;
}

enum err campaign_looks(const struct board *b, struct board_answer *made, struct fault *reterr)
{
    const size_t n_shops = b->shops.n;
    struct tally *tallies = calloc(n_shops + 1, sizeof *tallies), all = {0};
    struct test *tests = calloc(CAMPAIGN_REASONS * n_shops + CAMPAIGN_REASONS, sizeof *tests);
    double *p = calloc(CAMPAIGN_REASONS * n_shops + 1, sizeof *p);
    enum err err = tallies != NULL && tests != NULL && p != NULL ? ERR_OK : ERR_MEMORY;
    for (size_t i = 0; err == ERR_OK && i < b->n_claims; i++) {
        const struct board_claim *c = &b->claims[i];
        if ((c->flags & BOARD_IS_REPLACED) != 0)
            continue;
        add_claim(b, c, &tallies[c->shop]);
        add_claim(b, c, &all);
    }
    if (err == ERR_OK) {
        const size_t n = run_tests(tallies, n_shops, &all, tests);
        for (size_t i = 0; i < n; i++)
            p[i] = tests[i].reason.p;
        err = stat_false_discovery(p, n, p);
        for (size_t i = 0; err == ERR_OK && i < n; i++)
            tests[i].reason.q = p[i];
        if (err == ERR_OK)
            name(b, made, tests, n);
    }
    free(tallies);
    free(tests);
    free(p);
    return err == ERR_OK ? err : fault_set(reterr, err, "memory ran out");
}

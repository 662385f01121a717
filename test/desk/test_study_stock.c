/* Stock lengths against the table worked by all subsets; kits against closed forms; what is refused. */
#include "desk/study_kits.h"
#include "desk/study_stock.h"

#include "desk/study_try.h"

#include <stdlib.h>

#define INCH INT64_C(25400000)

static enum err stock(const char *csv, const char *count, size_t k, struct study_stock *s,
                      struct fault *f)
{
    struct study_want wants[STOCK_COLUMNS];
    study_stock_wants("need", count, UNIT_IN, wants);
    struct study_table *t = try_table(csv, wants, STOCK_COLUMNS);
    study_stock_done(s);
    *f = (struct fault){0};
    *s = (struct study_stock){0};
    const enum err e = t != NULL ? study_stock(t, k, NULL, s, f) : ERR_IO;
    study_table_free(t);
    if (e != ERR_OK) /* what the tests look at is there, and fails them */
        s->lengths = calloc(4, sizeof *s->lengths);
    if (s->lengths == NULL)
        abort();
    return e;
}

static void lengths(void)
{
    /* Python, all subsets: k 3: 28, 34, 40 inches, waste 87 in; k 2: 183; k 4: 48. */
    const char *csv = "need,n\n40,6\n22,5\n31,7\n25,8\n28,12\n34,9\n37,4\n99,0\n";
    struct study_stock s = {0};
    struct fault f;
    tap_ok(stock(csv, "n", 3, &s, &f) == ERR_OK && s.n == 3, "three lengths");
    tap_ok(s.waste_nm == 87 * INCH && s.waste_less_nm == 183 * INCH && s.waste_more_nm == 48 * INCH,
           "waste 87 in; with one less 183, with one more 48 (all subsets)");
    tap_ok(s.lengths[0].length_nm == 28 * INCH && s.lengths[1].length_nm == 34 * INCH &&
               s.lengths[2].length_nm == 40 * INCH,
           "28, 34 and 40 in");
    tap_ok(s.lengths[0].n_pieces == 25 && s.lengths[1].n_pieces == 16 &&
               s.lengths[2].n_pieces == 10 && s.n_pieces == 51,
           "pieces 25, 16, 10: a need of no pieces is left out");
    tap_ok(s.lengths[0].waste_nm + s.lengths[1].waste_nm + s.lengths[2].waste_nm == s.waste_nm,
           "the parts add up");
    study_stock_done(&s);
    tap_ok(stock("need\n10\n12 1/2\n10\n12 1/2\n", NULL, 5, &s, &f) == ERR_OK && s.n == 2 &&
               s.waste_nm == 0 && s.waste_more_nm == -1 && s.waste_less_nm == 2 * 5 * INCH / 2 &&
               try_has_note(&s.notes, STUDY_CAVEAT, "Only 2 different"),
           "more lengths than needs: as many as needed, said");
    study_stock_done(&s);
    tap_ok(stock("need\n10\n", NULL, 1, &s, &f) == ERR_OK && s.waste_nm == 0 &&
               s.waste_less_nm == -1,
           "one piece");
    study_stock_done(&s);
    tap_ok(stock("need\n10\n0\n", NULL, 1, &s, &f) == ERR_DOMAIN && f.line == 3, "no length: %s",
           f.message);
    tap_ok(stock("need\n-10 in\n", NULL, 1, &s, &f) == ERR_DOMAIN && f.line == 2,
           "a negative one: %s", f.message);
    tap_ok(stock("need\n", NULL, 1, &s, &f) == ERR_EMPTY && f.line == 0, "nothing needed: %s",
           f.message);
    tap_ok(stock("need,n\n10,0\n", "n", 1, &s, &f) == ERR_EMPTY, "no pieces of it: %s", f.message);
    tap_ok(stock("need,n\n9000000 m,1000000\n10,1\n", "n", 1, &s, &f) == ERR_RANGE,
           "too much to add up: %s", f.message);
    study_stock_done(&s);
}

static enum err kits(const char *csv, struct study_kits_order o, struct study_kits *s,
                     struct fault *f)
{
    struct study_want wants[KITS_COLUMNS];
    study_kits_wants("kit", "n", wants);
    struct study_table *t = try_table(csv, wants, KITS_COLUMNS);
    study_kits_done(s);
    *f = (struct fault){0};
    *s = (struct study_kits){0};
    const enum err e = t != NULL ? study_kits(t, &o, NULL, s, f) : ERR_IO;
    study_table_free(t);
    if (e != ERR_OK) /* what the tests look at is there, and fails them */
        s->sorts = calloc(4, sizeof *s->sorts);
    if (s->sorts == NULL)
        abort();
    return e;
}

static void orders(void)
{
    struct study_kits s = {0};
    struct fault f;
    /* Mix known well (half and half of 2 x 10^8), 20 units: binomial(20, 1/2): F(13) 0.9423, F(14) 0.9793 (printed binomial
     * tables): 14. */
    tap_ok(kits("kit,n\nA,100000000\nB,100000000\n",
                (struct study_kits_order){.service = 0.95, .units = 20}, &s, &f) == ERR_OK &&
               s.n_sorts == 2,
           "two sorts");
    tap_ok(s.sorts[0].order == 14 && s.sorts[1].order == 14 && s.total == 28,
           "binomial(20, 1/2) at 95 %%: 14 of each (binomial tables)");
    near(s.sorts[0].expected, 10, 1e-12, "ten expected");
    study_kits_done(&s);
    /* Rate known well: 8 in the lead time; newsvendor 25/(25 + 10): Poisson 8: 9 (scipy). */
    tap_ok(
        kits("kit,n\nA,800000000\n",
             (struct study_kits_order){.service = 25.0 / 35, .lead_days = 1, .watched_days = 1e8},
             &s, &f) == ERR_OK &&
            s.sorts[0].order == 9,
        "Poisson 8 at 25/35: 9 (scipy)");
    study_kits_done(&s);
    /* One sort: each of the units takes it. */
    tap_ok(kits("kit,n\nA,3\n", (struct study_kits_order){.service = 0.9, .units = 12}, &s, &f) ==
                   ERR_OK &&
               s.total == 12,
           "one sort: as many as units");
    study_kits_done(&s);
    /* Hardly known: more is ordered than for the same mix known well, and it is said. */
    tap_ok(kits("kit,n\nA,1\nB,1\n", (struct study_kits_order){.service = 0.95, .units = 20}, &s,
                &f) == ERR_OK &&
               s.sorts[0].order > 14 && try_has_note(&s.notes, STUDY_CAVEAT, "Only 2 kits"),
           "a mix hardly known: more than 14, and said");
    if (f.code != ERR_OK)
        tap_note("%s", f.message);
    study_kits_done(&s);
    /* Together: each at 97.5 %; binomial(20, 1/2): F(14) 0.9793: still 14; at 99.5 %: F(15) 0.9941, F(16) 0.9987: 16. */
    tap_ok(kits("kit,n\nA,100000000\nB,100000000\n",
                (struct study_kits_order){.service = 0.99, .units = 20, .is_joint = true}, &s,
                &f) == ERR_OK &&
               s.sorts[0].order == 16,
           "both together at 99 %%: 16 of each (binomial tables)");
    study_kits_done(&s);
    tap_ok(kits("kit,n\n", (struct study_kits_order){.service = 0.99, .units = 20}, &s, &f) ==
               ERR_EMPTY,
           "no kit: %s", f.message);
    tap_ok(kits("kit,n\nA,0\nB,0\n", (struct study_kits_order){.service = 0.99, .units = 20}, &s,
                &f) == ERR_EMPTY,
           "sorts without kits: %s", f.message);
    study_kits_done(&s);
}

int main(void)
{
    lengths();
    orders();
    return tap_done();
}

/* Working time against worked examples of the trade's books and Wright's curve. */
#include "desk/study_labour.h"

#include "desk/study_try.h"

static const struct study_labour_order plain = {
    .share = 0.8, .within = 0.05, .confidence = 0.95, .rating = 1};

static enum err work(const char *csv, const char *order, const char *by,
                     struct study_labour_order o, struct study_labour *r, struct fault *f)
{
    struct study_want wants[LABOUR_COLUMNS];
    study_labour_wants("min", order, by, wants);
    struct study_table *t = try_table(csv, wants, LABOUR_COLUMNS);
    *f = (struct fault){0};
    const enum err e = t != NULL ? study_labour(t, &o, r, f) : ERR_IO;
    study_table_free(t);
    return e;
}

/* The number of observations. The published formula (40 sqrt(n' Sx2 - (Sx)^2)/Sx)^2 divides the variance by n', ours by n' -
 * 1: ours
 * times (n' - 1)/n' is theirs. z = 2 is 95.45 %. */
static void needed(void)
{
    static const struct {
        const char *csv;
        double n, within, want;
        int64_t at_least;
        const char *source;
    } rows[] = {
        {"min\n7\n6\n7\n7\n6\n", 5, 0.05, 8.81542699724518, 9,
         "ILO, Introduction to Work Study (data from memory)"},
        {"min\n8\n7\n8\n9\n7\n", 5, 0.10, 3.68178829717291, 4,
         "a published course example; it prints 3.87, an arithmetic slip"},
        {"min\n4.2\n4.5\n3.9\n4.4\n4.0\n4.6\n4.1\n4.3\n", 8, 0.05, 4.65051903114205, 5,
         "the same formula by exact fractions"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct study_labour r = {0};
        struct fault f;
        struct study_labour_order o = plain;
        o.within = rows[i].within;
        o.confidence = 0.954499736103642; /* z = 2 */
        tap_ok(work(rows[i].csv, NULL, NULL, o, &r, &f) == ERR_OK, "worked: %s", rows[i].source);
        near(r.needed_exact * (rows[i].n - 1) / rows[i].n, rows[i].want, 1e-9, rows[i].source);
        tap_ok(r.needed >= rows[i].at_least && r.needed <= rows[i].at_least + 3, "rounded up: %lld",
               (long long)r.needed);
    }
}

static void learning(void)
{
    /* Wright's unit curve at 80 %, first unit 100: units 1 2 3 4 8 10 (log2 by hand: b = -0.3219280948873623). */
    struct study_labour r = {0};
    struct fault f;
    const char *csv = "k,min\n1,100\n2,80\n3,70.2103702778560\n4,64\n8,51.2\n10,47.6509874890224\n";
    tap_ok(work(csv, "k", NULL, plain, &r, &f) == ERR_OK && r.has_learning,
           "Wright, 80 %%: fitted");
    near(r.learning_rate, 0.80, 1e-12, "Wright, 80 %: rate");
    near(r.first_unit_min, 100, 1e-12, "Wright, 80 %: first unit");
    near(r.slope, -0.3219280948873623, 1e-12, "Wright, 80 %: slope is log2 of the rate");
    near(r.r2, 1, 1e-12, "Wright, 80 %: no scatter");
    tap_ok(try_has_note(&r.notes, STUDY_CAVEAT, "still falls"),
           "a mean over a falling curve is warned of");
    csv = "k,min\n1,100\n10,70.4688049512346\n";
    tap_ok(work(csv, "k", NULL, plain, &r, &f) == ERR_OK && r.has_learning && !r.rate.is_known,
           "two jobs: a curve without an interval");
    near(r.learning_rate, 0.90, 1e-12, "Wright, 90 %: rate from units 1 and 10");
    csv = "k,min\n2,100\n2,70\n2,80\n";
    tap_ok(work(csv, "k", NULL, plain, &r, &f) == ERR_OK && !r.has_learning,
           "one order for all: no curve, said");
    tap_ok(try_has_note(&r.notes, STUDY_CAVEAT, "no learning curve"), "and why");
}

static void times(void)
{
    /* Student's interval by hand: 4, 6: mean 5, sd sqrt 2, half width 12.706204736174694 x 1 (t, df 1). */
    struct study_labour r = {0};
    struct fault f;
    struct study_labour_order o = plain;
    tap_ok(work("min\n4\n6\n", NULL, NULL, plain, &r, &f) == ERR_OK, "two jobs");
    near(r.mean.high - r.mean_min, 12.706204736174694, 1e-9,
         "Student's t with 1 degree of freedom (R qt)");
    near(r.p80_min, 5.6, 1e-12, "80th percentile of two: position 0.8 (by hand)");
    o.rating = 1.10;
    o.relaxation = 0.15;
    tap_ok(work("min\n12\n13\n", NULL, NULL, o, &r, &f) == ERR_OK, "standard time");
    near(r.standard_min, 15.8125, 1e-12, "12.5 x 1.10 x 1.15 = 15.8125 (by hand)");
    o.paid_min = 12.5;
    tap_ok(work("min\n12\n13\n", NULL, NULL, o, &r, &f) == ERR_OK && !r.covers,
           "12.5 min do not cover 80 %% of 12 and 13");
    o.paid_min = 12.8;
    tap_ok(work("min\n12\n13\n", NULL, NULL, o, &r, &f) == ERR_OK && r.covers,
           "12.8 min do, exactly");
}

/* Variance components of the one-way layout, by hand: shops a (10, 14), b (20, 24), c (30, 34): means 12, 22, 32; within SS 3
 * x 8 = 24
 * on 3 df: 8; between SS 2 (100 + 0 + 100) = 400 on 2: 200; n0 = 2: (200 - 8)/2 = 96. */
static void shops(void)
{
    struct study_labour r = {0};
    struct fault f;
    const char *csv = "s,min\na,10\nb,20\nc,30\na,14\nb,24\nc,34\n";
    tap_ok(work(csv, NULL, "s", plain, &r, &f) == ERR_OK && r.has_model && r.n_shops == 3,
           "three shops");
    near(r.within_sd_min, sqrt(8), 1e-12, "within shops (by hand)");
    near(r.between_sd_min, sqrt(96), 1e-12, "between shops (by hand)");
    near(r.allowance_min, 28, 1e-12, "80 % of the means 12, 22, 32: position 1.6 (by hand)");
    near(r.model_min, 22 + 0.8416212335729143 * sqrt(96), 1e-9,
         "and by the model (normal quantile: printed tables, 0.8416212)");
    tap_ok(work("s,min\na,10\nb,20\n", NULL, "s", plain, &r, &f) == ERR_OK && !r.has_model,
           "one job a shop: no model");
    tap_ok(work("s,min\na,10\nb,11\na,20\nb,19\n", NULL, "s", plain, &r, &f) == ERR_OK &&
               r.between_sd_min == 0 && try_has_note(&r.notes, STUDY_CAVEAT, "put at 0"),
           "shops alike: their spread is put at 0 and said");
    tap_ok(work("s,min\na,10\na,11\n", NULL, "s", plain, &r, &f) == ERR_OK && r.n_shops == 1 &&
               !r.has_model,
           "one shop");
}

static void refusals(void)
{
    struct study_labour r = {0};
    struct fault f;
    tap_ok(work("min\n", NULL, NULL, plain, &r, &f) == ERR_EMPTY && f.line == 0, "no job: %s",
           f.message);
    tap_ok(work("min\n5\n", NULL, NULL, plain, &r, &f) == ERR_EMPTY, "one job: %s", f.message);
    tap_ok(work("min\n5\n5\n5\n", NULL, NULL, plain, &r, &f) == ERR_DOMAIN && f.line == 0,
           "all alike: %s", f.message);
    tap_ok(work("min\n5\n0\n", NULL, NULL, plain, &r, &f) == ERR_DOMAIN && f.line == 3,
           "no time at all: %s", f.message);
    tap_ok(work("k,min\n0,5\n1,6\n", "k", NULL, plain, &r, &f) == ERR_DOMAIN && f.line == 2,
           "an order of 0: %s", f.message);
}

int main(void)
{
    needed();
    learning();
    times();
    shops();
    refusals();
    return tap_done();
}

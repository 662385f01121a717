/* The gauge study against the published three-appraiser study and a small one worked by R. Its intervals: test/sim/sim_figures.c. */
#include "desk/study_gauge.h"

#include "base/text.h"
#include "desk/study_try.h"

#include <stdlib.h>

static const struct study_gauge_order plain = {.pool_above = 1, .confidence = 0.95, .unit = UNIT_N};

static enum err gauge(const char *csv, struct study_gauge_order o, struct study_gauge *g,
                      struct fault *f)
{
    struct study_want wants[GAUGE_COLUMNS];
    study_gauge_wants("part", "who", "value", o.unit, wants);
    struct study_table *t = try_table(csv, wants, GAUGE_COLUMNS);
    *f = (struct fault){0};
    const enum err e = t != NULL ? study_gauge(t, &o, g, f) : ERR_IO;
    study_table_free(t);
    return e;
}

/* 10 parts x 3 appraisers x 3 trials (AIAG MSA manual, Table A; data from memory). */
static const char *const aiag[9] = {"0.29 -0.56 1.34 0.47 -0.80 0.02 0.59 -0.31 2.26 -1.36",
                                    "0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25",
                                    "0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31",
                                    "0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68",
                                    "0.25 -1.22 0.94 1.03 -1.20 0.22 0.55 0.08 2.12 -1.62",
                                    "0.07 -0.68 1.34 0.20 -1.28 0.06 0.83 -0.34 2.19 -1.50",
                                    "0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49",
                                    "-0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77",
                                    "-0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16"};

static void write_rows(struct text *csv, const char *const *rows, size_t n, size_t each)
{
    text_puts(csv, "who,part,value\n");
    for (size_t i = 0; i < n; i++) {
        const char *at = rows[i];
        for (int part = 1; *at != '\0'; part++) {
            const size_t size = strcspn(at, " ");
            text_printf(csv, "%c,%d,%.*s\n", (char)('A' + i / each), part, (int)size, at);
            at += size + (at[size] == ' ');
        }
    }
}

static void published(void)
{
    struct text csv = {0};
    struct study_gauge g = {0};
    struct fault f;
    struct study_gauge_order o = plain;
    write_rows(&csv, aiag, 9, 3);
    tap_ok(gauge(csv.data, o, &g, &f) == ERR_OK && !g.is_pooled, "interaction kept");
    near(g.repeatability, 0.0459822222222222, 1e-12, "repeatability (R aov)");
    near(g.interaction, 0, 0, "interaction: negative, set to 0");
    tap_ok(g.is_cut_interaction &&
               try_has_note(&g.notes, STUDY_CAVEAT, "interaction component came out negative"),
           "and said");
    near(g.operators, 0.0521229218106996, 1e-12, "appraiser (R aov)");
    near(g.part, 1.08867213991770, 1e-12, "part (R aov)");
    near(g.reproducibility, g.operators, 0, "reproducibility is appraiser and interaction");
    near(g.total, 0.0459822222222222 + 0.0521229218106996 + 1.08867213991770, 1e-12, "total");
    o.pool_above = 0.25;
    tap_ok(gauge(csv.data, o, &g, &f) == ERR_OK && g.is_pooled,
           "interaction pooled, its p being 0.97");
    near(sqrt(g.repeatability), 0.199933, 2.6e-6, "EV as printed, 0.199933");
    near(sqrt(g.operators), 0.226838, 2.3e-6, "AV as printed, 0.226838");
    near(sqrt(g.gauge), 0.302373, 5e-6, "GRR as printed, 0.302373, but for its last digit");
    near(sqrt(g.part), 1.042327, 5e-7, "PV as printed, 1.042327");
    near(sqrt(g.total), 1.085, 3e-4, "TV as printed, 1.085");
    near(g.percent_study, 27.9, 2e-3, "%GRR as printed, 27.9");
    near(g.percent_study, 27.8606508811423, 1e-12, "%GRR (R)");
    near(g.ndc_exact, 4.86051647662158, 1e-12, "1.41 PV/GRR (R)");
    tap_ok(g.has_ndc && g.ndc == 4, "ndc as printed, 4");
    tap_ok(g.repeatability_i.low < g.repeatability && g.repeatability < g.repeatability_i.high,
           "its interval holds the repeatability");
    text_done(&csv);
}

static void small(void)
{
    /* Own data in inches; figures by R 4.2.2 aov. */
    static const char *const rows[6] = {".50 .75 .25 1.00", ".53 .72 .28 1.03", ".47 .69 .31 .94",
                                        ".50 .75 .25 1.00", ".56 .81 .31 1.06", ".56 .78 .34 1.09"};
    struct text csv = {0};
    struct study_gauge g = {0};
    struct fault f;
    struct study_gauge_order o = plain;
    write_rows(&csv, rows, 6, 2);
    tap_ok(gauge(csv.data, o, &g, &f) == ERR_OK, "4 gaps x 3 readers x 2");
    near(g.repeatability, 0.00075, 1e-11, "repeatability (R aov)");
    near(g.operators, 0.00146875, 1e-11, "reader (R aov)");
    near(g.part, 0.09769375, 1e-11, "gap (R aov)");
    o.pool_above = 0.25;
    o.tolerance = 0.125;
    o.unit = UNIT_IN;
    tap_ok(gauge(csv.data, o, &g, &f) == ERR_OK, "the same as amounts in inches");
    near(g.percent_study, 14.4700626332905, 1e-11, "%GRR (R)");
    near(g.ndc_exact, 9.64170276556228, 1e-11, "ndc (R)");
    near(g.percent_tolerance, 600 * 0.0457005652773209 / 0.125, 1e-11,
         "six sd of the gauge (R) over the tolerance");
    text_done(&csv);
}

static void refusals(void)
{
    static const struct {
        const char *csv, *part;
        enum err err;
    } rows[] = {
        {"part,who,value\n", "0 parts and 0 operators", ERR_EMPTY},
        {"part,who,value\n1,A,1\n1,A,2\n2,A,3\n2,A,3\n", "2 parts and 1 operator;", ERR_EMPTY},
        {"part,who,value\n1,A,1\n1,B,2\n2,A,3\n2,B,3\n", "measured once by each", ERR_EMPTY},
        {"part,who,value\n1,A,1\n1,A,1\n1,B,2\n1,B,2\n2,A,3\n2,A,3\n2,B,3\n",
         "part '2' was measured 1 time by 'B'", ERR_DOMAIN},
        {"part,who,value\n1,A,1\n1,A,1\n1,B,2\n1,B,2\n2,A,3\n2,A,3\n",
         "part '2' was measured 0 times by 'B'", ERR_DOMAIN},
        {"part,who,value\n1,A,1\n1,A,1\n1,B,1\n1,B,1\n2,A,1\n2,A,1\n2,B,1\n2,B,1\n",
         "nothing varies", ERR_DOMAIN}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct study_gauge g = {0};
        struct fault f;
        tap_ok(gauge(rows[i].csv, plain, &g, &f) == rows[i].err && f.line == 0 &&
                   strstr(f.message, rows[i].part) != NULL,
               "cannot answer: %s", f.message);
    }
}

static void edges(void)
{
    struct study_gauge g = {0};
    struct fault f;
    /* Repeats exactly alike, people alike: the gauge shows no variance, so it tells any number of classes apart. */
    tap_ok(gauge("part,who,value\n1,A,1\n1,A,1\n1,B,1\n1,B,1\n2,A,3\n2,A,3\n2,B,3\n2,B,3\n", plain,
                 &g, &f) == ERR_OK &&
               !g.has_ndc && g.percent_study == 0 &&
               try_has_note(&g.notes, STUDY_CAVEAT, "too coarse"),
           "repeats exactly alike: no number of classes, and why");
    tap_ok(isfinite(g.gauge_i.low) && isfinite(g.gauge_i.high) &&
               isfinite(g.percent_study_i.high) && isfinite(g.part_i.high),
           "and nothing that is not a number");
    /* Parts alike, noise only. */
    tap_ok(gauge("part,who,value\n1,A,1\n1,A,2\n1,B,2\n1,B,1\n2,A,2\n2,A,1\n2,B,1\n2,B,2\n", plain,
                 &g, &f) == ERR_OK &&
               g.part == 0 && g.percent_study == 100 && g.ndc == 0,
           "parts alike: all of it is measuring");
}

/* The same readings with 10^12 before them: nothing that is told may change (base/number.h keeps what a double would lose). */
static void far_from_zero(void)
{
    static const char *const places[2] = {"", "1000000000000"};
    struct study_gauge g[2] = {{.n_parts = 0}, {.n_parts = 0}};
    struct fault f;
    for (int k = 0; k < 2; k++) {
        struct text csv = {0};
        text_puts(&csv, "part,who,value\n");
        for (int i = 0; i < 24; i++)
            text_printf(&csv, "%d,%d,%s%d.%02d\n", i / 6, i / 2 % 3, places[k], i / 6,
                        (i * 37 % 60) + i % 3);
        tap_ok(gauge(csv.data, plain, &g[k], &f) == ERR_OK, "made-up readings near %s",
               k == 0 ? "0" : "10^12");
        text_done(&csv);
    }
    near(g[1].repeatability, g[0].repeatability, 1e-13, "near 10^12: the same repeatability");
    near(g[1].part, g[0].part, 1e-13, "near 10^12: the same variance of the parts");
    near(g[1].percent_study, g[0].percent_study, 1e-13, "near 10^12: the same percent study");
}

int main(void)
{
    published();
    small();
    refusals();
    edges();
    far_from_zero();
    return tap_done();
}

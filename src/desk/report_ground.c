/* report_ground: owns what the report says of itself: what was taken for granted, what is not certain, and by which methods its figures
 * were worked out. */
#include "desk/report_inner.h"

/* ---- what was taken for granted ------------------------------------------------------------ */

enum { NOTES_SHOWN = 24 }; /* of one study */

static void put_notes(struct report_run *r, const struct study_notes *notes, int *n)
{
    static const char *const words[] = {[STUDY_ASSUMED] = "Taken for granted",
                                        [STUDY_CHECKED] = "Looked at",
                                        [STUDY_CAVEAT] = "Take care"};
    static const enum study_note_kind order[] = {STUDY_CAVEAT, STUDY_ASSUMED, STUDY_CHECKED};
    for (size_t k = 0; k < sizeof order / sizeof *order; k++)
        for (size_t i = 0; i < notes->n && *n < NOTES_SHOWN; i++)
            if (notes->at[i].kind == order[k]) {
                report_put(r, REPORT_POINT, "%s: %s", words[order[k]], notes->at[i].text);
                ++*n;
            }
}

static void put_study(struct report_run *r, const char *head, const struct report_study *s,
                      const struct study_notes *notes)
{
    int n = 0;
    (void)report_add(r, REPORT_HEADING, head);
    if (!s->has || notes == NULL) {
        report_put(r, REPORT_POINT, "Not answered: %s.", s->why);
        return;
    }
    put_notes(r, notes, &n);
    put_notes(r, &s->rows.notes, &n);
}

static void put_uncertain(struct report_run *r)
{
    const struct report_window *w = &r->windows[r->best >= 0 ? r->best : 0];
    report_section(r, "uncertain", "What is uncertain, and what was taken for granted", true);
    (void)report_add(
        r, REPORT_TEXT,
        "An interval of 95 % is made so that 19 of 20 such intervals hold the truth, if what "
        "is taken for granted below is so. What nobody told the store is in no figure here.");
    put_study(r,
              w->variant != NULL ? report_say(r, "Which builds are bad: %s", w->name)
                                 : "Which builds are bad",
              &w->s, w->s.has ? &w->r->notes : NULL);
    put_study(r, "How many units will come", &r->completion_s,
              r->completion_s.has ? &r->completion->notes : NULL);
    put_study(r, "Did the repair hold", &r->held_s, &r->held.notes);
    (void)report_add(r, REPORT_HEADING, "Money");
    (void)report_add(
        r, REPORT_POINT,
        "Taken for granted: a unit still to come costs what those that stand as pay cost on "
        "average, and every claim that is asked about or held is paid in full.");
}

/* ---- methods ------------------------------------------------------------------------------- */

void report_ground(struct report_run *r)
{
    static const struct report_column columns[] = {{"FIGURE", 0.24, false, false},
                                                   {"METHOD", 0.52, false, false},
                                                   {"SOURCE", 0.24, false, false}};
    static const char *const methods[][3] = {
        {"Bad build days and p",
         "The run of days with the greatest likelihood ratio, however long; p from 9999 seeded "
         "draws of the same "
         "failures by chance",
         "Kulldorff 1997"},
        {"Ends of the run, 95 %",
         "Runs whose likelihood lies near the best; how near from 999 draws of a world like the "
         "one found",
         "parametric bootstrap"},
        {"Line and cost",
         "Likelihood as weight over all runs: each day's share of belonging to the bad one",
         "doc/studies.md"},
        {"Units that will come",
         "Mixture of a Weibull curve and a share that never comes, by maximum likelihood; "
         "intervals from seeded "
         "draws of what the fit leaves open",
         "mixture cure model"},
        {"Money expected",
         "What is paid, promised, asked about and held, and further units at the mean of those "
         "that pay; exact sums",
         "doc/campaign.md"},
        {"Final readings", "Ppk with Bissell's interval; readings outside are counted",
         "ISO 22514-2 (from memory); Bissell 1990"},
        {"Rulings", "Rules of the bulletin and the store; each finding names its rule",
         "doc/ruling.md"},
        {"Shops to look at",
         "One shop against all others, by findings, last digits and repeated sets; false "
         "discoveries held to 5 %",
         "Benjamini and Hochberg 1995"},
        {"Did it hold", "Exact interval of the ratio of two rates given their total",
         "Clopper and Pearson 1934"},
    };
    struct report_rows t;
    put_uncertain(r);
    report_section(r, "methods", "How the figures were worked out", true);
    report_rows_begin(&t, r, columns, 3, sizeof methods / sizeof *methods);
    for (size_t i = 0; i < sizeof methods / sizeof *methods; i++)
        for (int k = 0; k < 3; k++)
            report_cell(&t, "%s", methods[i][k]);
    report_rows_end(&t, report_say(r,
                                   "%s By Mendwright " MENDWRIGHT_VERSION
                                   "; the same store and time give the same report.",
                                   r->source));
}

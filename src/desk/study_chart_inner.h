/* study_chart_inner: what the files of study_chart share; nobody else's. */
#ifndef DESK_STUDY_CHART_INNER_H
#define DESK_STUDY_CHART_INNER_H

#include "desk/study_chart.h"

/* study_chart_begin: *ret emptied, of this kind. study_chart_end: ERR_OK, or ERR_MEMORY when the arena ran out. */
void study_chart_begin(struct study_chart *ret, enum chart_kind kind);
MUST_USE enum err study_chart_end(struct study_chart *c, struct fault *reterr);

/* study_chart_say: a text of the picture's own; never NULL. */
const char *study_chart_say(struct study_chart *c, const char *fmt, ...) PRINTF_LIKE(2, 3);

/* study_chart_words: what was assumed and is to be taken care of, and where it comes from. notes or t may be NULL. */
void study_chart_words(struct study_chart *c, const struct study_notes *notes,
                       const struct study_table *t, const struct study_chart_about *about);

/* study_chart_shown: how many of n there is room for. */
static inline size_t study_chart_shown(size_t n, size_t most)
{
    return n < most ? n : most;
}

/* n numbers of its own; NULL when memory ran out (study_chart_end tells). */
double *study_chart_numbers(struct study_chart *c, size_t n);

/* study_chart_figure: a number with so many digits that count; a text of the picture's own. study_chart_p: "0.032", "<0.0001". */
const char *study_chart_figure(struct study_chart *c, double value, int digits);
const char *study_chart_p(struct study_chart *c, double p);

/* study_chart_name: a name as it stands in a sentence: cut when it is very long. */
const char *study_chart_name(struct study_chart *c, const char *name);

/* The unit of the times, "" when it is not known. */
const char *study_chart_unit(const struct study_chart_about *about);

#endif

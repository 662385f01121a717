/* study_plot: --plot of every kind of study: the answer as a picture (desk/study_chart.h) in a file of its own. */
#ifndef CLI_STUDY_PLOT_H
#define CLI_STUDY_PLOT_H

#include "cli/study.h"
#include "desk/study_chart.h"

/* The options; every kind has them in its list. */
#define STUDY_PLOT_OPTIONS                                                                         \
    {"--plot", "FILE", "draw the answer as well; FILE ends in .svg, .png or .pdf", false},         \
        {"--plot-date", "DATE",                                                                    \
         "with --plot: the date that stands at its foot, such as 2026-03-05; left out: none",      \
         false},                                                                                   \
    {                                                                                              \
        "--plot-size", "WxH",                                                                      \
            "with --plot: its size in points of 1/72 in, such as 720x480; a PNG has 2 pixels a "   \
            "point",                                                                               \
            false                                                                                  \
    }
/* And of kinds that have a column of times. */
#define STUDY_TIME_UNIT_OPTION                                                                     \
    {                                                                                              \
        "--time-unit", "WORD",                                                                     \
            "with --plot: what the times are in, such as days; left out: the column's name", false \
    }

/* study_plot_read: the options above into c->plot; CLI_GOOD, or an exit code after cli_error. Called once, before anything is read. */
int study_plot_read(struct study_call *c);

/* study_plot_about: where the answer comes from; time_column: the name of the column of times, or NULL. */
struct study_chart_about study_plot_about(struct study_call *c, const char *time_column);

/* study_plot_save: made is what the function of desk/study_chart.h returned, f its fault; the picture is written whole or not at all, a
 * line says so unless the answer is JSON, and the picture is freed. Returns `code`, or CLI_FAILED after an error line. */
int study_plot_save(struct study_call *c, enum err made, struct study_chart *chart,
                    const struct fault *f, int code);

#endif

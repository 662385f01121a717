/* plot: answers as drawings in SVG: the opening with its readings and what to move where, and racks with their cut. Everything that is
 * said in words comes from the caller, so that the drawing and the answer beside it say the same. Lengths are to proportion; where
 * something is drawn larger than it is, the drawing says by how much. The words are English, as those of the command line. */
#ifndef DRAW_PLOT_H
#define DRAW_PLOT_H

#include "base/fault.h"
#include "base/problem.h"
#include "base/text.h"
#include "core/cut.h"

struct plot_true {
    const struct problem *problem;
    const struct truing_answer *answer;
    enum unit unit;              /* of what is shown; of the problem's dimension */
    const char *verdict, *title; /* title may be "" */
    const char
        *travel[2]; /* what travel -1 and +1 are called, such as "150 mm out"; NULL: "in", "out" */
    const char *caution; /* said when something is moved */
    bool is_invented;
};

/* plot_true: points with the factors side and height stand at the corners of the opening, seen from outside, side +1 on the left,
 * height +1 above; all points stand in a list below, as read and after the first plan. Appended to out. Errors: ERR_UNKNOWN (no
 * font), ERR_MEMORY; reterr->message says it for people. */
MUST_USE enum err plot_true(const struct plot_true *order, struct text *out, struct fault *reterr);

struct plot_cut_rack {
    const char *rack;
    const struct cut_piece *piece;
    const struct cut_answer *answer; /* CUT_DO or CUT_NOT_NEEDED */
    const char *kept_end, *other_end;
    bool is_kept_relieved, is_other_relieved;
};

struct plot_cut {
    const char *verdict, *title, *caution;
    const char *blade_says; /* "" when the bulletin does not say */
    const struct plot_cut_rack *racks;
    size_t n_racks;
    enum unit show;
    bool is_invented;
};

/* plot_cut: one rack below the other, to one scale, the kept ends in one line. Appended to out. Errors as above. */
MUST_USE enum err plot_cut(const struct plot_cut *order, struct text *out, struct fault *reterr);

#endif

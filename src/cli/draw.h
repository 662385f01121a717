/* draw: racks as lines of text, to proportion: a rack with its mark, two racks on their pinions. ASCII only. */
#ifndef CLI_DRAW_H
#define CLI_DRAW_H

#include "cli/cli.h"
#include "core/cut.h"

struct draw_rack {
    const char *kept_end, *other_end; /* "upper", "lower"; "" when it does not matter */
    bool kept_relieved, other_relieved;
    const struct cut_answer *cut;
    enum cut_blade blade;
    const char *mark_says; /* "mark 1203.5 mm" */
};

/* draw_cut: three or four lines, `columns` wide at most, into ctx->out:
 *   upper                                           lower
 *   [__vvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvv|#...........]
 *                          mark 1203.5 mm ^> blade on this side
 * Kept and offcut are to proportion; the relief and the kerf (#) are signs, not to scale. */
void draw_cut(struct cli *ctx, int indent, const struct draw_rack *rack);

struct draw_timed {
    const char *name;
    int64_t end_nm;
    int32_t move;         /* teeth; 0 stays */
    const char *end_says; /* "100.00 mm" */
};

/* draw_timed: each rack on its pinion, four columns a tooth, the ends to scale within about 11 teeth of one another (beyond: cut
 * off with "~"), and the jump as an arrow. n <= 8. */
void draw_timed(struct cli *ctx, int indent, const struct draw_timed *racks, size_t n,
                int64_t pitch_nm);

#endif

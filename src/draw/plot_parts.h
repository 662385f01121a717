/* plot_parts: what the plots share; nobody else's. */
#ifndef DRAW_PLOT_PARTS_H
#define DRAW_PLOT_PARTS_H

#include "draw/paper.h"
#include "draw/plot.h"

#define PLOT_WIDTH 860.0
#define PLOT_PAD   28.0

/* plot_run: draws twice, first dry to find the height, then for good; says title and description in the file's own words. */
typedef void plot_draw(struct paper *p, const void *order);
MUST_USE enum err plot_run(plot_draw *draw, const void *order, const char *title,
                           const char *description, struct text *out, struct fault *reterr);

/* plot_described: the SVG appended to out, with its title and description as elements of their own. */
void plot_described(struct text *out, const struct text *svg, const char *title,
                    const char *description);

/* plot_head: the verdict, what it is of, and that it is invented. plot_foot: how it is drawn. */
void plot_head(struct paper *p, const char *verdict, const char *title, bool is_invented);

#endif

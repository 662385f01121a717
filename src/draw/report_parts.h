/* report_parts: what the parts of the report share; nobody else's. */
#ifndef DRAW_REPORT_PARTS_H
#define DRAW_REPORT_PARTS_H

#include "draw/paper.h"
#include "draw/report.h"

/* Each draws at p->y and leaves it below. */
void report_tiles(struct paper *p, const struct report_block *block);
void report_table(struct paper *p, const struct report_table *t);
void report_picture(struct paper *p, const struct report_block *b);
void report_bars(struct paper *p, const struct report_bars *b);

#endif

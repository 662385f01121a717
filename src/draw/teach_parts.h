/* teach_parts: what cards and crib share; nobody else's. */
#ifndef DRAW_TEACH_PARTS_H
#define DRAW_TEACH_PARTS_H

#include "draw/sheet_parts.h"
#include "draw/teach.h"

#define TEACH_BODY_PT 9.0 /* of PAPER_BODY, before anything shrinks */

struct teach {
    struct sheet s;
    struct sheet_order order; /* that the parts of the sheet look at */
    const struct teach_order *o;
    struct teach_made made;
};

void teach_cards(struct teach *t); /* teach_cards.c */
void teach_step(struct teach *t, const struct bulletin_step *step,
                size_t number); /* teach_step.c */
/* teach_step_head: the number, the title, whom it is for. is_more: a card that goes on. */
void teach_step_head(struct teach *t, const struct bulletin_step *step, size_t number,
                     bool is_more);
/* teach_step_asks: the back of a card. */
void teach_step_asks(struct teach *t, const struct bulletin_step *step, size_t number);
double teach_picture_draw(struct teach *t, const struct bulletin_picture *picture, double x,
                          double width, double most); /* teach_picture.c; returns its height */

/* teach_crib.c */
MUST_USE enum err teach_crib(struct teach *t, struct fault *f);

/* One part of the crib: drawn in p->left .. p->right from p->y on, which it moves. Empty parts draw nothing. */
struct crib_part {
    enum words title;
    void (*draw)(struct sheet *s);
};
extern const struct crib_part crib_parts[]; /* crib_parts.c; closed by a NULL draw */
/* crib_head: a part's heading. crib_line: a line of text, quiet or not, and a small gap. */
void crib_head(struct sheet *s, const char *title);
void crib_line(struct sheet *s, enum paper_style style, const char *text);
/* crib_share: what share of the width a column needs whose widest text is this wide, within least..most. */
double crib_share(const struct sheet *s, double widest, double least, double most);

/* crib_figure: by which figure a point is called in the drawing and in the table of what moves what, from 1: the corners of one group
 * after the other, then the others in the bulletin's order. */
int crib_figure(const struct sheet *s, const struct sheet_group *groups, size_t n,
                const struct bulletin_point *point);
void crib_kits(struct sheet *s); /* crib_kits.c */
void crib_cut(struct sheet *s);
void crib_opening(struct sheet *s); /* crib_readings.c */
void crib_effects(struct sheet *s);
void crib_others(struct sheet *s);

#endif

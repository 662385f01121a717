/* teaching: the paper to teach by (draw/teach.h) of a bulletin that the store holds, with the pictures that are kept beside it. */
#ifndef DESK_TEACHING_H
#define DESK_TEACHING_H

#include "draw/teach.h"

struct store;

/* teaching_picture: what a picture file's bytes are for drawing: PNG and JPEG that are sound and no larger than draw/teach.h takes;
 * anything else (an SVG too) is TEACH_NO_PICTURE, and its words are printed. *bytes move into *ret, or are freed. */
void teaching_picture(struct text *bytes, struct teach_picture *ret);

/* teaching_paper: order->b, picture, me and made_s are filled in here; appended to out. The file's own
 * date is the day of issue, so that the same bulletin gives the same bytes whenever it is asked for. Errors: ERR_UNKNOWN (no such
 * bulletin; no font), teach_make's, the store's. */
MUST_USE enum err teaching_paper(struct store *store, const char *id, int64_t revision,
                                 const struct teach_order *order, struct text *out,
                                 struct teach_made *ret, struct fault *reterr);

#endif

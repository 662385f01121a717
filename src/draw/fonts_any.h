/* fonts_any: apart from fonts.h, for whoever only asks and does not draw. */
#ifndef DRAW_FONTS_ANY_H
#define DRAW_FONTS_ANY_H

#include <stdbool.h>

/* fonts_any: whether this machine has any font at all; sheets and plots need one. */
bool fonts_any(void);

#endif

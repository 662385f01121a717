/* fonts: which letters this folder draws with, and what is said when the machine has none. */
#ifndef DRAW_FONTS_H
#define DRAW_FONTS_H

#include "draw/fonts_any.h"

#include <cairo.h>
#include <stdbool.h>

/* fonts_select: sets cairo's plain text calls to our sans, as fontconfig finds it. A machine without any font gets cairo's own
 * stroked letters, which know plain ASCII only. */
void fonts_select(cairo_t *cr, bool is_bold);

#endif

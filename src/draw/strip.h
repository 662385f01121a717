/* strip: a reading against its limits, to scale: the one picture of a reading, on phone, desk, paper and plot (doc/looks.md): a band
 * from the low to the high limit, guard bands hatched, a tick at the nominal, a wedge at the reading, a bar for its uncertainty. */
#ifndef DRAW_STRIP_H
#define DRAW_STRIP_H

#include "core/conform.h"

#include <stdbool.h>
#include <stdint.h>

struct paper;

struct strip {
    struct conform_limits limits, guarded; /* INT64_MIN, INT64_MAX: no limit on that side */
    int64_t nominal;
    bool has_reading;
    int64_t reading;
    double expanded_u; /* drawn to either side of the reading; 0: none */
};

#define STRIP_HEIGHT 17.0 /* points */

/* strip_draw: in the box x, y, width, STRIP_HEIGHT. The limits take two thirds of the width; a sixth lies outside on either side. A
 * reading farther out is drawn at the frame's end with an arrow. A side without a limit fades out in dashes. */
void strip_draw(struct paper *p, double x, double y, double width, const struct strip *s);

#endif

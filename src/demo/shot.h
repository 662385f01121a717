/* shot: a made-up photo's file: drawn (draw/picture), treated as its fault wants it, written as JPEG with EXIF (proof/photo_write). */
#ifndef DEMO_SHOT_H
#define DEMO_SHOT_H

#include "base/text.h"
#include "demo/work.h"

/* shot_make: the file's bytes appended to out. The same shot gives the same bytes. A code that must be read is drawn anew, with
 * another pose and light, until proof/photo reads it: whoever plants a code that tells on him must plant one that can be seen.
 * Errors: ERR_DOMAIN, ERR_MEMORY, ERR_IMPOSSIBLE (no pose in which the code can be read). */
MUST_USE enum err shot_make(const struct work_shot *shot, struct text *out);

#endif

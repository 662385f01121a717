/* shot: a made-up photo's file: drawn (draw/picture), treated as its fault wants it, written as JPEG with EXIF (proof/photo_write). */
#ifndef DEMO_SHOT_H
#define DEMO_SHOT_H

#include "base/text.h"
#include "demo/work.h"

/* shot_make: the file's bytes appended to out. The same shot gives the same bytes. Errors: ERR_DOMAIN, ERR_MEMORY. */
MUST_USE enum err shot_make(const struct work_shot *shot, struct text *out);

#endif

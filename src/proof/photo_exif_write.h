/* photo_exif_write: the EXIF block of a photo that is written; photo_jpeg_write.c's alone. */
#ifndef PROOF_PHOTO_EXIF_WRITE_H
#define PROOF_PHOTO_EXIF_WRITE_H

#include "proof/photo_write.h"

/* photo_exif_write: "Exif\0\0" and the block after it, appended to out; photo->taken is not NULL and well formed. Error: ERR_MEMORY. */
MUST_USE enum err photo_exif_write(const struct photo_write *photo, struct text *out);

#endif

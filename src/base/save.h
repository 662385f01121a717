/* save: a whole file at once, or none. */
#ifndef BASE_SAVE_H
#define BASE_SAVE_H

#include "base/fault.h"
#include "base/text.h"

/* save_file: path then holds exactly bytes[0..n): written beside it under a name of its own, brought to the disk and renamed, so
 * that nobody ever sees half a file and a failure leaves what was there. Errors: ERR_OPEN (no such folder, a folder itself, not
 * permitted), ERR_IO, ERR_MEMORY; reterr->file and message are set. */
MUST_USE enum err save_file(const char *path, const void *bytes, size_t n, struct fault *reterr);

#endif

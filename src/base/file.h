/* file: reads whole files and standard input, bounded, with faults that name them. */
#ifndef BASE_FILE_H
#define BASE_FILE_H

#include "base/fault.h"
#include "base/text.h"

/* file_read: the bytes of path ("-": standard input) appended to ret (the caller's, text_done it),
 * at most max bytes. Refuses folders and devices other than pipes, with a plain sentence. Errors:
 * ERR_OPEN (missing, a folder, a device, not permitted), ERR_IO (the disk failed), ERR_LIMIT,
 * ERR_MEMORY; reterr->file and message are set. */
MUST_USE enum err file_read(const char *path, size_t max, struct text *ret, struct fault *reterr);

#endif

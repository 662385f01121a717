/* file: reads whole files and standard input, bounded, with faults that name them. */
#ifndef BASE_FILE_H
#define BASE_FILE_H

#include "base/fault.h"
#include "base/text.h"

#include <stdint.h>

/* file_open: path for reading ("-": standard input), after the refusals of file_read; a file of more than max
 * bytes (SIZE_MAX: any) is refused. *ret_fd: the caller's, file_close it. *ret_size: its size; 0: not known (a
 * pipe). Errors: ERR_OPEN, ERR_IO, ERR_LIMIT; reterr->file and message are set. */
MUST_USE enum err file_open(const char *path, size_t max, int *ret_fd, uint64_t *ret_size,
                            struct fault *reterr);
void file_close(int fd); /* leaves standard input open */

/* file_piece: the next bytes of fd, 1..room of them, into buf; *ret_n 0: the end. ERR_IO; only code and message of reterr are set. */
MUST_USE enum err file_piece(int fd, char *buf, size_t room, size_t *ret_n, struct fault *reterr);

/* file_read: the bytes of path ("-": standard input) appended to ret (the caller's, text_done it),
 * at most max bytes. Refuses folders and devices other than pipes, with a plain sentence. Errors:
 * ERR_OPEN (missing, a folder, a device, not permitted), ERR_IO (the disk failed), ERR_LIMIT,
 * ERR_MEMORY; reterr->file and message are set. */
MUST_USE enum err file_read(const char *path, size_t max, struct text *ret, struct fault *reterr);

#endif

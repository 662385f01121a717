/* bag_dir: a folder as the source of a bag's files, or of a job's. */
#ifndef PROOF_BAG_DIR_H
#define PROOF_BAG_DIR_H

#include "proof/bag_files.h"

/* bag_dir_open: lists every file below folder fd (taken over, closed by bag_files_close, also after a
 * failure). Links are never followed: a link, a device, a name that is not UTF-8 is a fault. *ret_is_usable
 * is false when there are too many or too deep. Errors: ERR_IO, ERR_MEMORY. */
MUST_USE enum err bag_dir_open(int fd, struct bag_files *files, struct bag_result *result,
                               bool *ret_is_usable, struct fault *reterr);

/* bag_dir_open_file: opens a file of it for reading, without following a link anywhere on the way;
 * -1 and errno on failure. The caller closes it. */
int bag_dir_open_file(const struct bag_files *files, const char *path);

#endif

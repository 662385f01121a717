/* disk: writes and removes the campaign's files and folders. */
#ifndef DEMO_DISK_H
#define DEMO_DISK_H

#include "base/fault.h"
#include "base/text.h"

enum { DISK_PATH = 1024 };

/* disk_path: "folder/name" into ret. ERR_LIMIT when it is too long. */
MUST_USE enum err disk_path(char ret[DISK_PATH], const char *folder, const char *name,
                            struct fault *reterr);

/* disk_write: a whole file, folder/name; one that is there is replaced. Errors: ERR_LIMIT, ERR_OPEN, ERR_IO, ERR_MEMORY (the text is
 * broken). */
MUST_USE enum err disk_write(const char *folder, const char *name, const struct text *text,
                             struct fault *reterr);

/* disk_folder: made when it is not there yet. Errors: ERR_OPEN. disk_is_empty: a folder without anything in it, or nothing at all. */
MUST_USE enum err disk_folder(const char *path, struct fault *reterr);
bool disk_is_empty(const char *path);

/* disk_remove: a folder with the files in it and in its folder photos/; what is not there is fine. */
void disk_remove(const char *path);

/* disk_bytes: of a file; 0 when it is not there. */
uint64_t disk_bytes(const char *path);

#endif

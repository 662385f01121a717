/* copy: a whole store at another place, of the same kind of database or the other: entry by entry of the log, from which everything else
 * follows. Inside src/store/; store_copy is in store.h. */
#ifndef STORE_COPY_H
#define STORE_COPY_H

#include "store/store.h"

struct db;
struct album;

/* copy_log_file: the log of s, as of the present snapshot, into a new SQLite file at path, and what follows from it; a file left over
 * there by a copy that was broken off is replaced. */
MUST_USE enum err copy_log_file(struct store *s, const char *path,
                                const struct store_progress *progress, struct fault *f);

/* copy_photos: every photo that the table of files in `list` names, n_all of them, onto the album `to`; those that are there and right
 * stay. One that is missing or damaged is ERR_IO. */
MUST_USE enum err copy_photos(struct store *s, struct db *list, const struct album *to,
                              const struct store_progress *progress, int64_t n_all,
                              struct fault *f);

/* copy_give_name: what was built in the folder part gets its name, on the disk too. */
MUST_USE enum err copy_give_name(const char *part, const char *dest, struct fault *f);

#endif

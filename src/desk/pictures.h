/* pictures: the pictures of a bulletin's steps, kept in the store beside the bulletin and given out again. On the log a picture is a
 * paper (store.h) of the kind "picture": its name is the bulletin's id, a slash and the file's name, its revision the bulletin's, its
 * text the bytes as hexadecimal digits, since papers are UTF-8. So it is chained, copied and verified like all else. */
#ifndef DESK_PICTURES_H
#define DESK_PICTURES_H

#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct bulletin;
struct store;

enum { PICTURE_MAX = 3 * 1024 * 1024 }; /* bytes of one file */

/* pictures_keep: every picture that the bulletin's steps name, read from beside the bulletin's own file at path. All are read and held
 * to their kind (PNG and JPEG by their first bytes, SVG by being UTF-8 with an <svg in it) before the first one is kept. *ret_n: pictures named,
 * each once; *ret_new: any of them is not the one that holds. Errors: ERR_OPEN (missing; or path is "-", which nothing lies beside),
 * ERR_LIMIT (larger than PICTURE_MAX), ERR_TYPE (another kind than its name says), those of file_read and store_keep; reterr->file is
 * the picture's. */
MUST_USE enum err pictures_keep(struct store *store, const struct bulletin *bulletin,
                                const char *path, int64_t now_ms, size_t *ret_n, bool *ret_new,
                                struct fault *reterr);

/* picture_find: the bytes, appended to ret (the caller's, text_done it). tag: as hexadecimal digits, other for other bytes. *ret_type: its media type, static. Errors:
 * ERR_UNKNOWN (not kept), ERR_SYNTAX (damaged), ERR_MEMORY, the store's. */
MUST_USE enum err picture_find(struct store *store, const char *bulletin, int64_t revision,
                               const char *file, struct text *ret, char tag[65],
                               const char **ret_type, struct fault *reterr);

#endif

/* files: photos as files named by their content, photos/ab/cdef....EXT, put there so that a name
 * never stands for half a file. Inside src/store/. */
#ifndef STORE_FILES_H
#define STORE_FILES_H

#include "base/text.h"
#include "store/store.h"

enum {
    FILES_PATH_MAX = 4096,
    FILES_EXT_MAX = 8,
    FILES_HEAD = 12 /* bytes that tell the kind */,
    FILES_LISTED_MAX = 600 /* "photos/", two names of a folder's entries */
};

/* files_kind: the kind of picture, by its first n bytes (FILES_HEAD are enough): JPEG "jpg" (ITU-T T.81, SOI and a marker), PNG "png" (its
 * signature), HEIF "heic" (ISO/IEC 14496-12 "ftyp" with a HEIF brand); else "bin". So the same bytes always get the same name. */
const char *files_kind(const uint8_t *head, size_t n);

/* files_name: what a photo is called wherever photos lie: "photos/ab/cdef....EXT". files_path: the same below root (the store's folder). */
void files_name(const uint8_t sha256[STORE_DIGEST], const char *ext, char *buf, size_t room);
void files_path(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext, char *buf,
                size_t room);

/* files_put: writes the photo's bytes to a file of its own, waits until they are on the disk,
 * renames it to its name, waits for the folder. Several machines may do so in one shared folder. Sets photo->ext (static) and photo->bytes. A file
 * that is there already is replaced by the same bytes. *ret_new: it was not there. Errors:
 * ERR_DOMAIN (the bytes are not those of photo->sha256), ERR_LIMIT, ERR_EMPTY (no source, no
 * bytes), ERR_OPEN, ERR_IO, ERR_MEMORY; reterr->path is the photo's name. */
MUST_USE enum err files_put(const char *root, struct store_photo *photo, bool *ret_new,
                            struct fault *reterr);

/* files_gather: the same photo's bytes into ret (the caller's) instead, with the same comparison, kind and size. */
MUST_USE enum err files_gather(struct store_photo *photo, struct text *ret, struct fault *reterr);

/* files_parse: a name as files_name writes it, and nothing else, as digest and kind. */
bool files_parse(const char *name, uint8_t ret_sha256[STORE_DIGEST], char ret_ext[FILES_EXT_MAX]);

/* Whether a file of that size lies there. The file is opened for that: on a network's file system that is when a machine asks the server
 * what is so now, instead of what it remembers (RFC 8881, 10.3.1: close-to-open). */
bool files_is_there(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext,
                    int64_t bytes);

/* files_check: reads the file and compares; what is wrong goes to reterr->message: ERR_OPEN
 * (missing or unreadable), ERR_DOMAIN (other bytes), ERR_MEMORY. */
MUST_USE enum err files_check(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext,
                              int64_t bytes, struct fault *reterr);

/* files_walk: every file in photos/ of the store at root. sha256 is NULL when its name is no
 * photo's; is_part: a file that a writer which still lives may be at: a process of this machine that is there, or one of another
 * machine whose file was written to within the last day. name is that below root: "photos/...". see returns ERR_OK to go on. */
typedef enum err files_see(void *me, const char *name, const uint8_t *sha256, const char *ext,
                           int64_t bytes, bool is_part, struct fault *reterr);
MUST_USE enum err files_walk(const char *root, files_see *see, void *me, struct fault *reterr);

/* files_folder: makes a folder, fine when it is there, ERR_OPEN when there is nowhere to make it; files_sync: waits until a folder's names are
 * on the disk; files_join: "a/b" into buf, ERR_LIMIT when too long. */
MUST_USE enum err files_folder(const char *path, struct fault *reterr);
MUST_USE enum err files_sync(const char *path, struct fault *reterr);
MUST_USE enum err files_join(const char *a, const char *b, char buf[FILES_PATH_MAX],
                             struct fault *reterr);

/* The words for a system error number. */
enum err files_say(struct fault *f, const char *what, int number);

#endif

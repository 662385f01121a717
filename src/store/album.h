/* album: where a store's photos lie, behind one interface, by the place that names the store: the folder photos/ beside everything else
 * (album.c, by files.h), or a bucket of an object store that speaks S3 (album_s3.c). An album may be used by several threads at once. Inside src/store/.
 *
 * What holds for every album: a photo is named by the SHA-256 of its bytes and by its kind; nobody ever sees half of one; when album_put
 * returns ERR_OK it is there durably; what is read is compared with its digest. Photos are put, read and removed by several processes on
 * several machines that know nothing of one another: no locks are relied on. */
#ifndef STORE_ALBUM_H
#define STORE_ALBUM_H

#include "base/text.h"
#include "store/files.h"
#include "store/place.h"

struct album;

/* album_open: nothing is asked of the disk yet. album_folder: the one whose photos lie in root/photos/, whatever the place is. Free with
 * album_close (NULL is fine). Errors: ERR_MEMORY, ERR_LIMIT. */
MUST_USE enum err album_open(const struct place *place, struct album **ret, struct fault *reterr);
MUST_USE enum err album_folder(const char *root, struct album **ret, struct fault *reterr);
void album_close(struct album *album);

/* album_make: makes what has to be there before the first photo is put. Errors: as files_folder. */
MUST_USE enum err album_make(const struct album *album, struct fault *reterr);

/* album_put: as files_put; ERR_IO also when the album cannot be asked now. *ret_new: it was certainly not there before. */
MUST_USE enum err album_put(const struct album *album, struct store_photo *photo, bool *ret_new,
                            struct fault *reterr);

/* album_has: *ret: whether it lies there with that size. Errors: ERR_IO (that cannot be told now). */
MUST_USE enum err album_has(const struct album *album, const uint8_t sha256[STORE_DIGEST],
                            const char *ext, int64_t bytes, bool *ret, struct fault *reterr);

/* album_read: the photo's bytes, at most `max`, into ret (the caller's; cleared first), compared with its digest. Errors: ERR_OPEN (it is
 * missing), ERR_DOMAIN (other bytes), ERR_LIMIT, ERR_IO (it cannot be told now), ERR_MEMORY. */
MUST_USE enum err album_read(const struct album *album, const uint8_t sha256[STORE_DIGEST],
                             const char *ext, size_t max, struct text *ret, struct fault *reterr);

/* album_check: as files_check; ERR_IO when the album cannot be asked now. */
MUST_USE enum err album_check(const struct album *album, const uint8_t sha256[STORE_DIGEST],
                              const char *ext, int64_t bytes, struct fault *reterr);

/* album_walk: as files_walk; `name` is what album_remove takes. */
MUST_USE enum err album_walk(const struct album *album, files_see *see, void *me,
                             struct fault *reterr);

/* album_look: whether it can be used, and in `told` where it lies, for people; changes nothing. Errors: ERR_IO. */
MUST_USE enum err album_look(const struct album *album, char *told, size_t room,
                             struct fault *reterr);

/* album_remove: name: as files_name, or that which album_walk told. *ret_gone: it was there and is no longer. Not being there is no error. */
MUST_USE enum err album_remove(const struct album *album, const char *name, bool *ret_gone,
                               struct fault *reterr);

#endif

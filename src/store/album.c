/* album: owns the choice of where photos lie, the comparison with their digests, and the album that is a folder. */
#include "store/album_ops.h"

#include "base/file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- a folder ------------------------------------------------------------------------------ */

struct album_folder {
    struct album album; /* first: what the ops are given points here */
    char root[FILES_PATH_MAX];
};

static const char *root_of(const struct album *a)
{
    return ((const struct album_folder *)a)->root;
}

static enum err folder_make(const struct album *s, struct fault *f)
{
    char path[FILES_PATH_MAX];
    const enum err err = files_join(root_of(s), "photos", path, f);
    return err != ERR_OK ? err : files_folder(path, f);
}

static enum err folder_put(const struct album *s, struct store_photo *photo, bool *ret_new,
                           struct fault *f)
{
    return files_put(root_of(s), photo, ret_new, f);
}

static enum err folder_has(const struct album *s, const uint8_t *sha256, const char *ext,
                           int64_t bytes, bool *ret, struct fault *f)
{
    (void)f;
    *ret = files_is_there(root_of(s), sha256, ext, bytes);
    return ERR_OK;
}

static enum err folder_read(const struct album *s, const uint8_t *sha256, const char *ext,
                            size_t max, struct text *ret, struct fault *f)
{
    char path[FILES_PATH_MAX];
    files_path(root_of(s), sha256, ext, path, sizeof path);
    const enum err err = file_read(path, max, ret, f);
    f->file[0] = '\0'; /* the store's name says more to people than that of a digest */
    return err;
}

static enum err folder_check(const struct album *s, const uint8_t *sha256, const char *ext,
                             int64_t bytes, struct fault *f)
{
    return files_check(root_of(s), sha256, ext, bytes, f);
}

static enum err folder_walk(const struct album *s, files_see *see, void *me, struct fault *f)
{
    return files_walk(root_of(s), see, me, f);
}

static enum err folder_remove(const struct album *s, const char *name, bool *ret_gone,
                              struct fault *f)
{
    char path[FILES_PATH_MAX];
    const enum err err = files_join(root_of(s), name, path, f);
    if (err != ERR_OK)
        return err;
    *ret_gone = unlink(path) == 0;
    return *ret_gone || errno == ENOENT ? ERR_OK
                                        : files_say(f, "a leftover cannot be removed", errno);
}

static void folder_close(struct album *s)
{
    free(s);
}

static enum err folder_look(const struct album *s, char *told, size_t room, struct fault *f)
{
    char path[FILES_PATH_MAX];
    const enum err err = files_join(root_of(s), "photos", path, f);
    if (err != ERR_OK)
        return err;
    snprintf(told, room, "lie in %s", path);
    return access(path, R_OK | X_OK) == 0
               ? ERR_OK
               : files_say(f, "the folder photos/ cannot be read", errno);
}

static const struct album_ops folder_ops = {.make = folder_make,
                                            .put = folder_put,
                                            .has = folder_has,
                                            .read = folder_read,
                                            .check = folder_check,
                                            .walk = folder_walk,
                                            .remove = folder_remove,
                                            .look = folder_look,
                                            .close = folder_close};

/* ---- any ----------------------------------------------------------------------------------- */

enum err album_folder(const char *root, struct album **ret, struct fault *reterr)
{
    struct album_folder *s = calloc(1, sizeof *s);
    if (s == NULL)
        return fault_no_memory(reterr);
    s->album.ops = &folder_ops;
    if ((size_t)snprintf(s->root, sizeof s->root, "%s", root) >= sizeof s->root) {
        free(s);
        return fault_set(reterr, ERR_LIMIT, "the path is longer than %d bytes", FILES_PATH_MAX - 1);
    }
    *ret = &s->album;
    return ERR_OK;
}

enum err album_open(const struct place *place, struct album **ret, struct fault *reterr)
{
    return place->s3.is_used ? album_s3_open(&place->s3, ret, reterr)
                             : album_folder(place->files, ret, reterr);
}

void album_close(struct album *album)
{
    if (album != NULL)
        album->ops->close(album);
}

enum err album_make(const struct album *album, struct fault *reterr)
{
    return album->ops->make(album, reterr);
}

enum err album_put(const struct album *album, struct store_photo *photo, bool *ret_new,
                   struct fault *reterr)
{
    *ret_new = false;
    return album->ops->put(album, photo, ret_new, reterr);
}

enum err album_has(const struct album *album, const uint8_t sha256[STORE_DIGEST], const char *ext,
                   int64_t bytes, bool *ret, struct fault *reterr)
{
    return album->ops->has(album, sha256, ext, bytes, ret, reterr);
}

enum err album_read(const struct album *album, const uint8_t sha256[STORE_DIGEST], const char *ext,
                    size_t max, struct text *ret, struct fault *reterr)
{
    uint8_t sum[STORE_DIGEST];
    text_clear(ret);
    const enum err err = album->ops->read(album, sha256, ext, max, ret, reterr);
    if (err != ERR_OK)
        return err;
    if (ret->is_broken || digest_bytes(DIGEST_SHA256, ret->data, ret->size, sum) != ERR_OK)
        return fault_no_memory(reterr);
    if (memcmp(sum, sha256, STORE_DIGEST) != 0)
        return fault_set(reterr, ERR_DOMAIN,
                         "the photo was changed: its bytes are not those of its digest");
    return ERR_OK;
}

enum err album_check(const struct album *album, const uint8_t sha256[STORE_DIGEST], const char *ext,
                     int64_t bytes, struct fault *reterr)
{
    return album->ops->check(album, sha256, ext, bytes, reterr);
}

enum err album_walk(const struct album *album, files_see *see, void *me, struct fault *reterr)
{
    return album->ops->walk(album, see, me, reterr);
}

enum err album_remove(const struct album *album, const char *name, bool *ret_gone,
                      struct fault *reterr)
{
    *ret_gone = false;
    return album->ops->remove(album, name, ret_gone, reterr);
}

enum err album_look(const struct album *album, char *told, size_t room, struct fault *reterr)
{
    told[0] = '\0';
    return album->ops->look(album, told, room, reterr);
}

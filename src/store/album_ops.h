/* album_ops: what a kind of album has to bring; the contracts are those of album.h. Inside album*.c alone. */
#ifndef STORE_ALBUM_OPS_H
#define STORE_ALBUM_OPS_H

#include "store/album.h"

struct album_ops {
    enum err (*make)(const struct album *album, struct fault *f);
    enum err (*put)(const struct album *album, struct store_photo *photo, bool *ret_new,
                    struct fault *f);
    enum err (*has)(const struct album *album, const uint8_t *sha256, const char *ext,
                    int64_t bytes, bool *ret, struct fault *f);
    /* Without comparing the digest, which is the same for all. */
    enum err (*read)(const struct album *album, const uint8_t *sha256, const char *ext, size_t max,
                     struct text *ret, struct fault *f);
    enum err (*check)(const struct album *album, const uint8_t *sha256, const char *ext,
                      int64_t bytes, struct fault *f);
    enum err (*walk)(const struct album *album, files_see *see, void *me, struct fault *f);
    enum err (*remove)(const struct album *album, const char *name, bool *ret_gone,
                       struct fault *f);
    enum err (*look)(const struct album *album, char *told, size_t room, struct fault *f);
    void (*close)(struct album *album);
};

/* Each kind has this first. */
struct album {
    const struct album_ops *ops;
};

MUST_USE enum err album_s3_open(const struct place_s3 *at, struct album **ret,
                                struct fault *reterr);

#endif

/* exports_photo: the flat door to what a picture looks like, so that the phone can tell a dark or blurred photo before it is
 * sent. Same rules as exports.c. */
#include "core/photohash.h"
#include "wasm/exports.h"
#include "wasm/pack.h"

int32_t mw_photo(const uint8_t *grey, uint32_t width, uint32_t height, int64_t *ret,
                 double *ret_real)
{
    struct photohash hash;
    struct photohash_exposure light;
    if (width > PHOTOHASH_SIDE_MAX || height > PHOTOHASH_SIDE_MAX)
        return pack_fail(ERR_DOMAIN, (size_t)-1, ret);
    const struct photohash_grey picture = {grey, (int32_t)width, (int32_t)height};
    enum err e = photohash_of(&picture, &hash);
    if (e == ERR_OK)
        e = photohash_exposure(&picture, &light);
    if (e == ERR_OK)
        e = photohash_sharpness(&picture, &ret_real[3]);
    if (e != ERR_OK)
        return pack_fail(e, (size_t)-1, ret);
    ret[0] = (int64_t)hash.dhash;
    ret[1] = (int64_t)hash.dhash_mirror;
    ret[2] = (int64_t)hash.phash;
    ret[3] = (int64_t)hash.phash_mirror;
    ret[4] = hash.is_flat;
    ret_real[0] = light.mean;
    ret_real[1] = light.dark;
    ret_real[2] = light.bright;
    ret_real[4] = hash.contrast;
    return 0;
}

static struct photohash photo_unpack(const int64_t *row)
{
    return (struct photohash){.dhash = (uint64_t)row[0],
                              .dhash_mirror = (uint64_t)row[1],
                              .phash = (uint64_t)row[2],
                              .phash_mirror = (uint64_t)row[3]};
}

int32_t mw_photo_alike(const int64_t *a, const int64_t *b)
{
    const struct photohash x = photo_unpack(a), y = photo_unpack(b);
    bool is_mirrored = false;
    if (!photohash_alike(&x, &y, &is_mirrored))
        return 0;
    return is_mirrored ? 2 : 1;
}

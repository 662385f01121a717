/* A photo of some MiB, given by calls: it comes back byte for byte wherever photos lie, not at all where there is too little room for it, and
 * not when its digest is another's. On an object store a body of that size is announced before it is sent (RFC 9110, 10.1.1). */
#include "synth.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { BYTES = 3 * 1024 * 1024 + 17 };

static char folder[256], path[900];
static struct synth one;
static uint8_t *bytes;

static long give(void *me, uint64_t at, void *buf, size_t n)
{
    const size_t left = at < BYTES ? BYTES - (size_t)at : 0, now = left < n ? left : n;
    (void)me;
    memcpy(buf, bytes + (BYTES - left), now);
    return (long)now;
}

static void check(struct store *s)
{
    struct fault f = {0};
    struct text got = {0};
    enum store_taken taken = STORE_ALREADY;
    struct store_photo *photo = &one.claim.photos[0];
    tap_ok(store_take(s, &one.claim, &taken, NULL, &f) == ERR_OK && taken == STORE_TAKEN,
           "a claim with a photo of %d bytes is taken %s", (int)BYTES, f.message);
    tap_ok(photo->bytes == BYTES && strcmp(photo->ext, "jpg") == 0, "its size and kind are known");
    tap_ok(store_photo_read(s, photo->sha256, photo->ext, BYTES, &got, &f) == ERR_OK &&
               got.size == BYTES && memcmp(got.data, bytes, BYTES) == 0,
           "it comes back byte for byte %s", f.message);
    tap_ok(store_photo_read(s, photo->sha256, photo->ext, BYTES - 1, &got, &f) == ERR_LIMIT,
           "not into less room: %s", f.message);
    tap_ok(store_photo_read(s, photo->sha256, "png", BYTES, &got, &f) == ERR_OPEN,
           "not under another name: %s", f.message);
    synth_make(&one, 1, 1, true);
    one.claim.photos[0].read = give;
    tap_ok(store_take(s, &one.claim, &taken, NULL, &f) == ERR_DOMAIN,
           "other bytes than the digest's are not taken: %s", f.message);
    text_done(&got);
}

int main(void)
{
    struct fault f = {0};
    struct store *s = NULL;
    bool is_made = false;
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    bytes = malloc(BYTES);
    if (bytes == NULL || store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("store", &f);
    for (size_t i = 0; i < BYTES; i++)
        bytes[i] = (uint8_t)(i * 2654435761U >> 13);
    memcpy(bytes, "\xff\xd8\xff", 3);
    synth_make(&one, 1, 0, true);
    one.claim.photos[0].read = give;
    if (digest_bytes(DIGEST_SHA256, bytes, BYTES, one.claim.photos[0].sha256) != ERR_OK)
        synth_bail("digest", &f);
    check(s);
    store_close(s);
    free(bytes);
    synth_remove(folder);
    return tap_done();
}

/* fuzz_photo: any bytes as a photo: JPEG with its EXIF, PNG with its own, the codes in the picture.
 * Properties:
 *   photo_read never fails for what the bytes are: either there is a picture or there is a fault;
 *   a fault has a name and words, and tells neither hashes nor light;
 *   what is told lies within its range, texts are closed and printable where the header says so;
 *   the same bytes give the same answer twice;
 *   a picture has as many pixels as its head says.
 * HEIC is left out: libheif is not built with the sanitizers, and its time is not ours to bound. */
#include "proof/photo.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static void check_fault(const struct photo *p)
{
    expect(photo_fault_name(p->fault) != NULL && p->fault_text[0] != '\0');
    expect(p->exposure == 0.0 && p->sharpness == 0.0 && p->hash.dhash == 0 && p->hash.phash == 0);
    expect(p->n_codes == 0 && !p->is_dark && !p->is_blurred);
}

static void check_picture(const struct photo *p)
{
    expect(p->fault_text[0] == '\0' && p->kind != PHOTO_UNKNOWN);
    expect(p->width >= 1 && p->height >= 1);
    expect((int64_t)p->width * p->height <= PHOTO_PIXELS_MAX);
    expect(p->exposure >= 0.0 && p->exposure <= 1.0 && p->sharpness >= 0.0);
    expect(p->dark_share >= 0.0 && p->dark_share + p->bright_share <= 1.0);
    expect(p->hash.contrast >= 0.0 && p->hash.contrast <= 255.0);
    expect(p->n_codes <= PHOTO_CODES_MAX);
    for (size_t i = 0; i < p->n_codes; i++)
        expect(p->codes[i].type != NULL && p->codes[i].size <= PHOTO_CODE_TEXT_MAX &&
               p->codes[i].text[p->codes[i].size] == '\0');
}

static void check_exif(const struct photo *p)
{
    expect(p->orientation >= 1 && p->orientation <= 8);
    expect((p->clock == PHOTO_CLOCK_NONE) == (p->taken[0] == '\0'));
    expect(p->taken[0] == '\0' || strlen(p->taken) == PHOTO_TAKEN_SIZE - 1);
    expect(p->offset[0] == '\0' || strlen(p->offset) == PHOTO_OFFSET_SIZE - 1);
    expect(p->exif_width >= 0 && p->exif_height >= 0);
    for (const char *c = p->taken; *c != '\0'; c++)
        expect((*c >= '0' && *c <= '9') || strchr("-:T", *c) != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct photo a, b; /* too large for some stacks */
    if (size >= 12 && memcmp(data + 4, "ftyp", 4) == 0)
        return 0;
    expect(photo_read(data, size, &a) == ERR_OK);
    expect(strlen(a.sha256) == (size_t)2 * DIGEST_SHA256_SIZE);
    check_exif(&a);
    if (a.fault != PHOTO_FINE)
        check_fault(&a);
    else {
        check_picture(&a);
        expect(photo_pixels(data, size) == (uint64_t)a.width * (uint64_t)a.height);
    }
    expect(photo_read(data, size, &b) == ERR_OK);
    expect(a.fault == b.fault && a.hash.dhash == b.hash.dhash && a.hash.phash == b.hash.phash &&
           a.sharpness == b.sharpness && a.n_codes == b.n_codes);
    return 0;
}

/* Facts about proof/photo: which files it reads, how it holds against broken ones, the right way up,
 * what is dark or blurred. Pictures are invented (scene.h) and written by libjpeg-turbo, libpng and
 * libheif; the difference hash of the drawn pixels is the yardstick for what comes back. */
#include "core/photohash.h"
#include "encode.h"
#include "proof/photo.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { WIDTH = 320, HEIGHT = 240 };

static struct photo photo; /* too large for some stacks */

static void *need(void *p)
{
    if (p == NULL) {
        puts("Bail out! no memory");
        exit(2);
    }
    return p;
}

/* Pictures that were read, and those of them whose head says another size than the decoder found. */
static int n_heads, n_wrong_heads;

/* Reads exactly so many bytes, from a block of that size, so that reading on is found. */
static enum photo_fault read_part(const uint8_t *data, size_t n)
{
    uint8_t *block = need(malloc(n > 0 ? n : 1));
    if (n > 0)
        memcpy(block, data, n);
    const enum err e = photo_read(block, n, &photo);
    const uint64_t pixels = photo_pixels(block, n);
    n_heads += photo.fault == PHOTO_FINE && photo.kind != PHOTO_HEIC;
    n_wrong_heads += photo.fault == PHOTO_FINE && photo.kind != PHOTO_HEIC &&
                     pixels != (uint64_t)photo.width * (uint64_t)photo.height;
    free(block);
    if (e != ERR_OK) {
        printf("Bail out! photo_read: %s\n", err_text(e));
        exit(2);
    }
    return photo.fault;
}

static enum photo_fault read_away(struct bytes b)
{
    const enum photo_fault fault = read_part(b.data, b.n);
    free(b.data);
    return fault;
}

/* Hash of the drawn pixels themselves. */
static struct photohash hash_drawn(const struct scene *s)
{
    struct photohash h = {0};
    const size_t n = (size_t)s->width * (size_t)s->height;
    uint8_t *grey = need(malloc(n));
    for (size_t i = 0; i < n; i++)
        grey[i] = photohash_luma(s->rgb[3 * i], s->rgb[3 * i + 1], s->rgb[3 * i + 2]);
    const struct photohash_grey g = {grey, s->width, s->height};
    if (photohash_of(&g, &h) != ERR_OK)
        puts("Bail out! photohash_of");
    free(grey);
    return h;
}

/* ---- what is read -------------------------------------------------------------------------- */

static void check_sound(const char *what, struct bytes b, enum photo_kind kind,
                        const struct photohash *drawn, int bits)
{
    const enum photo_fault fault = read_away(b);
    tap_ok(fault == PHOTO_FINE && photo.kind == kind && photo.width == WIDTH &&
               photo.height == HEIGHT && photo.orientation == 1,
           "%s: read, %d x %d%s%s", what, WIDTH, HEIGHT, fault ? ": " : "", photo.fault_text);
    const int distance = photohash_distance(photo.hash.dhash, drawn->dhash);
    tap_ok(distance <= bits, "%s: %d bits from the drawn pixels (at most %d)", what, distance,
           bits);
}

static void kinds(const struct scene *s)
{
    const struct photohash drawn = hash_drawn(s);
    struct encode_jpeg how = {.quality = 90};
    check_sound("JPEG", encode_jpeg(s, &how), PHOTO_JPEG, &drawn, 2);
    how.is_progressive = true;
    check_sound("progressive JPEG", encode_jpeg(s, &how), PHOTO_JPEG, &drawn, 2);
    how.is_progressive = false;
    how.colours = ENCODE_GREY; /* of the green alone, so a little further off */
    check_sound("grey JPEG", encode_jpeg(s, &how), PHOTO_JPEG, &drawn, 6);
    how.colours = ENCODE_CMYK;
    check_sound("CMYK JPEG", encode_jpeg(s, &how), PHOTO_JPEG, &drawn, 3);
    check_sound("PNG", encode_png(s, 8, false), PHOTO_PNG, &drawn, 0);
    check_sound("16-bit PNG", encode_png(s, 16, false), PHOTO_PNG, &drawn, 0);
    check_sound("interlaced PNG", encode_png(s, 8, true), PHOTO_PNG, &drawn, 0);
    check_sound("interlaced 16-bit PNG", encode_png(s, 16, true), PHOTO_PNG, &drawn, 0);
    const struct bytes heic = encode_heic(s);
    if (heic.data != NULL && photo_reads_heic())
        check_sound("HEIC", heic, PHOTO_HEIC, &drawn, 3);
    else
        tap_note("no HEIC: this machine has no encoder, or the build no reader");
}

static void the_right_way_up(const struct scene *s)
{
    const struct photohash drawn = hash_drawn(s);
    for (int orientation = 1; orientation <= 8; orientation++) {
        const struct scene stored = scene_store(s, orientation);
        const struct encode_jpeg how = {.quality = 90, .orientation = orientation};
        const enum photo_fault fault = read_away(encode_jpeg(&stored, &how));
        const int distance = photohash_distance(photo.hash.dhash, drawn.dhash);
        tap_ok(fault == PHOTO_FINE && photo.has_exif && photo.orientation == orientation &&
                   photo.width == stored.width && distance <= 2,
               "EXIF orientation %d (TIFF 6.0 tag 274): as the upright picture, %d bits apart",
               orientation, distance);
        free(stored.rgb);
    }
}

/* A photo larger than what hashes are taken at: decoded smaller, yet the same to the hash. */
static void large_ones(void)
{
    const struct scene s = scene_draw(4, 5200, 300);
    const struct photohash drawn = hash_drawn(&s);
    const struct encode_jpeg how = {.quality = 90};
    tap_ok(read_away(encode_jpeg(&s, &how)) == PHOTO_FINE && photo.width == 5200 &&
               photohash_distance(photo.hash.dhash, drawn.dhash) <= 2,
           "5200 x 300 JPEG, decoded at a half: within 2 bits of the drawn pixels");
    tap_ok(read_away(encode_png(&s, 8, false)) == PHOTO_FINE &&
               photohash_distance(photo.hash.dhash, drawn.dhash) <= 1,
           "5200 x 300 PNG: within 1 bit");
    free(s.rgb);
}

static void light_and_focus(void)
{
    const struct encode_jpeg how = {.quality = 85};
    const struct scene s = scene_draw(3, 1200, 900);
    const struct scene dim = scene_dim(&s, 0.15), soft = scene_blur(&s, 6);
    const struct scene white = scene_dim(&s, 20.0), black = scene_dim(&s, 0.0);
    enum photo_fault fault = read_away(encode_jpeg(&s, &how));
    tap_ok(fault == PHOTO_FINE && !photo.is_dark && !photo.is_blurred && !photo.is_bright &&
               !photo.hash.is_flat,
           "an invented picture: neither dark nor blurred (light %.2f, sharpness %.0f)",
           photo.exposure, photo.sharpness);
    fault = read_away(encode_jpeg(&dim, &how));
    tap_ok(fault == PHOTO_FINE && photo.is_dark, "dimmed to 15 %%: dark (light %.2f)",
           photo.exposure);
    fault = read_away(encode_jpeg(&soft, &how));
    tap_ok(fault == PHOTO_FINE && photo.is_blurred && !photo.is_dark,
           "averaged over 13 pixels twice: blurred (sharpness %.1f)", photo.sharpness);
    fault = read_away(encode_jpeg(&white, &how));
    tap_ok(fault == PHOTO_FINE && photo.is_bright,
           "twenty times as bright: washed out (light %.2f)", photo.exposure);
    fault = read_away(encode_jpeg(&black, &how));
    tap_ok(fault == PHOTO_FINE && photo.hash.is_flat && photo.exposure == 0.0,
           "all black: no shapes, light 0");
    free(s.rgb);
    free(dim.rgb);
    free(soft.rgb);
    free(white.rgb);
    free(black.rgb);
}

/* ---- broken files -------------------------------------------------------------------------- */

static void cut_short(const char *what, struct bytes b)
{
    int n_found = 0, n_truncated = 0;
    for (int i = 1; i < 50; i++) {
        const enum photo_fault fault = read_part(b.data, b.n * (size_t)i / 50);
        n_found += fault != PHOTO_FINE;
        n_truncated += fault == PHOTO_TRUNCATED;
    }
    tap_ok(n_found == 49, "%s cut at every 1/50: %d of 49 are faults (%d called truncated)", what,
           n_found, n_truncated);
    tap_ok(read_part(b.data, b.n - 1) != PHOTO_FINE, "%s without its last byte: a fault", what);
    free(b.data);
}

static void cut_ones(const struct scene *s)
{
    struct encode_jpeg how = {.quality = 85, .orientation = 6};
    cut_short("JPEG", encode_jpeg(s, &how));
    how.is_progressive = true;
    cut_short("progressive JPEG", encode_jpeg(s, &how));
    cut_short("PNG", encode_png(s, 8, false));
    cut_short("interlaced 16-bit PNG", encode_png(s, 16, true));
    const struct bytes heic = encode_heic(s);
    if (heic.data != NULL)
        cut_short("HEIC", heic);
}

static uint64_t next(uint64_t *state)
{
    *state += 0x9e3779b97f4a7c15u; /* SplitMix64, Steele, Lea & Flood 2014 */
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static void random_bytes(void)
{
    static const char *const starts[] = {"", "\xff\xd8\xff\xe0", "\x89PNG\r\n\x1a\n",
                                         "\xff\xd8\xff\xe1\x00\x40\x45xif"};
    static const size_t sizes[] = {0, 4, 8, 10};
    uint8_t block[4096];
    uint64_t state = 5;
    int n_found = 0;
    for (int i = 0; i < 400; i++) {
        const size_t n = 16 + next(&state) % (sizeof block - 16);
        for (size_t k = 0; k < n; k++)
            block[k] = (uint8_t)next(&state);
        memcpy(block, starts[i % 4], sizes[i % 4]);
        n_found += read_part(block, n) != PHOTO_FINE;
    }
    tap_ok(n_found == 400, "random bytes, also behind sound beginnings: %d of 400 are faults",
           n_found);
}

/* A changed byte may leave a sound picture or not; it must never do worse. */
static void changed_bytes(const char *what, struct bytes b)
{
    uint64_t state = 6;
    int n_found = 0;
    for (int i = 0; i < 150; i++) {
        const size_t at = i < 75 ? next(&state) % (b.n < 700 ? b.n : 700) : next(&state) % b.n;
        const uint8_t was = b.data[at];
        b.data[at] ^= (uint8_t)(1 + next(&state) % 255);
        n_found += read_part(b.data, b.n) != PHOTO_FINE;
        b.data[at] = was;
    }
    tap_ok(read_part(b.data, b.n) == PHOTO_FINE && n_found > 0,
           "%s with a byte changed: survived 150 times, %d called faults", what, n_found);
    free(b.data);
}

static uint32_t crc(const uint8_t *p, size_t n) /* PNG specification, annex D */
{
    uint32_t c = 0xffffffffu;
    for (size_t i = 0; i < n; i++) {
        c ^= p[i];
        for (int k = 0; k < 8; k++)
            c = c & 1 ? 0xedb88320u ^ c >> 1 : c >> 1;
    }
    return ~c;
}

static void put32(uint8_t *to, uint32_t v)
{
    for (int i = 0; i < 4; i++)
        to[i] = (uint8_t)(v >> (24 - 8 * i));
}

/* The header of a PNG begins at byte 12: type, width, height, five more, checksum. */
static void lie_png(struct bytes *b, uint32_t width, uint32_t height)
{
    put32(b->data + 16, width);
    put32(b->data + 20, height);
    put32(b->data + 29, crc(b->data + 12, 17));
}

/* In a JPEG's frame header (FFC0 or FFC2) the height stands at byte 5, the width at 7. */
static void lie_jpeg(struct bytes *b, unsigned width, unsigned height)
{
    for (size_t i = 2; i + 9 < b->n; i++)
        if (b->data[i] == 0xff && (b->data[i + 1] == 0xc0 || b->data[i + 1] == 0xc2)) {
            b->data[i + 5] = (uint8_t)(height >> 8);
            b->data[i + 6] = (uint8_t)height;
            b->data[i + 7] = (uint8_t)(width >> 8);
            b->data[i + 8] = (uint8_t)width;
            return;
        }
}

static void lying_ones(const struct scene *s)
{
    static const struct {
        unsigned width, height;
        enum photo_fault jpeg, png;
        const char *what;
    } rows[] = {
        {65535, 65535, PHOTO_LARGE, PHOTO_LARGE, "more pixels than are read"},
        {32767, 2048, PHOTO_TRUNCATED, PHOTO_TRUNCATED, "far more pixels than its bytes can hold"},
        {8000, 8000, PHOTO_TRUNCATED, PHOTO_TRUNCATED, "more pixels than its bytes can hold"},
        {WIDTH, HEIGHT + 200, PHOTO_TRUNCATED, PHOTO_TRUNCATED, "more rows than it has"},
        {0, HEIGHT, PHOTO_BROKEN, PHOTO_BROKEN, "no width"},
    };
    const struct encode_jpeg how = {.quality = 60};
    const struct scene even = scene_dim(s, 0.0); /* compresses best, so it can lie most */
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct bytes jpeg = encode_jpeg(s, &how), png = encode_png(&even, 8, false);
        lie_jpeg(&jpeg, rows[i].width, rows[i].height);
        lie_png(&png, rows[i].width, rows[i].height);
        enum photo_fault fault = read_away(jpeg);
        tap_ok(fault == rows[i].jpeg || (rows[i].jpeg == PHOTO_TRUNCATED && fault == PHOTO_BROKEN),
               "a JPEG that says %u x %u (%s): %s", rows[i].width, rows[i].height, rows[i].what,
               photo.fault_text);
        fault = read_away(png);
        tap_ok(fault == rows[i].png || (rows[i].png == PHOTO_TRUNCATED && fault == PHOTO_BROKEN),
               "a PNG that says %u x %u (%s): %s", rows[i].width, rows[i].height, rows[i].what,
               photo.fault_text);
    }
    free(even.rgb);
}

static void not_photos(void)
{
    tap_ok(read_part(NULL, 0) == PHOTO_EMPTY, "no bytes: empty");
    tap_ok(strcmp(photo.sha256,
                  "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855") == 0,
           "their SHA-256 (FIPS 180-4, empty message)");
    tap_ok(read_part((const uint8_t *)"abc", 3) == PHOTO_NOT_KNOWN, "abc: no kind that is read");
    tap_ok(strcmp(photo.sha256,
                  "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad") == 0,
           "its SHA-256 (FIPS 180-4, \"abc\")");
    tap_ok(read_part((const uint8_t *)"\xff\xd8", 2) == PHOTO_TRUNCATED,
           "the first two bytes of a JPEG: truncated");
    tap_ok(read_part((const uint8_t *)"\x89PNG\r\n", 6) == PHOTO_TRUNCATED,
           "the first six bytes of a PNG: truncated");
    tap_ok(read_part((const uint8_t *)"\xff\xd8\xff\xd9", 4) != PHOTO_FINE,
           "a JPEG of nothing but its two end marks: a fault");
    tap_ok(photo.width == 0 && photo.hash.dhash == 0, "and no size nor hash is told");
    uint8_t *large = need(calloc(1, PHOTO_BYTES_MAX + 1));
    tap_ok(photo_read(large, (size_t)PHOTO_BYTES_MAX + 1, &photo) == ERR_OK &&
               photo.fault == PHOTO_LARGE,
           "a byte more than is read: large");
    free(large);
}

int main(void)
{
    const struct scene s = scene_draw(11, WIDTH, HEIGHT);
    const struct encode_jpeg plain = {.quality = 85, .orientation = 3},
                             progressive = {.quality = 85, .is_progressive = true};
    kinds(&s);
    the_right_way_up(&s);
    large_ones();
    light_and_focus();
    not_photos();
    cut_ones(&s);
    random_bytes();
    changed_bytes("JPEG", encode_jpeg(&s, &plain));
    changed_bytes("progressive JPEG", encode_jpeg(&s, &progressive));
    changed_bytes("PNG", encode_png(&s, 8, false));
    lying_ones(&s);
    free(s.rgb);
    tap_ok(n_heads > 0 && n_wrong_heads == 0,
           "photo_pixels says what libjpeg and libpng found, %d times", n_heads);
    return tap_done();
}

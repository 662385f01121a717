/* Made-up photos: that each is its own, that copies are known again, that codes are read back by zbar and light and sharpness judged
 * as they should be by proof/photo, that the same seed gives the same bytes.
 * usage: test_picture [SEEDS [READ]]    SEEDS: a subject, for likeness; READ: label and plate photos read back each
 *        test_picture write FILE        a label's photo, for peer_exif.py
 * Bounds are the where it gives one; else said beside the check. */
#include "base/pool.h"
#include "base/text.h"
#include "core/photohash.h"
#include "draw/picture.h"
#include "draw/qr.h"
#include "proof/photo.h"
#include "proof/photo_write.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { WIDTH = 640, HEIGHT = 480, SEEDS = 120, READ = 120, COPIES = 6 };

static const char *const subjects[PICTURE_SUBJECT_N] = {"label", "plate",    "room",      "switch",
                                                        "racks", "cut ends", "rack ends", "fixings",
                                                        "seal",  "finished"};
static struct photo photo; /* too large for some stacks */

_Noreturn static void bail(const char *what, enum err e)
{
    printf("Bail out! %s: %s\n", what, err_text(e));
    exit(2);
}

static struct picture drawn(int subject, uint64_t seed, const char *text, const char *code,
                            int width, int height)
{
    struct picture p;
    const enum err e =
        picture_draw((enum picture_subject)subject, seed, text, code, width, height, &p);
    if (e != ERR_OK)
        bail("a picture cannot be drawn", e);
    return p;
}

static void say(char text[64], char code[64], uint64_t seed, int subject)
{
    if (subject == PICTURE_PLATE) {
        static const char letters[] =
            "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"; /* of a VIN: no I, O, Q (ISO 3779) */
        uint64_t z = seed * 0x9e3779b97f4a7c15U + 12345;
        for (int i = 0; i < 17; i++, z = z * 6364136223846793005U + 1442695040888963407U)
            code[i] = text[i] = letters[(z >> 33U) % (sizeof letters - 1)];
        code[17] = text[17] = '\0';
        return;
    }
    snprintf(text, 64, "WD-%c%c\n2024-W%02d-%d", (int)('A' + seed % 26),
             (int)('A' + seed / 26 % 26), (int)(seed % 52) + 1, (int)(seed % 7) + 1);
    snprintf(code, 64, "WD-%c%c 2024-W%02d-%d #%05u", (int)('A' + seed % 26),
             (int)('A' + seed / 26 % 26), (int)(seed % 52) + 1, (int)(seed % 7) + 1,
             (unsigned)seed);
}

static struct text saved(const struct picture *p, int quality)
{
    struct text file = {0};
    const struct photo_write how = {p->pixels, p->width, p->height, quality, "2026-03-05T09:14:00",
                                    "+01:00"};
    const enum err e = photo_write_jpeg(&how, &file);
    if (e != ERR_OK)
        bail("a picture cannot be saved", e);
    return file;
}

static void look(const struct picture *p, int quality)
{
    struct text file = saved(p, quality);
    const enum err e = photo_read(file.data, file.size, &photo);
    if (e != ERR_OK)
        bail("a photo cannot be read", e);
    text_done(&file);
}

/* Of the picture itself, without a file between. */
static struct photohash hash_of(const struct picture *p)
{
    struct photohash hash;
    const size_t n = (size_t)p->width * (size_t)p->height;
    uint8_t *grey = malloc(n);
    if (grey == NULL)
        bail("hashing", ERR_MEMORY);
    for (size_t i = 0; i < n; i++)
        grey[i] = photohash_luma(p->pixels[3 * i], p->pixels[3 * i + 1], p->pixels[3 * i + 2]);
    const struct photohash_grey view = {grey, p->width, p->height};
    const enum err e = photohash_of(&view, &hash);
    if (e != ERR_OK)
        bail("hashing", e);
    free(grey);
    return hash;
}

/* ---- likeness ----------------------------------------------------------------------------------------------------------------- */

static void own(int n)
{
    struct photohash *hashes = malloc((size_t)n * PICTURE_SUBJECT_N * sizeof *hashes);
    if (hashes == NULL)
        bail("hashes", ERR_MEMORY);
    for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++)
        for (int i = 0; i < n; i++) {
            char text[64], code[64];
            say(text, code, (uint64_t)i, subject);
            struct picture p = drawn(subject, (uint64_t)i, text, code, WIDTH / 2, HEIGHT / 2);
            hashes[subject * n + i] = hash_of(&p);
            picture_done(&p);
        }
    long n_all = 0, n_all_alike = 0;
    for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++) {
        long n_pairs = 0, n_alike = 0;
        int least = 64;
        for (int i = 0; i < n; i++)
            for (int k = i + 1; k < n; k++, n_pairs++) {
                const struct photohash *a = &hashes[subject * n + i], *b = &hashes[subject * n + k];
                const int d = photohash_distance(a->dhash, b->dhash);
                n_alike += photohash_alike(a, b, NULL);
                least = d < least ? d : least;
            }
        tap_note("%s: %ld of %ld pairs alike, the nearest difference hashes are %d bits apart",
                 subjects[subject], n_alike, n_pairs, least);
    }
    for (int i = 0; i < n * PICTURE_SUBJECT_N; i++)
        for (int k = i + 1; k < n * PICTURE_SUBJECT_N; k++, n_all++)
            n_all_alike += photohash_alike(&hashes[i], &hashes[k], NULL);
    long n_within = 0, n_within_alike = 0;
    for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++)
        for (int i = 0; i < n; i++)
            for (int k = i + 1; k < n; k++, n_within++)
                n_within_alike +=
                    photohash_alike(&hashes[subject * n + i], &hashes[subject * n + k], NULL);
    tap_ok(
        (double)n_within_alike < (double)n_within / 100000,
        "two photos of one subject: %ld of %ld pairs are taken for one (issue: under 1 in 100 000)",
        n_within_alike, n_within);
    tap_ok((double)n_all_alike < (double)n_all / 100000,
           "any two photos: %ld of %ld pairs are taken for one", n_all_alike, n_all);
    free(hashes);
}

static struct picture changed(const struct picture *p, int how)
{
    struct picture to;
    enum err e = ERR_OK;
    switch (how) {
    case 0:
        e = picture_scale(p, p->width / 2, p->height / 2, &to);
        break;
    case 1:
        e = picture_darken(p, 1.15, &to);
        break;
    case 2:
        e = picture_darken(p, 0.7, &to);
        break;
    case 3:
        e = picture_mirror(p, &to);
        break;
    case 4:
        e = picture_crop(p, 0.015, &to);
        break;
    default: /* only saved once more */
        e = picture_darken(p, 1, &to);
        break;
    }
    if (e != ERR_OK)
        bail("a copy cannot be made", e);
    return to;
}

static void copies(int n)
{
    static const char *const names[COPIES] = {
        "scaled to half", "brightened by 15 %",        "darkened by 30 %",
        "mirrored",       "cropped 1.5 % a side, 3 %", "re-saved at quality 60"};
    int n_known[COPIES] = {0}, n_mirrored[COPIES] = {0};
    for (int i = 0; i < n; i++) {
        struct picture p =
            drawn(i % PICTURE_SUBJECT_N, (uint64_t)i + 7000, NULL, NULL, WIDTH, HEIGHT);
        look(&p, 85);
        const struct photohash first = photo.hash;
        for (int how = 0; how < COPIES; how++) {
            bool is_mirrored = false;
            struct picture copy = changed(&p, how);
            look(&copy, 60);
            n_known[how] += photohash_alike(&first, &photo.hash, &is_mirrored);
            n_mirrored[how] += is_mirrored;
            picture_done(&copy);
        }
        picture_done(&p);
    }
    for (int how = 0; how < COPIES; how++) {
        tap_ok(n_known[how] >= n * 0.99, "%s: %d of %d copies are known (issue: at least 0.99)",
               names[how], n_known[how], n);
        tap_ok(n_mirrored[how] == (how == 3 ? n_known[how] : 0), "%s: %d called mirrored",
               names[how], n_mirrored[how]);
    }
}

/* ---- read back ---------------------------------------------------------------------------------------------------------------- */

static bool has_code(const char *code)
{
    for (size_t i = 0; i < photo.n_codes; i++)
        if (strcmp(photo.codes[i].text, code) == 0 && strcmp(photo.codes[i].type, "QR") == 0)
            return true;
    return false;
}

static void read_back(int subject, int n)
{
    int n_read = 0, n_other = 0, n_judged = 0;
    double least_light = 1, most_light = 0, least_sharp = 1e9;
    for (int i = 0; i < n; i++) {
        char text[64], code[64];
        say(text, code, (uint64_t)i, subject);
        struct picture p = drawn(subject, (uint64_t)i + 100000, text, code, WIDTH, HEIGHT);
        look(&p, 85);
        picture_done(&p);
        n_read += has_code(code);
        n_other += photo.n_codes > (has_code(code) ? 1U : 0U);
        n_judged +=
            photo.fault == PHOTO_FINE && !photo.is_dark && !photo.is_bright && !photo.is_blurred;
        least_light = photo.exposure < least_light ? photo.exposure : least_light;
        most_light = photo.exposure > most_light ? photo.exposure : most_light;
        least_sharp = photo.sharpness < least_sharp ? photo.sharpness : least_sharp;
    }
    if (subject == PICTURE_LABEL || subject == PICTURE_PLATE)
        tap_ok(n_read >= n * 0.99,
               "%s: zbar reads %d of %d codes at %d x %d, quality 85 (wanted: 99 %%)",
               subjects[subject], n_read, n, WIDTH, HEIGHT);
    else
        tap_note("%s: zbar reads %d of %d codes on the small card", subjects[subject], n_read, n);
    tap_ok(n_other == 0, "%s: never a code that is not there (%d)", subjects[subject], n_other);
    tap_ok(
        n_judged == n,
        "%s: %d of %d are neither dark, bright nor blurred (light %.2f..%.2f, sharpness from %.0f)",
        subjects[subject], n_judged, n, least_light, most_light, least_sharp);
}

static void spoiled(int n)
{
    int n_dark = 0, n_bright = 0, n_blurred = 0;
    for (int i = 0; i < n; i++) {
        struct picture to;
        struct picture p =
            drawn(i % PICTURE_SUBJECT_N, (uint64_t)i + 500, NULL, NULL, WIDTH, HEIGHT);
        if (picture_darken(&p, 0.2, &to) == ERR_OK) {
            look(&to, 85);
            n_dark += photo.is_dark;
            picture_done(&to);
        }
        if (picture_darken(&p, 4, &to) == ERR_OK) {
            struct picture glare;
            if (picture_darken(&to, 4, &glare) == ERR_OK) {
                look(&glare, 85);
                n_bright += photo.is_bright;
                picture_done(&glare);
            }
            picture_done(&to);
        }
        if (picture_blur(&p, 6, &to) == ERR_OK) {
            look(&to, 85);
            n_blurred += photo.is_blurred;
            picture_done(&to);
        }
        picture_done(&p);
    }
    tap_ok(n_dark == n, "darkened to a fifth: %d of %d are called dark", n_dark, n);
    tap_note("brightened 16 times: %d of %d are called bright", n_bright, n);
    tap_ok(n_blurred == n, "blurred by 6 pixels: %d of %d are called blurred", n_blurred, n);
}

/* ---- sameness, refusals ------------------------------------------------------------------------------------------------------- */

static void same(void)
{
    int n_same = 0, n_file = 0;
    for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++) {
        struct picture a = drawn(subject, 42, "WD-A", "WD-A", WIDTH, HEIGHT),
                       b = drawn(subject, 42, "WD-A", "WD-A", WIDTH, HEIGHT);
        struct text file_a = saved(&a, 85), file_b = saved(&b, 85);
        n_same += memcmp(a.pixels, b.pixels, 3 * (size_t)WIDTH * HEIGHT) == 0;
        n_file += file_a.size == file_b.size && memcmp(file_a.data, file_b.data, file_a.size) == 0;
        text_done(&file_a);
        text_done(&file_b);
        picture_done(&a);
        picture_done(&b);
    }
    tap_ok(n_same == PICTURE_SUBJECT_N, "the same seed gives the same pixels (%d of %d subjects)",
           n_same, PICTURE_SUBJECT_N);
    tap_ok(n_file == PICTURE_SUBJECT_N, "the same picture gives the same bytes (%d of %d)", n_file,
           PICTURE_SUBJECT_N);
}

/* The pictures of four threads at once, against those drawn one by one. */
enum { THREADED = 120, SMALL_WIDTH = 160, SMALL_HEIGHT = 120 };

static uint64_t sum_of(const struct picture *p)
{
    uint64_t sum = 14695981039346656037U; /* FNV-1a */
    for (size_t i = 0; i < 3 * (size_t)p->width * (size_t)p->height; i++)
        sum = (sum ^ p->pixels[i]) * 1099511628211U;
    return sum;
}

static enum err draw_one(void *me, size_t i, int thread)
{
    uint64_t *sums = me;
    char text[64], code[64];
    struct picture p;
    (void)thread;
    say(text, code, i, (int)(i % PICTURE_SUBJECT_N));
    const enum err e = picture_draw((enum picture_subject)(i % PICTURE_SUBJECT_N), i, text, code,
                                    SMALL_WIDTH, SMALL_HEIGHT, &p);
    if (e == ERR_OK) {
        sums[i] = sum_of(&p);
        picture_done(&p);
    }
    return e;
}

static void together(void)
{
    static uint64_t alone[THREADED], at_once[THREADED];
    struct pool_order order = {.n = THREADED, .n_threads = 4, .run = draw_one, .me = at_once};
    enum err e = pool_run(&order);
    for (size_t i = 0; i < THREADED && e == ERR_OK; i++)
        e = draw_one(alone, i, 0);
    tap_ok(e == ERR_OK && memcmp(alone, at_once, sizeof alone) == 0,
           "%d pictures drawn by four threads at once are those drawn one by one", THREADED);
}

static void sizes(void)
{
    static const int sides[][2] = {{64, 64}, {64, 300}, {333, 77}, {1280, 960}, {480, 640}};
    for (size_t i = 0; i < sizeof sides / sizeof *sides; i++) {
        int n = 0;
        for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++) {
            struct picture p = drawn(subject, i, "A", "A", sides[i][0], sides[i][1]);
            n += p.width == sides[i][0] && p.height == sides[i][1];
            picture_done(&p);
        }
        tap_ok(n == PICTURE_SUBJECT_N, "%d x %d: every subject is drawn at the size asked for",
               sides[i][0], sides[i][1]);
    }
}

static void refusals(void)
{
    struct picture p = {0};
    char text[500];
    memset(text, 'x', sizeof text);
    text[sizeof text - 1] = '\0';
    tap_ok(picture_draw(PICTURE_SUBJECT_N, 1, NULL, NULL, WIDTH, HEIGHT, &p) == ERR_DOMAIN,
           "a subject that is none is refused");
    tap_ok(picture_draw(PICTURE_LABEL, 1, NULL, NULL, 63, HEIGHT, &p) == ERR_DOMAIN,
           "63 pixels wide is refused");
    tap_ok(picture_draw(PICTURE_LABEL, 1, NULL, NULL, WIDTH, 4097, &p) == ERR_DOMAIN,
           "4097 pixels high is refused");
    tap_ok(picture_draw(PICTURE_LABEL, 1, text, NULL, WIDTH, HEIGHT, &p) == ERR_LIMIT,
           "a text of 499 bytes is refused");
    tap_ok(picture_draw(PICTURE_LABEL, 1, "\xff", NULL, WIDTH, HEIGHT, &p) == ERR_ENCODING,
           "a text that is no UTF-8 is refused");
    tap_ok(picture_draw(PICTURE_LABEL, 1, NULL, "", WIDTH, HEIGHT, &p) == ERR_EMPTY,
           "an empty code is refused");
    tap_ok(p.pixels == NULL, "a refusal writes nothing");
    struct qr qr;
    tap_ok(qr_make(NULL, &qr) == ERR_EMPTY, "no text makes no code");
    uint8_t bytes[12] = {0};
    const struct picture small = {bytes, 2, 2};
    tap_ok(picture_darken(&small, -0.1, &p) == ERR_DOMAIN, "a negative factor is refused");
    tap_ok(picture_blur(&small, -1, &p) == ERR_DOMAIN, "a negative radius is refused");
    tap_ok(picture_crop(&small, 0.5, &p) == ERR_DOMAIN, "cropping everything is refused");
    tap_ok(picture_scale(&small, 0, 2, &p) == ERR_DOMAIN, "scaling to nothing is refused");
    struct text file = {0};
    const struct photo_write bad[] = {{NULL, 2, 2, 85, NULL, NULL},
                                      {bytes, 2, 2, 0, NULL, NULL},
                                      {bytes, 2, 2, 101, NULL, NULL},
                                      {bytes, 0, 2, 85, NULL, NULL},
                                      {bytes, 2, 2, 85, "2026-02-30T09:14:00", NULL},
                                      {bytes, 2, 2, 85, "2026-03-05 09:14:00", NULL},
                                      {bytes, 2, 2, 85, "2026-03-05T24:14:00", NULL},
                                      {bytes, 2, 2, 85, NULL, "+01:00"},
                                      {bytes, 2, 2, 85, "2026-03-05T09:14:00", "01:00"}};
    int n = 0;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        n += photo_write_jpeg(&bad[i], &file) == ERR_DOMAIN && file.size == 0;
    tap_ok(n == sizeof bad / sizeof *bad,
           "%d JPEGs that cannot be are refused, and nothing is written", n);
    text_done(&file);
}

/* Worked by hand: a row 0 0 90 0 0 and radius 1. Once: 0 30 30 30 0; twice: 10 20 30 20 10 (the end bytes go on: 0 + 0 + 30 over 3).
 * Columns are all alike, so the two ways down change nothing. Half of 10 20 30 40 / 50 60 70 80 in both ways: 35 55. */
static void by_hand(void)
{
    uint8_t row[15], block[24];
    static const uint8_t values[5] = {0, 0, 90, 0, 0}, blurred[5] = {10, 20, 30, 20, 10};
    for (size_t i = 0; i < 15; i++)
        row[i] = values[i / 3];
    struct picture to, p = {row, 5, 1};
    if (picture_blur(&p, 1, &to) != ERR_OK)
        bail("blur", ERR_MEMORY);
    int n = 0;
    for (size_t i = 0; i < 15; i++)
        n += to.pixels[i] == blurred[i / 3];
    picture_done(&to);
    tap_ok(n == 15, "blur by 1 of 0 0 90 0 0 is 10 20 30 20 10 (by hand)");
    for (size_t i = 0; i < 24; i++)
        block[i] = (uint8_t)(10 * (i / 3 + 1));
    p = (struct picture){block, 4, 2};
    if (picture_scale(&p, 2, 1, &to) != ERR_OK)
        bail("scale", ERR_MEMORY);
    tap_ok(to.pixels[0] == 35 && to.pixels[3] == 55, "4 x 2 averaged to 2 x 1 is 35 55 (by hand)");
    picture_done(&to);
    if (picture_mirror(&p, &to) != ERR_OK)
        bail("mirror", ERR_MEMORY);
    tap_ok(to.pixels[0] == 40 && to.pixels[11] == 10 && to.pixels[12] == 80,
           "mirrored: 40 30 20 10 / 80 ...");
    picture_done(&to);
}

static void exif(void)
{
    struct picture p = drawn(PICTURE_ROOM, 3, NULL, NULL, WIDTH, HEIGHT);
    look(&p, 85);
    tap_ok(photo.has_exif && photo.clock == PHOTO_CLOCK_ORIGINAL &&
               strcmp(photo.taken, "2026-03-05T09:14:00") == 0,
           "the time is read back: %s", photo.taken);
    tap_ok(strcmp(photo.offset, "+01:00") == 0, "the offset is read back: %s", photo.offset);
    tap_ok(photo.exif_width == WIDTH && photo.exif_height == HEIGHT && photo.width == WIDTH &&
               photo.height == HEIGHT,
           "EXIF and file say the same size");
    tap_ok(photo.orientation == 1 && !photo.has_gps, "the right way up, and no place");
    struct text file = {0};
    const struct photo_write plain = {p.pixels, p.width, p.height, 85, NULL, NULL};
    if (photo_write_jpeg(&plain, &file) != ERR_OK ||
        photo_read(file.data, file.size, &photo) != ERR_OK)
        bail("a photo without EXIF", ERR_MEMORY);
    tap_ok(photo.fault == PHOTO_FINE && !photo.has_exif, "without a time there is no EXIF");
    text_done(&file);
    picture_done(&p);
}

static int write_one(const char *path)
{
    struct picture p = drawn(PICTURE_LABEL, 5, "WD-K\n2024-W23", "WD-K 2024-W23", WIDTH, HEIGHT);
    struct text file = saved(&p, 85);
    FILE *f = fopen(path, "wb");
    const bool is_written = f != NULL && fwrite(file.data, 1, file.size, f) == file.size;
    const bool is_closed = f != NULL && fclose(f) == 0;
    text_done(&file);
    picture_done(&p);
    return is_written && is_closed ? 0 : 3;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "write") == 0)
        return write_one(argv[2]);
    const int n = argc > 1 ? (int)strtol(argv[1], NULL, 10) : SEEDS,
              n_read = argc > 2 ? (int)strtol(argv[2], NULL, 10) : READ;
    if (n < 2 || n > 10000 || n_read < 1 || n_read > 100000)
        return 2;
    own(n);
    copies(n_read);
    for (int subject = 0; subject < PICTURE_SUBJECT_N; subject++)
        read_back(subject, subject == PICTURE_LABEL || subject == PICTURE_PLATE
                               ? n_read
                               : (n_read + 9) / 10);
    spoiled((n_read + 9) / 10);
    same();
    together();
    sizes();
    refusals();
    by_hand();
    exif();
    return tap_done();
}

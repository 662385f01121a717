/* photo: what a photo file shows of itself: its digest, size, time, light, sharpness, the hashes it
 * is compared by, and the codes in it. JPEG, PNG and, where the build has libheif, HEIC. A photo that
 * is broken, cut short, huge or lying is an answer (fault), never a crash: pixels and memory are
 * bounded before anything is decoded. */
#ifndef PROOF_PHOTO_H
#define PROOF_PHOTO_H

#include "base/digest.h"
#include "core/likeness.h"
#include "core/photohash.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    PHOTO_BYTES_MAX = 64 << 20,  /* a file */
    PHOTO_SIDE_MAX = 32767,      /* pixels on one side */
    PHOTO_PIXELS_MAX = 64 << 20, /* width times height */
    PHOTO_JPEG_MEMORY_MAX = 512 << 20,
    PHOTO_DECODED_SIDE = 2048, /* the longer side at which hashes are taken and codes are read */
    PHOTO_JUDGED_SIDE = 1024,  /* the longer side at which exposure and sharpness are measured */
    PHOTO_CODES_MAX = 8,
    PHOTO_CODE_TEXT_MAX = 511,
    PHOTO_TAKEN_SIZE = 20, /* "2026-03-05T09:14:00" and its NUL */
    PHOTO_OFFSET_SIZE = 7  /* "+01:00" and its NUL */
};

/* Working limits of this project, not of any standard: measured on invented pictures only (see
 * doc/photos.md), to be held against real ones before a claim hangs on them. Mean luminance 0..1;
 * variance of the Laplacian at PHOTO_JUDGED_SIDE. */
#define PHOTO_DARK_BELOW    0.15
#define PHOTO_BRIGHT_ABOVE  0.93
#define PHOTO_BLURRED_BELOW 20.0

enum photo_kind { PHOTO_UNKNOWN, PHOTO_JPEG, PHOTO_PNG, PHOTO_HEIC };

#define PHOTO_FAULT_TABLE(X)                                                                       \
    X(PHOTO_FINE, NULL)                                                                            \
    X(PHOTO_EMPTY, "empty")         /* no bytes at all */                                          \
    X(PHOTO_NOT_KNOWN, "kind")      /* none of the kinds that are read here */                     \
    X(PHOTO_LARGE, "large")         /* more bytes, pixels or memory than allowed */                \
    X(PHOTO_TRUNCATED, "truncated") /* the file ends before the picture does */                    \
    X(PHOTO_BROKEN, "broken")       /* its bytes make no sound picture */

enum photo_fault {
#define X(symbol, name) symbol,
    PHOTO_FAULT_TABLE(X)
#undef X
};

/* photo_fault_name: "truncated" and so on, as the JSON says it; NULL for PHOTO_FINE. */
const char *photo_fault_name(enum photo_fault fault);
/* photo_kind_name: "JPEG", "PNG", "HEIC"; NULL for PHOTO_UNKNOWN. */
const char *photo_kind_name(enum photo_kind kind);
/* photo_reads_heic: whether this build reads HEIC. */
bool photo_reads_heic(void);

struct photo_code {
    const char *type; /* "QR", "Code 39", "Code 128"; static */
    char text[PHOTO_CODE_TEXT_MAX + 1];
    size_t size; /* bytes of text, which may hold any byte */
    bool is_cut; /* the code holds more */
};

/* The time of day as the camera's clock showed it: EXIF has no zone unless has an offset. */
enum photo_clock {
    PHOTO_CLOCK_NONE,
    PHOTO_CLOCK_ORIGINAL,  /* DateTimeOriginal: when it was taken */
    PHOTO_CLOCK_DIGITIZED, /* DateTimeDigitized */
    PHOTO_CLOCK_CHANGED    /* DateTime: when the file was last changed; the best there is */
};

struct photo {
    enum photo_kind kind;
    enum photo_fault fault;
    char fault_text[120]; /* a sentence part for people; "" when fine */
    char sha256[2 * DIGEST_SHA256_SIZE + 1];

    int32_t width, height; /* as stored in the file; 0 when the file does not tell */
    int orientation; /* EXIF 1..8; 1 when missing, or when the format turns the picture itself */
    bool has_exif, has_gps;
    int32_t exif_width, exif_height; /* what EXIF says of the size; 0 when it does not */
    enum photo_clock clock;
    char taken[PHOTO_TAKEN_SIZE], offset[PHOTO_OFFSET_SIZE]; /* "" when missing or impossible */

    /* Of the picture the right way up; zero unless fault is PHOTO_FINE. */
    double exposure, dark_share, bright_share, sharpness;
    struct photohash hash;
    bool is_dark, is_bright, is_blurred;

    struct photo_code codes[PHOTO_CODES_MAX];
    size_t n_codes;
};

/* photo_pixels: width times height as the head of a JPEG or PNG says, without decoding it; 0 for other kinds and where it does not
 * tell. For whoever must know beforehand what a photo will ask for. */
uint64_t photo_pixels(const void *bytes, size_t n);

/* photo_read: everything above from a file's bytes[0..n) into *ret, which is written whole. A photo
 * with a fault is ERR_OK with ret->fault set; kind, sha256 and, as far as the file told, size and
 * EXIF are there. Errors: ERR_MEMORY, and ERR_UNKNOWN when this machine offers no SHA-256. */
MUST_USE enum err photo_read(const void *bytes, size_t n, struct photo *ret);

/* photo_likeness: what core/likeness keeps of a photo, the right way up, and no more: no digest, no codes. *ret_fault as photo_read
 * would set it; *ret is written only with PHOTO_FINE. The same bounds. Errors: ERR_MEMORY. */
MUST_USE enum err photo_likeness(const void *bytes, size_t n, enum photo_fault *ret_fault,
                                 struct likeness_picture *ret);

#endif

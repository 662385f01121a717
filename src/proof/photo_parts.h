/* photo_parts: what the readers of one format each and photo.c say to one another; nobody else's. */
#ifndef PROOF_PHOTO_PARTS_H
#define PROOF_PHOTO_PARTS_H

#include "proof/photo.h"

/* A grey picture on its way: 0 black to 255 white, row after row without a gap. The pixels are freed
 * by photo_grey_done. */
struct photo_grey {
    uint8_t *pixels;
    int32_t width, height;
};
void photo_grey_done(struct photo_grey *grey);

/* photo_fail: sets the fault and its words, once: the first fault stands. Returns false. */
bool photo_fail(struct photo *photo, enum photo_fault fault, const char *fmt, ...)
    PRINTF_LIKE(3, 4);

/* photo_kind_of: by the first bytes; PHOTO_UNKNOWN also when there is none. */
enum photo_kind photo_kind_of(const uint8_t *bytes, size_t n);

/* photo_look: as photo_read, without the digest; *photo is all zero but for orientation, 1. */
enum err photo_look(const void *bytes, size_t n, struct photo *photo);

/* photo_light: is_dark, is_bright, is_blurred by what was measured; all false where there is a fault. */
void photo_light(struct photo *photo);

/* photo_size: takes over the size that a header tells; false, with the fault set, when it is 0 or
 * above the bounds. */
bool photo_size(struct photo *photo, uint64_t width, uint64_t height);

/* The readers: bytes[0..n) into *ret_grey (the caller's to free, also after a fault), sizes, EXIF and
 * fault into *photo. Error: ERR_MEMORY. A JPEG may be decoded smaller than it is, yet no smaller
 * than PHOTO_DECODED_SIDE on its longer side. */
enum err photo_jpeg(const uint8_t *bytes, size_t n, struct photo *photo,
                    struct photo_grey *ret_grey);
enum err photo_png(const uint8_t *bytes, size_t n, struct photo *photo,
                   struct photo_grey *ret_grey);
enum err photo_heic(const uint8_t *bytes, size_t n, struct photo *photo,
                    struct photo_grey *ret_grey);

/* photo_exif: takes time, orientation, size and the presence of a place from a TIFF block (what
 * follows "Exif\0\0"). A block that makes no sense is passed over: has_exif stays false. */
void photo_exif(const uint8_t *tiff, size_t n, struct photo *photo);

/* photo_codes_ready: does beforehand what finding codes would open files for: the tables of the letters that a QR code may be written in stay
 * loaded for good. Once, before photo_codes is to run where no file can be opened. */
void photo_codes_ready(void);

/* photo_codes: QR, Code 39 and Code 128 in a picture, at most PHOTO_CODES_MAX. Error: ERR_MEMORY. */
enum err photo_codes(const struct photo_grey *grey, struct photo *photo);

#endif

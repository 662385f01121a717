/* bag_zip: a zip as the source of a bag's files, and writing one. bag_zip*.c are the only files that
 * see libzip. Nothing is ever unpacked to disk. */
#ifndef PROOF_BAG_ZIP_H
#define PROOF_BAG_ZIP_H

#include "proof/bag_files.h"

/* bag_zip_open: lists the files of the zip at fd (taken over, closed by bag_files_close, also after a
 * failure; it must be a regular file). Refused, each with its own kind of fault, before anything is
 * unpacked: a file that is no zip or is cut off, a directory that is larger than the file or the
 * limits, local and central entries that disagree, entries that overlap or claim more than the file
 * holds, links and devices, encryption, methods other than stored and deflated, unsafe paths, the
 * same path twice, names that clash, bombs by ratio or size. The bag may lie at the top or in one top
 * folder, which is then cut off every path. Errors: ERR_IO, ERR_MEMORY. */
MUST_USE enum err bag_zip_open(int fd, struct bag_files *files, struct bag_result *result,
                               bool *ret_is_usable, struct fault *reterr);

/* bag_zip_look: what the end of the zip of `size` bytes at fd claims; NULL when libzip may load it,
 * else a clause that says why not (static). Reads 64 KiB at most. *ret_kind: what to call it.
 * Source: APPNOTE 6.3, 4.3.14 to 4.3.16. */
const char *bag_zip_look(int fd, uint64_t size, const struct bag_limits *limits,
                         enum bag_kind *ret_kind);

/* One file to be written: from disk, or from memory when bytes is not NULL. */
struct bag_zip_item {
    const char *name; /* in the zip */
    const char *disk; /* NULL when bytes is given */
    const void *bytes;
    size_t n;
};

/* bag_zip_write: writes items[0..n) in this order to path, which is made anew: stored, not packed, so
 * that no version of any library changes the bytes; times 1980-01-01, mode rw-r--r--. Errors:
 * ERR_IO, ERR_OPEN (an item cannot be read), ERR_MEMORY. */
MUST_USE enum err bag_zip_write(const char *path, const struct bag_zip_item *items, size_t n,
                                struct fault *reterr);

#endif

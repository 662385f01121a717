/* bag_files: the files of a bag, whether they lie in a folder or a zip: a sorted list, and one way to
 * read each from its beginning to its end. */
#ifndef PROOF_BAG_FILES_H
#define PROOF_BAG_FILES_H

#include "base/digest.h"
#include "base/fault.h"
#include "proof/bag_result.h"

enum { BAG_PIECE = 64 * 1024 }; /* bytes read at a time */

/* What is too much. Tests shrink these. */
struct bag_limits {
    uint64_t files;      /* files and folders */
    uint64_t bytes;      /* all files together, unpacked */
    uint64_t file_bytes; /* one file, unpacked */
    uint64_t
        ratio; /* unpacked to packed, for a file of a zip beyond ratio_from and for the whole */
    uint64_t ratio_from;
    uint64_t text_bytes;      /* one tag file that is held in memory */
    uint64_t directory_bytes; /* a zip's central directory */
};
extern const struct bag_limits bag_limits_usual;

struct bag_file {
    char *path;        /* from the bag's top folder; owned */
    uint64_t size;     /* as the folder or the zip says */
    uint64_t place;    /* where the source finds it again */
    int64_t changed_s; /* of a file in a folder: last change, seconds since 1970 UTC; in a zip 0 */

    /* Filled by verifying: sums expected (borrowed; NULL: not listed under that kind). */
    const uint8_t *sums[DIGEST_KINDS];
    uint8_t sha256[DIGEST_SHA256_SIZE]; /* of a payload file of a valid bag, as bag_open read it */
};

/* Takes the next bytes of a file. */
typedef void bag_take(void *to, const void *bytes, size_t n);

struct bag_files;
struct bag_source {
    /* Streams a file in pieces of at most BAG_PIECE. ERR_IO, ERR_MEMORY: cannot go on. Others: the
     * file itself is at fault, message says why, *ret_kind what to call it. */
    enum err (*read)(struct bag_files *files, const struct bag_file *file, bag_take *take, void *to,
                     enum bag_kind *ret_kind, struct fault *reterr);
    void (*close)(struct bag_files *files);
};

struct bag_files {
    struct bag_file *files; /* sorted by path, bytewise, once bag_files_sort was called */
    size_t n, room;
    bool is_zip;
    bool has_payload_folder; /* data/ is there, be it empty */
    struct bag_limits limits;
    uint64_t bytes; /* sizes added up */
    const struct bag_source *source;
    void *state; /* the source's */
};

/* bag_files_open: looks through the folder or zip at path ("-": a zip on standard input) and lists
 * its files. What is wrong with it goes into result; *ret_is_usable is false when there is no point
 * in going on (not a zip, a bomb, links, names that clash). Errors: ERR_OPEN (no such file, not
 * permitted), ERR_IO, ERR_MEMORY. bag_files_close also after a failure. */
MUST_USE enum err bag_files_open(const char *path, const struct bag_limits *limits,
                                 struct bag_files *ret, struct bag_result *result,
                                 bool *ret_is_usable, struct fault *reterr);
void bag_files_close(struct bag_files *files);

/* bag_files_add: one more; the path is copied. Errors: ERR_LIMIT (files), ERR_MEMORY. */
MUST_USE enum err bag_files_add(struct bag_files *files, const char *path, uint64_t size,
                                uint64_t place);
void bag_files_sort(struct bag_files *files);

/* bag_files_find: NULL when there is none. path need not end in NUL. */
struct bag_file *bag_files_find(const struct bag_files *files, const char *path, size_t n);

/* bag_files_text: a whole small file appended to ret (the caller's, also on failure). Errors:
 * ERR_LIMIT; those of read. */
MUST_USE enum err bag_files_text(struct bag_files *files, const struct bag_file *file, uint64_t max,
                                 struct text *ret, enum bag_kind *ret_kind, struct fault *reterr);

/* bag_files_clashes: names that differ only in case or in Unicode's form: faults in a zip, which
 * could not be unpacked everywhere without a loss; warnings in a folder. In a zip also a name that is
 * both file and folder. Error: ERR_MEMORY. */
MUST_USE enum err bag_files_clashes(const struct bag_files *files, struct bag_result *result);

#endif

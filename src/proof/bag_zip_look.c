/* bag_zip_look: owns the look at the end of a zip before a library loads its directory, which costs
 * memory for every entry that the end claims. */
#include "proof/bag_zip.h"

#include <string.h>
#include <unistd.h>

enum {
    END_SIZE = 22,       /* end of central directory record without comment */
    END64_SIZE = 56,     /* zip64 end of central directory record */
    LOCATOR_SIZE = 20,   /* zip64 end of central directory locator */
    ENTRY_SIZE = 46,     /* central directory entry without names */
    COMMENT_MAX = 65535, /* a comment's size has 16 bits */
    TAIL_MAX = END_SIZE + COMMENT_MAX
};

static uint64_t little(const unsigned char *p, int n)
{
    uint64_t value = 0;
    for (int i = n - 1; i >= 0; i--)
        value = value << 8 | p[i];
    return value;
}

static bool read_at(int fd, uint64_t at, unsigned char *buf, size_t n)
{
    size_t got = 0;
    while (got < n) {
        const ssize_t more = pread(fd, buf + got, n - got, (off_t)(at + got));
        if (more <= 0)
            return false;
        got += (size_t)more;
    }
    return true;
}

struct ends {
    uint64_t n_entries, n_here, size, at; /* of the central directory */
    uint64_t disk, directory_disk;
};

/* The end record whose comment reaches exactly to the end of the file; SIZE_MAX when there is none. */
static size_t find_end(const unsigned char *tail, size_t n)
{
    for (size_t at = n - END_SIZE + 1; at-- > 0;)
        if (memcmp(tail + at, "PK\5\6", 4) == 0 && at + END_SIZE + little(tail + at + 20, 2) == n)
            return at;
    return SIZE_MAX;
}

static bool is_zip64(const struct ends *e)
{
    return e->n_entries == 0xFFFF || e->n_here == 0xFFFF || e->size == 0xFFFFFFFF ||
           e->at == 0xFFFFFFFF || e->disk == 0xFFFF || e->directory_disk == 0xFFFF;
}

/* Replaces what does not fit 32 bits by the zip64 record's values. end_at: of the plain record. */
static const char *read_zip64(int fd, uint64_t end_at, struct ends *e)
{
    unsigned char locator[LOCATOR_SIZE], record[END64_SIZE];
    if (end_at < LOCATOR_SIZE || !read_at(fd, end_at - LOCATOR_SIZE, locator, sizeof locator) ||
        memcmp(locator, "PK\6\7", 4) != 0)
        return NULL; /* 65,535 entries may be just that many */
    const uint64_t at = little(locator + 8, 8);
    if (at > end_at - LOCATOR_SIZE || end_at - LOCATOR_SIZE - at < END64_SIZE ||
        !read_at(fd, at, record, sizeof record) || memcmp(record, "PK\6\6", 4) != 0)
        return "its zip64 end record is not where it should be";
    e->disk = little(record + 16, 4);
    e->directory_disk = little(record + 20, 4);
    e->n_here = little(record + 24, 8);
    e->n_entries = little(record + 32, 8);
    e->size = little(record + 40, 8);
    e->at = little(record + 48, 8);
    return NULL;
}

static const char *judge(const struct ends *e, uint64_t end_at, const struct bag_limits *limits,
                         enum bag_kind *ret_kind)
{
    if (e->disk != 0 || e->directory_disk != 0 || e->n_here != e->n_entries)
        return "it is one part of a zip in several parts";
    if (e->size > end_at || e->at > end_at - e->size)
        return "its directory lies outside the file";
    if (e->n_entries > e->size / ENTRY_SIZE)
        return "it claims more entries than its directory can hold";
    *ret_kind = BAG_LIMIT;
    if (e->n_entries > limits->files)
        return "it holds more entries than allowed";
    if (e->size > limits->directory_bytes)
        return "its directory is larger than allowed";
    return NULL;
}

const char *bag_zip_look(int fd, uint64_t size, const struct bag_limits *limits,
                         enum bag_kind *ret_kind)
{
    *ret_kind = BAG_ZIP;
    if (size < END_SIZE)
        return "it is too short to be a zip";
    const size_t n = size < TAIL_MAX ? (size_t)size : TAIL_MAX;
    unsigned char tail[TAIL_MAX]; /* not asked for: a want of memory is no fault of the zip */
    const char *fault = NULL;
    const uint64_t tail_at = size - n;
    const size_t at = read_at(fd, tail_at, tail, n) ? find_end(tail, n) : SIZE_MAX;
    if (at == SIZE_MAX) {
        fault = "it is not a zip, or its end is cut off";
    } else {
        const unsigned char *p = tail + at;
        struct ends e = {.disk = little(p + 4, 2),
                         .directory_disk = little(p + 6, 2),
                         .n_here = little(p + 8, 2),
                         .n_entries = little(p + 10, 2),
                         .size = little(p + 12, 4),
                         .at = little(p + 16, 4)};
        if (is_zip64(&e))
            fault = read_zip64(fd, tail_at + at, &e);
        if (fault == NULL)
            fault = judge(&e, tail_at + at, limits, ret_kind);
    }
    return fault;
}

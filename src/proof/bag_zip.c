/* bag_zip: owns listing a zip's files, refusing hostile ones, and streaming them through libzip. */
#include "proof/bag_zip.h"

#include "proof/bag_path.h"

#include <errno.h>
#include <libdeflate.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

struct zip_source_state {
    zip_t *zip;
    unsigned char piece[BAG_PIECE];
};

/* The file type in the upper half of the attributes that Unix systems write; POSIX leaves the bits
 * open, zips do not. */
enum { MODE_TYPE = 0170000, MODE_FILE = 0100000, MODE_FOLDER = 0040000, MODE_LINK = 0120000 };

static const uint64_t place_folder = UINT64_MAX;

enum { STORED_FROM = 4 * BAG_PIECE };

/* ---- reading ----------------------------------------------------------------------------------*/

static enum err zip_fault(const char *what, zip_error_t *e, struct fault *f)
{
    const int code = zip_error_code_zip(e), number = zip_error_code_system(e);
    if (code == ZIP_ER_MEMORY)
        return fault_no_memory(f);
    if (code == ZIP_ER_READ && number == EIO)
        return fault_set(f, ERR_IO, "%s: %s", what, strerror(number));
    return fault_set(f, ERR_SYNTAX, "%s: %s", what, zip_error_strerror(e));
}

/* A file on its way: what was read so far, and its CRC where that is made here. */
struct pump {
    const struct bag_file *file;
    bag_take *take;
    void *to;
    uint64_t n_read;
    uint32_t crc;
    bool has_crc;
};

/* n bytes more, in the state's piece; never more than was counted against the limits. */
static enum err pump_on(struct pump *p, const unsigned char *piece, uint64_t n, struct fault *f)
{
    p->n_read += n;
    if (p->n_read > p->file->size)
        return fault_set(f, ERR_SYNTAX, "unpacks to more than the zip says");
    if (p->has_crc)
        p->crc = libdeflate_crc32(p->crc, piece, (size_t)n);
    p->take(p->to, piece, (size_t)n);
    return ERR_OK;
}

/* As the library reads it, with its own CRC. */
static enum err read_whole(struct zip_source_state *state, struct pump *p, struct fault *f)
{
    zip_file_t *entry = zip_fopen_index(state->zip, p->file->place, ZIP_FL_UNCHANGED);
    zip_int64_t n = 1;
    enum err err = ERR_OK;
    if (entry == NULL)
        return zip_fault("cannot be unpacked", zip_get_error(state->zip), f);
    while (err == ERR_OK && n > 0) {
        n = zip_fread(entry, state->piece, sizeof state->piece);
        if (n < 0)
            err = zip_fault("cannot be unpacked", zip_file_get_error(entry), f);
        else if (n > 0)
            err = pump_on(p, state->piece, (uint64_t)n, f);
    }
    zip_fclose(entry);
    return err;
}

/* Bytes start..start + size of a stored file. */
static enum err read_part(struct zip_source_state *state, struct pump *p, uint64_t start,
                          uint64_t size, struct fault *f)
{
    zip_source_t *part = zip_source_zip(state->zip, state->zip, p->file->place, ZIP_FL_UNCHANGED,
                                        start, (zip_int64_t)size);
    zip_int64_t n = 1;
    enum err err = ERR_OK;
    if (part == NULL)
        return zip_fault("cannot be unpacked", zip_get_error(state->zip), f);
    if (zip_source_open(part) != 0)
        err = zip_fault("cannot be unpacked", zip_source_error(part), f);
    while (err == ERR_OK && n > 0) {
        n = zip_source_read(part, state->piece, sizeof state->piece);
        if (n < 0)
            err = zip_fault("cannot be unpacked", zip_source_error(part), f);
        else if (n > 0)
            err = pump_on(p, state->piece, (uint64_t)n, f);
    }
    zip_source_free(part); /* closes it too */
    return err;
}

/* Whether the entry is stored and long enough to be worth it; its CRC as the zip says it. */
static bool is_long_stored(zip_t *zip, const struct bag_file *file, uint32_t *ret_crc)
{
    const zip_uint64_t needed = ZIP_STAT_COMP_METHOD | ZIP_STAT_CRC | ZIP_STAT_ENCRYPTION_METHOD;
    zip_stat_t st;
    if (file->size < STORED_FROM || zip_stat_index(zip, file->place, ZIP_FL_UNCHANGED, &st) != 0 ||
        (st.valid & needed) != needed)
        return false;
    *ret_crc = st.crc;
    return st.comp_method == ZIP_CM_STORE && st.encryption_method == ZIP_EM_NONE;
}

/* The library's CRC takes a fourth of the time of a SHA-256, and it leaves it out for a part of a file only: so a long stored file is
 * read as two parts, and its CRC made here. */
static enum err read_stored(struct zip_source_state *state, struct pump *p, uint32_t expected,
                            struct fault *f)
{
    p->has_crc = true;
    enum err err = read_part(state, p, 0, BAG_PIECE, f);
    if (err == ERR_OK)
        err = read_part(state, p, BAG_PIECE, p->file->size - BAG_PIECE, f);
    return err == ERR_OK && p->n_read == p->file->size && p->crc != expected
               ? fault_set(f, ERR_SYNTAX, "cannot be unpacked: CRC error")
               : err;
}

static enum err zip_read(struct bag_files *files, const struct bag_file *file, bag_take *take,
                         void *to, enum bag_kind *ret_kind, struct fault *reterr)
{
    struct zip_source_state *state = files->state;
    struct pump p = {.file = file, .take = take, .to = to};
    uint32_t crc = 0;
    *ret_kind = BAG_ZIP;
    const enum err err = is_long_stored(state->zip, file, &crc)
                             ? read_stored(state, &p, crc, reterr)
                             : read_whole(state, &p, reterr);
    if (err == ERR_OK && p.n_read != file->size)
        return fault_set(reterr, ERR_SYNTAX, "unpacks to %llu bytes; the zip says %llu",
                         (unsigned long long)p.n_read, (unsigned long long)file->size);
    return err;
}

static void zip_state_close(struct bag_files *files)
{
    struct zip_source_state *state = files->state;
    if (state->zip != NULL)
        zip_discard(state->zip);
    free(state);
}

static const struct bag_source source = {.read = zip_read, .close = zip_state_close};

/* ---- what an entry claims ---------------------------------------------------------------------*/

struct entries {
    struct bag_files *files;
    struct bag_result *result;
    uint64_t archive_bytes, packed_bytes;
    bool is_bad;
};

static void refuse(struct entries *e, enum bag_kind kind, const char *path, const char *why)
{
    bag_fault_add(e->result, kind, path, "%s", why);
    e->is_bad = true;
}

/* Links and devices, by the mode that the zip carries; most zips carry none. */
static void check_mode(struct entries *e, zip_t *zip, zip_uint64_t i, const char *name)
{
    zip_uint8_t system = 0;
    zip_uint32_t attributes = 0;
    if (zip_file_get_external_attributes(zip, i, ZIP_FL_UNCHANGED, &system, &attributes) != 0)
        return;
    if (system != ZIP_OPSYS_UNIX && system != ZIP_OPSYS_OS_X)
        return;
    const unsigned type = (unsigned)(attributes >> 16) & MODE_TYPE;
    if (type == MODE_LINK)
        refuse(e, BAG_LINK, name, "is a symbolic link; expected the file itself");
    else if (type != 0 && type != MODE_FILE && type != MODE_FOLDER)
        refuse(e, BAG_DEVICE, name, "is a device, pipe or socket; expected a file");
}

static void check_sizes(struct entries *e, const zip_stat_t *st, const char *name)
{
    const struct bag_limits *limits = &e->files->limits;
    if (st->comp_method == ZIP_CM_STORE && st->size != st->comp_size)
        refuse(e, BAG_ZIP, name, "is stored, yet its two sizes differ");
    if (st->size > limits->file_bytes || st->size > limits->bytes ||
        e->files->bytes > limits->bytes - st->size)
        refuse(e, BAG_BOMB, name, "unpacks to more than allowed");
    else if (st->size > limits->ratio_from && st->size / limits->ratio > st->comp_size)
        refuse(e, BAG_BOMB, name, "unpacks to far more than it is");
    if (st->comp_size > e->archive_bytes - e->packed_bytes)
        refuse(e, BAG_ZIP, name, "the files claim more bytes than the zip has: they overlap");
    if (e->is_bad)
        return;
    e->files->bytes += st->size;
    e->packed_bytes += st->comp_size;
}

static void check_kind(struct entries *e, zip_t *zip, zip_uint64_t i, const zip_stat_t *st)
{
    if (st->encryption_method != ZIP_EM_NONE)
        refuse(e, BAG_ENCRYPTED, st->name, "is encrypted");
    if (st->comp_method != ZIP_CM_STORE && st->comp_method != ZIP_CM_DEFLATE)
        refuse(e, BAG_ZIP, st->name, "is packed by a method other than stored or deflated");
    check_mode(e, zip, i, st->name);
    check_sizes(e, st, st->name);
}

/* One entry; a folder is kept with place_folder until the top folder is known. */
static enum err add_entry(struct entries *e, zip_t *zip, zip_uint64_t i)
{
    const zip_uint64_t needed = ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE |
                                ZIP_STAT_COMP_METHOD | ZIP_STAT_ENCRYPTION_METHOD;
    zip_stat_t st;
    if (zip_stat_index(zip, i, ZIP_FL_UNCHANGED, &st) != 0 || (st.valid & needed) != needed) {
        refuse(e, BAG_ZIP, NULL, "an entry lacks its name or size");
        return ERR_OK;
    }
    size_t n = strlen(st.name);
    const bool is_folder = n > 0 && st.name[n - 1] == '/';
    n -= is_folder;
    const char *why = bag_path_fault(st.name, n);
    if (why != NULL) {
        refuse(e, BAG_UNSAFE_PATH, st.name, why);
        return ERR_OK;
    }
    check_kind(e, zip, i, &st);
    if (is_folder && st.size != 0)
        refuse(e, BAG_ZIP, st.name, "is a folder with content");
    const enum err err = bag_files_add(e->files, st.name, st.size, is_folder ? place_folder : i);
    if (err != ERR_LIMIT)
        return err;
    refuse(e, BAG_LIMIT, NULL, "it holds more entries than allowed");
    return ERR_OK;
}

/* ---- the top folder ---------------------------------------------------------------------------*/

/* Bytes to cut off every path: those of the one top folder, or 0. */
static size_t top_folder(const struct bag_files *files)
{
    if (files->n == 0 || bag_files_find(files, "bagit.txt", strlen("bagit.txt")) != NULL)
        return 0;
    const char *first = files->files[0].path;
    const char *slash = strchr(first, '/');
    if (slash == NULL)
        return 0;
    const size_t n = (size_t)(slash - first) + 1;
    for (size_t i = 1; i < files->n; i++)
        if (strncmp(files->files[i].path, first, n) != 0)
            return 0;
    return n;
}

/* Cuts the top folder off, then drops the entries that are folders. */
static void settle(struct bag_files *files, struct bag_result *result)
{
    const size_t cut = top_folder(files);
    size_t to = 0;
    if (cut == 0 && bag_files_find(files, "bagit.txt", strlen("bagit.txt")) != NULL)
        bag_warn(result, "the bag lies at the top of the zip; expected one folder around it");
    for (size_t i = 0; i < files->n; i++) {
        struct bag_file *file = &files->files[i];
        memmove(file->path, file->path + cut, strlen(file->path + cut) + 1);
        if (bag_path_is_payload(file->path))
            files->has_payload_folder = true;
        if (file->place == place_folder)
            free(file->path);
        else
            files->files[to++] = *file;
    }
    files->n = to;
}

static void find_twice(struct entries *e)
{
    const struct bag_files *files = e->files;
    for (size_t i = 1; i < files->n; i++)
        if (strcmp(files->files[i - 1].path, files->files[i].path) == 0 &&
            files->files[i].place != place_folder)
            refuse(e, BAG_DUPLICATE_PATH, files->files[i].path, "stands in the zip twice");
}

/* An empty folder's entry may have the name of a file; folders are dropped before names are compared. */
static void find_folder_files(struct entries *e)
{
    const struct bag_files *files = e->files;
    for (size_t i = 0; i < files->n; i++) {
        const char *path = files->files[i].path;
        if (files->files[i].place == place_folder &&
            bag_files_find(files, path, strlen(path) - 1) != NULL)
            refuse(e, BAG_CLASH, path, "is both a file and a folder");
    }
}

/* The whole at once: many small bombs, or one body shared by many entries. */
static void check_whole(struct entries *e)
{
    const struct bag_limits *limits = &e->files->limits;
    if (!e->is_bad && e->files->bytes > limits->ratio_from &&
        e->files->bytes / limits->ratio > e->archive_bytes)
        refuse(e, BAG_BOMB, NULL, "the zip unpacks to far more than it is");
}

static enum err list(struct entries *e, zip_t *zip, struct fault *f)
{
    const zip_int64_t n = zip_get_num_entries(zip, ZIP_FL_UNCHANGED);
    enum err err = ERR_OK;
    for (zip_int64_t i = 0; i < n && err == ERR_OK && e->result->n_more_faults == 0; i++)
        err = add_entry(e, zip, (zip_uint64_t)i);
    if (err == ERR_OK && !e->is_bad)
        check_whole(e);
    if (err == ERR_OK && !e->is_bad) {
        bag_files_sort(e->files);
        find_twice(e);
        find_folder_files(e);
    }
    if (err == ERR_OK && !e->is_bad) {
        const size_t before = e->result->n_faults;
        settle(e->files, e->result);
        err = bag_files_clashes(e->files, e->result);
        e->is_bad = e->result->n_faults > before;
    }
    return err == ERR_OK ? err : fault_set(f, err, "memory ran out");
}

/* ---- opening ----------------------------------------------------------------------------------*/

/* Takes over fd. NULL: *ret_err says whether it is the zip's fault (ERR_SYNTAX, or ERR_DUPLICATE for
 * a path that stands in it twice). */
static zip_t *load(int fd, struct fault *f, enum err *ret_err)
{
    zip_error_t e;
    int code = 0;
    zip_t *zip = zip_fdopen(fd, ZIP_CHECKCONS, &code);
    if (zip != NULL)
        return zip;
    const int number = errno;
    close(fd);
    zip_error_init_with_code(&e, code);
    zip_error_set(&e, code, number);
    *ret_err = code == ZIP_ER_EXISTS
                   ? fault_set(f, ERR_DUPLICATE, "two files in the zip have the same path")
                   : zip_fault("the zip cannot be read", &e, f);
    zip_error_fini(&e);
    return NULL;
}

enum err bag_zip_open(int fd, struct bag_files *files, struct bag_result *result,
                      bool *ret_is_usable, struct fault *reterr)
{
    struct stat st;
    enum bag_kind kind = BAG_ZIP;
    struct zip_source_state *state = calloc(1, sizeof *state);
    enum err err = ERR_OK;
    *ret_is_usable = false;
    files->is_zip = true;
    if (state == NULL || fstat(fd, &st) != 0) {
        err = state == NULL ? ERR_MEMORY : ERR_IO;
        close(fd);
        free(state);
        return fault_set(reterr, err, "%s", err_text(err));
    }
    files->state = state;
    files->source = &source;
    const uint64_t size = st.st_size > 0 ? (uint64_t)st.st_size : 0;
    const char *why = bag_zip_look(fd, size, &files->limits, &kind);
    if (why != NULL) {
        bag_fault_add(result, kind, NULL, "%s", why);
        close(fd);
        return ERR_OK;
    }
    struct fault f = {0};
    state->zip = load(fd, &f, &err);
    if (state->zip == NULL) {
        if (err != ERR_SYNTAX && err != ERR_DUPLICATE) {
            *reterr = f;
            return err;
        }
        bag_fault_add(result, err == ERR_DUPLICATE ? BAG_DUPLICATE_PATH : BAG_ZIP, NULL, "%s",
                      f.message);
        return ERR_OK;
    }
    struct entries e = {.files = files, .result = result, .archive_bytes = size};
    err = list(&e, state->zip, reterr);
    *ret_is_usable = err == ERR_OK && !e.is_bad;
    return err;
}

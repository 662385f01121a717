/* bag_zip: owns listing a zip's files, refusing hostile ones, and streaming them through libzip. */
#include "proof/bag_zip.h"

#include "proof/bag_path.h"

#include <errno.h>
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

/* ---- reading ----------------------------------------------------------------------------------*/

static enum err zip_fault(const char *what, zip_error_t *e, struct fault *f)
{
    const int code = zip_error_code_zip(e), number = zip_error_code_system(e);
    if (code == ZIP_ER_MEMORY)
        return fault_set(f, ERR_MEMORY, "memory ran out");
    if (code == ZIP_ER_READ && number == EIO)
        return fault_set(f, ERR_IO, "%s: %s", what, strerror(number));
    return fault_set(f, ERR_SYNTAX, "%s: %s", what, zip_error_strerror(e));
}

static enum err zip_read(struct bag_files *files, const struct bag_file *file, bag_take *take,
                         void *to, enum bag_kind *ret_kind, struct fault *reterr)
{
    struct zip_source_state *state = files->state;
    *ret_kind = BAG_ZIP;
    zip_file_t *entry = zip_fopen_index(state->zip, file->place, ZIP_FL_UNCHANGED);
    if (entry == NULL)
        return zip_fault("cannot be unpacked", zip_get_error(state->zip), reterr);
    uint64_t n_read = 0;
    enum err err = ERR_OK;
    for (;;) {
        const zip_int64_t n = zip_fread(entry, state->piece, sizeof state->piece);
        if (n < 0)
            err = zip_fault("cannot be unpacked", zip_file_get_error(entry), reterr);
        if (n <= 0)
            break;
        n_read += (uint64_t)n;
        if (n_read > file->size) { /* never more than was counted against the limits */
            err = fault_set(reterr, ERR_SYNTAX, "unpacks to more than the zip says");
            break;
        }
        take(to, state->piece, (size_t)n);
    }
    if (err == ERR_OK && n_read != file->size)
        err = fault_set(reterr, ERR_SYNTAX, "unpacks to %llu bytes; the zip says %llu",
                        (unsigned long long)n_read, (unsigned long long)file->size);
    zip_fclose(entry);
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

/* bag_make: owns what a bag of ours holds and how it comes to be on disk whole or not at all. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "proof/bag_make.h"

#include "core/date.h"
#include "proof/bag.h"
#include "proof/bag_dir.h"
#include "proof/bag_path.h"
#include "proof/bag_sign.h"
#include "proof/bag_zip.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    TAGS_MAX = 5,
    PATH_ROOM = 4096,
    LAST_DAY = 84005 /* 2199-12-31, the last that date.h has */
};

/* One bag under way. */
struct work {
    const struct bag_order *order;
    struct fault *fault;
    struct bag_files files;
    struct text declaration, info, manifest, tag_manifest, signature;
    struct bag_made made;
    struct bag_zip_item *items;
    char **owned; /* names and paths that the items borrow */
    size_t n_items, n_owned;
    mode_t mode; /* of the zip, as for any file that this process makes */
};

static enum err no_memory(struct work *w)
{
    return fault_no_memory(w->fault);
}

/* ---- the job's files --------------------------------------------------------------------------*/

static enum err code_of(enum bag_kind kind)
{
    switch (kind) {
    case BAG_ENCODING:
        return ERR_ENCODING;
    case BAG_LIMIT:
        return ERR_LIMIT;
    case BAG_UNREADABLE:
        return ERR_OPEN;
    default:
        return ERR_TYPE;
    }
}

static enum err open_folder(const char *path, int *ret, struct fault *f)
{
    struct stat st;
    snprintf(f->file, sizeof f->file, "%s", path);
    if (stat(path, &st) != 0)
        return errno == ENOENT ? fault_set(f, ERR_OPEN, "no such folder")
                               : fault_set(f, ERR_OPEN, "cannot be opened: %s", strerror(errno));
    if (!S_ISDIR(st.st_mode))
        return fault_set(f, ERR_OPEN, "is not a folder; expected the folder of a job");
    *ret = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    return *ret < 0 ? fault_set(f, ERR_OPEN, "cannot be opened: %s", strerror(errno)) : ERR_OK;
}

static enum err list_files(struct work *w)
{
    struct bag_result found = {0};
    int fd = -1;
    bool is_usable = false;
    w->files.limits = bag_limits_usual;
    enum err err = open_folder(w->order->folder, &fd, w->fault);
    if (err == ERR_OK)
        err = bag_dir_open(fd, &w->files, &found, &is_usable, w->fault);
    if (err == ERR_OK && found.n_faults > 0) {
        snprintf(w->fault->path, sizeof w->fault->path, "%s", found.faults[0].path);
        err = fault_set(w->fault, code_of(found.faults[0].kind), "%s", found.faults[0].message);
    } else if (err == ERR_OK && w->files.n == 0) {
        err = fault_set(w->fault, ERR_EMPTY, "holds no file");
    }
    bag_result_done(&found);
    return err;
}

static void add_to_digest(void *to, const void *bytes, size_t n)
{
    digest_add(to, bytes, n);
}

static void add_line(struct text *to, const uint8_t *sum, const char *folder, const char *path)
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(sum, DIGEST_SHA256_SIZE, hex);
    text_printf(to, "%s  %s", hex, folder);
    bag_path_encode(path, to);
    text_putc(to, '\n');
}

static enum err write_manifest(struct work *w)
{
    struct digest *d = NULL;
    enum err err = digest_new(DIGEST_SHA256, &d);
    if (err != ERR_OK)
        return fault_set(w->fault, err, "no sha256 sums: %s", err_text(err));
    for (size_t i = 0; i < w->files.n && err == ERR_OK; i++) {
        const struct bag_file *file = &w->files.files[i];
        enum bag_kind kind = BAG_UNREADABLE;
        uint8_t sum[DIGEST_SHA256_SIZE];
        err = w->files.source->read(&w->files, file, add_to_digest, d, &kind, w->fault);
        if (err != ERR_OK)
            snprintf(w->fault->path, sizeof w->fault->path, "%s", file->path);
        else if (digest_end(d, sum) != ERR_OK)
            err = no_memory(w);
        else
            add_line(&w->manifest, sum, "data/", file->path);
    }
    digest_free(d);
    return err;
}

/* ---- tag files --------------------------------------------------------------------------------*/

static void bagging_date(const struct work *w, char date[DATE_SHOW_SIZE])
{
    int64_t last_s = 0;
    if (w->order->date != NULL) {
        snprintf(date, DATE_SHOW_SIZE, "%s", w->order->date);
        return;
    }
    for (size_t i = 0; i < w->files.n; i++)
        if (w->files.files[i].changed_s > last_s)
            last_s = w->files.files[i].changed_s;
    const int64_t day = last_s / 86400;
    date_show(day <= LAST_DAY ? (int32_t)day : LAST_DAY, date);
}

static void write_info(struct work *w)
{
    char date[DATE_SHOW_SIZE];
    bagging_date(w, date);
    text_puts(&w->info, "Bag-Software-Agent: mendwright " MENDWRIGHT_VERSION "\n");
    text_printf(&w->info, "Bagging-Date: %s\n", date);
    text_printf(&w->info, "Payload-Oxum: %llu.%llu\n", (unsigned long long)w->made.bytes,
                (unsigned long long)w->made.files);
    if (w->order->secret != NULL)
        text_printf(&w->info, "Mendwright-Shop: %s\n", w->order->secret->shop);
}

static enum err add_tag_line(struct work *w, const char *name, const struct text *text)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    if (text->is_broken || digest_bytes(DIGEST_SHA256, text->data, text->size, sum) != ERR_OK)
        return no_memory(w);
    add_line(&w->tag_manifest, sum, "", name);
    return ERR_OK;
}

static enum err write_tags(struct work *w)
{
    enum err err = ERR_OK;
    text_puts(&w->declaration, "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    write_info(w);
    err = add_tag_line(w, "bag-info.txt", &w->info);
    if (err == ERR_OK)
        err = add_tag_line(w, "bagit.txt", &w->declaration);
    if (err == ERR_OK)
        err = add_tag_line(w, "manifest-sha256.txt", &w->manifest);
    if (err == ERR_OK && w->tag_manifest.is_broken)
        err = no_memory(w);
    if (err == ERR_OK && w->order->secret != NULL &&
        bag_sign_write(w->order->secret, w->tag_manifest.data, w->tag_manifest.size,
                       &w->signature) != ERR_OK)
        err = fault_set(w->fault, ERR_IO, "the bag cannot be signed");
    return err == ERR_OK && w->signature.is_broken ? no_memory(w) : err;
}

/* The BagIt drafts want one folder around a bag in an archive (from memory). Named after the payload, not after
 * the zip, so that a job packed twice gives the same bytes under any name. */
static enum err name_folder(struct work *w)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    if (digest_bytes(DIGEST_SHA256, w->manifest.data, w->manifest.size, sum) != ERR_OK)
        return no_memory(w);
    digest_hex(sum, 8, hex);
    snprintf(w->made.folder, sizeof w->made.folder, "job-%.16s", hex);
    return ERR_OK;
}

/* ---- the zip ----------------------------------------------------------------------------------*/

/* a, b and c joined; owned by the work; NULL: no memory. */
static const char *join(struct work *w, const char *a, const char *b, const char *c)
{
    const size_t n = strlen(a) + strlen(b) + strlen(c) + 1;
    char *s = malloc(n);
    if (s == NULL)
        return NULL;
    snprintf(s, n, "%s%s%s", a, b, c);
    w->owned[w->n_owned++] = s;
    return s;
}

static bool add_tag(struct work *w, const char *name, const struct text *text)
{
    const char *full = join(w, w->made.folder, "/", name);
    w->items[w->n_items++] =
        (struct bag_zip_item){.name = full, .bytes = text->data, .n = text->size};
    return full != NULL;
}

static bool add_payload(struct work *w, const char *path)
{
    const char *full = join(w, w->made.folder, "/data/", path);
    const char *disk = join(w, w->order->folder, "/", path);
    w->items[w->n_items++] = (struct bag_zip_item){.name = full, .disk = disk};
    return full != NULL && disk != NULL;
}

static enum err gather(struct work *w)
{
    w->items = calloc(w->files.n + TAGS_MAX, sizeof *w->items);
    w->owned = calloc(2 * w->files.n + TAGS_MAX, sizeof *w->owned);
    if (w->items == NULL || w->owned == NULL)
        return no_memory(w);
    bool is_good = add_tag(w, "bagit.txt", &w->declaration) &&
                   add_tag(w, "bag-info.txt", &w->info) &&
                   add_tag(w, "manifest-sha256.txt", &w->manifest) &&
                   add_tag(w, BAG_SIGN_SIGNED, &w->tag_manifest) &&
                   (w->order->secret == NULL || add_tag(w, BAG_SIGN_NAME, &w->signature));
    for (size_t i = 0; i < w->files.n && is_good; i++)
        is_good = add_payload(w, w->files.files[i].path);
    return is_good ? ERR_OK : no_memory(w);
}

/* Whatever was written is read back before anybody relies on it; a file of the job that changed
 * meanwhile is found here. */
static enum err read_back(struct work *w, const char *path)
{
    struct bag_result result = {0};
    struct fault f = {0};
    enum err err = bag_verify(path, NULL, NULL, &result, &f);
    if (err != ERR_OK)
        err = fault_set(w->fault, err, "the bag cannot be read back: %s", f.message);
    else if (result.n_faults > 0)
        err =
            fault_set(w->fault, ERR_IO, "the bag read back is not good: %s %s; did a file change?",
                      result.faults[0].path, result.faults[0].message);
    /* No ring was given, so a signature that holds is one by an unknown key. */
    else if (!result.is_valid ||
             result.signature !=
                 (w->order->secret != NULL ? BAG_SIGNATURE_UNKNOWN_KEY : BAG_SIGNATURE_NONE))
        err = fault_set(w->fault, ERR_IO, "the bag read back is not the one that was written");
    bag_result_done(&result);
    return err;
}

static enum err make_sure(struct work *w, const char *path)
{
    const int fd = open(path, O_RDONLY | O_CLOEXEC);
    enum err err = ERR_OK;
    if (fd < 0 || fchmod(fd, w->mode) != 0 || fsync(fd) != 0)
        err = fault_set(w->fault, ERR_IO, "the zip cannot be written: %s", strerror(errno));
    else
        err =
            digest_fd(DIGEST_SHA256, fd, UINT64_MAX, w->made.sha256, &w->made.zip_bytes, w->fault);
    if (fd >= 0)
        close(fd);
    return err;
}

/* What a new file's mode comes to. Seen on a file, since asking for the mask would set it for a moment, and other threads make
 * files meanwhile. */
static enum err see_mode(struct work *w, const char *path)
{
    struct stat st;
    const int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    const bool is_seen = fd >= 0 && fstat(fd, &st) == 0;
    if (fd >= 0)
        close(fd);
    if (!is_seen)
        return fault_set(w->fault, errno == EACCES || errno == EPERM ? ERR_OPEN : ERR_IO,
                         "the zip cannot be written: %s", strerror(errno));
    w->mode = st.st_mode & 0777;
    return ERR_OK;
}

/* The folder in which path lies, into buf. */
static void folder_of(const char *path, char *buf, size_t room)
{
    const char *slash = strrchr(path, '/');
    if (slash == NULL)
        snprintf(buf, room, ".");
    else
        snprintf(buf, room, "%.*s", slash == path ? 1 : (int)(slash - path), path);
}

/* A zip inside the folder would be payload the next time. */
static enum err check_out(struct work *w)
{
    char folder[PATH_ROOM];
    const char *out = w->order->out;
    struct stat st;
    if (out[0] == '\0' || strlen(out) > PATH_ROOM - 32)
        return fault_set(w->fault, ERR_OPEN, "the zip's name is empty or too long");
    folder_of(out, folder, sizeof folder);
    char *at = realpath(folder, NULL);
    if (at == NULL)
        return fault_set(w->fault, ERR_OPEN, "the zip's folder cannot be opened: %s",
                         strerror(errno));
    char *job = realpath(w->order->folder, NULL);
    enum err err = ERR_OK;
    if (job != NULL && strncmp(at, job, strlen(job)) == 0 &&
        (at[strlen(job)] == '/' || at[strlen(job)] == '\0'))
        err = fault_set(w->fault, ERR_DOMAIN, "the zip may not lie in the folder that is packed");
    else if (stat(out, &st) == 0 && !S_ISREG(st.st_mode))
        err = fault_set(w->fault, ERR_OPEN, "is a folder or a device; expected the name of a zip");
    free(at);
    free(job);
    return err;
}

static enum err put_in_place(struct work *w, const char *temp)
{
    char folder[PATH_ROOM];
    if (rename(temp, w->order->out) != 0)
        return fault_set(w->fault, ERR_IO, "the zip cannot be put in place: %s", strerror(errno));
    folder_of(w->order->out, folder, sizeof folder);
    const int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        (void)fsync(fd); /* not every file system can; the file itself is safe */
        close(fd);
    }
    return ERR_OK;
}

static enum err write_zip(struct work *w)
{
    char temp[PATH_ROOM + 32];
    snprintf(temp, sizeof temp, "%s.part-XXXXXX", w->order->out);
    const int fd = mkstemp(temp);
    if (fd < 0)
        return fault_set(w->fault, errno == EACCES || errno == EPERM ? ERR_OPEN : ERR_IO,
                         "the zip cannot be written: %s", strerror(errno));
    close(fd);
    /* The name was ours alone; made once more under the mask. */
    unlink(temp);
    enum err err = see_mode(w, temp);
    if (err == ERR_OK)
        err = bag_zip_write(temp, w->items, w->n_items, w->fault);
    if (err == ERR_OK)
        err = read_back(w, temp);
    if (err == ERR_OK)
        err = make_sure(w, temp);
    if (err == ERR_OK)
        err = put_in_place(w, temp);
    if (err != ERR_OK)
        unlink(temp);
    return err;
}

/* ---- all --------------------------------------------------------------------------------------*/

static enum err make(struct work *w)
{
    enum err err = list_files(w);
    if (err == ERR_OK) {
        snprintf(w->fault->file, sizeof w->fault->file, "%s", w->order->out);
        err = check_out(w);
    }
    if (err == ERR_OK) {
        snprintf(w->fault->file, sizeof w->fault->file, "%s", w->order->folder);
        w->made.files = w->files.n;
        w->made.bytes = w->files.bytes;
        err = write_manifest(w);
    }
    if (err == ERR_OK)
        err = write_tags(w);
    if (err == ERR_OK)
        err = name_folder(w);
    if (err == ERR_OK)
        err = gather(w);
    if (err == ERR_OK) {
        snprintf(w->fault->file, sizeof w->fault->file, "%s", w->order->out);
        err = write_zip(w);
    }
    return err;
}

enum err bag_make(const struct bag_order *order, struct bag_made *ret, struct fault *reterr)
{
    struct fault f = {0};
    struct work w = {.order = order, .fault = &f};
    const enum err err = make(&w);
    if (err == ERR_OK)
        *ret = w.made;
    else
        *reterr = f;
    for (size_t i = 0; i < w.n_owned; i++)
        free(w.owned[i]);
    free(w.owned);
    free(w.items);
    text_done(&w.declaration);
    text_done(&w.info);
    text_done(&w.manifest);
    text_done(&w.tag_manifest);
    text_done(&w.signature);
    bag_files_close(&w.files);
    return err;
}

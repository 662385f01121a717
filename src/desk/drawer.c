/* drawer: owns the folder of drafts. One writer at a time: the folder is locked, so this holds between processes, too. */
#include "desk/drawer.h"

#include "base/digest.h"
#include "base/file.h"
#include "base/save.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_ROOM = 700 };
static const char ending[] = ".yaml";

/* ---- names -------------------------------------------------------------------------------------- */

static bool is_name(const char *name)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789";
    const size_t n = strlen(name);
    return n > 0 && n <= DRAWER_NAME_MAX && strchr(letters, name[0]) != NULL &&
           strspn(name, "-._ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789") == n;
}

static enum err path_of(const char *store, const char *name, char path[PATH_ROOM], struct fault *f)
{
    if (!is_name(name))
        return fault_set(f, ERR_UNKNOWN,
                         "a draft is named by 1 to %d letters, digits, '-', '.' and '_', a letter "
                         "or digit first",
                         DRAWER_NAME_MAX);
    const int n = snprintf(path, PATH_ROOM, "%s/drafts/%s%s", store, name, ending);
    return n < PATH_ROOM ? ERR_OK : fault_set(f, ERR_LIMIT, "the store's path is too long");
}

/* The folder, made when it is not there, and locked; -1 after f was set. */
static int lock(const char *store, struct fault *f)
{
    char path[PATH_ROOM];
    if (snprintf(path, sizeof path, "%s/drafts", store) >= (int)sizeof path) {
        (void)fault_set(f, ERR_LIMIT, "the store's path is too long");
        return -1;
    }
    int fd = -1;
    if (mkdir(path, 0700) == 0 || errno == EEXIST)
        fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0 && flock(fd, LOCK_EX) == 0)
        return fd;
    if (fd >= 0)
        (void)close(fd);
    (void)fault_set(f, ERR_IO, "the folder of drafts cannot be used");
    return -1;
}

/* ---- the list ----------------------------------------------------------------------------------- */

struct entry {
    char name[DRAWER_NAME_MAX + 1];
    int64_t bytes, changed_ms;
};

/* "OV-26-03" of "OV-26-03.yaml"; false: none of ours. */
static bool name_in(const char *file, char name[DRAWER_NAME_MAX + 1])
{
    const size_t n = strlen(file), k = sizeof ending - 1;
    if (n <= k || n - k > DRAWER_NAME_MAX || strcmp(file + n - k, ending) != 0)
        return false;
    memcpy(name, file, n - k);
    name[n - k] = '\0';
    return is_name(name);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(((const struct entry *)a)->name, ((const struct entry *)b)->name);
}

static size_t list(DIR *dir, struct entry *entries)
{
    size_t n = 0;
    for (const struct dirent *d = readdir(dir); d != NULL && n < DRAWER_DRAFTS_MAX;
         d = readdir(dir)) {
        struct stat st;
        if (!name_in(d->d_name, entries[n].name) || fstatat(dirfd(dir), d->d_name, &st, 0) != 0 ||
            !S_ISREG(st.st_mode))
            continue;
        entries[n].bytes = st.st_size;
        entries[n++].changed_ms = (int64_t)st.st_mtim.tv_sec * 1000 + st.st_mtim.tv_nsec / 1000000;
    }
    return n;
}

/* SIZE_MAX after f was set. entries[DRAWER_DRAFTS_MAX] */
static size_t read_folder(const char *store, struct entry *entries, struct fault *f)
{
    char path[PATH_ROOM];
    size_t n = 0;
    (void)snprintf(path, sizeof path, "%s/drafts", store);
    DIR *dir = opendir(path);
    if (dir == NULL && errno != ENOENT) {
        (void)fault_set(f, ERR_IO, "the folder of drafts cannot be read");
        return SIZE_MAX;
    }
    if (dir != NULL) {
        n = list(dir, entries);
        (void)closedir(dir);
    }
    qsort(entries, n, sizeof *entries, by_name);
    return n;
}

enum err drawer_list(const char *store, struct jsonw *w, struct fault *reterr)
{
    struct entry *entries = calloc(DRAWER_DRAFTS_MAX, sizeof *entries);
    if (entries == NULL)
        return fault_no_memory(reterr);
    const size_t n = read_folder(store, entries, reterr);
    jsonw_array(w, "drafts");
    for (size_t i = 0; n != SIZE_MAX && i < n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "name", entries[i].name);
        jsonw_int(w, "bytes", entries[i].bytes);
        jsonw_int(w, "changed_ms", entries[i].changed_ms);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    free(entries);
    return n == SIZE_MAX ? reterr->code : ERR_OK;
}

/* ---- one draft ---------------------------------------------------------------------------------- */

static enum err sum(const char *text, size_t n, char sha256[65], struct fault *f)
{
    uint8_t digest[DIGEST_SHA256_SIZE];
    const enum err err = digest_bytes(DIGEST_SHA256, text != NULL ? text : "", n, digest);
    if (err != ERR_OK)
        return fault_set(f, err, "the digest could not be computed");
    digest_hex(digest, sizeof digest, sha256);
    return ERR_OK;
}

static enum err get(const char *path, struct text *ret, char sha256[65], struct fault *f)
{
    if (access(path, F_OK) != 0)
        return fault_set(f, ERR_UNKNOWN, "there is no draft of that name");
    const enum err err = file_read(path, DRAWER_DRAFT_MAX, ret, f);
    return err == ERR_OK ? sum(ret->data, ret->size, sha256, f) : err;
}

enum err drawer_get(const char *store, const char *name, struct text *ret, char sha256[65],
                    struct fault *reterr)
{
    char path[PATH_ROOM];
    const enum err err = path_of(store, name, path, reterr);
    return err == ERR_OK ? get(path, ret, sha256, reterr) : err;
}

/* Whether what lies there is what the writer had before them. The folder is locked. */
static enum err hold_against(const char *path, const char *seen, char sha256[65], struct fault *f)
{
    struct text there = {0};
    const enum err err = get(path, &there, sha256, f);
    text_done(&there);
    if (err == ERR_UNKNOWN)
        return seen == NULL
                   ? ERR_OK
                   : fault_set(f, ERR_UNKNOWN, "the draft was thrown away in the meantime");
    if (err != ERR_OK)
        return err;
    if (seen == NULL)
        return fault_set(f, ERR_DUPLICATE, "there is a draft of that name already");
    return strcmp(seen, sha256) == 0
               ? ERR_OK
               : fault_set(f, ERR_DUPLICATE, "somebody changed the draft in the meantime");
}

enum err drawer_put(const char *store, const char *name, const char *text, size_t n,
                    const char *seen, char sha256[65], struct fault *reterr)
{
    char path[PATH_ROOM];
    sha256[0] = '\0';
    enum err err = path_of(store, name, path, reterr);
    if (err != ERR_OK)
        return err;
    if (n > DRAWER_DRAFT_MAX)
        return fault_set(reterr, ERR_LIMIT, "a draft has at most %d bytes", DRAWER_DRAFT_MAX);
    if (!text_is_utf8(text, n, NULL))
        return fault_set(reterr, ERR_ENCODING, "the draft is not UTF-8");
    const int fd = lock(store, reterr);
    if (fd < 0)
        return reterr->code;
    struct entry *entries = calloc(DRAWER_DRAFTS_MAX, sizeof *entries);
    if (entries == NULL)
        err = fault_no_memory(reterr);
    if (err == ERR_OK && seen == NULL && read_folder(store, entries, reterr) >= DRAWER_DRAFTS_MAX)
        err = fault_set(reterr, ERR_LIMIT, "there are %d drafts already; throw some away",
                        DRAWER_DRAFTS_MAX);
    free(entries);
    if (err == ERR_OK)
        err = hold_against(path, seen, sha256, reterr);
    if (err == ERR_OK)
        err = save_file(path, text, n, reterr);
    if (err == ERR_OK)
        err = sum(text, n, sha256, reterr);
    (void)close(fd);
    return err;
}

enum err drawer_drop(const char *store, const char *name, const char *seen, struct fault *reterr)
{
    char path[PATH_ROOM], sha256[65];
    enum err err = path_of(store, name, path, reterr);
    if (err != ERR_OK)
        return err;
    const int fd = lock(store, reterr);
    if (fd < 0)
        return reterr->code;
    err = hold_against(path, seen, sha256, reterr);
    if (err == ERR_OK && unlink(path) != 0)
        err = fault_set(reterr, ERR_IO, "the draft cannot be removed");
    (void)close(fd);
    return err;
}

/* bag_dir: owns walking a folder and reading its files without ever leaving it. */
#include "proof/bag_dir.h"

#include "proof/bag_path.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct dir {
    int fd;
    unsigned char piece[BAG_PIECE];
};

struct walk {
    struct bag_files *files;
    struct bag_result *result;
    struct fault *fault;
    char path[BAG_PATH_MAX + 1];
    bool is_over; /* too many, too deep: stop quietly */
};

/* ---- reading ----------------------------------------------------------------------------------*/

/* Part by part, so that a folder on the way cannot be a link either. */
static int open_inside(int root, const char *path, int flags)
{
    int folder = root;
    for (;;) {
        const char *slash = strchr(path, '/');
        char part[256];
        const size_t n = slash ? (size_t)(slash - path) : strlen(path);
        int next = -1;
        if (n >= sizeof part) {
            errno = ENAMETOOLONG;
        } else {
            memcpy(part, path, n);
            part[n] = '\0';
            next = openat(folder, part,
                          O_CLOEXEC | O_NOFOLLOW | (slash ? O_RDONLY | O_DIRECTORY : flags));
        }
        const int number = errno;
        if (folder != root)
            close(folder);
        errno = number;
        if (slash == NULL || next < 0)
            return next;
        folder = next;
        path = slash + 1;
    }
}

int bag_dir_open_file(const struct bag_files *files, const char *path)
{
    const struct dir *dir = files->state;
    return open_inside(dir->fd, path, O_RDONLY | O_NOCTTY | O_NONBLOCK);
}

static enum err stream(struct bag_files *files, int fd, bag_take *take, void *to,
                       enum bag_kind *ret_kind, struct fault *f)
{
    struct dir *dir = files->state;
    uint64_t n_read = 0;
    for (;;) {
        const ssize_t n = read(fd, dir->piece, sizeof dir->piece);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return fault_set(f, ERR_IO, "cannot be read: %s", strerror(errno));
        if (n == 0)
            return ERR_OK;
        n_read += (uint64_t)n;
        if (n_read > files->limits.file_bytes) { /* it grows while it is read */
            *ret_kind = BAG_LIMIT;
            return fault_set(f, ERR_LIMIT, "is larger than allowed");
        }
        take(to, dir->piece, (size_t)n);
    }
}

static enum err dir_read(struct bag_files *files, const struct bag_file *file, bag_take *take,
                         void *to, enum bag_kind *ret_kind, struct fault *reterr)
{
    struct stat st;
    const int fd = bag_dir_open_file(files, file->path);
    enum err err = ERR_OK;
    *ret_kind = BAG_UNREADABLE;
    if (fd < 0 && (errno == EMFILE || errno == ENFILE || errno == ENOMEM || errno == EIO))
        return fault_set(reterr, ERR_IO, "cannot be opened: %s", strerror(errno));
    if (fd < 0)
        return fault_set(reterr, ERR_OPEN, "cannot be opened: %s", strerror(errno));
    if (fstat(fd, &st) != 0 || !S_ISREG(st.st_mode))
        err = fault_set(reterr, ERR_OPEN, "is no longer a file");
    else
        err = stream(files, fd, take, to, ret_kind, reterr);
    close(fd);
    return err;
}

static void dir_close(struct bag_files *files)
{
    struct dir *dir = files->state;
    if (dir->fd >= 0)
        close(dir->fd);
    free(dir);
}

static const struct bag_source source = {.read = dir_read, .close = dir_close};

/* ---- listing ----------------------------------------------------------------------------------*/

static enum err walk_folder(struct walk *w, int fd, size_t n_path, int depth);

static enum err add_file(struct walk *w, const struct stat *st)
{
    const uint64_t size = st->st_size > 0 ? (uint64_t)st->st_size : 0;
    const struct bag_limits *limits = &w->files->limits;
    w->files->bytes += size;
    if (size > limits->file_bytes || w->files->bytes > limits->bytes) {
        bag_fault_add(w->result, BAG_LIMIT, w->path, "is larger than allowed");
        w->is_over = true;
        return ERR_OK;
    }
    const enum err err = bag_files_add(w->files, w->path, size, 0);
    if (err == ERR_OK)
        w->files->files[w->files->n - 1].changed_s = (int64_t)st->st_mtime;
    if (err != ERR_LIMIT)
        return err == ERR_OK ? err : fault_set(w->fault, err, "memory ran out");
    bag_fault_add(w->result, BAG_LIMIT, NULL, "holds more than %llu files",
                  (unsigned long long)limits->files);
    w->is_over = true;
    return ERR_OK;
}

static enum err walk_entry(struct walk *w, int fd, const char *name, size_t n_path, int depth)
{
    struct stat st;
    if (fstatat(fd, name, &st, AT_SYMLINK_NOFOLLOW) != 0)
        return errno == ENOENT ? ERR_OK
                               : fault_set(w->fault, ERR_IO, "%s cannot be looked at: %s", w->path,
                                           strerror(errno));
    if (S_ISLNK(st.st_mode))
        bag_fault_add(w->result, BAG_LINK, w->path, "is a symbolic link; expected the file itself");
    else if (S_ISREG(st.st_mode))
        return add_file(w, &st);
    else if (!S_ISDIR(st.st_mode))
        bag_fault_add(w->result, BAG_DEVICE, w->path,
                      "is a device, pipe or socket; expected a file");
    else if (depth == BAG_PATH_DEPTH_MAX) {
        bag_fault_add(w->result, BAG_LIMIT, w->path, "lies more than %d folders deep",
                      (int)BAG_PATH_DEPTH_MAX);
        w->is_over = true;
    } else {
        if (strcmp(w->path, "data") == 0)
            w->files->has_payload_folder = true;
        const int next = openat(fd, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
        if (next >= 0)
            return walk_folder(w, next, n_path, depth + 1);
        bag_fault_add(w->result, BAG_UNREADABLE, w->path, "cannot be opened: %s", strerror(errno));
    }
    return ERR_OK;
}

/* Puts the name behind the path so far; 0 when it cannot be listed, and says so. */
static size_t step_into(struct walk *w, size_t n_path, const char *name)
{
    const size_t n_name = strlen(name), start = n_path ? n_path + 1 : 0;
    if (start + n_name > BAG_PATH_MAX) {
        bag_fault_add(w->result, BAG_LIMIT, w->path, "holds a path longer than %d bytes",
                      (int)BAG_PATH_MAX);
        return 0;
    }
    if (!text_is_utf8(name, n_name, NULL)) {
        bag_fault_add(w->result, BAG_ENCODING, name, "the name is not valid UTF-8");
        return 0;
    }
    if (n_path)
        w->path[n_path] = '/';
    memcpy(w->path + start, name, n_name + 1);
    return start + n_name;
}

/* Takes over fd. */
static enum err walk_folder(struct walk *w, int fd, size_t n_path, int depth)
{
    DIR *dir = fdopendir(fd);
    enum err err = ERR_OK;
    if (dir == NULL) {
        close(fd);
        return fault_no_memory(w->fault);
    }
    while (err == ERR_OK && !w->is_over) {
        errno = 0;
        const struct dirent *entry = readdir(dir);
        if (entry == NULL) {
            if (errno != 0)
                err = fault_set(w->fault, ERR_IO, "cannot be listed: %s", strerror(errno));
            break;
        }
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        const size_t n = step_into(w, n_path, entry->d_name);
        if (n > 0)
            err = walk_entry(w, fd, entry->d_name, n, depth);
        w->path[n_path] = '\0';
    }
    closedir(dir);
    return err;
}

enum err bag_dir_open(int fd, struct bag_files *files, struct bag_result *result,
                      bool *ret_is_usable, struct fault *reterr)
{
    struct dir *dir = malloc(sizeof *dir);
    struct walk *w = calloc(1, sizeof *w);
    enum err err = ERR_OK;
    if (dir == NULL || w == NULL) {
        close(fd);
        free(dir);
        free(w);
        return fault_no_memory(reterr);
    }
    dir->fd = fd;
    files->state = dir;
    files->source = &source;
    *w = (struct walk){.files = files, .result = result, .fault = reterr};
    const int again = openat(fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (again < 0)
        err = fault_set(reterr, ERR_IO, "cannot be opened: %s", strerror(errno));
    else
        err = walk_folder(w, again, 0, 1);
    if (err == ERR_OK)
        bag_files_sort(files);
    *ret_is_usable = !w->is_over;
    free(w);
    return err;
}

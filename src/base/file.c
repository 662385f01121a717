/* file: owns opening files and standard input, and reading them whole within a bound. Text of any meaning is someone
 * else's. */
#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FILE_PIECE = 64 * 1024 };

static const size_t mebibyte = 1048576;

/* A call that names the wrong thing is the caller's to mend (ERR_OPEN); a disk that fails is not (ERR_IO). */
static enum err fault_errno(struct fault *f, int number)
{
    switch (number) {
    case ENOENT:
        return fault_set(f, ERR_OPEN, "no such file");
    case ENOTDIR:
        return fault_set(f, ERR_OPEN, "no such file: a part of its path is not a folder");
    case EACCES:
    case EPERM:
        return fault_set(f, ERR_OPEN, "may not be read: permission denied");
    case EISDIR:
        return fault_set(f, ERR_OPEN, "is a folder; expected a file");
    case ELOOP:
        return fault_set(f, ERR_OPEN, "no such file: its links go round in a circle");
    case ENXIO:
        return fault_set(f, ERR_OPEN, "is a device or socket; expected a file");
    case ENAMETOOLONG:
        return fault_set(f, ERR_OPEN, "no such file: its name is too long");
    case EBADF:
        return fault_set(f, ERR_OPEN, "is closed; expected a file");
    default:
        return fault_set(f, ERR_IO, "cannot be read: %s", strerror(number));
    }
}

static enum err fault_big(struct fault *f, size_t max)
{
    if (max >= mebibyte)
        return fault_set(f, ERR_LIMIT, "is larger than %zu MiB; expected a smaller file",
                         max / mebibyte);
    return fault_set(f, ERR_LIMIT, "is larger than %zu bytes; expected a smaller file", max);
}

/* Whether what fd shows can be read to an end. Standard input may also be a terminal or /dev/null.
 */
static enum err check_kind(const struct stat *st, bool is_stdin, size_t max, struct fault *f)
{
    if (S_ISDIR(st->st_mode))
        return fault_errno(f, EISDIR);
    if (!is_stdin && !S_ISREG(st->st_mode) && !S_ISFIFO(st->st_mode))
        return fault_set(f, ERR_OPEN, "is a device or socket; expected a file");
    if (S_ISREG(st->st_mode) && st->st_size > 0 && (uintmax_t)st->st_size > max)
        return fault_big(f, max);
    return ERR_OK;
}

enum err file_piece(int fd, char *buf, size_t room, size_t *ret_n, struct fault *reterr)
{
    for (;;) {
        const ssize_t n = read(fd, buf, room);
        if (n >= 0) {
            *ret_n = (size_t)n;
            return ERR_OK;
        }
        if (errno != EINTR)
            return fault_errno(reterr, errno);
    }
}

static enum err read_all(int fd, size_t max, struct text *ret, struct fault *f)
{
    char piece[FILE_PIECE];
    size_t n_read = 0;
    for (;;) {
        size_t n = 0;
        const enum err e = file_piece(fd, piece, sizeof piece, &n, f);
        if (e != ERR_OK || n == 0)
            return e;
        if (n > max - n_read)
            return fault_big(f, max);
        n_read += n;
        text_add(ret, piece, n);
        if (ret->is_broken)
            return fault_set(f, ERR_MEMORY, "memory ran out while reading");
    }
}

enum err file_open(const char *path, size_t max, int *ret_fd, uint64_t *ret_size,
                   struct fault *reterr)
{
    struct fault f = {0};
    struct stat st = {.st_mode = 0};
    const bool is_stdin = strcmp(path, "-") == 0;
    int fd = STDIN_FILENO;
    enum err err = ERR_OK;

    snprintf(f.file, sizeof f.file, "%s", path);
    if (path[0] == '\0')
        err = fault_set(&f, ERR_OPEN, "the file's name is empty");
    /* Asked before opening, because opening a device can already do something to it. */
    else if ((is_stdin ? fstat(fd, &st) : stat(path, &st)) != 0)
        err = fault_errno(&f, errno);
    else
        err = check_kind(&st, is_stdin, max, &f);
    if (err == ERR_OK && !is_stdin) {
        fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
        if (fd < 0)
            err = fault_errno(&f, errno);
    }
    if (err != ERR_OK) {
        *reterr = f;
        return err;
    }
    *ret_fd = fd;
    *ret_size = S_ISREG(st.st_mode) && st.st_size > 0 ? (uint64_t)st.st_size : 0;
    return ERR_OK;
}

void file_close(int fd)
{
    if (fd > STDIN_FILENO)
        close(fd);
}

enum err file_read(const char *path, size_t max, struct text *ret, struct fault *reterr)
{
    struct fault f = {0};
    int fd = -1;
    uint64_t size = 0;
    enum err err = file_open(path, max, &fd, &size, &f);
    if (err == ERR_OK) {
        snprintf(f.file, sizeof f.file, "%s", path);
        err = read_all(fd, max, ret, &f);
        file_close(fd);
    }
    if (err != ERR_OK)
        *reterr = f;
    return err;
}

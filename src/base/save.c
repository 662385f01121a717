/* save: owns writing a small file so that it is whole or not there. */
#include "base/save.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_ROOM = 4096, SUFFIX = 16 };

static enum err fail(struct fault *f, const char *what)
{
    const int why = errno;
    const bool is_open = why == ENOENT || why == ENOTDIR || why == EACCES || why == EPERM ||
                         why == EROFS || why == EISDIR || why == ENAMETOOLONG || why == ELOOP;
    return fault_set(f, is_open ? ERR_OPEN : ERR_IO, "%s: %s", what, strerror(why));
}

static enum err write_all(int fd, const char *bytes, size_t n, struct fault *f)
{
    while (n > 0) {
        const ssize_t written = write(fd, bytes, n);
        if (written < 0 && errno == EINTR)
            continue;
        if (written < 0)
            return fail(f, "cannot be written");
        bytes += written;
        n -= (size_t)written;
    }
    return fsync(fd) == 0 ? ERR_OK : fail(f, "cannot be brought to the disk");
}

/* The name of a new file beside the wanted one. */
static int make_part(const char *path, char part[PATH_ROOM + SUFFIX])
{
    snprintf(part, PATH_ROOM + SUFFIX, "%s.part-XXXXXX", path);
    return mkstemp(part);
}

enum err save_file(const char *path, const void *bytes, size_t n, struct fault *reterr)
{
    char part[PATH_ROOM + SUFFIX];
    struct stat st;
    struct fault f = {0};
    snprintf(f.file, sizeof f.file, "%s", path);
    enum err e = ERR_OK;
    if (path[0] == '\0' || strlen(path) >= PATH_ROOM)
        e = fault_set(&f, ERR_OPEN, "the file's name is empty or too long");
    else if (stat(path, &st) == 0 && !S_ISREG(st.st_mode))
        e = fault_set(&f, ERR_OPEN, "is a folder or a device; expected the name of a file");
    if (e != ERR_OK) {
        *reterr = f;
        return e;
    }
    const int fd = make_part(path, part);
    if (fd < 0) {
        e = fail(&f, "cannot be made");
        *reterr = f;
        return e;
    }
    const mode_t mask = umask(0); /* mkstemp lets nobody else read; an ordinary file may be read */
    (void)umask(mask);
    e = fchmod(fd, 0666 & ~mask) == 0 ? write_all(fd, bytes, n, &f) : fail(&f, "cannot be made");
    if (close(fd) != 0 && e == ERR_OK)
        e = fail(&f, "cannot be written");
    if (e == ERR_OK && rename(part, path) != 0)
        e = fail(&f, "cannot be put in place");
    if (e != ERR_OK) {
        (void)unlink(part);
        *reterr = f;
    }
    return e;
}

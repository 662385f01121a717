/* disk_calls: owns the seam between the store's own code and the pretended disk: the linker hands calls of open, write ... to these
 * (-Wl,--wrap=NAME), which pass them on for everything that is not on that disk. */
#include "disk_inner.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FDS = 1024 };

static int nodes[FDS]; /* of open files, plus 1 */

/* NOLINTBEGIN(bugprone-reserved-identifier): the linker names them so */
int __real_open(const char *path, int flags, ...);
int __real_close(int fd);
ssize_t __real_write(int fd, const void *bytes, size_t n);
int __real_fsync(int fd);
int __real_rename(const char *from, const char *to);
int __real_unlink(const char *path);
int __real_mkdir(const char *path, mode_t mode);
int __wrap_open(const char *path, int flags, ...);
int __wrap_open64(const char *path, int flags, ...);
int __wrap_close(int fd);
ssize_t __wrap_write(int fd, const void *bytes, size_t n);
int __wrap_fsync(int fd);
int __wrap_rename(const char *from, const char *to);
int __wrap_unlink(const char *path);
int __wrap_mkdir(const char *path, mode_t mode);

static int fail(void)
{
    errno = disk_errno();
    return -1;
}

static int fail_off(void)
{
    errno = EIO;
    return -1;
}

static int open_any(const char *path, int flags, mode_t mode)
{
    const bool is_ours = disk_is_below(path);
    const bool is_new = is_ours && (flags & O_CREAT) != 0 && disk_find(path) < 0;
    const enum disk_says says =
        is_ours ? disk_ask(is_new ? DISK_NAME : DISK_OPEN, path, is_new) : DISK_GO;
    if (says == DISK_FAIL)
        return fail();
    if (is_new && says == DISK_LAST)
        disk_made(path, false);
    if (says == DISK_LAST)
        return fail_off();
    const int fd = __real_open(path, flags, mode);
    if (fd >= 0 && is_new)
        disk_made(path, false);
    if (fd >= 0 && fd < FDS)
        nodes[fd] = is_ours ? disk_find(path) + 1 : 0;
    return fd;
}

int __wrap_open(const char *path, int flags, ...)
{
    va_list ap;
    va_start(ap, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(ap, mode_t) : 0;
    va_end(ap);
    return open_any(path, flags, mode);
}

/* What the headers make of open where files may be large. */
int __wrap_open64(const char *path, int flags, ...)
{
    va_list ap;
    va_start(ap, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(ap, mode_t) : 0;
    va_end(ap);
    return open_any(path, flags, mode);
}

static int node_of(int fd)
{
    return disk_is_on() && fd >= 0 && fd < FDS ? nodes[fd] - 1 : -1;
}

int __wrap_close(int fd)
{
    if (fd >= 0 && fd < FDS)
        nodes[fd] = 0;
    return __real_close(fd);
}

ssize_t __wrap_write(int fd, const void *bytes, size_t n)
{
    const int node = node_of(fd);
    if (node < 0)
        return __real_write(fd, bytes, n);
    const int64_t at = lseek(fd, 0, SEEK_CUR);
    const enum disk_says says = disk_ask(DISK_WRITE, "a photo", true);
    if (says == DISK_LAST) {
        disk_wrote(node, at, bytes, n);
        return fail_off();
    }
    if (says == DISK_FAIL) { /* half of it, and the rest of it fails: as a full disk does it */
        const size_t half = disk_dice(2) == 0 ? 0 : n / 2;
        if (half > 0 && __real_write(fd, bytes, half) == (ssize_t)half)
            disk_wrote(node, at, bytes, half);
        if (disk_is_kill_due())
            disk_kill();
        return half > 0 && disk_dice(2) == 0 ? (ssize_t)half : fail();
    }
    const ssize_t put = __real_write(fd, bytes, n);
    if (put > 0)
        disk_wrote(node, at, bytes, (size_t)put);
    return put;
}

int __wrap_fsync(int fd)
{
    const int node = node_of(fd);
    if (node < 0)
        return __real_fsync(fd);
    const enum disk_says says = disk_ask(DISK_SYNC, "a photo or a folder", false);
    if (says == DISK_LAST)
        return fail_off();
    if (says == DISK_FAIL) {
        disk_sync_failed(node);
        return fail();
    }
    disk_synced(node); /* the real disk need not be waited for */
    return 0;
}

int __wrap_rename(const char *from, const char *to)
{
    const bool is_ours = disk_is_below(from) || disk_is_below(to);
    const enum disk_says says = is_ours ? disk_ask(DISK_NAME, to, false) : DISK_GO;
    if (says == DISK_FAIL)
        return fail();
    if (says == DISK_GO && __real_rename(from, to) != 0)
        return -1;
    disk_renamed(from, to);
    return says == DISK_LAST ? fail_off() : 0;
}

int __wrap_unlink(const char *path)
{
    const enum disk_says says = disk_is_below(path) ? disk_ask(DISK_NAME, path, false) : DISK_GO;
    if (says == DISK_FAIL)
        return fail();
    if (says == DISK_GO && __real_unlink(path) != 0)
        return -1;
    disk_removed(path);
    return says == DISK_LAST ? fail_off() : 0;
}

int __wrap_mkdir(const char *path, mode_t mode)
{
    const bool is_ours = disk_is_below(path) && disk_find(path) < 0;
    const enum disk_says says = is_ours ? disk_ask(DISK_NAME, path, true) : DISK_GO;
    if (says == DISK_FAIL)
        return fail();
    if (says == DISK_GO && __real_mkdir(path, mode) != 0)
        return -1;
    if (is_ours)
        disk_made(path, true);
    return says == DISK_LAST ? fail_off() : 0;
}
/* NOLINTEND(bugprone-reserved-identifier) */

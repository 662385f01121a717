/* disk_vfs: owns the seam between SQLite and the pretended disk: a VFS around the usual one, which does the work on real files and so
 * holds what the running program sees. What SQLite's own VFS for Unix does beside the call is told to the model as well: the folder of a new
 * journal or write-ahead log is synced with its first sync, and that of a file taken away when asked to. */
#include "disk_inner.h"

#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { SECTOR = 4096, PATH_ROOM = 1024 };

struct file {
    sqlite3_file base;
    int node;            /* -1: a file without a name, which goes away by itself */
    bool is_folder_owed; /* its folder has to be synced with it */
    char path[PATH_ROOM];
};

static sqlite3_vfs *real; /* the usual one */
static sqlite3_vfs ours;
static bool is_safe;
static int told_errno;

static size_t own_size(void)
{
    return (sizeof(struct file) + 15) / 16 * 16;
}

/* The real file lies behind ours. */
static sqlite3_file *under(sqlite3_file *f)
{
    return (sqlite3_file *)((char *)f + own_size());
}

static struct file *of(sqlite3_file *f)
{
    return (struct file *)f;
}

/* What SQLite is told when an operation of this kind fails. */
static int failed(int code)
{
    told_errno = disk_errno();
    if (told_errno == ENOSPC && code == SQLITE_IOERR_WRITE)
        return SQLITE_FULL;
    if (told_errno == EBUSY)
        return SQLITE_BUSY;
    return code;
}

static int gone(int code)
{
    told_errno = EIO;
    return code;
}

static int x_close(sqlite3_file *f)
{
    return under(f)->pMethods != NULL ? under(f)->pMethods->xClose(under(f)) : SQLITE_OK;
}

static int x_read(sqlite3_file *f, void *buf, int n, sqlite3_int64 at)
{
    if (disk_ask(DISK_READ, of(f)->path, false) != DISK_GO)
        return failed(SQLITE_IOERR_READ);
    return under(f)->pMethods->xRead(under(f), buf, n, at);
}

static int x_write(sqlite3_file *f, const void *bytes, int n, sqlite3_int64 at)
{
    const int node = of(f)->node;
    const bool is_growing = node < 0 || at + n > disk_size(node);
    const enum disk_says says = disk_ask(DISK_WRITE, of(f)->path, is_growing);
    if (says == DISK_LAST) {
        disk_wrote(node, at, bytes, (size_t)n);
        return gone(SQLITE_IOERR_WRITE);
    }
    if (says == DISK_FAIL) {
        const int half = disk_dice(2) == 0 ? 0 : (int)disk_dice((unsigned)n);
        if (half > 0 && under(f)->pMethods->xWrite(under(f), bytes, half, at) == SQLITE_OK)
            disk_wrote(node, at, bytes, (size_t)half);
        if (disk_is_kill_due())
            disk_kill();
        return failed(SQLITE_IOERR_WRITE);
    }
    const int code = under(f)->pMethods->xWrite(under(f), bytes, n, at);
    if (code == SQLITE_OK)
        disk_wrote(node, at, bytes, (size_t)n);
    return code;
}

static int x_truncate(sqlite3_file *f, sqlite3_int64 size)
{
    const enum disk_says says = disk_ask(DISK_SIZE, of(f)->path, false);
    if (says == DISK_FAIL)
        return failed(SQLITE_IOERR_TRUNCATE);
    const int code =
        says == DISK_GO ? under(f)->pMethods->xTruncate(under(f), size) : SQLITE_IOERR_TRUNCATE;
    if (says == DISK_LAST || code == SQLITE_OK)
        disk_sized(of(f)->node, size);
    return says == DISK_LAST ? gone(SQLITE_IOERR_TRUNCATE) : code;
}

static int x_sync(sqlite3_file *f, int flags)
{
    (void)flags;
    const enum disk_says says = disk_ask(DISK_SYNC, of(f)->path, false);
    if (says == DISK_FAIL) {
        disk_sync_failed(of(f)->node);
        return failed(SQLITE_IOERR_FSYNC);
    }
    if (says == DISK_LAST)
        return gone(SQLITE_IOERR_FSYNC);
    disk_synced(of(f)->node); /* the real disk need not be waited for */
    if (of(f)->is_folder_owed)
        disk_synced_folder_of(of(f)->path);
    of(f)->is_folder_owed = false;
    return SQLITE_OK;
}

static int x_size(sqlite3_file *f, sqlite3_int64 *ret)
{
    if (disk_ask(DISK_SIZE, of(f)->path, false) != DISK_GO)
        return failed(SQLITE_IOERR_FSTAT);
    return under(f)->pMethods->xFileSize(under(f), ret);
}

static int x_lock(sqlite3_file *f, int level)
{
    if (disk_ask(DISK_LOCK, of(f)->path, false) != DISK_GO)
        return failed(SQLITE_IOERR_LOCK);
    return under(f)->pMethods->xLock(under(f), level);
}

static int x_unlock(sqlite3_file *f, int level)
{
    return under(f)->pMethods->xUnlock(under(f), level);
}

static int x_check_lock(sqlite3_file *f, int *ret)
{
    if (disk_ask(DISK_LOCK, of(f)->path, false) != DISK_GO)
        return failed(SQLITE_IOERR_CHECKRESERVEDLOCK);
    return under(f)->pMethods->xCheckReservedLock(under(f), ret);
}

static int x_control(sqlite3_file *f, int op, void *arg)
{
    return under(f)->pMethods->xFileControl(under(f), op, arg);
}

static int x_sector(sqlite3_file *f)
{
    (void)f;
    return SECTOR;
}

static int x_device(sqlite3_file *f)
{
    (void)f;
    return is_safe ? SQLITE_IOCAP_POWERSAFE_OVERWRITE : 0;
}

static int x_shm_map(sqlite3_file *f, int i, int n, int is_made, void volatile **ret)
{
    if (disk_ask(DISK_SHARE, of(f)->path, is_made != 0) != DISK_GO)
        return failed(SQLITE_IOERR_SHMMAP);
    return under(f)->pMethods->xShmMap(under(f), i, n, is_made, ret);
}

static int x_shm_lock(sqlite3_file *f, int at, int n, int flags)
{
    if ((flags & SQLITE_SHM_LOCK) != 0 && disk_ask(DISK_LOCK, of(f)->path, false) != DISK_GO)
        return failed(SQLITE_IOERR_SHMLOCK);
    return under(f)->pMethods->xShmLock(under(f), at, n, flags);
}

static void x_shm_barrier(sqlite3_file *f)
{
    under(f)->pMethods->xShmBarrier(under(f));
}

static int x_shm_unmap(sqlite3_file *f, int is_removed)
{
    return under(f)->pMethods->xShmUnmap(under(f), is_removed);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2, /* nothing is mapped but shared memory */
    .xClose = x_close,
    .xRead = x_read,
    .xWrite = x_write,
    .xTruncate = x_truncate,
    .xSync = x_sync,
    .xFileSize = x_size,
    .xLock = x_lock,
    .xUnlock = x_unlock,
    .xCheckReservedLock = x_check_lock,
    .xFileControl = x_control,
    .xSectorSize = x_sector,
    .xDeviceCharacteristics = x_device,
    .xShmMap = x_shm_map,
    .xShmLock = x_shm_lock,
    .xShmBarrier = x_shm_barrier,
    .xShmUnmap = x_shm_unmap,
};

static int x_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *f, int flags, int *ret_flags)
{
    const int journals = SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_SUPER_JOURNAL | SQLITE_OPEN_WAL;
    const bool is_new =
        disk_is_below(path) && (flags & SQLITE_OPEN_CREATE) != 0 && disk_find(path) < 0;
    (void)vfs;
    f->pMethods = NULL;
    const enum disk_says says = disk_ask(is_new ? DISK_NAME : DISK_OPEN, path, is_new);
    if (says == DISK_FAIL)
        return failed(SQLITE_CANTOPEN);
    if (is_new && says == DISK_LAST)
        disk_made(path, false);
    if (says == DISK_LAST)
        return gone(SQLITE_CANTOPEN);
    under(f)->pMethods = NULL;
    const int code = real->xOpen(real, path, under(f), flags, ret_flags);
    if (code != SQLITE_OK) {
        x_close(f);
        return code;
    }
    if (is_new)
        disk_made(path, false);
    of(f)->node = path != NULL ? disk_find(path) : -1;
    of(f)->is_folder_owed = (flags & SQLITE_OPEN_CREATE) != 0 && (flags & journals) != 0;
    snprintf(of(f)->path, sizeof of(f)->path, "%s", path != NULL ? path : "a file without a name");
    f->pMethods = &methods;
    return SQLITE_OK;
}

static int x_delete(sqlite3_vfs *vfs, const char *path, int is_folder_synced)
{
    const enum disk_says says = disk_ask(DISK_NAME, path, false);
    (void)vfs;
    if (says == DISK_FAIL)
        return failed(SQLITE_IOERR_DELETE);
    const int code = says == DISK_GO ? real->xDelete(real, path, 0) : SQLITE_OK;
    if (code == SQLITE_OK)
        disk_removed(path);
    if (says == DISK_LAST)
        return gone(SQLITE_IOERR_DELETE);
    if (code == SQLITE_OK && is_folder_synced != 0)
        disk_synced_folder_of(path);
    return code;
}

static int x_access(sqlite3_vfs *vfs, const char *path, int flags, int *ret)
{
    (void)vfs;
    if (disk_ask(DISK_SIZE, path, false) != DISK_GO)
        return failed(SQLITE_IOERR_ACCESS);
    return real->xAccess(real, path, flags, ret);
}

static int x_last_error(sqlite3_vfs *vfs, int n, char *buf)
{
    (void)vfs;
    const int number = told_errno;
    told_errno = 0;
    return number != 0 ? number : real->xGetLastError(real, n, buf);
}

void disk_use_vfs(bool is_safe_overwrite)
{
    is_safe = is_safe_overwrite;
    real = sqlite3_vfs_find(NULL);
    ours = *real;
    ours.szOsFile = (int)own_size() + real->szOsFile;
    ours.zName = "mendwright-disk";
    ours.pNext = NULL;
    ours.xOpen = x_open;
    ours.xDelete = x_delete;
    ours.xAccess = x_access;
    ours.xGetLastError = x_last_error;
    sqlite3_vfs_register(&ours, 1);
}

/* disk: owns how the campaign's files come to the disk. */
#include "demo/disk.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum err disk_path(char ret[DISK_PATH], const char *folder, const char *name, struct fault *reterr)
{
    const int n = snprintf(ret, DISK_PATH, "%s/%s", folder, name);
    if (n > 0 && n < DISK_PATH)
        return ERR_OK;
    snprintf(reterr->file, sizeof reterr->file, "%.200s", folder);
    return fault_set(reterr, ERR_LIMIT, "the name of the folder is too long");
}

static enum err fail(struct fault *f, const char *path, enum err code, const char *what)
{
    const int why = errno;
    snprintf(f->file, sizeof f->file, "%.250s", path);
    return fault_set(f, code, "%s: %s", what, strerror(why));
}

enum err disk_write(const char *folder, const char *name, const struct text *text,
                    struct fault *reterr)
{
    char path[DISK_PATH];
    if (text->is_broken)
        return fault_no_memory(reterr);
    const enum err e = disk_path(path, folder, name, reterr);
    if (e != ERR_OK)
        return e;
    FILE *file = fopen(path, "wb");
    if (file == NULL)
        return fail(reterr, path, ERR_OPEN, "cannot be written");
    const bool is_written =
        text->size == 0 || fwrite(text->data, 1, text->size, file) == text->size;
    const int why = errno;
    const bool is_closed = fclose(file) == 0;
    if (is_written && is_closed)
        return ERR_OK;
    if (!is_written)
        errno = why;
    return fail(reterr, path, ERR_IO, "cannot be written");
}

enum err disk_folder(const char *path, struct fault *reterr)
{
    struct stat st;
    if (mkdir(path, 0777) == 0 || (errno == EEXIST && stat(path, &st) == 0 && S_ISDIR(st.st_mode)))
        return ERR_OK;
    return fail(reterr, path, ERR_OPEN, "the folder cannot be made");
}

bool disk_is_empty(const char *path)
{
    DIR *dir = opendir(path);
    bool is_empty = true;
    if (dir == NULL)
        return errno == ENOENT;
    for (const struct dirent *d = readdir(dir); d != NULL && is_empty; d = readdir(dir))
        is_empty = strcmp(d->d_name, ".") == 0 || strcmp(d->d_name, "..") == 0;
    closedir(dir);
    return is_empty;
}

static void remove_files(const char *path)
{
    DIR *dir = opendir(path);
    if (dir == NULL)
        return;
    for (const struct dirent *d = readdir(dir); d != NULL; d = readdir(dir))
        (void)unlinkat(dirfd(dir), d->d_name, 0);
    closedir(dir);
}

void disk_remove(const char *path)
{
    char inner[DISK_PATH];
    struct fault ignored = {0};
    if (disk_path(inner, path, "photos", &ignored) == ERR_OK) {
        remove_files(inner);
        (void)rmdir(inner);
    }
    remove_files(path);
    (void)rmdir(path);
}

uint64_t disk_bytes(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 ? (uint64_t)st.st_size : 0;
}

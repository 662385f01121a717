/* bag_open: owns the choice between folder, zip and standard input. */
#include "proof/bag_dir.h"
#include "proof/bag_zip.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* A zip needs its end first, so standard input goes to a file that has no name and is gone with us. */
static enum err spool(uint64_t max, int *ret, struct fault *f)
{
    FILE *file = tmpfile();
    unsigned char *piece = malloc(BAG_PIECE);
    uint64_t total = 0;
    size_t n = 0;
    enum err err = ERR_OK;
    if (file == NULL || piece == NULL)
        err = fault_set(f, file ? ERR_MEMORY : ERR_IO, "no room for what comes in: %s",
                        strerror(errno));
    while (err == ERR_OK && (n = fread(piece, 1, BAG_PIECE, stdin)) > 0) {
        total += n;
        if (total > max)
            err = fault_set(f, ERR_LIMIT, "standard input is larger than %llu bytes",
                            (unsigned long long)max);
        else if (fwrite(piece, 1, n, file) != n)
            err = fault_set(f, ERR_IO, "no room for what comes in: %s", strerror(errno));
    }
    if (err == ERR_OK && ferror(stdin))
        err = fault_set(f, ERR_IO, "standard input cannot be read");
    if (err == ERR_OK && fflush(file) != 0)
        err = fault_set(f, ERR_IO, "no room for what comes in: %s", strerror(errno));
    if (err == ERR_OK) {
        *ret = fcntl(fileno(file), F_DUPFD_CLOEXEC, 3);
        if (*ret < 0)
            err = fault_set(f, ERR_IO, "%s", strerror(errno));
    }
    if (file != NULL)
        fclose(file);
    free(piece);
    return err;
}

static enum err fault_errno(struct fault *f, int number)
{
    const bool is_ours = number == EIO || number == EMFILE || number == ENFILE || number == ENOMEM;
    if (number == ENOENT || number == ENOTDIR)
        return fault_set(f, ERR_OPEN, "no such file or folder");
    return fault_set(f, is_ours ? ERR_IO : ERR_OPEN, "cannot be opened: %s", strerror(number));
}

/* Asked before opening, because opening a device can already do something to it. */
static enum err open_path(const char *path, int *ret, bool *ret_is_folder, struct fault *f)
{
    struct stat st;
    if (path[0] == '\0')
        return fault_set(f, ERR_OPEN, "the name is empty");
    if (stat(path, &st) != 0)
        return fault_errno(f, errno);
    if (!S_ISREG(st.st_mode) && !S_ISDIR(st.st_mode))
        return fault_set(f, ERR_OPEN, "is a device, pipe or socket; expected a folder or a zip");
    *ret_is_folder = S_ISDIR(st.st_mode);
    *ret = open(path,
                O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK | (*ret_is_folder ? O_DIRECTORY : 0));
    return *ret < 0 ? fault_errno(f, errno) : ERR_OK;
}

enum err bag_files_open(const char *path, const struct bag_limits *limits, struct bag_files *ret,
                        struct bag_result *result, bool *ret_is_usable, struct fault *reterr)
{
    int fd = -1;
    bool is_folder = false;
    *ret = (struct bag_files){.limits = limits ? *limits : bag_limits_usual};
    snprintf(reterr->file, sizeof reterr->file, "%s", path);
    const enum err err = strcmp(path, "-") == 0 ? spool(ret->limits.bytes, &fd, reterr)
                                                : open_path(path, &fd, &is_folder, reterr);
    if (err != ERR_OK)
        return err;
    return is_folder ? bag_dir_open(fd, ret, result, ret_is_usable, reterr)
                     : bag_zip_open(fd, ret, result, ret_is_usable, reterr);
}

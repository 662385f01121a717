/* s3_secret: owns where the key to an object store comes from: the environment or a file, never an address. */
#include "store/s3.h"

#include "base/file.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FILE_MAX = 4096 };

void s3_secret_wipe(struct s3_secret *secret)
{
    volatile char *at =
        (volatile char *)secret; /* a plain memset of what is not read again may be left out */
    for (size_t i = 0; i < sizeof *secret; i++)
        at[i] = 0;
}

/* Printable ASCII without spaces: what can stand in a header. */
static bool take(const char *s, size_t n, char ret[S3_SECRET_MAX])
{
    if (n == 0 || n >= S3_SECRET_MAX)
        return false;
    for (size_t i = 0; i < n; i++)
        if (s[i] <= ' ' || s[i] > '~')
            return false;
    memcpy(ret, s, n);
    ret[n] = '\0';
    return true;
}

/* The first two lines. */
static bool take_lines(const char *s, size_t n, struct s3_secret *ret)
{
    const char *end = s + n;
    char *const to[] = {ret->key, ret->secret};
    for (size_t i = 0; i < 2; i++) {
        const char *stop = memchr(s, '\n', (size_t)(end - s));
        if (stop == NULL)
            stop = end;
        if (!take(s, (size_t)(stop - s), to[i]))
            return false;
        s = stop < end ? stop + 1 : end;
    }
    return s == end;
}

static enum err read_from(const char *path, struct s3_secret *ret, struct fault *f)
{
    struct text file = {0};
    struct stat st;
    if (stat(path, &st) == 0 && (st.st_mode & (S_IRWXO | S_IWGRP)) != 0)
        return fault_set(f, ERR_DENIED,
                         "the file of the object store's key may be read or written by others; "
                         "chmod it (0600 or 0640)");
    enum err err = file_read(path, FILE_MAX, &file, f);
    f->file[0] = '\0';
    if (err != ERR_OK)
        err = fault_set(f, ERR_OPEN,
                        "the file of the object store's key (MENDWRIGHT_S3_FILE) "
                        "cannot be read");
    else if (file.size == 0 || !take_lines(file.data, file.size, ret))
        err = fault_set(f, ERR_SYNTAX,
                        "the file of the object store's key (MENDWRIGHT_S3_FILE) is not as "
                        "expected: two lines, the key's name and its secret");
    if (file.data != NULL)
        memset(file.data, 0, file.size);
    text_done(&file);
    return err;
}

enum err s3_secret_find(struct s3_secret *ret, struct fault *reterr)
{
    const char *path = getenv("MENDWRIGHT_S3_FILE");
    const char *key = getenv("MENDWRIGHT_S3_KEY"), *secret = getenv("MENDWRIGHT_S3_SECRET");
    if (path != NULL && path[0] != '\0')
        return read_from(path, ret, reterr);
    if (key == NULL || secret == NULL)
        return fault_set(reterr, ERR_OPEN,
                         "there is no key for the object store; expected MENDWRIGHT_S3_FILE, or "
                         "MENDWRIGHT_S3_KEY and MENDWRIGHT_S3_SECRET, in the environment");
    if (take(key, strlen(key), ret->key) && take(secret, strlen(secret), ret->secret))
        return ERR_OK;
    return fault_set(reterr, ERR_SYNTAX,
                     "MENDWRIGHT_S3_KEY or MENDWRIGHT_S3_SECRET is empty, too long, or holds "
                     "spaces");
}

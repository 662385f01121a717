/* files: owns photos/: how a file comes into it, how it is checked, and what lies in it. */
#include "store/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum {
    PIECE = 256 * 1024,
    TRIES = 4,           /* when someone tidies the file away before it has its name */
    PARTS_MAX = 1000000, /* names tried for a file under way */
    MACHINE_ROOM = 128,
    ABANDONED_S = 24 * 60 * 60 /* a file under way of another machine, untouched for so long */
};

static const char part_name[] = "part-";

enum err files_say(struct fault *f, const char *what, int number)
{
    switch (number) {
    case ENOSPC:
    case EDQUOT:
        return fault_set(f, ERR_IO, "%s: there is no room left on the disk", what);
    case EROFS:
    case EACCES:
    case EPERM:
        return fault_set(f, ERR_IO, "%s: the store may only be read, not written", what);
    default:
        return fault_set(f, ERR_IO, "%s: %s", what, strerror(number));
    }
}

enum err files_join(const char *a, const char *b, char buf[FILES_PATH_MAX], struct fault *reterr)
{
    const int n = snprintf(buf, FILES_PATH_MAX, "%s/%s", a, b);
    if (n < 0 || n >= FILES_PATH_MAX)
        return fault_set(reterr, ERR_LIMIT, "the path is longer than %d bytes", FILES_PATH_MAX - 1);
    return ERR_OK;
}

void files_name(const uint8_t sha256[STORE_DIGEST], const char *ext, char *buf, size_t room)
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(sha256, STORE_DIGEST, hex);
    snprintf(buf, room, "photos/%.2s/%s.%s", hex, hex + 2, ext);
}

void files_path(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext, char *buf,
                size_t room)
{
    char name[DIGEST_HEX_ROOM + 32];
    files_name(sha256, ext, name, sizeof name);
    snprintf(buf, room, "%s/%s", root, name);
}

enum err files_folder(const char *path, struct fault *reterr)
{
    struct stat st;
    if (mkdir(path, 0777) == 0)
        return ERR_OK;
    if (errno == EEXIST && stat(path, &st) == 0 && S_ISDIR(st.st_mode))
        return ERR_OK;
    switch (errno) { /* a call that names the wrong place, not a disk that fails */
    case ENOENT:
    case ENOTDIR:
        return fault_set(reterr, ERR_OPEN, "the folder that it should lie in is not there");
    case ELOOP:
        return fault_set(reterr, ERR_OPEN, "its links go round in a circle");
    case ENAMETOOLONG:
        return fault_set(reterr, ERR_OPEN, "its name is too long");
    default:
        return files_say(reterr, "a folder cannot be made", errno);
    }
}

enum err files_sync(const char *path, struct fault *reterr)
{
    const int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    const bool is_good = fd >= 0 && fsync(fd) == 0;
    const int number = errno;
    if (fd >= 0)
        close(fd);
    return is_good ? ERR_OK : files_say(reterr, "a folder cannot be written to the disk", number);
}

/* ---- putting ------------------------------------------------------------------------------- */

const char *files_kind(const uint8_t *head, size_t n)
{
    static const char png[] = "\x89PNG\r\n\x1a\n";
    static const char brands[][5] = {"heic", "heix", "hevc", "heim", "heis", "mif1", "msf1"};
    if (n >= 3 && head[0] == 0xff && head[1] == 0xd8 && head[2] == 0xff)
        return "jpg";
    if (n >= sizeof png - 1 && memcmp(head, png, sizeof png - 1) == 0)
        return "png";
    for (size_t i = 0; n >= FILES_HEAD && i < sizeof brands / sizeof *brands; i++)
        if (memcmp(head + 4, "ftyp", 4) == 0 && memcmp(head + 8, brands[i], 4) == 0)
            return "heic";
    return "bin";
}

/* Where a photo's bytes come from. */
struct source {
    const struct store_photo *photo;
    int fd; /* -1: by calls */
    uint64_t at;
};

static enum err open_source(const struct store_photo *photo, struct source *ret, struct fault *f)
{
    struct stat st;
    *ret = (struct source){.photo = photo, .fd = -1};
    if (photo->path == NULL && photo->read == NULL)
        return fault_set(f, ERR_EMPTY, "has neither a file nor bytes");
    if (photo->path == NULL)
        return ERR_OK;
    /* O_NONBLOCK: nobody may ever write to a pipe. */
    ret->fd = open(photo->path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (ret->fd < 0)
        return fault_set(f, ERR_OPEN, "the photo cannot be opened: %s", strerror(errno));
    if (fstat(ret->fd, &st) == 0 && S_ISREG(st.st_mode))
        return ERR_OK;
    close(ret->fd);
    return fault_set(f, ERR_OPEN, "the photo is no file");
}

static long read_source(struct source *s, uint8_t *buf, size_t n)
{
    long got;
    if (s->fd < 0)
        got = s->photo->read(s->photo->me, s->at, buf, n);
    else
        do
            got = read(s->fd, buf, n);
        while (got < 0 && errno == EINTR);
    if (got > 0)
        s->at += (uint64_t)got;
    return got;
}

static int write_all(int fd, const uint8_t *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t put = write(fd, bytes, n);
        if (put < 0 && errno != EINTR)
            return errno;
        if (put > 0) {
            bytes += put;
            n -= (size_t)put;
        }
    }
    return 0;
}

/* Where it goes: a file, or memory. */
struct target {
    int fd; /* -1: into text */
    struct text *text;
};

static enum err put_piece(const struct target *to, const uint8_t *piece, size_t n, struct fault *f)
{
    const int number = to->fd >= 0 ? write_all(to->fd, piece, n) : 0;
    if (number != 0)
        return files_say(f, "the photo cannot be written", number);
    if (to->fd < 0)
        text_add(to->text, (const char *)piece, n);
    return to->fd < 0 && to->text->is_broken ? fault_no_memory(f) : ERR_OK;
}

/* Copies the source to its target; sets ext and bytes. */
static enum err copy(struct source *s, const struct target *to, uint8_t *piece, struct digest *d,
                     struct store_photo *photo, struct fault *f)
{
    uint8_t sum[STORE_DIGEST];
    size_t n_head = 0;
    uint8_t head[FILES_HEAD];
    for (;;) {
        const long n = read_source(s, piece, PIECE);
        if (n < 0)
            return fault_set(f, ERR_IO, "the photo cannot be read");
        if (n == 0)
            break;
        if (s->at > STORE_PHOTO_MAX)
            return fault_set(f, ERR_LIMIT, "the photo is larger than %d MiB",
                             STORE_PHOTO_MAX / 1048576);
        for (long i = 0; i < n && n_head < FILES_HEAD; i++)
            head[n_head++] = piece[i];
        digest_add(d, piece, (size_t)n);
        const enum err err = put_piece(to, piece, (size_t)n, f);
        if (err != ERR_OK)
            return err;
    }
    if (digest_end(d, sum) != ERR_OK)
        return fault_no_memory(f);
    if (s->at == 0)
        return fault_set(f, ERR_EMPTY, "the photo has no bytes");
    if (memcmp(sum, photo->sha256, STORE_DIGEST) != 0)
        return fault_set(f, ERR_DOMAIN, "the photo's bytes are not those of its digest");
    photo->ext = files_kind(head, n_head);
    photo->bytes = (int64_t)s->at;
    return ERR_OK;
}

enum err files_gather(struct store_photo *photo, struct text *ret, struct fault *reterr)
{
    const struct target to = {.fd = -1, .text = ret};
    uint8_t *piece = malloc(PIECE);
    struct digest *d = NULL;
    struct source s = {.fd = -1};
    text_clear(ret);
    enum err err = piece != NULL ? digest_new(DIGEST_SHA256, &d) : ERR_MEMORY;
    if (err != ERR_OK)
        err = fault_no_memory(reterr);
    if (err == ERR_OK)
        err = open_source(photo, &s, reterr);
    if (err == ERR_OK)
        err = copy(&s, &to, piece, d, photo, reterr);
    if (s.fd >= 0)
        close(s.fd);
    digest_free(d);
    free(piece);
    return err;
}

/* This machine's name, so far as it can stand in a file's. */
static void name_machine(char ret[MACHINE_ROOM])
{
    if (gethostname(ret, MACHINE_ROOM) != 0)
        ret[0] = '\0';
    ret[MACHINE_ROOM - 1] = '\0';
    for (char *c = ret; *c != '\0'; c++)
        if (*c == '/')
            *c = '_';
}

/* A new file in photos/ with a name of this process on this machine. Two that are called the same still get two files. */
static int open_part(const char *root, char *path, size_t room, struct fault *f)
{
    char machine[MACHINE_ROOM];
    name_machine(machine);
    for (int i = 0; i < PARTS_MAX; i++) {
        snprintf(path, room, "%s/photos/%s%ld-%d-%s", root, part_name, (long)getpid(), i, machine);
        const int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0)
            return fd;
        if (errno != EEXIST) {
            (void)files_say(f, "the photo cannot be written", errno);
            return -1;
        }
    }
    (void)fault_set(f, ERR_IO, "photos/ is full of leftovers; `store tidy` removes them");
    return -1;
}

/* From its first name to its last. *ret_number: the system's error number, ENOENT when the file was
 * tidied away. */
static enum err give_name(const char *root, const char *part, const struct store_photo *photo,
                          bool *ret_new, int *ret_number, struct fault *f)
{
    char path[FILES_PATH_MAX], folder[FILES_PATH_MAX];
    struct stat st;
    files_path(root, photo->sha256, photo->ext, path, sizeof path);
    snprintf(folder, sizeof folder, "%.*s", (int)(strrchr(path, '/') - path), path);
    if (mkdir(folder, 0777) != 0 && errno != EEXIST)
        return files_say(f, "a folder cannot be made", errno);
    *ret_new = stat(path, &st) != 0;
    if (rename(part, path) != 0) {
        *ret_number = errno;
        return files_say(f, "the photo cannot be given its name", errno);
    }
    const enum err err = files_sync(folder, f);
    if (err != ERR_OK)
        return err;
    /* Also when the folder was there: whoever made it may not have come to this line. */
    snprintf(folder, sizeof folder, "%s/photos", root);
    return files_sync(folder, f);
}

static enum err put_once(const char *root, struct store_photo *photo, uint8_t *piece,
                         struct digest *d, bool *ret_new, int *ret_number, struct fault *f)
{
    char part[FILES_PATH_MAX];
    struct source s;
    enum err err = open_source(photo, &s, f);
    if (err != ERR_OK)
        return err;
    const int fd = open_part(root, part, sizeof part, f);
    err = fd >= 0 ? copy(&s, &(struct target){.fd = fd}, piece, d, photo, f) : f->code;
    if (err == ERR_OK && fsync(fd) != 0)
        err = files_say(f, "the photo cannot be written", errno);
    if (fd >= 0 && close(fd) != 0 && err == ERR_OK)
        err = files_say(f, "the photo cannot be written", errno);
    if (err == ERR_OK)
        err = give_name(root, part, photo, ret_new, ret_number, f);
    if (fd >= 0 && err != ERR_OK)
        unlink(part);
    if (s.fd >= 0)
        close(s.fd);
    return err;
}

enum err files_put(const char *root, struct store_photo *photo, bool *ret_new, struct fault *reterr)
{
    uint8_t *piece = malloc(PIECE);
    struct digest *d = NULL;
    enum err err = piece != NULL ? ERR_OK : ERR_MEMORY;
    snprintf(reterr->path, sizeof reterr->path, "%s", photo->name);
    int number = ENOENT;
    for (int i = 0; err == ERR_OK && i < TRIES && number == ENOENT; i++) {
        /* A failure leaves the digest in the middle, so each try has its own. */
        digest_free(d);
        d = NULL;
        number = 0;
        err = digest_new(DIGEST_SHA256, &d);
        if (err != ERR_OK)
            break;
        err = put_once(root, photo, piece, d, ret_new, &number, reterr);
        if (number == ENOENT && i + 1 < TRIES)
            err = ERR_OK;
    }
    if (err == ERR_MEMORY)
        (void)fault_no_memory(reterr);
    digest_free(d);
    free(piece);
    if (err == ERR_OK)
        reterr->path[0] = '\0';
    return err;
}

/* ---- checking ------------------------------------------------------------------------------ */

bool files_is_there(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext,
                    int64_t bytes)
{
    char path[FILES_PATH_MAX];
    struct stat st;
    files_path(root, sha256, ext, path, sizeof path);
    const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    const bool is_there =
        fd >= 0 && fstat(fd, &st) == 0 && S_ISREG(st.st_mode) && st.st_size == bytes;
    if (fd >= 0)
        close(fd);
    return is_there;
}

enum err files_check(const char *root, const uint8_t sha256[STORE_DIGEST], const char *ext,
                     int64_t bytes, struct fault *reterr)
{
    char path[FILES_PATH_MAX];
    uint8_t sum[STORE_DIGEST];
    uint64_t n = 0;
    files_path(root, sha256, ext, path, sizeof path);
    const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (fd < 0)
        return errno == ENOENT
                   ? fault_set(reterr, ERR_OPEN, "the photo's file is missing")
                   : fault_set(reterr, ERR_OPEN, "the photo's file cannot be opened: %s",
                               strerror(errno));
    const enum err err = digest_fd(DIGEST_SHA256, fd, STORE_PHOTO_MAX, sum, &n, reterr);
    close(fd);
    if (err == ERR_MEMORY)
        return err;
    if (err != ERR_OK)
        return fault_set(reterr, ERR_OPEN, "the photo's file cannot be read");
    if (n != (uint64_t)bytes || memcmp(sum, sha256, STORE_DIGEST) != 0)
        return fault_set(reterr, ERR_DOMAIN,
                         "the photo's file was changed: its bytes are not those of its digest");
    return ERR_OK;
}

/* ---- walking ------------------------------------------------------------------------------- */

/* "ab" and "cdef....EXT" as digest and ext; false when it is no photo's name. */
static bool parse_name(const char *folder, const char *name, uint8_t sha256[STORE_DIGEST],
                       char ext[FILES_EXT_MAX])
{
    enum { DIGITS = 2 * STORE_DIGEST - 2 };
    char hex[DIGEST_HEX_ROOM], back[DIGEST_HEX_ROOM];
    const size_t n = strlen(name);
    if (strlen(folder) != 2 || n < DIGITS + 2 || n - DIGITS - 1 >= FILES_EXT_MAX ||
        name[DIGITS] != '.')
        return false;
    snprintf(hex, sizeof hex, "%s%.*s", folder, (int)DIGITS, name);
    snprintf(ext, FILES_EXT_MAX, "%s", name + DIGITS + 1);
    if (!digest_unhex(hex, STORE_DIGEST, sha256))
        return false;
    digest_hex(sha256, STORE_DIGEST, back); /* lower case only: another spelling is another file */
    return strcmp(hex, back) == 0;
}

bool files_parse(const char *name, uint8_t ret_sha256[STORE_DIGEST], char ret_ext[FILES_EXT_MAX])
{
    static const char above[] = "photos/";
    const char *at = name + sizeof above - 1;
    char folder[3];
    if (strncmp(name, above, sizeof above - 1) != 0 || strlen(at) < 4 || at[2] != '/')
        return false;
    snprintf(folder, sizeof folder, "%.2s", at);
    return parse_name(folder, at + 3, ret_sha256, ret_ext) &&
           strspn(ret_ext, "abcdefghijklmnopqrstuvwxyz") == strlen(ret_ext);
}

/* Whether the process that a file under way belongs to may still be there: part-PID-N-MACHINE, or part-PID-N of a program that knew one
 * machine only. */
static bool is_alive(const char *name, const struct stat *st)
{
    char machine[MACHINE_ROOM];
    char *end = NULL;
    const long pid = strtol(name + sizeof part_name - 1, &end, 10);
    if (pid <= 0 || *end != '-')
        return false;
    (void)strtol(end + 1, &end, 10);
    name_machine(machine);
    if (*end == '-' && strcmp(end + 1, machine) != 0) {
        struct timespec now = {0};
        clock_gettime(CLOCK_REALTIME, &now);
        return now.tv_sec - st->st_mtime < ABANDONED_S;
    }
    return kill((pid_t)pid, 0) == 0 || errno != ESRCH;
}

static enum err see_file(const char *folder, const char *path, const char *name, files_see *see,
                         void *me, struct fault *f)
{
    uint8_t sha256[STORE_DIGEST];
    char ext[FILES_EXT_MAX] = "", told[FILES_LISTED_MAX];
    struct stat st;
    if (lstat(path, &st) != 0 || S_ISDIR(st.st_mode))
        return ERR_OK; /* gone in the meantime; or a folder of somebody else, not a leftover of ours */
    const bool is_photo = parse_name(folder, name, sha256, ext);
    const bool is_part = folder[0] == '\0' && strncmp(name, part_name, sizeof part_name - 1) == 0 &&
                         is_alive(name, &st);
    snprintf(told, sizeof told, "photos/%s%s%s", folder, folder[0] != '\0' ? "/" : "", name);
    return see(me, told, is_photo ? sha256 : NULL, ext, st.st_size, is_part, f);
}

static enum err walk(const char *path, const char *folder, files_see *see, void *me,
                     struct fault *f)
{
    char below[FILES_PATH_MAX];
    struct stat st;
    enum err err = ERR_OK;
    DIR *dir = opendir(path);
    if (dir == NULL)
        return errno == ENOENT ? ERR_OK : files_say(f, "photos/ cannot be read", errno);
    for (;;) {
        errno = 0;
        const struct dirent *entry = readdir(dir);
        if (entry == NULL && errno != 0)
            err = files_say(f, "photos/ cannot be read", errno);
        if (entry == NULL || err != ERR_OK)
            break;
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        err = files_join(path, entry->d_name, below, f);
        if (err == ERR_OK && folder[0] == '\0' && lstat(below, &st) == 0 && S_ISDIR(st.st_mode))
            err = walk(below, entry->d_name, see, me, f); /* one level only: never deeper */
        else if (err == ERR_OK)
            err = see_file(folder, below, entry->d_name, see, me, f);
    }
    closedir(dir);
    return err;
}

enum err files_walk(const char *root, files_see *see, void *me, struct fault *reterr)
{
    char path[FILES_PATH_MAX];
    const enum err err = files_join(root, "photos", path, reterr);
    return err != ERR_OK ? err : walk(path, "", see, me, reterr);
}

/* file: everything a path can turn out to be. The facts about devices and folders are
 * POSIX.1-2017's. */
#include "base/file.h"

#include "tap.h"

#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static char folder[] = "/tmp/mendwright-test-file-XXXXXX";

/* The name of a file in the scratch folder; good until the next call. */
static const char *in_folder(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, const char *bytes, size_t n)
{
    FILE *f = fopen(in_folder(name), "wb");
    if (f == NULL || fwrite(bytes, 1, n, f) != n || fclose(f) != 0) {
        printf("Bail out! cannot write %s\n", in_folder(name));
        exit(2);
    }
}

static void expect_refusal(const char *path, size_t max, enum err code, const char *message,
                           const char *what)
{
    struct text t = {0};
    struct fault f = {0};
    const enum err err = file_read(path, max, &t, &f);
    const bool is_good = err == code && f.code == code && strcmp(f.message, message) == 0 &&
                         strncmp(f.file, path, FAULT_FILE_MAX - 1) == 0;
    if (!tap_ok(is_good, "refused: %s", what))
        tap_note("found %s, '%s', file '%s'", err_symbol(err), f.message, f.file);
    text_done(&t);
}

static void expect_bytes(const char *path, size_t max, const char *bytes, size_t n,
                         const char *what)
{
    struct text t = {0};
    struct fault f = {.line = 77};
    const enum err err = file_read(path, max, &t, &f);
    tap_ok(err == ERR_OK && t.size == n && memcmp(t.data != NULL ? t.data : "", bytes, n) == 0 &&
               f.line == 77,
           "read: %s", what);
    text_done(&t);
}

static void check_files(void)
{
    static char big[200000];
    memset(big, 'b', sizeof big);
    write_file("plain", "abc\0\r\n\xFF", 7);
    write_file("empty", "", 0);
    write_file("big", big, sizeof big);
    expect_bytes(in_folder("plain"), 100, "abc\0\r\n\xFF", 7,
                 "bytes as they are, NUL and carriage return too");
    expect_bytes(in_folder("empty"), 100, "", 0, "an empty file");
    expect_bytes(in_folder("big"), sizeof big, big, sizeof big, "a file of exactly the most bytes");
    expect_refusal(in_folder("big"), sizeof big - 1, ERR_LIMIT,
                   "is larger than 199999 bytes; expected a smaller file",
                   "one byte more than the most");
    struct text t = {0};
    struct fault f = {0};
    text_puts(&t, "before ");
    tap_ok(file_read(in_folder("plain"), 100, &t, &f) == ERR_OK && t.size == 14 &&
               memcmp(t.data, "before abc", 10) == 0,
           "read: appended to what is there");
    text_done(&t);
}

static void check_refusals(void)
{
    expect_refusal(in_folder("missing"), 10, ERR_OPEN, "no such file", "a name that is not there");
    expect_refusal("", 10, ERR_OPEN, "the file's name is empty", "an empty name");
    expect_refusal(folder, 10, ERR_OPEN, "is a folder; expected a file", "a folder");
    expect_refusal("/dev/zero", 10, ERR_OPEN, "is a device or socket; expected a file",
                   "a device without an end");
    expect_refusal("/dev/null", 10, ERR_OPEN, "is a device or socket; expected a file",
                   "the empty device");
    char path[160];
    snprintf(path, sizeof path, "%s/plain/x", folder);
    expect_refusal(path, 10, ERR_OPEN, "no such file: a part of its path is not a folder",
                   "a path through a file");
    static char longest[10000];
    memset(longest, 'x', sizeof longest - 1);
    struct text t = {0};
    struct fault f = {0};
    tap_ok(file_read(longest, 10, &t, &f) == ERR_OPEN && strlen(f.file) == FAULT_FILE_MAX - 1,
           "refused: a name of 9999 bytes; the fault shows its beginning");
    text_done(&t);
    /* Root may read everything, so root steps down for this one. */
    const bool is_root = geteuid() == 0;
    chmod(folder, 0755);
    chmod(in_folder("empty"), 0);
    tap_ok(!is_root || seteuid(65534) == 0, "stepped down from root where needed");
    expect_refusal(in_folder("empty"), 10, ERR_OPEN, "may not be read: permission denied",
                   "a file that may not be read");
    tap_ok(!is_root || seteuid(0) == 0, "and up again");
}

/* Feeds bytes into fd from a child, so that pipes larger than their buffer work too. */
static pid_t feed(int fd, size_t n)
{
    const pid_t child = fork();
    if (child != 0)
        return child;
    for (size_t i = 0; i < n; i++)
        if (write(fd, "p", 1) != 1)
            break;
    _exit(0);
}

static void check_pipes(void)
{
    int ends[2];
    if (mkfifo(in_folder("fifo"), 0600) == 0) {
        const pid_t child = fork();
        if (child == 0) {
            const int fd = open(in_folder("fifo"), O_WRONLY);
            _exit(write(fd, "through", 7) == 7 ? 0 : 1);
        }
        expect_bytes(in_folder("fifo"), 100, "through", 7, "a named pipe");
        waitpid(child, NULL, 0);
    }
    const int saved = dup(STDIN_FILENO);
    for (int i = 0; i < 2; i++) {
        const size_t max = i == 0 ? 100000 : 99999;
        if (pipe(ends) != 0)
            return;
        signal(SIGPIPE, SIG_IGN);
        const pid_t child = feed(ends[1], 100000);
        close(ends[1]);
        dup2(ends[0], STDIN_FILENO);
        close(ends[0]);
        struct text t = {0};
        struct fault f = {0};
        const enum err err = file_read("-", max, &t, &f);
        if (i == 0)
            tap_ok(err == ERR_OK && t.size == 100000,
                   "read: 100000 bytes piped into standard input");
        else
            tap_ok(err == ERR_LIMIT && strcmp(f.file, "-") == 0,
                   "refused: one byte too many on standard input");
        text_done(&t);
        dup2(saved, STDIN_FILENO);
        waitpid(child, NULL, 0);
    }
    const int dir = open(folder, O_RDONLY);
    dup2(dir, STDIN_FILENO);
    expect_refusal("-", 10, ERR_OPEN, "is a folder; expected a file", "a folder as standard input");
    close(STDIN_FILENO);
    expect_refusal("-", 10, ERR_OPEN, "is closed; expected a file", "a closed standard input");
    dup2(saved, STDIN_FILENO);
    close(saved);
    close(dir);
}

int main(void)
{
    if (mkdtemp(folder) == NULL) {
        puts("Bail out! no scratch folder");
        return 2;
    }
    check_files();
    check_refusals();
    check_pipes();
    static const char *const names[] = {"plain", "empty", "big", "fifo"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        unlink(in_folder(names[i]));
    tap_ok(rmdir(folder) == 0, "the scratch folder holds nothing that the reading made");
    return tap_done();
}

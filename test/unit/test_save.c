/* save: a file is whole or it is not there. What rename and permissions do is POSIX.1-2017's. */
#include "base/save.h"

#include "base/file.h"
#include "tap.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[] = "/tmp/save-XXXXXX";

/* A name in the scratch folder; good until the next call. */
static const char *in_folder(const char *name)
{
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static bool holds(const char *name, const char *bytes, size_t n)
{
    struct text t = {0};
    struct fault f;
    const bool is_same = file_read(in_folder(name), 1 << 20, &t, &f) == ERR_OK && t.size == n &&
                         (n == 0 || memcmp(t.data, bytes, n) == 0);
    text_done(&t);
    return is_same;
}

static void plain(void)
{
    struct fault f = {0};
    struct stat st;
    umask(022);
    tap_ok(save_file(in_folder("a"), "one\0two", 7, &f) == ERR_OK && holds("a", "one\0two", 7),
           "the bytes are there, NUL and all");
    tap_ok(stat(in_folder("a"), &st) == 0 && (st.st_mode & 0777U) == 0644,
           "others may read it, as the mask 022 says");
    tap_ok(save_file(in_folder("a"), "new", 3, &f) == ERR_OK && holds("a", "new", 3),
           "a file that was there is replaced");
    tap_ok(save_file(in_folder("empty"), "", 0, &f) == ERR_OK && holds("empty", "", 0),
           "an empty file is a file");
}

static void refusals(void)
{
    struct fault f = {0};
    tap_ok(save_file("", "x", 1, &f) == ERR_OPEN, "an empty name is refused");
    tap_ok(save_file(folder, "x", 1, &f) == ERR_OPEN && strcmp(f.file, folder) == 0,
           "a folder is refused, and named");
    tap_ok(save_file("/dev/null", "x", 1, &f) == ERR_OPEN, "a device is refused");
    tap_ok(save_file(in_folder("no/such"), "x", 1, &f) == ERR_OPEN && f.message[0] != '\0',
           "a folder that is not there is refused in words: %s", f.message);
}

/* A limit on the size of files stands for a full disk: writing ends with an error in the middle. */
static void full(void)
{
    enum { LIMIT = 4096, SIZE = 100000 };
    struct fault f = {0};
    struct rlimit was, small;
    char *much = calloc(1, SIZE);
    if (much == NULL || getrlimit(RLIMIT_FSIZE, &was) != 0)
        exit(2);
    signal(SIGXFSZ, SIG_IGN);
    small = was;
    small.rlim_cur = LIMIT;
    const bool is_set = setrlimit(RLIMIT_FSIZE, &small) == 0;
    const enum err e = save_file(in_folder("a"), much, SIZE, &f);
    const bool is_back = setrlimit(RLIMIT_FSIZE, &was) == 0;
    tap_ok(is_set && is_back && e == ERR_IO, "a file that does not fit is ERR_IO: %s", f.message);
    tap_ok(holds("a", "new", 3), "what was there before is still there");
    free(much);
}

int main(void)
{
    if (mkdtemp(folder) == NULL) {
        puts("Bail out! no scratch folder");
        return 2;
    }
    plain();
    refusals();
    full();
    (void)unlink(in_folder("a"));
    (void)unlink(in_folder("empty"));
    tap_ok(rmdir(folder) == 0, "no half file is left behind");
    return tap_done();
}

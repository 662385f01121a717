/* replay: runs a fuzz target once on every file of its corpus, as an ordinary test under gcc's
 * sanitizers, so that a crash once found stays found. Linked with one fuzz_NAME.c. usage:
 * replay_NAME CORPUS_FOLDER TAP: one line a file; the name is printed before the run, so that a
 * crash tells which one it was. */
#include "tap.h"

#include <dirent.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { FILE_MAX = 1 << 20, NAMES_MAX = 20000 };

/* The bytes of a file in a block of exactly its size, so that one byte too far is seen. NULL:
 * cannot be read. */
static uint8_t *read_file(const char *path, size_t *ret_size)
{
    static uint8_t buf[FILE_MAX];
    FILE *f = fopen(path, "rb");
    if (!f)
        return NULL;
    *ret_size = fread(buf, 1, sizeof buf, f);
    bool is_good = !ferror(f);
    fclose(f);
    uint8_t *copy = is_good ? malloc(*ret_size ? *ret_size : 1) : NULL;
    if (copy)
        memcpy(copy, buf, *ret_size);
    return copy;
}

static void replay(const char *folder, const char *name)
{
    char path[1024];
    size_t size = 0;
    int n = snprintf(path, sizeof path, "%s/%s", folder, name);
    if (n < 0 || (size_t)n >= sizeof path) {
        tap_ok(false, "%s: the path is too long", name);
        return;
    }
    tap_note("%s", name);
    fflush(stdout);
    uint8_t *data = read_file(path, &size);
    bool is_good = data && LLVMFuzzerTestOneInput(data, size) == 0;
    free(data);
    tap_ok(is_good, "%s: %zu bytes, read without a fault of memory or arithmetic", name, size);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Names in a fixed order, whatever the file system's; n < 0: no such folder. */
static int list_folder(const char *folder, char **names)
{
    int n = 0;
    DIR *dir = opendir(folder);
    if (!dir)
        return -1;
    for (struct dirent *entry; n < NAMES_MAX && (entry = readdir(dir));) {
        if (entry->d_name[0] != '.')
            names[n++] = strdup(entry->d_name);
    }
    closedir(dir);
    qsort(names, (size_t)n, sizeof *names, by_name);
    return n;
}

int main(int argc, char **argv)
{
    static char *names[NAMES_MAX];
    int n = argc == 2 ? list_folder(argv[1], names) : -1;
    if (n < 0) {
        fprintf(stderr, "usage: replay_NAME CORPUS_FOLDER (which must be there)\n");
        return 2;
    }
    tap_ok(n > 0, "the corpus holds inputs");
    for (int i = 0; i < n; i++) {
        if (names[i])
            replay(argv[1], names[i]);
        free(names[i]);
    }
    return tap_done();
}

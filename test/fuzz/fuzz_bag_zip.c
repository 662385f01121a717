/* fuzz_bag_zip: any bytes as a zip with a bag in it.
 * Property: verifying ends with a result, valid exactly when nothing speaks against the bag; every file listed has a safe path,
 * the paths ascend, and together they unpack to no more than allowed; whatever can be streamed has the size that was listed. */
#include "proof/bag.h"
#include "proof/bag_path.h"

#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void count(void *to, const void *bytes, size_t n)
{
    (void)bytes;
    must(n <= BAG_PIECE);
    *(uint64_t *)to += n;
}

static void check_files(struct bag *bag, const struct bag_limits *limits)
{
    uint64_t bytes = 0;
    for (size_t i = 0; i < bag_n_files(bag); i++) {
        const struct bag_file *file = bag_file_at(bag, i);
        struct fault f = {0};
        uint64_t n = 0;
        must(bag_path_fault(file->path, strlen(file->path)) == NULL);
        must(i == 0 || strcmp(bag_file_at(bag, i - 1)->path, file->path) < 0);
        must(bag_file_find(bag, file->path) == file);
        bytes += file->size;
        if (bag_file_stream(bag, file, count, &n, &f) == ERR_OK)
            must(n == file->size);
        must(n <= file->size);
    }
    must(bytes <= limits->bytes);
}

static int nameless(void)
{
    char name[64];
    snprintf(name, sizeof name, "/mendwright-fuzz-%ld", (long)getpid());
    const int file = shm_open(name, O_RDWR | O_CREAT | O_EXCL, 0600);
    must(file >= 0 && shm_unlink(name) == 0);
    return file;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    /* One for all runs, in memory and without a name: on a disk it would be all that is measured. */
    static int file = -1;
    struct bag_limits limits = bag_limits_usual;
    struct bag_result result = {0};
    struct fault f = {0};
    struct bag *bag = NULL;
    char path[64];
    limits.bytes = limits.file_bytes = 1 << 20;
    limits.text_bytes = 1 << 16;
    if (file < 0)
        file = nameless();
    must(ftruncate(file, 0) == 0 && pwrite(file, data, size, 0) == (ssize_t)size);
    snprintf(path, sizeof path, "/proc/self/fd/%d", file);
    must(bag_open(path, &limits, NULL, &bag, &result, &f) == ERR_OK);
    must(result.is_valid == bag_result_is_sound(&result));
    must(!result.is_valid || (result.is_complete && result.version[0] != '\0'));
    must(result.files <= bag_n_files(bag));
    check_files(bag, &limits);
    bag_close(bag);
    bag_result_done(&result);
    return 0;
}

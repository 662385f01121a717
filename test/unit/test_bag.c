/* Bags by the C interface: limits made small, files read through an opened bag, memory given back.
 * What a bag must be is tested rule by rule in test/bag. The bag and its sums are those of FIPS 180-4
 * ("abc") and hashlib. */
#include "proof/bag.h"
#include "proof/bag_make.h"
#include "tap.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char root[] = "/tmp/mendwright-test-XXXXXX";

static const char *in_root(const char *name)
{
    static char path[4][512];
    static int at;
    at = (at + 1) % 4;
    snprintf(path[at], sizeof path[at], "%s/%s", root, name);
    return path[at];
}

static void put(const char *name, const char *body)
{
    FILE *f = fopen(in_root(name), "wb");
    if (f == NULL || fputs(body, f) < 0 || fclose(f) != 0) {
        printf("Bail out! %s cannot be written\n", name);
        exit(2);
    }
}

static void make_bag(void)
{
    mkdir(in_root("bag"), 0700);
    mkdir(in_root("bag/data"), 0700);
    mkdir(in_root("bag/data/sub"), 0700);
    put("bag/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    put("bag/data/a.txt", "hello\n");
    put("bag/data/sub/b.txt", "abc");
    put("bag/manifest-sha256.txt",
        "5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03  data/a.txt\n"
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  data/sub/b.txt\n");
}

static bool has_kind(const struct bag_result *r, enum bag_kind kind)
{
    for (size_t i = 0; i < r->n_faults; i++)
        if (r->faults[i].kind == kind)
            return true;
    return false;
}

/* The bag at name under these limits: the kind of fault, or BAG_KINDS when it is valid. */
static void check_limit(const char *name, const struct bag_limits *limits, enum bag_kind kind,
                        const char *what)
{
    struct bag_result r = {0};
    struct fault f = {0};
    const enum err err = bag_verify(in_root(name), limits, NULL, &r, &f);
    tap_ok(err == ERR_OK && r.is_valid == (kind == BAG_KINDS) &&
               (kind == BAG_KINDS || has_kind(&r, kind)),
           "%s: %s", what, kind == BAG_KINDS ? "valid" : bag_kind_word(kind));
    bag_result_done(&r);
}

static void check_limits(void)
{
    struct bag_limits l = bag_limits_usual;
    check_limit("bag", &l, BAG_KINDS, "the usual limits");
    l.files = 4;
    check_limit("bag", &l, BAG_KINDS, "4 files allowed, 4 there");
    l.files = 3;
    check_limit("bag", &l, BAG_LIMIT, "3 files allowed, 4 there");
    l = bag_limits_usual;
    l.file_bytes = 157;
    check_limit("bag", &l, BAG_LIMIT, "157 bytes a file allowed, the manifest has 158");
    l = bag_limits_usual;
    l.bytes = 54 + 6 + 3 + 158;
    check_limit("bag", &l, BAG_KINDS, "as many bytes allowed as there are");
    l.bytes--;
    check_limit("bag", &l, BAG_LIMIT, "one byte fewer");
    l = bag_limits_usual;
    l.text_bytes = 157;
    check_limit("bag", &l, BAG_LIMIT, "157 bytes a manifest allowed, 158 there");
}

static void check_zip_limits(void)
{
    struct bag_limits l = bag_limits_usual;
    struct bag_made made;
    struct fault f = {0};
    const struct bag_order order = {.folder = in_root("bag/data"), .out = in_root("made.zip")};
    tap_ok(bag_make(&order, &made, &f) == ERR_OK && made.files == 2 && made.bytes == 9,
           "a job of two files and 9 bytes is packed");
    check_limit("made.zip", &l, BAG_KINDS, "the usual limits, zip");
    l.files = 6;
    check_limit("made.zip", &l, BAG_KINDS, "6 entries allowed, 6 there");
    l.files = 5;
    check_limit("made.zip", &l, BAG_LIMIT, "5 entries allowed, 6 there");
    l = bag_limits_usual;
    l.bytes = 100;
    check_limit("made.zip", &l, BAG_BOMB, "100 bytes unpacked allowed");
    l = bag_limits_usual;
    l.directory_bytes = 100;
    check_limit("made.zip", &l, BAG_LIMIT, "100 bytes of directory allowed");
}

static void count(void *to, const void *bytes, size_t n)
{
    (void)bytes;
    *(size_t *)to += n;
}

static void check_reading(const char *name)
{
    struct bag_result r = {0};
    struct fault f = {0};
    struct bag *bag = NULL;
    struct text text = {0};
    size_t n = 0;
    if (!tap_ok(bag_open(in_root(name), NULL, NULL, &bag, &r, &f) == ERR_OK, "%s is opened", name))
        return;
    const struct bag_file *a = bag_file_find(bag, "data/a.txt");
    tap_ok(a != NULL && a->size == 6, "%s: a file is found, of 6 bytes", name);
    tap_ok(bag_file_find(bag, "data/none") == NULL, "%s: another is not", name);
    tap_ok(a && bag_file_text(bag, a, 6, &text, &f) == ERR_OK && text.size == 6 &&
               memcmp(text.data, "hello\n", 6) == 0,
           "%s: its text is read", name);
    tap_ok(a && bag_file_text(bag, a, 5, &text, &f) == ERR_LIMIT, "%s: 5 bytes allowed of 6", name);
    tap_ok(a && bag_file_stream(bag, a, count, &n, &f) == ERR_OK && n == 6, "%s: it is streamed",
           name);
    uint8_t sum[DIGEST_SHA256_SIZE];
    const uint8_t *found = a ? bag_file_sum(a, DIGEST_SHA256) : NULL;
    digest_unhex("5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03", sizeof sum,
                 sum);
    tap_ok(found && memcmp(found, sum, sizeof sum) == 0, "%s: its sum is given (hashlib)", name);
    tap_ok(a && bag_file_sum(a, DIGEST_MD5) == NULL, "%s: no md5 is given", name);
    bool is_sorted = true;
    for (size_t i = 1; i < bag_n_files(bag); i++)
        is_sorted =
            is_sorted && strcmp(bag_file_at(bag, i - 1)->path, bag_file_at(bag, i)->path) < 0;
    tap_ok(is_sorted && bag_n_files(bag) >= 4, "%s: the files come sorted", name);
    text_done(&text);
    bag_close(bag);
    bag_result_done(&r);
}

static void check_open(const char *path, const char *what)
{
    struct bag_result r = {0};
    struct fault f = {0};
    tap_ok(bag_verify(path, NULL, NULL, &r, &f) == ERR_OPEN && f.message[0] != '\0', "%s: ERR_OPEN",
           what);
    bag_result_done(&r);
}

/* Whole lists stay bounded, and say how much is left out. */
static void check_result(void)
{
    struct bag_result r = {0};
    for (int i = 0; i < BAG_FAULTS_MAX + 7; i++)
        bag_fault_add(&r, BAG_LINK, "x\033[2J", "is %d", i);
    for (int i = 0; i < BAG_WARNINGS_MAX + 5; i++)
        bag_warn(&r, "odd %d", i);
    tap_ok(r.n_faults == BAG_FAULTS_MAX && r.n_more_faults == 7,
           "faults beyond the limit are counted");
    tap_ok(r.n_warnings == BAG_WARNINGS_MAX && r.n_more_warnings == 5,
           "warnings beyond the limit are counted");
    tap_ok(strcmp(r.faults[0].path, "x?[2J") == 0, "a path cannot move the cursor");
    bag_result_done(&r);
}

static void clean_up(void)
{
    static const char *const files[] = {"bag/bagit.txt", "bag/manifest-sha256.txt",
                                        "bag/data/a.txt", "bag/data/sub/b.txt", "made.zip"};
    static const char *const folders[] = {"bag/data/sub", "bag/data", "bag"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        unlink(in_root(files[i]));
    for (size_t i = 0; i < sizeof folders / sizeof *folders; i++)
        rmdir(in_root(folders[i]));
    tap_ok(rmdir(root) == 0, "nothing else was left in the folder");
}

int main(void)
{
    if (mkdtemp(root) == NULL) {
        printf("Bail out! no temporary folder\n");
        return 2;
    }
    make_bag();
    check_limits();
    check_zip_limits();
    check_reading("bag");
    check_reading("made.zip");
    check_open(in_root("none"), "no such file");
    check_open("", "an empty name");
    check_open("/dev/null", "a device");
    check_open(in_root("bag/bagit.txt/x"), "a file taken for a folder");
    check_result();
    clean_up();
    return tap_done();
}

/* fuzz_bag_text: any bytes as bagit.txt, a manifest, bag-info.txt, fetch.txt, a keyring and a tag file in another encoding.
 * Property: each reader either refuses with a code and a sentence, or what it gives lies inside the text it was given; a path
 * that is let through is safe, and encoded and decoded again it is the same; lines cover the text without overlapping; a folded
 * path folds to itself. */
#include "proof/bag_path.h"
#include "proof/bag_text.h"
#include "proof/keyring.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void must_lie_in(const char *part, size_t n, const char *text, size_t size)
{
    must(part >= text && n <= size && (size_t)(part - text) <= size - n);
}

static void check_fold(const char *path)
{
    char *once = NULL, *twice = NULL;
    must(bag_path_fold(path, true, &once) == ERR_OK);
    must(bag_path_fold(once, true, &twice) == ERR_OK && strcmp(once, twice) == 0);
    free(once);
    free(twice);
}

/* A path as it stands in a line. */
static void check_path(const char *written, size_t n)
{
    char *s = malloc(n + 1);
    struct text again = {0};
    bool is_loose = false;
    must(s != NULL);
    memcpy(s, written, n);
    const size_t size = bag_path_decode(s, n, &is_loose);
    must(size <= n);
    s[size] = '\0';
    if (bag_path_fault(s, size) == NULL) {
        must(size > 0 && s[0] != '/' && strstr(s, "/../") == NULL && strncmp(s, "../", 3) != 0);
        check_fold(s);
        bag_path_encode(s, &again);
        must(again.data != NULL && strchr(again.data, '\n') == NULL);
        const size_t back = bag_path_decode(again.data, again.size, &is_loose);
        must(!is_loose && back == size && memcmp(again.data, s, size) == 0);
    }
    text_done(&again);
    free(s);
}

static void check_lines(const char *text, size_t n, enum digest_kind kind)
{
    struct bag_lines l = {.data = text, .size = n};
    const char *line = NULL, *end = text;
    size_t size = 0;
    while (bag_lines_next(&l, &line, &size)) {
        struct bag_manifest_line m;
        struct bag_fetch_line fetch;
        struct fault f = {0};
        must_lie_in(line, size, text, n);
        must(line >= end);
        end = line + size;
        if (bag_manifest_line(line, size, kind, &m, &f) == ERR_OK) {
            must_lie_in(m.path, m.path_n, line, size);
            check_path(m.path, m.path_n);
        } else {
            must(f.message[0] != '\0');
        }
        if (bag_fetch_line(line, size, &fetch, &f) == ERR_OK) {
            must_lie_in(fetch.path, fetch.path_n, line, size);
            must(fetch.bytes >= -1);
            check_path(fetch.path, fetch.path_n);
        }
        check_path(line, size);
    }
    must(l.at == n);
}

static void check_files(const char *text, size_t n)
{
    struct bag_declaration d;
    struct bag_info info;
    struct fault f = {0};
    size_t value_n = 0;
    if (bag_declaration_read(text, n, &d, &f) == ERR_OK)
        must(strcmp(d.version, d.is_old ? "0.97" : "1.0") == 0);
    else
        must(f.message[0] != '\0');
    f = (struct fault){0};
    if (bag_info_read(text, n, &info, &f) == ERR_OK)
        must(info.n_loose <= info.n_elements && info.has_oxum <= info.n_elements);
    else
        must(f.message[0] != '\0' && f.line > 0);
    const char *value = bag_info_value(text, n, "Payload-Oxum", &value_n);
    if (value != NULL)
        must_lie_in(value, value_n, text, n);
}

static void check_keys(const char *text, size_t n)
{
    struct keyring ring = {0};
    struct keyring_secret secret;
    struct fault f = {0};
    if (keyring_add(&ring, text, n, "ring", &f) != ERR_OK)
        must(f.line > 0 && f.message[0] != '\0');
    for (size_t i = 0; i < ring.n; i++)
        must(keyring_is_shop(ring.keys[i].shop, strlen(ring.keys[i].shop)));
    if (keyring_secret_read(text, n, "secret", &secret, &f) == ERR_OK)
        must(keyring_is_shop(secret.shop, strlen(secret.shop)));
    keyring_done(&ring);
}

/* Whatever comes in, UTF-8 comes out. */
static void check_encoding(const char *text, size_t n, unsigned which)
{
    static const char *const known[] = {"UTF-8",  "US-ASCII", "ISO-8859-1",
                                        "UTF-16", "UTF-16BE", "UTF-16LE"};
    struct text out = {0};
    struct fault f = {0};
    bool has_mark = false;
    if (bag_text_decode(known[which % 6], text, n, &out, &has_mark, &f) == ERR_OK)
        must(text_is_utf8(out.data ? out.data : "", out.size, NULL));
    else
        must(f.message[0] != '\0');
    text_done(&out);
}

/* The first byte chooses the kind of sum and the encoding. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0)
        return 0;
    const char *text = (const char *)data + 1;
    check_lines(text, size - 1, (enum digest_kind)(data[0] % DIGEST_KINDS));
    check_files(text, size - 1);
    check_keys(text, size - 1);
    check_encoding(text, size - 1, data[0]);
    return 0;
}

/* bag: owns the judgement: complete, valid, signed by whom. Source: RFC 8493, section 3. */
#include "proof/bag.h"

#include "proof/bag_path.h"
#include "proof/bag_sign.h"
#include "proof/bag_tags.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BAG_WHY_MAX = 320 };

struct bag {
    struct bag_files files;
    struct bag_tags tags;
    struct digest *digests[DIGEST_KINDS]; /* made when first needed */
    bool has_sha256; /* every payload file's is wanted, whatever the bag lists */
};

/* ---- what must be there and listed ------------------------------------------------------------*/

static int by_missing(const void *a, const void *b)
{
    const struct bag_missing *x = a, *y = b;
    const int order = strcmp(x->path, y->path);
    return order != 0 ? order : strcmp(x->manifest->name, y->manifest->name);
}

static int by_text(const void *a, const void *b)
{
    return strcmp(a, *(char *const *)b);
}

/* One fault a path, however many manifests list it. */
static void say_missing(struct bag_tags *t)
{
    if (t->n_missing > 1)
        qsort(t->missing, t->n_missing, sizeof *t->missing, by_missing);
    for (size_t i = 0; i < t->n_missing; i++) {
        const struct bag_missing *m = &t->missing[i];
        const bool is_again = i > 0 && strcmp(m->path, m[-1].path) == 0;
        if (is_again && m->manifest == m[-1].manifest)
            bag_fault_add(t->result, BAG_DUPLICATE_PATH, m->path, "stands in %s twice",
                          m->manifest->name);
        if (is_again)
            continue;
        if (t->n_fetched > 0 &&
            bsearch(m->path, t->fetched, t->n_fetched, sizeof *t->fetched, by_text) != NULL)
            bag_fault_add(t->result, BAG_NOT_FETCHED, m->path,
                          "is still to be fetched (fetch.txt), which is never done here");
        else
            bag_fault_add(t->result, BAG_MISSING_FILE, m->path, "stands in %s, and is not here",
                          m->manifest->name);
    }
}

/* A path in fetch.txt that no manifest lists could never be checked. */
static void say_unlisted_fetches(const struct bag_tags *t)
{
    for (size_t i = 0, k = 0; i < t->n_fetched; i++) {
        while (k < t->n_missing && strcmp(t->missing[k].path, t->fetched[i]) < 0)
            k++;
        if (k == t->n_missing || strcmp(t->missing[k].path, t->fetched[i]) != 0)
            bag_fault_add(t->result, BAG_UNLISTED_FILE, t->fetched[i],
                          "stands in fetch.txt, and in no manifest");
    }
}

/* The manifests of a kind that do not list the file: how many there are and how many lack it. */
static void count_listed(const struct bag_tags *t, const struct bag_file *file, bool is_tag,
                         size_t *ret_n, size_t *ret_n_lacking, const char **ret_lacking)
{
    *ret_n = *ret_n_lacking = 0;
    for (size_t i = 0; i < t->n_manifests; i++) {
        const struct bag_manifest *m = &t->manifests[i];
        if (m->is_tag != is_tag)
            continue;
        ++*ret_n;
        if (file->sums[m->kind] == NULL) {
            ++*ret_n_lacking;
            *ret_lacking = m->name;
        }
    }
}

static void check_listed(const struct bag_tags *t, const struct bag_file *file)
{
    size_t n = 0, n_lacking = 0;
    const char *lacking = "", *alg = NULL;
    size_t alg_n = 0;
    const bool is_payload = bag_path_is_payload(file->path);
    if (!is_payload && !bag_manifest_name(file->path, false, &alg, &alg_n))
        return; /* other tag files may be listed or not */
    count_listed(t, file, !is_payload, &n, &n_lacking, &lacking);
    const bool must_be_in_all = !t->declaration.is_old;
    if (n_lacking == 0 || (!must_be_in_all && (n_lacking < n || !is_payload)))
        return;
    if (n_lacking == n && is_payload)
        bag_fault_add(t->result, BAG_UNLISTED_FILE, file->path, "stands in no manifest");
    else
        bag_fault_add(t->result, BAG_UNLISTED_FILE, file->path, "does not stand in %s", lacking);
}

static void check_structure(const struct bag_files *files, const struct bag_tags *t)
{
    size_t n = 0;
    bool has_strong = false;
    for (size_t i = 0; i < t->n_manifests; i++) {
        const struct bag_manifest *m = &t->manifests[i];
        n += !m->is_tag;
        has_strong =
            has_strong || (!m->is_tag && (m->kind == DIGEST_SHA256 || m->kind == DIGEST_SHA512));
    }
    if (!files->has_payload_folder)
        bag_fault_add(t->result, BAG_NO_PAYLOAD, "data", "there is no folder data/");
    if (n == 0)
        bag_fault_add(t->result, BAG_NO_MANIFEST, NULL,
                      "there is no payload manifest; expected manifest-sha256.txt or its like");
    else if (!has_strong)
        bag_warn(t->result, "its sums are md5 or sha1 only: they show damage, not forgery");
}

/* ---- sums -------------------------------------------------------------------------------------*/

struct reading {
    struct bag *bag;
    struct bag_file *file;
    uint64_t n;
};

/* Whether a sum of this kind is made of the file: to be compared, or to be told. */
static bool is_summed(const struct bag *bag, const struct bag_file *file, size_t kind)
{
    return file->sums[kind] != NULL ||
           (kind == DIGEST_SHA256 && bag->has_sha256 && bag_path_is_payload(file->path));
}

static void take_piece(void *to, const void *bytes, size_t n)
{
    struct reading *r = to;
    r->n += n;
    for (size_t k = 0; k < DIGEST_KINDS; k++)
        if (is_summed(r->bag, r->file, k) && r->bag->digests[k] != NULL)
            digest_add(r->bag->digests[k], bytes, n);
}

static enum err make_digests(struct bag *bag, const struct bag_file *file, struct fault *f)
{
    for (size_t k = 0; k < DIGEST_KINDS; k++) {
        if (!is_summed(bag, file, k) || bag->digests[k] != NULL)
            continue;
        const enum err err = digest_new((enum digest_kind)k, &bag->digests[k]);
        if (err != ERR_OK)
            return fault_set(f, err == ERR_MEMORY ? err : ERR_IO, "no %s sums: %s",
                             digest_name((enum digest_kind)k),
                             err == ERR_MEMORY ? "memory ran out" : "this machine forbids them");
    }
    return ERR_OK;
}

static enum err compare(struct bag *bag, struct bag_file *file, bool was_read, struct fault *f)
{
    for (size_t k = 0; k < DIGEST_KINDS; k++) {
        uint8_t sum[DIGEST_SIZE_MAX];
        char found[DIGEST_HEX_ROOM], expected[DIGEST_HEX_ROOM];
        const size_t n = digest_size((enum digest_kind)k);
        if (!is_summed(bag, file, k))
            continue;
        if (digest_end(bag->digests[k], sum) != ERR_OK)
            return fault_no_memory(f);
        if (k == DIGEST_SHA256)
            memcpy(file->sha256, sum, n);
        if (!was_read || file->sums[k] == NULL || memcmp(sum, file->sums[k], n) == 0)
            continue;
        digest_hex(sum, n, found);
        digest_hex(file->sums[k], n, expected);
        bag_fault_add(bag->tags.result, BAG_WRONG_SUM, file->path,
                      "its %s is %.16s..., listed as %.16s...", digest_name((enum digest_kind)k),
                      found, expected);
    }
    return ERR_OK;
}

static bool has_sums(const struct bag_file *file)
{
    for (size_t k = 0; k < DIGEST_KINDS; k++)
        if (file->sums[k] != NULL)
            return true;
    return false;
}

/* Reads the file if any manifest lists it, and counts it if it is payload. */
static enum err check_file(struct bag *bag, struct bag_file *file, struct fault *f)
{
    struct bag_result *result = bag->tags.result;
    struct reading r = {.bag = bag, .file = file, .n = file->size};
    enum err err = ERR_OK;
    if (has_sums(file)) {
        enum bag_kind kind = BAG_UNREADABLE;
        r.n = 0;
        err = make_digests(bag, file, f);
        if (err != ERR_OK)
            return err;
        err = bag->files.source->read(&bag->files, file, take_piece, &r, &kind, f);
        if (err == ERR_IO || err == ERR_MEMORY) {
            snprintf(f->path, sizeof f->path, "%s", file->path);
            return err;
        }
        if (err != ERR_OK)
            bag_fault_add(result, kind, file->path, "%s", f->message);
        err = compare(bag, file, err == ERR_OK, f);
    }
    if (bag_path_is_payload(file->path)) {
        result->bytes += r.n;
        result->files++;
    }
    return err;
}

static void check_oxum(const struct bag_tags *t)
{
    const struct bag_info *info = &t->info;
    const struct bag_result *r = t->result;
    if (info->has_oxum && (info->oxum_bytes != r->bytes || info->oxum_files != r->files))
        bag_fault_add(t->result, BAG_PAYLOAD_OXUM, "bag-info.txt",
                      "Payload-Oxum says %llu bytes in %llu files, found %llu in %llu",
                      (unsigned long long)info->oxum_bytes, (unsigned long long)info->oxum_files,
                      (unsigned long long)r->bytes, (unsigned long long)r->files);
}

/* ---- the signature ----------------------------------------------------------------------------*/

static const struct bag_file *find(const struct bag *bag, const char *name)
{
    return bag_files_find(&bag->files, name, strlen(name));
}

static bool is_covered(const struct bag *bag, const char *name)
{
    const struct bag_file *file = find(bag, name);
    return file != NULL && file->sums[DIGEST_SHA256] != NULL;
}

/* The first payload file that no covered manifest lists; NULL when the signature vouches for all of them. A bag before 1.0 may list
 * a file in one of its manifests alone. */
static const struct bag_file *first_uncovered(const struct bag *bag)
{
    const bool has_256 = is_covered(bag, "manifest-sha256.txt");
    const bool has_512 = is_covered(bag, "manifest-sha512.txt");
    for (size_t i = 0; i < bag->files.n; i++) {
        const struct bag_file *file = &bag->files.files[i];
        if (bag_path_is_payload(file->path) && !(has_256 && file->sums[DIGEST_SHA256] != NULL) &&
            !(has_512 && file->sums[DIGEST_SHA512] != NULL))
            return file;
    }
    return NULL;
}

static void bad_signature(struct bag_result *result, const char *why)
{
    result->signature = BAG_SIGNATURE_BAD;
    bag_fault_add(result, BAG_BAD_SIGNATURE, BAG_SIGN_NAME, "%s", why);
}

static enum err check_signature(struct bag *bag, const struct keyring *ring, struct fault *f)
{
    struct bag_result *result = bag->tags.result;
    const struct bag_file *file = find(bag, BAG_SIGN_NAME), *manifest = find(bag, BAG_SIGN_SIGNED);
    struct text text = {0}, bytes = {0};
    enum bag_kind kind = BAG_UNREADABLE;
    enum err err = ERR_OK;
    if (file == NULL)
        return ERR_OK;
    if (manifest == NULL) {
        bad_signature(result, "there is no " BAG_SIGN_SIGNED " to sign");
        return ERR_OK;
    }
    if (!is_covered(bag, "manifest-sha256.txt") && !is_covered(bag, "manifest-sha512.txt")) {
        bad_signature(result,
                      "covers no payload: " BAG_SIGN_SIGNED " lists no sha256 or sha512 manifest");
        return ERR_OK;
    }
    const struct bag_file *uncovered = first_uncovered(bag);
    if (uncovered != NULL) {
        char why[BAG_WHY_MAX];
        snprintf(why, sizeof why, "does not cover %.200s: no manifest that it covers lists it",
                 uncovered->path);
        bad_signature(result, why);
        return ERR_OK;
    }
    err = bag_files_text(&bag->files, file, BAG_SIGN_MAX, &text, &kind, f);
    if (err == ERR_OK)
        err = bag_files_text(&bag->files, manifest, bag->files.limits.text_bytes, &bytes, &kind, f);
    if (err == ERR_OK)
        bag_sign_check(text.data ? text.data : "", text.size, bytes.data ? bytes.data : "",
                       bytes.size, ring, result);
    else if (err != ERR_IO && err != ERR_MEMORY) {
        bad_signature(result, f->message);
        err = ERR_OK;
    }
    text_done(&text);
    text_done(&bytes);
    if (err == ERR_OK && (!is_covered(bag, "bagit.txt") ||
                          (find(bag, "bag-info.txt") != NULL && !is_covered(bag, "bag-info.txt"))))
        bag_warn(result, "bagit.txt or bag-info.txt is not covered by the signature");
    return err;
}

/* ---- the judgement ----------------------------------------------------------------------------*/

static bool is_about_sums(enum bag_kind kind)
{
    return kind == BAG_WRONG_SUM || kind == BAG_PAYLOAD_OXUM || kind == BAG_BAD_SIGNATURE;
}

static void conclude(struct bag_result *r)
{
    r->is_valid = bag_result_is_sound(r);
    r->is_complete = r->n_more_faults == 0;
    for (size_t i = 0; i < r->n_faults; i++)
        if (!is_about_sums(r->faults[i].kind))
            r->is_complete = false;
}

static enum err judge(struct bag *bag, const struct keyring *ring, struct bag_result *result,
                      struct fault *f)
{
    struct bag_tags *t = &bag->tags;
    enum err err = bag_tags_read(t, &bag->files, result, f);
    if (err != ERR_OK || !t->has_declaration)
        return err;
    if (!bag->files.is_zip && bag_files_clashes(&bag->files, result) != ERR_OK)
        return fault_no_memory(f);
    check_structure(&bag->files, t);
    say_missing(t);
    say_unlisted_fetches(t);
    for (size_t i = 0; i < bag->files.n && err == ERR_OK; i++) {
        check_listed(t, &bag->files.files[i]);
        err = check_file(bag, &bag->files.files[i], f);
    }
    if (err == ERR_OK) {
        check_oxum(t);
        err = check_signature(bag, ring, f);
    }
    return err;
}

static enum err open_bag(const char *path, const struct bag_limits *limits,
                         const struct keyring *ring, bool has_sha256, struct bag **ret,
                         struct bag_result *result, struct fault *reterr)
{
    bool is_usable = false;
    struct fault f = {0};
    struct bag *bag = calloc(1, sizeof *bag);
    if (bag == NULL)
        return fault_no_memory(reterr);
    bag->has_sha256 = has_sha256;
    enum err err = bag_files_open(path, limits, &bag->files, result, &is_usable, &f);
    if (err == ERR_OK && is_usable)
        err = judge(bag, ring, result, &f);
    if (err == ERR_OK && result->has_no_memory)
        err = fault_no_memory(&f);
    if (err != ERR_OK) {
        *reterr = f;
        bag_close(bag);
        return err;
    }
    if (!is_usable)
        bag_files_close(&bag->files);
    conclude(result);
    *ret = bag;
    return ERR_OK;
}

enum err bag_open(const char *path, const struct bag_limits *limits, const struct keyring *ring,
                  struct bag **ret, struct bag_result *result, struct fault *reterr)
{
    return open_bag(path, limits, ring, true, ret, result, reterr);
}

void bag_close(struct bag *bag)
{
    if (bag == NULL)
        return;
    bag_tags_done(&bag->tags);
    bag_files_close(&bag->files);
    for (size_t k = 0; k < DIGEST_KINDS; k++)
        digest_free(bag->digests[k]);
    free(bag);
}

size_t bag_n_files(const struct bag *bag)
{
    return bag->files.n;
}

const struct bag_file *bag_file_at(const struct bag *bag, size_t i)
{
    return &bag->files.files[i];
}

const struct bag_file *bag_file_find(const struct bag *bag, const char *path)
{
    return find(bag, path);
}

const uint8_t *bag_file_sum(const struct bag_file *file, enum digest_kind kind)
{
    return file->sums[kind];
}

const uint8_t *bag_file_sha256(const struct bag_file *file)
{
    return file->sha256;
}

enum err bag_file_stream(struct bag *bag, const struct bag_file *file, bag_take *take, void *to,
                         struct fault *reterr)
{
    enum bag_kind kind = BAG_UNREADABLE;
    return bag->files.source->read(&bag->files, file, take, to, &kind, reterr);
}

enum err bag_file_text(struct bag *bag, const struct bag_file *file, uint64_t max, struct text *ret,
                       struct fault *reterr)
{
    enum bag_kind kind = BAG_UNREADABLE;
    return bag_files_text(&bag->files, file, max, ret, &kind, reterr);
}

enum err bag_verify(const char *path, const struct bag_limits *limits, const struct keyring *ring,
                    struct bag_result *result, struct fault *reterr)
{
    struct bag *bag = NULL;
    const enum err err = open_bag(path, limits, ring, false, &bag, result, reterr);
    if (err == ERR_OK)
        bag_close(bag);
    return err;
}

/* bag_tags: owns the meaning of a bag's tag files taken together. */
#include "proof/bag_tags.h"

#include "proof/bag_path.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DECLARATION_MAX = 4096, INFO_MAX = 1024 * 1024 };

/* Reads a tag file; false when it cannot be used, which has been said, or *err is set. */
static bool read_bytes(struct bag_tags *t, const struct bag_file *file, uint64_t max,
                       struct text *ret, enum err *err, struct fault *f)
{
    enum bag_kind kind = BAG_UNREADABLE;
    *err = bag_files_text(t->files, file, max, ret, &kind, f);
    if (*err == ERR_OK)
        return true;
    if (*err != ERR_IO && *err != ERR_MEMORY) {
        bag_fault_add(t->result, kind, file->path, "%s", f->message);
        *err = ERR_OK;
    }
    return false;
}

/* The same, in UTF-8. */
static bool read_text(struct bag_tags *t, const struct bag_file *file, uint64_t max,
                      struct text *ret, enum err *err, struct fault *f)
{
    struct text bytes = {0};
    bool has_mark = false, is_good = read_bytes(t, file, max, &bytes, err, f);
    if (is_good) {
        text_clear(ret);
        *err = bag_text_decode(t->declaration.encoding, bytes.data ? bytes.data : "", bytes.size,
                               ret, &has_mark, f);
        is_good = *err == ERR_OK;
        if (*err == ERR_ENCODING) {
            bag_fault_add(t->result, BAG_ENCODING, file->path, "%s", f->message);
            *err = ERR_OK;
        }
    }
    if (has_mark)
        bag_warn(t->result, "%s begins with a byte order mark", file->path);
    text_done(&bytes);
    return is_good;
}

static struct bag_file *find(const struct bag_tags *t, const char *name)
{
    return bag_files_find(t->files, name, strlen(name));
}

/* ---- bagit.txt --------------------------------------------------------------------------------*/

static enum err read_declaration(struct bag_tags *t, struct fault *f)
{
    const struct bag_file *file = find(t, "bagit.txt");
    struct text bytes = {0};
    enum err err = ERR_OK;
    if (file == NULL) {
        bag_fault_add(t->result, BAG_DECLARATION, "bagit.txt", "is missing: this is not a bag");
        return ERR_OK;
    }
    if (read_bytes(t, file, DECLARATION_MAX, &bytes, &err, f)) {
        struct fault bad = {0};
        if (bag_declaration_read(bytes.data ? bytes.data : "", bytes.size, &t->declaration, &bad) ==
            ERR_OK)
            t->has_declaration = true;
        else if (bad.line > 0)
            bag_fault_add(t->result, BAG_DECLARATION, file->path, "line %d: %s", bad.line,
                          bad.message);
        else
            bag_fault_add(t->result, BAG_DECLARATION, file->path, "%s", bad.message);
    }
    text_done(&bytes);
    return err;
}

/* ---- manifests --------------------------------------------------------------------------------*/

static enum err add_missing(struct bag_tags *t, const struct bag_manifest *m, const char *path)
{
    if ((t->n_missing & (t->n_missing - 1)) == 0) {
        struct bag_missing *more =
            realloc(t->missing, (t->n_missing ? 2 * t->n_missing : 1) * sizeof *more);
        if (more == NULL)
            return ERR_MEMORY;
        t->missing = more;
    }
    struct bag_missing *last = &t->missing[t->n_missing];
    last->manifest = m;
    last->path = strdup(path);
    if (last->path == NULL)
        return ERR_MEMORY;
    t->n_missing++;
    return ERR_OK;
}

/* What a manifest of this kind may list at all. */
static const char *misplaced(const struct bag_tags *t, const struct bag_manifest *m,
                             const char *path)
{
    const char *alg = NULL;
    size_t n = 0;
    if (!m->is_tag)
        return bag_path_is_payload(path) ? NULL : "lists a path outside data/";
    if (bag_path_is_payload(path))
        return "is a tag manifest, and lists a path in data/";
    if (!t->declaration.is_old && bag_manifest_name(path, true, &alg, &n))
        return "lists a tag manifest, which cannot be";
    return NULL;
}

/* Looks up the path of a line in tag file `name`. One that may not be in a bag is a fault, and found->unsafe then says why. */
static enum err find_path(struct bag_tags *t, const char *name, int line, const char *path,
                          size_t n, struct bag_found *found)
{
    const enum err err = bag_lookup_find(&t->lookup, path, n, found);
    if (err == ERR_ENCODING)
        found->unsafe = "is not valid UTF-8";
    else if (err != ERR_OK)
        return err;
    if (found->unsafe != NULL)
        bag_fault_add(t->result, BAG_UNSAFE_PATH, name, "line %d: the path '%.*s' %s", line,
                      (int)(n < 300 ? n : 300), path, found->unsafe);
    return ERR_OK;
}

static enum err take_line(struct bag_tags *t, struct bag_manifest *m, int line,
                          const struct bag_manifest_line *read, const uint8_t *sum)
{
    struct bag_found found;
    const enum err err = find_path(t, m->name, line, read->path, read->path_n, &found);
    if (err != ERR_OK || found.unsafe != NULL)
        return err;
    const char *why = misplaced(t, m, found.path);
    if (why != NULL) {
        bag_fault_add(t->result, BAG_MANIFEST_LINE, m->name, "line %d: %s: '%.300s'", line, why,
                      found.path);
        return ERR_OK;
    }
    if (found.odd != NULL)
        bag_warn(t->result, "%s, line %d: the path '%.300s' %s", m->name, line, found.path,
                 found.odd);
    if (found.file == NULL)
        return add_missing(t, m, found.path);
    if (found.file->sums[m->kind] != NULL)
        bag_fault_add(t->result, BAG_DUPLICATE_PATH, found.file->path,
                      "stands in %s twice, the second time in line %d", m->name, line);
    else
        found.file->sums[m->kind] = sum;
    return ERR_OK;
}

static bool is_empty(const char *line, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (line[i] != ' ' && line[i] != '\t')
            return false;
    return true;
}

static enum err read_lines(struct bag_tags *t, struct bag_manifest *m, const struct text *text)
{
    const size_t size = digest_size(m->kind);
    struct bag_lines l = {.data = text->data, .size = text->size};
    const char *line = NULL;
    size_t n = 0, n_sums = 0;
    enum err err = ERR_OK;
    /* A line holds two digits a byte of its sum at least. */
    m->sums = malloc(text->size / (2 * size) * size + size);
    if (m->sums == NULL)
        return ERR_MEMORY;
    while (err == ERR_OK && bag_lines_next(&l, &line, &n)) {
        struct bag_manifest_line read;
        struct fault bad = {0};
        if (is_empty(line, n))
            continue;
        if (bag_manifest_line(line, n, m->kind, &read, &bad) != ERR_OK) {
            bag_fault_add(t->result, BAG_MANIFEST_LINE, m->name, "line %d: %s", l.line,
                          bad.message);
            continue;
        }
        uint8_t *sum = m->sums + n_sums++ * size;
        memcpy(sum, read.sum, size);
        err = take_line(t, m, l.line, &read, sum);
    }
    return err;
}

/* file: a name at the top that may be a manifest's. */
static enum err read_manifest(struct bag_tags *t, const struct bag_file *file, struct fault *f)
{
    const char *alg = NULL;
    size_t n = 0;
    struct text text = {0};
    enum err err = ERR_OK;
    enum digest_kind kind = DIGEST_SHA256;
    const bool is_tag = bag_manifest_name(file->path, true, &alg, &n);
    if (!is_tag && !bag_manifest_name(file->path, false, &alg, &n))
        return ERR_OK;
    if (!digest_named(alg, n, &kind)) {
        bag_warn(t->result, "%.200s is not looked at: its kind of sum is not known here",
                 file->path);
        return ERR_OK;
    }
    struct bag_manifest *m = &t->manifests[t->n_manifests++];
    *m = (struct bag_manifest){.name = file->path, .kind = kind, .is_tag = is_tag};
    if (read_text(t, file, t->files->limits.text_bytes, &text, &err, f))
        err = read_lines(t, m, &text);
    text_done(&text);
    return err;
}

static enum err read_manifests(struct bag_tags *t, struct fault *f)
{
    enum err err = ERR_OK;
    for (size_t i = 0; i < t->files->n && err == ERR_OK; i++)
        err = read_manifest(t, &t->files->files[i], f);
    return err;
}

/* ---- bag-info.txt, fetch.txt ------------------------------------------------------------------*/

static enum err read_info(struct bag_tags *t, struct fault *f)
{
    const struct bag_file *file = find(t, "bag-info.txt");
    struct text text = {0};
    struct fault bad = {0};
    enum err err = ERR_OK;
    if (file == NULL || !read_text(t, file, INFO_MAX, &text, &err, f)) {
        text_done(&text);
        return err;
    }
    if (bag_info_read(text.data ? text.data : "", text.size, &t->info, &bad) != ERR_OK)
        bag_fault_add(t->result, BAG_INFO_LINE, file->path, "line %d: %s", bad.line, bad.message);
    else if (t->info.n_loose > 0 && !t->declaration.is_old)
        bag_warn(t->result, "bag-info.txt: %d of its lines are not 'Label: value' to the letter",
                 t->info.n_loose);
    text_done(&text);
    return err;
}

static enum err add_fetched(struct bag_tags *t, const char *path)
{
    if ((t->n_fetched & (t->n_fetched - 1)) == 0) {
        char **more = realloc(t->fetched, (t->n_fetched ? 2 * t->n_fetched : 1) * sizeof *more);
        if (more == NULL)
            return ERR_MEMORY;
        t->fetched = more;
    }
    t->fetched[t->n_fetched] = strdup(path);
    return t->fetched[t->n_fetched++] == NULL ? ERR_MEMORY : ERR_OK;
}

static enum err take_fetch(struct bag_tags *t, const char *name, int line,
                           const struct bag_fetch_line *read)
{
    struct bag_found found;
    const enum err err = find_path(t, name, line, read->path, read->path_n, &found);
    if (err != ERR_OK || found.unsafe != NULL)
        return err;
    if (!bag_path_is_payload(found.path))
        bag_fault_add(t->result, BAG_FETCH_LINE, name,
                      "line %d: lists a path outside data/: '%.300s'", line, found.path);
    else if (found.file == NULL)
        return add_fetched(t, found.path);
    return ERR_OK;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static enum err read_fetch(struct bag_tags *t, struct fault *f)
{
    const struct bag_file *file = find(t, "fetch.txt");
    struct text text = {0};
    enum err err = ERR_OK;
    if (file != NULL && read_text(t, file, t->files->limits.text_bytes, &text, &err, f)) {
        struct bag_lines l = {.data = text.data, .size = text.size};
        const char *line = NULL;
        size_t n = 0;
        while (err == ERR_OK && bag_lines_next(&l, &line, &n)) {
            struct bag_fetch_line read;
            struct fault bad = {0};
            if (is_empty(line, n))
                continue;
            if (bag_fetch_line(line, n, &read, &bad) == ERR_OK)
                err = take_fetch(t, file->path, l.line, &read);
            else
                bag_fault_add(t->result, BAG_FETCH_LINE, file->path, "line %d: %s", l.line,
                              bad.message);
        }
    }
    text_done(&text);
    if (err == ERR_OK && t->n_fetched > 1)
        qsort(t->fetched, t->n_fetched, sizeof *t->fetched, by_text);
    return err;
}

/* ---- all --------------------------------------------------------------------------------------*/

enum err bag_tags_read(struct bag_tags *tags, struct bag_files *files, struct bag_result *result,
                       struct fault *reterr)
{
    *tags = (struct bag_tags){.files = files, .result = result};
    enum err err = read_declaration(tags, reterr);
    if (err != ERR_OK || !tags->has_declaration)
        return err;
    snprintf(result->version, sizeof result->version, "%s", tags->declaration.version);
    tags->lookup = (struct bag_lookup){.files = files, .is_old = tags->declaration.is_old};
    err = read_manifests(tags, reterr);
    if (err == ERR_OK)
        err = read_info(tags, reterr);
    if (err == ERR_OK)
        err = read_fetch(tags, reterr);
    if (err == ERR_MEMORY)
        return fault_set(reterr, err, "memory ran out");
    return err;
}

void bag_tags_done(struct bag_tags *tags)
{
    for (size_t i = 0; i < tags->n_manifests; i++)
        free(tags->manifests[i].sums);
    for (size_t i = 0; i < tags->n_missing; i++)
        free(tags->missing[i].path);
    for (size_t i = 0; i < tags->n_fetched; i++)
        free(tags->fetched[i]);
    free(tags->missing);
    free(tags->fetched);
    bag_lookup_done(&tags->lookup);
    *tags = (struct bag_tags){0};
}

/* bag_files: owns the sorted list of a bag's files, and finds names that clash. */
#include "proof/bag_files.h"

#include "proof/bag_path.h"

#include <stdlib.h>
#include <string.h>

/* A kibibyte of our own events is small, a photo is some megabytes; a bag of a whole day stays far
 * below all of these. */
const struct bag_limits bag_limits_usual = {
    .files = 100000,
    .bytes = (uint64_t)64 << 30,
    .file_bytes = (uint64_t)16 << 30,
    .ratio = 200,
    .ratio_from = (uint64_t)4 << 20,
    .text_bytes = (uint64_t)16 << 20,
    .directory_bytes = (uint64_t)32 << 20,
};

enum err bag_files_add(struct bag_files *files, const char *path, uint64_t size, uint64_t place)
{
    if (files->n >= files->limits.files)
        return ERR_LIMIT;
    if (files->n == files->room) {
        const size_t room = files->room ? 2 * files->room : 64;
        struct bag_file *more = realloc(files->files, room * sizeof *more);
        if (more == NULL)
            return ERR_MEMORY;
        files->files = more;
        files->room = room;
    }
    char *copy = strdup(path);
    if (copy == NULL)
        return ERR_MEMORY;
    files->files[files->n++] = (struct bag_file){.path = copy, .size = size, .place = place};
    return ERR_OK;
}

void bag_files_close(struct bag_files *files)
{
    if (files->source != NULL)
        files->source->close(files);
    for (size_t i = 0; i < files->n; i++)
        free(files->files[i].path);
    free(files->files);
    *files = (struct bag_files){0};
}

static int by_path(const void *a, const void *b)
{
    const struct bag_file *x = a, *y = b;
    return strcmp(x->path, y->path);
}

void bag_files_sort(struct bag_files *files)
{
    if (files->n > 1)
        qsort(files->files, files->n, sizeof *files->files, by_path);
}

struct bag_file *bag_files_find(const struct bag_files *files, const char *path, size_t n)
{
    size_t low = 0, high = files->n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const char *other = files->files[middle].path;
        int order = strncmp(other, path, n);
        if (order == 0)
            order = other[n] != '\0';
        if (order == 0)
            return &files->files[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

struct collect {
    struct text *text;
    uint64_t max;
    bool is_over;
};

static void collect(void *to, const void *bytes, size_t n)
{
    struct collect *c = to;
    if (c->is_over || n > c->max - c->text->size)
        c->is_over = true;
    else
        text_add(c->text, bytes, n);
}

enum err bag_files_text(struct bag_files *files, const struct bag_file *file, uint64_t max,
                        struct text *ret, enum bag_kind *ret_kind, struct fault *reterr)
{
    struct collect c = {.text = ret, .max = max};
    enum err err = ERR_OK;
    text_clear(ret);
    if (file->size <= max)
        err = files->source->read(files, file, collect, &c, ret_kind, reterr);
    if (err != ERR_OK)
        return err;
    if (file->size > max || c.is_over) {
        *ret_kind = BAG_LIMIT;
        return fault_set(reterr, ERR_LIMIT,
                         "is larger than %llu bytes; expected a smaller tag file",
                         (unsigned long long)max);
    }
    return ret->is_broken ? fault_no_memory(reterr) : ERR_OK;
}

/* ---- names that clash -------------------------------------------------------------------------*/

struct folded {
    char *key;
    const char *path;
};

static int by_key(const void *a, const void *b)
{
    const struct folded *x = a, *y = b;
    const int order = strcmp(x->key, y->key);
    return order != 0 ? order : strcmp(x->path, y->path);
}

/* Whether the two differ in Unicode's form alone. */
static enum err same_form(const char *a, const char *b, bool *ret)
{
    char *x = NULL, *y = NULL;
    enum err err = bag_path_fold(a, false, &x);
    if (err == ERR_OK)
        err = bag_path_fold(b, false, &y);
    if (err == ERR_OK)
        *ret = strcmp(x, y) == 0;
    free(x);
    free(y);
    return err;
}

static enum err say_clash(const struct bag_files *files, const char *a, const char *b,
                          struct bag_result *result)
{
    bool is_form = false;
    const enum err err = same_form(a, b, &is_form);
    if (err != ERR_OK)
        return err;
    const char *why = is_form ? "in the Unicode form of their letters" : "in case";
    if (files->is_zip)
        bag_fault_add(result, BAG_CLASH, b,
                      "differs from '%.200s' only %s: unpacking would lose one", a, why);
    else
        bag_warn(result, "%.200s and %.200s differ only %s; some systems take them for one file", a,
                 b, why);
    return ERR_OK;
}

/* Sorted keys bring clashing names side by side. */
static enum err compare(const struct bag_files *files, struct folded *keys,
                        struct bag_result *result)
{
    enum err err = ERR_OK;
    qsort(keys, files->n, sizeof *keys, by_key);
    for (size_t i = 1; i < files->n && err == ERR_OK; i++)
        if (strcmp(keys[i - 1].key, keys[i].key) == 0)
            err = say_clash(files, keys[i - 1].path, keys[i].path, result);
    return err;
}

/* The file whose key is key[0..n); NULL when there is none. */
static const struct folded *find_key(const struct folded *keys, size_t n_keys, const char *key,
                                     size_t n)
{
    size_t low = 0, high = n_keys;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        int order = strncmp(keys[middle].key, key, n);
        if (order == 0)
            order = keys[middle].key[n] != '\0';
        if (order == 0)
            return &keys[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

/* A name that is a file here and a folder there cannot be unpacked at all, or not where case does not count. */
static void find_both(const struct folded *keys, size_t n, struct bag_result *result)
{
    for (size_t i = 0; i < n; i++) {
        const char *key = keys[i].key;
        for (const char *slash = strchr(key, '/'); slash != NULL; slash = strchr(slash + 1, '/')) {
            const struct folded *file = find_key(keys, n, key, (size_t)(slash - key));
            if (file != NULL) {
                bag_fault_add(result, BAG_CLASH, file->path, "is both a file and a folder");
                return;
            }
        }
    }
}

enum err bag_files_clashes(const struct bag_files *files, struct bag_result *result)
{
    if (files->n == 0)
        return ERR_OK;
    struct folded *keys = calloc(files->n, sizeof *keys);
    enum err err = keys == NULL ? ERR_MEMORY : ERR_OK;
    for (size_t i = 0; i < files->n && err == ERR_OK; i++) {
        keys[i].path = files->files[i].path;
        err = bag_path_fold(keys[i].path, true, &keys[i].key);
    }
    if (err == ERR_OK)
        err = compare(files, keys, result);
    if (err == ERR_OK && files->is_zip)
        find_both(keys, files->n, result);
    for (size_t i = 0; keys != NULL && i < files->n; i++)
        free(keys[i].key);
    free(keys);
    return err;
}

/* bag_lookup: owns the ways in which a written path may differ from the file's name. */
#include "proof/bag_lookup.h"

#include "proof/bag_path.h"

#include <stdlib.h>
#include <string.h>

struct bag_form {
    char *key;
    struct bag_file *file;
};

static bool is_ascii(const char *s)
{
    for (; *s != '\0'; s++)
        if ((unsigned char)*s >= 0x80)
            return false;
    return true;
}

static int by_key(const void *a, const void *b)
{
    const struct bag_form *x = a, *y = b;
    return strcmp(x->key ? x->key : "", y->key ? y->key : "");
}

/* Made when the first name asks for it; most bags never do. */
static enum err make_forms(struct bag_lookup *l)
{
    const struct bag_files *files = l->files;
    size_t n = 0;
    l->has_forms = true;
    for (size_t i = 0; i < files->n; i++)
        n += !is_ascii(files->files[i].path);
    l->forms = calloc(n ? n : 1, sizeof *l->forms);
    if (l->forms == NULL)
        return ERR_MEMORY;
    for (size_t i = 0; i < files->n; i++) {
        if (is_ascii(files->files[i].path))
            continue;
        struct bag_form *form = &l->forms[l->n_forms];
        form->file = &files->files[i];
        const enum err err = bag_path_fold(form->file->path, false, &form->key);
        if (err != ERR_OK)
            return err;
        l->n_forms++;
    }
    if (l->n_forms > 1)
        qsort(l->forms, l->n_forms, sizeof *l->forms, by_key);
    return ERR_OK;
}

static enum err find_form(struct bag_lookup *l, const char *path, struct bag_file **ret)
{
    char *key = NULL;
    enum err err = ERR_OK;
    *ret = NULL;
    if (!l->has_forms)
        err = make_forms(l);
    if (err == ERR_OK)
        err = bag_path_fold(path, false, &key);
    if (err == ERR_OK && l->n_forms > 0) {
        const struct bag_form wanted = {.key = key};
        const struct bag_form *form =
            bsearch(&wanted, l->forms, l->n_forms, sizeof *l->forms, by_key);
        *ret = form ? form->file : NULL;
    }
    free(key);
    return err;
}

/* The path that was meant, in ret->path; false when it may not be followed. */
static bool settle(struct bag_found *ret, const char *written, size_t n)
{
    while (n >= 2 && written[0] == '.' && written[1] == '/') {
        written += 2;
        n -= 2;
        ret->odd = "begins with './'";
    }
    ret->unsafe = bag_path_fault(written, n);
    if (n >= sizeof ret->path)
        n = sizeof ret->path - 1;
    memmove(ret->path, written, n);
    ret->path[n] = '\0';
    return ret->unsafe == NULL;
}

static void try_exact(const struct bag_lookup *l, struct bag_found *ret)
{
    if (ret->unsafe == NULL)
        ret->file = bag_files_find(l->files, ret->path, strlen(ret->path));
}

/* As it stands, for version 0.97 first and for 1.0 last. */
static void try_literal(const struct bag_lookup *l, const char *written, size_t n,
                        struct bag_found *ret)
{
    struct bag_found literal = {.odd = NULL};
    if (!settle(&literal, written, n))
        return;
    try_exact(l, &literal);
    if (literal.file != NULL)
        *ret = literal;
}

static void try_decoded(const struct bag_lookup *l, const char *written, size_t n,
                        struct bag_found *ret)
{
    char decoded[sizeof ret->path];
    bool is_loose = false;
    if (n >= sizeof decoded) {
        ret->unsafe = bag_path_fault(written, n);
        if (ret->unsafe == NULL)
            ret->unsafe = "is longer than 4096 bytes";
        return;
    }
    memcpy(decoded, written, n);
    n = bag_path_decode(decoded, n, &is_loose);
    if (settle(ret, decoded, n))
        try_exact(l, ret);
    if (is_loose && !l->is_old && ret->odd == NULL)
        ret->odd = "holds a '%' that is not written as %25";
}

/* md5sum and its kin write '*' before the path of a file read as binary. */
static void try_star(const struct bag_lookup *l, const char *written, size_t n,
                     struct bag_found *ret)
{
    struct bag_found starred = {.odd = NULL};
    if (n < 2 || written[0] != '*')
        return;
    try_decoded(l, written + 1, n - 1, &starred);
    if (starred.file == NULL && starred.unsafe == NULL)
        return;
    *ret = starred;
    if (!l->is_old)
        ret->odd = "stands behind a '*', which version 1.0 does not know";
}

enum err bag_lookup_find(struct bag_lookup *l, const char *written, size_t n, struct bag_found *ret)
{
    enum err err = ERR_OK;
    ret->file = NULL;
    ret->unsafe = ret->odd = NULL;
    ret->path[0] = '\0';
    if (l->is_old)
        try_literal(l, written, n, ret);
    if (ret->file == NULL)
        try_decoded(l, written, n, ret);
    if (ret->file == NULL && ret->unsafe == NULL)
        try_star(l, written, n, ret);
    if (ret->file == NULL && ret->unsafe == NULL && !l->is_old) {
        try_literal(l, written, n, ret);
        if (ret->file != NULL)
            ret->odd = "is not percent-encoded as version 1.0 asks";
    }
    if (ret->file == NULL && ret->unsafe == NULL && !is_ascii(ret->path)) {
        err = find_form(l, ret->path, &ret->file);
        if (err == ERR_OK && ret->file != NULL)
            ret->odd = "differs from the file's name in the Unicode form of its letters";
    }
    return err;
}

void bag_lookup_done(struct bag_lookup *l)
{
    for (size_t i = 0; i < l->n_forms; i++)
        free(l->forms[i].key);
    free(l->forms);
    *l = (struct bag_lookup){0};
}

/* pictures: owns what a step's picture must be before the store keeps it, and how it lies there. */
#include "desk/pictures.h"

#include "base/digest.h"
#include "base/file.h"
#include "bulletin/bulletin.h"
#include "store/store.h"

#include <stdio.h>
#include <string.h>

static const char kind_name[] = "picture";

/* ---- kinds ---------------------------------------------------------------------------------- */

enum kind { KIND_PNG, KIND_JPEG, KIND_SVG, KIND_N };
static const char *const types[KIND_N] = {"image/png", "image/jpeg", "image/svg+xml"};

/* The bulletin's check has seen to it that a name ends in one of these. */
static enum kind kind_of(const char *file)
{
    const char *dot = strrchr(file, '.');
    if (dot != NULL && strcmp(dot, ".png") == 0)
        return KIND_PNG;
    return dot != NULL && strcmp(dot, ".svg") == 0 ? KIND_SVG : KIND_JPEG;
}

/* Whether bytes begin as the kind does: PNG by its signature (ISO/IEC 15948, 5.2), JPEG by SOI and a marker (ITU-T T.81, B.1.1.3). */
static bool is_kind(enum kind kind, const struct text *t)
{
    static const char png[] = "\x89PNG\r\n\x1a\n";
    switch (kind) {
    case KIND_PNG:
        return t->size > 8 && memcmp(t->data, png, 8) == 0;
    case KIND_JPEG:
        return t->size > 3 && memcmp(t->data, "\xff\xd8\xff", 3) == 0;
    default:
        return t->size > 0 && text_is_utf8(t->data, t->size, NULL) &&
               strstr(t->data, "<svg") != NULL;
    }
}

/* ---- keeping -------------------------------------------------------------------------------- */

/* "FOLDER/FILE" for the bulletin at path. */
static enum err beside(const char *path, const char *file, char ret[FAULT_FILE_MAX],
                       struct fault *f)
{
    const char *slash = strrchr(path, '/');
    const int folder = slash != NULL ? (int)(slash - path) + 1 : 0;
    if (strcmp(path, "-") == 0)
        return fault_set(f, ERR_OPEN,
                         "the bulletin names the picture '%s', and nothing lies beside standard "
                         "input; give the bulletin as a file",
                         file);
    if (snprintf(ret, FAULT_FILE_MAX, "%.*s%s", folder, path, file) >= FAULT_FILE_MAX)
        return fault_set(f, ERR_LIMIT, "the picture's path is too long");
    return ERR_OK;
}

static enum err read_one(const char *path, const char *file, struct text *ret, struct fault *f)
{
    char where[FAULT_FILE_MAX];
    text_clear(ret);
    enum err err = beside(path, file, where, f);
    if (err != ERR_OK)
        return err;
    err = file_read(where, PICTURE_MAX, ret, f);
    if (err != ERR_OK || is_kind(kind_of(file), ret))
        return err;
    snprintf(f->file, sizeof f->file, "%s", where);
    return fault_set(f, ERR_TYPE, "is no %s file; expected what its name says",
                     kind_of(file) == KIND_PNG   ? "PNG"
                     : kind_of(file) == KIND_SVG ? "SVG"
                                                 : "JPEG");
}

static enum err keep_one(struct store *store, const struct bulletin *b, const char *file,
                         const struct text *bytes, int64_t now_ms, bool *ret_new, struct fault *f)
{
    enum { PIECE = 512 };
    char name[STORE_ID_MAX + 1], hex[2 * PIECE + 1];
    struct text digits = {0};
    if (snprintf(name, sizeof name, "%s/%s", b->head.id, file) >= (int)sizeof name)
        return fault_set(f, ERR_LIMIT, "'%.80s': the picture's name is too long", file);
    for (size_t i = 0; i < bytes->size; i += PIECE) {
        digest_hex((const uint8_t *)bytes->data + i,
                   bytes->size - i < PIECE ? bytes->size - i : (size_t)PIECE, hex);
        text_puts(&digits, hex);
    }
    struct store_paper paper = {.kind = kind_name,
                                .name = name,
                                .revision = b->head.revision,
                                .at_ms = now_ms,
                                .text = digits.data,
                                .n = digits.size};
    const enum err err =
        digits.is_broken ? fault_no_memory(f) : store_keep(store, &paper, ret_new, f);
    text_done(&digits);
    return err;
}

/* Whether step i is the first that names its picture. */
static bool is_first(const struct bulletin *b, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (b->steps.at[k].picture.node != NULL &&
            strcmp(b->steps.at[k].picture.file, b->steps.at[i].picture.file) == 0)
            return false;
    return true;
}

enum err pictures_keep(struct store *store, const struct bulletin *bulletin, const char *path,
                       int64_t now_ms, size_t *ret_n, bool *ret_new, struct fault *reterr)
{
    struct text bytes = {0};
    enum err err = ERR_OK;
    *ret_n = 0;
    *ret_new = false;
    for (int round = 0; round < 2; round++) /* all are looked at before the first is kept */
        for (size_t i = 0; i < bulletin->steps.n && err == ERR_OK; i++) {
            const struct bulletin_picture *p = &bulletin->steps.at[i].picture;
            bool is_new = false;
            if (p->node == NULL || !is_first(bulletin, i))
                continue;
            err = read_one(path, p->file, &bytes, reterr);
            if (err != ERR_OK || round == 0)
                continue;
            err = keep_one(store, bulletin, p->file, &bytes, now_ms, &is_new, reterr);
            *ret_n += 1;
            *ret_new = *ret_new || is_new;
        }
    text_done(&bytes);
    return err;
}

/* ---- giving out ----------------------------------------------------------------------------- */

struct wanted {
    int64_t revision;
    bool is_there, is_sound;
    struct text *ret;
    char tag[2 * STORE_DIGEST + 1];
};

static bool see(void *me, const struct store_paper *p)
{
    enum { PIECE = 512 };
    struct wanted *w = me;
    uint8_t piece[PIECE];
    if (p->revision != w->revision)
        return true;
    w->is_there = true;
    w->is_sound = p->n % 2 == 0;
    for (size_t i = 0; i < p->n && w->is_sound; i += 2 * (size_t)PIECE) {
        const size_t n = p->n - i < 2 * (size_t)PIECE ? (p->n - i) / 2 : (size_t)PIECE;
        w->is_sound = digest_unhex(p->text + i, n, piece);
        if (w->is_sound)
            text_add(w->ret, (const char *)piece, n);
    }
    digest_hex(p->sha256, STORE_DIGEST, w->tag);
    return false;
}

enum err picture_find(struct store *store, const char *bulletin, int64_t revision, const char *file,
                      struct text *ret, char tag[65], const char **ret_type, struct fault *reterr)
{
    char name[STORE_ID_MAX + 1];
    struct wanted w = {.revision = revision, .ret = ret};
    const bool is_name =
        snprintf(name, sizeof name, "%s/%s", bulletin, file) < (int)sizeof name && file[0] != '\0';
    enum err err = is_name ? store_papers(store, kind_name, name, true, see, &w, reterr) : ERR_OK;
    if (err == ERR_OK && !w.is_there)
        err = fault_set(reterr, ERR_UNKNOWN, "no such picture is kept");
    else if (err == ERR_OK && ret->is_broken)
        err = fault_no_memory(reterr);
    else if (err == ERR_OK && !w.is_sound)
        err = fault_set(reterr, ERR_SYNTAX, "the picture is damaged; see `store verify`");
    snprintf(tag, sizeof w.tag, "%s", w.tag);
    *ret_type = types[kind_of(file)];
    return err;
}

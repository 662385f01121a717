/* verb_photo: what photos show of themselves, and which of them look alike. */
#include "base/file.h"
#include "cli/photo_set.h"
#include "cli/verbs.h"
#include "core/near.h"
#include "proof/photo_apart.h"

#include <stdlib.h>
#include <string.h>

enum { LIST_BYTES_MAX = 256 << 20 };

/* What the call asks for. */
struct call {
    struct cli *ctx;
    const char *index;
    const char *list;
    int radius;
    bool is_near, is_pairs;
    struct photo *photo;     /* room for one, used again and again */
    struct cli_table *table; /* NULL unless the photos themselves are told to people */
    struct photo_set set;
    size_t n_photos, n_faulty;
};

/* ---- one photo ----------------------------------------------------------------------------- */

/* A file that is too large to be read whole is still a finding, as any other broken photo. */
static enum err read_photo(const char *path, struct photo *photo, struct fault *f)
{
    struct text bytes = {0};
    enum err e = file_read(path, PHOTO_BYTES_MAX, &bytes, f);
    if (e == ERR_OK)
        e = photo_apart_read(bytes.data, bytes.size, photo);
    else if (e == ERR_LIMIT) {
        *photo = (struct photo){.fault = PHOTO_LARGE, .orientation = 1};
        snprintf(photo->fault_text, sizeof photo->fault_text,
                 "is larger than %d MiB: not read, no digest", PHOTO_BYTES_MAX >> 20);
        e = ERR_OK;
    } else {
        text_done(&bytes);
        return e;
    }
    text_done(&bytes);
    if (e != ERR_OK) {
        snprintf(f->file, sizeof f->file, "%s", path);
        return fault_set(f, e, "%s", err_text(e));
    }
    return ERR_OK;
}

static bool keep(struct call *c, const char *path)
{
    const struct photo *p = c->photo;
    const struct photo_entry entry = {.hash = p->hash, .has_mirror = true, .has_phash = true};
    return p->fault != PHOTO_FINE || photo_set_add(&c->set, &entry, path, strlen(path));
}

static int take_photo(struct call *c, const char *path)
{
    struct fault f = {0};
    if (read_photo(path, c->photo, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    c->n_photos++;
    c->n_faulty += c->photo->fault != PHOTO_FINE;
    if (c->is_near || c->is_pairs) {
        if (keep(c, path))
            return CLI_GOOD;
        cli_error(c->ctx, "memory ran out");
        return CLI_FAILED;
    }
    if (c->ctx->is_json)
        photo_say_json(c->ctx, path, c->photo);
    else
        photo_say_row(c->table, path, c->photo);
    return CLI_GOOD;
}

/* ---- all of them --------------------------------------------------------------------------- */

/* The paths in a list, one a line; a closing carriage return is passed over. */
static int take_list(struct call *c)
{
    struct text t = {0};
    struct fault f = {0};
    int code = CLI_GOOD;
    if (file_read(c->list, LIST_BYTES_MAX, &t, &f) != ERR_OK)
        code = cli_fault(c->ctx, &f);
    for (size_t at = 0; code == CLI_GOOD && at < t.size;) {
        char *line = t.data + at;
        char *stop = memchr(line, '\n', t.size - at);
        const size_t n = stop != NULL ? (size_t)(stop - line) : t.size - at;
        at += n + 1;
        line[n] = '\0'; /* a text ends in a NUL of its own, so there is room behind the last line */
        if (n > 0 && line[n - 1] == '\r')
            line[n - 1] = '\0';
        if (line[0] != '\0')
            code = take_photo(c, line);
    }
    text_done(&t);
    return code;
}

static int take_all(struct call *c, const struct cli_arg *args, int n)
{
    int code = CLI_GOOD;
    for (int i = 0; i < n && code == CLI_GOOD; i++)
        if (args[i].name == NULL)
            code = take_photo(c, args[i].value);
    if (code == CLI_GOOD && c->list != NULL)
        code = take_list(c);
    return code;
}

static void say_photos(struct call *c)
{
    struct cli *ctx = c->ctx;
    if (c->n_faulty == 0)
        cli_verdict(ctx, CLI_STRONG, "%zu photo%s read.", c->n_photos, c->n_photos == 1 ? "" : "s");
    else
        cli_verdict(ctx, CLI_STOP, "%zu of %zu photo%s cannot be used.", c->n_faulty, c->n_photos,
                    c->n_photos == 1 ? "" : "s");
    cli_table_print(c->table, ctx, 4);
    if (c->n_faulty > 0)
        cli_verdict(ctx, CLI_ACT,
                    "Send the original file again, straight from the camera or phone; if it is "
                    "lost, take the photo again.");
}

static int answer(struct call *c)
{
    struct photo_set known = {0};
    size_t n_passed = 0;
    int code;
    if (!c->is_near && !c->is_pairs) {
        if (!c->ctx->is_json)
            say_photos(c);
        return c->n_faulty > 0 ? CLI_NO : CLI_GOOD;
    }
    if (c->is_pairs)
        return photo_pairs_write(c->ctx, &c->set, NULL, c->radius, c->n_faulty);
    code = photo_set_load(c->ctx, c->index, &known, &n_passed);
    if (code == CLI_GOOD)
        code = photo_pairs_write(c->ctx, &known, c->n_photos > 0 ? &c->set : NULL, c->radius,
                                 c->n_faulty + (c->n_photos > 0 ? 0 : n_passed));
    photo_set_done(&known);
    return code;
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_radius(const struct cli *ctx, const char *name, const char *text, int *ret)
{
    char *end = NULL;
    const long value = text[0] >= '0' && text[0] <= '9' ? strtol(text, &end, 10) : -1;
    if (end == NULL || *end != '\0' || value < 0 || value > NEAR_RADIUS_MAX)
        return cli_error(ctx, "%s '%.40s'; expected a whole number of bits from 0 to %d", name,
                         text, NEAR_RADIUS_MAX);
    *ret = (int)value;
    return CLI_GOOD;
}

static int read_call(struct call *c, const struct cli_arg *args, int n)
{
    const char *near = cli_value(args, n, "--near"), *pairs = cli_value(args, n, "--pairs");
    int n_inputs = 0;
    c->index = cli_value(args, n, "--index");
    c->list = cli_value(args, n, "--list");
    for (int i = 0; i < n; i++)
        n_inputs += args[i].name == NULL;
    n_inputs += c->list != NULL;
    c->is_near = near != NULL;
    c->is_pairs = pairs != NULL;
    if (c->is_near && c->is_pairs)
        return cli_error(c->ctx, "found --near and --pairs; expected one of them");
    if (c->is_near != (c->index != NULL))
        return cli_error(c->ctx, "found %s without %s; they go together",
                         c->is_near ? "--near" : "--index", c->is_near ? "--index" : "--near");
    if (n_inputs == 0 && !c->is_near)
        return cli_error(c->ctx, "found no photo; expected at least one file or --list");
    if (c->is_near)
        return read_radius(c->ctx, "--near", near, &c->radius);
    return c->is_pairs ? read_radius(c->ctx, "--pairs", pairs, &c->radius) : CLI_GOOD;
}

static int run_photo(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call c = {.ctx = ctx};
    const int n = cli_options(ctx, &verb_photo, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    int code = read_call(&c, args, n);
    if (code != CLI_GOOD)
        return code;
    c.photo = malloc(sizeof *c.photo);
    if (!ctx->is_json && !c.is_near && !c.is_pairs) {
        c.table = cli_table_new(PHOTO_SAY_ALIGN);
        photo_say_head(c.table);
    }
    if (c.photo == NULL) {
        cli_error(ctx, "memory ran out");
        code = CLI_FAILED;
    }
    if (code == CLI_GOOD)
        code = take_all(&c, args, n);
    if (code == CLI_GOOD)
        code = answer(&c);
    if (code == CLI_WRONG || code == CLI_FAILED)
        text_clear(&ctx->out); /* half an answer would look like a whole one */
    photo_set_done(&c.set);
    cli_table_free(c.table);
    free(c.photo);
    return code;
}

static const struct cli_option options[] = {
    {"--near", "BITS", "what in the index lies within so many bits of each photo", false},
    {"--index", "FILE", "what `photo --json` printed earlier, or lines of a hash and a name",
     false},
    {"--pairs", "BITS", "which of the photos lie within so many bits of one another", false},
    {"--list", "FILE", "more photos, one path a line; - for standard input", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_photo = {
    .name = "photo",
    .line = "is this photo sound, sharp, lit, and seen before?",
    .call = "photo FILE... | photo --pairs BITS FILE... | photo --near BITS --index FILE [FILE...]",
    .about =
        "Reads JPEG, PNG and, where the build has it, HEIC, and tells of each photo: its SHA-256, "
        "size, time and orientation from EXIF, light (mean luminance, 0 black to 1 white), "
        "sharpness (variance of the Laplacian at 1024 pixels on the longer side), two 64-bit "
        "hashes of what it looks like, and the QR, Code 39 and Code 128 codes in it. A photo that "
        "is broken, cut short, too large or lying about its size is a finding: \"fault\" is "
        "\"empty\", \"kind\", \"large\", \"truncated\" or \"broken\". Whether it tells a place is "
        "told, the place is not.\n"
        "\n"
        "dark, washed out and blurred are this program's own working limits (light below 15 % or "
        "above 93 %, sharpness below 20), measured on invented pictures: a reason to look, not a "
        "ruling.\n"
        "\n"
        "--pairs and --near list all photos whose difference hashes lie within BITS, also "
        "against mirror images. 0 bits apart is the same picture, up to about 10 perhaps a "
        "variation. \"alike\" (likely a copy) asks both hashes: at most 10 bits in this one and at "
        "most 20 in the DCT hash (\"phash_distance\"). Photos without shapes, all dark or all "
        "white, are not compared. With --near and no FILE, the index is compared with itself.\n"
        "\n"
        "Exit 0 when every photo was read, 1 when one has a fault, 2 when a file or the index "
        "cannot be read at all.",
    .example =
        "  $ printf '%s\\n' '3c3e0e1a3a1e1e1e column-14.jpg' '3c3e0e1a3a1e1e1f column-15.jpg' |\\\n"
        "      mendwright photo --near 2 --index -\n"
        "  [x] 1 pair within 2 of 64 bits.\n"
        "      bits  DCT bits  seen      verdict        photo          and\n"
        "      ---------------------------------------------------------------------\n"
        "         1         -  as it is  one hash only  column-14.jpg  column-15.jpg\n"
        "  [>] Look at both photos side by side. Near hashes are a reason to look, never a\n"
        "      proof.\n",
    .options = options,
    .run = run_photo,
};

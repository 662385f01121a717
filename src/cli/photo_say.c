/* photo_say: owns how one photo is told: as JSON by the command contract, and as a row of a table in
 * plain words. */
#include "base/jsonw.h"
#include "cli/photo_set.h"

#include <inttypes.h>
#include <string.h>

static void write_hash(struct jsonw *w, const char *key, bool is_known, uint64_t hash)
{
    char hex[17];
    snprintf(hex, sizeof hex, "%016" PRIx64, hash);
    jsonw_string(w, key, is_known ? hex : NULL);
}

static void write_number(struct jsonw *w, const char *key, bool is_known, double value)
{
    if (is_known)
        jsonw_double(w, key, value);
    else
        jsonw_null(w, key);
}

static void write_size(struct jsonw *w, const char *key, int32_t value)
{
    if (value > 0)
        jsonw_int(w, key, value);
    else
        jsonw_null(w, key);
}

static void write_codes(struct jsonw *w, const struct photo *photo)
{
    jsonw_array(w, "codes");
    for (size_t i = 0; i < photo->n_codes; i++) {
        const struct photo_code *code = &photo->codes[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "type", code->type);
        jsonw_string_n(w, "text", code->text, code->size);
        jsonw_bool(w, "cut", code->is_cut);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void write_words(struct jsonw *w, const struct photo *photo)
{
    jsonw_array(w, "words");
    if (photo->is_dark)
        jsonw_string(w, NULL, "dark");
    if (photo->is_bright)
        jsonw_string(w, NULL, "washed out");
    if (photo->is_blurred)
        jsonw_string(w, NULL, "blurred");
    if (photo->hash.is_flat)
        jsonw_string(w, NULL, "no shapes");
    jsonw_array_end(w);
}

static const char *clock_name(enum photo_clock clock)
{
    switch (clock) {
    case PHOTO_CLOCK_ORIGINAL:
        return "original";
    case PHOTO_CLOCK_DIGITIZED:
        return "digitized";
    case PHOTO_CLOCK_CHANGED:
        return "changed";
    case PHOTO_CLOCK_NONE:
        break;
    }
    return NULL;
}

void photo_say_json(struct cli *ctx, const char *path, const struct photo *photo)
{
    const bool is_fine = photo->fault == PHOTO_FINE;
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "path", path);
    jsonw_string(&w, "sha256", photo->sha256[0] ? photo->sha256 : NULL);
    jsonw_string(&w, "kind", photo_kind_name(photo->kind));
    write_size(&w, "width", photo->width);
    write_size(&w, "height", photo->height);
    jsonw_int(&w, "orientation", photo->orientation);
    jsonw_string(&w, "taken", photo->taken[0] ? photo->taken : NULL);
    jsonw_string(&w, "taken_offset", photo->offset[0] ? photo->offset : NULL);
    jsonw_string(&w, "taken_by", clock_name(photo->clock));
    jsonw_bool(&w, "gps", photo->has_gps);
    write_size(&w, "exif_width", photo->exif_width);
    write_size(&w, "exif_height", photo->exif_height);
    write_number(&w, "sharpness", is_fine, photo->sharpness);
    write_number(&w, "exposure", is_fine, photo->exposure);
    write_number(&w, "dark_share", is_fine, photo->dark_share);
    write_number(&w, "bright_share", is_fine, photo->bright_share);
    write_hash(&w, "dhash", is_fine, photo->hash.dhash);
    write_hash(&w, "dhash_mirror", is_fine, photo->hash.dhash_mirror);
    write_hash(&w, "phash", is_fine, photo->hash.phash);
    write_hash(&w, "phash_mirror", is_fine, photo->hash.phash_mirror);
    jsonw_bool(&w, "flat", photo->hash.is_flat);
    write_words(&w, photo);
    write_codes(&w, photo);
    jsonw_string(&w, "fault", photo_fault_name(photo->fault));
    jsonw_string(&w, "message", is_fine ? NULL : photo->fault_text);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

/* ---- for people ---------------------------------------------------------------------------- */

void photo_say_head(struct cli_table *table)
{
    static const char *const head[] = {"photo", "size", "taken", "light", "sharp", "remarks"};
    cli_table_head(table, head);
}

static void add_word(struct text *t, const char *word)
{
    text_printf(t, "%s%s", t->size > 0 ? "; " : "", word);
}

static void add_remarks(struct text *t, const struct photo *photo)
{
    if (photo->is_dark)
        add_word(t, "dark");
    if (photo->is_bright)
        add_word(t, "washed out");
    if (photo->is_blurred)
        add_word(t, "blurred");
    if (photo->hash.is_flat)
        add_word(t, "no shapes to compare");
    if (photo->clock == PHOTO_CLOCK_CHANGED)
        add_word(t, "the time is the file's last change");
    if (photo->has_gps)
        add_word(t, "tells a place");
    for (size_t i = 0; i < photo->n_codes; i++) {
        const struct photo_code *code = &photo->codes[i];
        text_printf(t, "%s%s: ", t->size > 0 ? "; " : "", code->type);
        text_add(t, code->text, code->size < 60 ? code->size : 60);
        if (code->size > 60 || code->is_cut)
            text_puts(t, "...");
    }
}

void photo_say_row(struct cli_table *table, const char *path, const struct photo *photo)
{
    const bool is_fine = photo->fault == PHOTO_FINE;
    struct text remarks = {0};
    cli_table_cell(table, CLI_PLAIN, "%s", path);
    if (photo->width > 0)
        cli_table_cell(table, CLI_PLAIN, "%d x %d", (int)photo->width, (int)photo->height);
    else
        cli_table_cell(table, CLI_PLAIN, "?");
    if (photo->taken[0])
        cli_table_cell(table, CLI_PLAIN, "%.10s %.8s%s%s", photo->taken, photo->taken + 11,
                       photo->offset[0] ? " " : "", photo->offset);
    else
        cli_table_cell(table, CLI_QUIET, "not told");
    if (!is_fine) {
        cli_table_cell(table, CLI_PLAIN, "-");
        cli_table_cell(table, CLI_PLAIN, "-");
        cli_table_cell(table, CLI_STOP, "%s", photo->fault_text);
        return;
    }
    cli_table_cell(table, CLI_PLAIN, "%.0f %%", 100 * photo->exposure);
    cli_table_cell(table, CLI_PLAIN, "%.0f", photo->sharpness);
    add_remarks(&remarks, photo);
    cli_table_cell(table, CLI_PLAIN, "%.*s", (int)remarks.size, remarks.data ? remarks.data : "");
    text_done(&remarks);
}

/* photo_pairs: owns comparing photos: the index that was printed earlier, the pairs within a radius,
 * also between a photo and another one's mirror image. */
#include "base/file.h"
#include "base/json.h"
#include "base/jsonw.h"
#include "cli/photo_set.h"
#include "core/near.h"
#include "core/photohash.h"

#include <stdlib.h>
#include <string.h>

enum { HEX_DIGITS = 16 };

static const size_t index_bytes_max = (size_t)4 << 30;

/* ---- the set ------------------------------------------------------------------------------- */

bool photo_set_add(struct photo_set *set, const struct photo_entry *entry, const char *path,
                   size_t path_size)
{
    if (set->n == PHOTO_SET_MAX)
        return false;
    if (set->n == set->room) {
        const size_t room = set->room > 0 ? 2 * set->room : 64;
        struct photo_entry *entries = realloc(set->entries, room * sizeof *entries);
        if (entries == NULL)
            return false;
        set->entries = entries;
        set->room = room;
    }
    struct photo_entry *e = &set->entries[set->n];
    *e = *entry;
    e->path = strndup(path, path_size);
    if (e->path == NULL)
        return false;
    set->n++;
    return true;
}

void photo_set_done(struct photo_set *set)
{
    for (size_t i = 0; i < set->n; i++)
        free(set->entries[i].path);
    free(set->entries);
    *set = (struct photo_set){0};
}

/* ---- the index ----------------------------------------------------------------------------- */

static bool read_hex(const char *s, size_t n, uint64_t *ret)
{
    uint8_t bytes[HEX_DIGITS / 2];
    if (s == NULL || n != HEX_DIGITS || !digest_unhex(s, sizeof bytes, bytes))
        return false;
    *ret = 0;
    for (size_t i = 0; i < sizeof bytes; i++)
        *ret = *ret << 8 | bytes[i];
    return true;
}

static bool hash_of(json_node *object, const char *key, uint64_t *ret)
{
    size_t n = 0;
    const char *s = json_string(json_get(object, key), &n);
    return read_hex(s, n, ret);
}

/* One line that `photo --json` printed. */
static enum err add_json(struct photo_set *set, const char *line, size_t n, struct fault *f,
                         size_t *faulty)
{
    struct json_doc *doc = NULL;
    struct photo_entry entry = {0};
    size_t path_size = 0;
    enum err e = json_parse(line, n, f->file, &doc, f);
    if (e != ERR_OK)
        return e;
    json_node *root = json_root(doc);
    const char *path = json_string(json_get(root, "path"), &path_size);
    json_node *fault = json_get(root, "fault");
    if (fault != NULL && json_kind(fault) != JSON_NULL) {
        (*faulty)++;
    } else if (path == NULL || !hash_of(root, "dhash", &entry.hash.dhash)) {
        e = fault_set(f, ERR_SYNTAX, "found no \"path\" with a \"dhash\" of 16 hexadecimal digits");
    } else {
        entry.has_mirror = hash_of(root, "dhash_mirror", &entry.hash.dhash_mirror);
        entry.has_phash = hash_of(root, "phash", &entry.hash.phash) &&
                          hash_of(root, "phash_mirror", &entry.hash.phash_mirror);
        json_node *flat = json_get(root, "flat");
        entry.hash.is_flat = flat != NULL && json_kind(flat) == JSON_BOOL && json_bool(flat);
        if (!photo_set_add(set, &entry, path, path_size))
            e = fault_no_memory(f);
    }
    json_free(doc);
    return e;
}

static enum err add_line(struct photo_set *set, const char *line, size_t n, struct fault *f,
                         size_t *faulty)
{
    struct photo_entry entry = {0};
    if (n > 0 && line[0] == '{')
        return add_json(set, line, n, f, faulty);
    if (n < HEX_DIGITS + 2 || line[HEX_DIGITS] != ' ' ||
        !read_hex(line, HEX_DIGITS, &entry.hash.dhash) || memchr(line, '\0', n) != NULL)
        return fault_set(f, ERR_SYNTAX,
                         "expected a line of `photo --json`, or 16 hexadecimal digits, a blank and "
                         "a name");
    return photo_set_add(set, &entry, line + HEX_DIGITS + 1, n - HEX_DIGITS - 1)
               ? ERR_OK
               : fault_no_memory(f);
}

int photo_set_load(struct cli *ctx, const char *path, struct photo_set *set, size_t *ret_faulty)
{
    struct text t = {0};
    struct fault f = {0};
    enum err e = file_read(path, index_bytes_max, &t, &f);
    *ret_faulty = 0;
    if (e == ERR_OK)
        snprintf(f.file, sizeof f.file, "%s", path);
    for (size_t at = 0; e == ERR_OK && at < t.size;) {
        const char *line = t.data + at;
        const char *stop = memchr(line, '\n', t.size - at);
        size_t n = stop != NULL ? (size_t)(stop - line) : t.size - at;
        at += n + 1;
        f.line++;
        const int line_number = f.line;
        while (n > 0 && (line[n - 1] == '\r' || line[n - 1] == ' '))
            n--;
        if (n > 0)
            e = add_line(set, line, n, &f, ret_faulty);
        f.line = line_number;
    }
    text_done(&t);
    return e == ERR_OK ? CLI_GOOD : cli_fault(ctx, &f);
}

/* ---- pairs --------------------------------------------------------------------------------- */

/* The searched set, packed: the flat ones left out. */
struct search {
    struct cli *ctx;
    struct cli_table *table; /* NULL with --json */
    const struct photo_set *set;
    uint64_t *hashes;
    uint32_t *which; /* entry of each hash */
    uint32_t n;
    void *room;
    struct near near;

    const struct photo_entry *photo; /* the one looked for */
    uint32_t from; /* only hashes from here on, when it is one of the set itself */
    int radius;
    bool is_mirrored;
    size_t n_pairs;
};

static void say_pair(struct search *s, const struct photo_entry *other, int distance)
{
    const struct photo_entry *a = s->photo;
    const bool has_phash = a->has_phash && other->has_phash;
    const int phash_distance = photohash_distance(
        s->is_mirrored ? a->hash.phash_mirror : a->hash.phash, other->hash.phash);
    const bool is_alike = has_phash && photohash_alike(&a->hash, &other->hash, NULL);
    s->n_pairs++;
    if (s->table != NULL) {
        cli_table_cell(s->table, CLI_PLAIN, "%d", distance);
        if (has_phash)
            cli_table_cell(s->table, CLI_PLAIN, "%d", phash_distance);
        else
            cli_table_cell(s->table, CLI_PLAIN, "-");
        cli_table_cell(s->table, CLI_PLAIN, "%s", s->is_mirrored ? "mirrored" : "as it is");
        cli_table_cell(s->table, is_alike ? CLI_STOP : CLI_PLAIN, "%s",
                       is_alike    ? "likely a copy"
                       : has_phash ? "perhaps"
                                   : "one hash only");
        cli_table_cell(s->table, CLI_PLAIN, "%s", a->path);
        cli_table_cell(s->table, CLI_PLAIN, "%s", other->path);
        return;
    }
    struct jsonw w;
    jsonw_start(&w, &s->ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "a", a->path);
    jsonw_string(&w, "b", other->path);
    jsonw_int(&w, "distance", distance);
    if (has_phash)
        jsonw_int(&w, "phash_distance", phash_distance);
    else
        jsonw_null(&w, "phash_distance");
    jsonw_bool(&w, "mirrored", s->is_mirrored);
    if (has_phash)
        jsonw_bool(&w, "alike", is_alike);
    else
        jsonw_null(&w, "alike");
    jsonw_object_end(&w);
    text_putc(&s->ctx->out, '\n');
}

static bool take(void *context, uint32_t id, int distance)
{
    struct search *s = context;
    const struct photo_entry *other = &s->set->entries[s->which[id]];
    if (id < s->from)
        return true;
    /* What is near as it is needs no mirror. */
    if (s->is_mirrored && photohash_distance(s->photo->hash.dhash, other->hash.dhash) <= s->radius)
        return true;
    say_pair(s, other, distance);
    return !s->ctx->out.is_broken;
}

static enum err prepare(struct search *s)
{
    s->hashes = malloc((s->set->n + 1) * sizeof *s->hashes);
    s->which = malloc((s->set->n + 1) * sizeof *s->which);
    if (s->hashes == NULL || s->which == NULL)
        return ERR_MEMORY;
    for (size_t i = 0; i < s->set->n; i++) {
        if (s->set->entries[i].hash.is_flat)
            continue;
        s->hashes[s->n] = s->set->entries[i].hash.dhash;
        s->which[s->n++] = (uint32_t)i;
    }
    s->room = malloc(near_room(s->n));
    if (s->room == NULL)
        return ERR_MEMORY;
    return near_build(s->hashes, s->n, s->room, near_room(s->n), &s->near);
}

static enum err look_for(struct search *s, const struct photo_entry *photo, uint32_t from)
{
    s->photo = photo;
    s->from = from;
    s->is_mirrored = false;
    enum err e = near_query(&s->near, photo->hash.dhash, s->radius, take, s);
    if (e == ERR_OK && photo->has_mirror) {
        s->is_mirrored = true;
        e = near_query(&s->near, photo->hash.dhash_mirror, s->radius, take, s);
    }
    return e;
}

static enum err look_for_all(struct search *s, const struct photo_set *news)
{
    enum err e = ERR_OK;
    if (news == NULL)
        for (uint32_t i = 0; i < s->n && e == ERR_OK; i++)
            e = look_for(s, &s->set->entries[s->which[i]], i + 1);
    else
        for (size_t i = 0; i < news->n && e == ERR_OK; i++)
            if (!news->entries[i].hash.is_flat)
                e = look_for(s, &news->entries[i], 0);
    return e;
}

static size_t count_flat(const struct photo_set *set)
{
    size_t n = 0;
    for (size_t i = 0; set != NULL && i < set->n; i++)
        n += set->entries[i].hash.is_flat;
    return n;
}

static void say_all(struct search *s, const struct photo_set *news, size_t n_faulty)
{
    struct cli *ctx = s->ctx;
    const size_t n_flat = count_flat(s->set) + count_flat(news);
    if (s->n_pairs == 0) {
        cli_verdict(ctx, CLI_STRONG, "No two photos within %d of 64 bits.", s->radius);
    } else {
        cli_verdict(ctx, CLI_STOP, "%zu pair%s within %d of 64 bits.", s->n_pairs,
                    s->n_pairs == 1 ? "" : "s", s->radius);
        cli_table_print(s->table, ctx, 4);
    }
    if (n_flat > 0)
        cli_say(ctx, 4, "%zu without shapes (all dark, all white): not compared.", n_flat);
    if (n_faulty > 0)
        cli_say(ctx, 4, "%zu with a fault: not compared.", n_faulty);
    if (s->n_pairs > 0)
        cli_verdict(ctx, CLI_ACT,
                    "Look at both photos side by side. Near hashes are a reason to look, never a "
                    "proof.");
}

int photo_pairs_write(struct cli *ctx, const struct photo_set *set, const struct photo_set *news,
                      int radius, size_t n_faulty)
{
    static const char *const head[] = {"bits", "DCT bits", "seen", "verdict", "photo", "and"};
    struct search s = {.ctx = ctx, .set = set, .radius = radius};
    if (!ctx->is_json) {
        s.table = cli_table_new("rrllll");
        cli_table_head(s.table, head);
    }
    enum err e = !ctx->is_json && s.table == NULL ? ERR_MEMORY : prepare(&s);
    if (e == ERR_OK)
        e = look_for_all(&s, news);
    if (e == ERR_OK && !ctx->is_json)
        say_all(&s, news, n_faulty);
    cli_table_free(s.table);
    free(s.hashes);
    free(s.which);
    free(s.room);
    if (e != ERR_OK) {
        text_clear(&ctx->out);
        cli_error(ctx, "%s", err_text(e));
        return CLI_FAILED;
    }
    return n_faulty > 0 ? CLI_NO : CLI_GOOD;
}

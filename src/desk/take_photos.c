/* take_photos: owns the photos of a claim: which files the events name, what each shows of itself, and how the store gets its bytes.
 * Files are read one after the other, a few at a time, and looked at by several threads. */
#include "desk/take_inner.h"

#include "base/pool.h"
#include "core/date.h"
#include "proof/photo_apart.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum {
    BATCH_BYTES = 32 * 1024 * 1024,          /* of photos in memory at once, or one larger one */
    BATCH_PIXELS = 3 * PHOTO_PIXELS_MAX / 2, /* that are decoded at once, or one larger photo */
    UNKNOWN_PIXELS = PHOTO_PIXELS_MAX / 4,   /* of a photo whose head does not tell */
    KEPT_BYTES = 16 * 1024 * 1024,           /* that stay there for the store */
    CODES_MAX = STORE_TEXT_MAX
};

/* Photos that are looked at together. */
struct batch {
    struct take *take;
    size_t first, n;
    struct photo *seen; /* n of them */
};

/* ---- which files --------------------------------------------------------------------------- */

static const struct bag_file *file_of(const struct take *t, const char *path)
{
    char full[sizeof TAKE_FOLDER + EVENT_PATH_MAX];
    snprintf(full, sizeof full, TAKE_FOLDER "%s", path);
    return bag_file_find(t->bag, full);
}

static bool is_sum(const struct bag_file *file, const char *hex)
{
    char found[DIGEST_HEX_ROOM];
    digest_hex(bag_file_sha256(file), DIGEST_SHA256_SIZE, found);
    return strcmp(found, hex) == 0;
}

static enum err add_photo(struct take *t, const struct event *e, const struct bag_file *file)
{
    struct store_claim *c = &t->claim;
    char ulid[ULID_TEXT_SIZE + 1];
    if (c->n_photos == STORE_PHOTOS_MAX)
        return take_refuse(t, "events", ERR_LIMIT, TAKE_EVENTS, "names more than %d photos",
                           (int)STORE_PHOTOS_MAX);
    ulid_show(&e->id, ulid);
    t->sources[c->n_photos] = (struct take_photo){.take = t, .file = file};
    struct store_photo *p = &t->photos[c->n_photos++];
    *p = (struct store_photo){.name = e->as.photo_taken.path,
                              .station = e->station,
                              .point = e->as.photo_taken.photo,
                              .ulid = take_text(t, "%s", ulid),
                              .width = STORE_UNKNOWN,
                              .height = STORE_UNKNOWN,
                              .taken_ms = STORE_UNKNOWN,
                              .is_flat = STORE_UNKNOWN,
                              .sharpness = NAN,
                              .exposure = NAN};
    memcpy(p->sha256, bag_file_sha256(file), STORE_DIGEST);
    return ERR_OK;
}

static enum err take_event(struct take *t, const struct event *e)
{
    const struct event_photo_taken *p = &e->as.photo_taken;
    const struct bag_file *file = file_of(t, p->path);
    if (file == NULL) {
        take_find(t, "ask", e->station,
                  take_text(t, "the bag does not hold %s, the photo for %s", p->path, p->photo),
                  "Ask the shop to pack the job again with this photo in it.");
        return ERR_OK;
    }
    if (file->size == 0) {
        take_find(
            t, "ask", e->station,
            take_text(t, "%s, the photo for %s, is empty: it holds no byte", p->path, p->photo),
            "Ask the shop to pack the job again with this photo in it.");
        return ERR_OK;
    }
    if (file->size > PHOTO_BYTES_MAX) {
        take_find(t, "ask", e->station,
                  take_text(t, "%s, the photo for %s, has %llu bytes; at most %d are taken in",
                            p->path, p->photo, (unsigned long long)file->size,
                            (int)PHOTO_BYTES_MAX),
                  "Ask the shop for the photo as a smaller picture.");
        return ERR_OK;
    }
    if (!is_sum(file, p->sha256))
        take_find(
            t, "ask", e->station,
            take_text(
                t, "%s, the photo for %s, is not the file that the technician's device wrote down",
                p->path, p->photo),
            "Ask the shop for the photo as it was taken, neither edited nor replaced.");
    return add_photo(t, e, file);
}

static enum err list_photos(struct take *t)
{
    enum err err = ERR_OK;
    t->photos = calloc(STORE_PHOTOS_MAX, sizeof *t->photos);
    t->sources = calloc(STORE_PHOTOS_MAX, sizeof *t->sources);
    if (t->photos == NULL || t->sources == NULL)
        return take_memory(t);
    t->claim.photos = t->photos;
    for (size_t i = 0; i < t->job->n_entries && err == ERR_OK; i++) {
        const struct job_entry *entry = &t->job->entries[i];
        if (entry->event->type == EVENT_PHOTO_TAKEN && !entry->is_void)
            err = take_event(t, entry->event);
    }
    return err;
}

/* ---- files that no event names ------------------------------------------------------------- */

static bool is_picture(const char *path)
{
    static const char *const ends[] = {".jpg", ".jpeg", ".png", ".heic", ".heif"};
    const size_t n = strlen(path);
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++)
        if (n > strlen(ends[i]) && strcasecmp(path + n - strlen(ends[i]), ends[i]) == 0)
            return true;
    return false;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Files are told in the order of their paths. Events that were taken back name their photos too. */
static enum err find_unnamed(struct take *t)
{
    const char **named = calloc(t->events->n + 1, sizeof *named);
    size_t n = 0;
    if (named == NULL)
        return take_memory(t);
    for (size_t i = 0; i < t->events->n; i++)
        if (t->events->events[i].type == EVENT_PHOTO_TAKEN)
            named[n++] = t->events->events[i].as.photo_taken.path;
    qsort(named, n, sizeof *named, by_text);
    for (size_t i = 0; i < bag_n_files(t->bag); i++) {
        const char *path = bag_file_at(t->bag, i)->path;
        if (strncmp(path, TAKE_FOLDER, strlen(TAKE_FOLDER)) != 0 || !is_picture(path))
            continue;
        path += strlen(TAKE_FOLDER);
        if (bsearch(&path, named, n, sizeof *named, by_text) != NULL)
            continue;
        take_find(
            t, "note", NULL,
            take_text(t, "the bag holds %.200s, which no event names; it was not taken in", path),
            "Nothing has to be done; if it is proof, the technician's device should have written "
            "it down.");
    }
    free(named);
    return ERR_OK;
}

/* ---- what they show ------------------------------------------------------------------------ */

static int64_t two_digits(const char *s)
{
    return 10 * (s[0] - '0') + (s[1] - '0');
}

/* The camera's clock as milliseconds since 1970-01-01 UTC; without an offset as if the camera stood at UTC. photo_read gives both
 * texts as they should be, or empty. */
static int64_t clock_ms(const struct photo *p)
{
    int32_t day_number = 0;
    const char *time = p->taken + DATE_SHOW_SIZE; /* behind the date and its 'T' */
    if (p->taken[0] == '\0' || date_parse(p->taken, DATE_SHOW_SIZE - 1, &day_number) != ERR_OK)
        return STORE_UNKNOWN;
    int64_t seconds = (int64_t)day_number * 86400 + two_digits(time) * 3600 +
                      two_digits(time + 3) * 60 + two_digits(time + 6);
    if (p->offset[0] != '\0')
        seconds -= (p->offset[0] == '-' ? -1 : 1) *
                   (two_digits(p->offset + 1) * 3600 + two_digits(p->offset + 4) * 60);
    return seconds * 1000;
}

/* The codes' texts, one a line, fit to be shown; whole ones, as many as there is room for. */
static const char *codes_of(struct take *t, const struct photo *p)
{
    char all[CODES_MAX + 1], one[PHOTO_CODE_TEXT_MAX + 1];
    size_t n = 0;
    for (size_t i = 0; i < p->n_codes; i++) {
        memcpy(one, p->codes[i].text, p->codes[i].size);
        const size_t size = text_clean(one, p->codes[i].size, false);
        if (size == 0 || n + (n > 0) + size > CODES_MAX)
            continue;
        if (n > 0)
            all[n++] = '\n';
        memcpy(all + n, one, size);
        n += size;
    }
    all[n] = '\0';
    return n > 0 ? take_text(t, "%s", all) : NULL;
}

static struct store_hash known_hash(uint64_t bits)
{
    return (struct store_hash){.is_known = true, .bits = bits};
}

static void fill_photo(struct take *t, const struct photo *seen, struct store_photo *ret)
{
    ret->width = seen->width > 0 ? seen->width : STORE_UNKNOWN;
    ret->height = seen->height > 0 ? seen->height : STORE_UNKNOWN;
    ret->taken_ms = clock_ms(seen);
    ret->fault = photo_fault_name(seen->fault);
    if (seen->fault != PHOTO_FINE)
        return;
    ret->dhash = known_hash(seen->hash.dhash);
    ret->dhash_mirror = known_hash(seen->hash.dhash_mirror);
    ret->phash = known_hash(seen->hash.phash);
    ret->phash_mirror = known_hash(seen->hash.phash_mirror);
    ret->is_flat = seen->hash.is_flat;
    ret->sharpness = seen->sharpness;
    ret->exposure = seen->exposure;
    ret->codes = codes_of(t, seen);
}

/* An earlier photo of the same file, which was looked at already; n when there is none. */
static size_t same_file(const struct take *t, size_t n)
{
    size_t i = 0;
    while (i < n && t->sources[i].file != t->sources[n].file)
        i++;
    return i;
}

static void copy_photo(const struct store_photo *from, struct store_photo *to)
{
    struct store_photo copy = *from;
    copy.name = to->name;
    copy.station = to->station;
    copy.point = to->point;
    copy.ulid = to->ulid;
    *to = copy;
}

static enum err load(struct take_photo *p, struct fault *f)
{
    return p->bytes.size > 0 || p->file->size == 0
               ? ERR_OK
               : bag_file_text(p->take->bag, p->file, PHOTO_BYTES_MAX, &p->bytes, f);
}

/* What decoding a photo asks for at most. */
static uint64_t pixels_of(const struct take_photo *p)
{
    const uint64_t said = p->bytes.size > 0 ? photo_pixels(p->bytes.data, p->bytes.size) : 0;
    if (said == 0)
        return p->bytes.size > 0 ? UNKNOWN_PIXELS : 0;
    return said < PHOTO_PIXELS_MAX ? said : PHOTO_PIXELS_MAX;
}

/* Reads photos into memory from b->first on; how many go together is b->n afterwards, at least one. */
static enum err load_batch(struct batch *b, size_t most)
{
    struct take *t = b->take;
    uint64_t bytes = 0, pixels = 0;
    b->n = 0;
    while (b->n < most && b->first + b->n < t->claim.n_photos) {
        struct take_photo *p = &t->sources[b->first + b->n];
        struct fault f = {0};
        assert(p->file != NULL); /* add_photo saw to it */
        if (b->n > 0 && bytes + p->file->size > BATCH_BYTES)
            break;
        bytes += p->file->size;
        if (same_file(t, b->first + b->n) == b->first + b->n && load(p, &f) != ERR_OK)
            return take_unreadable(t, p->file->path, &f);
        pixels += pixels_of(p);
        if (b->n > 0 && pixels > BATCH_PIXELS)
            break; /* its bytes stay for the next batch */
        b->n++;
    }
    return ERR_OK;
}

static enum err look(void *me, size_t i, int thread)
{
    struct batch *b = me;
    const struct text *bytes = &b->take->sources[b->first + i].bytes;
    (void)thread;
    if (same_file(b->take, b->first + i) != b->first + i)
        return ERR_OK;
    return photo_apart_read(bytes->data != NULL ? bytes->data : "", bytes->size, &b->seen[i]);
}

/* What was looked at must be what was verified: a folder may change meanwhile. */
static enum err settle(struct batch *b, size_t i, uint64_t *kept)
{
    struct take *t = b->take;
    struct take_photo *source = &t->sources[b->first + i];
    const size_t same = same_file(t, b->first + i);
    if (same != b->first + i) {
        copy_photo(&t->photos[same], &t->photos[b->first + i]);
        return ERR_OK;
    }
    if (!is_sum(source->file, b->seen[i].sha256))
        return take_refuse(t, "changed", ERR_DOMAIN, source->file->path,
                           "changed while it was taken in");
    fill_photo(t, &b->seen[i], &t->photos[b->first + i]);
    source->is_kept = *kept + source->bytes.size <= KEPT_BYTES;
    if (source->is_kept)
        *kept += source->bytes.size;
    else
        text_done(&source->bytes);
    return ERR_OK;
}

static enum err look_at_batch(struct batch *b, int n_threads, uint64_t *kept)
{
    const struct pool_order order = {.n = b->n, .n_threads = n_threads, .run = look, .me = b};
    enum err err = pool_run(&order);
    if (err != ERR_OK)
        return fault_set(&b->take->fault, err == ERR_MEMORY ? err : ERR_IO,
                         "the photos cannot be looked at: %s", err_text(err));
    for (size_t i = 0; i < b->n && err == ERR_OK; i++)
        err = settle(b, i, kept);
    return err;
}

static enum err look_at_all(struct take *t)
{
    const int wanted = t->order->n_threads;
    const int n_threads = wanted < 1 ? 1 : wanted > TAKE_THREADS_MAX ? TAKE_THREADS_MAX : wanted;
    const size_t most = 4 * (size_t)n_threads;
    struct batch b = {.take = t, .seen = calloc(most, sizeof *b.seen)};
    uint64_t kept = 0;
    enum err err = b.seen == NULL ? take_memory(t) : ERR_OK;
    /* Before there are threads; one that cannot be made is told by the first photo. */
    if (t->claim.n_photos > 0)
        (void)!photo_apart_start();
    while (err == ERR_OK && b.first < t->claim.n_photos) {
        err = load_batch(&b, most);
        if (err == ERR_OK)
            err = look_at_batch(&b, n_threads, &kept);
        b.first += b.n;
    }
    free(b.seen);
    return err;
}

/* ---- for the store ------------------------------------------------------------------------- */

/* store_bytes: from memory, read again where it did not stay there. */
static long give_bytes(void *me, uint64_t at, void *buf, size_t n)
{
    struct take_photo *p = me;
    struct fault f = {0};
    if (load(p, &f) != ERR_OK) {
        (void)take_unreadable(p->take, p->file->path, &f);
        return -1;
    }
    const size_t size = p->bytes.size;
    const size_t rest = at < size ? size - (size_t)at : 0;
    const size_t got = rest < n ? rest : n;
    if (got > 0)
        memcpy(buf, p->bytes.data + at, got);
    else if (!p->is_kept)
        text_done(&p->bytes);
    return (long)got;
}

enum err take_photos(struct take *t)
{
    enum err err = list_photos(t);
    if (err == ERR_OK)
        err = find_unnamed(t);
    if (err == ERR_OK)
        err = look_at_all(t);
    for (size_t i = 0; i < t->claim.n_photos && err == ERR_OK; i++) {
        t->photos[i].read = give_bytes;
        t->photos[i].me = &t->sources[same_file(t, i)];
    }
    return err;
}

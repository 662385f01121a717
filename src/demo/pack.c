/* pack: owns the files of a made-up job's bag, and how a bag is tampered with. */
#include "demo/pack.h"

#include "base/digest.h"
#include "base/file.h"
#include "demo/disk.h"
#include "demo/shot.h"
#include "proof/bag_make.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ZIP_MAX = 256 << 20 };

/* ---- events ------------------------------------------------------------------------------------ */

static int by_time(const void *a, const void *b)
{
    const struct work_event *x = *(const struct work_event *const *)a;
    const struct work_event *y = *(const struct work_event *const *)b;
    if (x->event.at_ms != y->event.at_ms)
        return x->event.at_ms < y->event.at_ms ? -1 : 1;
    return x < y ? -1 : x > y;
}

/* In the order of time, so that the names made along count up with the clock. */
static enum err list_events(struct work *job, struct event_list *list, struct ulid *ret_job)
{
    struct work_event *sorted[WORK_EVENTS] = {NULL};
    struct ulid last = {{0}};
    size_t n = 0;
    for (size_t i = 0; i < job->n_events; i++)
        if (!job->events[i].is_gone)
            sorted[n++] = &job->events[i];
    qsort(sorted, n, sizeof(struct work_event *), by_time);
    for (size_t i = 0; i < n; i++) {
        struct event *e = &sorted[i]->event;
        uint8_t chance[ULID_RANDOM_SIZE];
        random_bytes(&job->ids, chance, sizeof chance);
        enum err err = i == 0 ? ulid_make(e->at_ms, chance, &e->id)
                              : ulid_next(&last, e->at_ms, chance, &e->id);
        last = e->id;
        if (i == 0)
            *ret_job = e->id;
        if (err == ERR_OK)
            err = events_add(list, e);
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

static enum err write_events(struct work *job, const char *temp, struct pack_made *ret,
                             struct fault *reterr)
{
    struct event_list *list = events_new();
    struct text text = {0};
    if (list == NULL)
        return fault_no_memory(reterr);
    snprintf(list->vin, sizeof list->vin, "%s", job->vin);
    snprintf(list->bulletin_id, sizeof list->bulletin_id, "%s", job->world->bulletin->head.id);
    snprintf(list->bulletin_sha256, sizeof list->bulletin_sha256, "%s", job->bulletin_sha256);
    list->revision = job->revision;
    list->is_invented = true;
    enum err e = list_events(job, list, &ret->job);
    if (e != ERR_OK)
        (void)fault_set(reterr, e, "the events cannot be listed: %s", err_text(e));
    if (e == ERR_OK) {
        events_write(list, &text);
        e = disk_write(temp, "events.json", &text, reterr);
    }
    text_done(&text);
    events_free(list);
    return e;
}

/* ---- photos ------------------------------------------------------------------------------------ */

static enum err write_photos(struct work *job, const char *temp, struct pack_made *ret,
                             struct fault *reterr)
{
    struct text file = {0};
    enum err e = ERR_OK;
    for (size_t i = 0; i < job->n_shots && e == ERR_OK; i++) {
        struct work_shot *shot = &job->shots[i];
        uint8_t sum[DIGEST_SHA256_SIZE];
        if (shot->is_gone)
            continue;
        text_clear(&file);
        e = shot_make(shot, &file);
        if (e == ERR_OK)
            e = digest_bytes(DIGEST_SHA256, file.data, file.size, sum);
        if (e != ERR_OK) {
            (void)fault_set(reterr, e, "%s cannot be made: %s", shot->path, err_text(e));
            break;
        }
        digest_hex(sum, sizeof sum, shot->sha256);
        e = disk_write(temp, shot->path, &file, reterr);
        ret->photos++;
    }
    text_done(&file);
    return e;
}

enum err pack_job(struct work *job, const char *temp, const char *out, struct pack_made *ret,
                  struct fault *reterr)
{
    char photos[DISK_PATH], date[DATE_SHOW_SIZE];
    struct bag_made made;
    *ret = (struct pack_made){.photos = 0};
    enum err e = disk_path(photos, temp, "photos", reterr);
    if (e == ERR_OK)
        e = disk_folder(temp, reterr);
    if (e == ERR_OK)
        e = disk_folder(photos, reterr);
    if (e == ERR_OK)
        e = write_photos(job, temp, ret, reterr);
    if (e == ERR_OK)
        e = write_events(job, temp, ret, reterr);
    date_show((int32_t)(job->now_ms / 86400000), date);
    if (e == ERR_OK)
        e = bag_make(
            &(struct bag_order){.folder = temp, .out = out, .secret = job->secret, .date = date},
            &made, reterr);
    if (e == ERR_OK)
        ret->bytes = made.zip_bytes;
    disk_remove(temp);
    return e;
}

/* ---- tampering --------------------------------------------------------------------------------- */

/* The sum of zip files (ISO 3309's polynomial, APPNOTE 4.4.7). */
static uint32_t crc32_of(const unsigned char *bytes, size_t n)
{
    uint32_t crc = 0xffffffffU;
    for (size_t i = 0; i < n; i++) {
        crc ^= bytes[i];
        for (int k = 0; k < 8; k++)
            crc = crc >> 1 ^ (0xedb88320U & (0U - (crc & 1)));
    }
    return ~crc;
}

static void put_le32(unsigned char *at, uint32_t v)
{
    for (int i = 0; i < 4; i++)
        at[i] = (unsigned char)(v >> (8 * i));
}

static unsigned char *find(unsigned char *in, size_t n, const void *what, size_t n_what)
{
    for (size_t i = 0; i + n_what <= n; i++)
        if (in[i] == *(const unsigned char *)what && memcmp(in + i, what, n_what) == 0)
            return in + i;
    return NULL;
}

/* Where events.json lies in the zip's bytes: from its first brace to its closing "]}" and line feed. */
static bool find_events(struct text *zip, unsigned char **ret_at, size_t *ret_n)
{
    static const char head[] = "{\"mendwright_events\":", tail[] = "\n]}\n";
    unsigned char *bytes = (unsigned char *)zip->data;
    unsigned char *at = find(bytes, zip->size, head, sizeof head - 1);
    unsigned char *end =
        at != NULL ? find(at, zip->size - (size_t)(at - bytes), tail, sizeof tail - 1) : NULL;
    if (end == NULL)
        return false;
    *ret_at = at;
    *ret_n = (size_t)(end - at) + sizeof tail - 1;
    return true;
}

static bool tamper(struct text *zip)
{
    static const char what[] = "\"at_ms\":";
    unsigned char *events = NULL, was[4], now[4];
    size_t n = 0;
    if (!find_events(zip, &events, &n))
        return false;
    put_le32(was, crc32_of(events, n));
    unsigned char *at = find(events, n, what, sizeof what - 1);
    if (at == NULL)
        return false;
    at += sizeof what - 1 + 6; /* minutes and more */
    *at = (unsigned char)('0' + (*at - '0' + 1) % 10);
    put_le32(now, crc32_of(events, n));
    unsigned char *bytes = (unsigned char *)zip->data;
    int n_found = 0;
    for (size_t i = 0; i + 4 <= zip->size; i++)
        if (memcmp(bytes + i, was, 4) == 0) {
            memcpy(bytes + i, now, 4);
            n_found++;
        }
    return n_found >= 2; /* beside the file and in the directory */
}

enum err pack_tamper(const char *path, struct fault *reterr)
{
    struct text zip = {0};
    char folder[DISK_PATH];
    const char *slash = strrchr(path, '/');
    enum err e = file_read(path, ZIP_MAX, &zip, reterr);
    if (e == ERR_OK && (slash == NULL || (size_t)(slash - path) >= sizeof folder))
        e = fault_set(reterr, ERR_LIMIT, "the name of the folder is too long");
    if (e == ERR_OK && !tamper(&zip))
        e = fault_set(reterr, ERR_SYNTAX, "no events lie unpacked in %s", path);
    if (e == ERR_OK) {
        snprintf(folder, sizeof folder, "%.*s", (int)(slash - path), path);
        e = disk_write(folder, slash + 1, &zip, reterr);
    }
    text_done(&zip);
    return e;
}

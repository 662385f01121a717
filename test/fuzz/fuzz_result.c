/* fuzz_result: any bytes as a result that is handed in, by the server's own reader, over a record of practice in a folder that goes away
 * again. Holds: what is refused has words; what is taken is told as JSON that reads back, has the digest as its name, and is there already
 * when the same bytes come again. */
#include "base/json.h"
#include "desk/school.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char folder[64];
static struct classroom *room;

static void need(bool holds)
{
    if (!holds)
        abort();
}

static void sweep(void)
{
    static const char *const names[] = {"practice.db", "practice.db-wal", "practice.db-shm"};
    char path[128];
    classroom_close(room);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        (void)remove(path);
    }
    (void)rmdir(folder);
}

static enum err hand_in(const uint8_t *data, size_t size, bool *ret_new, struct text *out)
{
    const struct school_who who = {.person = "ines", .shop = "yard", .now_ms = 1};
    struct jsonw w;
    struct fault f = {0};
    jsonw_start(&w, out);
    jsonw_object(&w, NULL);
    const enum err e = school_take(room, &who, (const char *)data, size, &w, ret_new, &f);
    jsonw_object_end(&w);
    need(e == ERR_OK || f.message[0] != '\0');
    return e;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct text out = {0}, again = {0};
    struct fault f = {0};
    struct json_doc *doc = NULL;
    bool is_new = false;
    if (room == NULL) {
        snprintf(folder, sizeof folder, "%s/mendwright-fuzz-XXXXXX",
                 access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
        need(mkdtemp(folder) != NULL && classroom_open(folder, &room, &f) == ERR_OK);
        (void)atexit(sweep);
    }
    if (size <= SCHOOL_BODY_MAX && hand_in(data, size, &is_new, &out) == ERR_OK) {
        need(json_parse(out.data, out.size, "told", &doc, &f) == ERR_OK);
        need(json_string(json_get(json_root(doc), "result"), NULL) != NULL);
        json_free(doc);
        need(hand_in(data, size, &is_new, &again) == ERR_OK && !is_new);
    }
    text_done(&out);
    text_done(&again);
    return 0;
}

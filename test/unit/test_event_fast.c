/* event_fast: held to the reader that knows all. Every event that event_write writes is read the same by both, and whatever the fast
 * one takes of meddled bytes, the other takes as the same event. usage: test_event_fast [SEED] */
#include "base/file.h"
#include "proof/event.h"
#include "random.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define ROOT TEST_TABLES "/../../"

enum { MUTATIONS = 400, ROOM = 8192 };

/* One event by the reader that knows all; NULL when it refuses. */
static struct event_list *read_slow(const char *text, size_t n)
{
    static const char head[] =
        "{\"mendwright_events\":1,\"bulletin\":{\"id\":\"OV-26-03\",\"revision\":2,\"sha256\":"
        "\"00000000000000000000000000000000000000000000000000000000000000ab\"},"
        "\"vin\":\"ZZZFM24T5R0001234\",\"events\":[";
    struct text all = {0};
    struct event_list *list = NULL;
    struct fault f = {0};
    text_puts(&all, head);
    text_add(&all, text, n);
    text_puts(&all, "]}");
    if (events_read(all.data, all.size, "one", &list, &f) != ERR_OK)
        list = NULL;
    text_done(&all);
    return list;
}

static struct event_list *read_fast(const char *text, size_t n, enum err *ret)
{
    struct event_list *list = events_new();
    /* A copy of just this size, so that one byte too many read is seen. */
    char *copy = malloc(n > 0 ? n : 1);
    if (list == NULL || copy == NULL)
        exit(2);
    memcpy(copy, text, n);
    *ret = events_add_written(list, copy, n);
    free(copy);
    return list;
}

/* What the fast one takes, the other takes as the same. *ret_taken counts. */
static bool agrees(const char *text, size_t n, int *ret_taken)
{
    enum err err = ERR_OK;
    struct event_list *fast = read_fast(text, n, &err), *slow = NULL;
    bool is_good = err == ERR_OK ? fast->n == 1 : err == ERR_SYNTAX && fast->n == 0;
    if (err == ERR_OK) {
        ++*ret_taken;
        slow = read_slow(text, n);
        is_good &=
            slow != NULL && slow->n == 1 && event_compare(&slow->events[0], &fast->events[0]) == 0;
    }
    events_free(slow);
    events_free(fast);
    return is_good;
}

/* Another byte, one less, one more, the end cut off, a piece twice, a digit in front. */
static size_t meddle(const char *text, size_t n, char *to)
{
    if (n == 0)
        return 0;
    static const char bytes[] = "\"\\{}:,.-+0123456789eE azAZ\x00\x7f\xc3\xb6\xff_nm";
    const size_t at = (size_t)within(0, (int64_t)n - 1);
    const char byte = bytes[within(0, (int64_t)sizeof bytes - 2)];
    size_t m = n;
    memcpy(to, text, n);
    switch (within(0, 4)) {
    case 0:
        to[at] = byte;
        break;
    case 1:
        memmove(to + at, to + at + 1, n - at - 1);
        m = n - 1;
        break;
    case 2:
        memmove(to + at + 1, to + at, n - at);
        to[at] = byte;
        m = n + 1;
        break;
    case 3:
        m = at;
        break;
    default: {
        const size_t size =
            (size_t)within(1, 40) < n - at ? (size_t)within(1, (int64_t)(n - at)) : n - at;
        memmove(to + at + size, to + at, n - at);
        m = n + size;
        break;
    }
    }
    return m;
}

static void test_file(const char *path, bool is_whole)
{
    struct text file = {0};
    struct event_list *list = NULL;
    struct fault f = {0};
    int n_same = 0, n_escaped = 0, n_taken = 0, n_bad = 0;
    if (file_read(path, 1 << 22, &file, &f) != ERR_OK ||
        events_read(file.data, file.size, path, &list, &f) != ERR_OK) {
        printf("Bail out! %s: %s\n", path, f.message);
        exit(2);
    }
    for (size_t i = 0; i < list->n; i++) {
        struct text one = {0};
        struct jsonw w;
        char meddled[ROOM];
        jsonw_start(&w, &one);
        event_write(&list->events[i], &w, NULL);
        enum err err = ERR_OK;
        struct event_list *fast = read_fast(one.data, one.size, &err);
        n_same += err == ERR_OK && event_compare(&fast->events[0], &list->events[i]) == 0;
        n_escaped += err == ERR_SYNTAX && memchr(one.data, '\\', one.size) != NULL;
        events_free(fast);
        for (int k = 0; k < MUTATIONS && 2 * one.size < ROOM; k++) {
            const size_t n = meddle(one.data, one.size, meddled);
            if (agrees(meddled, n, &n_taken))
                continue;
            n_bad++;
            tap_note("%.*s", (int)n, meddled);
        }
        text_done(&one);
    }
    tap_ok(n_same + n_escaped == (int)list->n && (!is_whole || n_escaped == 0),
           "%zu events: %d read as they were written, %d hold an escape and are left to the other "
           "reader",
           list->n, n_same, n_escaped);
    tap_ok(n_bad == 0 && n_taken > 0,
           "%zu times %d meddled texts: what is taken (%d) is what the other reader takes", list->n,
           MUTATIONS, n_taken);
    events_free(list);
    text_done(&file);
}

int main(int argc, char **argv)
{
    rng = argc > 1 ? strtoull(argv[1], NULL, 10) : 20261125;
    tap_note("seed %llu", (unsigned long long)rng);
    test_file(ROOT "examples/jobs/ov-26-03-a/events.json", true);
    test_file(ROOT "test/fuzz/corpus/events/every-type", false);
    int n_taken = 0;
    tap_ok(agrees("", 0, &n_taken) && agrees("{", 1, &n_taken) && agrees("{\"id\":", 6, &n_taken) &&
               n_taken == 0,
           "nothing and beginnings are refused");
    return tap_done();
}

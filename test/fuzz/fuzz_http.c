/* fuzz_http: the server itself, in this process: its daemon, threads, store and every handler, spoken to over a socket with any bytes.
 *
 * The first byte is how it is said: bits 0 and 1 who says it (nobody, technician, clerk, owner), 2 without the word against forged
 * requests, 3 the body in chunks, 4 in two writes, 7 raw. Raw: the rest goes out as it is, 0x01 in it stands for the owner's headers. Else a
 * line "METHOD /path", header lines, an empty line, the body; what stands in {} is filled in with what is there: a {claim}, a {photo}, a {job}, a
 * {bulletin}, the {tag} of the claim or the draft that If-Match wants, the revision that {holds} of what was issued here and the {next}, a {task}, a {list}; the
 * {sha256} of a bag is that of the body. So that the store does not grow with the hours, it is begun anew every so often.
 *
 * Property: no fault of memory or arithmetic; no call stays under way once its caller is gone; what the server says begins as HTTP does; no answer
 * is 500, and none names the folder of the store or SQLite. */
#include "base/digest.h"
#include "base/text.h"
#include "bulletin/faults.h"
#include "desk/door.h"
#include "desk/drawer.h"
#include "desk/papers.h"
#include "desk/ruling.h"
#include "desk/take.h"
#include "desk/tell.h"
#include "proof/bag_make.h"
#include "serve/http.h"

#include <dirent.h>
#include <errno.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum {
    HEX_ROOM = 65,
    PATIENCE = 1000,
    LISTEN = 30,
    CALLS_PER_STORE = 2000,
    BY = 3,
    NO_CSRF = 4,
    CHUNKED = 8,
    TWICE = 16,
    RAW = 128
};

static struct {
    char folder[64], store[80];
    struct http *http;
    struct door *door; /* our own, to make sessions */
    char claim[STORE_CLAIM_SIZE + 1], job[64], photo[HEX_ROOM];
    char tokens[4][SIGNIN_TOKEN_ROOM], task[64], list[HEX_ROOM];
    int holds; /* the revision of what was issued here; 0: nothing was */
    int n_calls;
} at;
static atomic_llong clock_ms = 1790000000000;

static int64_t now_ms(void)
{
    return atomic_load(&clock_ms);
}

static void must(bool holds)
{
    if (!holds)
        abort();
}

/* The first place in the n bytes where the text stands; NULL: nowhere. */
static const char *find(const char *bytes, size_t n, const char *text)
{
    const size_t k = strlen(text);
    for (size_t i = 0; k <= n && i <= n - k; i++)
        if (memcmp(bytes + i, text, k) == 0)
            return bytes + i;
    return NULL;
}

/* ---- the store, once ------------------------------------------------------------------------- */

static void remove_all(const char *path)
{
    struct stat st;
    if (lstat(path, &st) != 0 || !S_ISDIR(st.st_mode)) {
        unlink(path);
        return;
    }
    DIR *folder = opendir(path);
    for (struct dirent *d = folder != NULL ? readdir(folder) : NULL; d != NULL;
         d = readdir(folder)) {
        char below[1024];
        if (strcmp(d->d_name, ".") == 0 || strcmp(d->d_name, "..") == 0)
            continue;
        if ((size_t)snprintf(below, sizeof below, "%s/%s", path, d->d_name) < sizeof below)
            remove_all(below);
    }
    if (folder != NULL)
        closedir(folder);
    rmdir(path);
}

static void clean(void)
{
    http_stop(at.http);
    door_close(at.door);
    remove_all(at.folder);
    memset(&at, 0, sizeof at);
}

static void take_example(void)
{
    char zip[96];
    struct fault f = {0};
    struct bag_made made = {0};
    struct take_answer a = {0};
    snprintf(zip, sizeof zip, "%s/bag.zip", at.folder);
    const struct bag_order order = {
        .folder = TEST_TREE "/examples/jobs/ov-26-03-a", .out = zip, .date = "2026-11-25"};
    must(bag_make(&order, &made, &f) == ERR_OK);
    struct keyring ring = {0};
    const struct take_order take = {.path = zip, .ring = &ring, .now_ms = now_ms(), .n_threads = 1};
    must(take_bag(at.door->store, &take, &a, &f) == ERR_OK && a.result == TAKE_TAKEN);
    snprintf(at.claim, sizeof at.claim, "%s", a.claim);
    snprintf(at.job, sizeof at.job, "%s", a.job);
    take_answer_done(&a);
    unlink(zip);
}

static bool see_ruling(void *me, const struct ruling_seen *seen)
{
    (void)me;
    return seen != NULL;
}

/* A person has the last word over a ruling, so there must be one. */
static void rule_example(void)
{
    struct fault f = {0};
    size_t n_unruled = 0;
    const struct ruling_order order = {.now_ms = now_ms(), .n_threads = 1};
    must(ruling_run(at.door->store, &order, NULL, see_ruling, NULL, &n_unruled, &f) == ERR_OK &&
         n_unruled == 0);
}

static void find_photo(void)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    static char bytes[65536];
    FILE *in = fopen(TEST_TREE "/examples/jobs/ov-26-03-a/photos/fore-label.png", "rb");
    must(in != NULL);
    const size_t n = fread(bytes, 1, sizeof bytes, in);
    fclose(in);
    must(digest_bytes(DIGEST_SHA256, bytes, n, sum) == ERR_OK);
    digest_hex(sum, sizeof sum, at.photo);
}

/* Sessions that calls have ended are begun anew. */
static void sign_in(int who)
{
    static const char *const names[] = {"", "ines", "clara", "ada"};
    char link[SIGNIN_TOKEN_ROOM];
    struct signin_person p;
    struct fault f = {0};
    int64_t wait_ms = 0;
    if (who == SIGNIN_NOBODY)
        return;
    if (at.tokens[who][0] != '\0' &&
        signin_who(at.door->signin, at.tokens[who], now_ms(), &p, &f) == ERR_OK &&
        p.role != SIGNIN_NOBODY)
        return;
    must(signin_put(at.door->signin, NULL, names[who], (enum signin_role)who,
                    who == SIGNIN_TECHNICIAN ? "fern-mobile-2" : NULL, PEOPLE_PUT, now_ms(),
                    &f) == ERR_OK);
    must(signin_link(at.door->signin, NULL, names[who], 60000, now_ms(), link, &f) == ERR_OK);
    must(signin_by_link(at.door->signin, link, "192.0.2.1", now_ms(), at.tokens[who], &p, &wait_ms,
                        &f) == ERR_OK);
}

static void start(void)
{
    struct fault f = {0};
    struct fault_list faults = {0};
    struct paper_answer kept = {0};
    bool is_made = false;
    uint16_t port = 0;
    const struct paper_order paper = {.kind = PAPER_BULLETIN,
                                      .path = TEST_TREE "/examples/OV-26-03.yaml",
                                      .revision = STORE_UNKNOWN,
                                      .now_ms = now_ms()};
    snprintf(at.folder, sizeof at.folder, "%s/mendwright-fuzz-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    must(mkdtemp(at.folder) != NULL);
    snprintf(at.store, sizeof at.store, "%s/store", at.folder);
    must(store_init(at.store, &is_made, &f) == ERR_OK);
    must(door_open(at.store, NULL, &at.door, &f) == ERR_OK);
    must(paper_keep(at.door->store, &paper, &faults, &kept, &f) == ERR_OK);
    fault_list_done(&faults);
    take_example();
    rule_example();
    find_photo();
    const struct http_settings settings = {.store = at.store,
                                           .address = "127.0.0.1",
                                           .n_threads = 1,
                                           .connections_max = 100,
                                           .timeout_s = 30,
                                           .tidy_s = 3600,
                                           .bag_max = 1024 * 1024,
                                           .coming_max = 1024 * 1024,
                                           .log_fd = -1,
                                           .now_ms = now_ms};
    must(http_start(&settings, &at.http, &port, &f) == ERR_OK);
}

static void start_or_begin_anew(void)
{
    static bool is_known = false;
    if (at.http != NULL && at.n_calls < CALLS_PER_STORE)
        return;
    if (at.http != NULL)
        clean();
    start();
    if (!is_known)
        must(atexit(clean) == 0);
    is_known = true;
}

/* ---- what is said ------------------------------------------------------------------------------ */

static void add_person(struct text *t, int who, bool has_csrf)
{
    char csrf[SIGNIN_TOKEN_ROOM + 32];
    if (who == SIGNIN_NOBODY)
        return;
    text_printf(t, "Cookie: mendwright=%s\r\n", at.tokens[who]);
    if (has_csrf && signin_csrf(at.tokens[who], csrf) == ERR_OK)
        text_printf(t, "X-Mendwright-Csrf: %s\r\n", csrf);
}

static void add_raw(struct text *t, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (bytes[i] == 1)
            add_person(t, SIGNIN_OWNER, true);
        else
            text_add(t, bytes + i, 1);
}

/* What If-Match wants, by the path of the call. */
static void find_tag(const char *call, size_t n, char tag[HEX_ROOM])
{
    struct text told = {0};
    struct jsonw w;
    struct fault f = {0};
    int64_t seq = 0;
    tag[0] = '\0';
    if (find(call, n, "/drafts/") != NULL) {
        const enum err err = drawer_get(at.store, "OV-26-03", &told, tag, &f);
        must(err == ERR_OK || err == ERR_UNKNOWN);
    } else if (find(call, n, "{tag}") != NULL) {
        jsonw_start(&w, &told);
        jsonw_object(&w, NULL);
        must(tell_claim(at.door->store, at.door->limits, at.claim, NULL, &w, tag, &seq, &f) ==
             ERR_OK);
    }
    text_done(&told);
}

struct known {
    const char *name, *value;
};

/* Bytes with what stands in {} filled in. */
static void add_filled(struct text *t, const struct known *known, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n;) {
        size_t k = 0;
        for (const struct known *one = known; one->name != NULL && k == 0; one++) {
            const size_t m = strlen(one->name);
            if (n - i >= m && memcmp(bytes + i, one->name, m) == 0) {
                text_puts(t, one->value);
                k = m;
            }
        }
        if (k == 0)
            text_add(t, bytes + i, 1);
        i += k > 0 ? k : 1;
    }
}

static void add_body(struct text *t, const char *body, size_t n, bool in_chunks)
{
    for (size_t i = 0; in_chunks && i < n;) {
        const size_t k = n - i < 1 + i % 4096 ? n - i : 1 + i % 4096;
        text_printf(t, "%zx\r\n", k);
        text_add(t, body + i, k);
        text_puts(t, "\r\n");
        i += k;
    }
    if (in_chunks)
        text_puts(t, "0\r\n\r\n");
    else
        text_add(t, body, n);
}

static void add_head(struct text *t, const struct known *known, const char *bytes, const char *end)
{
    bool is_first = true;
    for (const char *line = bytes; line < end;) {
        const char *stop = memchr(line, '\n', (size_t)(end - line));
        const size_t k = stop != NULL ? (size_t)(stop - line) : (size_t)(end - line);
        add_filled(t, known, line, k);
        text_puts(t, is_first ? " HTTP/1.1\r\nHost: x\r\n" : "\r\n");
        is_first = false;
        line += k + 1;
    }
    if (is_first)
        text_puts(t, "GET / HTTP/1.1\r\nHost: x\r\n");
}

static void add_call(struct text *t, int how, const char *bytes, size_t n)
{
    const char *gap = find(bytes, n, "\n\n"), *end = gap != NULL ? gap + 1 : bytes + n;
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[HEX_ROOM] = "", tag[HEX_ROOM], holds[16], next[16];
    struct text body = {0};
    find_tag(bytes, n, tag);
    snprintf(holds, sizeof holds, "%d", at.holds);
    snprintf(next, sizeof next, "%d", at.holds + 1);
    const bool has_photo = find(bytes, (size_t)(end - bytes), "/photos/") != NULL;
    const struct known known[] = {{"{sha256}", has_photo ? at.photo : hex},
                                  {"{claim}", at.claim},
                                  {"{job}", at.job},
                                  {"{bulletin}", "OV-26-03"},
                                  {"{revision}", "2"},
                                  {"{tag}", tag},
                                  {"{holds}", holds},
                                  {"{next}", next},
                                  {"{task}", at.task},
                                  {"{list}", at.list},
                                  {NULL, NULL}};
    if (gap != NULL)
        add_filled(&body, known, gap + 2, (size_t)(bytes + n - gap) - 2);
    if (digest_bytes(DIGEST_SHA256, body.size > 0 ? body.data : "", body.size, sum) == ERR_OK)
        digest_hex(sum, sizeof sum, hex);
    add_head(t, known, bytes, end);
    add_person(t, how & BY, (how & NO_CSRF) == 0);
    if ((how & CHUNKED) != 0)
        text_puts(t, "Transfer-Encoding: chunked\r\n\r\n");
    else if (body.size > 0)
        text_printf(t, "Content-Length: %zu\r\n\r\n", body.size);
    else
        text_puts(t, "\r\n");
    add_body(t, body.data, body.size, (how & CHUNKED) != 0);
    text_done(&body);
}

/* ---- the conversation ---------------------------------------------------------------------------- */

static void say(int fd, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n;) {
        const ssize_t k = send(fd, bytes + i, n - i, MSG_NOSIGNAL);
        if (k <= 0)
            return; /* it has heard enough */
        i += (size_t)k;
    }
}

static uint64_t n_open(void)
{
    struct http_counts n;
    http_counts(at.http, &n);
    return n.open;
}

/* What comes back. microhttpd does not always see at once that its caller will say no more (when that came together with the last bytes),
 * so after a while of silence we hang up. */
static void listen_to(int fd, struct text *ret)
{
    char buf[65536];
    for (int silent = 0; silent < LISTEN;) {
        const ssize_t n = recv(fd, buf, sizeof buf, 0);
        must(n >= 0 || errno == EAGAIN || errno == EINTR || errno == ECONNRESET);
        if (n == 0 || (n < 0 && errno == ECONNRESET) || (n < 0 && n_open() == 0 && silent > 1))
            return;
        silent = n < 0 ? silent + 1 : 0;
        if (n > 0)
            text_add(ret, buf, (size_t)n);
    }
}

/* What stands in the text behind these words, up to its closing quote; cut short where there is no room. */
static void learn_word(const struct text *t, const char *words, char *ret, size_t room)
{
    const char *at_words = find(t->data, t->size, words);
    size_t n = 0;
    if (at_words == NULL)
        return;
    const char *end = t->data + t->size;
    for (const char *p = at_words + strlen(words); p < end && *p != '"' && n + 1 < room; p++)
        ret[n++] = *p;
    ret[n] = '\0';
}

/* What later calls can ask for. */
static void learn(const struct text *t)
{
    static const char issued[] = "{\"id\":\"TB-1\",\"revision\":";
    const char *revision = find(t->data, t->size, issued);
    if (revision != NULL) { /* digits, and more behind them */
        revision += sizeof issued - 1;
        for (at.holds = 0; *revision >= '0' && *revision <= '9' && at.holds < 100000; revision++)
            at.holds = at.holds * 10 + (*revision - '0');
    }
    learn_word(t, "{\"task\":\"", at.task, sizeof at.task);
    learn_word(t, "{\"list\":\"", at.list, sizeof at.list);
}

/* said: what was sent; a fault of the input may repeat what stands there. */
static void judge(const struct text *t, const struct text *said)
{
    if (t->size == 0)
        return;
    must(t->size > 12 && memcmp(t->data, "HTTP/1.", 7) == 0);
    must(memcmp(t->data + 9, "500", 3) != 0);
    /* libFuzzer reads the folder off this very comparison, and puts it into a call. */
    must(find(t->data, t->size, at.folder) == NULL ||
         find(said->data, said->size, at.folder) != NULL);
    must(find(t->data, t->size, "SQLite") == NULL ||
         find(said->data, said->size, "SQLite") != NULL);
    must(find(t->data, t->size, "sqlite") == NULL ||
         find(said->data, said->size, "sqlite") != NULL);
}

/* A stream of news notices that its listener is gone when it has something to tell, or at its next beat but one: half a minute. So there is
 * news. */
static void make_news(void)
{
    bool is_late = false;
    struct fault f = {0};
    const struct ruling_word word = {
        .claim = at.claim, .person = "ada", .text = "news", .now_ms = now_ms()};
    must(ruling_note(at.door->store, &word, &is_late, &f) == ERR_OK);
}

static void wait_until_nobody_calls(bool is_stream)
{
    for (int i = 0; n_open() > 0; i++) {
        const struct timespec pause = {.tv_nsec = 20000000};
        must(i < PATIENCE);
        if (is_stream && i % LISTEN == LISTEN - 1)
            make_news();
        nanosleep(&pause, NULL);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct text out = {0}, in = {0};
    int ends[2];
    const struct timeval tick = {.tv_usec = 20000};
    if (size < 2)
        return 0;
    start_or_begin_anew();
    at.n_calls++;
    atomic_fetch_add(&clock_ms, 1000);
    for (int who = SIGNIN_TECHNICIAN; who <= SIGNIN_OWNER; who++)
        sign_in(who);
    const char *bytes = (const char *)data + 1;
    if ((data[0] & RAW) != 0)
        add_raw(&out, bytes, size - 1);
    else
        add_call(&out, data[0], bytes, size - 1);
    if (out.size == 0)
        text_puts(&out, "\r\n");
    must(!out.is_broken && socketpair(AF_UNIX, SOCK_STREAM, 0, ends) == 0);
    must(setsockopt(ends[0], SOL_SOCKET, SO_RCVTIMEO, &tick, sizeof tick) == 0);
    must(http_add(at.http, ends[1]));
    const size_t first = (data[0] & TWICE) != 0 ? out.size / 2 : out.size;
    say(ends[0], out.data, first);
    say(ends[0], out.data + first, out.size - first);
    shutdown(ends[0], SHUT_WR);
    listen_to(ends[0], &in);
    close(ends[0]);
    wait_until_nobody_calls(in.size > 0 && find(in.data, in.size, "text/event-stream") != NULL);
    judge(&in, &out);
    learn(&in);
    text_done(&in);
    text_done(&out);
    return 0;
}

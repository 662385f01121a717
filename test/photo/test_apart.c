/* Photos looked at in a child: the same answers as without one, and photos that lead the child astray. The child's decoder is replaced by a
 * hook for photos that begin with PLANT and a letter; nothing but this test is built with it. */
#define _DEFAULT_SOURCE /* MAP_ANONYMOUS */
#include "base/text.h"
#include "encode.h"
#include "proof/photo_apart.h"
#include "proof/photo_apart_parts.h"
#include "tap.h"

#include <dirent.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <threads.h>
#include <unistd.h>

/* The first bytes of a JPEG, then what no camera writes. */
#define PLANT "\xff\xd8\xffplanted:"

#if defined(__SANITIZE_ADDRESS__)
static const bool is_sanitized = true;
#else
static const bool is_sanitized = false;
#endif

static void loop(void)
{
    for (volatile uint64_t i = 0;; i++)
        continue;
}

/* As much as is given; whoever gets more than the limit gives up with another code. */
static void eat(void)
{
    const size_t piece = 64 << 20;
    for (uint64_t all = 0; all < 2 * PHOTO_APART_MEMORY; all += piece) {
        void *p = mmap(NULL, piece, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
        if (p == MAP_FAILED)
            _exit(77);
        memset(p, 1, 4096);
    }
    _exit(78);
}

void photo_apart_hook(const uint8_t *bytes, size_t n);
void photo_apart_hook(const uint8_t *bytes, size_t n)
{
    const size_t k = sizeof PLANT - 1;
    if (n <= k || memcmp(bytes, PLANT, k) != 0)
        return;
    switch (bytes[k]) {
    case 'c': {
        volatile int *nowhere = (volatile int *)(uintptr_t)(bytes[k] - 'c'); /* nowhere at all */
        signal(SIGSEGV, SIG_DFL); /* else a sanitizer reports it first */
        *nowhere = 1;
        break;
    }
    case 'a':
        abort();
    case 'l':
        loop();
        break;
    case 'm':
        eat();
        break;
    case 'o':
        _exit(open("/etc/passwd", O_RDONLY) >= 0 ? 70 : 71);
    case 'w':
        _exit(open("/tmp/mendwright-was-here", O_WRONLY | O_CREAT, 0600) >= 0 ? 70 : 71);
    case 's':
        _exit(socket(AF_INET, SOCK_STREAM, 0) >= 0 ? 70 : 71);
    case 'f':
        _exit(fork() >= 0 ? 70 : 71);
    case 'k':
        _exit(kill(getppid(), SIGKILL) == 0 ? 70 : 71);
    case 'x':
        execl("/bin/sh", "sh", "-c", "true", (char *)NULL);
        _exit(71);
    case 'p':
        _exit(mmap(NULL, 4096, PROT_READ | PROT_WRITE | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1,
                   0) != MAP_FAILED
                  ? 70
                  : 71);
    case 'q':
        _exit(5);
    default:
        break;
    }
}

static struct photo photo, plain;

static enum photo_fault planted(char what)
{
    char bytes[sizeof PLANT + 1];
    snprintf(bytes, sizeof bytes, "%s%c", PLANT, what);
    const enum err e = photo_apart_read(bytes, sizeof PLANT, &photo);
    if (e != ERR_OK)
        tap_note("planted %c: %s", what, err_text(e));
    return e == ERR_OK ? photo.fault : PHOTO_FINE;
}

static bool is_same(const struct photo *a, const struct photo *b)
{
    bool is_good =
        a->kind == b->kind && a->fault == b->fault && a->width == b->width &&
        a->height == b->height && a->orientation == b->orientation && a->has_exif == b->has_exif &&
        a->has_gps == b->has_gps && a->exif_width == b->exif_width &&
        a->exif_height == b->exif_height && a->clock == b->clock && a->exposure == b->exposure &&
        a->dark_share == b->dark_share && a->bright_share == b->bright_share &&
        a->sharpness == b->sharpness && a->is_dark == b->is_dark && a->is_bright == b->is_bright &&
        a->is_blurred == b->is_blurred && a->hash.dhash == b->hash.dhash &&
        a->hash.phash == b->hash.phash && a->hash.dhash_mirror == b->hash.dhash_mirror &&
        a->hash.phash_mirror == b->hash.phash_mirror && a->hash.is_flat == b->hash.is_flat &&
        a->hash.contrast == b->hash.contrast && strcmp(a->sha256, b->sha256) == 0 &&
        strcmp(a->taken, b->taken) == 0 && strcmp(a->offset, b->offset) == 0 &&
        strcmp(a->fault_text, b->fault_text) == 0 && a->n_codes == b->n_codes;
    for (size_t i = 0; is_good && i < a->n_codes; i++)
        is_good = strcmp(a->codes[i].type, b->codes[i].type) == 0 &&
                  a->codes[i].size == b->codes[i].size &&
                  a->codes[i].is_cut == b->codes[i].is_cut &&
                  memcmp(a->codes[i].text, b->codes[i].text, a->codes[i].size) == 0;
    return is_good;
}

static void check_same(const char *what, struct bytes b)
{
    static struct likeness_picture one, two;
    enum photo_fault first = PHOTO_EMPTY, second = PHOTO_EMPTY;
    const uint8_t *bytes = b.data != NULL ? b.data : (const uint8_t *)"";
    const bool is_read =
        photo_read(bytes, b.n, &plain) == ERR_OK && photo_apart_read(bytes, b.n, &photo) == ERR_OK;
    tap_ok(is_read && is_same(&plain, &photo), "%s: the same answer in a child as without (%s)",
           what, photo.fault == PHOTO_FINE ? "fine" : photo.fault_text);
    const bool is_seen = photo_likeness(bytes, b.n, &first, &one) == ERR_OK &&
                         photo_apart_likeness(bytes, b.n, &second, &two) == ERR_OK;
    tap_ok(is_seen && first == second &&
               (first != PHOTO_FINE || memcmp(&one, &two, sizeof one) == 0),
           "%s: the same picture for comparing", what);
    free(b.data);
}

static void the_same(void)
{
    const struct scene s = scene_draw(7, 900, 700), large = scene_draw(8, 5200, 300);
    check_same("JPEG", encode_jpeg(&s, &(struct encode_jpeg){.quality = 90, .orientation = 6}));
    check_same("large progressive JPEG",
               encode_jpeg(&large, &(struct encode_jpeg){.quality = 80, .is_progressive = true}));
    check_same("PNG", encode_png(&s, 16, true));
    struct bytes cut = encode_png(&s, 8, false);
    cut.n /= 2;
    check_same("a PNG cut off", cut);
    cut = encode_jpeg(&s, &(struct encode_jpeg){.quality = 90});
    cut.n = 20;
    check_same("a JPEG of 20 bytes", cut);
    const struct bytes heic = encode_heic(&s);
    if (heic.data != NULL && photo_reads_heic())
        check_same("HEIC", heic);
    else
        tap_note("no HEIC: this machine has no encoder, or the build no reader");
    check_same("nothing", (struct bytes){NULL, 0});
    free(s.rgb);
    free(large.rgb);
}

/* The corpus of the decoders' fuzz target, codes among it. */
static void the_corpus(const char *folder)
{
    DIR *d = opendir(folder);
    size_t n = 0, n_same = 0;
    for (const struct dirent *e = d != NULL ? readdir(d) : NULL; e != NULL; e = readdir(d)) {
        char path[1024];
        static char bytes[1 << 20];
        snprintf(path, sizeof path, "%s/%s", folder, e->d_name);
        const int fd = e->d_name[0] == '.' ? -1 : open(path, O_RDONLY);
        const ssize_t size = fd >= 0 ? read(fd, bytes, sizeof bytes) : -1;
        if (fd >= 0)
            close(fd);
        if (size < 0)
            continue;
        n++;
        n_same += photo_read(bytes, (size_t)size, &plain) == ERR_OK &&
                  photo_apart_read(bytes, (size_t)size, &photo) == ERR_OK &&
                  is_same(&plain, &photo);
    }
    if (d != NULL)
        closedir(d);
    tap_ok(n >= 10 && n_same == n, "each of %zu files of the fuzz target: the same answer", n);
}

/* ---- led astray ------------------------------------------------------------------------------ */

static bool says(const char *words)
{
    return strstr(photo.fault_text, words) != NULL;
}

static void led_astray(void)
{
    /* In a build with sanitizers they get there first, and what they then do is not allowed either. */
    tap_ok(planted('c') == PHOTO_BROKEN && (is_sanitized || says("crash (signal 11)")) &&
               strlen(photo.sha256) == 64 && photo.kind == PHOTO_JPEG,
           "a crash is that photo's fault, with its kind and digest: %s", photo.fault_text);
    tap_ok(planted('a') == PHOTO_BROKEN, "so is abort(): %s", photo.fault_text);
    tap_ok(planted('q') == PHOTO_BROKEN && says("exit 5"), "so is giving up: %s", photo.fault_text);
    tap_ok(planted('l') == PHOTO_BROKEN && says("within"),
           "a decoder that loops is ended after %d s of computing: %s", PHOTO_APART_CPU_S,
           photo.fault_text);
    if (is_sanitized)
        tap_note(
            "memory: not in a build with the address sanitizer, which maps terabytes; the other "
            "build of this test, without it, has it");
    else
        tap_ok(planted('m') == PHOTO_BROKEN && says("exit 77"),
               "memory ends at %d MiB (exit 77: it was refused): %s",
               (int)(PHOTO_APART_MEMORY >> 20), photo.fault_text);
}

static void shut_in(void)
{
    static const struct {
        char what;
        const char *name;
    } rows[] = {{'o', "opening a file"},
                {'w', "making a file"},
                {'s', "a socket"},
                {'f', "a process"},
                {'k', "killing its parent"},
                {'x', "running a program"},
                {'p', "memory that can be run"}};
    if (photo_apart_wall() != PHOTO_APART_SHUT) {
        tap_note("what a child may not do: not tested, this kernel or this build has no seccomp");
        return;
    }
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(planted(rows[i].what) == PHOTO_BROKEN && says("may not do"), "%s: it is killed: %s",
               rows[i].name, photo.fault_text);
    tap_ok(access("/tmp/mendwright-was-here", F_OK) != 0, "and no file was made");
}

static int many(void *me)
{
    const struct bytes *b = me;
    struct photo *p = malloc(sizeof *p);
    int n_good = 0;
    for (int i = 0; p != NULL && i < 10; i++) {
        const bool is_bad = i % 2 == 0;
        const enum err e = is_bad ? photo_apart_read(PLANT "c", sizeof PLANT, p)
                                  : photo_apart_read(b->data, b->n, p);
        n_good += e == ERR_OK && p->fault == (is_bad ? PHOTO_BROKEN : PHOTO_FINE);
    }
    free(p);
    return n_good;
}

static void at_once(void)
{
    const struct scene s = scene_draw(9, 300, 200);
    struct bytes b = encode_png(&s, 8, false);
    thrd_t threads[8];
    int n_good = 0;
    for (int i = 0; i < 8; i++)
        if (thrd_create(&threads[i], many, &b) != thrd_success)
            abort();
    for (int i = 0; i < 8; i++) {
        int n = 0;
        thrd_join(threads[i], &n);
        n_good += n;
    }
    tap_ok(n_good == 80,
           "eight threads, every other photo crashes: each gets its own answer (%d of 80)", n_good);
    free(b.data);
    free(s.rgb);
}

/* ---- lies --------------------------------------------------------------------------------------- */

static struct photo_apart_answer honest(void)
{
    static struct photo_apart_answer a;
    memset(&a, 0, sizeof a);
    photo_apart_tell(&plain, &a);
    return a;
}

#define LIE(what, change)                                                                          \
    do {                                                                                           \
        static struct photo_apart_answer a;                                                        \
        a = honest();                                                                              \
        change;                                                                                    \
        memset(&photo, 0, sizeof photo);                                                           \
        tap_ok(!photo_apart_hear(&a, &photo), "not believed: %s", what);                           \
    } while (0)

static void lies(void)
{
    memset(&plain, 0, sizeof plain);
    plain.orientation = 1;
    struct photo_apart_answer good = honest();
    tap_ok(photo_apart_hear(&good, &photo), "an honest answer is believed");
    LIE("a kind that there is not", a.kind = 4);
    LIE("a fault that there is not", a.fault = 99);
    LIE("nine codes", a.n_codes = 9);
    LIE("a code longer than its room", (a.n_codes = 1, a.codes[0].size = PHOTO_CODE_TEXT_MAX + 1));
    LIE("a type of code that there is not", (a.n_codes = 1, a.codes[0].type = 3));
    LIE("a width below zero", a.width = -1);
    LIE("the orientation 9", a.orientation = 9);
    LIE("a light that is no number", a.exposure = NAN);
    LIE("more light than there is", a.bright_share = 1.5);
    LIE("a sharpness without an end", a.sharpness = INFINITY);
    LIE("a time that is none", memcpy(a.taken, "2026-03-05 09:14:00", 20));
    LIE("a time without an end", memset(a.taken, '1', sizeof a.taken));
    LIE("an offset that is none", memcpy(a.offset, "+1:000", 7));
    LIE("words without an end", memset(a.fault_text, 'x', sizeof a.fault_text));
}

int main(int argc, char **argv)
{
    if (photo_apart_start() != ERR_OK)
        tap_note("no helper");
    tap_note("a child here is %s", photo_apart_wall() == PHOTO_APART_SHUT ? "shut in by seccomp"
                                   : photo_apart_wall() == PHOTO_APART_LIMITS
                                       ? "held by limits alone"
                                       : "not to be had");
    tap_ok(photo_apart_wall() != PHOTO_APART_NONE, "children can be made");
    led_astray();
    shut_in();
    at_once();
    the_same();
    if (argc > 1)
        the_corpus(argv[1]);
    lies();
    return tap_done();
}

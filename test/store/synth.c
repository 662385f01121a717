/* synth: owns the invented claims, and the folders in which tests work. */
#include "synth.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

void synth_bail(const char *what, const struct fault *f)
{
    printf("Bail out! %s: %s %s %s\n", what, f != NULL ? f->file : "", f != NULL ? f->path : "",
           f != NULL ? f->message : "");
    exit(2);
}

/* 32 bytes that depend on the seed, the claim and a name. */
static void draw(unsigned seed, unsigned i, const char *name, uint8_t ret[STORE_DIGEST])
{
    char text[96];
    const int n = snprintf(text, sizeof text, "%u %u %s", seed, i, name);
    if (digest_bytes(DIGEST_SHA256, text, (size_t)n, ret) != ERR_OK)
        synth_bail("digest", NULL);
}

static void name_ulid(unsigned seed, unsigned i, const char *name, int64_t at_ms,
                      char ret[ULID_TEXT_SIZE + 1])
{
    uint8_t random[STORE_DIGEST];
    struct ulid ulid;
    draw(seed, i, name, random);
    if (ulid_make(at_ms, random, &ulid) != ERR_OK)
        synth_bail("ulid", NULL);
    ulid_show(&ulid, ret);
}

static long read_photo(void *me, uint64_t at, void *buf, size_t n)
{
    const struct synth_photo *p = me;
    if (at >= p->n)
        return 0;
    if (n > p->n - at)
        n = p->n - (size_t)at;
    memcpy(buf, p->bytes + at, n);
    return (long)n;
}

static void make_photo(struct synth *s, unsigned seed, unsigned i, int k)
{
    struct synth_photo *b = &s->photo_bytes[k];
    uint8_t sum[STORE_DIGEST];
    memcpy(b->bytes, "\xff\xd8\xff\xe0 no real picture ", 21);
    b->n = 21;
    for (int j = 0; j < 10 + k; j++) {
        char part[32];
        snprintf(part, sizeof part, "photo%d-%d", k, j);
        draw(seed, i, part, sum);
        memcpy(b->bytes + b->n, sum, sizeof sum);
        b->n += sizeof sum;
    }
    snprintf(s->name[k], sizeof s->name[k], "photos/%u-%d.jpg", i, k);
    struct store_photo *p = &s->photos[k];
    *p = (struct store_photo){.name = s->name[k],
                              .station = k == 0 ? "fore" : NULL,
                              .width = 4000,
                              .height = 3000,
                              .taken_ms = STORE_UNKNOWN,
                              .dhash = {true, (uint64_t)i * 0x9e3779b97f4a7c15u},
                              .phash_mirror = {true, UINT64_MAX - i},
                              .is_flat = k,
                              .codes = k == 0 ? "C2-2024-W19\n" : NULL,
                              .sharpness = 0.1 * i,
                              .exposure = NAN,
                              .read = read_photo,
                              .me = b};
    if (digest_bytes(DIGEST_SHA256, b->bytes, b->n, p->sha256) != ERR_OK)
        synth_bail("digest", NULL);
}

static void make_events(struct synth *s, unsigned seed, unsigned i, int64_t start_ms)
{
    for (int k = 0; k < SYNTH_EVENTS; k++) {
        const int64_t at_ms = start_ms + (int64_t)k * 60000;
        char name[32];
        snprintf(name, sizeof name, "event%d", k);
        name_ulid(seed, i, name, at_ms, s->ulid[k]);
        const int n =
            snprintf(s->json[k], sizeof s->json[k],
                     "{\"at_ms\":%lld,\"claim\":%u,\"n\":%d,\"text\":\"Spurweite \xc3\xb6\"}",
                     (long long)at_ms, i, k);
        s->events[k] =
            (struct store_event){s->ulid[k], k == 0 ? "opened" : "reading", s->json[k], (size_t)n};
    }
}

void synth_make(struct synth *s, unsigned seed, unsigned i, bool is_with_photos)
{
    const int64_t start_ms = 1760000000000 + (int64_t)i * 3600000;
    memset(s, 0, sizeof *s);
    snprintf(s->vin, sizeof s->vin, "1FHMC00X%09u", i / 2);
    memset(s->bulletin_sha256, 'a', sizeof s->bulletin_sha256 - 1);
    snprintf(s->shop, sizeof s->shop, "shop-%u", i % 37);
    name_ulid(seed, i, "job", start_ms, s->job);
    s->stations[0] = (struct store_station){.station = "fore",
                                            .variant = "C2",
                                            .label = "C2-2024-W19",
                                            .built_first = "2024-05-06",
                                            .built_last = "2024-05-12",
                                            .scope = "in",
                                            .kit = "K-L"};
    s->stations[1] = (struct store_station){.station = "aft", .scope = "unknown"};
    for (int k = 0; k < SYNTH_READINGS; k++) {
        snprintf(s->point[k], sizeof s->point[k], "point-%d", k / 2);
        s->readings[k] = (struct store_reading){.station = k < SYNTH_READINGS / 2 ? "fore" : "aft",
                                                .point = s->point[k],
                                                .phase = k % 2 == 0 ? "before" : "after",
                                                .unit = "mm",
                                                .value_nano = 58000000 + (int64_t)i * 1000 + k,
                                                .u_nano = k == 3 ? STORE_UNKNOWN : 288675,
                                                .taken_ms = start_ms + (int64_t)k * 1000};
    }
    s->finding = (struct store_finding){.rule = "signature",
                                        .level = "note",
                                        .message = "signed by a key that is not known",
                                        .cure = "add the shop's key"};
    for (int k = 0; k < SYNTH_PHOTOS && is_with_photos; k++)
        make_photo(s, seed, i, k);
    make_events(s, seed, i, start_ms);
    s->claim = (struct store_claim){.job = s->job,
                                    .bulletin = "OV-26-03",
                                    .revision = 2,
                                    .bulletin_sha256 = s->bulletin_sha256,
                                    .is_invented = 1,
                                    .vin = s->vin,
                                    .shop = s->shop,
                                    .technician = "T. Example",
                                    .signature = "unknown-key",
                                    .signed_by = s->shop,
                                    .opened_ms = start_ms,
                                    .finished_ms = start_ms + 5400000,
                                    .taken_ms = start_ms + 86400000,
                                    .labour_s = 5400,
                                    .stations = s->stations,
                                    .n_stations = SYNTH_STATIONS,
                                    .readings = s->readings,
                                    .n_readings = SYNTH_READINGS,
                                    .photos = s->photos,
                                    .n_photos = is_with_photos ? SYNTH_PHOTOS : 0,
                                    .findings = &s->finding,
                                    .n_findings = 1,
                                    .events = s->events,
                                    .n_events = SYNTH_EVENTS};
    draw(seed, i, "bag", s->claim.bag);
}

void synth_folder(char buf[256])
{
    const char *base = getenv("TMPDIR");
    snprintf(buf, 256, "%.200s/mendwright-store-XXXXXX",
             base != NULL && base[0] != '\0' ? base : "/tmp");
    if (mkdtemp(buf) == NULL)
        synth_bail("no folder for temporary files", NULL);
}

bool synth_is_server(void)
{
    const char *server = getenv("MENDWRIGHT_TEST_SERVER");
    return server != NULL && server[0] != '\0';
}

void synth_store(const char *folder, char *buf, size_t room)
{
    static int n;
    const char *photos =
        getenv("MENDWRIGHT_TEST_PHOTOS"); /* words for an object store: s3double.py */
    if (synth_is_server()) /* partitions so narrow that the tests cross from one to the next */
        snprintf(buf, room, "%s&files=%s/store&schema=t%ld_%d&log_part=50%s%s",
                 getenv("MENDWRIGHT_TEST_SERVER"), folder, (long)getpid(), n++,
                 photos != NULL ? "&" : "", photos != NULL ? photos : "");
    else
        snprintf(buf, room, "%s/store", folder);
}

/* Waits for a program to end. */
static void run(const char *program, char *const argv[])
{
    const pid_t pid = fork();
    if (pid == 0) {
        execvp(program, argv);
        _exit(127);
    }
    if (pid > 0)
        waitpid(pid, NULL, 0);
}

void synth_remove(const char *path)
{
    char rm[] = "rm", force[] = "-rf", end[] = "--", what[512];
    char *const argv[] = {rm, force, end, what, NULL};
    snprintf(what, sizeof what, "%s", path);
    run(rm, argv);
}

void synth_copy(const char *from, const char *to)
{
    char cp[] = "cp", all[] = "-a", end[] = "--", source[512], dest[512];
    char *const argv[] = {cp, all, end, source, dest, NULL};
    snprintf(source, sizeof source, "%s", from);
    snprintf(dest, sizeof dest, "%s", to);
    run(cp, argv);
}

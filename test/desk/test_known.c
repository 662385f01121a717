/* Rows for desk/known: what is held against a claim and what is not, looked up directly. Photos are made-up pictures (draw/picture),
 * copied in the ways that people and cameras do, written as JPEG files and taken in. usage: test_known */
#include "base/file.h"
#include "claims.h"
#include "desk/known.h"
#include "draw/picture.h"
#include "proof/photo.h"
#include "proof/photo_write.h"
#include "store/synth.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define ROOT TEST_TABLES "/../../"

enum { CLAIMS = 40, WIDTH = 640, HEIGHT = 480 };

static struct text json;
static struct claims *claims;
static char folder[256], path[512];
static struct store *store;
static char id[CLAIMS][STORE_CLAIM_SIZE + 1];
static int n_claims;
static struct photo photo; /* too large for some stacks */

static void begin(void)
{
    struct fault f = {0};
    bool is_made = false;
    snprintf(path, sizeof path, "%s/s%d", folder, n_claims + rand() % 100000);
    if (store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &store, &f) != ERR_OK)
        synth_bail("store", &f);
    n_claims = 0;
}

static void end(void)
{
    store_close(store);
    synth_remove(path);
}

/* ---- photos ------------------------------------------------------------------------------------- */

static long read_text(void *me, uint64_t at, void *buf, size_t n)
{
    const struct text *t = me;
    const size_t left = at < t->size ? t->size - (size_t)at : 0;
    n = n < left ? n : left;
    if (n > 0)
        memcpy(buf, t->data + at, n);
    return (long)n;
}

static void must(enum err e, const char *what)
{
    if (e != ERR_OK)
        synth_bail(what, NULL);
}

static struct picture draw(uint64_t seed)
{
    struct picture p;
    must(picture_draw(PICTURE_RACKS, seed, NULL, NULL, WIDTH, HEIGHT, &p), "picture");
    return p;
}

static struct store_hash hash(uint64_t bits)
{
    return (struct store_hash){true, bits};
}

/* A claim of its own whose third photo shows p; its place. has_hashes false: as if it could not be read when it was taken in. */
static int take(struct claims_how how, const struct picture *p, int quality, bool has_hashes)
{
    struct text file = {0};
    const struct photo_write w = {p->pixels, p->width, p->height, quality, NULL, NULL};
    struct store_claim *c = claims_make(claims, &how);
    struct store_photo *to = &c->photos[2];
    enum store_taken taken = STORE_TAKEN;
    struct fault f = {0};
    must(photo_write_jpeg(&w, &file), "JPEG");
    must(photo_read(file.data, file.size, &photo), "photo");
    must(digest_bytes(DIGEST_SHA256, file.data, file.size, to->sha256), "digest");
    to->read = read_text;
    to->me = &file;
    to->is_flat = has_hashes ? photo.hash.is_flat : STORE_UNKNOWN;
    if (has_hashes) {
        to->dhash = hash(photo.hash.dhash);
        to->dhash_mirror = hash(photo.hash.dhash_mirror);
        to->phash = hash(photo.hash.phash);
        to->phash_mirror = hash(photo.hash.phash_mirror);
    }
    if (store_take(store, c, &taken, id[n_claims], &f) != ERR_OK)
        synth_bail("take", &f);
    text_done(&file);
    return n_claims++;
}

static struct claims_how clean(unsigned i)
{
    return (struct claims_how){
        .unit = i, .job = i + 1, .technician = i, .bag = i + 1, .has_photos = true, .readings = i};
}

static int take_next(const struct picture *p, int quality)
{
    return take(clean((unsigned)n_claims), p, quality, true);
}

/* ---- asking ------------------------------------------------------------------------------------- */

struct asked {
    size_t n_seen, n_others, n_labels, n_same, n_overlaps;
    struct rule_seen seen; /* the first */
    char of[STORE_CLAIM_SIZE + 1];
    bool is_built, has_builds, has_keys, is_later, is_same_job;
};

struct asking {
    struct known *known;
    struct known_work *work;
    struct asked *ret;
};

static bool see_claim(void *me, const char *claim_id, const struct store_claim *claim)
{
    struct asking *a = me;
    struct rule_known k;
    struct fault f = {0};
    if (known_of(a->known, claim, claim_id, a->work, &k, &f) != ERR_OK)
        synth_bail("known_of", &f);
    *a->ret = (struct asked){.n_seen = k.n_seen,
                             .n_others = k.n_others,
                             .n_labels = k.n_labels,
                             .n_same = k.n_same_readings,
                             .n_overlaps = k.n_overlaps,
                             .is_built = k.is_built,
                             .has_builds = k.has_builds,
                             .has_keys = k.shop != NULL && k.shop->has_keys};
    if (k.n_seen > 0) {
        a->ret->seen = k.seen[0];
        snprintf(a->ret->of, sizeof a->ret->of, "%s", k.seen[0].claim);
    }
    if (k.n_others > 0) {
        a->ret->is_later = k.others[0].is_later;
        a->ret->is_same_job = k.others[0].is_same_job;
    }
    return true;
}

/* Claim i, with an index over all or one made for it alone. */
static struct asked ask(int i, bool is_alone, const struct shops *shops)
{
    struct asked ret = {0};
    struct asking a = {.work = known_work_new(), .ret = &ret};
    struct fault f = {0};
    if (a.work == NULL ||
        known_open(store, shops, is_alone ? id[i] : NULL, NULL, &a.known, &f) != ERR_OK ||
        store_claims(store, id[i], see_claim, &a, &f) != ERR_OK)
        synth_bail("known", &f);
    known_close(a.known);
    known_work_free(a.work);
    return ret;
}

/* Claim i's photo was seen with claim `of` (-1: with none); the same whether asked among all or alone. */
static void is_seen(int i, int of, bool is_mirrored, const char *what)
{
    bool is_good = true;
    double least = 1;
    for (int alone = 0; alone < 2; alone++) {
        const struct asked a = ask(i, alone == 1, NULL);
        is_good &= of < 0 ? a.n_seen == 0
                          : a.n_seen == 1 && a.seen.photo == 2 && strcmp(a.of, id[of]) == 0 &&
                                a.seen.is_mirrored == is_mirrored && !a.seen.is_same_bytes &&
                                a.seen.likeness >= LIKENESS_SAME;
        least = a.n_seen > 0 ? a.seen.likeness : 0;
    }
    tap_ok(is_good, "%s: %s%s (%.4f)", what, of < 0 ? "seen nowhere" : "seen with the first",
           is_mirrored ? ", mirrored" : "", least);
}

/* ---- rows --------------------------------------------------------------------------------------- */

static void test_pictures(void)
{
    struct picture a = draw(1), b = draw(2), to;
    begin();
    take_next(&a, 90);
    is_seen(take_next(&b, 90), -1, false, "another picture of the same kind");
    is_seen(take_next(&a, 60), 0, false, "saved again at quality 60");
    must(picture_scale(&a, WIDTH / 2, HEIGHT / 2, &to), "scale");
    is_seen(take_next(&to, 85), 0, false, "scaled to half");
    picture_done(&to);
    must(picture_darken(&a, 1.2, &to), "brighten");
    is_seen(take_next(&to, 85), 0, false, "brightened");
    picture_done(&to);
    must(picture_crop(&a, 0.03, &to), "crop");
    is_seen(take_next(&to, 85), 0, false, "3 % cropped off every side");
    picture_done(&to);
    must(picture_mirror(&a, &to), "mirror");
    is_seen(take_next(&to, 85), 0, true, "mirrored");
    picture_done(&to);
    tap_ok(ask(0, false, NULL).n_seen == 0 && ask(0, true, NULL).n_seen == 0,
           "the first is held against none of those that came after it");
    picture_done(&a);
    picture_done(&b);
    end();
}

static void test_same_bytes(void)
{
    struct picture a = draw(3), flat = draw(4);
    struct claims_how how;
    memset(flat.pixels, 90, (size_t)WIDTH * HEIGHT * 3);
    begin();
    take(clean(0), &a, 90, false);
    const int copy = take(clean(1), &a, 90, false);
    struct asked got = ask(copy, false, NULL);
    tap_ok(got.n_seen == 1 && got.seen.is_same_bytes && strcmp(got.of, id[0]) == 0,
           "the same bytes are found though neither has hashes");
    how = clean(2);
    how.unit = 0;
    how.job = 1;
    const int again = take(how, &a, 90, true);
    got = ask(again, true, NULL);
    /* Every photo of the claim is as it was in the first, and none is told. */
    tap_ok(got.n_seen == 1 && strcmp(got.of, id[1]) == 0 && got.seen.is_same_bytes,
           "the same job sent again is not held against itself, but against the copy between");
    tap_ok(got.n_others == 1 && got.is_same_job && !got.is_later,
           "it knows of its own earlier claim");
    got = ask(0, false, NULL);
    tap_ok(got.n_seen == 0 && got.n_others == 1 && got.is_later && got.is_same_job,
           "the first knows that its job was sent again, and of no photo");
    take(clean(10), &flat, 90, true);
    const int other = take(clean(11), &flat, 70, true);
    tap_ok(ask(other, false, NULL).n_seen == 0, "flat pictures are like none");
    const int same = take(clean(12), &flat, 90, true);
    got = ask(same, false, NULL);
    tap_ok(got.n_seen == 1 && got.seen.is_same_bytes, "unless their bytes are the same");
    picture_done(&a);
    picture_done(&flat);
    end();
}

/* A photo whose file is gone is judged by its hashes alone. */
static void test_no_file(void)
{
    struct picture a = draw(5), b = draw(6);
    char file[700], hex[DIGEST_HEX_ROOM];
    begin();
    take_next(&a, 90);
    const struct photo first = photo;
    const int copy = take_next(&a, 60);
    const int other = take_next(&b, 60);
    uint8_t sum[STORE_DIGEST];
    if (!digest_unhex(first.sha256, STORE_DIGEST, sum))
        synth_bail("digest", NULL);
    digest_hex(sum, STORE_DIGEST, hex);
    store_photo_path(store, sum, "jpg", file, sizeof file);
    tap_ok(unlink(file) == 0, "a photo's file is taken away");
    const struct asked got = ask(copy, false, NULL);
    tap_ok(got.n_seen == 1 && isnan(got.seen.likeness) && strcmp(got.of, id[0]) == 0,
           "a copy of it is told by the hashes, without a likeness");
    tap_ok(ask(other, false, NULL).n_seen == 0, "another picture is not");
    picture_done(&a);
    picture_done(&b);
    end();
}

static void test_hours_and_readings(void)
{
    begin();
    for (unsigned i = 0; i < 4; i++) {
        struct claims_how how = clean(i);
        how.technician = 7;
        how.day = i == 3 ? 5 : 0;
        how.readings = i == 1 ? 0 : i;
        memcpy(id[n_claims++], claims_take(claims, store, &how), STORE_CLAIM_SIZE + 1);
    }
    size_t overlaps[4], same[4];
    for (int i = 0; i < 4; i++) {
        const struct asked a = ask(i, i % 2 == 1, NULL);
        overlaps[i] = a.n_overlaps;
        same[i] = a.n_same;
    }
    tap_ok(overlaps[0] == 0 && overlaps[1] == 1 && overlaps[2] == 2 && overlaps[3] == 0,
           "the same hours: each is held against those before it, another day against none");
    tap_ok(same[0] == 0 && same[1] == 1 && same[2] == 0 && same[3] == 0,
           "the same readings: the later is held against the earlier");
    end();
}

static void test_lists(void)
{
    static const char csv[] = "shop,kind,rate,from\r\nfern-mobile-2,mobile,70.00,\r\n";
    static const char keys[] =
        "fern-mobile-2 00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff\n";
    struct fault f = {0};
    struct shops *shops = NULL;
    bool is_new = false;
    begin();
    const struct claims_how how = clean(0), next = clean(1);
    memcpy(id[n_claims++], claims_take(claims, store, &how), STORE_CLAIM_SIZE + 1);
    const char *vin = claims_make(claims, &how)->vin;
    must(shops_read(csv, sizeof csv - 1, "shops.csv", 2, &shops, &f), "shops");
    struct asked got = ask(0, true, shops);
    tap_ok(!got.has_builds && !got.is_built && !got.has_keys && got.n_labels == 0,
           "no build list, no keys: nothing is known");
    const struct store_build builds[] = {{vin, "aft", "WD40 2024-W32"},
                                         {vin, "fore", NULL},
                                         {"ZZZFM24T5R0009999", "fore", "WD40 2024-W13"}};
    must(store_build_put(store, builds, 3, 1790000000000, &f), "builds");
    struct store_paper paper = {.kind = "keys",
                                .name = "keys",
                                .revision = STORE_UNKNOWN,
                                .at_ms = 1790000000000,
                                .text = keys,
                                .n = sizeof keys - 1};
    must(store_keep(store, &paper, &is_new, &f), "keys");
    memcpy(id[n_claims++], claims_take(claims, store, &next), STORE_CLAIM_SIZE + 1);
    for (int alone = 0; alone < 2; alone++) {
        got = ask(0, alone == 1, shops);
        tap_ok(got.has_builds && got.is_built && got.has_keys && got.n_labels == 1,
               "%s: the unit is in the build list, one label is known, the shop has keys",
               alone == 1 ? "asked alone" : "among all");
        got = ask(1, alone == 1, shops);
        tap_ok(got.has_builds && !got.is_built && got.n_labels == 0, "another unit is not");
    }
    shops_free(shops);
    end();
}

static void test_unknown(void)
{
    struct known *known = NULL;
    struct fault f = {0};
    begin();
    tap_ok(known_open(store, NULL, "K000000000000", NULL, &known, &f) == ERR_UNKNOWN &&
               known == NULL,
           "a claim that is not there: ERR_UNKNOWN");
    known_close(NULL);
    known_work_free(NULL);
    end();
}

int main(void)
{
    struct fault f = {0};
    if (file_read(ROOT "examples/jobs/ov-26-03-a/events.json", 1 << 22, &json, &f) != ERR_OK)
        synth_bail("events", &f);
    claims = claims_new(json.data, json.size);
    synth_folder(folder);
    test_pictures();
    test_same_bytes();
    test_no_file();
    test_hours_and_readings();
    test_lists();
    test_unknown();
    claims_free(claims);
    text_done(&json);
    synth_remove(folder);
    return tap_done();
}

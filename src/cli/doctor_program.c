/* doctor_program: owns the look at the program itself: whether it computes what is published, carries what it was built with, and can read a
 * photo in a child. */
#include "base/digest.h"
#include "base/embedded.h"
#include "base/file.h"
#include "cli/doctor.h"
#include "core/date.h"
#include "core/normal.h"
#include "core/quantity.h"
#include "core/vin.h"
#include "proof/photo_apart.h"
#include "proof/sign.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

extern const struct embedded serve_files[];

enum { CORE_MAX = 16 << 20, HEX_MAX = 2 * SIGN_SIZE };

/* ---- known values ----------------------------------------------------------------------------- */

/* The check digit of the VIN that 49 CFR 565.15 leads through in its own example (table, position by position). */
static bool vin_holds(void)
{
    struct vin_verdict v;
    vin_check("1G4AH59H45G118341", 17, &v);
    const bool is_good = v.fault == VIN_FAULT_NONE;
    vin_check("1G4AH59H55G118341", 17, &v);
    return is_good && v.fault == VIN_FAULT_CHECK;
}

/* The inch is 25.4 mm (international yard and pound agreement, 1959). */
static bool length_holds(void)
{
    struct quantity got;
    size_t at = 0;
    return quantity_parse("2 1/2 in", 8, UNIT_N, &got, &at) == ERR_OK && got.nano == 63500000;
}

/* 2009-W53-5 is 2010-01-01 (ISO 8601). */
static bool date_holds(void)
{
    int32_t by_week = 0, by_day = 1;
    return date_from_week(2009, 53, 5, &by_week) == ERR_OK &&
           date_from_civil(2010, 1, 1, &by_day) == ERR_OK && by_week == by_day;
}

/* P(Z <= 1.96) = 0.9750 and its 97.5 % point 1.9600 (tables of the normal distribution, four places). */
static bool normal_holds(void)
{
    return fabs(normal_cdf(1.96) - 0.9750) < 0.00005 &&
           fabs(normal_quantile(0.975) - 1.9600) < 0.00005;
}

/* SHA-256 of "abc" (FIPS 180-4, the example of NIST). */
static bool digest_holds(void)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    if (digest_bytes(DIGEST_SHA256, "abc", 3, sum) != ERR_OK)
        return false;
    digest_hex(sum, sizeof sum, hex);
    return strcmp(hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad") == 0;
}

static void unhex(const char *hex, uint8_t *ret, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char pair[3] = {hex[2 * i], hex[2 * i + 1], '\0'};
        ret[i] = (uint8_t)strtoul(pair, NULL, 16);
    }
}

/* RFC 8032, 7.1, test 1: the empty message. */
static bool signature_holds(void)
{
    static const char seed[] = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
                      key[] = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
                      sign[] = "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
                               "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b";
    uint8_t s[SIGN_SEED_SIZE], k[SIGN_KEY_SIZE], want[SIGN_SIZE], got[SIGN_SIZE];
    unhex(seed, s, sizeof s);
    unhex(key, k, sizeof k);
    unhex(sign, want, sizeof want);
    return sign_bytes(s, "", 0, got) == ERR_OK && memcmp(got, want, sizeof got) == 0 &&
           sign_holds(k, "", 0, want);
}

static void known_values(struct doctor *d)
{
    static const struct {
        const char *name;
        bool (*holds)(void);
    } rows[] = {{"check digits of VINs", vin_holds},
                {"lengths", length_holds},
                {"dates", date_holds},
                {"the normal distribution", normal_holds},
                {"SHA-256", digest_holds},
                {"Ed25519", signature_holds}};
    const size_t n = sizeof rows / sizeof *rows;
    for (size_t i = 0; i < n; i++)
        if (!rows[i].holds()) {
            doctor_say(
                d, "program", DOCTOR_BAD,
                "Do not use this program for real work. Install it again; if it stays so, the "
                "processor, its memory or a library is at fault.",
                "does not compute what is published: %s", rows[i].name);
            return;
        }
    doctor_say(d, "program", DOCTOR_GOOD, NULL,
               "version " MENDWRIGHT_VERSION ", %zu published values hold", n);
}

/* ---- what it carries -------------------------------------------------------------------------- */

static bool is_whole(const struct embedded *e)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    if (digest_bytes(DIGEST_SHA256, e->bytes, e->size, sum) != ERR_OK)
        return false;
    digest_hex(sum, sizeof sum, hex);
    return strncmp(hex, e->tag, 32) == 0;
}

/* The core for the phone as it is installed beside the program against the one that the pages carry. */
static void installed_core(struct doctor *d, const struct embedded *carried)
{
#ifdef MENDWRIGHT_DATA
    static const char path[] = MENDWRIGHT_DATA "/mendwright-core.wasm";
    struct text file = {0};
    struct fault f = {0};
    if (file_read(path, CORE_MAX, &file, &f) != ERR_OK)
        doctor_say(d, "core", DOCTOR_GOOD, NULL, "the pages carry the core for phones, %zu bytes",
                   carried->size);
    else if (file.size != carried->size || memcmp(file.data, carried->bytes, file.size) != 0)
        doctor_say(d, "core", DOCTOR_BAD,
                   "Install program and data of one version; phones would compute otherwise than "
                   "the desk.",
                   "%s is not the core that the pages carry", path);
    else
        doctor_say(d, "core", DOCTOR_GOOD, NULL, "%s is the core that the pages carry", path);
    text_done(&file);
#else
    doctor_say(d, "core", DOCTOR_GOOD, NULL, "the pages carry the core for phones, %zu bytes",
               carried->size);
#endif
}

static void carried_files(struct doctor *d)
{
    const struct embedded *core = NULL;
    size_t n = 0;
    for (const struct embedded *e = serve_files; e->path != NULL; e++, n++) {
        if (strcmp(e->path, "bench/core.wasm") == 0)
            core = e;
        if (!is_whole(e)) {
            doctor_say(d, "pages", DOCTOR_BAD, "Install the program again.",
                       "%s in the program is not what it was built with", e->path);
            return;
        }
    }
    if (core == NULL) {
        doctor_say(d, "pages", DOCTOR_WARN, "Build with the pages if it is to serve them.",
                   "this build carries no pages");
        return;
    }
    doctor_say(d, "pages", DOCTOR_GOOD, NULL, "%zu files in the program are as they were built", n);
    installed_core(d, core);
}

/* ---- photos ----------------------------------------------------------------------------------- */

/* A grey picture of one pixel (PNG, 1 bit), by its specification. */
static const uint8_t one_pixel[] = {
    0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0x00, 0x00, 0x00, 0x0d, 0x49, 0x48,
    0x44, 0x52, 0x00, 0x00, 0x00, 0x01, 0x00, 0x00, 0x00, 0x01, 0x01, 0x00, 0x00, 0x00,
    0x00, 0x37, 0x6e, 0xf9, 0x24, 0x00, 0x00, 0x00, 0x0a, 0x49, 0x44, 0x41, 0x54, 0x78,
    0x9c, 0x63, 0x60, 0x00, 0x00, 0x00, 0x02, 0x00, 0x01, 0x48, 0xaf, 0xa4, 0x71, 0x00,
    0x00, 0x00, 0x00, 0x49, 0x45, 0x4e, 0x44, 0xae, 0x42, 0x60, 0x82};

static void photos(struct doctor *d)
{
    struct photo *photo = malloc(sizeof *photo);
    const enum photo_apart_wall wall = photo_apart_wall();
    if (photo == NULL || photo_apart_read(one_pixel, sizeof one_pixel, photo) != ERR_OK)
        doctor_say(d, "photos", DOCTOR_BAD,
                   "Let the program make processes (TasksMax=, ulimit -u), and give it memory.",
                   "no child can be made to read a photo in");
    else if (photo->fault != PHOTO_FINE)
        doctor_say(d, "photos", DOCTOR_BAD,
                   "Tell us the versions of the system's libraries: its C library asks for what a "
                   "child may not do.",
                   "a sound photo %s", photo->fault_text);
    else if (wall != PHOTO_APART_SHUT)
        doctor_say(d, "photos", DOCTOR_WARN,
                   "Use a kernel with seccomp, and a build with libseccomp.",
                   "photos are read in a child with limits, but without seccomp");
    else
        doctor_say(d, "photos", DOCTOR_GOOD, NULL,
                   "are read in a child that seccomp shuts in; HEIC %s",
                   photo_reads_heic() ? "is read" : "is not read by this build");
    free(photo);
}

void doctor_program(struct doctor *d)
{
    known_values(d);
    carried_files(d);
    photos(d);
}

/* doctor_machine: owns the look at the machine and at the files of an installation: letters for paper, time zones, clock, open files, the
 * store, the TLS files. */
#include "base/certificate.h"
#include "base/file.h"
#include "cli/doctor.h"
#include "draw/fonts_any.h"
#include "store/store.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

enum {
    MIB = 1024 * 1024,
    ROOM_BAD_MIB = 64, /* less: the next bag may not fit */
    ROOM_WARN_MIB = 2048,
    FILES_WANTED = 2200, /* 2000 connections, and what the store opens */
    PEM_MAX = 1024 * 1024,
    DAY_S = 86400,
    EXPIRY_WARN_DAYS = 21,
    CLOCK_SLACK_MS = 5 * 60 * 1000
};

#define YEAR_2026_MS INT64_C(1767225600000)
#define YEAR_2100_MS INT64_C(4102444800000)

/* ---- the machine --------------------------------------------------------------------------------- */

static void letters(struct doctor *d)
{
    if (fonts_any())
        doctor_say(d, "letters", DOCTOR_GOOD, NULL, "there are fonts for sheets and letters");
    else
        doctor_say(d, "letters", DOCTOR_WARN, "Install a font, such as Debian's fonts-dejavu-core.",
                   "there is no font: sheets and letters cannot be drawn");
}

static void zones(struct doctor *d)
{
    if (access("/usr/share/zoneinfo/UTC", R_OK) == 0 ||
        access("/usr/share/zoneinfo/Etc/UTC", R_OK) == 0)
        doctor_say(d, "time zones", DOCTOR_GOOD, NULL, "the system's data is there");
    else
        doctor_say(d, "time zones", DOCTOR_GOOD, NULL,
                   "the system has no data; all times are told in UTC, which needs none");
}

static void clock_sane(struct doctor *d)
{
    if (d->now_ms < YEAR_2026_MS || d->now_ms > YEAR_2100_MS)
        doctor_say(d, "clock", DOCTOR_BAD,
                   "Set the clock, and keep it by the network (systemd-timesyncd, chrony).",
                   "says %" PRId64 " s since 1970: that cannot be", d->now_ms / 1000);
    else
        doctor_say(d, "clock", DOCTOR_GOOD, NULL, "is plausible");
}

static void open_files(struct doctor *d)
{
    struct rlimit r = {0};
    if (getrlimit(RLIMIT_NOFILE, &r) == 0 && r.rlim_cur < FILES_WANTED)
        doctor_say(d, "open files", DOCTOR_WARN,
                   "Allow more where the server is started (LimitNOFILE=, ulimit -n).",
                   "%llu may be open at once; a server with all its connections needs %d",
                   (unsigned long long)r.rlim_cur, (int)FILES_WANTED);
    else
        doctor_say(d, "open files", DOCTOR_GOOD, NULL, "enough may be open at once");
}

void doctor_machine(struct doctor *d)
{
    letters(d);
    zones(d);
    clock_sane(d);
    open_files(d);
}

/* ---- a store ------------------------------------------------------------------------------------- */

static void room_for_more(struct doctor *d)
{
    struct statvfs v;
    if (statvfs(d->files, &v) != 0) {
        doctor_say(d, "room", DOCTOR_WARN, NULL, "how much there is cannot be told: %s",
                   strerror(errno));
        return;
    }
    const unsigned long long mib = (unsigned long long)v.f_bavail * v.f_frsize / MIB;
    const char *cure =
        "Make room: `store tidy`, older logs, a larger disk. A full disk loses nothing, "
        "yet no bag is taken in.";
    if (mib < ROOM_BAD_MIB || v.f_favail == 0)
        doctor_say(d, "room", DOCTOR_BAD, cure, "%llu MiB are free", mib);
    else if (mib < ROOM_WARN_MIB)
        doctor_say(d, "room", DOCTOR_WARN, cure, "%llu MiB are free", mib);
    else
        doctor_say(d, "room", DOCTOR_GOOD, NULL, "%llu MiB are free", mib);
}

static void photos(struct doctor *d, struct store *s)
{
    char told[DOCTOR_TEXT_MAX];
    struct fault f = {0};
    if (store_photos_look(s, told, sizeof told, &f) == ERR_OK)
        doctor_say(d, "photo files", DOCTOR_GOOD, NULL, "photos %.250s", told);
    else
        doctor_say(d, "photo files", DOCTOR_BAD,
                   "Until photos can be reached no bag is taken in and none can be looked at.",
                   "%.280s", f.message);
}

/* What is secret must be its owner's alone; what is the store's must not be writable by everybody. */
static bool right_file(struct doctor *d, const char *name, mode_t forbidden)
{
    char path[1100];
    struct stat st;
    snprintf(path, sizeof path, "%s%s%s", d->files, name[0] != '\0' ? "/" : "", name);
    if (stat(path, &st) != 0)
        return true; /* not every store has it */
    if ((st.st_mode & forbidden) != 0) {
        doctor_say(d, "rights", DOCTOR_BAD, "chmod it: nobody but the server's user needs it.",
                   "%.200s may be %s by others (mode %03o)", path,
                   (forbidden & S_IROTH) != 0 ? "read" : "written", (unsigned)st.st_mode & 0777);
        return false;
    }
    if (st.st_uid != geteuid() && geteuid() != 0) {
        doctor_say(d, "rights", DOCTOR_WARN,
                   "Run the program as the user whom the store belongs to.",
                   "%.200s belongs to another user", path);
        return false;
    }
    return true;
}

static void rights(struct doctor *d)
{
    static const struct {
        const char *name;
        mode_t forbidden;
    } files[] = {{"", S_IWOTH},
                 {"store.db", S_IWOTH},
                 {"photos", S_IWOTH},
                 {"people.db", S_IRWXG | S_IRWXO},
                 {"jobs.db", S_IRWXG | S_IRWXO}};
    bool is_good = true;
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        is_good &= right_file(d, files[i].name, files[i].forbidden);
    if (is_good)
        doctor_say(d, "rights", DOCTOR_GOOD, NULL, "only its owner may write, and read people");
}

/* The latest that the store was written, so far as it tells: no clock before it can be right. */
struct latest {
    int64_t at_ms;
};

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct latest *l = me;
    (void)id;
    if (claim->taken_ms > l->at_ms)
        l->at_ms = claim->taken_ms;
    return true;
}

static void clock_after(struct doctor *d, struct store *s)
{
    struct latest l = {0};
    struct fault f = {0};
    if (store_claims(s, NULL, see_claim, &l, &f) != ERR_OK)
        return;
    if (l.at_ms > d->now_ms + CLOCK_SLACK_MS)
        doctor_say(d, "clock", DOCTOR_BAD, "Set the clock; find out when it was wrong.",
                   "is %" PRId64 " s before the last claim that was taken in",
                   (l.at_ms - d->now_ms) / 1000);
}

static void whole(struct doctor *d, struct store *s)
{
    struct store_health *h = calloc(1, sizeof *h);
    struct fault f = {0};
    if (h == NULL || store_verify(s, NULL, NULL, h, &f) != ERR_OK)
        doctor_say(d, "store", DOCTOR_BAD, "Ask again; if it stays so, look at the disk.",
                   "cannot be verified: %.200s", f.message);
    else if (h->n_faults > 0)
        doctor_say(
            d, "store", DOCTOR_BAD,
            "`store verify` tells each. Stop taking in, keep a copy, then `store rebuild`, or "
            "restore a backup.",
            "%" PRId64 " faults; the first: %s: %.150s", h->n_faults, h->faults[0].kind,
            h->faults[0].message);
    else
        doctor_say(d, "store", DOCTOR_GOOD, NULL,
                   "%" PRId64 " claims, %" PRId64 " entries, %" PRId64
                   " photos, verified from end to end",
                   h->counts.claims, h->counts.entries, h->counts.photos);
    free(h);
}

static void quick(struct doctor *d, struct store *s)
{
    struct store_counts n = {0};
    struct fault f = {0};
    if (store_count(s, &n, &f) != ERR_OK)
        doctor_say(d, "store", DOCTOR_BAD, "Ask `store verify`.", "cannot be read: %.200s",
                   f.message);
    else
        doctor_say(d, "store", DOCTOR_GOOD, NULL,
                   "%" PRId64 " claims, %" PRId64 " entries; not verified (--whole does)", n.claims,
                   n.entries);
}

void doctor_store(struct doctor *d)
{
    struct store *s = NULL;
    struct fault f = {0};
    if (d->store == NULL)
        return;
    if (store_open(d->store, STORE_READ, &s, &f) != ERR_OK) {
        doctor_say(
            d, "store", DOCTOR_BAD,
            "Is it the right folder, and of this version? `store init` brings an older one up.",
            "%.100s cannot be opened: %.150s", f.file, f.message);
        return;
    }
    snprintf(d->files, sizeof d->files, "%s", store_folder(s));
    photos(d, s);
    room_for_more(d);
    rights(d);
    clock_after(d, s);
    if (d->is_whole)
        whole(d, s);
    else
        quick(d, s);
    store_close(s);
}

/* ---- TLS ----------------------------------------------------------------------------------------- */

static bool read_pem(struct doctor *d, const char *path, struct text *ret)
{
    struct fault f = {0};
    if (file_read(path, PEM_MAX, ret, &f) == ERR_OK)
        return true;
    doctor_say(d, "tls", DOCTOR_BAD, "Give the server's user the right to read it.",
               "%.150s: %.120s", path, f.message);
    return false;
}

static void judge(struct doctor *d, const struct certificate *c)
{
    const int64_t now_s = d->now_ms / 1000, days = (c->until_s - now_s) / DAY_S;
    struct stat st;
    if (!c->has_key)
        doctor_say(d, "tls", DOCTOR_BAD, "Give the key that the certificate was made for.",
                   "the key does not belong to the certificate of %.150s", c->subject);
    else if (now_s < c->from_s)
        doctor_say(d, "tls", DOCTOR_BAD, "Look at the clock, then at the certificate.",
                   "the certificate of %.150s does not hold yet", c->subject);
    else if (now_s >= c->until_s)
        doctor_say(d, "tls", DOCTOR_BAD, "Get a new one and start the server again.",
                   "the certificate of %.150s has run out", c->subject);
    else if (days < EXPIRY_WARN_DAYS)
        doctor_say(d, "tls", DOCTOR_WARN, "Get a new one and start the server again.",
                   "the certificate of %.150s runs out in %" PRId64 " days", c->subject, days);
    else
        doctor_say(d, "tls", DOCTOR_GOOD, NULL,
                   "the certificate of %.150s holds %" PRId64 " more days", c->subject, days);
    if (stat(d->key, &st) == 0 && (st.st_mode & (S_IRWXO | S_IWGRP)) != 0)
        doctor_say(d, "tls", DOCTOR_BAD, "chmod o= it.",
                   "the key may be read by others (mode %03o)", (unsigned)st.st_mode & 0777);
}

void doctor_tls(struct doctor *d)
{
    struct text pem = {0}, key = {0};
    struct certificate c;
    struct fault f = {0};
    if (d->certificate == NULL)
        return;
    if (read_pem(d, d->certificate, &pem) && read_pem(d, d->key, &key)) {
        if (certificate_read(pem.data != NULL ? pem.data : "", pem.size,
                             key.data != NULL ? key.data : "", key.size, &c, &f) == ERR_OK)
            judge(d, &c);
        else
            doctor_say(d, "tls", DOCTOR_BAD, "Give PEM files, the certificate first in the chain.",
                       "%.100s: %.150s", d->certificate, f.message);
    }
    text_done(&pem);
    text_done(&key);
}

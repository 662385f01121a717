/* coming: owns the names, the room and the age of what lies in the store's folder coming/. */
#include "serve/coming.h"

#include "base/digest.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { HEX = 64, PERSON_ROOM = 2 * SIGNIN_NAME_ROOM + 1 };
static const char end[] = ".part";

/* A person's name as hexadecimal digits, so that no name can be a path. */
static void person_hex(const char *person, char ret[PERSON_ROOM])
{
    digest_hex((const uint8_t *)person, strnlen(person, SIGNIN_NAME_ROOM - 1), ret);
}

void coming_path(const char *store, const char *person, const char *sha256, char path[COMING_ROOM])
{
    char name[PERSON_ROOM];
    person_hex(person, name);
    snprintf(path, COMING_ROOM, "%.511s/coming/%.64s-%s%s", store, sha256, name, end);
}

int coming_open(const char *store, char path[COMING_ROOM])
{
    snprintf(path, COMING_ROOM, "%.511s/coming", store);
    if (mkdir(path, 0700) != 0 && errno != EEXIST)
        return -1;
    snprintf(path, COMING_ROOM, "%.511s/coming/XXXXXX", store);
    return mkstemp(path);
}

/* Looks at every file of the folder; see tells whether to remove it. Returns how many were removed. */
typedef bool coming_see(void *me, const char *name, const struct stat *st);
static int walk(const char *store, coming_see *see, void *me)
{
    char path[COMING_ROOM];
    struct stat st;
    int n = 0;
    snprintf(path, sizeof path, "%.511s/coming", store);
    DIR *folder = opendir(path);
    if (folder == NULL)
        return 0;
    for (struct dirent *d = readdir(folder); d != NULL; d = readdir(folder)) {
        if (d->d_name[0] == '.' ||
            snprintf(path, sizeof path, "%.511s/coming/%s", store, d->d_name) >= COMING_ROOM)
            continue;
        if (lstat(path, &st) == 0 && S_ISREG(st.st_mode) && see(me, d->d_name, &st) &&
            unlink(path) == 0)
            n++;
    }
    closedir(folder);
    return n;
}

/* ---- age ------------------------------------------------------------------------------------- */

static bool ends_so(const char *name)
{
    const size_t n = strlen(name), k = sizeof end - 1;
    return n > k && strcmp(name + n - k, end) == 0;
}

static bool is_old(void *me, const char *name, const struct stat *st)
{
    const int64_t *now_ms = me;
    const int64_t hour = INT64_C(3600) * 1000, age_ms = *now_ms - (int64_t)st->st_mtime * 1000;
    return age_ms > (ends_so(name) ? COMING_DAYS * 24 * hour : COMING_HOURS * hour);
}

int coming_tidy(const char *store, int64_t now_ms)
{
    return walk(store, is_old, &now_ms);
}

/* ---- room ------------------------------------------------------------------------------------ */

struct look {
    char person[PERSON_ROOM + sizeof end]; /* how the names of the person's pieces end */
    const char *except;
    uint64_t bytes;
    int n;
    char oldest[COMING_ROOM];
    struct timespec touched;
};

static bool is_before(const struct timespec *a, const struct timespec *b)
{
    return a->tv_sec != b->tv_sec ? a->tv_sec < b->tv_sec : a->tv_nsec < b->tv_nsec;
}

/* Adds up; removes nothing. */
static bool add_up(void *me, const char *name, const struct stat *st)
{
    struct look *l = me;
    if (strlen(name) < HEX + 1 || name[HEX] != '-' || strcmp(name + HEX + 1, l->person) != 0 ||
        strncmp(name, l->except, HEX) == 0)
        return false;
    l->bytes += st->st_size > 0 ? (uint64_t)st->st_size : 0;
    if (l->n++ == 0 || is_before(&st->st_mtim, &l->touched)) {
        l->touched = st->st_mtim;
        snprintf(l->oldest, sizeof l->oldest, "%s", name);
    }
    return false;
}

void coming_make_room(const char *store, const char *person, const char *sha256, uint64_t n,
                      uint64_t max)
{
    char hex[PERSON_ROOM], path[COMING_ROOM];
    person_hex(person, hex);
    for (;;) {
        struct look l = {.except = sha256};
        snprintf(l.person, sizeof l.person, "%s%s", hex, end);
        walk(store, add_up, &l);
        const bool fits = n <= max && l.bytes <= max - n && l.n < COMING_BAGS_MAX;
        if (fits || l.n == 0)
            return;
        if (snprintf(path, sizeof path, "%.511s/coming/%s", store, l.oldest) >= COMING_ROOM ||
            unlink(path) != 0)
            return;
    }
}

/* ---- lists ----------------------------------------------------------------------------------- */

void coming_list_path(const char *store, const char *person, const char *sha256, const char *ending,
                      char path[COMING_ROOM])
{
    char name[PERSON_ROOM];
    person_hex(person, name);
    snprintf(path, COMING_ROOM, "%.511s/coming/%.64s-%s.%s", store, sha256, name, ending);
}

/* HEX-PERSON.list..., of another digest than the one that stays. */
static bool is_other_list(void *me, const char *name, const struct stat *st)
{
    const struct look *l = me;
    const size_t n = strlen(l->person);
    (void)st;
    return strlen(name) > HEX + 1 + n && name[HEX] == '-' &&
           strncmp(name + HEX + 1, l->person, n) == 0 && name[HEX + 1 + n] == '.' &&
           !ends_so(name) && (l->except == NULL || strncmp(name, l->except, HEX) != 0);
}

void coming_drop_lists(const char *store, const char *person, const char *sha256)
{
    char hex[PERSON_ROOM];
    struct look l = {.except = sha256};
    person_hex(person, hex);
    snprintf(l.person, sizeof l.person, "%s", hex);
    walk(store, is_other_list, &l);
}

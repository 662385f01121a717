/* disk: owns the model: what was synced, what came since, and what is left of it when the power goes. */
#define _DEFAULT_SOURCE /* d_type */
#include "disk_inner.h"

#include "table.h" /* its generator */

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NODES_MAX = 16384, NAMES_MAX = 8192, NAME_ROOM = 96, WAS_MAX = 6, NOBODY = -1 };
enum { SECTOR_SAFE = 512, SECTOR_BARE = 4096 };

/* The calls themselves, past the linker's --wrap; the wrapped ones are for what is tested. */
int __real_open(const char *path, int flags, ...);
int __real_close(int fd);
ssize_t __real_write(int fd, const void *bytes, size_t n);
int __real_unlink(const char *path);
int __real_mkdir(const char *path, mode_t mode);

/* Something done to a file since its last sync: bytes written, or (NULL) cut or stretched to `at`. */
struct change {
    struct change *next;
    unsigned char *bytes;
    int64_t at;
    size_t n;
    long when;
};

struct node {
    bool is_folder;
    unsigned char *bytes; /* as synced */
    int64_t n, room;
    int64_t n_now; /* as the running program sees it */
    struct change *first, **last;
};

/* A name in a folder: which node it stood for when the folder was synced, which it stood for since then, and which now. */
struct name {
    int folder, kept, now, was[WAS_MAX], n_was;
    char text[NAME_ROOM];
};

static struct {
    bool is_on, is_kill_due;
    struct disk_plan plan;
    struct disk_report *report;
    char root[512];
    size_t n_root;
    struct node *nodes;
    struct name *names;
    int n_nodes, n_names, number, n_failing;
    long now, last_write; /* changes are counted: which came first */
    unsigned long long state;
} disk;

__attribute__((noreturn)) static void give_up(const char *what)
{
    printf("Bail out! the pretended disk: %s\n", what);
    fflush(stdout);
    _exit(70);
}

static void *must(void *p)
{
    if (p == NULL)
        give_up("memory ran out");
    return p;
}

bool disk_is_on(void)
{
    return disk.is_on;
}

int disk_errno(void)
{
    return disk.number;
}

unsigned disk_dice(unsigned sides)
{
    return (unsigned)(table_random(&disk.state) % sides);
}

/* ---- when it goes wrong ---------------------------------------------------------------------- */

bool disk_is_kill_due(void)
{
    return disk.is_kill_due;
}

void disk_kill(void)
{
    raise(SIGKILL);
    give_up("outlived SIGKILL");
}

static enum disk_says strike(enum disk_class c)
{
    switch (disk.plan.fault) {
    case DISK_CUT:
        disk.report->is_off = true;
        return DISK_LAST;
    case DISK_KILL:
        disk.is_kill_due = true;
        if (c != DISK_WRITE)
            disk_kill();
        return DISK_FAIL;
    case DISK_BUSY:
        disk.number = EBUSY;
        return DISK_FAIL;
    case DISK_FULL:
        disk.number = ENOSPC;
        disk.n_failing = disk.plan.n_more;
        return DISK_FAIL;
    case DISK_EIO:
    default:
        disk.number = EIO;
        disk.n_failing = disk.plan.n_more;
        return DISK_FAIL;
    }
}

static const char *class_name(enum disk_class c)
{
    switch (c) {
    case DISK_OPEN:
        return "open";
    case DISK_READ:
        return "read";
    case DISK_WRITE:
        return "write";
    case DISK_SYNC:
        return "sync";
    case DISK_NAME:
        return "name";
    case DISK_SIZE:
        return "size";
    case DISK_LOCK:
        return "lock";
    case DISK_SHARE:
        return "share";
    case DISK_ALL:
    default:
        return "?";
    }
}

enum disk_says disk_ask(enum disk_class c, const char *what, bool is_growing)
{
    struct disk_report *r = disk.report;
    if (!disk.is_on)
        return DISK_GO;
    if (r->is_off) {
        disk.number = EIO;
        return DISK_FAIL;
    }
    if ((disk.plan.classes & c) == 0 || (disk.plan.fault == DISK_FULL && !is_growing))
        return DISK_GO;
    r->n++;
    if (r->is_struck) {
        const bool is_failing = disk.n_failing > 0;
        disk.n_failing -= is_failing;
        return is_failing ? DISK_FAIL : DISK_GO;
    }
    if (r->n != disk.plan.at)
        return DISK_GO;
    const char *slash = what != NULL ? strrchr(what, '/') : NULL;
    snprintf(r->what, sizeof r->what, "%s %.100s", class_name(c),
             slash != NULL  ? slash + 1
             : what != NULL ? what
                            : "a file without a name");
    r->is_struck = true;
    return strike(c);
}

/* ---- names ----------------------------------------------------------------------------------- */

static int new_node(bool is_folder)
{
    if (disk.n_nodes == NODES_MAX)
        give_up("too many files");
    struct node *n = &disk.nodes[disk.n_nodes];
    *n = (struct node){.is_folder = is_folder};
    n->last = &n->first;
    return disk.n_nodes++;
}

static struct name *find_name(int folder, const char *text, size_t n)
{
    for (int i = 0; i < disk.n_names; i++)
        if (disk.names[i].folder == folder && strncmp(disk.names[i].text, text, n) == 0 &&
            disk.names[i].text[n] == '\0')
            return &disk.names[i];
    return NULL;
}

/* The name itself, made when it is new; NULL when its folder is not there. */
static struct name *name_of(const char *path, bool is_made)
{
    int folder = 0;
    if (!disk_is_below(path) || path[disk.n_root] == '\0')
        return NULL;
    path += disk.n_root + 1;
    for (;;) {
        const char *slash = strchr(path, '/');
        const size_t n = slash != NULL ? (size_t)(slash - path) : strlen(path);
        struct name *name = find_name(folder, path, n);
        if (slash == NULL && name == NULL && is_made) {
            if (disk.n_names == NAMES_MAX || n >= NAME_ROOM)
                give_up("too many names, or too long a one");
            name = &disk.names[disk.n_names++];
            *name = (struct name){.folder = folder, .kept = NOBODY, .now = NOBODY};
            memcpy(name->text, path, n);
        }
        if (slash == NULL)
            return name;
        if (name == NULL || name->now == NOBODY || !disk.nodes[name->now].is_folder)
            return NULL;
        folder = name->now;
        path = slash + 1;
    }
}

bool disk_is_below(const char *path)
{
    return disk.is_on && path != NULL && strncmp(path, disk.root, disk.n_root) == 0 &&
           (path[disk.n_root] == '/' || path[disk.n_root] == '\0');
}

int disk_find(const char *path)
{
    if (disk.is_on && path != NULL && strcmp(path, disk.root) == 0)
        return 0;
    const struct name *name = name_of(path, false);
    return name != NULL ? name->now : NOBODY;
}

static void point(struct name *name, int node)
{
    if (name == NULL)
        return;
    if (name->n_was == WAS_MAX) /* the oldest goes */
        memmove(name->was, name->was + 1, sizeof *name->was * (size_t)--name->n_was);
    name->was[name->n_was++] = name->now;
    name->now = node;
}

void disk_made(const char *path, bool is_folder)
{
    struct name *name = name_of(path, true);
    if (name != NULL)
        point(name, new_node(is_folder));
}

void disk_removed(const char *path)
{
    point(name_of(path, false), NOBODY);
}

void disk_renamed(const char *from, const char *to)
{
    struct name *target = name_of(to, true), *source = name_of(from, false);
    if (source == NULL || target == NULL || source == target)
        return;
    point(target, source->now);
    point(source, NOBODY);
}

/* ---- bytes ----------------------------------------------------------------------------------- */

int64_t disk_size(int node)
{
    return node >= 0 ? disk.nodes[node].n_now : 0;
}

static void change(int node, int64_t at, const void *bytes, size_t n)
{
    if (node < 0)
        return;
    struct change *c = must(calloc(1, sizeof *c));
    struct node *to = &disk.nodes[node];
    c->at = at;
    c->n = n;
    c->when = disk.last_write = ++disk.now;
    if (bytes != NULL) {
        c->bytes = must(malloc(n + 1));
        memcpy(c->bytes, bytes, n);
    }
    *to->last = c;
    to->last = &c->next;
    const int64_t end = at + (int64_t)n;
    to->n_now = bytes == NULL || end > to->n_now ? end : to->n_now;
}

void disk_wrote(int node, int64_t at, const void *bytes, size_t n)
{
    change(node, at, bytes, n);
}

void disk_sized(int node, int64_t size)
{
    change(node, size, NULL, 0);
}

/* Room for n bytes in what is on the disk; what was never written there holds zeros, or whatever the disk held before. */
static void stretch(struct node *f, int64_t n)
{
    if (n > f->room) {
        f->room = 2 * n + 4096;
        f->bytes = must(realloc(f->bytes, (size_t)f->room));
    }
    if (n > f->n) {
        memset(f->bytes + f->n, 0, (size_t)(n - f->n));
        f->n = n;
    }
}

static void junk(unsigned char *bytes, int64_t n)
{
    for (int64_t i = 0; i < n; i++)
        bytes[i] = (unsigned char)table_random(&disk.state);
}

static void put(struct node *f, const struct change *c, int64_t from, int64_t to)
{
    stretch(f, to);
    memcpy(f->bytes + from, c->bytes + (from - c->at), (size_t)(to - from));
}

/* The part of a write that falls into one sector, cut off in the middle. */
static void tear(struct node *f, const struct change *c, int64_t from, int64_t to, int64_t sector)
{
    if (disk.plan.is_safe) {
        const int64_t cut = from + (int64_t)disk_dice((unsigned)(to - from) + 1);
        put(f, c, from, cut);
        if (disk_dice(2) == 0) {
            stretch(f, to);
            junk(f->bytes + cut, to - cut);
        }
        return;
    }
    stretch(f, to);
    int64_t end = sector + SECTOR_BARE;
    end = end < f->n ? end : f->n;
    junk(f->bytes + sector, end - sector);
}

/* Of 100 sectors so many are kept, so many torn. */
struct fate {
    unsigned kept, torn;
    long last; /* changes after this one are lost */
};

static void apply(struct node *f, const struct change *c, const struct fate *fate)
{
    const int64_t size = disk.plan.is_safe ? SECTOR_SAFE : SECTOR_BARE;
    if (c->when > fate->last)
        return;
    if (c->bytes == NULL) {
        if (disk_dice(100) < fate->kept) {
            stretch(f, c->at);
            f->n = c->at;
        }
        return;
    }
    const int64_t end = c->at + (int64_t)c->n;
    for (int64_t sector = c->at / size * size; sector < end; sector += size) {
        const int64_t from = sector > c->at ? sector : c->at;
        const int64_t to = sector + size < end ? sector + size : end;
        const unsigned dice = disk_dice(100);
        if (dice < fate->kept)
            put(f, c, from, to);
        else if (dice < fate->kept + fate->torn)
            tear(f, c, from, to, sector);
    }
}

static void apply_all(struct node *f, const struct fate *fate)
{
    for (struct change *c = f->first, *next; c != NULL; c = next) {
        next = c->next;
        apply(f, c, fate);
        free(c->bytes);
        free(c);
    }
    f->first = NULL;
    f->last = &f->first;
}

static void sync_names(int folder)
{
    for (int i = 0; i < disk.n_names; i++)
        if (disk.names[i].folder == folder) {
            disk.names[i].kept = disk.names[i].now;
            disk.names[i].n_was = 0;
        }
}

void disk_synced(int node)
{
    const struct fate whole = {.kept = 100, .last = disk.now};
    if (node < 0)
        return;
    if (disk.nodes[node].is_folder)
        sync_names(node);
    else
        apply_all(&disk.nodes[node], &whole);
}

void disk_sync_failed(int node)
{
    const struct fate any = {.kept = disk_dice(101), .last = disk.now};
    if (node >= 0 && !disk.nodes[node].is_folder)
        apply_all(&disk.nodes[node], &any);
}

void disk_synced_folder_of(const char *path)
{
    const struct name *name = name_of(path, false);
    if (name != NULL)
        sync_names(name->folder);
}

/* ---- loading and leaving --------------------------------------------------------------------- */

static void load_file(const char *path, struct node *f)
{
    struct stat st;
    const int fd = __real_open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &st) != 0)
        give_up(path);
    stretch(f, st.st_size);
    if (read(fd, f->bytes, (size_t)st.st_size) != (ssize_t)st.st_size)
        give_up(path);
    f->n_now = f->n;
    __real_close(fd);
}

static bool is_shared_memory(const char *name)
{
    const size_t n = strlen(name);
    return n > 4 && strcmp(name + n - 4, "-shm") == 0;
}

/* Calls see for each entry of a folder. */
static void each(const char *path, void (*see)(const char *below, const char *name, bool is_folder))
{
    char below[1024];
    DIR *dir = opendir(path);
    if (dir == NULL)
        give_up(path);
    for (const struct dirent *e; (e = readdir(dir)) != NULL;) {
        struct stat st;
        if (strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0)
            continue;
        snprintf(below, sizeof below, "%s/%s", path, e->d_name);
        if (lstat(below, &st) == 0)
            see(below, e->d_name, S_ISDIR(st.st_mode));
    }
    closedir(dir);
}

static void load(const char *path, const char *name, bool is_folder)
{
    if (is_shared_memory(name))
        return;
    disk_made(path, is_folder);
    if (is_folder)
        each(path, load);
    else
        load_file(path, &disk.nodes[disk_find(path)]);
}

void disk_start(const char *root, const struct disk_plan *plan, struct disk_report *report)
{
    disk.n_root = (size_t)snprintf(disk.root, sizeof disk.root, "%s", root);
    disk.plan = *plan;
    disk.state = plan->seed;
    disk.report = report;
    *report = (struct disk_report){0};
    disk.nodes = must(calloc(NODES_MAX, sizeof *disk.nodes));
    disk.names = must(calloc(NAMES_MAX, sizeof *disk.names));
    disk.is_on = true;
    (void)new_node(true);
    each(root, load);
    for (int i = 0; i < disk.n_nodes; i++)
        if (disk.nodes[i].is_folder)
            sync_names(i);
    disk_use_vfs(plan->is_safe);
}

static void wipe(const char *path, const char *name, bool is_folder)
{
    (void)name;
    if (is_folder)
        each(path, wipe);
    if ((is_folder ? rmdir(path) : __real_unlink(path)) != 0)
        give_up(path);
}

static void write_file(const char *path, const unsigned char *bytes, int64_t n)
{
    const int fd = __real_open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd < 0 || (n > 0 && __real_write(fd, bytes, (size_t)n) != (ssize_t)n))
        give_up(path);
    __real_close(fd);
}

/* Which node a name stands for after the cut; `any`: the present one, or any of those it stood for since its folder was synced. */
static int outcome(const struct name *name, unsigned kept)
{
    if (name->n_was == 0 || disk_dice(100) < kept)
        return name->now;
    const unsigned i = disk_dice((unsigned)name->n_was + 1);
    return kept == 0 || i == (unsigned)name->n_was ? name->kept : name->was[i];
}

static void leave_folder(int folder, const char *path, const struct fate *fate)
{
    char below[1024];
    for (int i = 0; i < disk.n_names; i++) {
        if (disk.names[i].folder != folder)
            continue;
        const int node = outcome(&disk.names[i], fate->kept);
        if (node == NOBODY)
            continue;
        struct node *f = &disk.nodes[node];
        snprintf(below, sizeof below, "%s/%s", path, disk.names[i].text);
        if (f->is_folder) {
            if (__real_mkdir(below, 0777) != 0)
                give_up(below);
            leave_folder(node, below, fate);
        } else {
            apply_all(f, fate); /* once: a second name finds it done */
            write_file(below, f->bytes, f->n);
        }
    }
}

/* A file of shared memory that is left over may hold anything. */
static void leave_junk(const char *path, const char *name, bool is_folder)
{
    unsigned char bytes[4096];
    char shared[1100];
    const size_t n = strlen(name);
    if (is_folder)
        each(path, leave_junk);
    if (is_folder || n < 3 || strcmp(name + n - 3, ".db") != 0 || disk_dice(3) > 0)
        return;
    snprintf(shared, sizeof shared, "%s-shm", path);
    junk(bytes, sizeof bytes);
    write_file(shared, bytes, sizeof bytes);
}

void disk_cut(void)
{
    static const unsigned shares[] = {0, 10, 50, 90, 100};
    const unsigned how = disk_dice(8);
    struct fate fate = {.kept = shares[disk_dice(5)], .last = disk.now};
    if (how == 0) { /* in order, up to a moment */
        fate.kept = 100;
        fate.last = (long)disk_dice((unsigned)disk.now + 1);
    } else if (fate.kept < 100)
        fate.torn = disk_dice(2) == 0 ? 0 : (100 - fate.kept) / 3;
    disk.report->is_off = true;
    each(disk.root, wipe);
    leave_folder(0, disk.root, &fate);
    each(disk.root, leave_junk);
}

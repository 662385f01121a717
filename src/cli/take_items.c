/* take_items: owns which bags a call of take means, and in which order. */
#include "cli/take_job.h"

#include "base/csv.h"
#include "proof/bag_path.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

enum { ITEMS_MAX = 10000000, ARRIVED_DIGITS = 13 };

static enum err say_errno(struct fault *f, const char *path, int number)
{
    const bool is_ours = number == EIO || number == EMFILE || number == ENFILE || number == ENOMEM;
    snprintf(f->file, sizeof f->file, "%.*s", FAULT_FILE_MAX - 1, path);
    if (number == ENOENT || number == ENOTDIR)
        return fault_set(f, ERR_OPEN, "no such file or folder");
    return fault_set(f, is_ours ? ERR_IO : ERR_OPEN, "cannot be opened: %s", strerror(number));
}

/* The path folder/name, or name alone when folder is NULL. */
static enum err add(struct take_items *items, const char *folder, const char *name, int64_t at_ms,
                    struct fault *f)
{
    struct text path = {0};
    if (items->n == items->room) {
        const size_t room = items->room > 0 ? 2 * items->room : 64;
        struct take_item *more =
            room <= ITEMS_MAX ? realloc(items->items, room * sizeof *more) : NULL;
        if (more == NULL)
            return fault_no_memory(f);
        items->items = more;
        items->room = room;
    }
    text_printf(&path, "%s%s%s", folder != NULL ? folder : "", folder != NULL ? "/" : "", name);
    if (path.is_broken) {
        text_done(&path);
        return fault_no_memory(f);
    }
    items->items[items->n++] = (struct take_item){path.data, at_ms};
    return ERR_OK;
}

/* ---- folders ----------------------------------------------------------------------------------- */

static int by_path(const void *a, const void *b)
{
    return strcmp(((const struct take_item *)a)->path, ((const struct take_item *)b)->path);
}

static bool is_zip(const char *name)
{
    const size_t n = strlen(name);
    return n > 4 && strcasecmp(name + n - 4, ".zip") == 0;
}

/* Every zip of a folder; none when it is a bag. */
static enum err add_zips(struct take_items *items, const char *path, int64_t at_ms, struct fault *f)
{
    struct stat st;
    const size_t before = items->n;
    size_t n = strlen(path);
    while (n > 1 && path[n - 1] == '/')
        n--;
    char *folder = strndup(path, n);
    DIR *dir = folder != NULL ? opendir(folder) : NULL;
    enum err err = folder == NULL ? fault_no_memory(f)
                   : dir == NULL  ? say_errno(f, path, errno)
                                  : ERR_OK;
    if (dir != NULL && fstatat(dirfd(dir), "bagit.txt", &st, 0) != 0)
        while (err == ERR_OK) {
            errno = 0;
            const struct dirent *entry = readdir(dir);
            if (entry == NULL) {
                if (errno != 0)
                    err = say_errno(f, path, errno);
                break;
            }
            if (is_zip(entry->d_name))
                err = add(items, folder, entry->d_name, at_ms, f);
        }
    if (items->n > before)
        qsort(items->items + before, items->n - before, sizeof *items->items, by_path);
    if (dir != NULL)
        closedir(dir);
    free(folder);
    return err;
}

enum err take_items_add(struct take_items *items, const char *path, int64_t at_ms,
                        struct fault *reterr)
{
    struct stat st;
    const size_t before = items->n;
    if (strcmp(path, "-") == 0)
        return add(items, NULL, path, at_ms, reterr);
    if (stat(path, &st) != 0)
        return say_errno(reterr, path, path[0] != '\0' ? errno : ENOENT);
    if (access(path, R_OK) != 0)
        return say_errno(reterr, path, errno);
    if (!S_ISREG(st.st_mode) && !S_ISDIR(st.st_mode)) {
        snprintf(reterr->file, sizeof reterr->file, "%.*s", FAULT_FILE_MAX - 1, path);
        return fault_set(reterr, ERR_OPEN,
                         "is a device, pipe or socket; expected a folder or a zip");
    }
    const enum err err = S_ISDIR(st.st_mode) ? add_zips(items, path, at_ms, reterr) : ERR_OK;
    if (err != ERR_OK || items->n > before)
        return err;
    return add(items, NULL, path, at_ms, reterr);
}

/* ---- arrivals ---------------------------------------------------------------------------------- */

static bool read_ms(struct csv_field field, int64_t *ret)
{
    int64_t value = 0;
    if (field.n == 0 || field.n > ARRIVED_DIGITS)
        return false;
    for (size_t i = 0; i < field.n; i++) {
        if (field.at[i] < '0' || field.at[i] > '9')
            return false;
        value = 10 * value + (field.at[i] - '0');
    }
    *ret = value;
    return true;
}

static enum err add_row(struct take_items *items, const struct csv *csv, const char *folder,
                        const int column[2], struct fault *f)
{
    const struct csv_field bag = csv_at(csv, (size_t)column[0]),
                           arrived = csv_at(csv, (size_t)column[1]);
    int64_t at_ms = 0;
    struct text path = {0};
    const char *why = bag_path_fault(bag.at, bag.n);
    if (why != NULL)
        return csv_fault(csv, (size_t)column[0], f, ERR_DOMAIN,
                         "'%.80s' %s; expected a path beside this file", bag.at, why);
    if (!read_ms(arrived, &at_ms))
        return csv_fault(csv, (size_t)column[1], f, ERR_SYNTAX,
                         "found '%.40s'; expected milliseconds since 1970 UTC", arrived.at);
    struct stat st;
    text_printf(&path, "%s%s", folder, bag.at);
    if (!path.is_broken && stat(path.data, &st) != 0 &&
        errno == ENOENT) { /* a made-up campaign keeps them in bags/ */
        text_clear(&path);
        text_printf(&path, "%sbags/%s", folder, bag.at);
    }
    const enum err err =
        path.is_broken ? fault_no_memory(f) : take_items_add(items, path.data, at_ms, f);
    text_done(&path);
    return err;
}

static enum err add_rows(struct take_items *items, struct csv *csv, const char *folder,
                         struct fault *f)
{
    int column[2] = {0, 0};
    bool has_row = true;
    enum err err = csv_need(csv, "bag", &column[0], f);
    if (err == ERR_OK)
        err = csv_need(csv, "arrived_ms", &column[1], f);
    while (err == ERR_OK) {
        err = csv_next(csv, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        err = add_row(items, csv, folder, column, f);
    }
    return err;
}

enum err take_items_arrivals(struct take_items *items, const char *file, struct fault *reterr)
{
    struct csv *csv = NULL;
    const char *slash = strrchr(file, '/');
    const size_t before = items->n;
    char *folder = strndup(file, slash != NULL ? (size_t)(slash - file) + 1 : 0);
    enum err err = folder == NULL ? fault_no_memory(reterr) : csv_open_file(file, &csv, reterr);
    if (err == ERR_OK)
        err = add_rows(items, csv, folder, reterr);
    if (err == ERR_OK && items->n == before) {
        snprintf(reterr->file, sizeof reterr->file, "%.*s", FAULT_FILE_MAX - 1, file);
        err = fault_set(reterr, ERR_EMPTY, "lists no bag");
    }
    csv_close(csv);
    free(folder);
    return err;
}

void take_items_done(struct take_items *items)
{
    for (size_t i = 0; i < items->n; i++)
        free(items->items[i].path);
    free(items->items);
    *items = (struct take_items){0};
}

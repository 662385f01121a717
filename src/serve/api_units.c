/* api_units: owns the search for units over HTTP, and giving out what the store holds. What they tell is desk/units.h's and desk/export.h's
 * business. */
#include "serve/api.h"

#include "desk/export.h"
#include "desk/units.h"
#include "serve/coming.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { USUAL = 20, TAIL_ROOM = 40, FILE_ROOM = 40 };

/* ---- searching ---------------------------------------------------------------------------------- */

/* A whole number of 1..UNITS_MAX; 0 after a problem was set. */
static int limit_of(struct http_call *c)
{
    const char *text = http_query(c, "limit");
    char *end = NULL;
    if (text == NULL)
        return USUAL;
    errno = 0;
    const long n = strtol(text, &end, 10);
    if (errno == 0 && text[0] >= '0' && text[0] <= '9' && *end == '\0' && n >= 1 && n <= UNITS_MAX)
        return (int)n;
    http_problem(c, 400, "number", "\"limit\" must be a whole number from 1 to %d", (int)UNITS_MAX);
    return 0;
}

static const char *given(struct http_call *c, const char *name)
{
    const char *text = http_query(c, name);
    return text != NULL && text[0] != '\0' ? text : NULL;
}

/* As people type it: small letters and blanks between the characters. */
static void clean_tail(const char *text, char ret[TAIL_ROOM])
{
    size_t n = 0;
    for (; *text != '\0' && n + 1 < TAIL_ROOM; text++)
        if (*text != ' ' && *text != '-')
            ret[n++] = (char)toupper((unsigned char)*text);
    ret[n] = '\0';
}

void api_units(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    char tail[TAIL_ROOM];
    const bool is_own = c->who.role == SIGNIN_TECHNICIAN;
    struct units_order order = {.tail = given(c, "vin"),
                                .label = given(c, "label"),
                                .shop = is_own ? c->who.shop : given(c, "shop"),
                                .bulletin = given(c, "bulletin"),
                                .after = given(c, "after"),
                                .n_max = limit_of(c),
                                .is_shop_alone = is_own};
    if (order.tail != NULL) {
        clean_tail(order.tail, tail);
        order.tail = tail;
    }
    if (c->status != 0)
        return;
    http_json(c, &w);
    const enum err err = units_find(c->door->store, c->door->by, &order, &w, &f);
    http_json_end(&w);
    if (err == ERR_EMPTY)
        http_problem(c, 400, "nothing-asked", "%s", f.message);
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* ---- giving out --------------------------------------------------------------------------------- */

static bool put_bytes(void *me, const char *bytes, size_t n)
{
    const int fd = *(int *)me;
    while (n > 0) {
        const ssize_t k = write(fd, bytes, n);
        if (k < 0 && errno == EINTR)
            continue;
        if (k < 0)
            return false;
        bytes += k;
        n -= (size_t)k;
    }
    return true;
}

/* "units.csv" as what and form; -1: nothing of the kind. */
static int what_of(const char *file, bool *ret_json)
{
    char name[FILE_ROOM];
    const char *dot = strrchr(file, '.');
    if (dot == NULL || (size_t)(dot - file) >= sizeof name)
        return -1;
    *ret_json = strcmp(dot, ".json") == 0;
    if (!*ret_json && strcmp(dot, ".csv") != 0)
        return -1;
    memcpy(name, file, (size_t)(dot - file));
    name[dot - file] = '\0';
    return export_find(name);
}

void api_export(struct http_call *c)
{
    char path[COMING_ROOM];
    bool is_json = false;
    int64_t n_rows = 0;
    struct fault f = {0};
    const int what = what_of(c->args[0], &is_json);
    if (what < 0) {
        http_problem(c, 404, "export", "there is no such list; units.csv, claims.json ... are");
        return;
    }
    /* A file that has no name any more: it goes with the answer. */
    int fd = coming_open(c->door->path, path);
    if (fd >= 0)
        unlink(path);
    enum err err = fd < 0
                       ? fault_set(&f, ERR_IO, "no room")
                       : export_write(c->door->store, what, is_json, put_bytes, &fd, &n_rows, &f);
    if (err == ERR_OK && lseek(fd, 0, SEEK_SET) != 0)
        err = fault_set(&f, ERR_IO, "no room");
    if (err != ERR_OK) {
        if (fd >= 0)
            close(fd);
        http_problem_fault(c, &f);
        return;
    }
    c->answer_fd = fd;
    c->type = is_json ? "application/json" : "text/csv; charset=utf-8; header=present";
    http_add_header(c, "Content-Disposition", "attachment; filename=\"%s.%s\"", export_names[what],
                    is_json ? "json" : "csv");
    http_add_header(c, "X-Mendwright-Rows", "%lld", (long long)n_rows);
}

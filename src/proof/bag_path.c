/* bag_path: owns what a path in a bag may look like, its percent-encoding and its folding. */
#include "proof/bag_path.h"

#include <stdlib.h>
#include <string.h>
#include <utf8proc.h>

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* One part between separators. */
static const char *part_fault(const char *part, size_t n)
{
    if (n == 0)
        return "has an empty part";
    if (n == 1 && part[0] == '.')
        return "has a part '.'";
    if (n == 2 && part[0] == '.' && part[1] == '.')
        return "leaves the bag by '..'";
    return NULL;
}

/* A backslash separates on other systems, so "..\\" must not hide in a name; it may be in one. */
static const char *backslash_fault(const char *part, size_t n)
{
    for (size_t at = 0, start = 0; at <= n; at++) {
        if (at < n && part[at] != '\\')
            continue;
        if (at - start == 2 && part[start] == '.' && part[start + 1] == '.')
            return "leaves the bag by '..'";
        start = at + 1;
    }
    return NULL;
}

const char *bag_path_fault(const char *path, size_t n)
{
    size_t depth = 0;
    if (n == 0)
        return "is empty";
    if (n > BAG_PATH_MAX)
        return "is longer than 4096 bytes";
    if (!text_is_utf8(path, n, NULL))
        return "is not valid UTF-8";
    if (path[0] == '/' || path[0] == '\\')
        return "is absolute";
    if (path[0] == '~')
        return "begins with '~', which may stand for a home folder";
    if (n >= 2 && is_letter(path[0]) && path[1] == ':')
        return "begins with a drive letter";
    for (size_t at = 0, start = 0; at <= n; at++) {
        if (at < n && path[at] != '/')
            continue;
        const char *fault = part_fault(path + start, at - start);
        if (fault == NULL)
            fault = backslash_fault(path + start, at - start);
        if (fault != NULL)
            return fault;
        if (++depth > BAG_PATH_DEPTH_MAX)
            return "lies more than 64 folders deep";
        start = at + 1;
    }
    return NULL;
}

bool bag_path_is_payload(const char *path)
{
    return strncmp(path, "data/", 5) == 0;
}

void bag_path_encode(const char *path, struct text *out)
{
    for (; *path != '\0'; path++) {
        if (*path == '%' || *path == '\r' || *path == '\n')
            text_printf(out, "%%%02X", (unsigned)*path);
        else
            text_putc(out, *path);
    }
}

/* The character that s[0..n) stands for when it begins with one of the three encodings; else 0. */
static char encoded(const char *s, size_t n)
{
    if (n < 3 || s[0] != '%')
        return 0;
    if (s[1] == '2' && s[2] == '5')
        return '%';
    if (s[1] != '0')
        return 0;
    if (s[2] == 'A' || s[2] == 'a')
        return '\n';
    return s[2] == 'D' || s[2] == 'd' ? '\r' : 0;
}

size_t bag_path_decode(char *s, size_t n, bool *ret_is_loose)
{
    size_t to = 0;
    *ret_is_loose = false;
    for (size_t at = 0; at < n;) {
        const char c = encoded(s + at, n - at);
        if (c == 0 && s[at] == '%')
            *ret_is_loose = true;
        s[to++] = c != 0 ? c : s[at];
        at += c != 0 ? 3 : 1;
    }
    return to;
}

static bool is_ascii(const char *s)
{
    for (; *s != '\0'; s++)
        if ((unsigned char)*s >= 0x80)
            return false;
    return true;
}

/* Most paths: no table is needed. */
static char *fold_ascii(const char *path, bool is_case_folded)
{
    const size_t n = strlen(path);
    char *copy = malloc(n + 1);
    if (copy == NULL)
        return NULL;
    for (size_t i = 0; i <= n; i++)
        copy[i] = is_case_folded && path[i] >= 'A' && path[i] <= 'Z' ? (char)(path[i] + ('a' - 'A'))
                                                                     : path[i];
    return copy;
}

enum err bag_path_fold(const char *path, bool is_case_folded, char **ret)
{
    if (is_ascii(path)) {
        char *copy = fold_ascii(path, is_case_folded);
        if (copy == NULL)
            return ERR_MEMORY;
        *ret = copy;
        return ERR_OK;
    }
    unsigned flags = UTF8PROC_NULLTERM | UTF8PROC_STABLE | UTF8PROC_COMPOSE;
    if (is_case_folded)
        flags |= UTF8PROC_CASEFOLD;
    utf8proc_uint8_t *folded = NULL;
    const utf8proc_ssize_t n =
        utf8proc_map((const utf8proc_uint8_t *)path, 0, &folded, (utf8proc_option_t)flags);
    if (n < 0)
        return n == UTF8PROC_ERROR_NOMEM ? ERR_MEMORY : ERR_ENCODING;
    *ret = (char *)folded;
    return ERR_OK;
}

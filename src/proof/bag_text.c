/* bag_text: owns the grammar of bagit.txt, manifests, bag-info.txt and fetch.txt. */
#include "proof/bag_text.h"

#include <errno.h>
#include <iconv.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const char byte_order_mark[] = "\xEF\xBB\xBF";

bool bag_lines_next(struct bag_lines *l, const char **ret, size_t *ret_n)
{
    if (l->at >= l->size)
        return false;
    const size_t start = l->at;
    size_t end = start;
    while (end < l->size && l->data[end] != '\n' && l->data[end] != '\r')
        end++;
    l->at = end < l->size ? end + 1 : end;
    if (l->at < l->size && l->data[end] == '\r' && l->data[l->at] == '\n')
        l->at++;
    l->line++;
    *ret = l->data + start;
    *ret_n = end - start;
    return true;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static size_t skip_blanks(const char *s, size_t n, size_t at)
{
    while (at < n && is_blank(s[at]))
        at++;
    return at;
}

/* ---- bagit.txt --------------------------------------------------------------------------------*/

/* The rest of a line that begins with the label; NULL when it does not. */
static const char *after(const char *line, size_t n, const char *label, size_t *ret_n)
{
    const size_t size = strlen(label);
    if (n < size || memcmp(line, label, size) != 0)
        return NULL;
    *ret_n = n - size;
    return line + size;
}

static enum err read_version(const char *line, size_t n, struct bag_declaration *ret,
                             struct fault *f)
{
    static const char *const known[] = {"0.97", "1.0"};
    size_t size = 0;
    const char *value = after(line, n, "BagIt-Version: ", &size);
    f->line = 1;
    if (value == NULL)
        return fault_set(f, ERR_SYNTAX, "expected 'BagIt-Version: 1.0', found '%.*s'",
                         (int)(n < 60 ? n : 60), line);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (size == strlen(known[i]) && memcmp(value, known[i], size) == 0) {
            memcpy(ret->version, value, size);
            ret->version[size] = '\0';
            ret->is_old = i == 0;
            return ERR_OK;
        }
    return fault_set(f, ERR_UNKNOWN, "version '%.*s' is not known; expected 1.0 or 0.97",
                     (int)(size < 20 ? size : 20), value);
}

static enum err read_encoding(const char *line, size_t n, struct bag_declaration *ret,
                              struct fault *f)
{
    static const char *const known[] = {"UTF-8",  "US-ASCII", "ISO-8859-1",
                                        "UTF-16", "UTF-16BE", "UTF-16LE"};
    size_t size = 0;
    const char *value = after(line, n, "Tag-File-Character-Encoding: ", &size);
    f->line = 2;
    if (value == NULL)
        return fault_set(f, ERR_SYNTAX,
                         "expected 'Tag-File-Character-Encoding: UTF-8', found '%.*s'",
                         (int)(n < 60 ? n : 60), line);
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (size == strlen(known[i]) && strncasecmp(value, known[i], size) == 0) {
            snprintf(ret->encoding, sizeof ret->encoding, "%s", known[i]);
            return ERR_OK;
        }
    return fault_set(f, ERR_UNKNOWN, "encoding '%.*s' is not known; expected UTF-8",
                     (int)(size < 20 ? size : 20), value);
}

enum err bag_declaration_read(const char *text, size_t n, struct bag_declaration *ret,
                              struct fault *reterr)
{
    struct fault f = {0};
    struct bag_declaration d = {0};
    struct bag_lines l = {.data = text, .size = n};
    const char *line[3] = {"", "", ""};
    size_t size[3] = {0};
    int n_lines = 0;
    size_t at = 0;
    enum err err = ERR_OK;
    while (n_lines < 3 && bag_lines_next(&l, &line[n_lines], &size[n_lines]))
        n_lines++;
    if (n >= 3 && memcmp(text, byte_order_mark, 3) == 0)
        err = fault_set(&f, ERR_SYNTAX, "begins with a byte order mark; expected none");
    else if (!text_is_utf8(text, n, &at))
        err = fault_set(&f, ERR_ENCODING, "byte %zu is not valid UTF-8", at + 1);
    else if (n_lines != 2)
        err = fault_set(&f, ERR_SYNTAX, "has %s lines; expected exactly two",
                        n_lines == 0   ? "no"
                        : n_lines == 1 ? "one"
                                       : "three or more");
    if (err == ERR_OK)
        err = read_version(line[0], size[0], &d, &f);
    if (err == ERR_OK)
        err = read_encoding(line[1], size[1], &d, &f);
    if (err == ERR_OK)
        *ret = d;
    else
        *reterr = f;
    return err;
}

/* ---- encodings --------------------------------------------------------------------------------*/

static enum err convert(iconv_t to, const char *bytes, size_t n, struct text *ret, struct fault *f)
{
    char piece[4096];
    char *in; /* iconv does not write there; its type is older than const */
    memcpy(&in, &bytes, sizeof in);
    size_t n_in = n;
    for (;;) {
        char *out = piece;
        size_t n_out = sizeof piece;
        const size_t code = iconv(to, &in, &n_in, &out, &n_out);
        const int number = errno;
        text_add(ret, piece, sizeof piece - n_out);
        if (code != (size_t)-1)
            return ERR_OK;
        if (number != E2BIG)
            return fault_set(f, ERR_ENCODING, "byte %zu does not fit the declared encoding",
                             n - n_in + 1);
    }
}

static enum err check_utf8(const char *bytes, size_t n, struct text *ret, bool *has_mark,
                           struct fault *f)
{
    size_t at = 0;
    *has_mark = n >= 3 && memcmp(bytes, byte_order_mark, 3) == 0;
    if (!text_is_utf8(bytes, n, &at))
        return fault_set(f, ERR_ENCODING, "byte %zu is not valid UTF-8", at + 1);
    if (*has_mark)
        text_add(ret, bytes + 3, n - 3);
    else
        text_add(ret, bytes, n);
    return ERR_OK;
}

enum err bag_text_decode(const char *encoding, const char *bytes, size_t n, struct text *ret,
                         bool *ret_has_mark, struct fault *reterr)
{
    struct fault f = {0};
    struct text t = {0};
    bool has_mark = false;
    enum err err = ERR_OK;
    if (strcmp(encoding, "UTF-8") == 0) {
        err = check_utf8(bytes, n, &t, &has_mark, &f);
    } else {
        const iconv_t to = iconv_open("UTF-8", encoding);
        /* NOLINTNEXTLINE(performance-no-int-to-ptr): POSIX gives this value */
        if (to == (iconv_t)-1) {
            err = fault_set(&f, ERR_ENCODING, "this machine cannot read %s", encoding);
        } else {
            err = convert(to, bytes, n, &t, &f);
            iconv_close(to);
        }
    }
    if (err == ERR_OK && !text_is_utf8(t.data ? t.data : "", t.size, NULL))
        err = fault_set(&f, ERR_ENCODING, "holds a NUL character");
    if (err == ERR_OK)
        text_add(ret, t.data ? t.data : "", t.size);
    if (t.is_broken || ret->is_broken)
        err = fault_no_memory(&f);
    text_done(&t);
    if (err == ERR_OK)
        *ret_has_mark = has_mark;
    else
        *reterr = f;
    return err;
}

/* ---- manifests --------------------------------------------------------------------------------*/

enum err bag_manifest_line(const char *line, size_t n, enum digest_kind kind,
                           struct bag_manifest_line *ret, struct fault *reterr)
{
    const size_t size = digest_size(kind);
    struct bag_manifest_line m;
    size_t digits = 0;
    while (digits < n && !is_blank(line[digits]))
        digits++;
    const size_t at = skip_blanks(line, n, digits);
    if (digits != 2 * size || !digest_unhex(line, size, m.sum))
        return fault_set(reterr, ERR_SYNTAX,
                         "expected a sum of %zu hexadecimal digits at its beginning, found '%.*s'",
                         2 * size, (int)(digits < 40 ? digits : 40), line);
    if (at == n)
        return fault_set(reterr, ERR_SYNTAX, "expected a path after the sum, found nothing");
    m.path = line + at;
    m.path_n = n - at;
    *ret = m;
    return ERR_OK;
}

bool bag_manifest_name(const char *name, bool is_tag, const char **ret_alg, size_t *ret_n)
{
    const char *prefix = is_tag ? "tagmanifest-" : "manifest-";
    const size_t n = strlen(name), head = strlen(prefix), tail = strlen(".txt");
    if (n <= head + tail || memcmp(name, prefix, head) != 0 ||
        strcmp(name + n - tail, ".txt") != 0 || strchr(name, '/') != NULL)
        return false;
    *ret_alg = name + head;
    *ret_n = n - head - tail;
    return true;
}

/* ---- fetch.txt --------------------------------------------------------------------------------*/

static bool read_number(const char *s, size_t n, uint64_t *ret)
{
    uint64_t value = 0;
    if (n == 0 || n > 18) /* 10^18 fits, whatever the digits */
        return false;
    for (size_t i = 0; i < n; i++) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        value = value * 10 + (uint64_t)(s[i] - '0');
    }
    *ret = value;
    return true;
}

enum err bag_fetch_line(const char *line, size_t n, struct bag_fetch_line *ret,
                        struct fault *reterr)
{
    size_t url_n = 0;
    while (url_n < n && !is_blank(line[url_n]))
        url_n++;
    const size_t size_at = skip_blanks(line, n, url_n);
    size_t size_end = size_at;
    while (size_end < n && !is_blank(line[size_end]))
        size_end++;
    const size_t path_at = skip_blanks(line, n, size_end);
    const char *colon = memchr(line, ':', url_n);
    uint64_t bytes = 0;
    if (colon == NULL || colon == line)
        return fault_set(reterr, ERR_SYNTAX, "expected a URL, found '%.*s'",
                         (int)(url_n < 60 ? url_n : 60), line);
    const bool is_said = !(size_end - size_at == 1 && line[size_at] == '-');
    if (is_said && !read_number(line + size_at, size_end - size_at, &bytes))
        return fault_set(reterr, ERR_SYNTAX,
                         "expected a size in bytes or '-' after the URL, found '%.*s'",
                         (int)(size_end - size_at < 40 ? size_end - size_at : 40), line + size_at);
    if (path_at == n)
        return fault_set(reterr, ERR_SYNTAX, "expected a path after the size, found nothing");
    *ret = (struct bag_fetch_line){line + path_at, n - path_at, is_said ? (int64_t)bytes : -1};
    return ERR_OK;
}

/* ---- bag-info.txt -----------------------------------------------------------------------------*/

struct element {
    const char *label, *value;
    size_t label_n, value_n;
    bool is_loose;
};

static size_t trim_end(const char *s, size_t n)
{
    while (n > 0 && is_blank(s[n - 1]))
        n--;
    return n;
}

static bool read_element(const char *line, size_t n, struct element *ret)
{
    const char *colon = memchr(line, ':', n);
    if (colon == NULL)
        return false;
    const size_t label_n = (size_t)(colon - line);
    const size_t trimmed = trim_end(line, label_n);
    const size_t value_at = skip_blanks(line, n, label_n + 1);
    *ret = (struct element){.label = line,
                            .label_n = trimmed,
                            .value = line + value_at,
                            .value_n = trim_end(line + value_at, n - value_at),
                            .is_loose = trimmed != label_n ||
                                        (label_n + 1 < n && !is_blank(line[label_n + 1]))};
    return trimmed > 0 && trimmed <= BAG_INFO_LABEL_MAX;
}

static bool is_label(const struct element *e, const char *label)
{
    return e->label_n == strlen(label) && strncasecmp(e->label, label, e->label_n) == 0;
}

static enum err read_oxum(const struct element *e, struct bag_info *info, struct fault *f)
{
    const char *dot = memchr(e->value, '.', e->value_n);
    if (info->has_oxum)
        return fault_set(f, ERR_DUPLICATE, "Payload-Oxum stands twice");
    if (dot == NULL || !read_number(e->value, (size_t)(dot - e->value), &info->oxum_bytes) ||
        !read_number(dot + 1, e->value_n - (size_t)(dot + 1 - e->value), &info->oxum_files))
        return fault_set(f, ERR_SYNTAX, "Payload-Oxum: expected BYTES.FILES, found '%.*s'",
                         (int)(e->value_n < 40 ? e->value_n : 40), e->value);
    info->has_oxum = true;
    return ERR_OK;
}

enum err bag_info_read(const char *text, size_t n, struct bag_info *ret, struct fault *reterr)
{
    struct bag_info info = {0};
    struct fault f = {0};
    struct bag_lines l = {.data = text, .size = n};
    const char *line = NULL;
    size_t size = 0;
    enum err err = ERR_OK;
    while (err == ERR_OK && bag_lines_next(&l, &line, &size)) {
        struct element e;
        if (skip_blanks(line, size, 0) == size)
            continue;
        if (is_blank(line[0])) { /* goes on with the element above */
            if (info.n_elements == 0)
                err = fault_set(&f, ERR_SYNTAX,
                                "begins with a blank, but there is nothing to go on with");
            continue;
        }
        if (!read_element(line, size, &e)) {
            err = fault_set(&f, ERR_SYNTAX, "expected 'Label: value', found '%.*s'",
                            (int)(size < 60 ? size : 60), line);
            break;
        }
        info.n_elements++;
        info.n_loose += e.is_loose;
        if (is_label(&e, "Payload-Oxum"))
            err = read_oxum(&e, &info, &f);
    }
    f.line = l.line;
    if (err == ERR_OK)
        *ret = info;
    else
        *reterr = f;
    return err;
}

const char *bag_info_value(const char *text, size_t n, const char *label, size_t *ret_n)
{
    struct bag_lines l = {.data = text, .size = n};
    const char *line = NULL;
    size_t size = 0;
    while (bag_lines_next(&l, &line, &size)) {
        struct element e;
        if (size == 0 || is_blank(line[0]) || !read_element(line, size, &e) || !is_label(&e, label))
            continue;
        *ret_n = e.value_n;
        return e.value;
    }
    return NULL;
}

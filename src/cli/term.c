/* term: owns how answers look on a terminal: verdicts, wrapped text, rules, tables. The strip is
 * strip.c. */
#include "cli/cli.h"

#include "core/quantity.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { TABLE_COLUMNS_MAX = 12, TABLE_GAP = 2, TABLE_LAST_MIN = 16 };

bool cli_is_utf8(void)
{
    static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const char *value = getenv(names[i]);
        if (value == NULL || value[0] == '\0')
            continue;
        const char *set = strchr(value, '.');
        return set != NULL &&
               (strncasecmp(set, ".utf-8", 6) == 0 || strncasecmp(set, ".utf8", 5) == 0);
    }
    return false;
}

/* Bold, dim, burnt orange, deep blue-green; the last two from the 256 colours, legible on dark and
 * on light. */
static const char *tone_start(enum cli_tone tone)
{
    switch (tone) {
    case CLI_STRONG:
        return "\033[1m";
    case CLI_QUIET:
        return "\033[2m";
    case CLI_STOP:
        return "\033[1;38;5;166m";
    case CLI_ACT:
        return "\033[38;5;30m";
    case CLI_PLAIN:
        break;
    }
    return "";
}

static void tone_text(struct cli *ctx, enum cli_tone tone, const char *s, size_t n)
{
    const bool is_toned = ctx->has_colour && tone != CLI_PLAIN && n > 0;
    if (is_toned)
        text_puts(&ctx->out, tone_start(tone));
    text_add(&ctx->out, s, n);
    if (is_toned)
        text_puts(&ctx->out, "\033[0m");
}

static void blanks(struct text *out, size_t n)
{
    while (n-- > 0)
        text_putc(out, ' ');
}

/* The printed form of fmt, cleaned; the caller text_done()s it. */
PRINTF_LIKE(2, 0)
static void format(struct text *ret, const char *fmt, va_list ap)
{
    va_list again;
    va_copy(again, ap);
    const int n = vsnprintf(NULL, 0, fmt, again);
    va_end(again);
    char *s = n < 0 ? NULL : malloc((size_t)n + 1);
    if (s == NULL) {
        ret->is_broken = true;
        return;
    }
    vsnprintf(s, (size_t)n + 1, fmt, ap);
    text_add(ret, s, text_clean(s, (size_t)n, true));
    free(s);
}

/* ---- told to a tap ------------------------------------------------------------------------- */

static void tap_text(struct cli *ctx, const char *kind, const char *tone, const struct text *t)
{
    struct jsonw *w = ctx->tap->said;
    jsonw_object(w, NULL);
    jsonw_string(w, "kind", kind);
    if (tone != NULL)
        jsonw_string(w, "tone", tone);
    jsonw_string_n(w, "text", t->data != NULL ? t->data : "", t->size);
    jsonw_object_end(w);
    w->out->is_broken |= t->is_broken;
}

/* ---- wrapped text -------------------------------------------------------------------------- */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* What may follow a figure as its unit: those of quantity.h and these. */
static bool is_unit(const char *s, size_t n)
{
    static const char *const others[] = {"%", "AWG", "mm2", "degC"};
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (strlen(others[i]) == n && memcmp(others[i], s, n) == 0)
            return true;
    return n > 0 && quantity_unit_find(s, n) != UNIT_N;
}

/* Whether the blank at s[at] belongs to an amount, which no line end may take apart: between a figure and its
 * unit, or between whole inches and their fraction ("46 33/64 in" must not be read as 46 and 33/64 in). */
static bool is_glue(const char *s, size_t n, size_t at)
{
    size_t size = 0;
    const char *word = s + at + 1;
    if (at == 0 || !is_digit(s[at - 1]))
        return false;
    while (at + 1 + size < n && word[size] != ' ')
        size++;
    if (size > 0 && is_digit(word[0]))
        return memchr(word, '/', size) != NULL;
    while (size > 0 && strchr(".,;:)", word[size - 1]) != NULL)
        size--;
    return is_unit(word, size);
}

/* How many bytes of s[0..n) (no line feed inside) stand on a line of `columns`; *ret_next: where
 * the next one starts. */
static size_t fit_line(const char *s, size_t n, size_t columns, size_t *ret_next)
{
    size_t end = 0; /* of the last word that fits */
    for (size_t at = 0; at < n;) {
        size_t word_end = at;
        while (word_end < n && s[word_end] == ' ')
            word_end++;
        while (word_end < n && (s[word_end] != ' ' || is_glue(s, n, word_end)))
            word_end++;
        if (end > 0 && text_columns(s, word_end) > columns)
            break;
        at = end = word_end;
    }
    *ret_next = end;
    while (*ret_next < n && s[*ret_next] == ' ')
        (*ret_next)++;
    while (end > 0 && s[end - 1] == ' ')
        end--;
    return end;
}

/* Wraps s[0..n); the first line has already `used` columns, the others begin with `indent` blanks.
 */
static void wrap(struct cli *ctx, enum cli_tone tone, const char *s, size_t n, size_t indent,
                 size_t used)
{
    const size_t columns = ctx->columns > 0 ? (size_t)ctx->columns : 80;
    const size_t width = columns > indent + 20 ? columns - indent : 20;
    bool is_first = true;
    for (size_t at = 0; at <= n;) {
        const char *feed = at < n ? memchr(s + at, '\n', n - at) : NULL;
        const size_t line_end = feed != NULL ? (size_t)(feed - s) : n;
        const bool is_kept = at < line_end && s[at] == ' ';
        do {
            size_t next = line_end - at;
            const size_t room = is_first && used > indent ? width - (used - indent) : width;
            const size_t size = is_kept ? next : fit_line(s + at, line_end - at, room, &next);
            if (!is_first || used == 0)
                blanks(&ctx->out, size > 0 ? indent : 0);
            tone_text(ctx, tone, s + at, size);
            text_putc(&ctx->out, '\n');
            is_first = false;
            at += next;
        } while (at < line_end);
        at = line_end + 1;
        if (at == n && feed != NULL)
            break;
    }
}

void cli_say(struct cli *ctx, int indent, const char *fmt, ...)
{
    struct text t = {0};
    va_list ap;
    va_start(ap, fmt);
    format(&t, fmt, ap);
    va_end(ap);
    if (ctx->tap != NULL)
        tap_text(ctx, "text", NULL, &t);
    else if (t.data != NULL)
        wrap(ctx, CLI_PLAIN, t.data, t.size, indent > 0 ? (size_t)indent : 0, 0);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

void cli_verdict(struct cli *ctx, enum cli_tone tone, const char *fmt, ...)
{
    static const char *const marks[] = {"", "[=] ", "[?] ", "[x] ", "[>] "};
    static const char *const tones[] = {"plain", "strong", "quiet", "stop", "act"};
    struct text t = {0};
    va_list ap;
    va_start(ap, fmt);
    format(&t, fmt, ap);
    va_end(ap);
    if (ctx->tap != NULL) {
        tap_text(ctx, "verdict", tones[tone], &t);
        text_done(&t);
        return;
    }
    const size_t mark = strlen(marks[tone]);
    tone_text(ctx, tone, marks[tone], mark);
    if (t.data != NULL)
        wrap(ctx, tone == CLI_QUIET ? CLI_STRONG : tone, t.data, t.size, mark, mark);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

void cli_rule(struct cli *ctx, int indent, int columns)
{
    blanks(&ctx->out, indent > 0 ? (size_t)indent : 0);
    struct text rule = {0};
    const char *piece = cli_is_utf8() ? "\xE2\x94\x80" : "-";
    for (int i = 0; i < columns; i++)
        text_puts(&rule, piece);
    if (rule.data != NULL)
        tone_text(ctx, CLI_QUIET, rule.data, rule.size);
    text_putc(&ctx->out, '\n');
    ctx->out.is_broken |= rule.is_broken;
    text_done(&rule);
}

/* ---- tables -------------------------------------------------------------------------------- */

struct cell {
    size_t at, n; /* in the table's text */
    size_t left;  /* columns before the decimal point, for '.' columns */
    enum cli_tone tone;
    bool is_figure; /* begins like a number */
};

struct cli_table {
    char align[TABLE_COLUMNS_MAX + 1];
    size_t n_columns;
    struct text text;
    struct cell *cells;
    size_t n_cells, room;
    bool has_head, is_broken;
};

struct cli_table *cli_table_new(const char *align)
{
    const size_t n = strlen(align);
    if (n == 0 || n > TABLE_COLUMNS_MAX)
        return NULL;
    struct cli_table *t = calloc(1, sizeof *t);
    if (t == NULL)
        return NULL;
    snprintf(t->align, sizeof t->align, "%s", align);
    t->n_columns = n;
    return t;
}

void cli_table_free(struct cli_table *t)
{
    if (t == NULL)
        return;
    text_done(&t->text);
    free(t->cells);
    free(t);
}

/* Where the decimal point of a figure stands, in columns: after the digits that it begins with. */
static size_t point_of(const char *s, size_t n, bool *ret_figure)
{
    size_t i = 0;
    while (i < n && (s[i] == '-' || s[i] == '+' || s[i] == ' '))
        i++;
    const size_t digits = i;
    while (i < n && s[i] >= '0' && s[i] <= '9')
        i++;
    *ret_figure = i > digits || (i + 1 < n && s[i] == '.');
    return *ret_figure ? i : text_columns(s, n);
}

static struct cell *new_cell(struct cli_table *t, enum cli_tone tone)
{
    if (t->n_cells == t->room) {
        const size_t room = t->room > 0 ? 2 * t->room : 64;
        struct cell *cells = realloc(t->cells, room * sizeof *cells);
        if (cells == NULL) {
            t->is_broken = true;
            return NULL;
        }
        t->cells = cells;
        t->room = room;
    }
    struct cell *c = &t->cells[t->n_cells++];
    *c = (struct cell){.at = t->text.size, .tone = tone};
    return c;
}

/* Takes s over into the table: one line, cleaned. */
static void fill_cell(struct cli_table *t, struct cell *c, struct text *s)
{
    t->is_broken |= s->is_broken;
    if (s->data != NULL)
        text_add(&t->text, s->data, text_clean(s->data, s->size, false));
    c->n = t->text.size - c->at;
    if (c->n > 0)
        c->left = point_of(t->text.data + c->at, c->n, &c->is_figure);
    t->is_broken |= t->text.is_broken;
    text_done(s);
}

void cli_table_head(struct cli_table *t, const char *const *cells)
{
    if (t == NULL)
        return;
    t->has_head = true;
    for (size_t i = 0; i < t->n_columns; i++) {
        struct text s = {0};
        struct cell *c = new_cell(t, CLI_QUIET);
        if (c == NULL)
            return;
        text_puts(&s, cells[i]);
        fill_cell(t, c, &s);
        c->is_figure = false;
    }
}

void cli_table_cell(struct cli_table *t, enum cli_tone tone, const char *fmt, ...)
{
    if (t == NULL)
        return;
    struct cell *c = new_cell(t, tone);
    if (c == NULL)
        return;
    struct text s = {0};
    va_list ap;
    va_start(ap, fmt);
    format(&s, fmt, ap);
    va_end(ap);
    fill_cell(t, c, &s);
}

struct layout {
    size_t width[TABLE_COLUMNS_MAX];
    size_t left[TABLE_COLUMNS_MAX]; /* before the point */
    size_t total;
};

static size_t cell_columns(const struct cli_table *t, const struct cell *c)
{
    return c->n > 0 ? text_columns(t->text.data + c->at, c->n) : 0;
}

static size_t most(size_t a, size_t b)
{
    return a > b ? a : b;
}

static void lay_out(const struct cli_table *t, size_t indent, int columns, struct layout *l)
{
    size_t right[TABLE_COLUMNS_MAX] = {0};
    *l = (struct layout){.total = 0};
    for (size_t i = 0; i < t->n_cells; i++) {
        const struct cell *c = &t->cells[i];
        const size_t k = i % t->n_columns;
        l->width[k] = most(l->width[k], cell_columns(t, c));
        if (t->align[k] != '.' || !c->is_figure)
            continue;
        l->left[k] = most(l->left[k], c->left);
        right[k] = most(right[k], cell_columns(t, c) - c->left);
    }
    for (size_t k = 0; k < t->n_columns; k++) {
        l->width[k] = most(l->width[k], l->left[k] + right[k]);
        /* A wide heading over narrow figures: the figures stand at its right end. */
        l->left[k] = l->width[k] - right[k];
        l->total += l->width[k] + (k > 0 ? TABLE_GAP : 0);
    }
    const size_t room = columns > (int)indent ? (size_t)columns - indent : 0;
    const size_t last = t->n_columns - 1;
    if (l->total <= room || t->align[last] != 'l')
        return;
    const size_t others = l->total - l->width[last];
    l->width[last] = room > others + TABLE_LAST_MIN    ? room - others
                     : l->width[last] < TABLE_LAST_MIN ? l->width[last]
                                                       : TABLE_LAST_MIN;
    l->total = others + l->width[last];
}

/* Blanks before a cell that fits its column. */
static size_t lead(const struct cli_table *t, const struct cell *c, size_t k,
                   const struct layout *l)
{
    const size_t free_columns = l->width[k] - cell_columns(t, c);
    if (t->align[k] == 'l')
        return 0;
    if (t->align[k] == '.' && c->is_figure)
        return l->left[k] - c->left;
    return free_columns;
}

/* A cell over several lines, each after the first begun by `indent` blanks; no closing line feed.
 */
static void print_folded(const struct cli_table *t, struct cli *ctx, const struct cell *c,
                         size_t columns, size_t indent)
{
    const char *s = t->text.data + c->at;
    size_t next = 0;
    for (size_t at = 0; at < c->n; at += next) {
        if (at > 0) {
            text_putc(&ctx->out, '\n');
            blanks(&ctx->out, indent);
        }
        const size_t size = fit_line(s + at, c->n - at, columns, &next);
        tone_text(ctx, c->tone, s + at, size);
    }
}

static void print_row(const struct cli_table *t, struct cli *ctx, size_t first, size_t indent,
                      const struct layout *l)
{
    size_t pending = indent; /* blanks are written only before something, so no line ends in them */
    for (size_t k = 0; k < t->n_columns && first + k < t->n_cells; k++) {
        const struct cell *c = &t->cells[first + k];
        const char *s = c->n > 0 ? t->text.data + c->at : "";
        const size_t columns = cell_columns(t, c);
        if (columns > l->width[k]) { /* only the last column is ever narrower than its cells */
            blanks(&ctx->out, pending);
            print_folded(t, ctx, c, l->width[k], indent + l->total - l->width[k]);
            break;
        }
        const size_t before = lead(t, c, k, l);
        if (c->n > 0) {
            blanks(&ctx->out, pending + before);
            tone_text(ctx, c->tone, s, c->n);
            pending = l->width[k] - before - columns + TABLE_GAP;
        } else {
            pending += l->width[k] + TABLE_GAP;
        }
    }
    text_putc(&ctx->out, '\n');
}

static const struct cell *cell_at(const struct cli_table *t, size_t i, const char **ret_text)
{
    *ret_text = t->cells[i].n > 0 ? t->text.data + t->cells[i].at : "";
    return &t->cells[i];
}

/* A row of a table that is too wide: its first cell, and below it the others, each after its heading. */
static void print_stacked(const struct cli_table *t, struct cli *ctx, size_t first, int indent)
{
    struct text row = {0};
    const char *text = NULL, *head = NULL;
    const struct cell *c = cell_at(t, first, &text);
    cli_say(ctx, indent, "%.*s", (int)c->n, text);
    for (size_t k = 1; k < t->n_columns && first + k < t->n_cells; k++) {
        const struct cell *h = cell_at(t, k, &head);
        c = cell_at(t, first + k, &text);
        if (c->n > 0)
            text_printf(&row, "%s%.*s%s%.*s", row.size > 0 ? "; " : "", (int)h->n, head,
                        h->n > 0 ? " " : "", (int)c->n, text);
    }
    if (row.size > 0)
        cli_say(ctx, indent + 2, "%s", row.data);
    ctx->out.is_broken |= row.is_broken;
    text_done(&row);
}

static void tap_row(const struct cli_table *t, struct jsonw *w, const char *key, size_t first)
{
    jsonw_array(w, key);
    for (size_t i = first; i < first + t->n_columns && i < t->n_cells; i++)
        jsonw_string_n(w, NULL, t->cells[i].n > 0 ? t->text.data + t->cells[i].at : "",
                       t->cells[i].n);
    jsonw_array_end(w);
}

static void tap_table(const struct cli_table *t, struct jsonw *w)
{
    const size_t n_head = t->has_head ? t->n_columns : 0;
    jsonw_object(w, NULL);
    jsonw_string(w, "kind", "table");
    jsonw_string(w, "align", t->align);
    if (t->has_head)
        tap_row(t, w, "head", 0);
    else {
        jsonw_array(w, "head");
        jsonw_array_end(w);
    }
    jsonw_array(w, "rows");
    for (size_t first = n_head; first < t->n_cells; first += t->n_columns)
        tap_row(t, w, NULL, first);
    jsonw_array_end(w);
    jsonw_object_end(w);
}

void cli_table_print(struct cli_table *t, struct cli *ctx, int indent)
{
    if (t == NULL || t->is_broken) {
        ctx->out.is_broken = true;
        return;
    }
    if (ctx->tap != NULL) {
        tap_table(t, ctx->tap->said);
        return;
    }
    const size_t blanks_before = indent > 0 ? (size_t)indent : 0;
    struct layout l;
    lay_out(t, blanks_before, ctx->columns, &l);
    if (t->has_head && ctx->columns > 0 && blanks_before + l.total > (size_t)ctx->columns) {
        for (size_t first = t->n_columns; first < t->n_cells; first += t->n_columns)
            print_stacked(t, ctx, first, indent);
        return;
    }
    for (size_t first = 0; first < t->n_cells; first += t->n_columns) {
        print_row(t, ctx, first, blanks_before, &l);
        if (first == 0 && t->has_head)
            cli_rule(ctx, indent, (int)l.total);
    }
}

/* vin_batch: owns reading VINs in blocks and telling the faulty ones. What is said of one VIN is in
 * vin_words.c.
 *
 * Nearly every line is a valid VIN and a line end: that case costs one look at the line end and
 * vin_is_valid17. Everything else goes the slow way. */
#include "cli/vin_batch.h"

#include "base/file.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum {
    BLOCK = 1024 * 1024,
    LINE_KEPT = 4096,       /* a longer line is no VIN; only its head is kept */
    OUT_FLUSH = 256 * 1024, /* the answer is handed on when it is this large */
};

struct batch {
    struct cli *ctx;
    const struct vin_list *known;
    const char *path;
    int fd;
    char *block; /* BLOCK + LINE_KEPT */
    uint64_t n_lines, n_valid, n_empty, n_unlisted;
    uint64_t n_faults[VIN_FAULT_CHECK + 1];
    bool has_head;    /* the table's head is written */
    bool has_failed;  /* writing broke off */
    bool is_overlong; /* inside a line longer than LINE_KEPT */
    char head[VIN_TEXT_MAX];
    size_t overlong_size;
    struct text scratch;
    struct vin_case c;
};

/* ---- writing -----------------------------------------------------------------------------------
 */

static void hand_on(struct batch *b)
{
    struct text *out = &b->ctx->out;
    if (out->size < OUT_FLUSH || out->is_broken)
        return;
    if (fwrite(out->data, 1, out->size, stdout) != out->size)
        b->has_failed = true;
    text_clear(out);
}

static void write_row(struct batch *b, const struct vin_case *c)
{
    struct text *out = &b->ctx->out, *t = &b->scratch;
    if (!b->has_head)
        text_puts(
            out,
            "      line  VIN                why                           likeliest repair\n"
            "      ----  -----------------  ----------------------------  -----------------\n");
    b->has_head = true;
    text_clear(t);
    vin_case_shown(c, t);
    const size_t columns = t->size > 0 ? text_columns(t->data, t->size) : 0;
    text_printf(out, "%10" PRIu64 "  ", b->n_lines);
    if (columns <= VIN_SIZE)
        text_printf(out, "%s%*s", t->size > 0 ? t->data : "", (int)(VIN_SIZE - columns), "");
    else if (columns == t->size) /* ASCII alone: may be cut anywhere */
        text_printf(out, "%.15s..", t->data);
    else
        text_printf(out, "%-17s", "(not ASCII)");
    text_clear(t);
    vin_case_brief(c, t);
    const char *repair = c->n_repairs > 0 ? c->repairs[0].vin : "";
    text_printf(out, c->n_repairs > 0 ? "  %-28s  %s\n" : "  %s%s\n", t->data ? t->data : "",
                repair);
    hand_on(b);
}

static void write_json(struct batch *b, const struct vin_case *c)
{
    struct jsonw w;
    jsonw_start(&w, &b->ctx->out);
    vin_case_json(c, b->n_lines, b->known, &w);
    text_putc(&b->ctx->out, '\n');
    hand_on(b);
}

/* ---- lines -------------------------------------------------------------------------------------
 */

static void tell(struct batch *b, const struct vin_case *c)
{
    const bool is_valid = c->verdict.fault == VIN_FAULT_NONE;
    b->n_valid += is_valid;
    b->n_faults[c->verdict.fault] += !is_valid;
    if (is_valid && b->known != NULL)
        b->n_unlisted += !vin_list_has(b->known, c->verdict.vin);
    if (b->ctx->is_json)
        write_json(b, c);
    else if (!is_valid)
        write_row(b, c);
}

static void take_line(struct batch *b, const char *line, size_t n)
{
    b->n_lines++;
    if (n > 0 && line[n - 1] == '\r')
        n--;
    size_t blanks = 0;
    while (blanks < n && (line[blanks] == ' ' || line[blanks] == '\t'))
        blanks++;
    if (blanks == n) {
        b->n_empty++;
        return;
    }
    vin_case_judge(&b->c, line, n, b->known);
    tell(b, &b->c);
}

static void end_overlong(struct batch *b)
{
    b->is_overlong = false;
    b->n_lines++;
    vin_case_overlong(&b->c, b->head, b->overlong_size);
    tell(b, &b->c);
}

/* The lines of block[0..n), as many as are whole. Returns how many bytes are done with. */
static size_t take_lines(struct batch *b, const char *block, size_t n)
{
    const bool is_plain = !b->ctx->is_json && b->known == NULL;
    size_t at = 0;
    while (at < n && !b->has_failed) {
        const char *line = block + at;
        const size_t rest = n - at;
        if (is_plain && rest > VIN_SIZE && line[VIN_SIZE] == '\n' && vin_is_valid17(line)) {
            b->n_lines++;
            b->n_valid++;
            at += VIN_SIZE + 1;
            continue;
        }
        const char *stop = memchr(line, '\n', rest);
        if (stop == NULL)
            break;
        take_line(b, line, (size_t)(stop - line));
        at += (size_t)(stop - line) + 1;
    }
    return at;
}

/* What is left of a block without a line end: kept for the next, or counted when it is too long. */
static size_t keep_rest(struct batch *b, const char *rest, size_t n)
{
    if (n <= LINE_KEPT)
        return n;
    memcpy(b->head, rest, VIN_TEXT_MAX);
    b->overlong_size = n;
    b->is_overlong = true;
    return 0;
}

/* Inside an over-long line: passes over its rest. Returns the bytes passed over. */
static size_t pass_overlong(struct batch *b, const char *block, size_t n)
{
    const char *stop = memchr(block, '\n', n);
    if (stop == NULL) {
        b->overlong_size += n;
        return n;
    }
    b->overlong_size += (size_t)(stop - block);
    end_overlong(b);
    return (size_t)(stop - block) + 1;
}

/* ---- reading -----------------------------------------------------------------------------------
 */

struct progress {
    bool is_wanted, is_shown;
    struct timespec start;
    double shown_s;
    uint64_t n_read, n_whole; /* bytes; whole 0: unknown */
};

static void progress_step(struct progress *p, uint64_t n_lines, size_t n)
{
    p->n_read += n;
    if (!p->is_wanted)
        return;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    const double since_s =
        (double)(now.tv_sec - p->start.tv_sec) + 1e-9 * (double)(now.tv_nsec - p->start.tv_nsec);
    if (since_s < 1 || since_s - p->shown_s < 0.2)
        return;
    p->shown_s = since_s;
    p->is_shown = true;
    fprintf(stderr, "\r%" PRIu64 " lines", n_lines);
    if (p->n_whole > 0)
        fprintf(stderr, ", %.0f %%", 100.0 * (double)p->n_read / (double)p->n_whole);
}

static void progress_end(const struct progress *p)
{
    if (p->is_shown)
        fputs("\r                                        \r", stderr);
}

/* One read(2) that fills what it can: a pipe gives small pieces, and the start must be seen whole.
 * Returns the bytes read, 0 at the end, -1 after an error. */
static ssize_t fill(const struct batch *b, char *to, size_t room)
{
    size_t n = 0;
    while (n < room) {
        const ssize_t got = read(b->fd, to + n, room - n);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0) {
            cli_error(b->ctx, "%.200s: reading broke off: %s", b->path, strerror(errno));
            return -1;
        }
        if (got == 0)
            break;
        n += (size_t)got;
        if (n >= LINE_KEPT)
            break;
    }
    return (ssize_t)n;
}

static int read_all(struct batch *b, struct progress *p)
{
    size_t kept = 0;
    for (bool is_first = true;; is_first = false) {
        const ssize_t got = fill(b, b->block + kept, BLOCK);
        if (got < 0)
            return CLI_FAILED;
        if (got == 0)
            break;
        size_t at = 0, n = kept + (size_t)got;
        struct fault f = {0};
        snprintf(f.file, sizeof f.file, "%s", b->path);
        if (is_first && vin_text_start(b->block, n < LINE_KEPT ? n : LINE_KEPT, &at, &f) != ERR_OK)
            return cli_fault(b->ctx, &f);
        if (b->is_overlong)
            at = pass_overlong(b, b->block, n);
        at += take_lines(b, b->block + at, n - at);
        if (b->has_failed)
            break;
        kept = keep_rest(b, b->block + at, n - at);
        memmove(b->block, b->block + at, kept);
        progress_step(p, b->n_lines, (size_t)got);
    }
    if (b->is_overlong)
        end_overlong(b);
    else if (kept > 0 && !b->has_failed)
        take_line(b, b->block, kept);
    return CLI_GOOD;
}

static int open_file(struct batch *b, struct progress *p)
{
    const bool is_stdin = strcmp(b->path, "-") == 0;
    struct fault f = {0};
    if (file_open(b->path, SIZE_MAX, &b->fd, &p->n_whole, &f) != ERR_OK)
        return cli_fault(b->ctx, &f);
    p->is_wanted = isatty(STDERR_FILENO) && !(is_stdin && isatty(STDIN_FILENO));
    clock_gettime(CLOCK_MONOTONIC, &p->start);
    return CLI_GOOD;
}

/* ---- the summary -------------------------------------------------------------------------------
 */

static void add_part(struct text *t, uint64_t n, const char *what)
{
    if (n > 0)
        text_printf(t, "%s%" PRIu64 " %s", t->size > 0 ? ", " : "", n, what);
}

static void write_summary(struct batch *b, uint64_t n, uint64_t n_bad)
{
    struct cli *ctx = b->ctx;
    struct text t = {0};
    if (b->has_head)
        text_putc(&ctx->out, '\n');
    if (n_bad == 0) {
        cli_verdict(ctx, CLI_STRONG, "%" PRIu64 " VIN%s valid.", n, n == 1 ? "," : "s, all");
    } else {
        cli_verdict(ctx, CLI_STOP, "%" PRIu64 " of %" PRIu64 " VIN%s %s faulty.", n_bad, n,
                    n == 1 ? "" : "s", n_bad == 1 ? "is" : "are");
        add_part(&t, b->n_faults[VIN_FAULT_LENGTH], "of the wrong length");
        add_part(&t, b->n_faults[VIN_FAULT_CHARACTER], "with a character that no VIN has");
        add_part(&t, b->n_faults[VIN_FAULT_CHECK], "with the wrong check digit");
        cli_say(ctx, 4, "%s.", t.data ? t.data : "");
    }
    if (b->n_empty > 0)
        cli_say(ctx, 4, "%" PRIu64 " empty line%s passed over.", b->n_empty,
                b->n_empty == 1 ? "" : "s");
    if (b->n_unlisted > 0)
        cli_say(ctx, 4, "%" PRIu64 " valid VIN%s not in the list.", b->n_unlisted,
                b->n_unlisted == 1 ? " is" : "s are");
    if (n_bad > 0) {
        text_putc(&ctx->out, '\n');
        cli_verdict(
            ctx, CLI_ACT,
            "Read these VINs again at the vehicle. A repair is a proposal, never a reading.");
    }
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static int finish(struct batch *b)
{
    const uint64_t n = b->n_lines - b->n_empty, n_bad = n - b->n_valid;
    if (b->has_failed) {
        cli_error(b->ctx, "the answer could not be written: %s", strerror(errno));
        return CLI_FAILED;
    }
    if (n == 0)
        return cli_error(b->ctx, "%.200s: holds no VIN; expected one a line", b->path);
    if (!b->ctx->is_json)
        write_summary(b, n, n_bad);
    return n_bad > 0 ? CLI_NO : CLI_GOOD;
}

int vin_batch(struct cli *ctx, const char *path, const struct vin_list *known)
{
    struct batch b = {.ctx = ctx, .path = path, .known = known, .fd = -1};
    struct progress p = {0};
    b.block = malloc(BLOCK + LINE_KEPT);
    if (b.block == NULL) {
        cli_error(ctx, "memory ran out");
        return CLI_FAILED;
    }
    int code = open_file(&b, &p);
    if (code == CLI_GOOD)
        code = read_all(&b, &p);
    progress_end(&p);
    if (code == CLI_GOOD)
        code = finish(&b);
    if (code == CLI_WRONG || code == CLI_FAILED)
        text_clear(&ctx->out); /* half a table would look like a whole one */
    file_close(b.fd);
    free(b.block);
    text_done(&b.scratch);
    return code;
}

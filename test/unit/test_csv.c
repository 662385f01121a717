/* csv: RFC 4180's own rules and examples, row by row; what is refused and where. Tables read and written by both this and Python's
 * csv module are test/csv/peer.py's business. */
#include "base/csv.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define Q "\""

/* ---- reading into one text: fields in [], records closed by ; ---------------------------------- */

static enum err read_rest(struct csv *csv, struct text *t, struct fault *f)
{
    for (;;) {
        bool is_row = false;
        const enum err e = csv_next(csv, &is_row, f);
        if (e != ERR_OK || !is_row)
            return e;
        for (size_t i = 0; i < csv_columns(csv); i++) {
            const struct csv_field field = csv_at(csv, i);
            text_putc(t, '[');
            text_add(t, field.at, field.n);
            text_putc(t, ']');
        }
        text_putc(t, ';');
    }
}

static enum err read_all(const char *s, size_t n, struct text *t, struct fault *f)
{
    struct csv *csv = NULL;
    *f = (struct fault){0};
    enum err e = csv_open(s, n, "t.csv", &csv, f);
    if (e != ERR_OK)
        return e;
    for (size_t i = 0; i < csv_columns(csv); i++)
        text_printf(t, "<%s>", csv_column_name(csv, i));
    e = read_rest(csv, t, f);
    csv_close(csv);
    return e;
}

struct good {
    const char *text, *expected, *source;
};

static void check_good(const struct good *row)
{
    struct text t = {0};
    struct fault f;
    const enum err e = read_all(row->text, strlen(row->text), &t, &f);
    const char *found = t.data != NULL ? t.data : "";
    if (!tap_ok(e == ERR_OK && strcmp(found, row->expected) == 0, "%s", row->source))
        tap_note("%s %s, found %s", err_symbol(e), f.message, found);
    text_done(&t);
}

/* The examples of section 2 with CRLF written out; a first line is put before those that the RFC shows without one, because the
 * reader takes the first record for the header. */
static void rfc_rows(void)
{
    static const struct good rows[] = {
        {"a,b,c\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "<a><b><c>[aaa][bbb][ccc];[zzz][yyy][xxx];",
         "RFC 4180, 2.1: records on lines of their own, parted by CRLF"},
        {"a,b,c\r\naaa,bbb,ccc\r\nzzz,yyy,xxx", "<a><b><c>[aaa][bbb][ccc];[zzz][yyy][xxx];",
         "RFC 4180, 2.2: the last record may lack its line break"},
        {"field_1,field_2,field_3\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
         "<field_1><field_2><field_3>[aaa][bbb][ccc];[zzz][yyy][xxx];",
         "RFC 4180, 2.3: a header in the form of a record (its example names three columns alike; "
         "ours must differ)"},
        {"aaa,bbb,ccc", "<aaa><bbb><ccc>", "RFC 4180, 2.4: fields parted by commas"},
        {"a,b\r\n x , \r\n", "<a><b>[ x ][ ];", "RFC 4180, 2.4: spaces are part of a field"},
        {"a\r\nx\r\n", "<a>[x];", "RFC 4180, 2.4: there may be one field"},
        {"a,b,c\r\n\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx",
         "<a><b><c>[aaa][bbb][ccc];[zzz][yyy][xxx];",
         "RFC 4180, 2.5: fields may be in quotes or not"},
        {"a,b,c\r\n\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx",
         "<a><b><c>[aaa][b\r\nbb][ccc];[zzz][yyy][xxx];", "RFC 4180, 2.6: a line break in quotes"},
        {"a,b,c\r\n\"a,b\",\",\",\",,\"", "<a><b><c>[a,b][,][,,];",
         "RFC 4180, 2.6: commas in quotes"},
        {"a,b,c\r\n\"aaa\",\"b\"\"bb\",\"ccc\"", "<a><b><c>[aaa][b\"bb][ccc];",
         "RFC 4180, 2.7: a quote in quotes is doubled"},
        {"a,b\r\n\"\",\"\"\"\"\r\n", "<a><b>[][\"];",
         "RFC 4180, ABNF: escaped = DQUOTE *(... / 2DQUOTE) DQUOTE may hold nothing, or a quote "
         "alone"},
        {"a,b\r\n,\r\n", "<a><b>[][];", "RFC 4180, ABNF: non-escaped = *TEXTDATA may be empty"},
        {"a,b\r\n\"\r\",\"\n\"\r\n", "<a><b>[\r][\n];",
         "RFC 4180, ABNF: CR and LF alone may stand in an escaped field"},
        {"\"a,1\",\"b\"\"\"\r\nx,y\r\n", "<a,1><b\">[x][y];",
         "RFC 4180, 2.3: a header field may be in quotes as well"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check_good(&rows[i]);
}

/* Beyond the RFC, as csv.h says. */
static void our_rows(void)
{
    static const struct good rows[] = {
        {"a,b\nx,y\nz,\"1\n2\"\n", "<a><b>[x][y];[z][1\n2];", "line feeds alone end records too"},
        {"a\nx\r\ny\n", "<a>[x];[y];", "both in one file"},
        {"\xEF\xBB\xBF"
         "a,b\nx,y",
         "<a><b>[x][y];", "a byte order mark is skipped"},
        {"\xEF\xBB\xBF" Q "a" Q ",b\nx,y", "<a><b>[x][y];", "also before a quote"},
        {"a,b\n\n\r\nx,y\n\n\nz,w\n\n", "<a><b>[x][y];[z][w];", "empty lines are skipped"},
        {"\n\r\na\nx", "<a>[x];", "also before the first line"},
        {"a\n\"\"\nx\n", "<a>[];[x];",
         "quotes with nothing in them are a record of one empty field"},
        {"a\n \n", "<a>[ ];", "a line with a blank is not empty"},
        {"a,\nx,y\n", "<a><>[x][y];", "one column may lack a name"},
        {"gr\xC3\xB6\xC3\x9F"
         "e\n\xE2\x82\xAC\n",
         "<gr\xC3\xB6\xC3\x9F"
         "e>[\xE2\x82\xAC];",
         "UTF-8"},
        {"a\tb\nx\ty\n", "<a\tb>[x\ty];", "a tab is a character like others"},
        {"a,b\nx,\xEF\xBB\xBFy\n", "<a><b>[x][\xEF\xBB\xBFy];", "U+FEFF elsewhere is text"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check_good(&rows[i]);
}

struct bad {
    const char *text;
    size_t n; /* 0: up to its NUL */
    enum err e;
    int line, column;
    const char *path, *words; /* the message holds these */
    const char *what;
};

static void check_bad(const struct bad *row)
{
    struct text t = {0};
    struct fault f;
    const enum err e = read_all(row->text, row->n > 0 ? row->n : strlen(row->text), &t, &f);
    if (!tap_ok(e == row->e && f.code == e && f.line == row->line && f.column == row->column &&
                    strcmp(f.path, row->path) == 0 && strstr(f.message, row->words) != NULL &&
                    strcmp(f.file, "t.csv") == 0,
                "refused: %s", row->what))
        tap_note("%s at %d:%d %s: %s", err_symbol(e), f.line, f.column, f.path, f.message);
    text_done(&t);
}

/* Lines and columns counted by hand. */
static void refusals(void)
{
    static const struct bad rows[] = {
        {"", 0, ERR_EMPTY, 0, 0, "", "nothing in it", "nothing at all"},
        {"\xEF\xBB\xBF\n\r\n", 0, ERR_EMPTY, 0, 0, "", "nothing in it", "a mark and empty lines"},
        {"field_name,field_name,field_name\r\naaa,bbb,ccc\r\n", 0, ERR_DUPLICATE, 1, 12, "",
         "\"field_name\"", "two columns of one name (RFC 4180's own example in 2.3)"},
        {"a,,b,\nx,y,z,w\n", 0, ERR_DUPLICATE, 1, 6, "", "without a name",
         "two columns without a name"},
        {"a,b\nx,y\nz\n", 0, ERR_SYNTAX, 3, 0, "", "found 1 field; expected 2", "a short record"},
        {"a,b\nx,y,\n", 0, ERR_SYNTAX, 2, 0, "", "found 3 fields; expected 2",
         "a comma after the last field (RFC 4180, 2.4)"},
        {"a,b\nx,y 5\" z\n", 0, ERR_SYNTAX, 2, 6, "b", "quote inside a field",
         "a quote in a bare field (RFC 4180, 2.5)"},
        {"a,b\nx, \"y\"\n", 0, ERR_SYNTAX, 2, 4, "b", "quote inside a field",
         "a blank before a quote"},
        {"a,b\n\"x\"y,z\n", 0, ERR_SYNTAX, 2, 4, "a", "after the closing quote",
         "more after a closing quote"},
        {"a,b\n\"x\" ,z\n", 0, ERR_SYNTAX, 2, 4, "a", "after the closing quote",
         "a blank after a closing quote"},
        {"a,b\nx,y\nz,\"w\nv,u\n", 0, ERR_SYNTAX, 3, 3, "b", "never closed",
         "a quote that is never closed"},
        {"a,b\nx,\"y\"\"", 0, ERR_SYNTAX, 2, 3, "b", "never closed", "a doubled quote at the end"},
        {"a,\"b\nx,y\n", 0, ERR_SYNTAX, 1, 3, "", "never closed",
         "a quote that is never closed in the first line"},
        {"a\nb\rc\n", 0, ERR_SYNTAX, 2, 2, "a", "carriage return", "a carriage return alone"},
        {"a\rb\rc\r", 0, ERR_SYNTAX, 1, 2, "", "carriage return",
         "lines that end in carriage returns"},
        {"a\nb\r", 0, ERR_SYNTAX, 2, 2, "a", "carriage return", "a carriage return at the end"},
        {"a\nx\n\ry\n", 0, ERR_SYNTAX, 3, 1, "a", "carriage return",
         "a carriage return at a line's start"},
        {"a,b\nx,y\0z\n", 10, ERR_ENCODING, 2, 4, "b", "NUL", "a NUL in a bare field"},
        {"a,b\nx,\"y\0\"\n", 11, ERR_ENCODING, 2, 5, "b", "NUL", "a NUL in quotes"},
        {"a,b\nx,\xE9t\xE9\n", 0, ERR_ENCODING, 2, 3, "b", "0xE9 after 0", "Latin-1"},
        {"a,b\n\"x\n\",y\xC0\x80\n", 0, ERR_ENCODING, 3, 3, "b", "0xC0 after 1",
         "an overlong NUL (Unicode, table 3-7)"},
        {"\xFF\xFE"
         "a\0",
         4, ERR_ENCODING, 1, 1, "", "UTF-16", "UTF-16, low byte first"},
        {"\xFE\xFF\0a", 4, ERR_ENCODING, 1, 1, "", "UTF-16", "UTF-16, high byte first"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check_bad(&rows[i]);
}

static void sizes(void)
{
    struct text t = {0}, out = {0};
    struct fault f;
    text_puts(&t, "a\n\"");
    for (int i = 0; i < CSV_RECORD_MAX; i++)
        text_putc(&t, i % 50 == 49 ? '\n' : 'x');
    text_puts(&t, "\"\nlast\n");
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_OK && out.size == CSV_RECORD_MAX + 13,
           "a field of 1 MiB over many lines is read");
    t.data[t.size - 7] = 'x'; /* its closing quote */
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_LIMIT && f.line == 2 && f.column == 1 &&
               strstr(f.message, "quote") != NULL,
           "a quote that is not closed for more than that is told where it opens");
    text_clear(&t);
    text_puts(&t, "a\nb\n");
    for (int i = 0; i <= CSV_RECORD_MAX; i++)
        text_putc(&t, 'x');
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_LIMIT && f.line == 3,
           "a bare field of one byte more is too long");
    text_clear(&t);
    for (int i = 0; i < CSV_COLUMNS_MAX; i++)
        text_printf(&t, "%sc%d", i > 0 ? "," : "", i);
    text_clear(&out);
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_OK, "256 columns are read");
    text_puts(&t, ",one-more");
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_LIMIT && f.line == 1, "257 are too many");
    text_clear(&t);
    text_puts(&t, "a\n");
    for (int i = 0; i < 3 * CSV_RECORD_MAX; i++)
        text_putc(&t, ',');
    tap_ok(read_all(t.data, t.size, &out, &f) == ERR_LIMIT && f.line == 2 && f.column == 257,
           "millions of commas are refused at the 257th field");
    text_done(&t);
    text_done(&out);
}

/* ---- columns and faults about fields ----------------------------------------------------------- */

static void columns(void)
{
    static const char text[] = "vin,station,label\nV1,\"two\nlines\",L\n";
    struct csv *csv = NULL;
    struct fault f = {0};
    bool is_row = false;
    int i = -1;
    if (csv_open(text, sizeof text - 1, "t.csv", &csv, &f) != ERR_OK) {
        tap_ok(false, "it opens");
        return;
    }
    tap_ok(csv_columns(csv) == 3 && csv_column(csv, "label") == 2 && csv_column(csv, "Label") == -1,
           "columns are found by name, as it stands");
    tap_ok(csv_need(csv, "station", &i, &f) == ERR_OK && i == 1, "a needed column that is there");
    tap_ok(
        csv_need(csv, "statoin", &i, &f) == ERR_EMPTY && i == 1 && f.line == 1 &&
            strcmp(f.message,
                   "no column \"statoin\"; did you mean \"station\"? Found vin, station, label") ==
                0,
        "one that is not: the nearest, and what there is");
    tap_ok(csv_next(csv, &is_row, &f) == ERR_OK && is_row && csv_line(csv) == 2,
           "the record's line is where it began");
    tap_ok(csv_at(csv, 1).column == 4 && csv_at(csv, 2).column == 8 && csv_at(csv, 2).n == 1,
           "fields have their column, also behind a line end in quotes");
    tap_ok(csv_fault(csv, 2, &f, ERR_DOMAIN, "found %s", "L") == ERR_DOMAIN && f.line == 3 &&
               f.column == 8 && strcmp(f.path, "label") == 0 && strcmp(f.file, "t.csv") == 0 &&
               strcmp(f.message, "found L") == 0,
           "a fault about a field has its place");
    tap_ok(csv_next(csv, &is_row, &f) == ERR_OK && !is_row && csv_bytes(csv) == sizeof text - 1,
           "after the last all bytes are read");
    tap_ok(csv_next(csv, &is_row, &f) == ERR_OK && !is_row, "the end stays the end");
    csv_close(csv);
    csv_close(NULL);

    static const char parted[] = "vin;station\nV1;a\n";
    if (csv_open(parted, sizeof parted - 1, "t.csv", &csv, &f) == ERR_OK)
        tap_ok(csv_need(csv, "vin", &i, &f) == ERR_EMPTY && strstr(f.message, "commas") != NULL,
               "a table parted by semicolons is told so: %s", f.message);
    csv_close(csv);

    static const char broken[] = "a\nx\"\ny\n";
    if (csv_open(broken, sizeof broken - 1, "t.csv", &csv, &f) == ERR_OK) {
        const enum err first = csv_next(csv, &is_row, &f), second = csv_next(csv, &is_row, &f);
        tap_ok(first == ERR_SYNTAX && second == ERR_SYNTAX, "after a fault reading does not go on");
    }
    csv_close(csv);
}

/* ---- files ------------------------------------------------------------------------------------- */

/* A table larger than any buffer, through a pipe that gives 1..7 bytes at a time, and from a file. */
static void files(void)
{
    char path[] = "/tmp/mendwright-test-csv-XXXXXX";
    const int fd = mkstemp(path);
    struct text t = {0}, from_text = {0}, from_file = {0};
    struct fault f = {0};
    struct csv *csv = NULL;
    text_puts(&t, "\xEF\xBB\xBF"
                  "n,text\r\n");
    for (int i = 0; i < 20000; i++)
        text_printf(&t, "%d,\"a \"\"%d\"\",\r\nb\xC3\xA9\"\r\n", i, i * 7);
    bool is_good = fd >= 0 && write(fd, t.data, t.size) == (ssize_t)t.size &&
                   csv_open_file(path, &csv, &f) == ERR_OK;
    if (is_good && read_rest(csv, &from_file, &f) == ERR_OK) {
        is_good = csv_bytes(csv) == t.size;
        csv_close(csv);
        csv = NULL;
    }
    if (csv_open(t.data, t.size, "t", &csv, &f) == ERR_OK &&
        read_rest(csv, &from_text, &f) != ERR_OK)
        is_good = false;
    csv_close(csv);
    tap_ok(is_good && from_file.size == from_text.size && from_file.size > 400000 &&
               memcmp(from_file.data, from_text.data, from_text.size) == 0,
           "a file of %zu bytes reads as its text does", t.size);
    close(fd);
    unlink(path);
    tap_ok(csv_open_file("/nowhere/t.csv", &csv, &f) == ERR_OPEN &&
               strcmp(f.file, "/nowhere/t.csv") == 0,
           "a file that is not there");
    tap_ok(csv_open_file("/tmp", &csv, &f) == ERR_OPEN, "a folder");
    text_done(&t);
    text_done(&from_text);
    text_done(&from_file);
}

/* ---- writing ----------------------------------------------------------------------------------- */

static void writing(void)
{
    static const struct {
        const char *fields[3], *expected, *source;
    } rows[] = {
        {{"aaa", "bbb", "ccc"}, "aaa,bbb,ccc\r\n", "RFC 4180, 2.1: CRLF; quotes only where needed"},
        {{"aaa", "b\r\nbb", "ccc"}, "aaa,\"b\r\nbb\",ccc\r\n", "RFC 4180, 2.6: a line break"},
        {{"a,b", NULL, NULL}, "\"a,b\"\r\n", "RFC 4180, 2.6: a comma"},
        {{"aaa", "b\"bb", "ccc"}, "aaa,\"b\"\"bb\",ccc\r\n", "RFC 4180, 2.7: a quote is doubled"},
        {{" a ", "", " "}, " a ,, \r\n", "RFC 4180, 2.4: spaces as they are"},
        {{"\r", "\n", NULL}, "\"\r\",\"\n\"\r\n", "RFC 4180, ABNF: CR and LF are no TEXTDATA"},
        {{"", NULL, NULL}, "\"\"\r\n", "one empty field is no empty line (ours)"},
        {{"\xEF\xBB\xBF"
          "a",
          NULL, NULL},
         "\"\xEF\xBB\xBF"
         "a\"\r\n",
         "no mistaken byte order mark (ours)"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = {0};
        for (size_t k = 0; k < 3 && rows[i].fields[k] != NULL; k++)
            csv_put(&t, k == 0, rows[i].fields[k], strlen(rows[i].fields[k]));
        csv_put_end(&t);
        if (!tap_ok(t.data != NULL && strcmp(t.data, rows[i].expected) == 0, "written: %s",
                    rows[i].source))
            tap_note("found %s", t.data != NULL ? t.data : "");
        text_done(&t);
    }
}

/* Behind a fault reading goes on with the next line; a line whose first byte is wrong is passed, too (once it was read again for ever). */
static void going_on(void)
{
    static const char text[] = "a,b\n\0\n1,2\n\0x,y\n3\n5,6\n\0";
    struct csv *csv = NULL;
    struct fault f = {0};
    bool is_row = true;
    int rows[8] = {0}, faults[8] = {0}, n_rows = 0, n_faults = 0;
    tap_ok(csv_open(text, sizeof text - 1, "x.csv", &csv, &f) == ERR_OK, "it opens");
    for (int i = 0; i < 8 && is_row; i++) {
        f = (struct fault){0};
        if (csv_next(csv, &is_row, &f) != ERR_OK) {
            faults[n_faults++] = f.line;
            if (csv_resume(csv, &f) != ERR_OK)
                break;
        } else if (is_row) {
            rows[n_rows++] = csv_line(csv);
        }
    }
    tap_ok(!is_row, "reading behind faults comes to the end");
    tap_ok(n_rows == 2 && rows[0] == 3 && rows[1] == 6, "the good records are lines 3 and 6");
    tap_ok(n_faults == 4 && faults[0] == 2 && faults[1] == 4 && faults[2] == 5 && faults[3] == 7,
           "the wrong ones are lines 2, 4, 5 and 7");
    csv_close(csv);
}

int main(void)
{
    rfc_rows();
    going_on();
    our_rows();
    refusals();
    sizes();
    columns();
    files();
    writing();
    return tap_done();
}

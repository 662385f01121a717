/* fault: how one line says where and what. The form file:line:column is the one editors jump to
 * (common practice). */
#include "base/fault.h"
#include "base/text.h"

#include "tap.h"

#include <stdio.h>
#include <string.h>

struct line_row {
    const char *file;
    int line, column;
    const char *path, *message, *wanted;
};

static const struct line_row line_rows[] = {
    {"a.json", 3, 7, "points[2].low", "found x", "a.json:3:7: points[2].low: found x"},
    {"a.json", 3, 0, "", "found x", "a.json:3: found x"},
    {"a.json", 0, 7, "", "found x", "a.json: found x"},
    {"a.json", 0, 0, "points", "found x", "a.json: points: found x"},
    {"-", 1, 2, "", "found x", "standard input:1:2: found x"},
    {"", 3, 7, "", "found x", "line 3, column 7: found x"},
    {"", 3, 0, "", "found x", "line 3: found x"},
    {"", 0, 0, "low", "found x", "low: found x"},
    {"", 0, 0, "", "found x", "found x"},
    {"a\nb\x1B", 1, 1, "p\x07", "found x", "a?b?:1:1: p?: found x"},
};

static void check_lines(void)
{
    for (size_t i = 0; i < sizeof line_rows / sizeof *line_rows; i++) {
        const struct line_row *r = &line_rows[i];
        struct fault f = {.line = r->line, .column = r->column};
        char buf[512];
        snprintf(f.file, sizeof f.file, "%s", r->file);
        snprintf(f.path, sizeof f.path, "%s", r->path);
        snprintf(f.message, sizeof f.message, "%s", r->message);
        fault_line(&f, buf, sizeof buf);
        if (!tap_ok(strcmp(buf, r->wanted) == 0, "line: %s",
                    i == 9 ? "control characters are shown as ?" : r->wanted))
            tap_note("found %s", buf);
    }
}

static void check_set(void)
{
    struct fault f = {.line = 4, .file = "kept"};
    tap_ok(fault_set(&f, ERR_RANGE, "found %d", 7) == ERR_RANGE && f.code == ERR_RANGE,
           "set returns its code");
    tap_ok(strcmp(f.message, "found 7") == 0 && f.line == 4 && strcmp(f.file, "kept") == 0,
           "the message is printed, the place left as it is");
    fault_set(&f, ERR_SYNTAX, "a%sb%sc", "\n", "\xFF");
    tap_ok(strcmp(f.message, "a?b?c") == 0, "line feeds and ill-formed bytes become ?");
    fault_set(&f, ERR_SYNTAX, "%s",
              "Stra\xC3\x9F"
              "e");
    tap_ok(strcmp(f.message, "Stra\xC3\x9F"
                             "e") == 0,
           "UTF-8 stays");

    struct fault empty = {.code = ERR_UNIT};
    char buf[128];
    fault_line(&empty, buf, sizeof buf);
    tap_ok(strcmp(buf, err_text(ERR_UNIT)) == 0, "without a message the code speaks");
}

static void check_cuts(void)
{
    char word[1000];
    struct fault f = {0};
    memset(word, 'x', sizeof word);
    word[sizeof word - 1] = '\0';
    fault_set(&f, ERR_LIMIT, "%s", word);
    tap_ok(strlen(f.message) == FAULT_MESSAGE_MAX - 1 &&
               strcmp(f.message + FAULT_MESSAGE_MAX - 4, "...") == 0,
           "a long message is cut and ends in ...");

    /* Three-byte characters: at least one room below falls inside a character. */
    for (size_t i = 0; i + 3 < sizeof word; i += 3)
        memcpy(word + i, "\xE2\x82\xAC", 3);
    word[999] = '\0';
    fault_set(&f, ERR_LIMIT, "%s", word);
    tap_ok(text_is_utf8(f.message, strlen(f.message), NULL) && strstr(f.message, "?") == NULL,
           "a cut falls between characters");
    bool is_good = true;
    for (size_t room = 0; room < 40; room++) {
        char buf[64];
        memset(buf, '!', sizeof buf);
        fault_line(&f, buf, room);
        is_good &= room == 0 ? buf[0] == '!' : strlen(buf) < room;
        is_good &= buf[room] == '!';
    }
    tap_ok(is_good, "a line is cut to any room from 0 to 39 bytes and never written past it");
}

int main(void)
{
    check_lines();
    check_set();
    check_cuts();
    return tap_done();
}

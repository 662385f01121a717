/* report_kept: owns the chapter of the studies that people kept for the report (desk/study_kept.h): each as it was answered then, never worked
 * out anew. The chapter is there when at least one is kept. */
#include "base/base64.h"
#include "core/date.h"
#include "desk/report_inner.h"
#include "desk/study_ask.h"
#include "desk/study_kept.h"

#include <string.h>

enum {
    BLOCKS_EACH = 64, /* of one study: its notes (at most 40), its tables and texts */
    NOTES_SHOWN = 36,
    PIECES_SHOWN = 16,
    ROWS_SHOWN = 40,                              /* of one table */
    PICTURE_TEXT_MAX = 2 * STUDY_ASK_PICTURE_MAX, /* base64 takes a third more */
    CELL_LEAST = 5,
    CELL_MOST = 34 /* characters, for the widths of columns */
};

static const char *question_of(const char *study)
{
    static const char *const all[][2] = {
        {"window", "Which builds are bad?"},
        {"life", "How long do units last?"},
        {"completion", "How many will ever come?"},
        {"held", "Did the fix hold?"},
        {"labour", "What time should be paid?"},
        {"stock", "How many kits to order?"},
        {"capability", "Do final readings keep to their limits?"},
        {"digits", "Are readings made up or copied?"},
        {"audit", "How many to look at again?"},
        {"gauge", "Can we measure this well enough?"},
    };
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        if (strcmp(all[i][0], study) == 0)
            return all[i][1];
    return study;
}

static const char *text_of(json_node *object, const char *key)
{
    json_node *node = json_get(object, key);
    const char *text = node != NULL ? json_string(node, NULL) : NULL;
    return text != NULL ? text : "";
}

/* ---- a table ----------------------------------------------------------------------------------- */

static const char *cell_of(json_node *row, size_t k)
{
    json_node *cell = json_at(row, k);
    const char *text = cell != NULL ? json_string(cell, NULL) : NULL;
    return text != NULL ? text : "";
}

static void widen(double *width, const char *text)
{
    const double n = (double)text_columns(text, strlen(text));
    const double held = n < CELL_LEAST ? CELL_LEAST : n > CELL_MOST ? CELL_MOST : n;
    *width = held > *width ? held : *width;
}

/* Columns as wide as what stands in them, and turned as the command turns them. */
static struct report_column *columns_of(struct report_run *r, json_node *table, size_t n,
                                        size_t n_rows)
{
    struct report_column *columns = arena_get(&r->arena, n * sizeof *columns);
    json_node *head = json_get(table, "head"), *rows = json_get(table, "rows");
    const char *align = text_of(table, "align");
    double all = 0;
    for (size_t k = 0; columns != NULL && k < n; k++) {
        columns[k] = (struct report_column){.head = report_say(r, "%s", cell_of(head, k)),
                                            .is_right = align[k] == 'r' || align[k] == '.'};
        widen(&columns[k].share, cell_of(head, k));
        for (size_t i = 0; i < n_rows; i++)
            widen(&columns[k].share, cell_of(json_at(rows, i), k));
        all += columns[k].share;
    }
    for (size_t k = 0; columns != NULL && k < n; k++)
        columns[k].share /= all;
    return columns;
}

static void put_table(struct report_run *r, json_node *table)
{
    json_node *rows = json_get(table, "rows");
    const size_t n = strnlen(text_of(table, "align"), REPORT_COLUMNS_MAX);
    const size_t n_all = json_size(rows);
    struct report_rows t;
    if (n == 0 || n_all == 0)
        return;
    size_t n_rows = n_all;
    if (n_rows > ROWS_SHOWN)
        n_rows = ROWS_SHOWN;
    const struct report_column *columns = columns_of(r, table, n, n_rows);
    if (columns == NULL)
        return;
    report_rows_begin(&t, r, columns, n, n_rows);
    for (size_t i = 0; i < n_rows; i++)
        for (size_t k = 0; k < n; k++)
            report_cell(&t, "%s", cell_of(json_at(rows, i), k));
    report_rows_end(&t, n_rows < n_all ? report_say(r, "... and %s more rows.",
                                                    report_count(r, (int64_t)(n_all - n_rows)))
                                       : NULL);
}

/* ---- a study ------------------------------------------------------------------------------------- */

static void put_said(struct report_run *r, json_node *said)
{
    for (size_t i = 0; i < json_size(said) && i < PIECES_SHOWN; i++) {
        json_node *piece = json_at(said, i);
        const char *kind = text_of(piece, "kind");
        if (strcmp(kind, "table") == 0)
            put_table(r, piece);
        else
            report_put(r, strcmp(kind, "verdict") == 0 ? REPORT_SENTENCE : REPORT_TEXT, "%s",
                       text_of(piece, "text"));
    }
}

static void put_picture(struct report_run *r, const struct study_kept *kept)
{
    json_node *node = json_get(kept->run, "png");
    size_t n = 0;
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    struct text png = {0};
    if (text != NULL && n <= PICTURE_TEXT_MAX && base64_read(text, n, &png) == ERR_OK &&
        !png.is_broken && png.size > 0) {
        const char *bytes = arena_text(&r->arena, png.data, png.size);
        struct report_block *b = report_add(r, REPORT_PICTURE, report_say(r, "%s", kept->sentence));
        b->picture = bytes;
        b->picture_n = bytes != NULL ? png.size : 0;
    }
    r->arena.is_broken |= png.is_broken;
    text_done(&png);
}

static void put_notes(struct report_run *r, json_node *notes)
{
    static const char *const words[][2] = {
        {"caveat", "Take care"}, {"assumed", "Taken for granted"}, {"checked", "Looked at"}};
    size_t n = 0;
    for (size_t k = 0; k < sizeof words / sizeof *words; k++)
        for (size_t i = 0; i < json_size(notes) && n < NOTES_SHOWN; i++)
            if (strcmp(text_of(json_at(notes, i), "kind"), words[k][0]) == 0) {
                report_put(r, REPORT_POINT, "%s: %s", words[k][1],
                           text_of(json_at(notes, i), "text"));
                n++;
            }
}

static const char *moment(struct report_run *r, int64_t ms)
{
    const int64_t of_day = ms % 86400000;
    return report_say(r, "%s, %02d:%02d UTC", report_day(r, (int32_t)(ms / 86400000)),
                      (int)(of_day / 3600000), (int)(of_day / 60000 % 60));
}

static bool put_kept(void *me, const struct study_kept *kept)
{
    struct report_run *r = me;
    if (r->n_kept++ == 0) {
        report_section_of(r, "kept", "Studies kept for this report", true,
                          STUDY_KEPT_MAX * BLOCKS_EACH + 1);
        (void)report_add(r, REPORT_TEXT,
                         "Each stands as it was answered on its day. What the store has learnt "
                         "since is in the other chapters, not in these.");
    }
    if (r->arena.is_broken)
        return false;
    report_put(r, REPORT_HEADING, "%s", question_of(kept->study));
    put_said(r, json_get(kept->run, "said"));
    if (kept->note[0] != '\0')
        report_put(r, REPORT_TEXT, "%s notes: %s", kept->person, kept->note);
    put_picture(r, kept);
    put_notes(r, json_get(json_get(kept->run, "answer"), "assumptions"));
    report_put(r, REPORT_SMALL, "Kept by %s on %s. Asked by: %s. SHA-256 of the answer: %s",
               kept->person, moment(r, kept->at_ms), kept->command, kept->sha256);
    return true;
}

enum err report_kept(struct report_run *r)
{
    return study_kept_each(r->store, r->b->head.id, put_kept, r, r->f);
}

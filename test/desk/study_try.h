/* study_try: a study's figures held against published ones, on a CSV file written in the test. */
#ifndef TEST_DESK_STUDY_TRY_H
#define TEST_DESK_STUDY_TRY_H

#include "desk/study_table.h"
#include "stat/near.h"

#include <string.h>

/* The table, or NULL after a failed test. The caller frees it. */
static inline struct study_table *try_table(const char *csv, const struct study_want *wants,
                                            size_t n)
{
    struct study_table *t = NULL;
    struct fault f = {0};
    char line[800];
    if (study_table_parse(csv, strlen(csv), "x.csv", wants, n, &t, &f) != ERR_OK) {
        fault_line(&f, line, sizeof line);
        tap_ok(false, "the table is read: %s", line);
    }
    return t;
}

static inline bool try_has_note(const struct study_notes *notes, enum study_note_kind kind,
                                const char *part)
{
    for (size_t i = 0; i < notes->n; i++)
        if (notes->at[i].kind == kind && strstr(notes->at[i].text, part) != NULL)
            return true;
    return false;
}

#endif

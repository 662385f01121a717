/* table: reads the tab-separated tables of test/tables: '#' starts a comment line, cells are raw text.
 * TEST_TABLES is their folder, set by the build. The same files are read by the WebAssembly tests. */
#ifndef TEST_TABLE_H
#define TEST_TABLE_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TABLE_CELLS_MAX = 8, TABLE_LINE_MAX = 1024 };

struct table {
    FILE *file;
    char line[TABLE_LINE_MAX];
    char *cells[TABLE_CELLS_MAX];
    int n_cells;
};

/* A table that is not there ends the test: no row may be lost silently. */
static inline void table_open(struct table *t, const char *name)
{
    char path[TABLE_LINE_MAX];
    snprintf(path, sizeof path, "%s/%s", TEST_TABLES, name);
    t->file = fopen(path, "r");
    if (t->file == NULL) {
        printf("Bail out! %s cannot be opened\n", path);
        exit(2);
    }
}

static inline bool table_next(struct table *t, int n_cells)
{
    do {
        if (fgets(t->line, sizeof t->line, t->file) == NULL) {
            fclose(t->file);
            return false;
        }
    } while (t->line[0] == '#');
    t->line[strcspn(t->line, "\n")] = '\0';
    t->n_cells = 0;
    for (char *at = t->line; at != NULL && t->n_cells < TABLE_CELLS_MAX;) {
        char *tab = strchr(at, '\t');
        if (tab != NULL)
            *tab++ = '\0';
        t->cells[t->n_cells++] = at;
        at = tab;
    }
    if (t->n_cells != n_cells) {
        printf("Bail out! a row has %d cells, expected %d: %s\n", t->n_cells, n_cells, t->line);
        exit(2);
    }
    return true;
}

/* A small seeded generator, so that every run and every machine sees the same cases. */
static inline unsigned long long table_random(unsigned long long *state)
{
    *state += 0x9e3779b97f4a7c15u; /* SplitMix64, Steele, Lea & Flood 2014 */
    unsigned long long z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

#endif

/* faults: owns the list of what is wrong with one bulletin, bounded so that a hostile file cannot
 * fill the memory. */
#include "bulletin/faults.h"

#include <stdio.h>
#include <stdlib.h>

/* Room is reserved once, when the first of a kind arrives. */
static void add(struct fault **items, size_t *n, size_t *n_more, bool *is_out_of_memory,
                const struct fault *f)
{
    if (*n == FAULTS_MAX) {
        (*n_more)++;
        return;
    }
    if (*items == NULL)
        *items = malloc(FAULTS_MAX * sizeof **items);
    if (*items == NULL) {
        *is_out_of_memory = true;
        (*n_more)++;
        return;
    }
    (*items)[(*n)++] = *f;
}

void fault_list_add(struct fault_list *list, const struct fault *f, bool is_warning)
{
    if (is_warning)
        add(&list->warnings, &list->n_warnings, &list->n_more_warnings, &list->is_out_of_memory, f);
    else
        add(&list->faults, &list->n_faults, &list->n_more_faults, &list->is_out_of_memory, f);
}

void fault_list_unreadable(struct fault_list *list, const struct fault *f)
{
    fault_list_add(list, f, false);
    list->is_unreadable = true;
}

void fault_list_no_memory(struct fault_list *list, const char *name)
{
    struct fault f = {0};
    snprintf(f.file, sizeof f.file, "%s", name);
    fault_no_memory(&f);
    fault_list_unreadable(list, &f);
    list->is_out_of_memory = true;
}

static bool is_after(const struct fault *a, const struct fault *b)
{
    return a->line != b->line ? a->line > b->line : a->column > b->column;
}

/* Insertion sort: stable, nearly sorted already, at most FAULTS_MAX items. */
static void sort(struct fault *items, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        const struct fault moved = items[i];
        size_t k = i;
        for (; k > 0 && is_after(&items[k - 1], &moved); k--)
            items[k] = items[k - 1];
        items[k] = moved;
    }
}

void fault_list_sort(struct fault_list *list)
{
    sort(list->faults, list->n_faults);
    sort(list->warnings, list->n_warnings);
}

static void put_faults(struct jsonw *w, const char *key, const struct fault *faults, size_t n)
{
    jsonw_array(w, key);
    for (size_t i = 0; i < n; i++) {
        jsonw_object(w, NULL);
        jsonw_int(w, "line", faults[i].line);
        jsonw_int(w, "column", faults[i].column);
        jsonw_string(w, "path", faults[i].path);
        jsonw_string(w, "message", faults[i].message);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

void fault_list_tell(const struct fault_list *list, struct jsonw *w)
{
    put_faults(w, "faults", list->faults, list->n_faults);
    put_faults(w, "warnings", list->warnings, list->n_warnings);
    jsonw_int(w, "more_faults", (int64_t)list->n_more_faults);
    jsonw_int(w, "more_warnings", (int64_t)list->n_more_warnings);
}

void fault_list_done(struct fault_list *list)
{
    free(list->faults);
    free(list->warnings);
    *list = (struct fault_list){0};
}

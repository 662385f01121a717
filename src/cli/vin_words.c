/* vin_words: owns the words and the JSON for one VIN, and the list of known ones. */
#include "cli/vin_words.h"

#include "base/file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_edge(char c)
{
    return c == ' ' || c == '\t' || c == '-';
}

/* How many blanks and dashes stand before the VIN. */
static size_t edge_size(const char *text, size_t n)
{
    size_t i = 0;
    while (i < n && is_edge(text[i]))
        i++;
    return i;
}

enum err vin_text_start(const char *head, size_t n, size_t *ret_mark, struct fault *reterr)
{
    if (n >= 2 && (memcmp(head, "\xff\xfe", 2) == 0 || memcmp(head, "\xfe\xff", 2) == 0))
        return fault_set(reterr, ERR_ENCODING,
                         "found UTF-16 text; expected UTF-8 or ASCII, one VIN a line");
    const char *nul = n > 0 ? memchr(head, '\0', n) : NULL;
    if (nul != NULL)
        return fault_set(reterr, ERR_ENCODING,
                         "found a zero byte at offset %zu; expected text, one VIN a line",
                         (size_t)(nul - head));
    *ret_mark = n >= 3 && memcmp(head, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    return ERR_OK;
}

/* ---- the list of known VINs --------------------------------------------------------------------
 */

static int compare(const void *a, const void *b)
{
    return memcmp(a, b, VIN_SIZE);
}

static enum err add_line(struct vin_list *list, const char *line, size_t n, int number,
                         struct fault *reterr)
{
    if (n > 0 && line[n - 1] == '\r')
        n--;
    if (edge_size(line, n) == n)
        return ERR_OK;
    struct vin_verdict v;
    vin_check(line, n, &v);
    reterr->line = number;
    reterr->column = (int)v.at + 1;
    if (v.fault == VIN_FAULT_LENGTH)
        return fault_set(reterr, ERR_SYNTAX, "found %zu character%s; expected a VIN of %d", n,
                         n == 1 ? "" : "s", (int)VIN_SIZE);
    if (v.fault == VIN_FAULT_CHARACTER)
        return fault_set(reterr, ERR_SYNTAX,
                         "found '%c'; expected digits and letters without I, O, Q",
                         v.vin[v.at - edge_size(line, n)]);
    memcpy(list->vins[list->n], v.vin, sizeof v.vin);
    list->n++;
    return ERR_OK;
}

static enum err add_lines(struct vin_list *list, const struct text *t, struct fault *reterr)
{
    size_t mark = 0;
    enum err e = vin_text_start(t->data, t->size, &mark, reterr);
    const char *at = t->data + mark, *end = t->data + t->size;
    for (int number = 1; at < end && e == ERR_OK; number++) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        if (stop == NULL)
            stop = end;
        e = add_line(list, at, (size_t)(stop - at), number, reterr);
        at = stop + 1;
    }
    return e;
}

static enum err fill_list(struct vin_list *list, const struct text *t, struct fault *reterr)
{
    list->vins = malloc((t->size / VIN_SIZE + 1) * sizeof *list->vins);
    if (list->vins == NULL)
        return fault_no_memory(reterr);
    const enum err e = t->size > 0 ? add_lines(list, t, reterr) : ERR_OK;
    if (e != ERR_OK)
        return e;
    if (list->n == 0)
        return fault_set(reterr, ERR_EMPTY, "holds no VIN; expected one a line");
    qsort(list->vins, list->n, sizeof *list->vins, compare);
    return ERR_OK;
}

enum err vin_list_read(const char *path, struct vin_list *ret, struct fault *reterr)
{
    struct text t = {0};
    struct vin_list list = {0};
    *reterr = (struct fault){0};
    snprintf(reterr->file, sizeof reterr->file, "%s", path);
    enum err e = file_read(path, VIN_LIST_MAX, &t, reterr);
    if (e == ERR_OK)
        e = fill_list(&list, &t, reterr);
    text_done(&t);
    if (e == ERR_OK)
        *ret = list;
    else
        vin_list_done(&list);
    return e;
}

void vin_list_done(struct vin_list *list)
{
    free(list->vins);
    *list = (struct vin_list){0};
}

bool vin_list_has(const struct vin_list *list, const char *vin)
{
    return list->vins != NULL &&
           bsearch(vin, list->vins, list->n, sizeof *list->vins, compare) != NULL;
}

/* ---- words -------------------------------------------------------------------------------------
 */

void vin_case_judge(struct vin_case *c, const char *text, size_t n, const struct vin_list *known)
{
    c->text = text;
    c->n = n;
    vin_check(text, n, &c->verdict);
    c->n_repairs = vin_repair(text, n, known ? (const char(*)[VIN_SIZE + 1]) known->vins : NULL,
                              known ? known->n : 0, c->repairs);
}

void vin_case_overlong(struct vin_case *c, const char *head, size_t n)
{
    *c = (struct vin_case){.text = head, .n = n};
    c->verdict.fault = VIN_FAULT_LENGTH;
    c->verdict.at = VIN_SIZE;
}

void vin_case_shown(const struct vin_case *c, struct text *t)
{
    if (c->verdict.fault != VIN_FAULT_LENGTH) {
        text_puts(t, c->verdict.vin);
        return;
    }
    char shown[VIN_TEXT_MAX];
    size_t n = c->n < sizeof shown ? c->n : sizeof shown;
    for (size_t i = 0; i < n; i++)
        shown[i] =
            c->text[i] >= 'a' && c->text[i] <= 'z' ? (char)(c->text[i] - 'a' + 'A') : c->text[i];
    text_add(t, shown, text_clean(shown, n, false));
}

/* Bytes between the blanks and dashes around the VIN; all of them for a text too long to be kept.
 */
static size_t count_characters(const struct vin_case *c)
{
    if (c->n > VIN_TEXT_MAX)
        return c->n;
    size_t end = c->n;
    while (end > 0 && is_edge(c->text[end - 1]))
        end--;
    return end - edge_size(c->text, end);
}

static int position(const struct vin_case *c)
{
    return (int)(c->verdict.at - edge_size(c->text, c->n)) + 1;
}

static bool is_ascii(const struct vin_case *c)
{
    for (size_t i = 0; i < c->n && i < VIN_TEXT_MAX; i++)
        if (c->text[i] < ' ' || c->text[i] > '~')
            return false;
    return true;
}

void vin_case_brief(const struct vin_case *c, struct text *t)
{
    const struct vin_verdict *v = &c->verdict;
    if (v->fault == VIN_FAULT_LENGTH && !is_ascii(c))
        text_puts(t, "not digits and letters alone");
    else if (v->fault == VIN_FAULT_LENGTH)
        text_printf(t, "%zu characters, expected 17", count_characters(c));
    else if (v->fault == VIN_FAULT_CHARACTER)
        text_printf(t, "%c at position %d", v->vin[position(c) - 1], position(c));
    else if (v->is_filler)
        text_puts(t, "a filler, one digit 17 times");
    else if (v->fault == VIN_FAULT_CHECK)
        text_printf(t, "check digit %c, expected %c", v->check_found, v->check_expected);
}

bool vin_is_character(char c)
{
    return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z' && c != 'I' && c != 'O' && c != 'Q');
}

/* "Position 10 holds O, position 13 holds I" */
static void add_bad_characters(const struct vin_verdict *v, struct text *t)
{
    const char *start = "Position";
    for (int i = 0; i < VIN_SIZE; i++)
        if (!vin_is_character(v->vin[i])) {
            text_printf(t, "%s %d holds %c", start, i + 1, v->vin[i]);
            start = ", position";
        }
}

void vin_case_reason(const struct vin_case *c, struct text *t)
{
    const struct vin_verdict *v = &c->verdict;
    if (v->fault == VIN_FAULT_LENGTH) {
        const size_t n = count_characters(c);
        if (n == 0)
            text_puts(t, "There is nothing in it; a VIN has 17 characters");
        else if (!is_ascii(c))
            text_puts(t, "It is not made of digits and letters alone; a VIN has 17 of them");
        else
            text_printf(t, "It has %zu character%s; a VIN has 17", n, n == 1 ? "" : "s");
    } else if (v->fault == VIN_FAULT_CHARACTER) {
        add_bad_characters(v, t);
        text_puts(t, "; a VIN has digits and letters without I, O and Q");
    } else if (v->is_filler) {
        text_puts(t, "Seventeen equal digits always pass the arithmetic, so the check digit proves "
                     "nothing; no vehicle bears them");
    } else if (v->fault == VIN_FAULT_CHECK) {
        text_printf(t, "Position 9, the check digit, holds %c; the other characters ask for %c",
                    v->check_found, v->check_expected);
    }
}

void vin_case_repair_why(const struct vin_case *c, const struct vin_repair *r, struct text *t)
{
    if (r->kind == VIN_REPAIR_SWAP) {
        text_printf(t, "positions %d and %d: %c%c read as %c%c", r->at, r->at + 1, r->now, r->was,
                    r->was, r->now);
        return;
    }
    const char *between = "";
    for (int i = 0; i < VIN_SIZE; i++) {
        const char was = c->verdict.vin[i], now = r->vin[i];
        if (was == now)
            continue;
        text_printf(t, "%sposition %d: %c read as %c", between, i + 1, now, was);
        between = "; ";
    }
    if (r->kind == VIN_REPAIR_KNOWN)
        text_puts(t, "; it is in the list");
}

/* ---- JSON --------------------------------------------------------------------------------------
 */

static void json_char(struct jsonw *w, const char *key, char c)
{
    if (c == '\0')
        jsonw_null(w, key);
    else
        jsonw_string_n(w, key, &c, 1);
}

static void json_repairs(const struct vin_case *c, struct jsonw *w)
{
    static const char *const kinds[] = {
        [VIN_REPAIR_MISREAD] = "misread", [VIN_REPAIR_SWAP] = "swap", [VIN_REPAIR_KNOWN] = "known"};
    struct text t = {0};
    jsonw_array(w, "repairs");
    for (size_t i = 0; i < c->n_repairs; i++) {
        const struct vin_repair *r = &c->repairs[i];
        text_clear(&t);
        vin_case_repair_why(c, r, &t);
        jsonw_object(w, NULL);
        jsonw_string(w, "vin", r->vin);
        jsonw_string(w, "why", t.data);
        jsonw_string(w, "kind", kinds[r->kind]);
        jsonw_int(w, "position", r->at);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    w->out->is_broken |= t.is_broken;
    text_done(&t);
}

void vin_verdict_json(const struct vin_verdict *v, struct jsonw *w)
{
    jsonw_bool(w, "valid", v->fault == VIN_FAULT_NONE);
    json_char(w, "check_expected", v->check_expected);
    json_char(w, "check_found", v->check_found);
    jsonw_array(w, "model_years");
    for (int i = 0; i < v->n_years; i++)
        jsonw_int(w, NULL, v->years[i]);
    jsonw_array_end(w);
    jsonw_string(w, "fault", vin_fault_name(v->fault));
}

void vin_case_json(const struct vin_case *c, uint64_t line, const struct vin_list *known,
                   struct jsonw *w)
{
    const struct vin_verdict *v = &c->verdict;
    struct text t = {0};
    jsonw_object(w, NULL);
    if (line > 0)
        jsonw_int(w, "line", (int64_t)line);
    vin_case_shown(c, &t);
    jsonw_string_n(w, "vin", t.size > 0 ? t.data : "", t.size);
    vin_verdict_json(v, w);
    text_clear(&t);
    vin_case_reason(c, &t);
    jsonw_string(w, "reason", v->fault == VIN_FAULT_NONE ? NULL : t.data);
    if (known != NULL)
        jsonw_bool(w, "known", v->vin[0] != '\0' && vin_list_has(known, v->vin));
    json_repairs(c, w);
    jsonw_object_end(w);
    w->out->is_broken |= t.is_broken;
    text_done(&t);
}

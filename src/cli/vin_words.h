/* vin_words: what the vin verb says of one VIN, in words and in JSON; shared by the single answer
 * and the batch. */
#ifndef CLI_VIN_WORDS_H
#define CLI_VIN_WORDS_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "core/vin.h"

/* vin_text_start: the first bytes of a file with one VIN a line tell what is no text at all. *ret_mark: the size
 * of a byte order mark to pass over. Errors: ERR_ENCODING (UTF-16, a zero byte within head[0..n)). */
MUST_USE enum err vin_text_start(const char *head, size_t n, size_t *ret_mark,
                                 struct fault *reterr);

/* The list of --known: vins[n] in byte order, upper case; NULL when there is none. */
struct vin_list {
    char (*vins)[VIN_SIZE + 1];
    size_t n;
};

/* vin_list_read: one VIN a line, upper- or lower-case, empty lines free, at most VIN_LIST_MAX bytes
 * ("-": standard input). Their characters are checked, their check digits are not: a list says what
 * exists. The caller's, vin_list_done frees it. Errors: as file_read and
 * vin_text_start; ERR_SYNTAX with the line; ERR_EMPTY. */
enum { VIN_LIST_MAX = 64 * 1024 * 1024 };
MUST_USE enum err vin_list_read(const char *path, struct vin_list *ret, struct fault *reterr);
void vin_list_done(struct vin_list *list);
bool vin_list_has(const struct vin_list *list, const char *vin);

/* One judged VIN: the text as it was read, what is wrong, and what it may have been. */
struct vin_case {
    const char *text; /* borrowed; at most VIN_TEXT_MAX bytes are shown */
    size_t n;         /* its size, which may be larger than what is there to show */
    struct vin_verdict verdict;
    size_t n_repairs;
    struct vin_repair repairs[VIN_REPAIRS_MAX];
};

void vin_case_judge(struct vin_case *c, const char *text, size_t n, const struct vin_list *known);

/* A line of n bytes, more than anyone wants to keep: only head[VIN_TEXT_MAX] is there. */
void vin_case_overlong(struct vin_case *c, const char *head, size_t n);

/* The text as read, upper-cased, fit to be shown, cut to VIN_TEXT_MAX, into t. */
void vin_case_shown(const struct vin_case *c, struct text *t);

/* Why it is faulty: a few words ("check digit 5, expected 4") or a sentence without full stop. */
void vin_case_brief(const struct vin_case *c, struct text *t);
void vin_case_reason(const struct vin_case *c, struct text *t);

/* Whether an upper-case character may stand in a VIN at all. */
bool vin_is_character(char c);

/* How a repair differs from what was read: "position 7: 0 read as Q". */
void vin_case_repair_why(const struct vin_case *c, const struct vin_repair *r, struct text *t);

/* The members that every verb shows of a VIN: valid, check_expected, check_found, model_years, fault. */
void vin_verdict_json(const struct vin_verdict *v, struct jsonw *w);

/* One object as the contract has it. line 0: left out. known NULL: no "known" field. */
void vin_case_json(const struct vin_case *c, uint64_t line, const struct vin_list *known,
                   struct jsonw *w);

#endif

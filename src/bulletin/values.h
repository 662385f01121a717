/* values: reads single values of a bulletin (numbers, dates, money, words, texts) from what is
 * written. */
#ifndef BULLETIN_VALUES_H
#define BULLETIN_VALUES_H

#include "bulletin/schema.h"

/* Each returns ERR_OK and writes *ret, or says in why[FAULT_MESSAGE_MAX] what is wrong when that is
 * more than "expected X, found Y" ("" otherwise). s[0..n) needs no NUL. */
MUST_USE enum err value_int(const char *s, size_t n, int64_t min, int64_t max, int32_t *ret,
                            char *why);
MUST_USE enum err value_real(const char *s, size_t n, int64_t min, int64_t max, double *ret,
                             char *why);
MUST_USE enum err value_money(const char *s, size_t n, const char *currency, int digits,
                              int64_t *ret, char *why);
MUST_USE enum err value_share(const char *s, size_t n, struct bulletin_share *ret, char *why);
MUST_USE enum err value_amount(const char *s, size_t n, enum dim dim, int64_t min, int64_t max,
                               struct bulletin_amount *ret, char *why);
MUST_USE enum err value_time(const char *s, size_t n, int64_t min, int64_t max, int64_t *ret_s,
                             char *why);
MUST_USE enum err value_date(const char *s, size_t n, int32_t *ret, char *why);
MUST_USE enum err value_days(const char *s, size_t n, struct bulletin_days *ret, char *why);
MUST_USE enum err value_id(const char *s, size_t n, char *why);
MUST_USE enum err value_code(const char *s, size_t n, char *why);
MUST_USE enum err value_language(const char *s, size_t n);

#endif

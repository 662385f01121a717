/* words: owns the table of our own words; see words.h. */
#include "draw/words.h"

#include <string.h>

static const char *const table[W_N][WORDS_LANGUAGE_N] = {
#define X(symbol, en, es, fr) [symbol] = {en, es, fr},
    WORDS_TABLE(X)
#undef X
};

static const char *const tags[WORDS_LANGUAGE_N] = {"en", "es", "fr"};

const char *words_of(enum words word, enum words_language language)
{
    return table[word][language];
}

enum words_language words_language(const char *tag)
{
    for (int i = 0; i < WORDS_LANGUAGE_N; i++)
        if (strncmp(tag, tags[i], 2) == 0 && (tag[2] == '\0' || tag[2] == '-'))
            return (enum words_language)i;
    return WORDS_EN;
}

const char *words_language_tag(enum words_language language)
{
    return tags[language];
}

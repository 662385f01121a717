/* letter_words: owns the table of the words of letters. */
#include "draw/letter.h"

#include "draw/letter_words.h"

#include <string.h>

static const char *const table[L_N][WORDS_LANGUAGE_N] = {
#define X(symbol, en, es, fr) [symbol] = {en, es, fr},
    LETTER_TABLE(X)
#undef X
};

static const struct {
    const char *rule, *es, *fr;
} cures[] = {
#define X(rule, es, fr) {rule, es, fr},
    LETTER_CURES(X)
#undef X
};

const char *letter_word(enum letter_word word, enum words_language language)
{
    return table[word][language];
}

const char *letter_cure(const struct letter_item *item, enum words_language language)
{
    if (language == WORDS_EN)
        return item->cure;
    for (size_t i = 0; i < sizeof cures / sizeof *cures; i++)
        if (strcmp(cures[i].rule, item->rule) == 0)
            return language == WORDS_ES ? cures[i].es : cures[i].fr;
    return item->cure;
}

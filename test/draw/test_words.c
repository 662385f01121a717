/* words: our own words are whole in every language: none empty, the same places to put something in, no control character. */
#include "base/text.h"
#include "draw/words.h"
#include "tap.h"

#include <string.h>

static int places(const char *s)
{
    int n = 0;
    for (; *s != '\0'; s++)
        n += s[0] == '%' && s[1] == 's';
    return n;
}

int main(void)
{
    for (int language = 0; language < WORDS_LANGUAGE_N; language++) {
        int n_whole = 0, n_places = 0, n_clean = 0;
        for (int word = 0; word < W_N; word++) {
            const char *own = words_of((enum words)word, (enum words_language)language);
            char copy[600];
            n_whole += own[0] != '\0' && text_is_utf8(own, strlen(own), NULL);
            n_places += places(own) == places(words_of((enum words)word, WORDS_EN));
            snprintf(copy, sizeof copy, "%s", own);
            n_clean +=
                text_clean(copy, strlen(copy), false) == strlen(own) && strcmp(copy, own) == 0;
        }
        const char *tag = words_language_tag((enum words_language)language);
        tap_ok(n_whole == W_N, "%s: %d of %d words are there", tag, n_whole, (int)W_N);
        tap_ok(n_places == W_N, "%s: %d of %d have the places of the English", tag, n_places,
               (int)W_N);
        tap_ok(n_clean == W_N, "%s: %d of %d hold plain characters only", tag, n_clean, (int)W_N);
    }
    /* Tags: RFC 5646, the first subtag is the language. */
    tap_ok(words_language("fr-CA") == WORDS_FR && words_language("es") == WORDS_ES,
           "fr-CA is French, es Spanish");
    tap_ok(words_language("est") == WORDS_EN && words_language("") == WORDS_EN &&
               words_language("e") == WORDS_EN,
           "est (Estonian), nothing and half a tag are none of ours: English");
    return tap_done();
}

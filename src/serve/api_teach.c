/* api_teach: the paper to teach by, of a bulletin that is kept. What stands on it is draw/teach. */
#include "desk/teaching.h"
#include "serve/api.h"

#include <string.h>

/* A query's word; `usual` when it is not given. NULL: a problem is set. */
static const char *word(struct http_call *c, const char *name, const char *usual, const char *other)
{
    const char *given = http_query(c, name);
    if (given == NULL || strcmp(given, usual) == 0)
        return usual;
    if (strcmp(given, other) == 0)
        return other;
    http_problem(c, 400, "word", "\"%s\" must be %s or %s", name, usual, other);
    return NULL;
}

static void give(struct http_call *c, enum teach_kind kind)
{
    struct fault f = {0};
    struct teach_made made;
    const int64_t revision = api_number(c, "revision", c->args[1], 0, 1000000);
    const char *language = http_query(c, "language");
    const char *paper = c->status == 0 ? word(c, "paper", "a4", "letter") : NULL;
    const char *per_page = paper != NULL ? word(c, "per_page", "4", "2") : NULL;
    const char *back = per_page != NULL ? word(c, "back", "0", "1") : NULL;
    if (back == NULL)
        return;
    if (language != NULL && (strlen(language) < 2 || strlen(language) > 35)) {
        http_problem(c, 400, "word", "\"language\" must be a language tag such as en, es or fr");
        return;
    }
    const struct teach_order order = {
        .language = language,
        .kind = kind,
        .size = strcmp(paper, "letter") == 0 ? PAPER_LETTER : PAPER_A4,
        .per_page = per_page[0] == '2' ? 2 : 4,
        .has_back = back[0] == '1',
    };
    text_clear(&c->answer);
    c->type = "application/pdf";
    if (teaching_paper(c->door->store, c->args[0], revision, &order, &c->answer, &made, &f) !=
        ERR_OK)
        http_problem_fault(c, &f);
}

void api_cards(struct http_call *c)
{
    give(c, TEACH_CARDS);
}

void api_crib(struct http_call *c)
{
    give(c, TEACH_CRIB);
}

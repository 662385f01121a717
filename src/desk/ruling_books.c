/* ruling_books: owns which revision of which bulletin claims are ruled by. */
#include "desk/ruling_inner.h"

#include <stdlib.h>
#include <string.h>

struct books_reader {
    struct ruling_books *books;
    size_t room;
    const struct bulletin *given;
    enum err err;
    struct fault *f;
};

static struct ruling_book *add_book(struct books_reader *r)
{
    if (r->books->n == r->room) {
        const size_t room = r->room > 0 ? 2 * r->room : 4;
        struct ruling_book *more = realloc(r->books->at, room * sizeof *more);
        if (more == NULL)
            return NULL;
        r->books->at = more;
        r->room = room;
    }
    struct ruling_book *b = &r->books->at[r->books->n++];
    *b = (struct ruling_book){0};
    return b;
}

/* `owned` is the book's from here on, also after an error. */
static enum err put_book(struct books_reader *r, const struct bulletin *bulletin,
                         struct bulletin *owned, const uint8_t sha256[STORE_DIGEST])
{
    char hex[DIGEST_HEX_ROOM];
    struct ruling_book *b = add_book(r);
    if (b == NULL) {
        bulletin_free(owned);
        return fault_no_memory(r->f);
    }
    *b = (struct ruling_book){.id = bulletin->head.id, .owned = owned, .bulletin = bulletin};
    digest_hex(sha256, STORE_DIGEST, hex);
    const enum err err = rule_book_new(bulletin, hex, &b->book, r->f);
    if (err == ERR_OK || err == ERR_MEMORY)
        return err;
    bulletin_free(owned); /* one that cannot be ruled by is none */
    r->books->n--;
    return ERR_OK;
}

/* They come by name and revision, so the last of a name is the newest. */
static bool see_paper(void *me, const struct store_paper *p)
{
    struct books_reader *r = me;
    struct fault_list faults = {0};
    if (r->given != NULL && strcmp(r->given->head.id, p->name) == 0)
        return true;
    struct bulletin *b = bulletin_load(p->text, p->n, p->name, &faults);
    fault_list_done(&faults);
    if (b == NULL)
        return true;
    struct ruling_books *books = r->books;
    if (books->n > 0 && strcmp(books->at[books->n - 1].id, b->head.id) == 0) {
        rule_book_free(books->at[books->n - 1].book);
        bulletin_free(books->at[books->n - 1].owned);
        books->n--;
    }
    r->err = put_book(r, b, b, p->sha256);
    return r->err == ERR_OK;
}

enum err ruling_books_open(struct store *store, const struct ruling_order *order,
                           struct ruling_books *ret, struct fault *reterr)
{
    struct books_reader r = {.books = ret, .given = order->bulletin, .f = reterr};
    uint8_t sha256[STORE_DIGEST];
    *ret = (struct ruling_books){0};
    enum err err = store_papers(store, "bulletin", NULL, true, see_paper, &r, reterr);
    if (err == ERR_OK)
        err = r.err;
    if (err == ERR_OK && order->bulletin != NULL) {
        err = digest_bytes(DIGEST_SHA256, order->bulletin_text, order->bulletin_size, sha256);
        err = err == ERR_OK ? put_book(&r, order->bulletin, NULL, sha256) : fault_no_memory(reterr);
    }
    if (err == ERR_OK && ret->n == 0)
        err = fault_set(reterr, ERR_EMPTY,
                        "the store keeps no bulletin to rule by; give one with --bulletin FILE");
    if (err != ERR_OK)
        ruling_books_close(ret);
    return err;
}

void ruling_books_close(struct ruling_books *books)
{
    for (size_t i = 0; i < books->n; i++) {
        rule_book_free(books->at[i].book);
        bulletin_free(books->at[i].owned);
    }
    free(books->at);
    *books = (struct ruling_books){0};
}

const struct ruling_book *ruling_books_find(const struct ruling_books *books, const char *id)
{
    for (size_t i = 0; i < books->n; i++)
        if (strcmp(books->at[i].id, id) == 0)
            return &books->at[i];
    return NULL;
}

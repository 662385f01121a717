/* audit: who did what, the newest first: words over the rules, what was taken back, payments, notes and papers as the log has them; people
 * let in, changed, given a link, revoked and forgotten as people.db has them; lists brought in.
 *
 * The log does not say who put a paper there, since it forgets nothing and people are to be forgotten on request. So whoever keeps a
 * paper from the pages notes it beside the people (audit_note_paper), by its entry in the log. An act whose who is NULL was done at the
 * command line, by somebody who may use the store's folder, or before such notes were kept. */
#ifndef DESK_AUDIT_H
#define DESK_AUDIT_H

#include "base/jsonw.h"
#include "bulletin/arena.h"
#include "desk/signin.h"

struct store;

enum { AUDIT_LIMIT_MAX = 500, AUDIT_LIMIT = 100, AUDIT_NEXT_ROOM = 48 };

/* "overruled", "taken-back", "paid", "noted", "paper", "builds", "added", "let-in", "changed", "link", "revoked", "forgotten"; closed by NULL */
extern const char *const audit_words[];

struct audit_order {
    const char *what; /* one of audit_words; NULL: any */
    const char *who;  /* NULL: anybody */
    const char *from; /* the `next` of the page before; NULL: from the newest on */
    int64_t limit;    /* 1..AUDIT_LIMIT_MAX */
};

struct audit_act {
    int64_t at_ms, seq;                     /* seq: of the log's entry; 0: none */
    const char *what, *who, *whom, *detail; /* who, whom and detail may be NULL */
    const char *claim, *verdict, *currency; /* of a ruling, payment or note; NULL */
    int64_t amount_minor;                   /* of those */
    const char *paper, *name;               /* kind and name of a paper; NULL */
    int64_t revision;                       /* of a paper; STORE_UNKNOWN: none */
};
struct audit_list {
    struct audit_act *acts;
    size_t n;
    char next[AUDIT_NEXT_ROOM]; /* "": there is no more */
    struct arena arena;
};

/* audit_read: Errors: ERR_UNKNOWN (what), ERR_SYNTAX (from), ERR_LIMIT, those of the store. audit_done: frees what is in it. */
MUST_USE enum err audit_read(struct store *store, struct signin *signin,
                             const struct audit_order *order, struct audit_list *ret,
                             struct fault *reterr);
void audit_done(struct audit_list *list);

/* audit_json: "acts": [...], "next": text or null, into an object that is open. */
void audit_json(const struct audit_list *list, struct jsonw *w);

/* audit_note: an act that the log does not tell by itself; who NULL: at the command line; what: one of audit_words.
 * audit_note_paper: who kept the paper that holds under this kind and name (and revision, STORE_UNKNOWN: none). */
MUST_USE enum err audit_note(struct signin *signin, const char *who, const char *what,
                             const char *detail, int64_t now_ms, struct fault *reterr);
MUST_USE enum err audit_note_paper(struct store *store, struct signin *signin, const char *who,
                                   const char *kind, const char *name, int64_t revision,
                                   int64_t now_ms, struct fault *reterr);

#endif

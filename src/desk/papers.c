/* papers: owns what a file must be before the store keeps it. */
#include "desk/papers.h"

#include "base/file.h"
#include "bulletin/bulletin.h"
#include "desk/campaign_papers.h"
#include "desk/failures.h"
#include "desk/pictures.h"
#include "desk/shops.h"
#include "proof/keyring.h"

#include <stdio.h>
#include <string.h>

const char *const paper_kind_names[] = {"bulletin", "shops", "keys", "failures",
                                        "reserve",  "stock", NULL};

/* Its pictures go first: a bulletin never stands in the store without them. */
static enum err check_bulletin(struct store *store, const struct text *t,
                               const struct paper_order *order, struct fault_list *faults,
                               struct paper_answer *ret, struct fault *f)
{
    struct bulletin *b =
        bulletin_load(t->data != NULL ? t->data : "", t->size, order->path, faults);
    if (b != NULL) {
        snprintf(ret->name, sizeof ret->name, "%s", b->head.id);
        ret->revision = b->head.revision;
        ret->n = b->steps.n;
        const enum err e =
            pictures_keep(store, b, order->path, order->now_ms, &ret->n_pictures, &ret->is_new, f);
        bulletin_free(b);
        return e;
    }
    if (faults->is_out_of_memory)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading the bulletin");
    if (faults->n_faults > 0)
        *f = faults->faults[0];
    else
        (void)fault_set(f, ERR_DOMAIN, "is no bulletin");
    f->code = faults->is_unreadable ? ERR_SYNTAX : ERR_DOMAIN;
    return f->code;
}

static enum err check_shops(const struct text *t, const struct paper_order *order,
                            struct paper_answer *ret, struct fault *f)
{
    struct shops *shops = NULL;
    int digits = 0;
    const enum err e = shops_read_any(t->data, t->size, order->path, &shops, &digits, f);
    if (e != ERR_OK)
        return e;
    ret->n = shops_n(shops);
    shops_free(shops);
    return ERR_OK;
}

static enum err check_keys(const struct text *t, const struct paper_order *order,
                           struct paper_answer *ret, struct fault *f)
{
    struct keyring ring = {0};
    enum err e = keyring_add(&ring, t->data != NULL ? t->data : "", t->size, order->path, f);
    ret->n = ring.n;
    keyring_done(&ring);
    if (e == ERR_OK && ret->n == 0)
        e = fault_set(f, ERR_EMPTY, "there is no key in it; expected lines of a shop and its key");
    return e;
}

static enum err check_failures(const struct text *t, const struct paper_order *order,
                               struct paper_answer *ret, struct fault *f)
{
    struct failures list = {0};
    const enum err e = failures_read(t->data, t->size, order->path, &list, f);
    ret->n = list.n;
    failures_done(&list);
    return e;
}

static enum err check_reserve(const struct text *t, const struct paper_order *order,
                              struct paper_answer *ret, struct fault *f)
{
    struct reserve_told told;
    int64_t minor = 0;
    const enum err e =
        reserve_read(t->data != NULL ? t->data : "", t->size, order->path, -1, &told, &minor, f);
    if (e == ERR_OK)
        snprintf(ret->name, sizeof ret->name, "%s", told.bulletin);
    ret->n = 1;
    return e;
}

static enum err check(struct store *store, const struct text *t, const struct paper_order *order,
                      struct fault_list *faults, struct paper_answer *ret, struct fault *f)
{
    switch (order->kind) {
    case PAPER_BULLETIN:
        return check_bulletin(store, t, order, faults, ret, f);
    case PAPER_SHOPS:
        return check_shops(t, order, ret, f);
    case PAPER_FAILURES:
        return check_failures(t, order, ret, f);
    case PAPER_RESERVE:
        return check_reserve(t, order, ret, f);
    case PAPER_STOCK:
        return stock_read(t->data != NULL ? t->data : "", t->size, order->path, NULL, NULL, &ret->n,
                          f);
    default:
        return check_keys(t, order, ret, f);
    }
}

enum err paper_keep(struct store *store, const struct paper_order *order, struct fault_list *faults,
                    struct paper_answer *ret, struct fault *reterr)
{
    struct text t = {0};
    struct fault f = {0};
    struct paper_answer answer = {.revision = order->revision};
    snprintf(f.file, sizeof f.file, "%s", order->path);
    if (order->kind == PAPER_BULLETIN && (order->name != NULL || order->revision != STORE_UNKNOWN))
        return fault_set(reterr, ERR_AMBIGUOUS,
                         "a bulletin's own id and revision are its name; expected no other");
    if (order->kind == PAPER_RESERVE && (order->name != NULL || order->revision != STORE_UNKNOWN))
        return fault_set(reterr, ERR_AMBIGUOUS,
                         "a reserve's name is the bulletin in it; expected no other");
    snprintf(answer.name, sizeof answer.name, "%s",
             order->name != NULL ? order->name : paper_kind_names[order->kind]);
    enum err e = file_read(order->path, STORE_PAPER_MAX, &t, &f);
    if (e == ERR_OK)
        e = check(store, &t, order, faults, &answer, &f);
    if (e == ERR_OK) {
        struct store_paper paper = {.kind = paper_kind_names[order->kind],
                                    .name = order->name != NULL ? order->name : answer.name,
                                    .revision = answer.revision,
                                    .at_ms = order->now_ms,
                                    .text = t.data,
                                    .n = t.size};
        bool is_new = false;
        e = store_keep(store, &paper, &is_new, &f);
        answer.is_new = answer.is_new || is_new;
        memcpy(answer.sha256, paper.sha256, sizeof answer.sha256);
    }
    text_done(&t);
    if (e == ERR_OK)
        *ret = answer;
    else
        *reterr = f;
    return e;
}

struct ring_of {
    struct keyring *ring;
    struct fault *fault;
    enum err err;
};

static bool add_keys(void *me, const struct store_paper *paper)
{
    struct ring_of *r = me;
    r->err = keyring_add(r->ring, paper->text, paper->n, paper->name, r->fault);
    return r->err == ERR_OK;
}

enum err papers_ring(struct store *store, struct keyring *ring, struct fault *reterr)
{
    struct ring_of r = {.ring = ring, .fault = reterr};
    const enum err err = store_papers(store, "keys", NULL, true, add_keys, &r, reterr);
    return err == ERR_OK ? r.err : err;
}

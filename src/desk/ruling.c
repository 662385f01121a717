/* ruling: owns the run over claims: read, rule, tell, write, a batch at a time.
 *
 * While one batch is ruled by all threads, one of them first writes what the batch before came to and reads the next: the store is
 * used by one thread at a time, and nobody waits for it. Two claims of one unit in a batch are ruled one after the other, because
 * what stands for the first is known to the second. */
#include "desk/ruling_inner.h"

#include "base/pool.h"

#include <stdlib.h>
#include <string.h>

/* A claim with its events takes some 33 KB of memory while it is on its way, and three batches are. */
enum { BATCH = 128, BATCHES = 3, THREADS_MAX = 16 };

struct batch {
    struct ruling_item items[BATCH];
    size_t n;
};

/* What one thread found wrong; the pool hands on the code alone. */
struct run {
    struct store *store;
    const struct ruling_order *order;
    struct known *known;
    struct ruling_books books;
    char (*ids)[STORE_CLAIM_SIZE + 1]; /* in the order of taking in */
    size_t n_ids, n_read, n_done, room;
    struct batch *batches; /* [BATCHES]: written, ruled, read */
    size_t now;            /* which one is ruled */
    int n_threads;
    struct ruling_hand hands[THREADS_MAX];
    struct fault faults[THREADS_MAX];
    struct rule_ruling *shown;
    ruling_see *see;
    void *me;
    bool is_stopped;
    size_t n_unruled;
};

static struct batch *batch_at(struct run *r, size_t from_now)
{
    return &r->batches[(r->now + from_now) % BATCHES];
}

/* ---- reading and writing ------------------------------------------------------------------------ */

static enum err read_batch(struct run *r, struct batch *b, struct fault *f)
{
    b->n = 0;
    if (r->n_read == r->n_ids)
        return ERR_OK;
    enum err err = store_hold(r->store, f);
    if (err != ERR_OK)
        return err;
    while (b->n < BATCH && r->n_read < r->n_ids && err == ERR_OK) {
        struct ruling_item *item = &b->items[b->n++];
        err = ruling_item_read(r->store, r->ids[r->n_read++], item, f);
        if (err == ERR_OK)
            item->book = ruling_books_find(&r->books, item->claim->bulletin);
        for (size_t i = 0; i + 1 < b->n && err == ERR_OK && !item->waits; i++)
            item->waits = b->items[i].unit == item->unit;
    }
    store_release(r->store);
    return err;
}

/* A ruling that another process overtook is not written: that one has read the same and its word is the later. */
static enum err write_batch(struct run *r, struct batch *b, struct fault *f)
{
    struct store_ruling rulings[BATCH];
    size_t n = 0;
    for (size_t i = 0; i < b->n && !r->order->is_trial; i++) {
        const struct ruling_item *item = &b->items[i];
        if (!item->is_ruled || !item->is_changed)
            continue;
        rulings[n] = item->said;
        rulings[n++].since_seq = item->standing.last_seq > 0 ? item->standing.last_seq : -1;
    }
    b->n = 0;
    return store_rule_all(r->store, rulings, n, f);
}

/* ---- ruling ------------------------------------------------------------------------------------- */

static enum err rule_one(struct run *r, struct ruling_item *item, int thread)
{
    return ruling_item_rule(item, r->known, &r->hands[thread], r->order->now_ms,
                            &r->faults[thread]);
}

/* Item 0 is the store's; the others are claims. */
static enum err do_item(void *me, size_t i, int thread)
{
    struct run *r = me;
    if (i > 0) {
        struct ruling_item *item = &batch_at(r, 0)->items[i - 1];
        return item->waits ? ERR_OK : rule_one(r, item, thread);
    }
    const enum err err = write_batch(r, batch_at(r, BATCHES - 1), &r->faults[thread]);
    return err != ERR_OK ? err : read_batch(r, batch_at(r, 1), &r->faults[thread]);
}

static enum err first_fault(const struct run *r, enum err err, struct fault *reterr)
{
    for (int i = 0; i < THREADS_MAX; i++)
        if (r->faults[i].code == err) {
            *reterr = r->faults[i];
            return err;
        }
    return fault_set(reterr, err, "%s", err_text(err));
}

/* What is known of the claims after it; and to the caller. */
static void tell_item(struct run *r, struct ruling_item *item)
{
    const struct store_ruling *before = item->standing.stands;
    const bool is_overruled = before != NULL && before->kind == STORE_OVERRULED;
    if (!item->is_ruled) {
        r->n_unruled++;
        return;
    }
    known_set_refused(r->known, item->id,
                      is_overruled ? strcmp(before->verdict, "refuse") == 0
                                   : item->ruling.verdict == RULE_VERDICT_REFUSE);
    if (r->is_stopped)
        return;
    ruling_unfold(&item->ruling, r->shown);
    const struct ruling_seen seen = {.claim_id = item->id,
                                     .claim = item->claim,
                                     .ruling = r->shown,
                                     .before = before,
                                     .is_new = before == NULL,
                                     .is_changed = item->is_changed,
                                     .is_overruled = is_overruled,
                                     .paid_minor = item->standing.paid_minor,
                                     .currency = item->said.currency,
                                     .currency_digits = item->book->bulletin->head.currency_digits};
    r->is_stopped = !r->see(r->me, &seen);
}

static enum err finish_batch(struct run *r, struct fault *reterr)
{
    struct batch *b = batch_at(r, 0);
    for (size_t i = 0; i < b->n; i++) {
        /* Told before the next is ruled: it may be the one that waits. */
        const enum err err = b->items[i].waits ? rule_one(r, &b->items[i], 0) : ERR_OK;
        if (err != ERR_OK)
            return first_fault(r, err, reterr);
        tell_item(r, &b->items[i]);
    }
    r->n_done += b->n;
    return ERR_OK;
}

static enum err run_batches(struct run *r, const struct known_progress *progress,
                            struct fault *reterr)
{
    enum err err = read_batch(r, batch_at(r, 0), reterr);
    while (err == ERR_OK && batch_at(r, 0)->n > 0 && !r->is_stopped) {
        const struct pool_order order = {
            .n = batch_at(r, 0)->n + 1, .n_threads = r->n_threads, .run = do_item, .me = r};
        err = pool_run(&order);
        if (err != ERR_OK)
            return first_fault(r, err, reterr);
        err = finish_batch(r, reterr);
        if (progress != NULL && progress->step != NULL)
            progress->step(progress->me, "rulings", r->n_done, r->n_ids);
        r->now++;
    }
    return err == ERR_OK ? write_batch(r, batch_at(r, BATCHES - 1), reterr) : err;
}

/* ---- the run ------------------------------------------------------------------------------------ */

static bool add_id(struct run *r, const char *id)
{
    if (r->n_ids == r->room) {
        const size_t room = r->room > 0 ? 2 * r->room : 64;
        void *more = realloc(r->ids, room * sizeof *r->ids);
        if (more == NULL)
            return false;
        r->ids = more;
        r->room = room;
    }
    strncpy(r->ids[r->n_ids], id, STORE_CLAIM_SIZE);
    r->ids[r->n_ids++][STORE_CLAIM_SIZE] = '\0';
    return true;
}

static bool see_brief(void *me, const struct store_brief *b)
{
    return add_id(me, b->claim);
}

struct unruled {
    struct run *run;
    bool is_out_of_memory;
};

static bool see_unruled(void *me, const struct store_listed *l)
{
    struct unruled *u = me;
    u->is_out_of_memory = !add_id(u->run, l->claim);
    return !u->is_out_of_memory;
}

/* The list tells the newest first; they are ruled on in the order of taking in. */
static enum err list_unruled(struct run *r, struct fault *f)
{
    struct unruled u = {.run = r};
    const struct store_filter filter = {.verdict = "unruled"};
    const enum err err = store_list(r->store, &filter, see_unruled, &u, f);
    for (size_t i = 0; i < r->n_ids / 2; i++) {
        char id[STORE_CLAIM_SIZE + 1];
        memcpy(id, r->ids[i], sizeof id);
        memcpy(r->ids[i], r->ids[r->n_ids - 1 - i], sizeof id);
        memcpy(r->ids[r->n_ids - 1 - i], id, sizeof id);
    }
    return err == ERR_OK && u.is_out_of_memory ? fault_no_memory(f) : err;
}

static enum err list_ids(struct run *r, struct fault *f)
{
    if (r->order->claim != NULL) {
        if (strlen(r->order->claim) != STORE_CLAIM_SIZE)
            return fault_set(f, ERR_UNKNOWN, "there is no claim %.40s in the store",
                             r->order->claim);
        return add_id(r, r->order->claim) ? ERR_OK : fault_no_memory(f);
    }
    if (r->order->is_only_unruled)
        return list_unruled(r, f);
    struct store_counts counts = {0};
    const enum err err = store_briefs(r->store, see_brief, r, f);
    if (err != ERR_OK)
        return err;
    if (r->n_ids == 0) { /* or memory ran out at the first */
        const enum err counted = store_count(r->store, &counts, f);
        if (counted != ERR_OK || counts.claims == 0)
            return counted;
    }
    return r->n_ids > 0 ? ERR_OK : fault_no_memory(f);
}

static bool make_hands(struct run *r)
{
    const int asked = r->order->claim != NULL ? 1 : r->order->n_threads;
    r->n_threads = asked < 1 ? 1 : asked > THREADS_MAX ? THREADS_MAX : asked;
    r->shown = calloc(1, sizeof *r->shown);
    r->batches = calloc(BATCHES, sizeof *r->batches);
    for (int i = 0; i < r->n_threads; i++) {
        r->hands[i] = (struct ruling_hand){known_work_new(), calloc(1, sizeof(struct rule_ruling))};
        if (r->hands[i].work == NULL || r->hands[i].ruling == NULL)
            return false;
    }
    return r->shown != NULL && r->batches != NULL;
}

static void end_run(struct run *r)
{
    for (int i = 0; i < r->n_threads; i++) {
        known_work_free(r->hands[i].work);
        free(r->hands[i].ruling);
    }
    for (size_t i = 0; r->batches != NULL && i < BATCHES; i++)
        for (size_t k = 0; k < BATCH; k++)
            ruling_item_done(&r->batches[i].items[k]);
    free(r->batches);
    free(r->shown);
    free(r->ids);
    known_close(r->known);
    ruling_books_close(&r->books);
    free(r);
}

struct shops_reader {
    struct run *run;
    struct shops *shops;
    int64_t seq; /* of several kept under different names the last that was put there holds */
    enum err err;
    struct fault *f;
};

static bool see_shops(void *me, const struct store_paper *p)
{
    struct shops_reader *s = me;
    if (s->shops != NULL && p->seq < s->seq)
        return true;
    shops_free(s->shops);
    s->shops = NULL;
    s->seq = p->seq;
    const int digits = s->run->books.n > 0 ? s->run->books.at[0].bulletin->head.currency_digits : 2;
    s->err = shops_read(p->text, p->n, p->name, digits, &s->shops, s->f);
    return s->err == ERR_OK;
}

/* The list that was given, or the one that is kept; its rates in the currency of the books. */
static enum err open_shops(struct run *r, struct shops **ret, struct fault *f)
{
    struct shops_reader s = {.run = r, .f = f};
    const struct store_paper given = {
        .name = r->order->shops_name, .text = r->order->shops_text, .n = r->order->shops_size};
    if (given.text != NULL) {
        (void)see_shops(&s, &given);
        *ret = s.shops;
        return s.err;
    }
    const enum err err = store_papers(r->store, "shops", NULL, true, see_shops, &s, f);
    if (err != ERR_OK || s.err != ERR_OK) {
        shops_free(s.shops);
        return err != ERR_OK ? err : s.err;
    }
    *ret = s.shops;
    return ERR_OK;
}

/* What was given, onto the log; after it has all been read without a fault. */
static enum err keep_papers(struct run *r, struct fault *f)
{
    const struct ruling_order *o = r->order;
    bool is_new = false;
    enum err err = ERR_OK;
    if (o->bulletin != NULL) {
        struct store_paper paper = {.kind = "bulletin",
                                    .name = o->bulletin->head.id,
                                    .revision = o->bulletin->head.revision,
                                    .at_ms = o->now_ms,
                                    .text = o->bulletin_text,
                                    .n = o->bulletin_size};
        err = store_keep(r->store, &paper, &is_new, f);
    }
    if (err == ERR_OK && o->shops_text != NULL) {
        struct store_paper paper = {.kind = "shops",
                                    .name = "shops",
                                    .revision = STORE_UNKNOWN,
                                    .at_ms = o->now_ms,
                                    .text = o->shops_text,
                                    .n = o->shops_size};
        err = store_keep(r->store, &paper, &is_new, f);
    }
    return err;
}

enum err ruling_run(struct store *store, const struct ruling_order *order,
                    const struct known_progress *progress, ruling_see *see, void *me,
                    size_t *ret_unruled, struct fault *reterr)
{
    struct run *r = calloc(1, sizeof *r);
    struct shops *shops = NULL;
    if (r == NULL)
        return fault_no_memory(reterr);
    *r = (struct run){.store = store, .order = order, .see = see, .me = me};
    enum err err = make_hands(r) ? ruling_books_open(store, order, &r->books, reterr)
                                 : fault_no_memory(reterr);
    if (err == ERR_OK)
        err = open_shops(r, &shops, reterr);
    if (err == ERR_OK)
        err = list_ids(r, reterr);
    if (err == ERR_OK)
        err = known_open(store, shops, order->claim, progress, &r->known, reterr);
    if (err == ERR_OK && !order->is_trial)
        err = keep_papers(r, reterr);
    if (err == ERR_OK)
        err = run_batches(r, progress, reterr);
    if (err == ERR_OK)
        *ret_unruled = r->n_unruled;
    end_run(r);
    shops_free(shops);
    return err;
}

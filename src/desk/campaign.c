/* campaign: owns the boards that are held, which bulletin is meant, and the making of an answer from a board. */
#include "desk/campaign.h"

#include "desk/campaign_board.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>

enum { BOARDS_MAX = 4, DAY_MS = 86400000 };

struct campaign_boards {
    mtx_t lock;
    atomic_bool is_over;
    struct board *at[BOARDS_MAX]; /* NULL: free */
    uint64_t n_asks;
};

struct campaign_boards *campaign_boards_new(void)
{
    struct campaign_boards *boards = calloc(1, sizeof *boards);
    if (boards != NULL && mtx_init(&boards->lock, mtx_plain) == thrd_success)
        return boards;
    free(boards);
    return NULL;
}

static void board_free(struct board *b)
{
    if (b != NULL)
        board_done(b);
    free(b);
}

void campaign_boards_free(struct campaign_boards *boards)
{
    if (boards == NULL)
        return;
    for (size_t i = 0; i < BOARDS_MAX; i++)
        board_free(boards->at[i]);
    mtx_destroy(&boards->lock);
    free(boards);
}

void campaign_boards_stop(struct campaign_boards *boards)
{
    atomic_store(&boards->is_over, true);
}

/* ---- which one ----------------------------------------------------------------------------- */

struct choice {
    char id[STORE_ID_MAX + 1], other[STORE_ID_MAX + 1];
};

static bool see_paper(void *me, const struct store_paper *p)
{
    struct choice *c = me;
    if (c->id[0] == '\0')
        snprintf(c->id, sizeof c->id, "%s", p->name);
    else if (strcmp(c->id, p->name) != 0)
        snprintf(c->other, sizeof c->other, "%s", p->name);
    return c->other[0] == '\0';
}

static enum err choose(struct store *store, const char *asked, struct choice *ret, struct fault *f)
{
    *ret = (struct choice){0};
    if (asked != NULL && strlen(asked) >= sizeof ret->id)
        return fault_set(f, ERR_UNKNOWN, "no bulletin of so long a name is kept");
    const enum err err = store_papers(store, "bulletin", asked, false, see_paper, ret, f);
    if (err != ERR_OK)
        return err;
    if (ret->id[0] == '\0' && asked != NULL)
        return fault_set(f, ERR_UNKNOWN, "no bulletin '%.60s' is kept in the store", asked);
    if (ret->id[0] == '\0')
        return fault_set(f, ERR_EMPTY, "no bulletin is kept in the store; expected one");
    return ret->other[0] == '\0' ? ERR_OK
                                 : fault_set(f, ERR_AMBIGUOUS,
                                             "several bulletins are kept, '%.60s' and '%.60s' "
                                             "among them; expected one by its name",
                                             ret->id, ret->other);
}

/* The board of that bulletin, its own or in place of the one that was not asked for the longest. */
static struct board *board_of(struct campaign_boards *boards, const char *id)
{
    size_t oldest = 0;
    for (size_t i = 0; i < BOARDS_MAX; i++) {
        struct board *b = boards->at[i];
        if (b != NULL && strcmp(b->id, id) == 0)
            return b;
        const uint64_t used = b != NULL ? b->used : 0;
        if (used < (boards->at[oldest] != NULL ? boards->at[oldest]->used : 0))
            oldest = i;
    }
    board_free(boards->at[oldest]);
    boards->at[oldest] = calloc(1, sizeof *boards->at[oldest]);
    if (boards->at[oldest] != NULL) {
        boards->at[oldest]->is_over = &boards->is_over;
        snprintf(boards->at[oldest]->id, sizeof boards->at[oldest]->id, "%s", id);
    }
    return boards->at[oldest];
}

/* ---- an answer ----------------------------------------------------------------------------- */

const char *campaign_keep(struct board_answer *made, const char *text)
{
    const char *kept = arena_text(&made->arena, text, strlen(text));
    return kept != NULL ? kept : "";
}

static void put_head(const struct board *b, const struct campaign_order *order,
                     struct board_answer *made)
{
    const struct bulletin_head *head = &b->bulletin->head;
    made->c = (struct campaign){
        .id = campaign_keep(made, head->id),
        .title = campaign_keep(made, bulletin_text_in(b->bulletin, &head->title, head->language)),
        .currency = campaign_keep(made, head->currency),
        .revision = head->revision,
        .currency_digits = head->currency_digits,
        .is_invented = head->is_invented,
        .has_builds = b->has_builds,
        .issued = head->issued,
        .until = b->bulletin->claim.until,
        .today = (int32_t)(order->now_ms / DAY_MS),
        .seq = b->seq,
    };
}

enum err board_answer(struct board *b, const struct campaign_order *order,
                      struct board_answer *made, struct fault *reterr)
{
    put_head(b, order, made);
    campaign_sum(b, made);
    enum err err = campaign_come(b, made, reterr);
    if (err == ERR_OK) {
        campaign_kits(b, order->now_ms, made);
        err = campaign_points(b, made, reterr);
    }
    if (err == ERR_OK)
        err = campaign_looks(b, made, reterr);
    if (err == ERR_OK && order->since_ms != STORE_UNKNOWN)
        campaign_sum_news(b, order->since_ms, &made->c.news);
    return err == ERR_OK && made->arena.is_broken ? fault_no_memory(reterr) : err;
}

static struct board_answer *answer_of(struct campaign *c)
{
    return (struct board_answer *)(void *)c; /* its first member */
}

void campaign_free(struct campaign *c)
{
    if (c == NULL)
        return;
    arena_done(&answer_of(c)->arena);
    free(c);
}

/* The board, read up to the present; the lock is held when it is returned. *ret NULL after an error. */
static enum err board_take(struct store *store, struct campaign_boards *boards,
                           const struct campaign_order *order, struct board **ret, struct fault *f)
{
    struct choice choice;
    *ret = NULL;
    enum err err = store_hold(store, f);
    if (err != ERR_OK)
        return err;
    err = choose(store, order->bulletin, &choice, f);
    if (err == ERR_OK) {
        mtx_lock(&boards->lock);
        struct board *b = board_of(boards, choice.id);
        if (b == NULL) {
            err = fault_no_memory(f);
        } else {
            b->used = ++boards->n_asks;
            err = board_read(b, store, f);
        }
        if (err == ERR_OK)
            *ret = b;
        else
            mtx_unlock(&boards->lock);
    }
    store_release(store);
    return err;
}

enum err campaign_read(struct store *store, struct campaign_boards *boards,
                       const struct campaign_order *order, struct campaign **ret,
                       struct fault *reterr)
{
    struct board *b = NULL;
    struct board_answer *made = calloc(1, sizeof *made);
    if (made == NULL)
        return fault_no_memory(reterr);
    enum err err = board_take(store, boards, order, &b, reterr);
    if (err == ERR_OK) {
        err = board_answer(b, order, made, reterr);
        mtx_unlock(&boards->lock);
    }
    if (err == ERR_OK)
        *ret = &made->c;
    else
        campaign_free(&made->c);
    return err;
}

/* The text of everything but the news, made again only where the log or the day went on. */
static enum err tell(struct board *b, const struct campaign_order *order, struct fault *f)
{
    const int32_t today = (int32_t)(order->now_ms / DAY_MS);
    if (b->told.data != NULL && b->told_seq == b->seq && b->told_day == today)
        return ERR_OK;
    struct board_answer *made = calloc(1, sizeof *made);
    if (made == NULL)
        return fault_no_memory(f);
    enum err err = board_answer(b, order, made, f);
    text_done(&b->told);
    if (err == ERR_OK) {
        struct jsonw w;
        jsonw_start(&w, &b->told);
        jsonw_object(&w, NULL);
        campaign_write_rest(&made->c, &w);
        b->told_seq = b->seq;
        b->told_day = today;
        if (b->told.is_broken) {
            text_done(&b->told);
            err = fault_no_memory(f);
        }
    }
    campaign_free(&made->c);
    return err;
}

/* The object as told so far, which is still open, then the news and its end. */
static void put_whole(const struct board *b, const struct campaign_order *order, struct text *out)
{
    struct campaign_news news = {0};
    struct jsonw w;
    if (order->since_ms != STORE_UNKNOWN)
        campaign_sum_news(b, order->since_ms, &news);
    text_add(out, b->told.data, b->told.size);
    text_puts(out, ",\"news\":");
    jsonw_start(&w, out);
    campaign_write_news(&news, NULL, &w);
    text_puts(out, "}");
    text_puts(out, "\n");
}

enum err campaign_json(struct store *store, struct campaign_boards *boards,
                       const struct campaign_order *order, const char *known, struct text *out,
                       char tag[CAMPAIGN_TAG_ROOM], bool *ret_same, struct fault *reterr)
{
    struct board *b = NULL;
    enum err err = board_take(store, boards, order, &b, reterr);
    if (err != ERR_OK)
        return err;
    snprintf(tag, CAMPAIGN_TAG_ROOM, "%lld-%d-%lld", (long long)b->seq,
             (int)(order->now_ms / DAY_MS),
             (long long)(order->since_ms != STORE_UNKNOWN ? order->since_ms : -1));
    *ret_same = known != NULL && strcmp(known, tag) == 0;
    if (!*ret_same)
        err = tell(b, order, reterr);
    if (err == ERR_OK && !*ret_same)
        put_whole(b, order, out);
    mtx_unlock(&boards->lock);
    return err == ERR_OK && out->is_broken ? fault_no_memory(reterr) : err;
}

/* ---- ahead of being asked ------------------------------------------------------------------ */

struct names {
    char id[BOARDS_MAX][STORE_ID_MAX + 1];
    size_t n;
};

/* By name: revisions of one stand together. */
static bool see_name(void *me, const struct store_paper *p)
{
    struct names *names = me;
    if (names->n > 0 && strcmp(names->id[names->n - 1], p->name) == 0)
        return true;
    if (names->n == BOARDS_MAX)
        return false;
    snprintf(names->id[names->n++], sizeof names->id[0], "%s", p->name);
    return true;
}

enum err campaign_warm(struct store *store, struct campaign_boards *boards, int64_t now_ms,
                       struct fault *reterr)
{
    struct names names = {.n = 0};
    enum err err = store_papers(store, "bulletin", NULL, false, see_name, &names, reterr);
    for (size_t i = 0; i < names.n && err == ERR_OK; i++) {
        const struct campaign_order order = {
            .bulletin = names.id[i], .since_ms = STORE_UNKNOWN, .now_ms = now_ms};
        struct text told = {0};
        char tag[CAMPAIGN_TAG_ROOM];
        bool is_same = false;
        err = campaign_json(store, boards, &order, NULL, &told, tag, &is_same, reterr);
        text_done(&told);
    }
    return err;
}

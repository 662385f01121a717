/* teach_cards: owns where cards lie on the page, the lines to cut along, the size at which a step fits, backs that lie behind their fronts. */
#include "draw/teach_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { CARDS_MOST = 4, COLUMNS_MOST = 2 };

/* Space from the lines to cut along (and from what a printer leaves bare) to what is printed. */
static const double pad = 7.5 * PAPER_MM, foot_height = 14;
/* How large the letters may be: a short step is read from afar (1.6 and
 * 1.4 only where two cards lie on a page), body text stays at or above TEACH_LEAST_PT. */
static const double scales[] = {1.6,  1.4, 1.2,  1.1,  1.0,
                                0.95, 0.9, 0.86, 0.82, TEACH_LEAST_PT / TEACH_BODY_PT};
enum { SCALES = sizeof scales / sizeof *scales };

struct card {
    const struct bulletin_step *step; /* NULL: the cover */
    size_t number;
    double scale;
    bool fits; /* on one card, at that scale */
};

/* The deck as it is dealt. */
struct deck {
    struct teach *t;
    struct card now;
    struct card page[CARDS_MOST]; /* what lies on this page, for its backs */
    int at;                       /* of the next card on the page */
    bool is_open;
};

static int columns_of(const struct teach *t)
{
    return t->o->per_page == 2 ? 1 : COLUMNS_MOST;
}

struct box {
    double left, top, right, bottom;
};

/* Card `at` of the page. A back lies on the other side of the paper: the columns change places when it is turned on its long edge. */
static struct box box_of(const struct teach *t, int at, bool is_back)
{
    const struct paper *p = &t->s.p;
    const int columns = columns_of(t), row = at / columns;
    const int column = is_back ? columns - 1 - at % columns : at % columns;
    const double width = p->width / columns, height = p->height / 2;
    return (struct box){column * width + pad, row * height + pad, (column + 1) * width - pad,
                        (row + 1) * height - pad};
}

static void cut_lines(struct paper *p, int columns)
{
    static const double dashes[] = {4, 4};
    cairo_set_dash(p->cr, dashes, 2, 0);
    paper_rule(p, PAPER_GREY, 0.4, 0, p->height / 2, p->width, p->height / 2);
    if (columns > 1)
        paper_rule(p, PAPER_GREY, 0.4, p->width / 2, 0, p->width / 2, p->height);
    cairo_set_dash(p->cr, NULL, 0, 0);
}

static void begin_page(struct teach *t)
{
    paper_page(&t->s.p, false);
    cut_lines(&t->s.p, columns_of(t));
}

/* At the foot of every card: a card that lies about must say what it is of. */
static void foot(struct teach *t, const struct card *card)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    char of[2 * SHEET_FIGURE + 4];
    of[0] = '\0';
    if (card->step != NULL)
        (void)snprintf(of, sizeof of, "%zu / %zu", card->number, s->b->steps.n);
    const double y = p->bottom + 4, right = 44;
    paper_rule(p, PAPER_RULE, 0.5, p->left, y - 2, p->right, y - 2);
    paper_line(p, PAPER_SMALL, p->left, y, p->right - p->left - right, PAPER_LEFT,
               s->run_left.data);
    paper_line(p, PAPER_SMALL, p->right - right, y, right, PAPER_RIGHT, of);
}

static void open_box(struct teach *t, const struct box *box, double scale)
{
    paper_shrink(&t->s.p, scale, TEACH_LEAST_PT, box->left, box->top, box->right,
                 box->bottom - foot_height);
}

static void close_card(struct deck *d)
{
    if (!d->is_open)
        return;
    foot(d->t, &d->now);
    paper_unshrink(&d->t->s.p);
    d->is_open = false;
}

static void cover_back(struct teach *t)
{
    struct paper *p = &t->s.p;
    sheet_mark(p, p->left, p->y);
    paper_line(p, PAPER_HEAD, p->left + 34, p->y, p->right - p->left - 34, PAPER_LEFT,
               t->s.b->head.id);
}

static void deal_backs(struct deck *d)
{
    struct teach *t = d->t;
    if (!t->o->has_back || d->at == 0)
        return;
    begin_page(t);
    for (int i = 0; i < d->at; i++) {
        const struct box box = box_of(t, i, true);
        open_box(t, &box, 1.0);
        t->s.p.is_unbroken = true; /* our own few words under a title of at most four lines */
        if (d->page[i].step != NULL)
            teach_step_asks(t, d->page[i].step, d->page[i].number);
        else
            cover_back(t);
        t->s.p.is_unbroken = false;
        foot(t, &d->page[i]);
        paper_unshrink(&t->s.p);
    }
}

static void open_card(struct deck *d)
{
    struct teach *t = d->t;
    if (t->s.p.page == 0 || d->at == t->o->per_page) {
        deal_backs(d);
        begin_page(t);
        d->at = 0;
    }
    const struct box box = box_of(t, d->at, false);
    open_box(t, &box, d->now.scale);
    d->page[d->at++] = d->now;
    d->is_open = true;
    t->made.n_cards++;
}

/* What stands for a new page while a step is drawn: its next card. The text that is being drawn may be the sheet's own, of
 * sheet_format, so the head gets another. */
static void turn(void *me)
{
    struct deck *d = me;
    struct sheet *s = &d->t->s;
    const struct text drawn = s->buf;
    s->buf = (struct text){0};
    close_card(d);
    open_card(d);
    if (d->now.step != NULL)
        teach_step_head(d->t, d->now.step, d->now.number, true);
    text_done(&s->buf);
    s->buf = drawn;
}

/* What the deck is of, and the rules that go before it. */
static void cover(struct teach *t)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    char revision[SHEET_FIGURE];
    struct text line = {0};
    const double width = p->right - p->left;
    sheet_mark(p, p->left, p->y);
    paper_line(p, PAPER_QUIET, p->left + 34, p->y + 3, width - 34, PAPER_LEFT,
               sheet_word(s, W_CARDS));
    p->y += 24;
    paper_tag(p, "H1");
    p->y += paper_text(p, PAPER_HEAD, p->left, p->y, width, 5, PAPER_LEFT,
                       sheet_text(s, &s->b->head.title)) +
            4;
    paper_untag(p, "H1");
    text_printf(&line, "%s \xC2\xB7 %s \xC2\xB7 %s", s->b->head.id,
                sheet_format(s, W_REVISION, sheet_figure(s->b->head.revision, revision), NULL),
                s->b->head.maker);
    paper_flow(p, PAPER_STRONG, p->left, width, line.data != NULL ? line.data : "");
    p->y += 6;
    if (s->b->head.is_invented) {
        paper_hatch(p, PAPER_STOP, p->left, p->y + 1, 20, 11, 4);
        p->y += fmax(12, paper_text(p, PAPER_HAZARD, p->left + 26, p->y, width - 26, 2, PAPER_LEFT,
                                    sheet_word(s, W_INVENTED))) +
                6;
    }
    paper_flow(p, PAPER_BODY, p->left, width, sheet_text(s, &s->b->head.summary));
    p->y += 6;
    paper_flow(p, PAPER_STRONG, p->left, width, sheet_word(s, W_FIRST));
    if (s->n_marked > 0) {
        p->y += 4;
        paper_flow(p, PAPER_QUIET, p->left, width,
                   sheet_format(s, W_FELL_BACK, s->b->head.language, NULL));
    }
    p->is_broken |= line.is_broken;
    text_done(&line);
}

static void draw_card(struct teach *t, const struct card *card)
{
    if (card->step == NULL)
        cover(t);
    else
        teach_step(t, card->step, card->number);
}

/* The largest size at which the card is enough; the smallest that is legible when none is. */
static void size_card(struct teach *t, struct card *card)
{
    struct paper *p = &t->s.p;
    const struct box box = box_of(t, 0, false);
    for (int i = t->o->per_page == 2 ? 0 : 2; i < SCALES && !card->fits; i++) {
        card->scale = scales[i];
        open_box(t, &box, card->scale);
        p->is_dry = true;
        draw_card(t, card);
        p->is_dry = false;
        card->fits = p->y <= p->bottom;
        paper_unshrink(p);
    }
    t->made.body_pt = fmin(t->made.body_pt, card->scale * TEACH_BODY_PT);
}

void teach_cards(struct teach *t)
{
    struct paper *p = &t->s.p;
    const size_t n = t->s.b->steps.n;
    struct deck d = {.t = t};
    struct card *cards = calloc(n + 1, sizeof *cards);
    if (cards == NULL) {
        p->is_broken = true;
        return;
    }
    p->turn = turn;
    p->turn_me = &d;
    /* The steps first: the cover tells of texts in another language, which only then are known. */
    for (size_t i = 1; i <= n; i++) {
        cards[i] = (struct card){.step = &t->s.b->steps.at[i - 1], .number = i};
        size_card(t, &cards[i]);
    }
    size_card(t, &cards[0]);
    for (size_t i = 0; i <= n; i++) {
        char name[32];
        d.now = cards[i];
        open_card(&d);
        (void)snprintf(name, sizeof name, "step-%zu", i);
        paper_mark(p, sheet_text(&t->s, i == 0 ? &t->s.b->head.title : &d.now.step->title), name);
        p->is_unbroken = d.now.fits;
        draw_card(t, &d.now);
        p->is_unbroken = false;
        close_card(&d);
    }
    deal_backs(&d);
    free(cards);
}

/* sheet_table: owns tables on the sheet: fine rules, heads again on every page. */
#include "draw/sheet_parts.h"

#include <math.h>
#include <string.h>

enum { CELL_LINES = 9, PAD = 4, TICK = 9 };

static double width_of(const struct sheet *s, const struct table *t, size_t i)
{
    return (s->p.right - s->p.left) * t->columns[i].share;
}

static int head_lines(const struct paper *p)
{
    return p->is_unbroken ? 0 : 2;
}

static void heads(struct sheet *s, const struct table *t)
{
    struct paper *p = &s->p;
    double x = p->left, height = 0;
    for (size_t i = 0; i < t->n; i++)
        height = fmax(height, paper_text_height(p, PAPER_SMALL, width_of(s, t, i) - PAD,
                                                head_lines(p), t->columns[i].head));
    paper_tag(p, "TR");
    for (size_t i = 0; i < t->n; i++) {
        paper_tag(p, "TH");
        paper_text(p, PAPER_SMALL, x, p->y, width_of(s, t, i) - PAD, head_lines(p),
                   t->columns[i].align, t->columns[i].head);
        paper_untag(p, "TH");
        x += width_of(s, t, i);
    }
    paper_untag(p, "TR");
    p->y += height + 2;
    paper_rule(p, PAPER_INK, 0.9, p->left, p->y, p->right, p->y);
    p->y += 3;
}

static enum paper_style style_of(enum cell_kind kind)
{
    return kind == CELL_STRONG ? PAPER_STRONG : kind == CELL_QUIET ? PAPER_QUIET : PAPER_BODY;
}

/* Words after boxes, as many a line as fit. Returns the height. */
static double ticks(struct paper *p, double x, double y, double width, const char *words)
{
    double at = x, top = y;
    while (*words != '\0') {
        char word[80];
        const size_t n = strcspn(words, "\n");
        size_t kept = n < sizeof word ? n : sizeof word - 1;
        while (kept > 0 && kept < n && ((unsigned char)words[kept] & 0xc0U) == 0x80U)
            kept--;
        memcpy(word, words, kept);
        word[kept] = '\0';
        const double need =
            TICK + 3 + fmin(paper_line_width(p, PAPER_QUIET, word), width - TICK - 6);
        if (at > x && at + need > x + width) {
            at = x;
            top += TICK + 5;
        }
        if (!p->is_dry)
            paper_tick_box(p, at, top + 1, TICK);
        paper_line(p, PAPER_QUIET, at + TICK + 3, top + 0.5, x + width - at - TICK - 3, PAPER_LEFT,
                   word);
        at += need + 9;
        words += n + (words[n] == '\n');
    }
    return top + TICK + 3 - y;
}

static double cell(struct sheet *s, const struct table *t, size_t i, double x, const struct cell *c)
{
    struct paper *p = &s->p;
    const double width = width_of(s, t, i) - PAD;
    switch (c->kind) {
    case CELL_BLANK:
        if (!p->is_dry)
            paper_frame(p, PAPER_INK, 0.5, x, p->y, width, 15);
        return 16;
    case CELL_TICKS:
        return ticks(p, x, p->y, width, c->text);
    case CELL_STRIP:
        strip_draw(p, x, p->y - 3, width, &c->strip);
        return STRIP_HEIGHT - 2;
    default:
        return paper_text(p, style_of(c->kind), x, p->y, width, p->is_unbroken ? 0 : CELL_LINES,
                          t->columns[i].align, c->text);
    }
}

static double draw_row(struct sheet *s, const struct table *t, const struct cell *cells)
{
    double x = s->p.left, height = 0;
    paper_tag(&s->p, "TR");
    for (size_t i = 0; i < t->n; i++) {
        paper_tag(&s->p, "TD");
        height = fmax(height, cell(s, t, i, x, &cells[i]));
        paper_untag(&s->p, "TD");
        x += width_of(s, t, i);
    }
    paper_untag(&s->p, "TR");
    return height;
}

void table_row(struct sheet *s, const struct table *t, const struct cell *cells)
{
    struct paper *p = &s->p;
    const bool was_dry = p->is_dry;
    p->is_dry = true;
    const double height = draw_row(s, t, cells) + (p->is_unbroken ? 3.5 : 6);
    p->is_dry = was_dry;
    if (!p->is_dry && !p->is_unbroken && height > paper_room(p) && p->y > p->top) {
        paper_untag(p, "Table"); /* an element of the structure never lies on two pages */
        paper_page(p, false);
        paper_tag(p, "Table");
        heads(s, t);
    }
    (void)draw_row(s, t, cells);
    p->y += height;
    paper_rule(p, PAPER_RULE, 0.5, p->left, p->y - (p->is_unbroken ? 2 : 3), p->right,
               p->y - (p->is_unbroken ? 2 : 3));
}

void table_begin(struct sheet *s, const struct table *t)
{
    paper_need(&s->p, 60);
    paper_tag(&s->p, "Table");
    heads(s, t);
}

void table_end(struct sheet *s)
{
    paper_untag(&s->p, "Table");
    s->p.y += 2;
}

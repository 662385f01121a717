/* teach_crib: owns how the crib comes onto one page: its head, two columns, the largest size at which the parts fit, and what is said when
 * none does. Parts keep their order; the first column ends where both come out shortest. */
#include "draw/teach_parts.h"

#include "core/date.h"

#include <math.h>
#include <string.h>

enum { PARTS_MOST = 16 };

static const double edge = 9 * PAPER_MM, foot_height = 16, gutter = 14;
/* A short bulletin is not blown up; a long one shrinks as far as its text stays legible. */
static const double largest = 1.0, step = 0.02; /* of the size, and by how much it shrinks */

void crib_head(struct sheet *s, const char *title)
{
    struct paper *p = &s->p;
    paper_tag(p, "H2");
    p->y +=
        paper_text(p, PAPER_FIGURE, p->left, p->y, p->right - p->left, 0, PAPER_LEFT, title) + 1;
    paper_untag(p, "H2");
    paper_rule(p, PAPER_INK, 1.0, p->left, p->y, p->right, p->y);
    p->y += 4;
}

void crib_line(struct sheet *s, enum paper_style style, const char *text)
{
    if (text[0] == '\0')
        return;
    paper_flow(&s->p, style, s->p.left, s->p.right - s->p.left, text);
    s->p.y += 2;
}

double crib_share(const struct sheet *s, double widest, double least, double most)
{
    return fmin(fmax((widest + 6) / (s->p.right - s->p.left), least), most);
}

static void head(struct sheet *s)
{
    struct paper *p = &s->p;
    const struct bulletin_head *h = &s->b->head;
    char date[DATE_SHOW_SIZE], revision[SHEET_FIGURE];
    struct text line = {0};
    const double side = 50, width = p->right - p->left - side - 10, top = p->y;
    sheet_mark(p, p->left, p->y);
    paper_line(p, PAPER_QUIET, p->left + 34, p->y + 3, width - 34, PAPER_LEFT,
               sheet_word(s, W_CRIB));
    p->y += 19;
    paper_tag(p, "H1");
    p->y +=
        paper_text(p, PAPER_HEAD, p->left, p->y, width, 0, PAPER_LEFT, sheet_text(s, &h->title));
    paper_untag(p, "H1");
    date_show(h->issued, date);
    text_printf(&line, "%s \xC2\xB7 %s", h->id,
                sheet_format(s, W_REVISION, sheet_figure(h->revision, revision), NULL));
    text_printf(&line, " \xC2\xB7 %s \xC2\xB7 %s", sheet_format(s, W_ISSUED, date, NULL), h->maker);
    p->y += 2 + paper_text(p, PAPER_STRONG, p->left, p->y + 1, width, 0, PAPER_LEFT,
                           line.data != NULL ? line.data : "");
    if (!p->is_dry)
        sheet_code(s, p->right - side, top - 4, side);
    if (h->is_invented) {
        paper_hatch(p, PAPER_STOP, p->left, p->y + 1, 20, 10, 4);
        p->y += paper_text(p, PAPER_HAZARD, p->left + 26, p->y, width - 26, 0, PAPER_LEFT,
                           sheet_word(s, W_INVENTED));
    }
    p->y = fmax(p->y, top + side) + 2;
    paper_boxed(p, p->left, p->right - p->left, "!", sheet_word(s, W_CAUTIONS_THERE));
    p->y += 8;
    p->is_broken |= line.is_broken;
    text_done(&line);
}

static void foot(struct sheet *s, double bottom)
{
    struct paper *p = &s->p;
    struct text line = {0};
    text_printf(&line, "%s \xC2\xB7 %s", s->run_left.data, sheet_word(s, W_FIRST));
    if (s->n_marked > 0)
        text_printf(&line, " %s", sheet_format(s, W_FELL_BACK, s->b->head.language, NULL));
    paper_rule(p, PAPER_RULE, 0.5, p->left, bottom + 3, p->right, bottom + 3);
    paper_text(p, PAPER_SMALL, p->left, bottom + 5, p->right - p->left, 0, PAPER_LEFT,
               line.data != NULL ? line.data : "");
    p->is_broken |= line.is_broken;
    text_done(&line);
}

struct plan {
    double scale, share, top,
        over; /* share: of the first column; over: what is too much, in points of what is drawn */
    double heights[PARTS_MOST];
    size_t n, n_first; /* parts, and those of the first column */
};

static double foot_of(struct sheet *s)
{
    return foot_height + (s->n_marked > 0 ? paper_line_height(&s->p, PAPER_SMALL) : 0);
}

static void open_page(struct sheet *s, double scale)
{
    struct paper *p = &s->p;
    paper_shrink(p, scale, TEACH_LEAST_PT, edge, edge, p->width - edge, p->height - edge);
}

/* Column 0 or 1 of the page as it is open. */
static void column(struct paper *p, double left, double right, double share, int which)
{
    const double first = (right - left - gutter) * share;
    p->left = which == 0 ? left : left + first + gutter;
    p->right = which == 0 ? left + first : right;
}

static double column_of(const double *heights, size_t from, size_t to)
{
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += heights[i];
    return sum;
}

/* The height of every part in a column. */
static void measure_parts(struct sheet *s, double heights[PARTS_MOST], size_t n)
{
    for (size_t i = 0; i < n; i++) {
        s->p.y = 0;
        crib_parts[i].draw(s);
        heights[i] = s->p.y > 0 ? s->p.y + 7 : 0;
    }
}

/* Everything measured at one scale, with the first column so wide. Heights of parts are those in the column where they stand. */
static struct plan measured(struct sheet *s, double scale, double share)
{
    struct paper *p = &s->p;
    struct plan plan = {.scale = scale, .share = share};
    double first[PARTS_MOST] = {0}, second[PARTS_MOST] = {0};
    while (crib_parts[plan.n].draw != NULL && plan.n < PARTS_MOST)
        plan.n++;
    open_page(s, scale);
    const double left = p->left, right = p->right;
    p->is_dry = p->is_unbroken = true;
    head(s);
    plan.top = p->y;
    column(p, left, right, share, 0);
    measure_parts(s, first, plan.n);
    column(p, left, right, share, 1);
    measure_parts(s, second, plan.n);
    p->is_dry = p->is_unbroken = false;
    double best = INFINITY;
    for (size_t i = 0; i <= plan.n; i++) {
        const double tallest = fmax(column_of(first, 0, i), column_of(second, i, plan.n));
        if (tallest < best) {
            best = tallest;
            plan.n_first = i;
        }
    }
    for (size_t i = 0; i < plan.n; i++)
        plan.heights[i] = i < plan.n_first ? first[i] : second[i];
    plan.over = plan.top + best - (p->bottom - foot_of(s));
    paper_unshrink(p);
    return plan;
}

/* The parts that take most, with their share of the page, so that the owner knows where to shorten. */
static enum err refuse(struct sheet *s, const struct plan *plan, struct fault *f)
{
    struct text worst = {0};
    const double page = 2 * ((s->p.height - 2 * edge) / plan->scale - plan->top);
    bool is_told[PARTS_MOST] = {false};
    for (int k = 0; k < 3; k++) {
        size_t at = 0;
        double most = 0;
        for (size_t i = 0; i < plan->n; i++)
            if (!is_told[i] && plan->heights[i] > most) {
                most = plan->heights[i];
                at = i;
            }
        is_told[at] = true;
        if (most > 0 && page > 0)
            text_printf(&worst, "%s'%s' takes %.0f %% of it", k > 0 ? ", " : "",
                        sheet_word(s, crib_parts[at].title), 100 * most / page);
    }
    (void)fault_set(f, ERR_RANGE,
                    "it does not fit on one page even with letters of %.0f pt%s%.300s; shorten the "
                    "bulletin's texts there, or use the step cards",
                    TEACH_LEAST_PT, worst.data != NULL ? ": " : "",
                    worst.data != NULL ? worst.data : "");
    text_done(&worst);
    return ERR_RANGE;
}

static void draw(struct sheet *s, const struct plan *plan)
{
    struct paper *p = &s->p;
    open_page(s, plan->scale);
    const double left = p->left, right = p->right;
    p->is_unbroken = true;
    head(s);
    for (int which = 0; which < 2; which++) {
        column(p, left, right, plan->share, which);
        p->y = plan->top;
        const size_t end = which == 0 ? plan->n_first : plan->n;
        for (size_t i = which == 0 ? 0 : plan->n_first; i < end; i++) {
            const double from = p->y;
            crib_parts[i].draw(s);
            p->y = from + plan->heights[i];
        }
    }
    p->left = left;
    p->right = right;
    foot(s, p->bottom - foot_of(s));
    p->is_unbroken = false;
    paper_unshrink(p);
}

/* At one scale, the shares of the columns that come out shortest. */
static struct plan best_at(struct sheet *s, double scale)
{
    static const double shares[] = {0.5, 0.525, 0.475, 0.55, 0.45};
    struct plan best = measured(s, scale, shares[0]);
    for (size_t i = 1; i < sizeof shares / sizeof *shares && best.over > 0; i++) {
        const struct plan plan = measured(s, scale, shares[i]);
        if (plan.over < best.over)
            best = plan;
    }
    return best;
}

enum err teach_crib(struct teach *t, struct fault *f)
{
    struct sheet *s = &t->s;
    struct plan plan;
    const double least = TEACH_LEAST_PT / TEACH_BODY_PT;
    paper_page(&s->p, false);
    double scale = largest;
    plan = best_at(s, scale);
    while (plan.over > 0 && scale > least) {
        scale = fmax(scale - step, least);
        plan = best_at(s, scale);
    }
    if (plan.over > 0)
        return refuse(s, &plan, f);
    draw(s, &plan);
    t->made.body_pt = plan.scale * TEACH_BODY_PT;
    return ERR_OK;
}

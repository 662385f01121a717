/* letter: owns what stands where in a letter about a claim. One walk makes the blocks; text and PDF each set them. */
#include "draw/letter.h"

#include "core/date.h"
#include "draw/fonts.h"
#include "draw/letter_words.h"
#include "draw/paper.h"

#include <cairo-pdf.h>
#include <stdio.h>
#include <string.h>

enum { COLUMNS = 78, FACT_COLUMNS = 18 };

/* What a letter is set by: one of these for text, one for PDF. Texts are clean. */
struct setter {
    void (*title)(void *me, const char *text);
    void (*invented)(void *me, const char *text);
    void (*fact)(void *me, const char *name, const char *value);
    void (*verdict)(void *me, enum letter_verdict verdict, const char *text);
    void (*plain)(void *me, const char *text);
    void (*section)(void *me, const char *title);
    void (*item)(void *me, size_t number, const char *head, const char *message, const char *cure);
    void (*caution)(void *me, const char *word, const char *text);
    void (*amount)(void *me, const char *what, const char *why, const char *amount, bool is_sum);
};

struct walk {
    const struct letter *l;
    const struct setter *set;
    void *me;
    struct text buf; /* of the sentence being put together */
    struct text cleaned[4];
    size_t n_cleaned;
};

/* A text from outside, fit to be shown; good for the next three calls. */
static const char *clean(struct walk *w, const char *s)
{
    struct text *t = &w->cleaned[w->n_cleaned++ % 4];
    text_clear(t);
    text_puts(t, s != NULL ? s : "");
    if (t->is_broken || t->data == NULL)
        return "";
    t->size = text_clean(t->data, t->size, false);
    t->data[t->size] = '\0';
    return t->data;
}

static const char *word(const struct walk *w, enum letter_word id)
{
    return letter_word(id, w->l->language);
}

/* Our sentence with one thing put in. */
static const char *with(struct walk *w, enum letter_word id, const char *put)
{
    const char *format = word(w, id), *at = strstr(format, "%s");
    text_clear(&w->buf);
    text_add(&w->buf, format, at != NULL ? (size_t)(at - format) : strlen(format));
    if (at != NULL) {
        text_puts(&w->buf, clean(w, put));
        text_puts(&w->buf, at + 2);
    }
    return w->buf.is_broken || w->buf.data == NULL ? "" : w->buf.data;
}

static void fact(struct walk *w, enum letter_word name, const char *value)
{
    if (value != NULL && value[0] != '\0')
        w->set->fact(w->me, word(w, name), clean(w, value));
}

static void facts(struct walk *w)
{
    const struct letter *l = w->l;
    struct text both = {0};
    text_puts(&both, l->bulletin != NULL ? l->bulletin : "");
    if (l->title != NULL && l->title[0] != '\0')
        text_printf(&both, ", %s", l->title);
    fact(w, L_UNIT, l->vin);
    fact(w, L_BULLETIN, both.is_broken ? l->bulletin : both.data);
    fact(w, L_SHOP, l->shop);
    fact(w, L_TECHNICIAN, l->technician);
    fact(w, L_FINISHED, l->finished);
    fact(w, L_TAKEN, l->taken);
    if (l->n_asked > 0)
        fact(w, L_UNTIL, l->until);
    fact(w, L_DATE, l->date);
    text_done(&both);
}

static void verdict(struct walk *w)
{
    static const enum letter_word is[] = {L_IS_PAY, L_IS_ASK, L_IS_HOLD, L_IS_REFUSE, L_IS_UNRULED};
    static const enum letter_word next[] = {L_NEXT_PAY, L_NEXT_ASK, L_NEXT_HOLD, L_NEXT_REFUSE,
                                            L_NEXT_UNRULED};
    const struct letter *l = w->l;
    const enum letter_word said = l->is_paid ? L_IS_PAID : is[l->verdict];
    w->set->verdict(w->me, l->verdict, with(w, said, l->amount));
    if (l->is_person && l->reason != NULL)
        w->set->plain(w->me, with(w, L_WORD, l->reason));
    w->set->plain(w->me, word(w, next[l->verdict]));
}

static void items(struct walk *w, enum letter_word title, const struct letter_item *at, size_t n,
                  bool is_asked)
{
    const bool is_ours = w->l->language == WORDS_EN;
    if (n == 0)
        return;
    w->set->section(w->me, word(w, title));
    if (is_asked)
        w->set->caution(w->me, word(w, L_CAUTION_WORD), word(w, L_CAUTION));
    for (size_t i = 0; i < n; i++) {
        struct text head = {0}, message = {0}, cure = {0};
        text_puts(&head, clean(w, at[i].where != NULL ? at[i].where : word(w, L_UNIT_ALL)));
        if (at[i].what != NULL)
            text_printf(&head, ": %s", clean(w, at[i].what));
        text_printf(&message, "%s%s", is_ours ? "" : "\xC2\xBB ", clean(w, at[i].message));
        const char *how = is_asked ? letter_cure(&at[i], w->l->language) : NULL;
        if (how != NULL && how[0] != '\0')
            text_puts(&cure, with(w, L_CURE, how));
        w->buf.is_broken |= head.is_broken || message.is_broken || cure.is_broken;
        if (!w->buf.is_broken)
            w->set->item(w->me, is_asked ? i + 1 : 0, head.data, message.data, cure.data);
        text_done(&head);
        text_done(&message);
        text_done(&cure);
    }
    if (!is_ours)
        w->set->plain(w->me, word(w, L_RECORD));
}

static void money(struct walk *w)
{
    const struct letter *l = w->l;
    if (l->n_lines == 0 && l->paid == NULL)
        return;
    w->set->section(w->me, word(w, L_MONEY));
    for (size_t i = 0; i < l->n_lines; i++)
        w->set->amount(w->me, clean(w, l->lines[i].what),
                       l->lines[i].why != NULL ? clean(w, l->lines[i].why) : NULL,
                       l->lines[i].amount, false);
    if (l->amount != NULL)
        w->set->amount(w->me, word(w, L_STANDS), NULL, l->amount, true);
    if (l->paid != NULL)
        w->set->amount(w->me, word(w, L_SO_FAR), NULL, l->paid, true);
}

static enum err walk(const struct letter *l, const struct setter *set, void *me)
{
    struct walk w = {.l = l, .set = set, .me = me};
    set->title(me, with(&w, L_TITLE, l->claim));
    if (l->is_invented)
        set->invented(me, word(&w, L_INVENTED));
    facts(&w);
    verdict(&w);
    items(&w, L_SEND, l->asked, l->n_asked, true);
    items(&w, L_WHY_NOT, l->refused, l->n_refused, false);
    if (l->verdict == LETTER_PAY || l->paid != NULL)
        money(&w);
    const bool is_broken = w.buf.is_broken;
    text_done(&w.buf);
    for (size_t i = 0; i < 4; i++)
        text_done(&w.cleaned[i]);
    return is_broken ? ERR_MEMORY : ERR_OK;
}

/* ---- as text ------------------------------------------------------------------------------------ */

/* s wrapped at blanks to COLUMNS, every line after `indent`, the first after `first` (as wide as indent). */
static void wrap(struct text *out, const char *first, const char *indent, const char *s)
{
    const size_t room = COLUMNS - text_columns(indent, strlen(indent));
    text_puts(out, first);
    for (size_t used = 0; *s != '\0';) {
        const size_t n = strcspn(s, " ");
        const size_t width = text_columns(s, n);
        if (used > 0 && used + 1 + width > room) {
            text_printf(out, "\n%s", indent);
            used = 0;
        }
        if (used > 0)
            text_putc(out, ' ');
        text_add(out, s, n);
        used += width + (used > 0);
        s += n + strspn(s + n, " ");
    }
    text_putc(out, '\n');
}

static void text_title(void *me, const char *s)
{
    wrap(me, "", "", s);
}

static void text_invented(void *me, const char *s)
{
    wrap(me, "", "", s);
}

static void text_fact(void *me, const char *name, const char *value)
{
    char first[4 * FACT_COLUMNS + 8], indent[FACT_COLUMNS + 1];
    const size_t width = text_columns(name, strlen(name));
    snprintf(first, sizeof first, "%.60s%*s", name,
             (int)(width < FACT_COLUMNS ? FACT_COLUMNS - width : 1), "");
    snprintf(indent, sizeof indent, "%*s", FACT_COLUMNS, "");
    wrap(me, first, indent, value);
}

static void text_verdict(void *me, enum letter_verdict v, const char *s)
{
    (void)v;
    text_putc(me, '\n');
    wrap(me, "", "", s);
}

static void text_section(void *me, const char *title)
{
    text_putc(me, '\n');
    wrap(me, "", "", title);
    for (size_t i = text_columns(title, strlen(title)); i > 0; i--)
        text_putc(me, '-');
    text_putc(me, '\n');
}

static void text_item(void *me, size_t number, const char *head, const char *message,
                      const char *cure)
{
    char first[16];
    snprintf(first, sizeof first, number > 0 ? "%2zu. " : "  - ", number);
    text_putc(me, '\n');
    wrap(me, first, "    ", head);
    wrap(me, "    ", "    ", message);
    if (cure != NULL)
        wrap(me, "    ", "    ", cure);
}

static void text_caution(void *me, const char *name, const char *s)
{
    struct text both = {0};
    text_printf(&both, "%s: %s", name, s);
    if (!both.is_broken)
        wrap(me, "!! ", "!! ", both.data);
    text_done(&both);
}

static void text_amount(void *me, const char *what, const char *why, const char *amount,
                        bool is_sum)
{
    struct text left = {0};
    text_printf(&left, "%s%s%s", what, why != NULL ? ": " : "", why != NULL ? why : "");
    const size_t width = left.is_broken ? 0 : text_columns(left.data, left.size);
    const size_t right = text_columns(amount, strlen(amount));
    if (is_sum)
        text_puts(me, "= ");
    else
        text_puts(me, "  ");
    if (left.is_broken || width + right + 4 > COLUMNS) {
        wrap(me, "", "    ", left.is_broken ? "" : left.data);
        text_printf(me, "%*s%s\n", (int)(COLUMNS - right), "", amount);
    } else {
        text_printf(me, "%s%*s%s\n", left.data, (int)(COLUMNS - 2 - width - right), "", amount);
    }
    text_done(&left);
}

enum err letter_text(const struct letter *l, struct text *out, struct fault *reterr)
{
    static const struct setter set = {text_title,   text_invented, text_fact,
                                      text_verdict, text_title,    text_section,
                                      text_item,    text_caution,  text_amount};
    const enum err err = walk(l, &set, out);
    return err == ERR_OK && !out->is_broken ? ERR_OK : fault_no_memory(reterr);
}

/* ---- as PDF ------------------------------------------------------------------------------------- */

static double width_of(const struct paper *p)
{
    return p->right - p->left;
}

static void pdf_title(void *me, const char *s)
{
    struct paper *p = me;
    paper_tag(p, "H1");
    paper_line(p, PAPER_TITLE, p->left, p->y, width_of(p), PAPER_LEFT, s);
    paper_untag(p, "H1");
    p->y += paper_line_height(p, PAPER_TITLE) + 3;
}

static void pdf_invented(void *me, const char *s)
{
    struct paper *p = me;
    paper_flow(p, PAPER_HAZARD, p->left, width_of(p), s);
    p->y += 2;
}

static void pdf_fact(void *me, const char *name, const char *value)
{
    struct paper *p = me;
    const double column = 92;
    paper_need(p, 16);
    paper_line(p, PAPER_QUIET, p->left, p->y + 0.8, column - 6, PAPER_LEFT, name);
    p->y += paper_text(p, PAPER_BODY, p->left + column, p->y, width_of(p) - column, 3, PAPER_LEFT,
                       value) +
            1;
}

/* The strip in small (doc/looks.md): pay: the wedge between the bars; ask: the arrow over them; hold: the wedge on a bar, hatched; refuse:
 * beyond one; not looked at: the bars alone. */
static void shape(struct paper *p, enum letter_verdict v, double x, double y)
{
    const uint32_t ink = v == LETTER_REFUSE ? PAPER_STOP : PAPER_INK;
    const double at = v == LETTER_PAY ? x + 15 : v == LETTER_HOLD ? x + 26 : x + 33;
    const double wedge[] = {at, y + 11, at - 5, y + 2, at + 5, y + 2};
    const double arrow[] = {x + 23, y + 5, x + 17, y + 1, x + 17, y + 9};
    if (v == LETTER_HOLD)
        paper_hatch(p, PAPER_GREY, x + 20, y + 14, 12, 8, 2.5);
    paper_rule(p, ink, 1.6, x + 4, y + 18, x + 26, y + 18);
    paper_rule(p, ink, 1.6, x + 4, y + 13, x + 4, y + 23);
    paper_rule(p, ink, 1.6, x + 26, y + 13, x + 26, y + 23);
    if (v == LETTER_ASK) {
        paper_rule(p, ink, 1.6, x + 7, y + 5, x + 18, y + 5);
        paper_poly(p, ink, arrow, 3);
    } else if (v != LETTER_UNRULED) {
        paper_poly(p, ink, wedge, 3);
    }
}

static void pdf_verdict(void *me, enum letter_verdict v, const char *s)
{
    struct paper *p = me;
    const double indent = 46;
    p->y += 10;
    paper_rule(p, PAPER_INK, 1.2, p->left, p->y, p->right, p->y);
    p->y += 9;
    shape(p, v, p->left, p->y - 3);
    const double height =
        paper_text(p, PAPER_HEAD, p->left + indent, p->y, width_of(p) - indent, 3, PAPER_LEFT, s);
    p->y += (height > 20 ? height : 20) + 5;
}

static void pdf_plain(void *me, const char *s)
{
    struct paper *p = me;
    paper_flow(p, PAPER_BODY, p->left, width_of(p), s);
    p->y += 4;
}

static void pdf_section(void *me, const char *title)
{
    struct paper *p = me;
    const double height = paper_line_height(p, PAPER_HEAD);
    p->y += 10;
    paper_need(p, height + 60);
    paper_tag(p, "H2");
    paper_line(p, PAPER_HEAD, p->left, p->y, width_of(p), PAPER_LEFT, title);
    paper_untag(p, "H2");
    p->y += height + 2;
    paper_rule(p, PAPER_INK, 1.2, p->left, p->y, p->right, p->y);
    p->y += 7;
}

static void pdf_item(void *me, size_t number, const char *head, const char *message,
                     const char *cure)
{
    struct paper *p = me;
    char figure[24] = "";
    const double indent = number > 0 ? 20 : 0, width = width_of(p) - indent;
    const double need = paper_text_height(p, PAPER_STRONG, width, 0, head) +
                        paper_text_height(p, PAPER_BODY, width, 0, message) +
                        (cure != NULL ? paper_text_height(p, PAPER_ACTION, width, 0, cure) : 0);
    paper_need(p, need + 10 < 400 ? need + 10 : 400); /* one finding stays on one page */
    if (number > 0) {
        snprintf(figure, sizeof figure, "%zu", number);
        paper_line(p, PAPER_FIGURE, p->left, p->y - 1, indent - 4, PAPER_LEFT, figure);
    }
    paper_flow(p, PAPER_STRONG, p->left + indent, width, head);
    paper_flow(p, PAPER_BODY, p->left + indent, width, message);
    if (cure != NULL)
        paper_flow(p, PAPER_ACTION, p->left + indent, width, cure);
    p->y += 3;
    paper_rule(p, PAPER_RULE, 0.5, p->left, p->y, p->right, p->y);
    p->y += 5;
}

static void pdf_caution(void *me, const char *name, const char *s)
{
    struct paper *p = me;
    paper_boxed(p, p->left, width_of(p), name, s);
    p->y += 8;
}

static void pdf_amount(void *me, const char *what, const char *why, const char *amount, bool is_sum)
{
    struct paper *p = me;
    const enum paper_style style = is_sum ? PAPER_STRONG : PAPER_BODY;
    const double right = 110, left = 190, middle = width_of(p) - left - right - 12;
    paper_need(p, 30);
    double height = paper_text(p, style, p->left, p->y, left, 3, PAPER_LEFT, what);
    if (why != NULL) {
        const double other =
            paper_text(p, PAPER_QUIET, p->left + left + 6, p->y + 0.8, middle, 4, PAPER_LEFT, why);
        height = other > height ? other : height;
    }
    paper_text(p, style, p->right - right, p->y, right, 1, PAPER_RIGHT, amount);
    p->y += height + 3;
    paper_rule(p, is_sum ? PAPER_INK : PAPER_RULE, 0.5, p->left, p->y, p->right, p->y);
    p->y += 3;
}

static void describe(struct paper *p, const struct letter *l, const char *title)
{
    char date[DATE_SHOW_SIZE], when[40];
    const int64_t second = l->made_s % 86400;
    date_show((int32_t)(l->made_s / 86400), date);
    snprintf(when, sizeof when, "%sT%02d:%02d:%02dZ", date, (int)(second / 3600),
             (int)(second / 60 % 60), (int)(second % 60));
    cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_TITLE, title);
    cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_AUTHOR,
                                   l->maker != NULL ? l->maker : "Mendwright");
    cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATOR, "Mendwright");
    cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATE_DATE, when);
}

/* One pass; the first counts the pages, so that the foot can say of how many. */
static enum err pass(const struct letter *l, int *pages, const char *title, struct text *out)
{
    static const struct setter set = {pdf_title,   pdf_invented, pdf_fact,
                                      pdf_verdict, pdf_plain,    pdf_section,
                                      pdf_item,    pdf_caution,  pdf_amount};
    struct paper p;
    enum err err = paper_open(&p, l->size);
    if (err != ERR_OK)
        return err;
    p.n_pages = *pages;
    p.run_left = title;
    p.run_right = l->vin != NULL ? l->vin : "";
    describe(&p, l, title);
    paper_page(&p, false);
    err = walk(l, &set, &p);
    *pages = p.page;
    const enum err closed = paper_close(&p);
    err = err != ERR_OK ? err : closed;
    if (err == ERR_OK && out != NULL) {
        text_add(out, p.out.data, p.out.size);
        err = out->is_broken ? ERR_MEMORY : ERR_OK;
    }
    text_done(&p.out);
    return err;
}

enum err letter_pdf(const struct letter *l, struct text *out, struct fault *reterr)
{
    struct walk w = {.l = l};
    int pages = 0;
    if (!fonts_any())
        return fault_set(reterr, ERR_UNKNOWN, "this machine has no font to write a letter with");
    const char *title = with(&w, L_TITLE, l->claim);
    enum err err = w.buf.is_broken ? ERR_MEMORY : pass(l, &pages, title, NULL);
    if (err == ERR_OK)
        err = pass(l, &pages, title, out);
    text_done(&w.buf);
    for (size_t i = 0; i < 4; i++)
        text_done(&w.cleaned[i]);
    return err == ERR_OK ? ERR_OK : fault_set(reterr, err, "memory ran out while drawing");
}

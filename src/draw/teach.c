/* teach: owns the file: which kind of paper, its description, what was made; see teach.h. */
#include "draw/teach.h"

#include "draw/teach_parts.h"

static enum err draw(struct teach *t, struct text *out, struct fault *f)
{
    struct sheet *s = &t->s;
    enum err e = paper_open(&s->p, t->o->size);
    s->p.has_no_foot = true; /* cards and crib have their own */
    if (e == ERR_OK) {
        sheet_describe(s, sheet_word(s, t->o->kind == TEACH_CRIB ? W_CRIB : W_CARDS));
        if (t->o->kind == TEACH_CRIB)
            e = teach_crib(t, f);
        else
            teach_cards(t);
    }
    const enum err closed = paper_close(&s->p);
    e = e != ERR_OK ? e : closed;
    if (e == ERR_OK)
        text_add(out, s->p.out.data, s->p.out.size);
    text_done(&s->p.out);
    return e == ERR_OK && out->is_broken ? ERR_MEMORY : e;
}

static enum err check(const struct teach_order *o, struct fault *f)
{
    if (o->kind == TEACH_CARDS && o->per_page != 2 && o->per_page != 4)
        return fault_set(f, ERR_DOMAIN, "found %d cards to a page; expected 2 or 4", o->per_page);
    if (o->kind == TEACH_CARDS && o->b->steps.n == 0)
        return fault_set(f, ERR_EMPTY, "the bulletin has no steps, so there are no cards");
    return sheet_ready(f);
}

enum err teach_make(const struct teach_order *order, struct text *out, struct teach_made *ret,
                    struct fault *reterr)
{
    struct teach t = {.o = order};
    struct text code = {0};
    char revision[SHEET_FIGURE];
    enum err e = check(order, reterr);
    if (e != ERR_OK)
        return e;
    struct sheet *s = &t.s;
    t.order = (struct sheet_order){
        .b = order->b, .language = order->language, .size = order->size, .made_s = order->made_s};
    s->o = &t.order;
    s->b = order->b;
    s->has_marks = true;
    s->language = order->language != NULL ? order->language : order->b->head.language;
    s->words = words_language(s->language);
    t.made.body_pt = TEACH_BODY_PT;
    sheet_job_text(order->b, NULL, &code);
    text_printf(&s->run_left, "%s, %s%s%s", order->b->head.id,
                sheet_format(s, W_REVISION, sheet_figure(order->b->head.revision, revision), NULL),
                order->b->head.is_invented ? " \xC2\xB7 " : "",
                order->b->head.is_invented ? sheet_word(s, W_INVENTED_SHORT) : "");
    s->code = code.data;
    e = code.is_broken || s->run_left.is_broken ? ERR_MEMORY : ERR_OK;
    if (e == ERR_OK)
        e = draw(&t, out, reterr);
    if (e == ERR_OK) {
        t.made.n_pages = s->p.page;
        t.made.n_other_language = s->n_marked;
        *ret = t.made;
    } else if (e == ERR_MEMORY) {
        (void)fault_set(reterr, e, "memory ran out while drawing");
    }
    sheet_marked_done(s);
    text_done(&code);
    text_done(&s->run_left);
    text_done(&s->buf);
    return e;
}

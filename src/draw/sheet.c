/* sheet: owns the order of the sheet, its two passes (the first counts the pages) and the file's description of itself. */
#include "draw/sheet.h"

#include "base/amount.h"
#include "bulletin/adapt_truing.h"
#include "core/date.h"
#include "draw/fonts.h"
#include "draw/sheet_parts.h"

#include <cairo-pdf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- shared by the parts ---------------------------------------------------------------------- */

const char *sheet_word(const struct sheet *s, enum words word)
{
    return words_of(word, s->words);
}

struct sheet_marked {
    const struct bulletin_text *of;
    char *text;
};

static const char *remember(struct sheet *s, const struct bulletin_text *of, const char *plain,
                            const char *tag)
{
    if (s->n_marked == s->marked_room) {
        const size_t room = s->marked_room > 0 ? 2 * s->marked_room : 64;
        struct sheet_marked *more = realloc(s->marked, room * sizeof *more);
        if (more == NULL)
            return NULL;
        s->marked = more;
        s->marked_room = room;
    }
    const size_t size = strlen(plain) + strlen(tag) + sizeof " []";
    char *text = malloc(size);
    if (text == NULL)
        return NULL;
    (void)snprintf(text, size, "%s [%s]", plain, tag);
    s->marked[s->n_marked++] = (struct sheet_marked){of, text};
    return text;
}

void sheet_marked_done(struct sheet *s)
{
    for (size_t i = 0; i < s->n_marked; i++)
        free(s->marked[i].text);
    free(s->marked);
    s->marked = NULL;
    s->n_marked = s->marked_room = 0;
}

const char *sheet_text(struct sheet *s, const struct bulletin_text *text)
{
    const char *plain = bulletin_text_in(s->b, text, s->language);
    if (!s->has_marks || plain[0] == '\0' || bulletin_text_has(text, s->language))
        return plain;
    for (size_t i = 0; i < s->n_marked; i++)
        if (s->marked[i].of == text)
            return s->marked[i].text;
    const char *tag = s->b->head.language;
    for (size_t i = 0; i < text->n; i++)
        if (text->at[i].text == plain)
            tag = text->at[i].language;
    const char *marked = remember(s, text, plain, tag);
    s->p.is_broken |= marked == NULL;
    return marked != NULL ? marked : plain;
}

const char *sheet_format(struct sheet *s, enum words word, const char *first, const char *second)
{
    const char *in[] = {first, second};
    size_t n = 0;
    text_clear(&s->buf);
    for (const char *at = words_of(word, s->words); *at != '\0';) {
        if (strncmp(at, "%s", 2) != 0) {
            text_putc(&s->buf, *at++);
            continue;
        }
        text_puts(&s->buf, n < 2 && in[n] != NULL ? in[n] : "");
        n++;
        at += 2;
    }
    s->p.is_broken |= s->buf.is_broken;
    return s->buf.data != NULL && !s->buf.is_broken ? s->buf.data : "";
}

const char *sheet_figure(int64_t figure, char buf[SHEET_FIGURE])
{
    (void)snprintf(buf, SHEET_FIGURE, "%lld", (long long)figure);
    return buf;
}

bool sheet_has(const struct sheet *s, const char *station)
{
    if (station[0] == '\0' || s->o->n_stations == 0)
        return true;
    for (size_t i = 0; i < s->o->n_stations; i++)
        if (strcmp(s->o->stations[i], station) == 0)
            return true;
    return false;
}

void sheet_section(struct sheet *s, const char *title, double keep)
{
    struct paper *p = &s->p;
    char name[24];
    const double head = paper_line_height(p, PAPER_HEAD);
    p->y += p->y > p->top ? 14 : 0;
    paper_need(p, head + 12 + keep);
    (void)snprintf(name, sizeof name, "section-%d", ++s->n_sections);
    paper_mark(p, title, name);
    paper_tag(p, "H2");
    paper_line(p, PAPER_HEAD, p->left, p->y, p->right - p->left, PAPER_LEFT, title);
    paper_untag(p, "H2");
    p->y += head + 2;
    paper_rule(p, PAPER_INK, 1.2, p->left, p->y, p->right, p->y);
    p->y += 7;
}

static int64_t limit_of(const struct bulletin_amount *amount, int64_t otherwise)
{
    return amount->is_given ? amount->nano : otherwise;
}

struct strip sheet_strip(const struct sheet *s, const struct bulletin_point *point)
{
    struct strip strip = {
        .limits = {limit_of(&point->low, INT64_MIN), limit_of(&point->high, INT64_MAX)},
        .nominal = point->nominal.nano};
    int64_t guard = 0;
    strip.guarded = strip.limits;
    if (s->b->decision.guard == BULLETIN_GUARD_RISK &&
        conform_guard(adapt_point_u(s->b, point), s->b->decision.risk, &guard) == ERR_OK)
        if (conform_narrow(strip.limits, guard, &strip.guarded) != ERR_OK)
            strip.guarded = strip.limits;
    return strip;
}

const char *sheet_limits(const struct bulletin_point *point, char buf[SHEET_LIMITS])
{
    char low[AMOUNT_SIZE], high[AMOUNT_SIZE];
    const enum unit unit = point->nominal.is_given ? point->nominal.unit
                           : point->low.is_given   ? point->low.unit
                                                   : point->high.unit;
    if (!point->low.is_given)
        (void)snprintf(buf, SHEET_LIMITS, "\xE2\x89\xA4 %s",
                       amount_show(point->high.nano, unit, high));
    else if (!point->high.is_given)
        (void)snprintf(buf, SHEET_LIMITS, "\xE2\x89\xA5 %s",
                       amount_show(point->low.nano, unit, low));
    else if (point->low.nano == point->high.nano)
        (void)snprintf(buf, SHEET_LIMITS, "%s", amount_show(point->low.nano, unit, low));
    else /* an ellipsis and no dash, which could be read as a minus */
        (void)snprintf(buf, SHEET_LIMITS, "%s \xE2\x80\xA6 %s",
                       amount_figure(point->low.nano, unit, low),
                       amount_show(point->high.nano, unit, high));
    return buf;
}

static bool has_level(const struct bulletin_point *point, const char *factor)
{
    for (size_t i = 0; i < point->factors.n; i++)
        if (strcmp(point->factors.at[i].factor, factor) == 0)
            return true;
    return false;
}

bool sheet_is_corner(const struct bulletin_point *point)
{
    const bool is_length = (point->low.is_given ? point->low.dim : point->high.dim) == DIM_LENGTH;
    return is_length && has_level(point, "side") && has_level(point, "height");
}

/* ---- the code --------------------------------------------------------------------------------- */

static void add_encoded(struct text *out, const char *s)
{
    for (; *s != '\0'; s++) {
        const unsigned char c = (unsigned char)*s;
        const bool is_plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') ||
                              (c >= 'a' && c <= 'z') || strchr("-._~", *s) != NULL;
        if (is_plain)
            text_putc(out, *s);
        else
            text_printf(out, "%%%02X", c);
    }
}

void sheet_job_text(const struct bulletin *b, const char *vin, struct text *out)
{
    text_puts(out, "mendwright:");
    add_encoded(out, b->head.id);
    text_printf(out, "/%d", (int)b->head.revision);
    if (vin != NULL) {
        text_puts(out, "?vin=");
        add_encoded(out, vin);
    }
}

/* ---- the whole -------------------------------------------------------------------------------- */

void sheet_describe(struct sheet *s, const char *name)
{
    char date[DATE_SHOW_SIZE], when[40], revision[SHEET_FIGURE];
    const struct sheet_order *o = s->o;
    struct text title = {0};
    const int64_t day = o->made_s / 86400, second = o->made_s % 86400;
    date_show((int32_t)day, date);
    (void)snprintf(when, sizeof when, "%sT%02d:%02d:%02dZ", date, (int)(second / 3600),
                   (int)(second / 60 % 60), (int)(second % 60));
    text_printf(&title, "%s %s, %s", name, s->b->head.id,
                sheet_format(s, W_REVISION, sheet_figure(s->b->head.revision, revision), NULL));
    cairo_surface_t *surface = s->p.surface;
    if (!title.is_broken)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title.data);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT,
                                   sheet_text(s, &s->b->head.title));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_AUTHOR, s->b->head.maker);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR,
                                   "Mendwright " MENDWRIGHT_VERSION);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_KEYWORDS, s->code);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, when);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, when);
    text_done(&title);
}

static void draw_all(struct sheet *s)
{
    paper_page(&s->p, false);
    sheet_front(s);
    sheet_steps(s);
    sheet_readings(s);
    sheet_cuts(s);
    sheet_proof(s);
    sheet_template(s);
}

/* One pass; *pages in: how many there will be (0: not known), out: how many there are. page: this one alone, as a PNG; 0: all, as a PDF. */
static enum err pass(struct sheet *s, int *pages, int page, struct text *out)
{
    enum err e = page > 0 ? paper_open_page(&s->p, s->o->size, page, SHEET_PAGE_PIXELS)
                          : paper_open(&s->p, s->o->size);
    s->p.n_pages = *pages;
    s->p.run_left = s->run_left.data;
    s->p.run_right = s->run_right.data;
    s->n_sections = s->n_template_pages = 0;
    if (e == ERR_OK) {
        if (page == 0)
            sheet_describe(s, sheet_word(s, W_SHEET));
        draw_all(s);
    }
    const enum err closed = paper_close(&s->p);
    e = e != ERR_OK ? e : closed;
    *pages = s->p.page;
    if (e == ERR_OK && out != NULL)
        text_add(out, s->p.out.data, s->p.out.size);
    text_done(&s->p.out);
    return e == ERR_OK && out != NULL && out->is_broken ? ERR_MEMORY : e;
}

/* The page that was asked for, after the first pass. */
static int page_of(const struct sheet *s, int pages)
{
    const int page = s->o->step != NULL ? s->step_page : s->o->page;
    return page < 1 ? 1 : page > pages ? pages : page;
}

enum err sheet_ready(struct fault *f)
{
    if (!fonts_any())
        return fault_set(f, ERR_UNKNOWN,
                         "found no font on this machine; expected any that fontconfig "
                         "finds, such as Debian's fonts-dejavu-core");
    return ERR_OK;
}

static enum err check(const struct sheet_order *o, struct fault *f)
{
    for (size_t i = 0; i < o->n_stations; i++)
        if (bulletin_station_find(o->b, o->stations[i]) == NULL)
            return fault_set(f, ERR_UNKNOWN, "the bulletin has no station %.60s", o->stations[i]);
    if (o->link != NULL && strlen(o->link) > SHEET_LINK_MAX)
        return fault_set(f, ERR_LIMIT, "the link has %zu bytes; at most %d are printed as a code",
                         strlen(o->link), (int)SHEET_LINK_MAX);
    return sheet_ready(f);
}

enum err sheet_make(const struct sheet_order *order, struct text *out, struct sheet_made *ret,
                    struct fault *reterr)
{
    struct sheet s = {.o = order, .b = order->b};
    struct text code = {0};
    char revision[SHEET_FIGURE];
    int pages = 0;
    enum err e = check(order, reterr);
    if (e != ERR_OK)
        return e;
    s.language = order->language != NULL ? order->language : order->b->head.language;
    s.words = words_language(s.language);
    if (order->link != NULL)
        text_puts(&code, order->link);
    else
        sheet_job_text(order->b, order->vin, &code);
    text_printf(&s.run_left, "%s, %s%s%s", order->b->head.id,
                sheet_format(&s, W_REVISION, sheet_figure(order->b->head.revision, revision), NULL),
                order->vin != NULL ? " \xC2\xB7 " : "", order->vin != NULL ? order->vin : "");
    text_printf(&s.run_right, "%s%s%s",
                order->b->head.is_invented ? sheet_word(&s, W_INVENTED_SHORT) : "",
                order->b->head.is_invented ? " " : "", sheet_word(&s, W_FIRST));
    s.code = code.data;
    e = code.is_broken || s.run_left.is_broken || s.run_right.is_broken ? ERR_MEMORY : ERR_OK;
    if (e == ERR_OK)
        e = pass(&s, &pages, 0, NULL);
    const int page = order->is_page ? page_of(&s, pages) : 0;
    if (e == ERR_OK)
        e = pass(&s, &pages, page, out);
    if (e == ERR_OK)
        *ret = (struct sheet_made){pages, s.n_template_pages, page};
    else
        (void)fault_set(reterr, e, "memory ran out while drawing");
    text_done(&code);
    text_done(&s.run_left);
    text_done(&s.run_right);
    text_done(&s.buf);
    return e;
}

/* plot: owns what the plots share: paper that is as high as it must be, the head, title and description of the file. */
#include "draw/plot_parts.h"

#include "draw/fonts.h"

#include <string.h>

static void add_escaped(struct text *out, const char *s)
{
    for (; *s != '\0'; s++) {
        if (*s == '<')
            text_puts(out, "&lt;");
        else if (*s == '&')
            text_puts(out, "&amp;");
        else
            text_putc(out, *s);
    }
}

/* Letters are drawn as shapes, which no program reads aloud: the file says in words what it shows. */
void plot_described(struct text *out, const struct text *svg, const char *title,
                    const char *description)
{
    const char *start = svg->data != NULL ? strstr(svg->data, "<svg") : NULL;
    const char *end = start != NULL ? strchr(start, '>') : NULL;
    if (end == NULL) {
        out->is_broken = true;
        return;
    }
    const size_t n = (size_t)(end + 1 - svg->data);
    text_add(out, svg->data, n);
    text_puts(out, "\n<title>");
    add_escaped(out, title);
    text_puts(out, "</title>\n<desc>");
    add_escaped(out, description);
    text_puts(out, "</desc>");
    text_add(out, svg->data + n, svg->size - n);
}

enum err plot_run(plot_draw *draw, const void *order, const char *title, const char *description,
                  struct text *out, struct fault *reterr)
{
    struct paper p;
    double height = 100;
    enum err e = ERR_OK;
    if (!fonts_any())
        return fault_set(reterr, ERR_UNKNOWN,
                         "found no font on this machine; expected any that fontconfig "
                         "finds, such as Debian's fonts-dejavu-core");
    for (int pass = 0; pass < 2 && e == ERR_OK; pass++) {
        e = paper_open_svg(&p, PLOT_WIDTH, height);
        p.is_dry = pass == 0;
        p.left = p.y = PLOT_PAD;
        p.right = PLOT_WIDTH - PLOT_PAD;
        p.bottom = 1e9;
        if (e == ERR_OK && pass == 1)
            paper_fill(&p, PAPER_WARM, 0, 0, PLOT_WIDTH, height);
        if (e == ERR_OK)
            draw(&p, order);
        height = p.y + PLOT_PAD;
        const enum err closed = paper_close(&p);
        e = e != ERR_OK ? e : closed;
        if (e == ERR_OK && pass == 1)
            plot_described(out, &p.out, title, description);
        text_done(&p.out);
    }
    if (e == ERR_OK && out->is_broken)
        e = ERR_MEMORY;
    return e == ERR_OK ? e : fault_set(reterr, e, "memory ran out while drawing");
}

void plot_head(struct paper *p, const char *verdict, const char *title, bool is_invented)
{
    const double width = p->right - p->left;
    p->y += paper_text(p, PAPER_TITLE, p->left, p->y, width, 3, PAPER_LEFT, verdict) + 4;
    p->y += paper_text(p, PAPER_BODY, p->left, p->y, width, 2, PAPER_LEFT, title) + 2;
    if (is_invented)
        p->y += 2 + paper_text(p, PAPER_HAZARD, p->left, p->y, width, 1, PAPER_LEFT,
                               "Invented, for practice: repair nothing by it.");
    p->y += 12;
}

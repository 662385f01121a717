/* chart_kits: what each sort may be asked for, and the order that covers it. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

enum { RIGHT = 70 };
#define NAMES 0.42 /* of the width at most for the rows' names */

static void name_of(const struct chart_kit *k, char *buf, size_t room)
{
    char a[CHART_FIGURE_SIZE], name[CHART_NAME_SIZE];
    (void)snprintf(buf, room, "%s (%s so far)", chart_cut(k->name, name),
                   chart_figure(k->asked, 9, a));
}

static void draw_kit(struct chart_panel *c, const struct chart_kit *k, double at)
{
    char says[160], b[CHART_FIGURE_SIZE];
    const double order = chart_x(c, k->order), middle = chart_x(c, k->middle);
    chart_whisker(c, PAPER_INK, 1.6, chart_x(c, k->low), chart_x(c, k->high), at, true);
    paper_rule(c->p, PAPER_INK, 2.4, middle, at - 5, middle, at + 5);
    const double xy[6] = {order, at - 1.5, order - 5, at - 10, order + 5, at - 10};
    paper_poly(c->p, PAPER_ACT, xy, 3);
    chart_take(c, order - 5, at - 10, 10, 10);
    name_of(k, says, sizeof says);
    chart_name(c, PAPER_BODY, at, says);
    (void)snprintf(says, sizeof says, "order %s", chart_figure(k->order, 9, b));
    chart_label(c, PAPER_ACTION, fmax(order, chart_x(c, k->high)), at, CHART_RIGHT, says);
}

void chart_draw_kits(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_kits *k = &chart->kits;
    const size_t n = chart_rows_shown(p, k->n, k->n_all, "sorts", &box);
    char label[160], name[160];
    double most = 1, names = 0;
    for (size_t i = 0; i < n; i++) {
        most = fmax(most, fmax(k->kits[i].high, k->kits[i].order));
        name_of(&k->kits[i], name, sizeof name);
        names = chart_names_width(p, PAPER_BODY, name, names, box.width * NAMES);
    }
    (void)snprintf(label, sizeof label, "kits asked for %.100s", k->within);
    const struct chart_side x = {.label = label, .axis = {.low = 0, .high = most}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = n > 0 ? chart_panel_new(p, box, &x, &y, names, RIGHT) : NULL;
    for (size_t i = 0; c != NULL && i < n; i++)
        draw_kit(c, &k->kits[i], chart_row(c, i, n) + 2);
    chart_panel_free(c);
}

/* sheet_front: owns the head of the sheet, what is in, the kits, what to bring; and at its end the proof. */
#include "draw/sheet_parts.h"

#include "base/amount.h"
#include "core/date.h"
#include "draw/qr.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- head ------------------------------------------------------------------------------------- */

/* Our mark: a strip whose wedge stands at the nominal. */
void sheet_mark(struct paper *p, double x, double y)
{
    const double xy[] = {x + 13, y + 7, x + 9.5, y, x + 16.5, y};
    paper_fill(p, PAPER_ACT, x, y + 8, 26, 3);
    paper_rule(p, PAPER_ACT, 1.4, x, y + 4.5, x, y + 14.5);
    paper_rule(p, PAPER_ACT, 1.4, x + 26, y + 4.5, x + 26, y + 14.5);
    paper_poly(p, PAPER_ACT, xy, 3);
}

void sheet_code(struct sheet *s, double x, double y, double side)
{
    struct paper *p = &s->p;
    struct qr qr = {0};
    if (qr_make(s->code, &qr) != ERR_OK) {
        p->is_broken = true;
        return;
    }
    const double module = side / (qr.side + 2 * QR_QUIET);
    paper_ink(p, 0x000000);
    for (int row = 0; row < qr.side; row++)
        for (int column = 0; column < qr.side; column++) {
            int run = 0;
            while (column + run < qr.side && qr_is_dark(&qr, column + run, row))
                run++;
            if (run > 0)
                cairo_rectangle(p->cr, x + (column + QR_QUIET) * module,
                                y + (row + QR_QUIET) * module, run * module, module);
            column += run > 0 ? run - 1 : 0;
        }
    cairo_fill(p->cr);
    paper_link(p, s->code, x, y, side, side);
    qr_done(&qr);
}

/* A field to be written in, its name in small letters above the line. */
static void field(struct paper *p, double x, double y, double width, const char *name)
{
    paper_line(p, PAPER_SMALL, x, y, width, PAPER_LEFT, name);
    paper_rule(p, PAPER_INK, 0.6, x, y + 24, x + width, y + 24);
}

static void vin_boxes(struct sheet *s, double x, double y)
{
    enum { CHARACTERS = 17 };
    struct paper *p = &s->p;
    const double side = 5.6 * PAPER_MM, height = 7 * PAPER_MM;
    paper_line(p, PAPER_SMALL, x, y, 100, PAPER_LEFT, "VIN");
    for (int i = 0; i < CHARACTERS; i++) {
        const char letter[2] = {s->o->vin != NULL ? s->o->vin[i] : '\0', '\0'};
        paper_frame(p, PAPER_INK, 0.6, x + i * side, y + 10, side, height);
        paper_line(p, PAPER_FIGURE, x + i * side, y + 10 + 3, side, PAPER_CENTRE, letter);
    }
    if (s->o->vin != NULL && !p->is_dry) { /* whole, for those who copy or search the text */
        const double end = x + CHARACTERS * side + 6;
        paper_line(p, PAPER_SMALL, end, y + 16, p->right - end, PAPER_LEFT, s->o->vin);
    }
}

static void title_block(struct sheet *s)
{
    struct paper *p = &s->p;
    const struct bulletin_head *h = &s->b->head;
    const double side = 34 * PAPER_MM, width = p->right - p->left - side - 14, top = p->y;
    char date[DATE_SHOW_SIZE], revision[SHEET_FIGURE];
    struct text line = {0};
    sheet_mark(p, p->left, p->y);
    paper_line(p, PAPER_QUIET, p->left + 34, p->y + 3, width - 34, PAPER_LEFT,
               sheet_word(s, W_SHEET));
    p->y += 22;
    paper_tag(p, "H1");
    p->y +=
        paper_text(p, PAPER_TITLE, p->left, p->y, width, 4, PAPER_LEFT, sheet_text(s, &h->title));
    paper_untag(p, "H1");
    date_show(h->issued, date);
    text_printf(&line, "%s \xC2\xB7 %s", h->id,
                sheet_format(s, W_REVISION, sheet_figure(h->revision, revision), NULL));
    text_printf(&line, " \xC2\xB7 %s \xC2\xB7 %s", sheet_format(s, W_ISSUED, date, NULL), h->maker);
    if (!line.is_broken)
        p->y += 4 + paper_text(p, PAPER_STRONG, p->left, p->y + 3, width, 3, PAPER_LEFT, line.data);
    text_done(&line);
    if (h->contact[0] != '\0')
        p->y += 2 + paper_text(p, PAPER_QUIET, p->left, p->y, width, 2, PAPER_LEFT, h->contact);
    sheet_code(s, p->right - side, top - 6, side);
    paper_text(p, PAPER_SMALL, p->right - side, top - 6 + side, side, 4, PAPER_CENTRE, s->code);
    const double below = top - 6 + side + 4 * paper_line_height(p, PAPER_SMALL);
    p->y = fmax(p->y, below);
    if (h->is_invented) {
        paper_hatch(p, PAPER_STOP, p->left, p->y + 4, 26, 13, 4);
        paper_line(p, PAPER_HAZARD, p->left + 34, p->y + 4.5, p->right - p->left - 34, PAPER_LEFT,
                   sheet_word(s, W_INVENTED));
        p->y += 22;
    }
}

static void head(struct sheet *s)
{
    struct paper *p = &s->p;
    title_block(s);
    paper_flow(p, PAPER_BODY, p->left, p->right - p->left, sheet_text(s, &s->b->head.summary));
    p->y += 6;
    paper_flow(p, PAPER_STRONG, p->left, p->right - p->left, sheet_word(s, W_FIRST));
    for (size_t i = 0; i < s->b->head.refers_to.n; i++)
        paper_flow(p, PAPER_QUIET, p->left, p->right - p->left,
                   sheet_text(s, &s->b->head.refers_to.at[i]));
    p->y += 8;
    paper_need(p, 80);
    vin_boxes(s, p->left, p->y);
    p->y += 38;
    static const enum words names[] = {W_SHOP, W_TECHNICIAN, W_DATE, W_TIMES};
    const double width = (p->right - p->left - 3 * 12) / 4;
    for (int i = 0; i < 4; i++)
        field(p, p->left + i * (width + 12), p->y, width, sheet_word(s, names[i]));
    p->y += 32;
}

/* ---- scope ------------------------------------------------------------------------------------ */

static void stations(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_STATION), 0.22, PAPER_LEFT},
        {sheet_word(s, W_LABEL_AT), 0.34, PAPER_LEFT},
        {sheet_word(s, W_LABEL_READS), 0.22, PAPER_LEFT},
        {"", 0.22, PAPER_LEFT},
    };
    const struct table t = {columns, 4};
    struct text words = {0};
    text_printf(&words, "%s\n%s\n%s", sheet_word(s, W_IN), sheet_word(s, W_OUT),
                sheet_word(s, W_ASK));
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->scope.stations.n; i++) {
        const struct bulletin_station *station = &s->b->scope.stations.at[i];
        if (!sheet_has(s, station->id))
            continue;
        const struct cell cells[] = {
            {.kind = CELL_STRONG, .text = sheet_text(s, &station->name)},
            {.text = sheet_text(s, &station->label_at)},
            {.kind = CELL_BLANK},
            {.kind = CELL_TICKS, .text = words.is_broken ? "" : words.data}};
        table_row(s, &t, cells);
    }
    table_end(s);
    text_done(&words);
}

static void add_windows(const struct bulletin_variant *v, struct text *t)
{
    char from[DATE_SHOW_SIZE], to[DATE_SHOW_SIZE];
    for (size_t i = 0; i < v->windows.n; i++) {
        date_show(v->windows.at[i].from.first, from);
        date_show(v->windows.at[i].to.last, to);
        text_printf(t, "%s%s \xE2\x80\xA6 %s", i > 0 ? "\n" : "", from, to);
    }
}

static void windows(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_VARIANT), 0.40, PAPER_LEFT},
        {sheet_word(s, W_CODES), 0.25, PAPER_LEFT},
        {sheet_word(s, W_BUILT), 0.35, PAPER_LEFT},
    };
    const struct table t = {columns, 3};
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->scope.variants.n; i++) {
        const struct bulletin_variant *v = &s->b->scope.variants.at[i];
        struct text codes = {0}, built = {0};
        for (size_t k = 0; k < v->codes.n; k++)
            text_printf(&codes, "%s%s", k > 0 ? ", " : "", v->codes.at[k]);
        text_puts(&codes, "");
        add_windows(v, &built);
        const struct cell cells[] = {
            {.text = sheet_text(s, &v->name)},
            {.text = codes.data != NULL ? codes.data : ""},
            {.kind = CELL_STRONG, .text = built.data != NULL ? built.data : ""}};
        table_row(s, &t, cells);
        s->p.is_broken |= codes.is_broken || built.is_broken;
        text_done(&codes);
        text_done(&built);
    }
    table_end(s);
}

static void scope(struct sheet *s)
{
    struct paper *p = &s->p;
    sheet_section(s, sheet_word(s, W_SCOPE), 90);
    stations(s);
    p->y += 6;
    windows(s);
    p->y += 4;
    paper_flow(p, PAPER_QUIET, p->left, p->right - p->left,
               sheet_word(s, s->b->scope.mixed == BULLETIN_MIXED_PER_STATION ? W_MIXED_STATION
                                                                             : W_MIXED_UNIT));
}

/* ---- kits ------------------------------------------------------------------------------------- */

static bool kit_suits(const struct bulletin_kit *kit, const struct bulletin_station *station)
{
    for (size_t i = 0; i < kit->fits.n; i++) {
        const char *value = bulletin_station_value(station, kit->fits.at[i].key);
        if (value != NULL && strcmp(value, kit->fits.at[i].value) != 0)
            return false;
    }
    return true;
}

static void add_contents(struct sheet *s, const struct bulletin_kit *kit, struct text *t)
{
    char stock[AMOUNT_SIZE];
    for (size_t i = 0; i < kit->parts.n; i++) {
        const struct bulletin_part *part = bulletin_part_find(s->b, kit->parts.at[i].part);
        text_printf(t, "%s%d \xC3\x97 %s", i > 0 ? "; " : "", (int)kit->parts.at[i].count,
                    part != NULL ? sheet_text(s, &part->name) : kit->parts.at[i].part);
    }
    for (size_t i = 0; i < kit->racks.n; i++) {
        const struct bulletin_rack *rack = &kit->racks.at[i];
        amount_show(rack->stock.nano, rack->stock.unit, stock);
        text_printf(t, "%s%s", t->size > 0 ? "; " : "",
                    sheet_format(s, rack->supply == BULLETIN_SUPPLY_READY ? W_READY : W_TO_CUT,
                                 rack->id, stock));
    }
}

/* What the kit is for, in the attributes' own words: "Hand: left". */
static void add_fits(struct sheet *s, const struct bulletin_kit *kit, struct text *t)
{
    for (size_t i = 0; i < kit->fits.n; i++) {
        const struct bulletin_attribute *a = bulletin_attribute_find(s->b, kit->fits.at[i].key);
        text_printf(t, "%s%s: %s", i > 0 ? "\n" : "",
                    a != NULL ? sheet_text(s, &a->name) : kit->fits.at[i].key,
                    kit->fits.at[i].value);
    }
    if (kit->fits.n == 0)
        text_puts(t, sheet_word(s, W_EVERY));
}

static void kit_row(struct sheet *s, const struct table *t, const struct bulletin_kit *kit)
{
    struct text name = {0}, fits = {0}, holds = {0}, used = {0};
    for (size_t i = 0; i < s->b->scope.stations.n; i++) {
        const struct bulletin_station *station = &s->b->scope.stations.at[i];
        if (sheet_has(s, station->id) && kit_suits(kit, station))
            text_printf(&used, "%s%s", used.size > 0 ? "\n" : "", station->id);
    }
    if (used.size > 0) {
        text_puts(&name, kit->number[0] != '\0' ? kit->number : kit->id);
        add_fits(s, kit, &fits);
        text_printf(&holds, "%s. ", sheet_text(s, &kit->name));
        struct text inside = {0};
        add_contents(s, kit, &inside);
        text_puts(&holds, inside.data != NULL ? inside.data : "");
        s->p.is_broken |= inside.is_broken;
        text_done(&inside);
        const struct cell cells[] = {
            {.kind = CELL_STRONG, .text = name.data != NULL ? name.data : ""},
            {.text = fits.data != NULL ? fits.data : ""},
            {.text = holds.data != NULL ? holds.data : ""},
            {.kind = CELL_TICKS, .text = used.data != NULL ? used.data : ""}};
        table_row(s, t, cells);
    }
    s->p.is_broken |= name.is_broken || fits.is_broken || holds.is_broken || used.is_broken;
    text_done(&name);
    text_done(&fits);
    text_done(&holds);
    text_done(&used);
}

static void kits(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_KIT), 0.16, PAPER_LEFT},
        {sheet_word(s, W_FOR), 0.22, PAPER_LEFT},
        {sheet_word(s, W_HOLDS), 0.48, PAPER_LEFT},
        {sheet_word(s, W_USED_AT), 0.14, PAPER_LEFT},
    };
    const struct table t = {columns, 4};
    struct paper *p = &s->p;
    if (s->b->kits.n == 0)
        return;
    sheet_section(s, sheet_word(s, W_KITS), 90);
    for (size_t i = 0; i < s->b->scope.attributes.n; i++)
        paper_flow(p, PAPER_BODY, p->left, p->right - p->left,
                   sheet_text(s, &s->b->scope.attributes.at[i].ask));
    p->y += 5;
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->kits.n; i++)
        kit_row(s, &t, &s->b->kits.at[i]);
    table_end(s);
}

/* ---- what to bring ---------------------------------------------------------------------------- */

/* Ticked lines in two columns, filled row by row, so that a break of the page never mixes them up. */
static void tick_list(struct sheet *s, const struct bulletin_item *items, size_t n,
                      enum paper_style style)
{
    enum { COLUMNS = 2, LINES = 5 };
    struct paper *p = &s->p;
    const double width = (p->right - p->left) / COLUMNS;
    for (size_t i = 0; i < n; i += COLUMNS) {
        double height = 0;
        for (size_t k = 0; k < COLUMNS && i + k < n; k++)
            height = fmax(height, paper_text_height(p, style, width - 26, LINES,
                                                    sheet_text(s, &items[i + k].name)));
        paper_need(p, height + 4);
        for (size_t k = 0; k < COLUMNS && i + k < n; k++) {
            const double x = p->left + (double)k * width;
            paper_tag(p, "LI");
            paper_tick_box(p, x, p->y + 1, 9);
            paper_text(p, style, x + 14, p->y, width - 26, LINES, PAPER_LEFT,
                       sheet_text(s, &items[i + k].name));
            paper_untag(p, "LI");
        }
        p->y += height + 4;
    }
}

static void bring(struct sheet *s)
{
    struct paper *p = &s->p;
    if (s->b->tools.n + s->b->protective.n == 0)
        return;
    sheet_section(s, sheet_word(s, W_BRING), 60);
    paper_line(p, PAPER_SMALL, p->left, p->y, 200, PAPER_LEFT, sheet_word(s, W_PROTECTIVE));
    p->y += 11;
    tick_list(s, s->b->protective.at, s->b->protective.n, PAPER_STRONG);
    p->y += 5;
    paper_need(p, 40);
    paper_line(p, PAPER_SMALL, p->left, p->y, 200, PAPER_LEFT, sheet_word(s, W_TOOLS));
    p->y += 11;
    tick_list(s, s->b->tools.at, s->b->tools.n, PAPER_BODY);
}

void sheet_front(struct sheet *s)
{
    head(s);
    scope(s);
    kits(s);
    bring(s);
}

/* ---- proof ------------------------------------------------------------------------------------ */

static void photo_rows(struct sheet *s)
{
    const struct table_column columns[] = {{sheet_word(s, W_PHOTOS), 0.7, PAPER_LEFT},
                                           {"", 0.3, PAPER_LEFT}};
    const struct table t = {columns, 2};
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->proof.photos.n; i++) {
        const struct bulletin_photo *photo = &s->b->proof.photos.at[i];
        struct text where = {0};
        if (photo->per == BULLETIN_PER_UNIT)
            text_puts(&where, sheet_word(s, W_UNIT));
        for (size_t k = 0; photo->per == BULLETIN_PER_STATION && k < s->b->scope.stations.n; k++)
            if (sheet_has(s, s->b->scope.stations.at[k].id))
                text_printf(&where, "%s%s", where.size > 0 ? "\n" : "",
                            s->b->scope.stations.at[k].id);
        const struct cell cells[] = {
            {.text = sheet_text(s, &photo->name)},
            {.kind = CELL_TICKS, .text = where.data != NULL ? where.data : ""}};
        table_row(s, &t, cells);
        s->p.is_broken |= where.is_broken;
        text_done(&where);
    }
    table_end(s);
}

static void proof_body(struct sheet *s)
{
    struct paper *p = &s->p;
    char date[DATE_SHOW_SIZE], days[SHEET_FIGURE];
    if (s->b->proof.photos.n > 0)
        photo_rows(s);
    if (s->b->proof.readings.n > 0) {
        struct text names = {0};
        for (size_t i = 0; i < s->b->proof.readings.n; i++) {
            const struct bulletin_point *point =
                bulletin_point_find(s->b, s->b->proof.readings.at[i]);
            if (point != NULL && sheet_has(s, point->station))
                text_printf(&names, "%s%s", names.size > 0 ? "; " : "",
                            sheet_text(s, &point->name));
        }
        p->y += 4;
        paper_flow(p, PAPER_SMALL, p->left, p->right - p->left, sheet_word(s, W_FINAL));
        paper_flow(p, PAPER_BODY, p->left, p->right - p->left,
                   names.data != NULL ? names.data : "");
        p->is_broken |= names.is_broken;
        text_done(&names);
    }
    p->y += 5;
    paper_need(p, 76); /* what is promised and the signature under it */
    if (s->b->proof.keep_old_parts_days > 0)
        paper_flow(
            p, PAPER_BODY, p->left, p->right - p->left,
            sheet_format(s, W_KEEP, sheet_figure(s->b->proof.keep_old_parts_days, days), NULL));
    date_show(s->b->claim.until, date);
    paper_flow(p, PAPER_BODY, p->left, p->right - p->left, sheet_format(s, W_UNTIL, date, NULL));
    p->y += 10;
    paper_need(p, 34);
    const double width = (p->right - p->left - 24) / 3;
    field(p, p->left, p->y, width, sheet_word(s, W_TECHNICIAN));
    field(p, p->left + width + 12, p->y, width, sheet_word(s, W_DATE));
    field(p, p->left + 2 * (width + 12), p->y, width, sheet_word(s, W_SIGNED));
    p->y += 30;
}

/* All of it on one page where it can: a last page with the signatures alone says nothing of what is signed. */
void sheet_proof(struct sheet *s)
{
    struct paper *p = &s->p;
    const double y = p->y, heading = 60;
    p->is_dry = true;
    proof_body(s);
    const double height = p->y - y;
    p->is_dry = false;
    p->y = y;
    sheet_section(s, sheet_word(s, W_PROOF), height <= p->bottom - p->top - heading ? height : 90);
    proof_body(s);
}

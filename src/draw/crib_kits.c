/* crib_kits: owns the crib's table of kits and what it says of the cut. */
#include "draw/teach_parts.h"

#include "base/amount.h"
#include "bulletin/adapt.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ATTRIBUTES_MOST = 3, EXAMPLES_MOST = 4 };

/* ---- kits ------------------------------------------------------------------------------------- */

static bool is_same_supply(const struct bulletin_rack *a, const struct bulletin_rack *b)
{
    return a->supply == b->supply && a->stock.nano == b->stock.nano;
}

/* "inboard, outboard: to be cut, from 1480 mm"; without racks, what is in it. */
static void add_holds(struct sheet *s, const struct bulletin_kit *kit, struct text *t)
{
    char stock[AMOUNT_SIZE];
    for (size_t i = 0; i < kit->racks.n;) {
        const struct bulletin_rack *rack = &kit->racks.at[i];
        struct text names = {0};
        for (; i < kit->racks.n && is_same_supply(rack, &kit->racks.at[i]); i++)
            text_printf(&names, "%s%s", names.size > 0 ? ", " : "", kit->racks.at[i].id);
        amount_show(rack->stock.nano, rack->stock.unit, stock);
        text_printf(t, "%s%s", t->size > 0 ? "\n" : "",
                    sheet_format(s, rack->supply == BULLETIN_SUPPLY_READY ? W_READY : W_TO_CUT,
                                 names.data != NULL ? names.data : "", stock));
        s->p.is_broken |= names.is_broken;
        text_done(&names);
    }
    for (size_t i = 0; kit->racks.n == 0 && i < kit->parts.n; i++) {
        const struct bulletin_part *part = bulletin_part_find(s->b, kit->parts.at[i].part);
        text_printf(t, "%s%d \xC3\x97 %s", i > 0 ? "; " : "", (int)kit->parts.at[i].count,
                    part != NULL ? sheet_text(s, &part->name) : kit->parts.at[i].part);
    }
}

static const char *fits(const struct bulletin_kit *kit, const char *attribute)
{
    for (size_t i = 0; i < kit->fits.n; i++)
        if (strcmp(kit->fits.at[i].key, attribute) == 0)
            return kit->fits.at[i].value;
    return "\xE2\x80\x93";
}

static void kit_row(struct sheet *s, const struct table *t, const struct bulletin_kit *kit)
{
    const size_t n = t->n - 2;
    struct cell cells[ATTRIBUTES_MOST + 2] = {0};
    struct text holds = {0};
    add_holds(s, kit, &holds);
    cells[0] =
        (struct cell){.kind = CELL_STRONG, .text = kit->number[0] != '\0' ? kit->number : kit->id};
    for (size_t i = 0; i < n; i++)
        cells[1 + i] = (struct cell){.text = fits(kit, s->b->scope.attributes.at[i].id)};
    cells[1 + n] = (struct cell){.text = holds.data != NULL ? holds.data : ""};
    table_row(s, t, cells);
    s->p.is_broken |= holds.is_broken;
    text_done(&holds);
}

static double widest_number(struct sheet *s)
{
    double widest = 0;
    for (size_t i = 0; i < s->b->kits.n; i++) {
        const struct bulletin_kit *kit = &s->b->kits.at[i];
        widest = fmax(widest, paper_line_width(&s->p, PAPER_STRONG,
                                               kit->number[0] != '\0' ? kit->number : kit->id));
    }
    return widest;
}

static double widest_value(struct sheet *s, const struct bulletin_attribute *a)
{
    double widest = 0;
    for (size_t i = 0; i < a->values.n; i++)
        widest = fmax(widest, paper_line_width(&s->p, PAPER_BODY, a->values.at[i]));
    return widest;
}

void crib_kits(struct sheet *s)
{
    struct table_column columns[ATTRIBUTES_MOST + 2];
    const size_t all = s->b->scope.attributes.n;
    size_t n = all;
    if (n > ATTRIBUTES_MOST)
        n = ATTRIBUTES_MOST;
    if (s->b->kits.n == 0)
        return;
    crib_head(s, sheet_word(s, W_KITS));
    for (size_t i = 0; i < all; i++)
        crib_line(s, PAPER_BODY, sheet_text(s, &s->b->scope.attributes.at[i].ask));
    double left = 1 - crib_share(s, widest_number(s), 0.12, 0.3);
    columns[0] = (struct table_column){sheet_word(s, W_KIT), 1 - left, PAPER_LEFT};
    for (size_t i = 0; i < n; i++) {
        const struct bulletin_attribute *a = &s->b->scope.attributes.at[i];
        const double share = crib_share(s, widest_value(s, a), 0.1, 0.2);
        columns[1 + i] = (struct table_column){sheet_text(s, &a->name), share, PAPER_LEFT};
        left -= share;
    }
    columns[1 + n] = (struct table_column){sheet_word(s, W_HOLDS), left, PAPER_LEFT};
    const struct table t = {columns, n + 2};
    s->p.y += 2;
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->kits.n; i++)
        kit_row(s, &t, &s->b->kits.at[i]);
    table_end(s);
}

/* ---- the cut ---------------------------------------------------------------------------------- */

static bool is_cut(const struct bulletin_rack *rack)
{
    return rack->supply == BULLETIN_SUPPLY_CUT;
}

static bool is_alike(const struct bulletin_rack *a, const struct bulletin_rack *b)
{
    return a->stock.nano == b->stock.nano && a->least.nano == b->least.nano &&
           a->greatest.nano == b->greatest.nano && a->first_tooth.nano == b->first_tooth.nano &&
           a->first_tooth.is_given == b->first_tooth.is_given;
}

/* The n-th piece that is to be cut and unlike those before it; NULL: no more. */
static const struct bulletin_rack *piece(const struct bulletin *b, size_t n)
{
    const struct bulletin_rack *found[BULLETIN_KITS_MAX * BULLETIN_RACKS_MAX];
    size_t n_found = 0;
    for (size_t k = 0; k < b->kits.n; k++)
        for (size_t i = 0; i < b->kits.at[k].racks.n; i++) {
            const struct bulletin_rack *rack = &b->kits.at[k].racks.at[i];
            bool is_new = is_cut(rack);
            for (size_t j = 0; j < n_found && is_new; j++)
                is_new = !is_alike(found[j], rack);
            if (!is_new)
                continue;
            if (n_found == n)
                return rack;
            found[n_found++] = rack;
        }
    return NULL;
}

static const char *end_of(const struct sheet *s, enum bulletin_end end)
{
    return sheet_word(s, end == BULLETIN_END_UPPER   ? W_UPPER
                         : end == BULLETIN_END_LOWER ? W_LOWER
                                                     : W_EITHER);
}

/* Of all pieces that are otherwise alike: "upper, lower". */
static void add_ends(struct sheet *s, const struct bulletin_rack *of, struct text *t)
{
    bool is_there[BULLETIN_END_NONE + 1] = {false};
    for (size_t k = 0; k < s->b->kits.n; k++)
        for (size_t i = 0; i < s->b->kits.at[k].racks.n; i++) {
            const struct bulletin_rack *rack = &s->b->kits.at[k].racks.at[i];
            if (is_cut(rack) && is_alike(rack, of))
                is_there[rack->keep] = true;
        }
    for (int end = 0; end <= BULLETIN_END_NONE; end++)
        if (is_there[end])
            text_printf(t, "%s%s", t->size > 0 ? ", " : "", end_of(s, (enum bulletin_end)end));
}

static const char *shown(const struct bulletin_amount *amount, char buf[AMOUNT_SIZE])
{
    return amount->is_given ? amount_show(amount->nano, amount->unit, buf) : "\xE2\x80\x93";
}

static void pieces(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_STOCK), 0.22, PAPER_LEFT},
        {sheet_word(s, W_KEPT), 0.22, PAPER_LEFT},
        {sheet_word(s, W_FINISHED), 0.34, PAPER_LEFT},
        {sheet_word(s, W_FIRST_TOOTH), 0.22, PAPER_LEFT},
    };
    const struct table t = {columns, 4};
    const struct bulletin_rack *rack = NULL;
    table_begin(s, &t);
    for (size_t i = 0; (rack = piece(s->b, i)) != NULL; i++) {
        char stock[AMOUNT_SIZE], least[AMOUNT_SIZE], greatest[AMOUNT_SIZE], tooth[AMOUNT_SIZE];
        struct text range = {0}, ends = {0};
        add_ends(s, rack, &ends);
        text_printf(&range, "%s \xE2\x80\xA6 %s", shown(&rack->least, least),
                    shown(&rack->greatest, greatest));
        const struct cell cells[] = {
            {.text = shown(&rack->stock, stock)},
            {.kind = CELL_STRONG, .text = ends.data != NULL ? ends.data : ""},
            {.text = range.data != NULL ? range.data : ""},
            {.text = shown(&rack->first_tooth, tooth)}};
        table_row(s, &t, cells);
        s->p.is_broken |= range.is_broken || ends.is_broken;
        text_done(&range);
        text_done(&ends);
    }
    table_end(s);
}

/* Round lengths from the least to the greatest, the ends too. */
static size_t example_lengths(const struct bulletin_rack *rack, int64_t *ret)
{
    const int64_t inch = 25400000, mm = 1000000;
    const bool in_inches = rack->stock.unit == UNIT_IN || rack->stock.unit == UNIT_FT;
    const int64_t low = rack->least.nano, high = rack->greatest.nano;
    const int64_t round = in_inches ? 4 * inch : 100 * mm;
    const int64_t every = ((high - low) / (EXAMPLES_MOST - 1) / round + 1) * round;
    size_t n = 0;
    ret[n++] = low;
    for (int64_t at = (low / every + 1) * every; at < high && n + 1 < EXAMPLES_MOST; at += every)
        ret[n++] = at;
    ret[n++] = high;
    return n;
}

/* Needed length, mark, offcut, by the core's own plan of the cut, for the first kit that is cut. */
static void examples(struct sheet *s, const struct adapt_kits *kits)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_NEEDED), 0.34, PAPER_RIGHT},
        {sheet_word(s, W_MARK), 0.33, PAPER_RIGHT},
        {sheet_word(s, W_OFFCUT), 0.33, PAPER_RIGHT},
    };
    const struct table t = {columns, 3};
    const struct bulletin_rack *rack = piece(s->b, 0);
    const struct cut_piece *source = NULL;
    int64_t lengths[EXAMPLES_MOST];
    if (rack == NULL || !rack->least.is_given || !rack->greatest.is_given)
        return;
    for (size_t k = 0; k < kits->n_kits && source == NULL; k++)
        for (size_t i = 0; i < kits->kits[k].n_pieces && source == NULL; i++)
            if (kits->pieces[k][i] == rack)
                source = &kits->kits[k].pieces[i];
    if (source == NULL)
        return;
    table_begin(s, &t);
    const size_t n = example_lengths(rack, lengths);
    for (size_t i = 0; i < n; i++) {
        char needed[AMOUNT_SIZE], mark[AMOUNT_SIZE], offcut[AMOUNT_SIZE];
        struct cut_answer a;
        if (cut_plan(source, lengths[i], &kits->u, &a) != ERR_OK || a.status != CUT_DO)
            continue;
        const struct cell cells[] = {
            {.text = amount_show(lengths[i], rack->stock.unit, needed)},
            {.kind = CELL_STRONG, .text = amount_show(a.mark_nm, rack->stock.unit, mark)},
            {.text = amount_show(a.offcut_nm, rack->stock.unit, offcut)}};
        table_row(s, &t, cells);
    }
    table_end(s);
}

void crib_cut(struct sheet *s)
{
    const struct bulletin_cut *cut = &s->b->cut;
    struct adapt_kits *kits = NULL;
    struct fault f = {0};
    char amount[AMOUNT_SIZE];
    if (cut->node == NULL || piece(s->b, 0) == NULL)
        return;
    crib_head(s, sheet_word(s, W_CUTTING));
    crib_line(s, PAPER_BODY, sheet_text(s, &cut->measure));
    /* Two lengths, each by the tape: the square root of two of its uncertainties (core/cut, cut_disagree). */
    const double u = conform_combine(bulletin_uncertainty(s->b, cut->instrument));
    const int64_t apart = (int64_t)(cut->remeasure_factor * sqrt(2.0) * u);
    if (apart > 0) {
        (void)quantity_show(apart, cut->kerf.unit, 1, amount, NULL);
        crib_line(s, PAPER_STRONG, sheet_format(s, W_REMEASURE, amount, NULL));
    }
    crib_line(s, PAPER_BODY,
              sheet_format(s, cut->blade == BULLETIN_BLADE_WASTE ? W_MARK_WASTE : W_MARK_CENTRE,
                           shown(&cut->kerf, amount), NULL));
    crib_line(s, PAPER_BODY, sheet_text(s, &cut->blade_says));
    s->p.y += 2;
    pieces(s);
    kits = calloc(1, sizeof *kits); /* large */
    if (kits != NULL && adapt_kits(s->b, kits, &f) == ERR_OK)
        examples(s, kits);
    s->p.is_broken |= kits == NULL;
    free(kits);
    if (cut->offcut_max.is_given)
        crib_line(s, PAPER_QUIET,
                  sheet_format(s, W_OFFCUT_MOST, shown(&cut->offcut_max, amount), NULL));
    if (cut->sliver.is_given)
        crib_line(s, PAPER_QUIET,
                  sheet_format(s, W_SLIVER_LEAST, shown(&cut->sliver, amount), NULL));
}

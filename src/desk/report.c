/* report: owns the order of the report's parts, its pages, and the same as JSON. */
#include "desk/report.h"

#include "base/jsonw.h"
#include "core/date.h"
#include "desk/report_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_texts(struct jsonw *w, const char *key, const char *const *texts, size_t n)
{
    jsonw_array(w, key);
    for (size_t i = 0; i < n; i++)
        jsonw_string(w, NULL, texts[i]);
    jsonw_array_end(w);
}

static void put_table(struct jsonw *w, const struct report_table *t)
{
    jsonw_array(w, "columns");
    for (size_t i = 0; i < t->n_columns; i++)
        jsonw_string(w, NULL, t->columns[i].head);
    jsonw_array_end(w);
    jsonw_array(w, "rows");
    for (size_t i = 0; i < t->n_rows; i++)
        put_texts(w, NULL, &t->cells[i * t->n_columns], t->n_columns);
    jsonw_array_end(w);
}

static void put_bars(struct jsonw *w, const struct report_bars *b)
{
    jsonw_array(w, "bars");
    for (size_t i = 0; i < b->n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "name", b->bars[i].name);
        jsonw_string(w, "shown", b->bars[i].shown);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_string(w, "mark", b->mark_says);
    jsonw_string(w, "expected", b->expected_says);
}

static void put_tiles(struct jsonw *w, const struct report_block *b)
{
    jsonw_array(w, "tiles");
    for (size_t i = 0; i < b->n_tiles; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "label", b->tiles[i].label);
        jsonw_string(w, "value", b->tiles[i].value);
        jsonw_string(w, "note", b->tiles[i].note);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_block(struct jsonw *w, const struct report_block *b)
{
    static const char *const kinds[] = {"sentence", "text",  "point", "heading", "small",  "notice",
                                        "tiles",    "table", "bars",  "chart",   "picture"};
    jsonw_object(w, NULL);
    jsonw_string(w, "kind", kinds[b->kind]);
    switch (b->kind) {
    case REPORT_TILES:
        put_tiles(w, b);
        break;
    case REPORT_TABLE:
        put_table(w, &b->table);
        break;
    case REPORT_BARS:
        put_bars(w, &b->bars);
        break;
    case REPORT_CHART:
        jsonw_string(w, "title", b->chart->title);
        jsonw_string(w, "how", b->chart->how);
        jsonw_string(w, "assumed", b->chart->assumed);
        jsonw_string(w, "source", b->chart->source);
        break;
    default:
        jsonw_string(w, "text", b->text);
        if (b->word != NULL)
            jsonw_string(w, "word", b->word);
    }
    jsonw_object_end(w);
}

static void put_json(const struct report_run *r, const struct report *p, struct jsonw *w)
{
    static const char *const money[] = {"within", "over", "open"};
    jsonw_string(w, "verdict", r->verdict);
    jsonw_string(w, "money", money[campaign_verdict(r->c)]);
    jsonw_string(w, "over", p->over);
    jsonw_string(w, "title", p->title);
    jsonw_string(w, "subtitle", p->subtitle);
    jsonw_string(w, "day", r->today);
    jsonw_array(w, "sections");
    for (size_t i = 0; i < r->n_sections; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "id", r->sections[i].id);
        jsonw_string(w, "title", r->sections[i].title);
        jsonw_array(w, "blocks");
        for (size_t k = 0; k < r->sections[i].n; k++)
            put_block(w, &r->sections[i].blocks[k]);
        jsonw_array_end(w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object(w, "campaign");
    campaign_write(r->c, w);
    jsonw_object_end(w);
}

/* ---- the pages ----------------------------------------------------------------------------- */

static void fill_pages(struct report_run *r, struct report *p)
{
    const char *title = bulletin_text_in(r->b, &r->b->head.title, r->language);
    *p = (struct report){
        .over = "CAMPAIGN REPORT",
        .title = report_say(r, "%s: %s", r->b->head.id, title),
        .subtitle = report_say(
            r, "%s. Revision %d of the bulletin, issued %s. As it stands on %s.%s",
            r->b->head.maker, (int)r->b->head.revision, report_day(r, r->b->head.issued), r->today,
            r->b->head.is_invented ? " Invented for teaching and testing: no such campaign exists."
                                   : ""),
        .verdict = r->verdict,
        .tone = r->tone,
        .language = "en",
        .author = r->b->head.maker,
        .keywords = r->b->head.id,
        .foot_left = report_say(r, "%s, campaign report, %s", r->b->head.id, r->today),
        .foot_right = r->b->head.is_invented ? "invented" : "",
        .size = r->o->size,
        .made_s = r->o->now_ms / 1000,
        .n = r->n_sections,
        .sections = r->sections,
    };
}

static enum err make(struct report_run *r, struct jsonw *w, struct report_done *ret)
{
    struct report pages;
    r->source = report_say(r, "Source: store %s, %s revision %d, %s.", r->o->store_name,
                           r->b->head.id, (int)r->b->head.revision, r->today);
    report_first(r);
    report_found(r);
    report_progress(r);
    report_work(r);
    const enum err kept = report_kept(r);
    if (kept != ERR_OK)
        return kept;
    report_ground(r);
    fill_pages(r, &pages);
    if (r->arena.is_broken)
        return fault_no_memory(r->f);
    if (!study_go_on(r->watch, "drawing", 0, 0))
        return fault_set(r->f, ERR_BUSY, "stopped before the report was made");
    const enum err e = report_make(&pages, &ret->pdf, &ret->n_pages, r->f);
    if (e != ERR_OK)
        return e;
    if (w != NULL)
        put_json(r, &pages, w);
    (void)snprintf(ret->verdict, sizeof ret->verdict, "%s", r->verdict);
    ret->money = campaign_verdict(r->c);
    return ERR_OK;
}

static enum err run(struct report_run *r, struct jsonw *w, struct report_done *ret)
{
    const struct campaign_order order = {
        .bulletin = r->o->bulletin, .since_ms = STORE_UNKNOWN, .now_ms = r->o->now_ms};
    struct campaign_boards *boards = campaign_boards_new();
    struct campaign *c = NULL;
    enum err e =
        boards != NULL ? campaign_read(r->store, boards, &order, &c, r->f) : fault_no_memory(r->f);
    r->c = c;
    if (e == ERR_OK)
        e = report_figures(r);
    if (e == ERR_OK)
        e = make(r, w, ret);
    report_figures_done(r);
    campaign_free(c);
    campaign_boards_free(boards);
    return e;
}

enum err report_campaign(struct store *store, const struct report_order *order,
                         const struct study_watch *watch, struct jsonw *w, struct report_done *ret,
                         struct fault *reterr)
{
    *ret = (struct report_done){0};
    struct report_run *r = calloc(1, sizeof *r);
    if (r == NULL)
        return fault_no_memory(reterr);
    *r = (struct report_run){.store = store, .o = order, .watch = watch, .f = reterr, .best = -1};
    enum err e = store_hold(store, reterr);
    if (e == ERR_OK) {
        e = run(r, w, ret);
        store_release(store);
    }
    free(r);
    if (e != ERR_OK)
        report_free(ret);
    return e;
}

void report_free(struct report_done *done)
{
    text_done(&done->pdf);
}

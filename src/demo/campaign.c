/* campaign: owns the way from an order to a campaign on disk. */
#include "demo/campaign.h"

#include "base/digest.h"
#include "base/embedded.h"
#include "base/pool.h"
#include "demo/disk.h"
#include "demo/pack.h"
#include "demo/papers.h"
#include "demo/plant.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { UNITS_LEAST = 10, UNITS_MOST = 1000000, THREADS_MOST = 16, FAULTY_MOST = 90 };

extern const struct embedded demo_files[];

/* One thread's room. */
struct room {
    struct work job, source;
    struct fault fault;
    size_t failed; /* the item its fault is about */
};

struct making {
    const struct campaign_order *order;
    struct world world;
    struct work_tools tools;
    char bags[DISK_PATH];
    struct paper_claim *claims;
    struct pack_made *made;
    struct room *rooms;
};

static void tell(const struct campaign_order *order, const char *what, uint64_t done, uint64_t all)
{
    if (order->step != NULL)
        order->step(order->me, what, done, all);
}

/* ---- one claim --------------------------------------------------------------------------------- */

static enum err make_job(struct making *m, size_t i, struct room *room)
{
    const struct world_claim *c = &m->world.claims[i];
    struct paper_claim *p = &m->claims[i];
    enum err e = work_do(&m->world, c, &m->tools, &room->job, &room->fault);
    if (e == ERR_OK && c->source != WORLD_NONE)
        e = work_do(&m->world, &m->world.claims[c->source], &m->tools, &room->source, &room->fault);
    if (e != ERR_OK)
        return e;
    p->kind = c->kind == KIND_CLEAN && !room->job.is_trued ? KIND_NOT_TRUED : c->kind;
    plant_after(&room->job, c->source != WORLD_NONE ? &room->source : NULL, p->what);
    return ERR_OK;
}

static enum err make_claim(void *me, size_t i, int thread)
{
    struct making *m = me;
    struct room *room = &m->rooms[thread];
    char name[PAPER_BAG], folder[32], temp[DISK_PATH], out[DISK_PATH];
    paper_bag(&m->world, i, name);
    snprintf(folder, sizeof folder, "job-%zu", i + 1);
    enum err e = disk_path(temp, m->order->folder, folder, &room->fault);
    if (e == ERR_OK)
        e = disk_path(out, m->bags, name, &room->fault);
    if (e == ERR_OK)
        e = make_job(m, i, room);
    if (e == ERR_OK)
        e = pack_job(&room->job, temp, out, &m->made[i], &room->fault);
    m->claims[i].job = m->made[i].job;
    if (e == ERR_OK && m->claims[i].kind == KIND_TAMPERED)
        e = pack_tamper(out, &room->fault);
    room->failed = i;
    return e;
}

static void claim_step(void *me, uint64_t done, uint64_t all)
{
    tell(me, "claims", done, all);
}

static enum err make_claims(struct making *m, struct fault *reterr)
{
    const int n_threads = m->order->n_threads > 0 ? m->order->n_threads : pool_threads();
    m->claims = calloc(m->world.n_claims + 1, sizeof *m->claims);
    m->made = calloc(m->world.n_claims + 1, sizeof *m->made);
    m->rooms = calloc((size_t)n_threads, sizeof *m->rooms);
    if (m->claims == NULL || m->made == NULL || m->rooms == NULL)
        return fault_no_memory(reterr);
    const struct pool_order pool = {.n = m->world.n_claims,
                                    .n_threads = n_threads,
                                    .run = make_claim,
                                    .me = m,
                                    .step = claim_step,
                                    .step_me = (void *)m->order};
    const enum err e = pool_run(&pool);
    if (e == ERR_OK)
        return ERR_OK;
    (void)fault_set(reterr, e, "a claim cannot be made: %s", err_text(e));
    for (int t = 0; t < n_threads; t++)
        if (m->rooms[t].fault.code == e)
            *reterr = m->rooms[t].fault;
    return e;
}

/* ---- the whole --------------------------------------------------------------------------------- */

static enum err check_order(const struct campaign_order *order, struct fault *reterr)
{
    if (order->units < UNITS_LEAST || order->units > UNITS_MOST)
        return fault_set(reterr, ERR_DOMAIN, "found %d units; expected %d to %d", order->units,
                         (int)UNITS_LEAST, (int)UNITS_MOST);
    if (order->seed > INT64_MAX)
        return fault_set(reterr, ERR_DOMAIN, "the seed is larger than 2^63 - 1");
    if (order->n_threads < 0 || order->n_threads > THREADS_MOST)
        return fault_set(reterr, ERR_DOMAIN, "found %d threads; expected 1 to %d", order->n_threads,
                         (int)THREADS_MOST);
    if (order->faulty_percent < 0 || order->faulty_percent > FAULTY_MOST)
        return fault_set(reterr, ERR_DOMAIN, "found %d %% of faulty claims; expected 0 to %d",
                         order->faulty_percent, (int)FAULTY_MOST);
    snprintf(reterr->file, sizeof reterr->file, "%.250s", order->folder);
    if (!disk_is_empty(order->folder))
        return fault_set(reterr, ERR_DUPLICATE,
                         "holds something already; expected a new or an empty folder");
    reterr->file[0] = '\0';
    return ERR_OK;
}

static enum err load_bulletin(struct bulletin **ret, char sha256[2 * DIGEST_SHA256_SIZE + 1],
                              struct fault *reterr)
{
    const struct embedded *file = &demo_files[0];
    struct fault_list faults = {0};
    uint8_t sum[DIGEST_SHA256_SIZE];
    const enum err e = digest_bytes(DIGEST_SHA256, file->bytes, file->size, sum);
    if (e != ERR_OK)
        return fault_set(reterr, e, "no sha256 sums: %s", err_text(e));
    digest_hex(sum, sizeof sum, sha256);
    *ret = bulletin_load((const char *)file->bytes, file->size, file->path, &faults);
    fault_list_done(&faults);
    return *ret != NULL ? ERR_OK
                        : fault_set(reterr, ERR_DOMAIN, "the program's own bulletin has faults");
}

static enum err write_bulletin(const char *folder, struct fault *reterr)
{
    struct text text = {0};
    text_add(&text, (const char *)demo_files[0].bytes, demo_files[0].size);
    const enum err e = disk_write(folder, "bulletin.yaml", &text, reterr);
    text_done(&text);
    return e;
}

static enum err make_folders(struct making *m, struct fault *reterr)
{
    enum err e = disk_path(m->bags, m->order->folder, "bags", reterr);
    if (e == ERR_OK)
        e = disk_folder(m->order->folder, reterr);
    if (e == ERR_OK)
        e = disk_folder(m->bags, reterr);
    return e;
}

static void count(const struct making *m, struct campaign_made *ret)
{
    *ret = (struct campaign_made){.units = m->world.n_units, .claims = m->world.n_claims};
    for (size_t i = 0; i < m->world.n_claims; i++) {
        ret->photos += m->made[i].photos;
        ret->bytes += m->made[i].bytes;
        ret->faults += m->claims[i].kind != KIND_CLEAN;
    }
}

static enum err make(struct making *m, struct bulletin **ret_bulletin, struct campaign_made *ret,
                     struct fault *reterr)
{
    char sha256[2 * DIGEST_SHA256_SIZE + 1];
    enum err e = check_order(m->order, reterr);
    if (e == ERR_OK)
        e = load_bulletin(ret_bulletin, sha256, reterr);
    if (e == ERR_OK)
        e = work_tools_make(*ret_bulletin, &m->tools, reterr);
    tell(m->order, "units", 0, (uint64_t)m->order->units);
    if (e == ERR_OK)
        e = world_make(*ret_bulletin, sha256, (size_t)m->order->units, m->order->seed,
                       m->order->faulty_percent / 100.0, &m->world, reterr);
    tell(m->order, "units", (uint64_t)m->order->units, (uint64_t)m->order->units);
    if (e == ERR_OK)
        e = make_folders(m, reterr);
    if (e == ERR_OK)
        e = write_bulletin(m->order->folder, reterr);
    if (e == ERR_OK)
        e = papers_write(&m->world, m->order->folder, reterr);
    if (e == ERR_OK)
        e = make_claims(m, reterr);
    if (e == ERR_OK)
        e = papers_truth(&m->world, m->claims, m->order->folder, reterr);
    if (e == ERR_OK)
        count(m, ret);
    return e;
}

enum err campaign_make(const struct campaign_order *order, struct campaign_made *ret,
                       struct fault *reterr)
{
    struct making m = {.order = order};
    struct bulletin *bulletin = NULL;
    const enum err e = make(&m, &bulletin, ret, reterr);
    free(m.claims);
    free(m.made);
    free(m.rooms);
    world_done(&m.world);
    work_tools_done(&m.tools);
    bulletin_free(bulletin);
    return e;
}

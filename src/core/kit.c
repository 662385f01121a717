/* kit: chooses among kits by attributes and by what their pieces can give; see kit.h for the order.
 * Owns no data. Invariant: every kit gets exactly one finding, and a kit is only chosen when no
 * attribute that matters is open. */
#include "core/kit.h"

static int piece_of(const struct kit *k, int rack)
{
    for (size_t i = 0; i < k->n_pieces; i++)
        if (k->piece_rack[i] == rack)
            return (int)i;
    return -1;
}

/* Plans every rack of the need with this kit's pieces, up to the first that cannot be. */
static enum err plan_racks(const struct kit *k, const struct kit_need *need, struct kit_finding *f)
{
    for (size_t r = 0; r < need->n_racks; r++) {
        int piece = piece_of(k, need->rack[r]);
        f->rack = (int)r;
        if (piece < 0) {
            f->reason = KIT_NO_PIECE;
            return ERR_OK;
        }
        struct cut_answer *a = &f->racks[r];
        enum err e = cut_plan(&k->pieces[piece], need->needed_nm[r], &need->u, a);
        if (e != ERR_OK)
            return e;
        if (!cut_can(a->status)) {
            f->reason = KIT_PIECE_UNFIT;
            return ERR_OK;
        }
        f->n_cuts += a->status == CUT_DO;
        f->offcut_nm += a->offcut_nm;
    }
    f->rack = -1;
    f->fits = true;
    return ERR_OK;
}

static enum err examine(const struct kit *k, size_t n_attributes, const struct kit_need *need,
                        struct kit_finding *f)
{
    *f = (struct kit_finding){.reason = KIT_CHOSEN, .attribute = -1, .rack = -1};
    if (k->n_pieces > CUT_RACKS_MAX)
        return ERR_LIMIT;
    if ((k->stations >> need->station & 1U) == 0) {
        f->reason = KIT_OTHER_STATION;
        return ERR_OK;
    }
    for (size_t i = 0; i < n_attributes; i++) {
        if (k->values[i] == KIT_ANY || need->values[i] == KIT_ANY ||
            k->values[i] == need->values[i])
            continue;
        f->reason = KIT_ATTRIBUTE_DIFFERS;
        f->attribute = (int)i;
        return ERR_OK;
    }
    return plan_racks(k, need, f);
}

/* Attributes that nobody told and on which the kits that fit are not all the same. */
static unsigned open_attributes(const struct kit *kits, size_t n, size_t n_attributes,
                                const struct kit_need *need, const struct kit_answer *a)
{
    unsigned open = 0;
    for (size_t i = 0; i < n_attributes; i++) {
        int seen = 0;
        bool has_seen = false;
        for (size_t k = 0; need->values[i] == KIT_ANY && k < n; k++) {
            if (!a->kits[k].fits)
                continue;
            if (has_seen && kits[k].values[i] != seen)
                open |= 1U << i;
            seen = kits[k].values[i];
            has_seen = true;
        }
        /* The only kits that fit want one certain value, and nobody has said that it is there. */
        if (has_seen && seen != KIT_ANY)
            open |= 1U << i;
    }
    return open;
}

static bool is_better(const struct kit_finding *a, const struct kit_finding *b)
{
    if (a->n_cuts != b->n_cuts)
        return a->n_cuts < b->n_cuts;
    return a->offcut_nm < b->offcut_nm;
}

static void say_why_not(const struct kit *kits, size_t n, const struct kit_need *need,
                        struct kit_answer *a)
{
    for (size_t k = 0; k < n; k++) {
        struct kit_finding *f = &a->kits[k];
        if (!f->fits || (int)k == a->chosen)
            continue;
        if (a->chosen < 0) {
            f->reason = KIT_OPEN;
            for (int i = KIT_ATTRIBUTES_MAX - 1; i >= 0; i--)
                if ((a->open >> i & 1U) != 0 && need->values[i] == KIT_ANY &&
                    kits[k].values[i] != KIT_ANY)
                    f->attribute = i;
            continue;
        }
        const struct kit_finding *best = &a->kits[a->chosen];
        f->reason = f->n_cuts > best->n_cuts         ? KIT_MORE_CUTS
                    : f->offcut_nm > best->offcut_nm ? KIT_MORE_OFFCUT
                                                     : KIT_LATER;
    }
}

static enum err check_need(const struct kit_need *need, size_t n, size_t n_attributes)
{
    if (n == 0)
        return ERR_EMPTY;
    if (n > KIT_KITS_MAX || n_attributes > KIT_ATTRIBUTES_MAX || need->n_racks > CUT_RACKS_MAX)
        return ERR_LIMIT;
    if (need->station < 0 || need->station > 31)
        return ERR_DOMAIN;
    for (size_t i = 0; i < need->n_racks; i++)
        for (size_t j = 0; j < i; j++)
            if (need->rack[i] == need->rack[j])
                return ERR_DUPLICATE;
    return ERR_OK;
}

enum err kit_choose(const struct kit *kits, size_t n, size_t n_attributes,
                    const struct kit_need *need, struct kit_answer *ret, size_t *reterr_at)
{
    enum err e = check_need(need, n, n_attributes);
    if (e != ERR_OK) {
        *reterr_at = (size_t)-1;
        return e;
    }
    ret->chosen = -1;
    for (size_t k = 0; k < n; k++) {
        e = examine(&kits[k], n_attributes, need, &ret->kits[k]);
        if (e != ERR_OK) {
            *reterr_at = k;
            return e;
        }
        const struct kit_finding *f = &ret->kits[k];
        if (f->fits && (ret->chosen < 0 || is_better(f, &ret->kits[ret->chosen])))
            ret->chosen = (int)k;
    }
    ret->open = open_attributes(kits, n, n_attributes, need, ret);
    if (ret->open != 0)
        ret->chosen = -1;
    say_why_not(kits, n, need, ret);
    return ERR_OK;
}

const char *kit_reason_code(enum kit_reason reason)
{
    switch (reason) {
#define X(symbol, number, code)                                                                    \
    case symbol:                                                                                   \
        return code;
        KIT_REASON_TABLE(X)
#undef X
    }
    return "?";
}

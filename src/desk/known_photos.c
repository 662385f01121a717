/* known_photos: owns how a claim's photos are held against earlier ones: the same bytes, then hashes, then the pictures. */
#include "desk/known_inner.h"

#include "proof/photo_apart.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CACHE = 16 };

static bool take_hash(const struct store_photo *p, struct photohash *ret)
{
    *ret = (struct photohash){.dhash = p->dhash.bits,
                              .dhash_mirror = p->dhash_mirror.bits,
                              .phash = p->phash.bits,
                              .phash_mirror = p->phash_mirror.bits,
                              .is_flat = p->is_flat == 1};
    return p->dhash.is_known && p->dhash_mirror.is_known && p->phash.is_known &&
           p->phash_mirror.is_known && p->is_flat == 0;
}

/* ---- filling ----------------------------------------------------------------------------------- */

/* The photos of the one claim that is asked about. */
struct own {
    uint8_t (*sha256)[STORE_DIGEST];
    struct photohash *hashes;
    bool *has_hash;
    size_t n;
};

struct filling {
    struct known *k;
    const struct known_claim *only;
    struct own own;
    size_t next; /* claim: photos come in the order of taking in, as the claims stand */
    bool is_out_of_memory;
};

static bool note_own(void *me, const char *id, const struct store_claim *c)
{
    struct filling *f = me;
    struct event_pool *pool = f->k->pool;
    (void)id;
    f->own = (struct own){event_pool_get(pool, (c->n_photos + 1) * STORE_DIGEST),
                          event_pool_get(pool, (c->n_photos + 1) * sizeof(struct photohash)),
                          event_pool_get(pool, c->n_photos + 1), c->n_photos};
    f->is_out_of_memory = f->own.sha256 == NULL || f->own.hashes == NULL || f->own.has_hash == NULL;
    for (size_t i = 0; i < c->n_photos && !f->is_out_of_memory; i++) {
        memcpy(f->own.sha256[i], c->photos[i].sha256, STORE_DIGEST);
        f->own.has_hash[i] = take_hash(&c->photos[i], &f->own.hashes[i]);
    }
    return false;
}

static bool is_near_own(const struct own *own, const struct known_photo *p)
{
    for (size_t i = 0; i < own->n; i++)
        if (memcmp(own->sha256[i], p->sha256, STORE_DIGEST) == 0 ||
            (own->has_hash[i] && p->has_hash && photohash_perhaps(&own->hashes[i], &p->hash, NULL)))
            return true;
    return false;
}

static bool add_photo(struct known *k, const struct known_photo *photo)
{
    struct known_photos *all = &k->photos;
    if (all->n == UINT32_MAX)
        return false;
    if (all->n == all->room) {
        const size_t room = all->room > 0 ? 2 * all->room : 256;
        struct known_photo *more = realloc(all->at, room * sizeof *more);
        if (more == NULL)
            return false;
        all->at = more;
        all->room = room;
    }
    struct known_photo *p = &all->at[all->n++];
    *p = *photo;
    p->name = event_pool_text(k->pool, photo->name, strlen(photo->name));
    p->ext = event_pool_text(k->pool, photo->ext, strlen(photo->ext));
    return p->name != NULL && p->ext != NULL;
}

static bool see_photo(void *me, int64_t claim_seq, const char *claim, const struct store_photo *p)
{
    struct filling *f = me;
    const struct known *k = f->k;
    struct known_photo photo = {.name = p->name, .ext = p->ext != NULL ? p->ext : ""};
    (void)claim;
    while (f->next < k->n_claims && k->claims[f->next].seq < claim_seq)
        f->next++;
    if (f->next == k->n_claims || k->claims[f->next].seq != claim_seq)
        return true; /* taken in since the claims were read */
    photo.claim = &k->claims[f->next];
    memcpy(photo.sha256, p->sha256, STORE_DIGEST);
    photo.has_hash = take_hash(p, &photo.hash);
    if (f->only != NULL && (photo.claim->seq >= f->only->seq || !is_near_own(&f->own, &photo)))
        return true;
    f->is_out_of_memory = !add_photo(f->k, &photo);
    return !f->is_out_of_memory;
}

static int by_sha256(const void *a, const void *b)
{
    const struct known_photo *x = *(const struct known_photo *const *)a;
    const struct known_photo *y = *(const struct known_photo *const *)b;
    const int order = memcmp(x->sha256, y->sha256, STORE_DIGEST);
    return order != 0 ? order : (x > y) - (x < y);
}

static enum err put_in_order(struct known_photos *all, struct fault *f)
{
    all->by_sha256 = malloc((all->n + 1) * sizeof(const struct known_photo *));
    all->hashes = malloc((all->n + 1) * sizeof *all->hashes);
    all->ids = malloc((all->n + 1) * sizeof *all->ids);
    if (all->by_sha256 == NULL || all->hashes == NULL || all->ids == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < all->n; i++) {
        all->by_sha256[i] = &all->at[i];
        if (!all->at[i].has_hash)
            continue;
        all->hashes[all->n_hashes] = all->at[i].hash.dhash;
        all->ids[all->n_hashes++] = (uint32_t)i;
    }
    qsort(all->by_sha256, all->n, sizeof(const struct known_photo *), by_sha256);
    const size_t room = near_room(all->n_hashes);
    all->near_room = all->n_hashes > 0 ? malloc(room) : NULL;
    if (all->n_hashes == 0)
        return ERR_OK;
    if (all->near_room == NULL ||
        near_build(all->hashes, all->n_hashes, all->near_room, room, &all->near) != ERR_OK)
        return fault_no_memory(f);
    return ERR_OK;
}

enum err known_photos_open(struct known *known, const struct known_claim *claim,
                           struct fault *reterr)
{
    struct filling f = {.k = known, .only = claim};
    enum err err = ERR_OK;
    (void)!photo_apart_start(); /* before there are threads; else the first photo tells */
    if (claim != NULL)
        err = store_claims(known->store, claim->id, note_own, &f, reterr);
    if (err == ERR_OK && !f.is_out_of_memory && (claim == NULL || f.own.n > 0))
        err = store_photos(known->store, see_photo, &f, reterr);
    if (err == ERR_OK && f.is_out_of_memory)
        err = fault_no_memory(reterr);
    return err == ERR_OK ? put_in_order(&known->photos, reterr) : err;
}

void known_photos_close(struct known_photos *photos)
{
    free(photos->near_room);
    free(photos->ids);
    free(photos->hashes);
    free(photos->by_sha256);
    free(photos->at);
}

/* ---- looking at pictures ------------------------------------------------------------------------ */

struct seen_picture {
    uint8_t sha256[STORE_DIGEST];
    bool is_used, is_sound;
    struct likeness_picture picture;
};

struct known_eyes {
    struct likeness_work work;
    struct seen_picture cache[CACHE];
    size_t next;
    struct text file;
};

struct known_eyes *known_eyes_new(void)
{
    return calloc(1, sizeof(struct known_eyes));
}

void known_eyes_free(struct known_eyes *eyes)
{
    if (eyes != NULL)
        text_done(&eyes->file);
    free(eyes);
}

/* *ret: a photo's picture; NULL when it is not there, is not what its name says, or holds none. *keep stays where it is. ERR_IO: that
 * cannot be told now, so nothing may be concluded from it. */
static enum err look(const struct known *k, struct known_eyes *eyes,
                     const uint8_t sha256[STORE_DIGEST], const char *ext,
                     const struct likeness_picture *keep, const struct likeness_picture **ret,
                     struct fault *f)
{
    enum photo_fault fault = PHOTO_EMPTY;
    *ret = NULL;
    for (size_t i = 0; i < CACHE; i++)
        if (eyes->cache[i].is_used && memcmp(eyes->cache[i].sha256, sha256, STORE_DIGEST) == 0) {
            *ret = eyes->cache[i].is_sound ? &eyes->cache[i].picture : NULL;
            return ERR_OK;
        }
    const enum err err = store_photo_read(k->store, sha256, ext, PHOTO_BYTES_MAX, &eyes->file, f);
    if (err == ERR_IO || err == ERR_MEMORY)
        return err;
    struct seen_picture *to = &eyes->cache[eyes->next++ % CACHE];
    if (&to->picture == keep)
        to = &eyes->cache[eyes->next++ % CACHE];
    memcpy(to->sha256, sha256, STORE_DIGEST);
    to->is_used = true;
    to->is_sound =
        err == ERR_OK &&
        photo_apart_likeness(eyes->file.data, eyes->file.size, &fault, &to->picture) == ERR_OK &&
        fault == PHOTO_FINE;
    *ret = to->is_sound ? &to->picture : NULL;
    return ERR_OK;
}

/* ---- asking ------------------------------------------------------------------------------------ */

/* The nearest by hashes so far, nearest first. */
struct candidate {
    const struct known_photo *photo;
    int distance;
    bool is_alike, is_mirrored;
};

struct asking {
    const struct known *k;
    const struct known_claim *mine;
    const struct photohash *hash;
    struct candidate found[KNOWN_CANDIDATES];
    size_t n;
};

static bool is_earlier(const struct known_claim *mine, const struct known_photo *p)
{
    return p->claim->seq < mine->seq && !known_same_job(p->claim, mine);
}

static void insert(struct asking *a, struct candidate c)
{
    size_t i = a->n;
    for (size_t k = 0; k < a->n; k++)
        if (a->found[k].photo == c.photo)
            return; /* met as it stands and in a mirror */
    /* The same distance: the one taken in first, in whatever order they are met. */
    while (i > 0 && (c.distance < a->found[i - 1].distance ||
                     (c.distance == a->found[i - 1].distance && c.photo < a->found[i - 1].photo)))
        i--;
    if (i == KNOWN_CANDIDATES)
        return;
    a->n += a->n < KNOWN_CANDIDATES;
    memmove(&a->found[i + 1], &a->found[i], (a->n - 1 - i) * sizeof a->found[0]);
    a->found[i] = c;
}

static bool take_near(void *me, uint32_t id, int distance)
{
    struct asking *a = me;
    const struct known_photo *p = &a->k->photos.at[a->k->photos.ids[id]];
    struct candidate c = {.photo = p};
    (void)distance;
    if (!is_earlier(a->mine, p) || !photohash_perhaps(a->hash, &p->hash, &c.is_mirrored))
        return true;
    c.is_alike = photohash_alike(a->hash, &p->hash, NULL);
    const uint64_t dhash = c.is_mirrored ? p->hash.dhash_mirror : p->hash.dhash;
    const uint64_t phash = c.is_mirrored ? p->hash.phash_mirror : p->hash.phash;
    c.distance =
        photohash_distance(a->hash->dhash, dhash) + photohash_distance(a->hash->phash, phash);
    insert(a, c);
    return true;
}

static bool has_same_bytes(const struct known *k, const struct known_claim *mine,
                           const struct store_photo *photo, struct rule_seen *ret)
{
    const struct known_photos *all = &k->photos;
    size_t low = 0, high = all->n;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (memcmp(all->by_sha256[mid]->sha256, photo->sha256, STORE_DIGEST) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    for (; low < all->n && memcmp(all->by_sha256[low]->sha256, photo->sha256, STORE_DIGEST) == 0;
         low++) {
        const struct known_photo *p = all->by_sha256[low];
        if (p->claim->seq >= mine->seq)
            break; /* in the order of taking in */
        if (!is_earlier(mine, p))
            continue;
        *ret = (struct rule_seen){
            .claim = p->claim->id, .name = p->name, .is_same_bytes = true, .likeness = 1};
        return true;
    }
    return false;
}

/* The most alike of the candidates, if any is the same picture. */
static enum err decide(const struct asking *a, const struct store_photo *photo,
                       struct known_eyes *eyes, struct rule_seen *ret, bool *ret_found,
                       struct fault *f)
{
    const struct likeness_picture *own = NULL, *other = NULL;
    enum err err = a->n > 0 ? look(a->k, eyes, photo->sha256, photo->ext, NULL, &own, f) : ERR_OK;
    bool is_found = false;
    for (size_t i = 0; i < a->n && err == ERR_OK; i++) {
        const struct candidate *c = &a->found[i];
        other = NULL;
        if (own != NULL)
            err = look(a->k, eyes, c->photo->sha256, c->photo->ext, own, &other, f);
        if (err != ERR_OK)
            break;
        struct rule_seen seen = {.claim = c->photo->claim->id,
                                 .name = c->photo->name,
                                 .is_mirrored = c->is_mirrored,
                                 .likeness = NAN};
        if (other != NULL)
            seen.likeness = likeness(own, other, &eyes->work, &seen.is_mirrored);
        if (other != NULL ? seen.likeness < LIKENESS_SAME : !c->is_alike)
            continue;
        /* One that was looked at is worth more than one that could not be. */
        if (!is_found ||
            (!isnan(seen.likeness) && (isnan(ret->likeness) || seen.likeness > ret->likeness)))
            *ret = seen;
        is_found = true;
    }
    *ret_found = is_found;
    return err;
}

static enum err was_seen(const struct known *k, const struct known_claim *mine,
                         const struct store_photo *photo, struct known_eyes *eyes,
                         struct rule_seen *ret, bool *ret_seen, struct fault *f)
{
    struct photohash hash;
    *ret_seen = has_same_bytes(k, mine, photo, ret);
    if (*ret_seen || k->photos.n_hashes == 0 || !take_hash(photo, &hash))
        return ERR_OK;
    struct asking a = {.k = k, .mine = mine, .hash = &hash};
    /* The radius is within near's range: these cannot fail. */
    (void)!near_query(&k->photos.near, hash.dhash, PHOTOHASH_PERHAPS_BITS, take_near, &a);
    (void)!near_query(&k->photos.near, hash.dhash_mirror, PHOTOHASH_PERHAPS_BITS, take_near, &a);
    return decide(&a, photo, eyes, ret, ret_seen, f);
}

enum err known_photos_of(const struct known *known, const struct known_claim *mine,
                         const struct store_claim *claim, struct known_eyes *eyes,
                         struct event_pool *pool, const struct rule_seen **ret, size_t *ret_n,
                         struct fault *reterr)
{
    *ret = NULL;
    *ret_n = 0;
    if (claim->n_photos == 0 || known->photos.n == 0)
        return ERR_OK;
    struct rule_seen *seen = event_pool_get(pool, claim->n_photos * sizeof *seen);
    if (seen == NULL)
        return fault_no_memory(reterr);
    enum err err = ERR_OK;
    for (size_t i = 0; i < claim->n_photos && err == ERR_OK; i++) {
        bool is_seen = false;
        err = was_seen(known, mine, &claim->photos[i], eyes, &seen[*ret_n], &is_seen, reterr);
        if (is_seen)
            seen[(*ret_n)++].photo = i;
    }
    *ret = seen;
    return err;
}

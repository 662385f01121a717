/* photo_apart_words: owns the answer of a child, and the mistrust with which it is read: a child that a photo has taken over may say anything. */
#include "proof/photo_apart_parts.h"

#include <math.h>
#include <string.h>

#include "base/text.h"
#include "proof/photo_parts.h"

static const char *const code_types[] = {"QR", "Code 39", "Code 128"};
enum { CODE_TYPES = sizeof code_types / sizeof *code_types };

static uint32_t type_of(const char *name)
{
    uint32_t i = 0;
    while (i + 1 < CODE_TYPES && strcmp(name, code_types[i]) != 0)
        i++;
    return i;
}

void photo_apart_tell(const struct photo *photo, struct photo_apart_answer *ret)
{
    ret->kind = photo->kind;
    ret->fault = photo->fault;
    ret->width = photo->width;
    ret->height = photo->height;
    ret->orientation = photo->orientation;
    ret->exif_width = photo->exif_width;
    ret->exif_height = photo->exif_height;
    ret->has_exif = photo->has_exif;
    ret->has_gps = photo->has_gps;
    ret->clock = photo->clock;
    ret->is_flat = photo->hash.is_flat;
    ret->exposure = photo->exposure;
    ret->dark_share = photo->dark_share;
    ret->bright_share = photo->bright_share;
    ret->sharpness = photo->sharpness;
    ret->contrast = photo->hash.contrast;
    ret->hashes[0] = photo->hash.dhash;
    ret->hashes[1] = photo->hash.dhash_mirror;
    ret->hashes[2] = photo->hash.phash;
    ret->hashes[3] = photo->hash.phash_mirror;
    memcpy(ret->fault_text, photo->fault_text, sizeof ret->fault_text);
    memcpy(ret->taken, photo->taken, sizeof ret->taken);
    memcpy(ret->offset, photo->offset, sizeof ret->offset);
    ret->n_codes = (uint32_t)photo->n_codes;
    for (size_t i = 0; i < photo->n_codes; i++) {
        ret->codes[i].type = type_of(photo->codes[i].type);
        ret->codes[i].size = (uint32_t)photo->codes[i].size;
        ret->codes[i].is_cut = photo->codes[i].is_cut;
        memcpy(ret->codes[i].text, photo->codes[i].text, sizeof ret->codes[i].text);
    }
}

/* Whether a text has the form: 0 stands for a digit, # for a sign, all else for itself. "" is fine. */
static bool is_formed(const char *text, size_t room, const char *form)
{
    if (text[0] == '\0')
        return true;
    if (memchr(text, '\0', room) == NULL || strlen(text) != strlen(form))
        return false;
    for (size_t i = 0; form[i] != '\0'; i++) {
        const bool is_digit = text[i] >= '0' && text[i] <= '9';
        const bool is_sign = text[i] == '+' || text[i] == '-';
        if (form[i] == '0' ? !is_digit : form[i] == '#' ? !is_sign : text[i] != form[i])
            return false;
    }
    return true;
}

static bool is_share(double x)
{
    return isfinite(x) && x >= 0 && x <= 1;
}

static bool is_plausible(const struct photo_apart_answer *a)
{
    return a->kind <= PHOTO_HEIC && a->fault <= PHOTO_BROKEN && a->clock <= PHOTO_CLOCK_CHANGED &&
           a->n_codes <= PHOTO_CODES_MAX && a->width >= 0 && a->height >= 0 && a->exif_width >= 0 &&
           a->exif_height >= 0 && a->orientation >= 1 && a->orientation <= 8 &&
           is_share(a->exposure) && is_share(a->dark_share) && is_share(a->bright_share) &&
           isfinite(a->sharpness) && a->sharpness >= 0 && isfinite(a->contrast) &&
           a->contrast >= 0 && is_formed(a->taken, sizeof a->taken, "0000-00-00T00:00:00") &&
           is_formed(a->offset, sizeof a->offset, "#00:00") &&
           memchr(a->fault_text, '\0', sizeof a->fault_text) != NULL;
}

static bool hear_code(const struct photo_apart_code *from, struct photo_code *to)
{
    if (from->type >= CODE_TYPES || from->size > PHOTO_CODE_TEXT_MAX)
        return false;
    *to = (struct photo_code){
        .type = code_types[from->type], .size = from->size, .is_cut = from->is_cut != 0};
    memcpy(to->text, from->text, from->size);
    return true;
}

bool photo_apart_hear(const struct photo_apart_answer *answer, struct photo *ret)
{
    struct photo *p = ret;
    if (!is_plausible(answer))
        return false;
    p->kind = (enum photo_kind)answer->kind;
    p->fault = (enum photo_fault)answer->fault;
    memcpy(p->fault_text, answer->fault_text, sizeof p->fault_text);
    p->fault_text[text_clean(p->fault_text, strlen(p->fault_text), false)] = '\0';
    p->width = answer->width;
    p->height = answer->height;
    p->orientation = answer->orientation;
    p->exif_width = answer->exif_width;
    p->exif_height = answer->exif_height;
    p->has_exif = answer->has_exif != 0;
    p->has_gps = answer->has_gps != 0;
    p->clock = (enum photo_clock)answer->clock;
    memcpy(p->taken, answer->taken, sizeof p->taken);
    memcpy(p->offset, answer->offset, sizeof p->offset);
    p->exposure = answer->exposure;
    p->dark_share = answer->dark_share;
    p->bright_share = answer->bright_share;
    p->sharpness = answer->sharpness;
    p->hash = (struct photohash){.dhash = answer->hashes[0],
                                 .dhash_mirror = answer->hashes[1],
                                 .phash = answer->hashes[2],
                                 .phash_mirror = answer->hashes[3],
                                 .contrast = answer->contrast,
                                 .is_flat = answer->is_flat != 0};
    photo_light(p);
    p->n_codes = answer->n_codes;
    for (size_t i = 0; i < answer->n_codes; i++)
        if (!hear_code(&answer->codes[i], &p->codes[i]))
            return false;
    return true;
}

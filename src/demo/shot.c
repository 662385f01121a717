/* shot: owns how a planned photo becomes a file. */
#include "demo/shot.h"

#include "proof/photo.h"
#include "proof/photo_write.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BLUR_RADIUS = 9, DAY_S = 86400, CUT_OFF_PERCENT = 45, POSES = 30 };
#define DARK_FACTOR   0.10
#define BRIGHT_FACTOR 1.25
#define CROP_SHARE    0.03

static enum err treat(const struct work_shot *shot, struct picture *p)
{
    struct picture treated = {.pixels = NULL};
    enum err e = ERR_OK;
    switch (shot->treat) {
    case TREAT_DARK:
        e = picture_darken(p, DARK_FACTOR, &treated);
        break;
    case TREAT_BRIGHT:
        e = picture_darken(p, BRIGHT_FACTOR, &treated);
        break;
    case TREAT_BLUR:
        e = picture_blur(p, BLUR_RADIUS, &treated);
        break;
    case TREAT_HALF:
        e = picture_scale(p, p->width / 2, p->height / 2, &treated);
        break;
    case TREAT_CROP:
        e = picture_crop(p, CROP_SHARE, &treated);
        break;
    case TREAT_MIRROR:
        e = picture_mirror(p, &treated);
        break;
    case TREAT_NONE:
    case TREAT_CUT_OFF:
        return ERR_OK;
    }
    if (e != ERR_OK)
        return e;
    picture_done(p);
    *p = treated;
    return ERR_OK;
}

/* The camera's clock: local time. */
static void clock_texts(const struct work_shot *shot, char taken[32], char offset[16])
{
    const int64_t s = shot->taken_ms / 1000 + (int64_t)shot->offset_min * 60;
    const int of_day = (int)(s % DAY_S);
    char day[DATE_SHOW_SIZE];
    date_show((int32_t)(s / DAY_S), day);
    snprintf(taken, 32,
             "%s"
             "T%02d:%02d:%02d",
             day, of_day / 3600, of_day / 60 % 60, of_day % 60);
    snprintf(offset, 16, "%c%02d:%02d", shot->offset_min < 0 ? '-' : '+',
             abs(shot->offset_min) / 60, abs(shot->offset_min) % 60);
}

static enum err make_once(const struct work_shot *shot, struct text *out)
{
    struct picture p = {.pixels = NULL};
    char taken[32], offset[16];
    const size_t before = out->size;
    enum err e =
        picture_draw(shot->subject, shot->seed, shot->text[0] != '\0' ? shot->text : NULL,
                     shot->code[0] != '\0' ? shot->code : NULL, WORK_WIDTH, WORK_HEIGHT, &p);
    if (e == ERR_OK)
        e = treat(shot, &p);
    clock_texts(shot, taken, offset);
    if (e == ERR_OK)
        e = photo_write_jpeg(&(struct photo_write){.rgb = p.pixels,
                                                   .width = p.width,
                                                   .height = p.height,
                                                   .quality = shot->quality,
                                                   .taken = taken,
                                                   .offset = offset},
                             out);
    picture_done(&p);
    if (e == ERR_OK && out->is_broken)
        e = ERR_MEMORY;
    if (e == ERR_OK && shot->treat == TREAT_CUT_OFF)
        out->size = before + (out->size - before) * CUT_OFF_PERCENT / 100;
    return e;
}

static enum err is_read(const struct work_shot *shot, const char *bytes, size_t n, bool *ret)
{
    struct photo *photo = malloc(sizeof *photo);
    *ret = false;
    if (photo == NULL)
        return ERR_MEMORY;
    const enum err e = photo_read(bytes, n, photo);
    for (size_t i = 0; e == ERR_OK && i < photo->n_codes; i++)
        *ret = *ret || strcmp(photo->codes[i].text, shot->code) == 0;
    free(photo);
    return e;
}

enum err shot_make(const struct work_shot *shot, struct text *out)
{
    struct work_shot posed = *shot;
    const size_t before = out->size;
    bool is_good = !shot->must_be_read;
    enum err e = make_once(&posed, out);
    for (int i = 1; e == ERR_OK && !is_good && i <= POSES; i++) {
        e = is_read(shot, out->data + before, out->size - before, &is_good);
        if (e != ERR_OK || is_good)
            break;
        posed.seed = random_mix(shot->seed, RANDOM_PICTURE, (uint64_t)i);
        out->size = before;
        e = make_once(&posed, out);
    }
    return e == ERR_OK && !is_good ? ERR_IMPOSSIBLE : e;
}

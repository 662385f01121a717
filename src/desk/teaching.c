/* teaching: owns where the pictures come from and which of them can be drawn; see teaching.h. */
#include "desk/teaching.h"

#include "desk/pictures.h"
#include "desk/tell.h"
#include "proof/photo.h"

#include <stdlib.h>

void teaching_picture(struct text *bytes, struct teach_picture *ret)
{
    struct photo *photo = malloc(sizeof *photo);
    *ret = (struct teach_picture){0};
    if (photo != NULL && bytes->size > 0 && !bytes->is_broken &&
        photo_read(bytes->data, bytes->size, photo) == ERR_OK && photo->fault == PHOTO_FINE &&
        (photo->kind == PHOTO_PNG || photo->kind == PHOTO_JPEG)) {
        *ret = (struct teach_picture){.kind = photo->kind == PHOTO_PNG ? TEACH_PNG : TEACH_JPEG,
                                      .bytes = *bytes,
                                      .width = photo->width,
                                      .height = photo->height,
                                      .orientation = photo->orientation};
        *bytes = (struct text){0};
    }
    text_done(bytes);
    free(photo);
}

struct shelf_of {
    struct store *store;
    const char *id;
    int64_t revision;
};

static void from_store(void *me, const char *file, struct teach_picture *ret)
{
    const struct shelf_of *from = me;
    struct text bytes = {0};
    struct fault f = {0};
    char tag[65];
    const char *type = NULL;
    *ret = (struct teach_picture){0};
    if (picture_find(from->store, from->id, from->revision, file, &bytes, tag, &type, &f) == ERR_OK)
        teaching_picture(&bytes, ret);
    text_done(&bytes);
}

enum err teaching_paper(struct store *store, const char *id, int64_t revision,
                        const struct teach_order *order, struct text *out, struct teach_made *ret,
                        struct fault *reterr)
{
    struct text file = {0};
    struct fault_list faults = {0};
    struct bulletin *b = NULL;
    char sha256[65];
    enum err e = tell_bulletin(store, id, revision, true, &file, sha256, reterr);
    if (e == ERR_OK) {
        b = bulletin_load(file.data != NULL ? file.data : "", file.size, id, &faults);
        if (b == NULL)
            e = fault_set(reterr, ERR_DOMAIN, "bulletin %.60s is not sound any more", id);
    }
    if (e == ERR_OK) {
        struct shelf_of from = {store, id, revision};
        struct teach_order all = *order;
        all.b = b;
        all.picture = from_store;
        all.me = &from;
        all.made_s = (int64_t)b->head.issued * 86400;
        e = teach_make(&all, out, ret, reterr);
    }
    bulletin_free(b);
    fault_list_done(&faults);
    text_done(&file);
    return e;
}

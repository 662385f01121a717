/* bag_zip_write: owns how a zip of ours is laid out, so that the same files give the same bytes. */
#include "proof/bag_zip.h"

#include <errno.h>
#include <string.h>
#include <zip.h>

/* The first moment that a zip can hold: 1980-01-01 00:00:00, in its own packing (APPNOTE 4.4.6). */
enum { DOS_TIME = 0, DOS_DATE = 1 << 5 | 1 };

static const zip_uint32_t mode_file = (zip_uint32_t)0100644 << 16;

static enum err fault_from(zip_error_t *e, struct fault *f)
{
    const int code = zip_error_code_zip(e);
    if (code == ZIP_ER_MEMORY)
        return fault_no_memory(f);
    if (code == ZIP_ER_OPEN)
        return fault_set(f, ERR_OPEN, "a file cannot be packed: %s", zip_error_strerror(e));
    return fault_set(f, ERR_IO, "the zip cannot be written: %s", zip_error_strerror(e));
}

static bool add_item(zip_t *zip, const struct bag_zip_item *item)
{
    zip_source_t *body = item->bytes != NULL ? zip_source_buffer(zip, item->bytes, item->n, 0)
                                             : zip_source_file(zip, item->disk, 0, -1);
    if (body == NULL)
        return false;
    const zip_int64_t at = zip_file_add(zip, item->name, body, ZIP_FL_ENC_UTF_8);
    if (at < 0) {
        zip_source_free(body);
        return false;
    }
    return zip_set_file_compression(zip, (zip_uint64_t)at, ZIP_CM_STORE, 0) == 0 &&
           zip_file_set_dostime(zip, (zip_uint64_t)at, DOS_TIME, DOS_DATE, 0) == 0 &&
           zip_file_set_external_attributes(zip, (zip_uint64_t)at, 0, ZIP_OPSYS_UNIX, mode_file) ==
               0;
}

enum err bag_zip_write(const char *path, const struct bag_zip_item *items, size_t n,
                       struct fault *reterr)
{
    int code = 0;
    zip_t *zip = zip_open(path, ZIP_CREATE | ZIP_TRUNCATE, &code);
    if (zip == NULL)
        return fault_set(reterr, code == ZIP_ER_MEMORY ? ERR_MEMORY : ERR_IO,
                         "the zip cannot be written: %s", strerror(errno));
    bool is_good = true;
    for (size_t i = 0; i < n && is_good; i++)
        is_good = add_item(zip, &items[i]);
    if (is_good && zip_close(zip) == 0)
        return ERR_OK;
    const enum err err = fault_from(zip_get_error(zip), reterr);
    zip_discard(zip);
    return err;
}

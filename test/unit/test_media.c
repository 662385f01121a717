/* What photos are called in HTTP, held against IANA's register of media types. */
#include "base/media.h"

#include "tap.h"

#include <string.h>

int main(void)
{
    static const char *const rows[][2] = {{"jpg", "image/jpeg"}, /* RFC 2046 */
                                          {"png", "image/png"},  /* W3C: PNG */
                                          {"heic", "image/heic"} /* ISO/IEC 23008-12 */};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(strcmp(media_of_photo(rows[i][0]), rows[i][1]) == 0, "%s is %s (IANA)", rows[i][0],
               rows[i][1]);
    tap_ok(strcmp(media_of_photo("bin"), "application/octet-stream") == 0 &&
               strcmp(media_of_photo(""), "application/octet-stream") == 0 &&
               strcmp(media_of_photo("JPG"), "application/octet-stream") == 0,
           "any other is bytes (RFC 2046)");
    return tap_done();
}

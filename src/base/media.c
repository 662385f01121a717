/* media: owns how photos are called in HTTP. See media.h. */
#include "base/media.h"

#include <string.h>

const char *media_of_photo(const char *kind)
{
    if (strcmp(kind, "jpg") == 0)
        return "image/jpeg";
    if (strcmp(kind, "png") == 0)
        return "image/png";
    return strcmp(kind, "heic") == 0 ? "image/heic" : "application/octet-stream";
}

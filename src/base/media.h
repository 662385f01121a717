/* media: the media types of pictures. */
#ifndef BASE_MEDIA_H
#define BASE_MEDIA_H

/* media_of_photo: kind: as a store names it by the photo's first bytes: "jpg" is "image/jpeg", "png" "image/png", "heic" "image/heic"; any
 * other "application/octet-stream" (the names: IANA's register of media types). Static. */
const char *media_of_photo(const char *kind);

#endif

/* synth: invented claims for the store's tests and bench: claim number i of a seed is always the
 * same. Two stations, twelve readings, two photos of some hundred bytes, ten events. */
#ifndef TEST_STORE_SYNTH_H
#define TEST_STORE_SYNTH_H

#include "core/ulid.h"
#include "store/store.h"

enum {
    SYNTH_STATIONS = 2,
    SYNTH_READINGS = 12,
    SYNTH_PHOTOS = 2,
    SYNTH_EVENTS = 10,
    SYNTH_PHOTO_MAX = 1024
};

struct synth_photo {
    uint8_t bytes[SYNTH_PHOTO_MAX];
    size_t n;
};

struct synth {
    struct store_claim claim; /* points into what follows: do not copy */
    struct store_station stations[SYNTH_STATIONS];
    struct store_reading readings[SYNTH_READINGS];
    struct store_photo photos[SYNTH_PHOTOS];
    struct store_finding finding;
    struct store_event events[SYNTH_EVENTS];
    struct synth_photo photo_bytes[SYNTH_PHOTOS];
    char bulletin_sha256[2 * STORE_DIGEST + 1];
    char vin[32], shop[32], job[ULID_TEXT_SIZE + 1];
    char ulid[SYNTH_EVENTS][ULID_TEXT_SIZE + 1];
    char json[SYNTH_EVENTS][160];
    char name[SYNTH_PHOTOS][40];
    char point[SYNTH_READINGS][24];
};

/* synth_make: claim i; is_with_photos false leaves the photos out. */
void synth_make(struct synth *s, unsigned seed, unsigned i, bool is_with_photos);

/* Prints why and ends the test program. */
void synth_bail(const char *what, const struct fault *f) __attribute__((noreturn));

/* A new folder below the system's folder for temporary files, and its removal with all in it. */
void synth_folder(char buf[256]);
void synth_remove(const char *path);

/* synth_store: the word for a store whose files lie in the new folder `folder`/store: that path, or, where MENDWRIGHT_TEST_SERVER names a
 * PostgreSQL, a schema of its own there, with photos where MENDWRIGHT_TEST_PHOTOS says. synth_is_server: which of the two. */
void synth_store(const char *folder, char *buf, size_t room);
bool synth_is_server(void);
void synth_copy(const char *from, const char *to);

#endif

/* photo_apart: photos looked at in a child that may do nothing but compute. Decoders of JPEG, PNG, HEIC, EXIF and codes are large
 * programs that read what strangers send; one that is led astray by its input must reach neither the store nor the network.
 *
 * A helper is forked once, as early as it can be (photo_apart_start), while the program is small and has one thread. For every photo
 * the helper forks a child, which gets the photo's bytes over a socket and answers over it, and ends. So no photo can touch how the
 * next one is read. A child has no open file but the socket; no file that it writes may be longer than nothing; its computing time and,
 * except in a build with the address sanitizer, its memory are bounded; and seccomp, where there is such a thing, ends it at any
 * system call but a few that ask for memory, threads and time. Its answer is held to the same bounds as any other input.
 *
 * A decoder that crashes, loops or reaches for what it may not is a fault of that photo, PHOTO_BROKEN, with what happened as its
 * words; one that asks for more memory than it may have, PHOTO_LARGE. Whoever called goes on with the next. */
#ifndef PROOF_PHOTO_APART_H
#define PROOF_PHOTO_APART_H

#include "proof/photo.h"

/* For one photo. The tests build with less. */
#ifndef PHOTO_APART_CPU_S
#define PHOTO_APART_CPU_S 60 /* of computing: SIGXCPU ends it */
#endif
#ifndef PHOTO_APART_WALL_S
#define PHOTO_APART_WALL_S 600 /* until it is killed, computing or not */
#endif
#ifndef PHOTO_APART_MEMORY
#define PHOTO_APART_MEMORY ((uint64_t)2 << 30) /* address space beyond what the program had */
#endif

/* photo_apart_start: makes the helper, before there are threads; once, further calls change nothing. Where it was not called, the first
 * photo does it. Errors: ERR_MEMORY (no process or socket can be made). It ends with the program. */
MUST_USE enum err photo_apart_start(void);

/* photo_apart_read, photo_apart_likeness: as photo_read and photo_likeness of photo.h, by as many threads at once as you like. Further
 * errors: ERR_MEMORY also when no child can be made, or when the machine, short of memory, killed it. */
MUST_USE enum err photo_apart_read(const void *bytes, size_t n, struct photo *ret);
MUST_USE enum err photo_apart_likeness(const void *bytes, size_t n, enum photo_fault *ret_fault,
                                       struct likeness_picture *ret);

/* How well a child is shut in here, found out by a child that tries. */
enum photo_apart_wall {
    PHOTO_APART_NONE,   /* no child can be made */
    PHOTO_APART_LIMITS, /* limits alone: this build or this kernel has no seccomp */
    PHOTO_APART_SHUT    /* seccomp as well */
};
enum photo_apart_wall photo_apart_wall(void);

#endif

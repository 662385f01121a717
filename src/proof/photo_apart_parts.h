/* photo_apart_parts: what the program (photo_apart.c) and its helper and children (photo_apart_child.c) say to one another; nobody else's. */
#ifndef PROOF_PHOTO_APART_PARTS_H
#define PROOF_PHOTO_APART_PARTS_H

#include "proof/photo_apart.h"

#include <sys/types.h>

/* Program to helper, one message each; ORDER_CHILD comes with the child's end of a socket. */
enum photo_apart_what { ORDER_CHILD = 1, ORDER_REAP };
struct photo_apart_order {
    int32_t what;
    pid_t pid; /* ORDER_REAP */
};
/* Helper to program: the child's process, -1: none could be made; or what waitpid told. */
struct photo_apart_reply {
    pid_t pid;
    int32_t status;
};

/* Program to child, before the photo's bytes. */
enum photo_apart_task { TASK_READ = 1, TASK_LIKENESS, TASK_WALL };
struct photo_apart_head {
    uint64_t n;
    uint32_t task, unused;
};

/* Child to program: what struct photo holds, without a pointer, a bool or an enum, whose values only we may choose. */
struct photo_apart_code {
    uint32_t type, size, is_cut;
    char text[PHOTO_CODE_TEXT_MAX + 1];
};
struct photo_apart_answer {
    uint32_t err, wall, kind, fault;
    int32_t width, height, orientation, exif_width, exif_height;
    uint32_t has_exif, has_gps, clock, is_flat, n_codes, unused;
    double exposure, dark_share, bright_share, sharpness, contrast;
    uint64_t hashes[4];
    char fault_text[120], taken[PHOTO_TAKEN_SIZE], offset[PHOTO_OFFSET_SIZE];
    struct photo_apart_code codes[PHOTO_CODES_MAX];
    uint8_t likeness[LIKENESS_AREAS];
};

/* photo_apart_tell: an answer of what was read. photo_apart_hear: the other way round; false: no honest child says such a thing. Of
 * *ret everything but sha256 is written. */
void photo_apart_tell(const struct photo *photo, struct photo_apart_answer *ret);
bool photo_apart_hear(const struct photo_apart_answer *answer, struct photo *ret);

/* photo_apart_help: the helper's life; control is its end of a SOCK_SEQPACKET. Never returns. */
_Noreturn void photo_apart_help(int control);

/* photo_apart_move: all n bytes through a socket, out or in; false: the other side is gone. */
bool photo_apart_send(int fd, const void *bytes, size_t n);
bool photo_apart_take(int fd, void *bytes, size_t n);

#endif

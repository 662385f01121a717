/* disk_inner: between the pretended disk's model (disk.c) and its two seams (disk_vfs.c, disk_calls.c). */
#ifndef TEST_STORE_DISK_INNER_H
#define TEST_STORE_DISK_INNER_H

#include "disk.h"

#include <stdint.h>

enum disk_says {
    DISK_GO,
    DISK_FAIL, /* disk_errno says how */
    DISK_LAST  /* the power goes in the middle of it: the model is told, the caller fails */
};

bool disk_is_on(void); /* disk_start was called */
int disk_errno(void);
unsigned disk_dice(unsigned sides); /* 0 .. sides - 1 */

/* disk_ask: an operation is about to be done to the file or folder of that name; is_growing: it needs room. Ends the process when that is
 * the plan; but for a write, which does half first, then asks disk_is_kill_due. */
enum disk_says disk_ask(enum disk_class c, const char *what, bool is_growing);
bool disk_is_kill_due(void);
void disk_kill(void) __attribute__((noreturn));

/* The node that a path stands for; -1: nothing, or not on this disk. */
int disk_find(const char *path);
bool disk_is_below(const char *path); /* or the disk itself */
int64_t disk_size(int node);

/* What was done. Paths that are not on this disk do nothing; node -1 neither. */
void disk_made(const char *path, bool is_folder);
void disk_removed(const char *path);
void disk_renamed(const char *from, const char *to);
void disk_wrote(int node, int64_t at, const void *bytes, size_t n);
void disk_sized(int node, int64_t size);
void disk_synced(int node);      /* a file's bytes, or a folder's names */
void disk_sync_failed(int node); /* what was to be written counts as written, and may be lost */
void disk_synced_folder_of(const char *path);

void disk_use_vfs(bool is_safe); /* disk_vfs.c */

#endif

/* disk: a disk that fails, for the store's tests. Below one folder it keeps apart what was written and what was synced, as a disk's
 * cache would, for all that goes through SQLite (a VFS around the usual one, disk_vfs.c) and for all that the store's own code does with
 * files (the linker's --wrap, disk_calls.c). At one chosen operation something goes wrong; after a power cut the folder is made to hold
 * what such a disk could hold then.
 *
 * What is taken for granted, as SQLite does (its pages "Atomic Commit" and "File Locking And Concurrency"): a sync that said it is done is
 * a barrier, and what was written before it is whole. Of what was not synced each sector is kept, lost or torn by itself, in any order; a
 * name that was given, changed or taken away is so for good only after its folder was synced, until then the old or the new one may be
 * found. That is worse than a real file system with a journal. Told to SQLite: sectors of 4096 bytes and, with is_safe, that a torn write
 * spoils nothing beside it (SQLITE_IOCAP_POWERSAFE_OVERWRITE); without, a torn sector is ruined whole. Nothing else is promised: no atomic
 * writes, no order, no safe append.
 *
 * For one process and thread; never undone: a test forks first. */
#ifndef TEST_STORE_DISK_H
#define TEST_STORE_DISK_H

#include <stdbool.h>
#include <stddef.h>

/* What an operation is, for the choice of those that may fail. */
enum disk_class {
    DISK_OPEN = 1,
    DISK_READ = 2,
    DISK_WRITE = 4,
    DISK_SYNC = 8,
    DISK_NAME = 16, /* made, renamed, taken away: files and folders */
    DISK_SIZE = 32, /* cut off, asked for */
    DISK_LOCK = 64,
    DISK_SHARE = 128, /* SQLite's memory that processes share */
    DISK_ALL = 255
};

enum disk_fault {
    DISK_CUT,  /* the power goes; everything after it fails */
    DISK_KILL, /* this process is ended by SIGKILL, a write half done */
    DISK_EIO, /* the operation fails; a write half done; what a sync was to write is never written by a later one */
    DISK_FULL, /* nothing grows from here on */
    DISK_BUSY  /* a lock is somebody else's */
};

struct disk_plan {
    enum disk_fault fault;
    unsigned classes;        /* which operations count */
    long at;                 /* the how many-th of them, from 1; 0: none */
    int n_more;              /* EIO and FULL: how many more fail after it */
    bool is_safe;            /* see above */
    unsigned long long seed; /* of what is kept, lost and torn */
};

/* In memory that the parent sees too. */
struct disk_report {
    long n;         /* operations that counted */
    bool is_struck; /* the fault came */
    bool is_off;    /* the power is gone */
    char what[128]; /* at which operation */
};

/* disk_start: everything below root, an absolute path without links, is on this disk from now on, and what lies there now is synced. */
void disk_start(const char *root, const struct disk_plan *plan, struct disk_report *report);

/* disk_cut: the power goes now, if it is not gone: root holds afterwards what is left. No file below root may be open. */
void disk_cut(void);

#endif

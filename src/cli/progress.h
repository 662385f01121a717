/* progress: how far long work is, as one line on standard error that is written over and over; nothing unless that is a terminal. */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

#include <stdbool.h>
#include <stdint.h>

struct progress {
    bool is_terminal, is_shown;
    int64_t shown_ms;
    char what[12]; /* the stretch of work under way, cut to fit; its beginning: */
    int64_t started_ms;
};

void progress_start(struct progress *p);

/* progress_show: `done` of `all`, and from a second on about how long the rest will take (as fast as so far); `all` 0: not known. `what` names a stretch of work; a few times a second at most, so it may be called as often as one likes. me: a struct progress,
 * so that it can be handed on as a callback. */
void progress_show(void *me, const char *what, uint64_t done, uint64_t all);

/* progress_wipe: takes the line away, before anything else is written to the terminal. */
void progress_wipe(struct progress *p);

#endif

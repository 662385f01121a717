/* progress: owns the line that shows how far long work is. */
#include "cli/progress.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { SHOW_EVERY_MS = 100, BAR = 24, LINE = 60 };

static int64_t now_ms(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

void progress_start(struct progress *p)
{
    *p = (struct progress){.is_terminal = isatty(STDERR_FILENO) == 1};
}

void progress_show(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct progress *p = me;
    char bar[BAR + 1];
    const int64_t now = now_ms();
    if (!p->is_terminal || now - p->shown_ms < SHOW_EVERY_MS)
        return;
    const double share = all > 0 ? (double)done / (double)all : 0;
    const int n = share >= 1 ? BAR : (int)(share * BAR);
    memset(bar, '.', BAR);
    memset(bar, '#', (size_t)n);
    bar[BAR] = '\0';
    fprintf(stderr, "\r%-10s [%s] %" PRIu64 " of %" PRIu64 "   ", what, bar, done, all);
    fflush(stderr);
    p->shown_ms = now;
    p->is_shown = true;
}

void progress_wipe(struct progress *p)
{
    if (p->is_shown)
        fprintf(stderr, "\r%*s\r", LINE, "");
    p->is_shown = false;
}

/* progress: owns the line that shows how far long work is. */
#include "cli/progress.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { SHOW_EVERY_MS = 100, BAR = 24, LINE = 78, GUESS_FROM_MS = 1000 };

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

/* ", 12 s left" into buf, or nothing when it is too early to tell. */
static void guess_left(const struct progress *p, int64_t now, double share, char *buf, size_t room)
{
    const double took_s = (double)(now - p->started_ms) / 1000;
    const double left_s = share > 0 ? took_s * (1 - share) / share : 0;
    buf[0] = '\0';
    if (now - p->started_ms < GUESS_FROM_MS || share <= 0.005 || share >= 1)
        return;
    if (left_s < 100)
        (void)snprintf(buf, room, ", %.0f s left", left_s);
    else if (left_s < 6000)
        (void)snprintf(buf, room, ", %.0f min left", left_s / 60);
    else
        (void)snprintf(buf, room, ", %.0f h left", left_s / 3600);
}

void progress_show(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct progress *p = me;
    char bar[BAR + 1], left[32];
    const int64_t now = now_ms();
    if (!p->is_terminal || now - p->shown_ms < SHOW_EVERY_MS)
        return;
    if (strncmp(p->what, what, sizeof p->what - 1) != 0) {
        (void)snprintf(p->what, sizeof p->what, "%s", what);
        p->started_ms = now;
    }
    const double share = all > 0 ? (double)done / (double)all : 0;
    const int n = share >= 1 ? BAR : (int)(share * BAR);
    memset(bar, '.', BAR);
    memset(bar, '#', (size_t)n);
    bar[BAR] = '\0';
    guess_left(p, now, share, left, sizeof left);
    if (all > 0)
        fprintf(stderr, "\r%-10s [%s] %" PRIu64 " of %" PRIu64 "%s   ", what, bar, done, all, left);
    else
        fprintf(stderr, "\r%-10s %" PRIu64 "   ", what, done);
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

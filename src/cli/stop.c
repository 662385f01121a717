/* stop: owns the handler of Ctrl-C for long work. See stop.h. */
#include "cli/stop.h"

#include <signal.h>

static volatile sig_atomic_t is_stopped;

/* The first asks the work to come to an end; the handler is then gone, so the second ends the program. */
static void on_stop(int number)
{
    (void)number;
    is_stopped = 1;
}

static bool go_on(void *me, const char *what, uint64_t done, uint64_t all)
{
    progress_show(me, what, done, all);
    return is_stopped == 0;
}

struct study_watch stop_watch(struct progress *progress)
{
    const struct sigaction stop = {.sa_handler = on_stop, .sa_flags = (int)SA_RESETHAND};
    (void)sigaction(SIGINT, &stop, NULL);
    return (struct study_watch){go_on, progress};
}
